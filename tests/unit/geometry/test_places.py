"""Every fault with its place: one a hole, one a patch, with point, count and measure."""

import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.places import Fault, FaultKind, crossing_places, find_faults, flakes
from pourwell.geometry.shapes import SHAPES, plain_band
from pourwell.geometry.solidity import inside_out
from tests.unit.files.pattern_files import cube, joined, loose
from tests.unit.geometry.faulty import fine, flake, flipped, pushed, repeated, with_flake, without


def one(mesh: Mesh, kind: FaultKind) -> Fault:
    found = [fault for fault in find_faults(mesh) if fault.kind is kind]
    assert len(found) == 1, found
    return found[0]


def kinds(mesh: Mesh) -> set[FaultKind]:
    return {fault.kind for fault in find_faults(mesh)}


@pytest.mark.parametrize("name", sorted(SHAPES))
def test_our_shapes_have_no_fault_as_made_and_as_a_file_holds_them(name):
    made = SHAPES[name].make()
    stored = Mesh(loose(made).vertices.astype(np.float32), loose(made).faces)
    for mesh in (made, stored):
        assert kinds(mesh) <= {FaultKind.SLIVER}, "slivers do no harm, and only come of rounding"


def test_a_missing_triangle_is_one_place_with_its_rim():
    box = fine(cube(4), 1.0)
    told = one(without(box, 7), FaultKind.OPEN)
    sides = box.corners[7] - np.roll(box.corners[7], 1, axis=0)
    assert told.count == 3
    assert told.measure_mm == pytest.approx(np.linalg.norm(sides, axis=1).sum())
    assert np.linalg.norm(np.array(told.at_mm) - box.centres[7]) < told.extent_mm


def test_two_holes_are_two_places_the_longer_first():
    box = fine(cube(4), 0.5)
    far = int(np.argmax(np.linalg.norm(box.centres - box.centres[0], axis=1)))
    side = np.flatnonzero((np.abs(box.centres - box.centres[far]).max(axis=1) < 0.4) | (np.arange(len(box.faces)) == far))
    found = [fault for fault in find_faults(without(box, 0, *side)) if fault.kind is FaultKind.OPEN]
    assert len(found) == 2
    assert found[0].measure_mm > found[1].measure_mm
    assert found[1].count == 3


def test_a_patch_that_faces_the_wrong_way_is_one_place_along_its_border():
    box = fine(cube(4), 1.0)
    up = np.flatnonzero(np.isclose(box.normals[:, 2], 1))
    told = one(flipped(box, *up), FaultKind.WINDING)
    assert told.measure_mm == pytest.approx(16)
    assert told.at_mm[2] == pytest.approx(4)
    assert told.extent_mm == pytest.approx(4)


def test_an_inner_wall_is_an_edge_of_several_sheets():
    box = cube(4)
    walled = Mesh(box.vertices, [*box.faces.tolist(), [0, 1, 7], [0, 7, 6]])
    assert one(walled, FaultKind.EDGE).count >= 2


def test_a_repeated_triangle_is_three_edges_in_one_place():
    box = fine(cube(4), 1.0)
    told = one(repeated(box, 11), FaultKind.EDGE)
    assert told.count == 3
    assert np.linalg.norm(np.array(told.at_mm) - box.centres[11]) < told.extent_mm


