"""A solid in layers: what begins in mid-air, and what holds resin."""

import numpy as np
import pytest

from pourwell.geometry.layers import closed_halves, layers, upright
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import NotSolidError
from tests.unit.geometry.distance_samples import beside, box, icosphere, soup
from tests.unit.geometry.printed_samples import block, cup, cylinder, mesh, over, table
from tests.unit.pattern.case import hollow

UP = (0, 0, 1)
LAYER = 0.1


def test_a_turn_brings_its_direction_up():
    for direction in ((0, 0, 1), (0, 0, -2), (1, 2, 3), (0, -1, 0)):
        turn = upright(direction)
        np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(turn) == pytest.approx(1)
        np.testing.assert_allclose(turn @ np.array(direction) / np.linalg.norm(direction), UP, atol=1e-12)


def test_a_box_is_the_same_in_every_layer():
    cut = layers(box((0, 0, 0), (2, 3, 1)), UP, layer_mm=LAYER)
    assert len(cut.area_mm2) == 10
    np.testing.assert_allclose(cut.area_mm2, 6)
    np.testing.assert_allclose(cut.outline_mm, 10)
    assert cut.height_mm == pytest.approx(1)
    assert (cut.islands, cut.cups, cut.ceiling_mm2) == ((), (), pytest.approx(0, abs=1e-9))


def test_the_arrays_of_a_cut_cannot_be_written():
    cut = layers(box((0, 0, 0), (1, 1, 1)), UP, layer_mm=LAYER)
    with pytest.raises(ValueError, match="read-only"):
        cut.area_mm2[0] = 1


def test_what_is_thinner_than_half_a_layer_has_one_empty_layer():
    cut = layers(box((0, 0, 0), (1, 1, 0.04)), UP, layer_mm=LAYER)
    assert cut.area_mm2.tolist() == [0]
    assert cut.islands == cut.cups == ()


def test_a_sphere_that_stands_on_its_lowest_point_has_no_island():
    cut = layers(icosphere(2.0, halvings=3), (0.2, 0.3, 1), layer_mm=0.05)
    assert cut.islands == cut.cups == ()


def test_both_legs_of_a_table_stand():
    cut = layers(table(legs=[(0, 0, 0), (9, 5, 0)]), UP, layer_mm=LAYER)
    assert cut.islands == ()
    assert cut.ceiling_mm2 == pytest.approx(60 - 2, rel=0.02)
    assert cut.ceiling_height_mm == pytest.approx(5.0)


def test_a_short_leg_begins_in_mid_air():
    cut = layers(table(legs=[(0, 0, 0), (9, 5, 2.0)]), UP, layer_mm=LAYER)
    (island,) = cut.islands
    assert island.height_mm == pytest.approx(2.0)
    np.testing.assert_allclose(island.at_mm, (9.5, 5.5, 2.05), atol=1e-9)
    assert island.first_mm2 == pytest.approx(1)
    assert island.largest_mm2 == pytest.approx(1)
    assert island.layers_count == 30


def test_a_table_upside_down_has_no_island():
    assert layers(table(legs=[(0, 0, 0), (9, 5, 2.0)]), (0, 0, -1), layer_mm=LAYER).islands == ()


def test_a_growing_island_tells_its_largest_layer_before_it_is_carried():
    """A cone of 3 mm hangs its tip into the air beside the leg that carries the plate."""
    whole = block((0, 0, 0), (1, 1, 6)) + block((0, 0, 5), (10, 1, 6)) + cylinder(0.001, low=2, high=5, at=(8, 0.5), tip=3)
    (island,) = layers(mesh(whole), UP, layer_mm=LAYER).islands
    assert island.height_mm == pytest.approx(2.0, abs=LAYER)
    assert island.first_mm2 < 0.05
    assert island.largest_mm2 == pytest.approx(np.pi * 2.95**2, rel=0.01)


def test_two_solids_of_which_one_hovers_are_an_island_to_the_end():
    (island,) = layers(beside(box((0, 0, 0), (1, 1, 1)), box((3, 0, 0.5), (4, 2, 2))), UP, layer_mm=LAYER).islands
    assert island.layers_count == 15
    assert island.largest_mm2 == pytest.approx(2)


def test_islands_come_largest_first():
    legs = [(0, 0, 0), (9, 5, 2.0), (5, 0, 3.0)]
    whole = table(legs=legs)
    wide = mesh(
        block((0, 0, 0), (1, 1, 6)) + block((0, 0, 5), (9, 3, 6)) + block((6, 0, 2), (8, 2, 5)) + block((3, 0, 1), (4, 1, 5))
    )
    assert [i.height_mm for i in layers(whole, UP, layer_mm=LAYER).islands] == pytest.approx([2.0, 3.0])
    assert [i.largest_mm2 for i in layers(wide, UP, layer_mm=LAYER).islands] == pytest.approx([4, 1])


def test_an_island_within_a_cup_is_found():
    whole = cylinder(5, low=0, high=6) - cylinder(4, low=1, high=5) + cylinder(1, low=3, high=5.5)
    cut = layers(mesh(whole), UP, layer_mm=LAYER)
    assert [i.height_mm for i in cut.islands] == pytest.approx([3.0])
    (inside,) = cut.cups
    assert inside.kind == "closed"


