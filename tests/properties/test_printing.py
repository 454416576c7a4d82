"""What must hold for any piece in layers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.geometry.layers import layers
from pourwell.geometry.orient import Wants, compare
from pourwell.materials.studio import Printer
from pourwell.steps.pattern.print_time import print_time
from tests.unit.geometry.distance_samples import beside, box
from tests.unit.geometry.printed_samples import block, cup, mesh, placed, table, turn_by

finite = {"allow_nan": False, "allow_infinity": False}
way = st.tuples(*[st.floats(-1, 1, **finite)] * 3).filter(lambda v: np.linalg.norm(v) > 0.1)
angle = st.floats(-3.0, 3.0, **finite)
shift = st.tuples(*[st.floats(-30, 30, **finite)] * 3)
WANTS = Wants(layer_mm=0.1, lasting_mm=0.2, cup_mm3=2.0, under_deg=30.0)
PIECES = {
    "cup": cup(),
    "drained cup": cup(hole=0.6),
    "table": table(legs=[(0, 0, 0), (9, 5, 2.0)]),
    "two wells": mesh(block((0, 0, 0), (9, 5, 4)) - block((1, 1, 1), (4, 4, 5)) - block((5, 1, 2), (8, 4, 5))),
}


def told(cut):
    """What a cut says but for places, to be compared; what hangs on a rounding is left out."""
    return (
        [(c.kind, round(c.volume_mm3)) for c in cut.cups if c.volume_mm3 > 1.6],
        [round(i.largest_mm2) for i in cut.islands if i.layers_count >= 4],
    )


@settings(max_examples=40, deadline=None)
@given(name=st.sampled_from(sorted(PIECES)), axis=way, turn=angle, move=shift)
def test_a_rigid_motion_of_piece_and_direction_together_changes_nothing(name, axis, turn, move):
    piece, rotation = PIECES[name], turn_by(axis, turn)
    up = np.array([0.3, 0.1, 0.95])
    here = layers(piece, up, layer_mm=0.1)
    there = layers(placed(piece, rotation, move), rotation @ up, layer_mm=0.1)
    assert there.height_mm == pytest.approx(here.height_mm)
    assert there.volume_mm3 == pytest.approx(here.volume_mm3, rel=1e-3)
    n = min(len(here.area_mm2), len(there.area_mm2))
    np.testing.assert_allclose(there.area_mm2[:n], here.area_mm2[:n], atol=1e-6)
    kinds, sizes = told(here), told(there)
    assert [k for k, _ in kinds[0]] == [k for k, _ in sizes[0]]
    np.testing.assert_allclose([v for _, v in sizes[0]], [v for _, v in kinds[0]], atol=1.01, rtol=0.02)
    np.testing.assert_allclose(sizes[1], kinds[1], atol=1.01)
    for mine, theirs in zip(here.cups, there.cups, strict=False):
        if mine.volume_mm3 > 10:
            np.testing.assert_allclose(theirs.at_mm, rotation @ mine.at_mm + np.array(move), atol=0.15)


@settings(max_examples=30, deadline=None)
@given(name=st.sampled_from(sorted(PIECES)), axis=way, turn=angle, move=shift)
def test_quick_measures_do_not_hang_on_where_a_piece_lies(name, axis, turn, move):
    piece, rotation = PIECES[name], turn_by(axis, turn)
    up = np.array([0.3, 0.1, 0.95])
    weight = np.ones(len(piece.faces))
    here = compare(piece, [up], weight=weight, wants=WANTS)
    there = compare(placed(piece, rotation, move), [rotation @ up], weight=weight, wants=WANTS)
    for mine, theirs in zip(here, there, strict=True):
        assert (theirs.islands_count, theirs.cups_count) == (mine.islands_count, mine.cups_count)
        assert theirs.steps_ratio == pytest.approx(mine.steps_ratio, abs=1e-6)
        assert theirs.under_fraction == pytest.approx(mine.under_fraction, abs=1e-9)
        assert theirs.height_mm == pytest.approx(mine.height_mm)


@settings(max_examples=30, deadline=None)
@given(up=way, name=st.sampled_from(sorted(PIECES)), layer_mm=st.floats(0.05, 0.3))
def test_layers_hold_the_volume_whichever_way_they_lie(up, name, layer_mm):
    piece = PIECES[name]
    cut = layers(piece, up, layer_mm=layer_mm)
    biggest = float(cut.area_mm2.max(initial=0.0))
    assert cut.volume_mm3 == pytest.approx(piece.volume_mm3, abs=biggest * layer_mm * 1.01)
    assert (cut.area_mm2 >= 0).all()
    assert sum(c.volume_mm3 for c in cut.cups if c.kind == "closed") == 0


@settings(max_examples=30, deadline=None)
@given(up=way, name=st.sampled_from(sorted(PIECES)))
def test_what_is_a_bowl_one_way_up_is_sealed_by_the_film_the_other_way_up(up, name):
    piece, down = PIECES[name], tuple(-v for v in up)
    held = {sign: layers(piece, way, layer_mm=0.1).cups for sign, way in ((1, up), (-1, down))}
    for one, other in (("bowl", "suction"), ("suction", "bowl")):
        mine = sum(c.volume_mm3 for c in held[1] if c.kind == one)
        theirs = sum(c.volume_mm3 for c in held[-1] if c.kind == other)
        assert mine == pytest.approx(theirs, rel=0.1, abs=4.0)


@settings(max_examples=30, deadline=None)
@given(gaps=st.lists(st.floats(0.35, 3.0), min_size=1, max_size=4))
def test_every_box_that_hovers_is_an_island_and_no_other(gaps):
    boxes = [box((0, 0, 0), (1, 1, 9))] + [box((2 * k + 2, 0, gap), (2 * k + 3, 1, 4)) for k, gap in enumerate(gaps)]
    islands = layers(beside(*boxes), (0, 0, 1), layer_mm=0.1).islands
    assert sorted(i.at_mm[0] for i in islands) == pytest.approx([2 * k + 2.5 for k in range(len(gaps))])


@given(height=st.floats(0.1, 100), more=st.floats(0.0, 50), layer_mm=st.floats(0.02, 0.2))
def test_a_higher_print_never_takes_less_time_and_thicker_layers_never_more(height, more, layer_mm):
    printer = Printer(layer_mm=layer_mm)
    assert print_time(height + more, printer).print_min >= print_time(height, printer).print_min
    assert print_time(height, Printer(layer_mm=2 * layer_mm)).print_min <= print_time(height, printer).print_min + 1e-9
