"""Ways to stand, compared by quick measures; steps, undersides and where tools reach."""

import numpy as np
import pytest

from pourwell.geometry.layers import closed_halves, layers
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.orient import (
    Wants,
    compare,
    footprint,
    free_outside,
    hanging_together,
    looks_down,
    on_bore,
    patches,
    proud,
    ways_to_stand,
)
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import SHAPES
from tests.unit.geometry.distance_samples import beside, box, icosphere
from tests.unit.geometry.printed_samples import block, cup, cylinder, mesh, over, table, turn_by
from tests.unit.pattern.case import hollow

UP = (0, 0, 1)
WANTS = Wants(layer_mm=0.1, lasting_mm=0.2, cup_mm3=2.0, under_deg=30.0)


def stances(what, *directions):
    return compare(what, directions, weight=np.ones(len(what.faces)), wants=WANTS)


def test_each_direction_is_followed_by_its_opposite():
    found = stances(box((0, 0, 0), (1, 2, 3)), (0, 0, 2), (1, 1, 0))
    assert [s.direction for s in found[:2]] == [(0, 0, 1), (0, 0, -1)]
    np.testing.assert_allclose(found[2].direction, -np.array(found[3].direction))
    assert [s.height_mm for s in found] == pytest.approx([3, 3, 3 / np.sqrt(2), 3 / np.sqrt(2)])


def test_a_box_on_its_face_shows_no_steps_and_needs_supports_under_that_face_alone():
    standing, _ = stances(box((0, 0, 0), (1, 2, 3)), UP)
    assert standing.steps_ratio == 0
    assert standing.under_fraction == pytest.approx(2 / 22)


def test_what_hollows_hold_is_told_by_the_way_that_they_look():
    """A cup open away from the plate is sealed by the film, turned over it is a bowl: both hold its inside."""
    sealed, bowl = stances(cup(outer=5, inner=4, high=6, floor=1), UP)
    inside = 16 * np.pi * 5
    assert (sealed.cups_count, bowl.cups_count) == (1, 1)
    assert sealed.suction_mm3 == pytest.approx(inside, rel=0.01)
    assert bowl.bowl_mm3 == pytest.approx(inside, rel=0.01)
    assert (sealed.bowl_mm3, bowl.suction_mm3) == (0, 0)
    drained, _ = stances(cup(hole=2.0), UP)
    assert (drained.cups_count, drained.suction_mm3) == (0, 0)


def test_a_hollow_that_nothing_opens_is_counted_once():
    outer, inner = box((0, 0, 0), (12, 10, 8)), box((1, 1, 1), (11, 9, 7))
    turned = inner.faces[:, ::-1] + len(outer.vertices)
    shut = Mesh(np.vstack((outer.vertices, inner.vertices)), np.vstack((outer.faces, turned)))
    for stance in stances(shut, UP, (1, 2, 3)):
        assert stance.cups_count == 1
        assert stance.suction_mm3 + stance.bowl_mm3 == pytest.approx(10 * 8 * 6, rel=0.01)


def test_of_what_needs_supports_the_shut_in_is_counted_by_itself():
    what = box((0, 0, 0), (2, 3, 4))
    shut = what.centres[:, 2] < 1e-9
    standing, over_head = compare(what, [UP], weight=np.ones(len(what.faces)), wants=WANTS, shut=shut)
    assert standing.hidden_mm2 == pytest.approx(6)
    assert over_head.hidden_mm2 == 0
    assert stances(what, UP)[0].hidden_mm2 == 0


def test_a_box_on_its_edge_shows_steps_on_four_faces():
    leaning, _ = stances(box((0, 0, 0), (1, 1, 1)), (0, 1, 1))
    assert leaning.steps_ratio == pytest.approx(4 / 6 * np.sqrt(0.5))
    assert leaning.under_fraction == 0


def test_steps_count_by_their_weight():
    what = box((0, 0, 0), (1, 1, 1))
    weight = np.where(np.abs(what.normals[:, 0]) > 0.5, 1.0, 3.0)
    leaning, _ = compare(what, [(0, 1, 1)], weight=weight, wants=WANTS)
    assert leaning.steps_ratio == pytest.approx(12 / 14 * np.sqrt(0.5))


