"""The tree as the solver takes it."""

import math
from dataclasses import replace

import numpy as np
import pytest

from pourwell.geometry.distance import SignedDistance
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import faults
from pourwell.materials.model import Grade, Quantity
from pourwell.steps.freeze.cast import (
    METAL_CONDUCTIVITY,
    Ends,
    Frame,
    Shape,
    as_stored,
    at_end,
    computes,
    domain,
    fed_of_data,
    metal_substance,
    of_rule,
    opened,
    setting,
)
from pourwell.units import c_from_k, k_from_c
from tests.unit.freeze import trees

LIBRARY = trees.LIBRARY


def own(value, unit):
    return Quantity(value=value, unit=unit, source="studio", grade=Grade.SUPPLIER)


def test_the_tree_is_turned_over_for_the_pour_and_back():
    frame = Frame(trees.cast())
    points = np.array([[1.0, 2.0, 6.0], [-3.0, 4.0, 46.0]])
    there = frame.to_solver(points)
    assert there[0] == pytest.approx([0.001, -0.002, 0.040]), "the mould's open face, at 6 mm, is up"
    assert there[1][2] == pytest.approx(0.0), "the tip's end, at 46 mm, is down"
    assert frame.to_tree(there) == pytest.approx(points)


def test_turning_over_is_a_turn_and_no_mirror():
    """The triple product of three ways keeps its sign."""
    frame = Frame(trees.cast())
    origin = frame.to_solver(np.zeros((1, 3)))
    ways = frame.to_solver(np.eye(3)) - origin
    assert np.linalg.det(ways) > 0


def test_the_mould_reaches_from_the_base_to_the_headspace():
    room = domain(trees.cast())
    assert room.radius == pytest.approx(0.032)
    assert room.height == pytest.approx((50 - 4 - 6) * 1e-3)


def test_the_metal_is_carried_on_beyond_the_open_face():
    cast = trees.cast()
    whole = opened(cast.metal, cast.foot_mm)
    assert faults(whole).sound
    assert whole.volume_mm3 == pytest.approx(2 * cast.metal.volume_mm3, rel=1e-6), "the mirror image, joined without a seam"
    assert whole.bounds[0][2] == pytest.approx(2 * cast.foot_mm - cast.metal.bounds[1][2])


def test_the_buttons_face_is_no_surface_to_the_mould():
    """In the middle of the face the nearest surface is the dome's, 7 mm away; of the closed solid it is the face itself."""
    cast = trees.cast()
    at_face = np.array([[9.0, 0.0, cast.foot_mm + 0.01]])
    closed, open_ = SignedDistance(cast.metal), SignedDistance(opened(cast.metal, cast.foot_mm))
    assert closed(at_face)[0] == pytest.approx(-0.01, abs=0.005)
    assert open_(at_face)[0] < -1.0


def test_only_the_plane_of_the_face_is_left_out():
    cube = Mesh(
        np.array([[x, y, z] for x in (0.0, 1.0) for y in (0.0, 1.0) for z in (2.0, 3.0)]),
        np.array(
            [
                [0, 1, 3],
                [0, 3, 2],
                [4, 6, 7],
                [4, 7, 5],
                [0, 4, 5],
                [0, 5, 1],
                [2, 3, 7],
                [2, 7, 6],
                [0, 2, 6],
                [0, 6, 4],
                [1, 5, 7],
                [1, 7, 3],
            ]
        ),
    )
    assert cube.volume_mm3 == pytest.approx(1.0)
    twin = opened(cube, 2.0)
    assert len(twin.faces) == 20
    assert twin.volume_mm3 == pytest.approx(2.0)
    assert len(opened(cube, 0.0).faces) == 24, "a plane that holds no face leaves all of them"


def test_distances_are_below_zero_in_metal_and_in_metres():
    shape = Shape(trees.cast())
    at = shape.frame.to_solver(np.array([[0.0, 0.0, 30.0], [10.0, 10.0, 30.0]]))
    inside, outside = shape.distance(at)
    assert inside == pytest.approx(-3e-3, abs=5e-5), "the middle of a stem of 6 mm"
    assert outside > 3e-3


def test_a_point_belongs_to_the_body_that_it_lies_in():
    shape = Shape(trees.cast())
    middle = {"stem": (0, 0, 33), "button": (0, 0, 8), "sprue 1": (6, 0, 26), "sprue 2": (-6, 0, 26), "piece 1 A": (8.9, 0, 26.5)}
    for name, place in middle.items():
        got = shape.body(shape.frame.to_solver(np.array([place], dtype=float)))[0]
        assert shape.names[got] == name


