"""Each compiled loop of the signed distance against its readable twin."""

from math import inf

import numpy as np
import pytest

from pourwell.geometry.distance import SignedDistance
from pourwell.geometry.kernels import reference
from pourwell.geometry.kernels.leaves import leaf_frames, longest_first
from pourwell.geometry.kernels.nearest import signed_distances
from pourwell.geometry.kernels.surface import corner_normals, mates, shells
from pourwell.geometry.kernels.tree import FAN, STACK, WIDTH, tree_order
from pourwell.geometry.kernels.winding import winding
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.planting import planted
from pourwell.geometry.shapes import SHAPES, Fineness, plain_band, stud_with_wire
from tests.unit.geometry.distance_samples import beside, box, icosphere, shaken

SAMPLES = {
    "box": box((0, 0, 0), (1, 2, 3)),
    "sphere": icosphere(2.0, halvings=2),
    "shaken sphere": shaken(icosphere(2.0, halvings=3), by=0.05, seed=5),
    "band": plain_band(fineness=Fineness(chord_mm=0.1, longest_mm=4.0)),
    "two boxes": beside(box((0, 0, 0), (1, 1, 1)), box((3, 0, 0), (4, 2, 1))),
}
"""Closed meshes of 12 to some 1000 triangles."""


@pytest.fixture(params=SAMPLES)
def mesh(request):
    return SAMPLES[request.param]


def test_mates_run_against_one_another_as_the_twin_says(mesh):
    found, faults = mates(mesh.faces, len(mesh.vertices))
    assert faults == 0
    np.testing.assert_array_equal(found, reference.mates(mesh.faces))


def test_a_mate_of_a_mate_is_oneself(mesh):
    found, _ = mates(mesh.faces, len(mesh.vertices))
    np.testing.assert_array_equal(found[found], np.arange(3 * len(mesh.faces)))


def test_half_edges_without_mate_are_counted_and_named():
    """One triangle away leaves its three neighbours with a half edge that nothing runs against."""
    faces = box((0, 0, 0), (1, 1, 1)).faces[1:]
    found, faults = mates(faces, 8)
    assert faults == 3
    np.testing.assert_array_equal(found, reference.mates(faces))
    assert (found == -1).sum() == 3


@pytest.mark.parametrize("extra", [[0, 1, 2], [0, 0, 1]])
def test_a_triangle_too_many_or_one_that_lost_a_corner_is_a_fault(extra):
    faces = np.vstack((box((0, 0, 0), (1, 1, 1)).faces, [extra]))
    assert mates(faces, 8)[1] > 0


def test_a_triangle_wound_the_wrong_way_is_a_fault():
    faces = box((0, 0, 0), (1, 1, 1)).faces.copy()
    faces[3] = faces[3, ::-1]
    assert mates(faces, 8)[1] > 0


def test_shells_are_told_apart_as_the_twin_does(mesh):
    mate, _ = mates(mesh.faces, len(mesh.vertices))
    np.testing.assert_array_equal(shells(mate), reference.shells(mate))


def test_shells_are_numbered_by_their_first_triangles_however_they_are_mixed():
    mesh = SAMPLES["two boxes"]
    mixed = mesh.faces[np.random.default_rng(3).permutation(len(mesh.faces))]
    mate, _ = mates(mixed, len(mesh.vertices))
    label = shells(mate)
    assert label[0] == 0
    assert set(label.tolist()) == {0, 1}
    np.testing.assert_array_equal(label, reference.shells(mate))


def test_corner_normals_are_those_of_the_twin(mesh):
    mate, _ = mates(mesh.faces, len(mesh.vertices))
    found = corner_normals(mesh.vertices, mesh.faces, mate, flat=np.zeros(len(mesh.faces), dtype=np.int64))
    np.testing.assert_allclose(found, reference.corner_normals(mesh.vertices, mesh.faces), atol=1e-9)


def test_the_normal_at_a_cubes_corner_halves_all_three_faces():
    """By symmetry (1, 1, 1) / sqrt 3, however the faces are cut into triangles: that is what the angles are for."""
    mesh = box((0, 0, 0), (1, 1, 1))
    mate, _ = mates(mesh.faces, 8)
    found = corner_normals(mesh.vertices, mesh.faces, mate, flat=np.zeros(12, dtype=np.int64))
    np.testing.assert_allclose(found, (2 * mesh.vertices - 1) / np.sqrt(3), atol=1e-12)