@pytest.mark.parametrize(
    ("what", "islands", "cups"),
    [
        (icosphere(2.0, halvings=3), 0, 0),
        (table(legs=[(0, 0, 0), (9, 5, 0)]), 0, 0),
        (table(legs=[(0, 0, 0), (9, 5, 2.0)]), 1, 0),
        (over(table(legs=[(0, 0, 0), (9, 5, 2.0)])), 0, 0),
        (cup(), 0, 1),
        (over(cup()), 0, 1),
        (cup(hole=0.5), 0, 0),
        (hollow(icosphere(3.0, halvings=2), icosphere(2.0, halvings=2)), 0, 1),  # nothing opens it: counted once
        (beside(box((0, 0, 0), (1, 1, 1)), box((3, 0, 0.5), (4, 2, 2))), 1, 0),
    ],
)
def test_islands_and_cups_are_counted_on_the_surface(what, islands, cups):
    standing, _ = stances(what, UP)
    assert (standing.islands_count, standing.cups_count) == (islands, cups)


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("up", [(0, 0, 1), (0, 1, 0), (0.1, 0.7, 0.7), (1, 2, 3)])
def test_quick_measures_agree_with_layers_on_our_shapes(name, up):
    """The surface alone and the sections know nothing of each other."""
    what = SHAPES[name].make()
    for stance in stances(what, up):
        cut = layers(what, stance.direction, layer_mm=0.1)
        assert stance.height_mm == pytest.approx(cut.height_mm)
        sure = [i for i in cut.islands if i.layers_count >= 4]
        assert len(sure) <= stance.islands_count <= len(cut.islands)
        assert stance.cups_count == len([c for c in cut.cups if c.volume_mm3 >= WANTS.cup_mm3])


def test_a_cup_too_small_to_matter_is_not_counted():
    small = cup(outer=1.0, inner=0.5, high=2.0, floor=1.0)
    assert stances(small, UP)[0].cups_count == 0
    generous = Wants(layer_mm=0.1, lasting_mm=0.2, cup_mm3=0.5, under_deg=30.0)
    assert compare(small, [UP], weight=np.ones(len(small.faces)), wants=generous)[0].cups_count == 1


def test_steps_stand_out_by_the_rise_of_the_normal():
    what = box((0, 0, 0), (1, 1, 1))
    np.testing.assert_allclose(proud(what, (0, 3, 3))[np.abs(what.normals[:, 0]) < 0.5], np.sqrt(0.5))
    assert not proud(what, UP).any()


def test_level_undersides_are_told_from_upright_ones():
    what = table(legs=[(0, 0, 0), (9, 5, 0)])
    down = looks_down(what, UP, flatter_than_deg=30)
    assert what.areas[down].sum() == pytest.approx(60)
    assert not looks_down(what, (0, 1, 1), flatter_than_deg=30).any()


def test_faces_that_hang_together_are_one_patch():
    what, mate = closed_halves(table(legs=[(0, 0, 0), (9, 5, 0)]))
    found = patches(what, mate, looks_down(what, UP, flatter_than_deg=30))
    assert [p.area_mm2 for p in found] == pytest.approx([58, 1, 1])
    assert found[0].at_mm[2] == pytest.approx(5)
    assert patches(what, mate, np.zeros(len(what.faces), dtype=bool)) == ()


def test_the_place_of_a_patch_lies_on_it():
    ring, mate = closed_halves(mesh(cylinder(5, low=0, high=1) - cylinder(4, low=-1, high=2)))
    (patch,) = patches(ring, mate, looks_down(ring, UP, flatter_than_deg=30))
    assert 4 < np.hypot(*patch.at_mm[:2]) < 5


def test_a_ball_outside_has_the_width_of_the_gap():
    """Two blocks 0.8 mm apart: between them the gap, elsewhere nothing in the way."""
    what = beside(box((0, 0, 0), (1, 1, 1)), box((1.8, 0, 0), (2.8, 1, 1)))
    free = free_outside(what, Caster(what))
    inner = (np.abs(what.normals[:, 0]) > 0.5) & (np.abs(what.centres[:, 0] - 1.4) < 0.5)
    np.testing.assert_allclose(free[inner], 0.8, atol=1e-5)
    assert np.isinf(free[~inner]).all()


def test_beside_a_wall_the_ball_is_as_wide_as_twice_the_way_to_it():
    """A floor of narrow strips before an upright wall: a ball that touches both has its radius from the wall."""
    step = block((0, 0, 0), (0.3, 1, 1))
    for k in range(4):
        step += block((0.3 + 0.2 * k, 0, 0), (0.5 + 0.2 * k, 1, 0.2 - 1e-3 * k))
    what = mesh(step)
    free = free_outside(what, Caster(what))
    floor = (what.normals[:, 2] > 0.5) & (what.centres[:, 2] < 0.5)
    beside_wall = what.centres[floor, 0] - 0.3
    np.testing.assert_allclose(free[floor], 2 * beside_wall, rtol=0.05)