def test_pieces_and_sprues_are_found_by_their_number():
    shape = Shape(trees.cast())
    assert shape.names[shape.piece(2)] == "piece 2 B"
    assert [shape.names[i] for i in shape.sprues(1)] == ["sprue 1"]


def test_number_one_is_not_number_eleven():
    shape = Shape(trees.cast())
    shape.names = ("piece 11 A", "piece 1 A", "sprue 11", "sprue 1", "sprue 1 second", "stem", "button")
    assert shape.piece(1) == 1
    assert shape.piece(11) == 0
    assert shape.sprues(1) == [3, 4]


def test_sterling_freezes_along_its_computed_curve():
    """Ag-Cu: eutectic at 779.1 degC with 28.1 % copper (Murray 1984); a seventh freezes there (Scheil)."""
    metal = metal_substance(LIBRARY.alloy("sterling-925"), LIBRARY)
    assert c_from_k(metal.solidus) == pytest.approx(779.1, abs=1.0)
    assert 890 < c_from_k(metal.liquidus) < 905
    eutectic = np.flatnonzero(np.abs(metal.temperature - metal.solidus) < 0.5)
    assert np.ptp(metal.solid_fraction[eutectic]) == pytest.approx(0.146, abs=0.05)


def test_the_heat_of_sterling_is_that_of_the_handbook():
    """From 1000 degC to just solid about 177 kJ/kg (Dinsdale 1991 by mass for the latent part): within a tenth."""
    alloy = LIBRARY.alloy("sterling-925")
    metal = metal_substance(alloy, LIBRARY)
    density = 1000 * alloy.liquid_density_g_per_cm3.value
    heat = (float(metal.heat_at(k_from_c(1000.0))) - metal.solid_heat) / density
    assert heat == pytest.approx(177.1e3, rel=0.1)


def test_a_users_own_melting_range_wins_over_the_computed_curve():
    alloy = LIBRARY.alloy("sterling-925")
    sheet = alloy.model_copy(update={"solidus_c": own(800.0, "degC"), "liquidus_c": own(890.0, "degC")})
    assert computes(alloy, LIBRARY)
    assert not computes(sheet, LIBRARY)
    metal = metal_substance(sheet, LIBRARY)
    assert c_from_k(metal.solidus) == pytest.approx(800.0)
    assert c_from_k(metal.liquidus) == pytest.approx(890.0)


@pytest.mark.parametrize("name", ["gold-585-white-nickel", "gold-583-yellow-zinc", "platinum-950-ruthenium", "bronze-silicon-655"])
def test_alloys_that_are_not_assessed_freeze_straight_between_their_figures(name):
    alloy = LIBRARY.alloy(name)
    assert not computes(alloy, LIBRARY)
    metal = metal_substance(alloy, LIBRARY)
    assert c_from_k(metal.solidus) == pytest.approx(alloy.solidus_c.value)
    assert c_from_k(metal.liquidus) == pytest.approx(alloy.liquidus_c.value)


@pytest.mark.parametrize("name", ["fine-silver-999", "fine-gold-999"])
def test_fine_metals_freeze_at_one_temperature(name):
    metal = metal_substance(LIBRARY.alloy(name), LIBRARY)
    assert metal.liquidus - metal.solidus < 1.5
    assert metal.solid_heat < metal.liquid_heat


@pytest.mark.parametrize("name", sorted(LIBRARY.alloys))
def test_every_shipped_alloy_makes_a_substance_with_its_conductivities(name):
    alloy = LIBRARY.alloy(name)
    metal = metal_substance(alloy, LIBRARY)
    assert metal.solidus <= metal.liquidus < k_from_c(1900)
    assert metal.conductivity[0] == pytest.approx(alloy.conductivity_solid_w_per_m_k.value)
    assert metal.conductivity[-1] == pytest.approx(alloy.conductivity_liquid_w_per_m_k.value)
    assert np.all(np.diff(metal.solid_fraction) <= 0)


def test_an_own_row_without_conductivities_takes_the_usual_ones():
    bare = LIBRARY.alloy("gold-585-yellow").model_copy(
        update={"conductivity_solid_w_per_m_k": None, "conductivity_liquid_w_per_m_k": None}
    )
    metal = metal_substance(bare, LIBRARY)
    assert (metal.conductivity[0], metal.conductivity[-1]) == pytest.approx(METAL_CONDUCTIVITY)