def test_a_flat_triangle_silences_the_normals_at_its_corners():
    mesh = box((0, 0, 0), (1, 1, 1))
    mate, _ = mates(mesh.faces, 8)
    flat = np.zeros(12, dtype=np.int64)
    flat[4] = 1
    found = corner_normals(mesh.vertices, mesh.faces, mate, flat=flat)
    silent = np.zeros(8, dtype=bool)
    silent[mesh.faces[4]] = True
    np.testing.assert_array_equal((found == 0).all(axis=1), silent)


def test_a_corner_where_two_cones_meet_has_no_normal():
    """Two tetrahedra tip to tip: the way round one of them leaves the triangles of the other out."""
    points = [[0, 0, 0], [1, 0, 1], [0, 1, 1], [-1, -1, 1], [1, 0, -1], [0, 1, -1], [-1, -1, -1]]
    faces = [[0, 2, 1], [0, 3, 2], [0, 1, 3], [1, 2, 3], [0, 4, 5], [0, 5, 6], [0, 6, 4], [4, 6, 5]]
    mesh = Mesh(np.array(points), np.array(faces))
    mate, faults = mates(mesh.faces, 7)
    found = corner_normals(mesh.vertices, mesh.faces, mate, flat=np.zeros(8, dtype=np.int64))
    assert faults == 0
    np.testing.assert_array_equal(found[0], 0.0)
    np.testing.assert_allclose(np.linalg.norm(found[1:], axis=1), 1.0)


@pytest.mark.parametrize("count", [1, 7, 8, 9, 16, 17, 127, 128, 129, 1000, 2048, 2049, 5000])
def test_leaves_hold_what_the_twin_puts_into_them(count):
    centres = np.random.default_rng(count).normal(size=(count, 3)) * (3, 2, 1)
    found, twin = tree_order(centres), reference.tree_order(centres)
    np.testing.assert_array_equal(np.sort(found), np.arange(count))
    for start in range(0, count, WIDTH):
        assert set(found[start : start + WIDTH].tolist()) == set(twin[start : start + WIDTH].tolist())


@pytest.mark.parametrize("places", [1, 2, 3])
def test_many_triangles_in_one_place_still_make_a_tree(places):
    """Equal centres give nothing to halve by; the order must still be a permutation, and come to an end."""
    centres = np.repeat(np.eye(3)[:places], 700, axis=0)
    np.testing.assert_array_equal(np.sort(tree_order(centres)), np.arange(len(centres)))


def test_faces_begin_with_their_longest_side(mesh):
    mate, _ = mates(mesh.faces, len(mesh.vertices))
    turned, other = longest_first(mesh.vertices, mesh.faces, mate)
    np.testing.assert_array_equal(turned, reference.longest_first(mesh.vertices, mesh.faces))
    np.testing.assert_array_equal(other.reshape(-1), reference.mates(turned))


def test_frames_are_those_of_the_twin_and_the_last_leaf_is_filled_up(mesh):
    mate, _ = mates(mesh.faces, len(mesh.vertices))
    faces, _ = longest_first(mesh.vertices, mesh.faces, mate)
    order = np.random.default_rng(1).permutation(len(faces))
    frames, boxes, sums, flat = leaf_frames(mesh.vertices, faces, order)
    rows = frames.transpose(0, 2, 1).reshape(-1, 14)
    np.testing.assert_allclose(rows[: len(faces)], reference.leaf_frames(mesh.vertices, faces[order]), atol=1e-9)
    np.testing.assert_array_equal(rows[len(faces) :], np.repeat(rows[len(faces) - 1][None], len(rows) - len(faces), axis=0))
    assert not flat.any()
    corners = mesh.vertices[faces[order]]
    for leaf, (box_found, total) in enumerate(zip(boxes, sums, strict=True)):
        held = corners[leaf * WIDTH : (leaf + 1) * WIDTH]
        area = np.cross(held[:, 1] - held[:, 0], held[:, 2] - held[:, 0]) / 2
        np.testing.assert_array_equal(box_found, np.concatenate((held.min(axis=(0, 1)), held.max(axis=(0, 1)))))
        np.testing.assert_allclose(total[4:], area.sum(axis=0), atol=1e-12)
        size = np.linalg.norm(area, axis=1)
        np.testing.assert_allclose(total[:4], [size.sum(), *(size @ held.mean(axis=1))], atol=1e-12)


