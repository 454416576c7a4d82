"""Measuring a pattern: one solid, its weights, its walls, its bore."""

from dataclasses import replace

import pytest

from pourwell.geometry.shapes import SHAPES, pendant_with_bail, plain_band, signet
from pourwell.materials.model import Quantity
from pourwell.steps.pattern.bore_plan import finished_bore_mm, scale_for
from tests.unit.files.pattern_files import cube, loose
from tests.unit.pattern.case import hollow, library, measured

NET = 0.011
FINISH = 0.14


def altered(row, **changes):
    return row.model_copy(update=changes)


def test_a_piece_tells_what_it_is():
    pattern, found = measured(loose(plain_band()), name="wedding ring", file="w.stl", count=3, units="inch", units_from="user")
    piece = pattern.piece
    assert (piece.id, piece.name, piece.file, piece.count, piece.units) == ("A", "wedding ring", "w.stl", 3, "inch")
    assert piece.triangle_count == len(plain_band().faces)
    assert piece.volume_mm3 == pytest.approx(plain_band().volume_mm3)
    assert piece.area_mm2 == pytest.approx(plain_band().area_mm2)
    assert piece.envelope_mm == pytest.approx(plain_band().envelope_mm)
    assert not found


def test_the_pattern_is_one_closed_solid_with_a_wall_at_every_triangle():
    pattern, _ = measured(cube(4), cube(4, (2, 0, 0)))
    assert pattern.mesh.volume_mm3 == pytest.approx(96)
    assert pattern.wall_mm.shape == (len(pattern.mesh.faces),)
    assert pattern.wall_mm.max() <= 4 + 1e-9
    assert pattern.piece.overlap_mm3 == pytest.approx(32)
    with pytest.raises(ValueError, match="read-only"):
        pattern.wall_mm[0] = 9


def test_the_wish_for_a_sprue_is_passed_on():
    pattern, _ = measured(cube(4), sprue_at_mm=(1.0, 2.0, 3.0))
    assert pattern.sprue_at_mm == (1.0, 2.0, 3.0)


def test_weights_are_volume_times_density_and_bands_are_the_ends_of_their_ranges():
    piece = measured(cube(10))[0].piece
    alloy, resin = library().alloy("sterling-925").density_g_per_cm3, library().pattern("resin").density_g_per_cm3
    assert piece.pattern_g == pytest.approx(resin.value)
    assert (piece.pattern_low_g, piece.pattern_high_g) == pytest.approx((resin.low, resin.high))
    assert piece.metal_g == pytest.approx(alloy.value)
    assert piece.metal_low_g == pytest.approx(alloy.low * (1 - 0.015) ** 3)
    assert piece.metal_high_g == pytest.approx(alloy.high)
    assert piece.finished_low_g == pytest.approx(piece.metal_low_g * (1 - 0.165))
    assert piece.finished_high_g == pytest.approx(piece.metal_high_g * (1 - 0.03))


def test_a_closed_hollow_is_light_on_the_scale_and_may_run_full_of_metal():
    solid, shell = measured(cube(10))[0].piece, measured(hollow(cube(10), cube(4, (3, 3, 3))))[0].piece
    assert shell.pattern_g == pytest.approx(0.936 * solid.pattern_g)
    assert shell.metal_g == pytest.approx(0.936 * solid.metal_g)
    assert shell.metal_high_g == pytest.approx(solid.metal_high_g)


def test_walls_are_told_in_order_with_their_places():
    wall = measured(signet())[0].piece.wall
    assert wall.thinnest_mm < wall.typical_mm < wall.thickest_mm
    assert wall.limit_mm == library().alloy("sterling-925").min_wall_mm.value
    assert wall.under_limit_fraction == 0
    assert wall.thinnest_at_mm[2] < -9, "the back of the shank"
    assert wall.thickest_at_mm[2] > 5, "the head"


@pytest.mark.parametrize("name", SHAPES)
def test_thinnest_typical_and_thickest_never_contradict_each_other(name):
    wall = measured(SHAPES[name].make())[0].piece.wall
    assert 0 < wall.thinnest_mm <= wall.typical_mm <= wall.thickest_mm * 1.001


def test_a_ring_has_a_bore_with_its_sizes():
    bore = measured(plain_band(bore_mm=17.32))[0].piece.bore
    assert bore.diameter_mm == pytest.approx(17.32, abs=0.02)
    assert bore.sizes.us == "7"
    assert bore.axis == pytest.approx((0, 1, 0), abs=1e-4)
    assert bore.wanted_mm is bore.scale_ratio is bore.scale_low_ratio is None


def test_the_finished_bore_is_the_prediction_run_at_the_ends_of_its_inputs():
    bore = measured(plain_band())[0].piece.bore
    drawn = bore.diameter_mm
    assert bore.finished_mm == pytest.approx(drawn * (1 - NET) + FINISH)
    assert bore.finished_low_mm == pytest.approx(drawn * (1 - 0.015) + 0.10)
    assert bore.finished_high_mm == pytest.approx(drawn * (1 - 0.003) + 0.19)
    runs = [finished_bore_mm(drawn, s, f) for s in (0.003, NET, 0.015) for f in (0.10, FINISH, 0.19)]
    assert (min(runs), max(runs)) == pytest.approx((bore.finished_low_mm, bore.finished_high_mm))


def test_the_scale_hits_the_wanted_bore_and_its_ends_do_at_the_ends():
    bore = measured(plain_band(), wanted_mm=18.0)[0].piece.bore
    drawn = bore.diameter_mm
    assert finished_bore_mm(drawn * bore.scale_ratio, NET, FINISH) == pytest.approx(18.0)
    assert finished_bore_mm(drawn * bore.scale_low_ratio, 0.003, 0.19) == pytest.approx(18.0)
    assert finished_bore_mm(drawn * bore.scale_high_ratio, 0.015, 0.10) == pytest.approx(18.0)
    assert bore.scale_low_ratio < bore.scale_ratio < bore.scale_high_ratio


def test_scale_and_prediction_are_each_others_inverse():
    scale = scale_for(17.0, 16.5, shrinkage=0.012, finishing_mm=0.1)
    assert finished_bore_mm(16.5 * scale, 0.012, 0.1) == pytest.approx(17.0)


def test_a_pattern_material_with_its_own_shrinkage_overrules_the_general_one():
    own = Quantity(value=0.025, low=0.02, high=0.03, unit="1", source="studio", grade="supplier")
    wax = altered(library().pattern("wax-injection"), net_shrinkage_fraction=own)
    bore = measured(plain_band(), material=wax)[0].piece.bore
    assert bore.finished_mm == pytest.approx(bore.diameter_mm * 0.975 + FINISH)
    assert bore.finished_low_mm == pytest.approx(bore.diameter_mm * 0.97 + 0.10)


def test_the_rules_of_the_library_are_what_is_used():
    rules = dict(library().rules)
    rules["finishing_bore_mm"] = altered(rules["finishing_bore_mm"], value=0.5, low=0.4, high=0.6)
    bore = measured(plain_band(), shelf=replace(library(), rules=rules))[0].piece.bore
    assert bore.finished_mm == pytest.approx(bore.diameter_mm * (1 - NET) + 0.5)


def test_the_bail_of_a_pendant_is_no_finger_bore():
    assert measured(pendant_with_bail())[0].piece.bore is None


def test_a_bangle_has_a_bore_of_no_finger_size():
    bore = measured(plain_band(bore_mm=62.0))[0].piece.bore
    assert bore.diameter_mm == pytest.approx(62, rel=1e-3)
    assert bore.sizes.us == "over 16"