def test_the_ends_of_a_value_and_of_a_rule():
    assert [at_end(2.0, (1.0, 4.0), which) for which in (-1, 0, 1)] == [1.0, 2.0, 4.0]
    rule = LIBRARY.rules["touch_liquid_w_per_m2_k"]
    assert [of_rule(rule, which) for which in (-1, 0, 1)] == [700, 1500, 3000]
    assert of_rule(LIBRARY.rules["skin_solid_fraction"], 1) == 0.5, "a rule without ends is its value"


def test_a_run_at_the_slow_end_has_less_conductive_mould_and_less_touch():
    cast = trees.cast()
    metal = metal_substance(cast.alloy, LIBRARY)
    slow, mid, fast = (setting(cast, LIBRARY, Ends(mould=e, touch=e), metal=metal) for e in (-1, 0, 1))
    k = [s.substances[0].conductivity[0] for s in (slow, mid, fast)]
    low, high = cast.investment.conductivity_dry_w_per_m_k.ends
    assert k == pytest.approx([low, cast.investment.conductivity_dry_w_per_m_k.value, high])
    touch = [s.contact.coefficient for s in (slow, mid, fast)]
    assert touch[0] < touch[1] < touch[2]
    assert all(t[1] < t[0] for t in touch), "a skin touches the mould less than liquid does"


def test_the_wall_is_of_the_flasks_steel_and_the_faces_lose_heat():
    cast = replace(trees.cast(), flask=replace(trees.FLASK, wall_mm=3))
    around = setting(cast, LIBRARY, Ends(), metal=metal_substance(cast.alloy, LIBRARY)).surroundings
    assert around.wall is not None
    assert around.wall.thickness == pytest.approx(0.003)
    assert around.side.emissivity > around.above.emissivity, "scaled steel shines more than bright metal"
    assert around.below.emissivity == 0
    assert math.isclose(around.side.outside, k_from_c(20.0))


def test_a_place_of_a_stored_plan_is_read_back():
    place = {
        "number": 3,
        "piece": "B",
        "sprue": {"gauge_mm": 2.5, "area_ratio": 1.1, "from_mm": [0, 0, 20], "to_mm": [8, 0, 22]},
        "transform": [[1, 0, 0, 10], [0, 1, 0, 0], [0, 0, 1, 5]],
    }
    proposal = {"piece": "B", "gauge_mm": 4, "attachment": {"at_mm": [1, 2, 3]}}
    fed = fed_of_data(place, [{"piece": "A", "gauge_mm": 9, "attachment": {"at_mm": [9, 9, 9]}}, proposal])
    assert (fed.number, fed.piece, fed.gauge_mm, fed.area_ratio, fed.from_mm, fed.to_mm) == (
        3,
        "B",
        2.5,
        1.1,
        (0, 0, 20),
        (8, 0, 22),
    )
    assert fed.second_mm == (11, 2, 8), "placed on the tree"
    assert fed.in_pattern(np.array(fed.second_mm)) == (1, 2, 3)
    assert fed.second_gauge_mm == 4
    assert fed_of_data(place, []).second_mm is None


@pytest.mark.parametrize("missing", ["number", "piece", "sprue"])
def test_a_place_that_lacks_something_says_what(missing):
    place = {
        "number": 3,
        "piece": "B",
        "sprue": {"gauge_mm": 2.5, "area_ratio": 1.1, "from_mm": [0, 0, 20], "to_mm": [8, 0, 22]},
        "transform": [],
    }
    del place[missing]
    with pytest.raises(KeyError, match=missing):
        fed_of_data(place, [])


def test_a_cast_as_stored_is_rounded_once_and_for_all():
    """Single precision of 8 mm is half a millionth of a millimetre; what has been rounded stays."""
    raw = trees.cast()
    once = as_stored(raw)
    twice = as_stored(once)
    for (name, was), (kept, now), (_, again) in zip(raw.bodies, once.bodies, twice.bodies, strict=True):
        assert kept == name
        assert np.abs(now.vertices - was.vertices).max() < 4e-6
        assert np.array_equal(again.vertices, now.vertices)
    assert np.array_equal(twice.metal.vertices, once.metal.vertices)
    assert np.array_equal(once.metal.vertices, raw.metal.vertices.astype(np.float32))
    assert np.array_equal(once.metal.faces, raw.metal.faces)