@pytest.mark.parametrize(("third", "expected"), [((0.5, 1e-3, 0), 0), ((0.5, 1e-12, 0), 1), ((0.5, 0, 0), 1), ((0, 0, 0), 1)])
def test_a_triangle_without_height_is_flat(third, expected):
    points = np.array([(0, 0, 0), (1, 0, 0), third], dtype=float)
    frames, _, _, flat = leaf_frames(points, np.array([[0, 1, 2]]), np.array([0]))
    assert flat.tolist() == [expected]
    assert np.isfinite(frames).all()


@pytest.mark.parametrize("height", [1.0, 1e-3, 1e-6, 1e-9, 1e-12, 1e-15, 0.0])
def test_the_axes_of_a_sliver_are_square_and_of_length_one(height):
    """Rounding leaves a sliver's third corner aslant; distances would be wrong by as much."""
    turn = np.linalg.qr(np.random.default_rng(4).normal(size=(3, 3)))[0]
    points = np.array([(0, 0, 0), (3, 0, 0), (1.1, height, 0)]) @ turn + (7.0, -5.0, 3.0)
    frame = leaf_frames(points, np.array([[0, 1, 2]]), np.array([0]))[0][0, :, 0]
    axes = frame[3:9].reshape(2, 3)
    np.testing.assert_allclose(axes @ axes.T, np.eye(2), atol=1e-14)
    np.testing.assert_allclose(frame[:3] + frame[10:12] @ axes, points[2], atol=1e-14)


@pytest.mark.parametrize("name", SHAPES)
def test_winding_numbers_with_dipoles_are_near_those_without(name):
    """FAR says: an error of a few hundredths at most, where a half decides."""
    mesh = SHAPES[name].make(fineness=Fineness(chord_mm=0.05, longest_mm=2.0))
    trees = planted([mesh], np.zeros(3))
    low, high = mesh.bounds
    stack = np.empty(STACK, dtype=np.int64)
    for point in np.random.default_rng(9).uniform(low - 1, high + 1, (40, 3)):
        found = winding(trees, (*point.tolist(), int(trees.roots[0])), stack)
        assert found == pytest.approx(reference.winding(mesh.corners, point), abs=0.05)


def test_distances_are_those_of_the_twin(mesh):
    low, high = mesh.bounds
    points = np.random.default_rng(2).uniform(low - 2, high + 2, (60, 3))
    found = SignedDistance(mesh)(points)
    np.testing.assert_allclose(found, [reference.signed_distance(mesh.corners, p) for p in points], atol=1e-12)


@pytest.mark.parametrize("step", [1, 64, 65, 129])
def test_what_was_asked_before_changes_no_answer(step):
    """Places, bounds and first guesses are carried from point to point, and the shells from block to block."""
    solids = [stud_with_wire(), box((1, 1, 1), (4, 2, 3)), box((9, 9, 9), (10, 10, 10)), box((3.9, 1, 1), (6, 2, 3))]
    trees = planted(solids, np.zeros(3))
    points = np.random.default_rng(8).uniform(-4, 11, (260, 3))

    def asked(some):
        out = np.full(len(some), np.nan), np.full(len(some), -1)
        signed_distances(trees, np.ascontiguousarray(some), out)
        return out

    whole = asked(points)
    for start in range(0, len(points), step):
        part = asked(points[start : start + step])
        np.testing.assert_allclose(part[0], whole[0][start : start + step], atol=1e-12)
        np.testing.assert_array_equal(part[1], whole[1][start : start + step])


def test_boxes_of_a_node_hold_all_that_is_under_them():
    mesh = plain_band()
    trees = planted([mesh], np.zeros(3))
    held = {}

    def hull(child):
        if child < 0:
            frame = trees.frames[-1 - child]
            a = frame[0:3]
            b = a + frame[9] * frame[3:6]
            c = a + frame[10] * frame[3:6] + frame[11] * frame[6:9]
            every = np.concatenate((a, b, c), axis=1)
            return every.min(axis=1), every.max(axis=1)
        for j in range(FAN):
            if trees.boxes[child, 0, j] == inf:
                continue
            first = trees.first[child]
            low, high = hull(first + j if first >= 0 else first - j)
            np.testing.assert_allclose(trees.boxes[child, :3, j], low, atol=1e-12)
            np.testing.assert_allclose(trees.boxes[child, 3:, j], high, atol=1e-12)
        held[child] = True
        return trees.boxes[child, :3].min(axis=1), trees.boxes[child, 3:].max(axis=1)

    low, high = hull(int(trees.roots[0]))
    np.testing.assert_allclose((low, high), mesh.bounds)
    assert len(held) == len(trees.boxes), "every node hangs on the root"