def test_the_bore_is_what_looks_at_its_axis():
    tube = mesh(cylinder(5, low=0, high=4) - cylinder(4, low=-1, high=5))
    inside = on_bore(tube, (0, 0, 2), UP, diameter_mm=8, share=0.1)
    assert tube.areas[inside].sum() == pytest.approx(2 * np.pi * 4 * 4, rel=0.01)
    assert not on_bore(tube, (0, 0, 2), UP, diameter_mm=4, share=0.1).any()


def test_ways_to_stand_are_unit_vectors_well_apart_with_the_bore_first():
    axis, head = np.array([0.0, 0.6, 0.8]), np.array([2.0, 0, 0])
    ways = ways_to_stand(axis, head)
    np.testing.assert_allclose(np.linalg.norm(ways, axis=1), 1)
    np.testing.assert_allclose(ways[0], axis)
    np.testing.assert_allclose(ways[1], (1, 0, 0), atol=1e-12)
    common = np.abs(ways @ ways.T) - np.eye(len(ways))
    assert common.max() < np.cos(np.deg2rad(8))
    assert 30 <= 2 * len(ways) <= 60


def test_without_a_bore_the_file_s_axes_come_first_and_every_direction_is_near_one():
    ways = ways_to_stand()
    np.testing.assert_allclose(ways[:3], np.eye(3))
    sample = np.random.default_rng(1).normal(size=(2000, 3))
    sample /= np.linalg.norm(sample, axis=1, keepdims=True)
    assert np.rad2deg(np.arccos(np.abs(sample @ ways.T).max(axis=1))).max() < 30


def test_vertices_that_no_face_uses_change_nothing():
    what = cup()
    loose = type(what)(np.vstack((what.vertices, [[50, 50, 50], [-9, -9, -9]])), what.faces)
    assert stances(loose, UP, (1, 2, 3)) == stances(what, UP, (1, 2, 3))


def test_the_footprint_is_turned_until_it_fits():
    long = box((0, 0, 0), (30, 2, 2)).moved(np.column_stack((turn_by((0, 0, 1), 0.5), np.zeros(3))))
    wide, deep = footprint(long, (0, 0, 1), width_mm=10, depth_mm=31)
    assert wide <= 10
    assert deep <= 31
    assert max(footprint(long, (0, 0, 1), width_mm=None, depth_mm=None)) < 30.5


def test_a_sheet_on_edge_has_no_depth():
    sheet = Mesh(np.array([[0, 0, 0], [4, 0, 0], [4, 0, 3]]), np.array([[0, 1, 2]]))
    assert sorted(footprint(sheet, UP, width_mm=None, depth_mm=None)) == pytest.approx([4 / np.sqrt(2)] * 2, abs=0.03)


@pytest.mark.parametrize("seed", range(3))
def test_how_the_corners_are_numbered_changes_no_stance(seed):
    rng = np.random.default_rng(seed)
    piece = icosphere(2.0, halvings=2)
    order = rng.permutation(len(piece.vertices) + 5)
    scattered = np.full((len(order), 3), 99.0)  # five corners that no triangle has
    scattered[order[: len(piece.vertices)]] = piece.vertices
    again = Mesh(scattered, order[piece.faces])
    for one, other in zip(stances(piece, UP, (1, 2, 3)), stances(again, UP, (1, 2, 3)), strict=True):
        assert (one.islands_count, one.cups_count) == (other.islands_count, other.cups_count)
        assert one.height_mm == pytest.approx(other.height_mm)
        assert one.steps_ratio == pytest.approx(other.steps_ratio)
        assert one.under_fraction == pytest.approx(other.under_fraction)


def test_triangles_that_share_an_edge_hang_together_and_corners_do_not_count():
    """Of a box each side is two triangles with a common edge; opposite sides meet nowhere."""
    what, mate = closed_halves(box((0, 0, 0), (2, 3, 4)))
    up, down = what.normals[:, 2] > 0.5, what.normals[:, 2] < -0.5
    label = hanging_together(mate, up | down)
    assert len(label) == 4
    assert len(set(label[up[up | down]].tolist())) == 1
    assert len(set(label.tolist())) == 2
    assert len(set(hanging_together(mate, np.ones(len(what.faces), dtype=bool)).tolist())) == 1
    assert len(hanging_together(mate, np.zeros(len(what.faces), dtype=bool))) == 0
