"""Solids: what makes a mesh one, what is wrong with it if not, and the union of several."""

import numpy as np
import pytest

from pourwell.geometry.mending import hull, mended
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import plain_band
from pourwell.geometry.solidity import (
    NotSolidError,
    bodies,
    edges_of,
    faults,
    from_manifold,
    inside_out,
    repeats,
    to_manifold,
    turned_out,
    unite,
    weld,
)
from tests.unit.files.pattern_files import cube, joined, loose


def without(mesh, *faces):
    return Mesh(mesh.vertices, np.delete(mesh.faces, faces, axis=0))


def flipped(mesh, *faces):
    changed = mesh.faces.copy()
    changed[list(faces)] = changed[list(faces), ::-1]
    return Mesh(mesh.vertices, changed)


# --- welding ---


def test_equal_corners_are_welded():
    welded = weld(loose(cube()))
    assert len(welded.vertices) == 8
    assert len(welded.faces) == 12
    assert welded.volume_mm3 == pytest.approx(64)


def test_minus_zero_is_zero():
    mesh = loose(cube())
    points = np.where((mesh.vertices == 0) & (np.arange(36)[:, None] % 2 == 0), -0.0, mesh.vertices)
    assert len(weld(Mesh(points, mesh.faces)).vertices) == 8


def test_corners_apart_by_rounding_are_welded_where_that_closes_the_mesh():
    mesh = loose(cube(20))
    noise = np.random.default_rng(1).uniform(-2e-5, 2e-5, mesh.vertices.shape)
    assert faults(Mesh(mesh.vertices + noise, mesh.faces)).sound


def test_corners_apart_by_more_than_rounding_stay_apart():
    mesh = loose(cube(20))
    noise = np.random.default_rng(1).uniform(-0.01, 0.01, mesh.vertices.shape)
    assert faults(Mesh(mesh.vertices + noise, mesh.faces)).open_edge_count == 36


def test_a_closed_mesh_with_small_detail_is_not_welded_into_a_lump():
    tiny = joined(cube(20), cube(1e-5, (30, 0, 0)))
    assert [len(body.vertices) for body in bodies(tiny)] == [8, 8]


def test_exact_welding_only_where_the_tolerance_is_nought():
    mesh = loose(cube(20))
    noise = np.random.default_rng(1).uniform(-2e-5, 2e-5, mesh.vertices.shape)
    assert len(weld(Mesh(mesh.vertices + noise, mesh.faces), tolerance_mm=0).vertices) == 36


def test_an_empty_mesh_stays_empty():
    empty = Mesh(np.zeros((0, 3)), np.zeros((0, 3)))
    assert not len(weld(empty).faces)
    assert bodies(empty) == ()
    assert not faults(empty).sound


# --- faults ---


def test_a_cube_is_sound():
    told = faults(loose(cube()))
    assert told.sound
    assert told.triangle_count == 12
    assert told.at_mm is None


def test_a_missing_triangle_leaves_three_open_edges():
    told = faults(without(cube(), 0))
    assert not told.sound
    assert told.open_edge_count == 3
    assert told.inconsistent_edge_count == told.nonmanifold_edge_count == 0
    assert told.at_mm is not None


def test_a_turned_triangle_makes_three_inconsistent_edges():
    told = faults(flipped(cube(), 5))
    assert not told.sound
    assert told.inconsistent_edge_count == 3
    assert told.open_edge_count == 0


def test_an_inner_wall_makes_edges_of_three_triangles():
    box = cube()
    wall = Mesh(box.vertices, [*box.faces.tolist(), [0, 1, 7]])
    told = faults(wall)
    assert not told.sound
    assert told.nonmanifold_edge_count >= 1


def test_a_triangle_without_area_is_counted_and_does_no_harm():
    box = cube(4)
    a, b, c = box.faces[0]
    middle = (box.vertices[a] + box.vertices[b]) / 2
    points, n = np.vstack((box.vertices, middle)), len(box.vertices)
    (d,) = set(box.faces[np.any(box.faces == a, axis=1) & np.any(box.faces == b, axis=1)][1]) - {a, b}
    rest = [f for f in box.faces.tolist() if not {a, b} <= set(f)]
    cut = [[a, n, c], [n, b, c], [b, a, d], [a, b, n]]  # the other side is not cut: a sliver closes the seam
    told = faults(Mesh(points, rest + cut))
    assert told.degenerate_count == 1
    assert told.sound


def test_corners_that_are_no_numbers_are_counted():
    points = cube().vertices.copy()
    points[2] = np.nan
    told = faults(Mesh(points, cube().faces))
    assert told.not_finite_count == 1
    assert not told.sound


# --- bodies ---


def test_bodies_that_lie_apart_are_told_apart_in_order():
    found = bodies(loose(joined(cube(4), cube(2, (9, 0, 0)), cube(1, (20, 0, 0)))))
    assert [body.volume_mm3 for body in found] == pytest.approx([64, 8, 1])


@pytest.mark.parametrize("at", [(4, 4, 0), (4, 0, 0), (4, 4, 4), (0, 0, 4), (-4, 0, 4)], ids=str)
def test_bodies_that_touch_along_an_edge_a_face_or_at_a_corner_are_told_apart(at):
    found = bodies(loose(joined(cube(4), cube(4, at))))
    assert [body.volume_mm3 for body in found] == pytest.approx([64, 64])
    assert all(faults(body).sound for body in found)


def test_four_cubes_about_one_edge_are_four_bodies():
    found = bodies(joined(*(cube(4, (x, y, 0)) for x in (0, 4) for y in (0, 4))))
    assert [body.volume_mm3 for body in found] == pytest.approx([64] * 4)


