"""What is refused before a run starts, each with what to do."""

from dataclasses import replace

import numpy as np
import pytest

from pourwell.errors import BadDataError, BadRequestError
from pourwell.geometry.mesh import Mesh
from pourwell.steps.freeze import plan, refuse
from pourwell.steps.freeze.cast import Shape, metal_substance
from pourwell.steps.freeze.refuse import FINEST_MM, why_not
from pourwell.steps.freeze.run import meshed
from tests.unit.freeze import trees

LIBRARY = trees.LIBRARY


def test_cells_that_are_too_small_are_refused_before_anything_is_made():
    with pytest.raises(BadRequestError, match="too many for this machine") as err:
        meshed(trees.cast(), Shape(trees.cast()), edge_mm=FINEST_MM / 2)
    assert "0.1 mm or more" in err.value.try_this


@pytest.mark.parametrize("edge", [0.0, -1.0, float("nan")])
def test_an_edge_that_is_no_length_is_refused(edge):
    with pytest.raises(BadRequestError):
        meshed(trees.cast(), Shape(trees.cast()), edge_mm=edge)


def test_metal_that_touches_the_wall_is_refused_with_how_far():
    cast = trees.cast()
    narrow = replace(cast, flask=replace(cast.flask, diameter_mm=50))
    with pytest.raises(BadRequestError, match="touches the flask's wall") as err:
        meshed(narrow, Shape(narrow), edge_mm=1.5)
    assert "reaches" in err.value.why
    assert "wider or taller flask" in err.value.try_this


def test_metal_that_comes_out_of_the_tip_is_refused():
    cast = trees.cast()
    low = replace(cast, flask=replace(cast.flask, height_mm=38))
    with pytest.raises(BadRequestError, match="comes out of the mould"):
        meshed(low, Shape(low), edge_mm=1.5)


def refused(**given):
    cast = replace(trees.cast(), **given)
    return why_not(cast, metal_substance(cast.alloy, LIBRARY))


def test_a_sound_pour_is_not_refused():
    assert refused() is None


@pytest.mark.parametrize(
    "given",
    [{"metal_c": 1e6}, {"metal_c": float("nan")}, {"flask_c": -300.0}, {"metal_c": float("inf")}, {"flask_c": float("nan")}],
)
def test_temperatures_that_cannot_be_are_refused(given):
    err = refused(**given)
    assert "cannot be" in err.what
    assert err.try_this


def test_an_edge_of_nothing_is_not_taken_for_none_given():
    with pytest.raises(BadRequestError):
        plan.freeze(trees.cast(), fine=False, library=LIBRARY, tell=lambda _: None, edge_mm=0.0)


def test_metal_below_its_liquidus_is_refused():
    err = refused(metal_c=850.0)
    assert "below its liquidus" in err.what
    assert "850 °C" in err.why
    assert "Pour hotter" in err.try_this


def test_a_flask_over_the_solidus_is_refused():
    err = refused(flask_c=800.0)
    assert "hotter than the metal's solidus" in err.what
    assert "800 °C against 779 °C" in err.why


def test_a_tree_without_a_button_is_refused():
    cast = trees.cast()
    err = refused(bodies=tuple(b for b in cast.bodies if b[0] != "button"))
    assert err.what == "The tree has no button."


def test_a_mould_that_does_not_conduct_is_refused():
    mould = trees.cast().investment
    none = mould.conductivity_dry_w_per_m_k.model_copy(update={"value": 0.0, "low": 0.0})
    err = refused(investment=mould.model_copy(update={"conductivity_dry_w_per_m_k": none}))
    assert "conducts no heat" in err.what
    assert "conductivity_dry_w_per_m_k" in err.try_this


def test_metal_that_does_not_conduct_is_refused():
    alloy = trees.cast().alloy
    none = alloy.conductivity_solid_w_per_m_k.model_copy(update={"value": 0.0})
    with pytest.raises(BadRequestError, match="The alloy sterling-925 conducts no heat") as err:
        refused(alloy=alloy.model_copy(update={"conductivity_solid_w_per_m_k": none}))
    assert "conductivity_solid_w_per_m_k" in err.value.try_this


def moved(mesh, by):
    return Mesh(mesh.vertices + np.array(by), mesh.faces)


def overlapping(by):
    """The tree with its second piece set upon the first, and then aside along the stem."""
    cast = trees.cast(pieces=((1, 0.0), (1, 0.0)))
    bodies = [(name, moved(mesh, by) if name == "piece 2 A" else mesh) for name, mesh in cast.bodies]
    return replace(cast, bodies=tuple(bodies))


def test_two_pieces_that_overlap_are_refused_and_named():
    cast = overlapping((0.0, 0.0, 2.0))
    with pytest.raises(BadRequestError, match="Two pieces overlap: piece 1 A and piece 2 A") as err:
        meshed(cast, Shape(cast), edge_mm=1.5)
    assert "mm³" in err.value.why
    assert "Plan again" in err.value.try_this


@pytest.mark.parametrize("by", [(0.0, 3.0, 0.0), (0.0, 0.0, 1.0)])
def test_pieces_that_touch_or_whose_boxes_overlap_do_not_overlap(by):
    """Side by side face to face; and a small band in the bore of another."""
    cast = overlapping(by)
    small = [(name, trees.small(mesh) if name == "piece 2 A" and by[2] else mesh) for name, mesh in cast.bodies]
    refuse._refuse_overlap(replace(cast, bodies=tuple(small)))


def test_memory_that_would_not_fit_is_refused_with_the_edge_that_does(monkeypatch):
    monkeypatch.setattr(refuse, "MOST_BYTES", 1e9)
    cast = trees.cast()
    with pytest.raises(BadRequestError, match="would take about 2 GB of memory") as err:
        refuse.refuse_shape(cast, Shape(cast), edge_mm=0.1)
    assert "0.13 mm or more" in err.value.try_this
    refuse.refuse_shape(cast, Shape(cast), edge_mm=0.13)


def test_the_guess_of_the_cells_is_near_to_the_cells():
    cast = trees.cast()
    made = meshed(cast, Shape(cast), edge_mm=0.4)
    guess = refuse.CELLS_A_SQUARE * cast.metal.area_mm2 / 0.4**2
    assert made.mesh.volume.size == pytest.approx(guess, rel=0.3)


def test_a_tree_that_is_refused_is_refused_before_any_run():
    heard = []
    with pytest.raises(BadRequestError, match="overlap"):
        plan.freeze(overlapping((0.0, 0.0, 2.0)), fine=False, library=LIBRARY, tell=heard.append)
    assert heard == ["Meshing the tree"]


def test_a_piece_that_is_no_solid_is_refused():
    cast = trees.cast(pieces=((1, 0.0), (1, 0.0)))
    open_ = Mesh(cast.bodies[0][1].vertices, cast.bodies[0][1].faces[1:])
    with pytest.raises(BadDataError, match="is no solid"):
        refuse._refuse_overlap(replace(cast, bodies=(("piece 1 A", open_), *cast.bodies[1:])))