def test_a_cup_open_to_the_film_is_sealed_by_it():
    (held,) = layers(cup(), UP, layer_mm=LAYER).cups
    assert held.kind == "suction"
    assert held.volume_mm3 == pytest.approx(np.pi * 16 * 5, rel=0.002)
    assert (held.low_mm, held.high_mm) == pytest.approx((1, 6))
    assert held.mouth_mm2 == pytest.approx(np.pi * 16, rel=0.002)
    np.testing.assert_allclose(held.at_mm, (0, 0, 3.5), atol=0.01)


def test_a_cup_upside_down_hangs_like_a_bowl():
    (held,) = layers(over(cup()), UP, layer_mm=LAYER).cups
    assert held.kind == "bowl"
    assert held.volume_mm3 == pytest.approx(np.pi * 16 * 5, rel=0.002)
    assert (held.low_mm, held.high_mm) == pytest.approx((0, 5))


def test_the_same_cup_seen_from_below_is_the_same_bowl():
    (held,) = layers(cup(), (0, 0, -1), layer_mm=LAYER).cups
    assert held.kind == "bowl"
    np.testing.assert_allclose(held.at_mm, (0, 0, 3.5), atol=0.01)


@pytest.mark.parametrize(
    "made", [cup(hole=0.5), over(cup(hole=0.5)), mesh(cylinder(3, low=0, high=5) - cylinder(2, low=-1, high=6))]
)
def test_a_hole_through_the_floor_lets_everything_out(made):
    assert layers(made, UP, layer_mm=LAYER).cups == ()


def test_a_slot_in_the_side_leaves_what_lies_under_it():
    slot = mesh(cylinder(5, low=0, high=6) - cylinder(4, low=1, high=7) - block((0, -0.5, 4), (6, 0.5, 7)))
    (held,) = layers(slot, UP, layer_mm=LAYER).cups
    assert held.volume_mm3 == pytest.approx(np.pi * 16 * 3, rel=0.01)
    assert held.high_mm == pytest.approx(4)


def test_a_cup_that_leans_far_enough_runs_out():
    """Its wall leans outward by 45 degrees, so at 60 it hangs over everywhere."""
    open_dish = mesh(cylinder(3, low=0, high=3, tip=6) - cylinder(2, low=0.5, high=3.5, tip=5.0))
    assert layers(open_dish, UP, layer_mm=LAYER).cups[0].kind == "suction"
    assert layers(open_dish, (np.sin(np.pi / 3), 0, np.cos(np.pi / 3)), layer_mm=LAYER).cups == ()


def test_a_closed_hollow_is_told_once():
    (held,) = layers(hollow(icosphere(3.0, halvings=3), icosphere(2.0, halvings=3)), UP, layer_mm=LAYER).cups
    assert held.kind == "closed"
    assert held.volume_mm3 == pytest.approx(icosphere(2.0, halvings=3).volume_mm3, rel=0.002)
    np.testing.assert_allclose(held.at_mm, (0, 0, 0), atol=0.01)


def test_two_cups_side_by_side_are_two_though_they_open_at_one_height():
    bowls = block((0, 0, 0), (9, 5, 4)) - block((1, 1, 1), (4, 4, 5)) - block((5, 1, 1), (8, 4, 5))
    held = layers(mesh(bowls), UP, layer_mm=LAYER).cups
    assert [c.volume_mm3 for c in held] == pytest.approx([27, 27])
    assert sorted(c.at_mm[0] for c in held) == pytest.approx([2.5, 6.5])


def test_two_wells_that_meet_under_one_rim_are_one_cup():
    joined = block((0, 0, 0), (9, 5, 6)) - block((1, 1, 1), (4, 4, 7)) - block((5, 1, 1), (8, 4, 7)) - block((1, 1, 4), (8, 4, 7))
    (held,) = layers(mesh(joined), UP, layer_mm=LAYER).cups
    assert held.volume_mm3 == pytest.approx(27 * 2 + 7 * 3 * 2)


def test_on_the_plate_a_bore_is_closed_below():
    tube = mesh(cylinder(3, low=0, high=5) - cylinder(2, low=-1, high=6))
    assert layers(tube, UP, layer_mm=LAYER).cups == ()
    held = layers(tube, UP, layer_mm=LAYER, on_plate=True).cups
    assert [c.kind for c in held] == ["suction"]
    assert held[0].volume_mm3 == pytest.approx(np.pi * 4 * 5, rel=0.003)


def test_a_mesh_of_loose_triangles_is_put_together_first():
    cut = layers(soup(box((0, 0, 0), (1, 1, 1))), UP, layer_mm=LAYER)
    assert cut.volume_mm3 == pytest.approx(1)
    _, mate = closed_halves(soup(box((0, 0, 0), (1, 1, 1))))
    assert (mate >= 0).all()


def test_an_open_mesh_is_refused():
    whole = box((0, 0, 0), (1, 1, 1))
    with pytest.raises(NotSolidError):
        layers(Mesh(whole.vertices, whole.faces[1:]), UP, layer_mm=LAYER)