def test_two_halves_of_one_body_that_meet_in_a_point_are_pinched_there():
    """A ring of three bars whose ends touch tip to tip at one place of it."""
    bow = np.array([[0, 0, 0], [3, 1, 1], [3, -1, 1], [3, -1, -1], [3, 1, -1], [-3, 1, 1], [-3, -1, 1], [-3, -1, -1], [-3, 1, -1]])
    right = [[0, 2, 1], [0, 3, 2], [0, 4, 3], [0, 1, 4]]
    left = [[0, 5, 6], [0, 6, 7], [0, 7, 8], [0, 8, 5]]
    arch = np.array([[3, 4, 1], [3, 4, -1], [-3, 4, 1], [-3, 4, -1]])
    hull = [[1, 2, 9], [9, 2, 6], [9, 6, 11], [11, 6, 5], [2, 3, 6], [6, 3, 7], [3, 4, 7], [7, 4, 8], [4, 10, 8], [8, 10, 12]]
    ends = [[1, 9, 4], [4, 9, 10], [9, 11, 10], [10, 11, 12], [5, 8, 11], [11, 8, 12]]
    mesh = Mesh(np.vstack((bow, arch)), right + left + hull + ends)
    found = find_faults(mesh)
    pinched = [fault for fault in found if fault.kind is FaultKind.VERTEX]
    assert [fault.at_mm for fault in pinched] == [(0, 0, 0)]
    assert not {fault.kind for fault in found} & {FaultKind.OPEN, FaultKind.EDGE}


def test_a_corner_pushed_through_the_far_wall_crosses_there():
    box = fine(cube(4), 1.0)
    told = one(pushed(box, (2, 2, 4), 5.0), FaultKind.CROSSING)
    assert told.at_mm[2] == pytest.approx(0, abs=0.2)
    assert 0.1 < told.measure_mm < 0.3, "the spike, a fifth of its base there, is some 0.2 mm wide in each triangle"
    assert crossing_places(pushed(box, (2, 2, 4), 5.0))[0].at_mm == told.at_mm
    assert not crossing_places(pushed(box, (2, 2, 4), 3.0))


def test_slivers_are_told_by_patches():
    points = np.vstack((cube(4).vertices, [[2, 0, 0]]))
    faces = [f for f in cube(4).faces.tolist() if not {0, 4} <= set(f)]
    cut = [f for f in cube(4).faces.tolist() if {0, 4} <= set(f)]
    (third,) = set(cut[0]) - {0, 4}
    first = [[8 if v == 4 else v for v in cut[0]], [8 if v == 0 else v for v in cut[0]]]
    seam = [0, 4, 8] if (4, 0) in zip(cut[1], np.roll(cut[1], -1), strict=True) else [4, 0, 8]
    told = one(Mesh(points, [*faces, *first, cut[1], seam]), FaultKind.SLIVER)
    assert third != 8
    assert told.measure_mm == pytest.approx(4)


def test_a_speck_beside_a_piece_is_a_flake_and_a_grain_on_it_is_not():
    band = plain_band()
    told = one(with_flake(band, 5), FaultKind.FLAKE)
    assert np.linalg.norm(np.array(told.at_mm) - band.centres[5]) < 0.4
    assert told.measure_mm == pytest.approx(0.05)
    on_it = joined(band, flake(band.centres[5] - 0.02 * band.normals[5], 0.05))
    assert FaultKind.FLAKE not in kinds(on_it)
    assert flakes([band]) == ()
    assert flakes([cube(4), cube(4, (9, 0, 0))]) == ()


def test_a_body_inside_out_is_told_and_a_hollow_is_not():
    told = one(joined(cube(4), inside_out(cube(2, (9, 0, 0)))), FaultKind.INVERTED)
    assert told.body == 1
    assert told.measure_mm == pytest.approx(2)
    assert not find_faults(joined(cube(9), inside_out(cube(2, (3, 3, 3)))))


def test_bodies_that_touch_or_cross_one_another_are_no_faults_of_either():
    assert not find_faults(joined(cube(4), cube(4, (4, 0, 0))))
    assert not find_faults(joined(cube(4), cube(4, (2, 1, 1))))


def test_corners_that_are_no_numbers_and_nothing_at_all_are_borne():
    points = cube(4).vertices.copy()
    points[0] = np.nan
    assert FaultKind.OPEN in kinds(Mesh(points, cube(4).faces))
    assert find_faults(Mesh(np.zeros((0, 3)), np.zeros((0, 3)))) == ()