def test_a_body_with_an_inner_wall_stays_one_unsound_body():
    box = cube()
    found = bodies(Mesh(box.vertices, [*box.faces.tolist(), [0, 1, 7]]))
    assert len(found) == 1
    assert not faults(found[0]).sound


# --- the engine ---


def test_a_mesh_goes_through_the_engine_and_back():
    band = plain_band()
    there = from_manifold(to_manifold(weld(band)))
    assert there.volume_mm3 == pytest.approx(band.volume_mm3)
    assert faults(there).sound


@pytest.mark.parametrize("broken", [without(cube(), 3), flipped(cube(), 3)])
def test_the_engine_refuses_what_is_no_solid(broken):
    with pytest.raises(NotSolidError, match="closed solid"):
        to_manifold(broken)


def test_the_engine_refuses_nothing_at_all():
    with pytest.raises(NotSolidError):
        to_manifold(Mesh(np.zeros((0, 3)), np.zeros((0, 3))))


# --- union ---


def test_two_cubes_overlapping_by_half_are_96_and_not_128():
    solid, overlap = unite([cube(4), cube(4, (2, 0, 0))])
    assert solid.volume_mm3 == pytest.approx(96)
    assert overlap == pytest.approx(32)
    assert faults(solid).sound


def test_bodies_that_only_touch_overlap_by_nothing():
    solid, overlap = unite([cube(4), cube(4, (4, 0, 0))])
    assert solid.volume_mm3 == pytest.approx(128)
    assert overlap == pytest.approx(0, abs=1e-9)


def test_a_body_within_another_is_swallowed():
    solid, overlap = unite([cube(4), cube(2, (1, 1, 1))])
    assert solid.volume_mm3 == pytest.approx(64)
    assert overlap == pytest.approx(8)


def test_a_shell_wound_inward_within_a_body_is_a_void():
    solid, overlap = unite([cube(10), inside_out(cube(4, (3, 3, 3)))])
    assert solid.volume_mm3 == pytest.approx(1000 - 64)
    assert overlap == pytest.approx(0, abs=1e-9)


def test_a_ball_in_a_hollow_is_kept():
    solid, _ = unite([cube(10), inside_out(cube(6, (2, 2, 2))), cube(2, (4, 4, 4))])
    assert solid.volume_mm3 == pytest.approx(1000 - 216 + 8)


def test_a_shell_wound_inward_in_no_body_is_inside_out():
    solid, _ = unite([inside_out(cube(4))])
    assert solid.volume_mm3 == pytest.approx(64)
    both, turned = turned_out([cube(4), inside_out(cube(2, (9, 0, 0)))])
    assert turned == (1,)
    assert [body.volume_mm3 for body in both] == pytest.approx([64, 8])


def test_a_void_is_not_turned():
    _, turned = turned_out([cube(10), inside_out(cube(4, (3, 3, 3)))])
    assert turned == ()


def test_a_single_body_comes_back_as_it_is():
    solid, overlap = unite([cube(4)])
    assert len(solid.faces) == 12
    assert overlap == 0


@pytest.mark.parametrize("others", [[], [cube(4)]])
def test_an_open_body_is_not_united(others):
    with pytest.raises(NotSolidError):
        unite([without(cube(4), 0), *others])


def test_copies_in_the_same_place_are_found():
    assert repeats([cube(4), cube(4, (1, 0, 0)), loose(cube(4)), cube(4), cube(3)]) == (3,)
    assert repeats([weld(loose(cube(4))), cube(4)]) == (1,)
    assert repeats([]) == ()


def test_a_mirrored_body_of_the_same_size_is_no_copy():
    band = plain_band()
    wedge = Mesh(np.vstack((cube(4).vertices, [[8, 0, 0]])), cube(4).faces)
    assert repeats([band, Mesh(band.vertices + np.array([0.5, 0, 0]), band.faces), wedge]) == ()


# --- mending ---


def test_a_hole_is_closed():
    solid = mended(without(cube(4), 0))
    assert solid is not None
    assert solid.volume_mm3 == pytest.approx(64)


def test_a_whole_missing_side_is_closed_flat():
    box = cube(4)
    side = np.flatnonzero(np.isclose(box.normals[:, 2], 1))
    solid = mended(without(box, *side))
    assert solid is not None
    assert solid.volume_mm3 == pytest.approx(64)


@pytest.mark.parametrize("turned", [[3], [0, 1, 5], list(range(1, 12))])
def test_turned_triangles_are_turned_back(turned):
    solid = mended(flipped(cube(4), *turned))
    assert solid is not None
    assert solid.volume_mm3 == pytest.approx(64)
    assert edges_of(weld(solid)).regular.all()


def test_several_broken_bodies_are_mended_and_united():
    solid = mended(joined(without(cube(4), 0), flipped(cube(4, (2, 0, 0)), 3)))
    assert solid is not None
    assert solid.volume_mm3 == pytest.approx(96)


def test_loose_triangles_cannot_be_mended():
    rng = np.random.default_rng(2)
    assert mended(Mesh(rng.uniform(0, 9, (30, 3)), np.arange(30).reshape(-1, 3))) is None


def test_the_hull_stands_in_for_anything():
    solid = hull(joined(cube(1), cube(1, (3, 3, 3))))
    assert solid is not None
    assert faults(solid).sound
    assert solid.volume_mm3 == pytest.approx(1 + 3 * 3)  # the cube swept along its diagonal: a^3 + 3 a^2 d


def test_what_lies_flat_has_no_hull():
    assert hull(Mesh(cube().vertices * [1, 1, 0], cube().faces)) is None
