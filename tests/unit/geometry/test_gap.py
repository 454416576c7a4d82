"""Gaps between triangles: closed forms, a second engine, and boxes that mislead."""

from math import sqrt

import fcl
import manifold3d
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pourwell.geometry.gap import box_gap_mm, gap_mm, holds, nearest_point, triangle_gaps
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import SHAPES, about
from pourwell.geometry.solidity import from_manifold

M = manifold3d.Manifold
FAR = 1e3


def ball(radius_mm: float, segments: int = 128) -> Mesh:
    return from_manifold(M.sphere(radius_mm, segments))


def block(x: float, y: float, z: float) -> Mesh:
    return from_manifold(M.cube((x, y, z), True))


def torus(ring_mm: float, wire_mm: float, *, around: int = 160, across: int = 48) -> Mesh:
    turn = np.arange(across) * (2 * np.pi / across)
    profile = np.column_stack((ring_mm + wire_mm * np.cos(turn), wire_mm * np.sin(turn)))
    return from_manifold(M.revolve(manifold3d.CrossSection([profile]), around))


def moved(mesh: Mesh, shift, turn=None) -> Mesh:
    axes = np.eye(3) if turn is None else Rotation.from_euler("xyz", turn, degrees=True).as_matrix()
    return mesh.moved(np.column_stack((axes, shift)))


def second_opinion(a: Mesh, b: Mesh) -> float:
    """The gap by python-fcl; 0 where they cross."""
    objects = []
    for mesh in (a, b):
        model = fcl.BVHModel()
        model.beginModel(len(mesh.vertices), len(mesh.faces))
        model.addSubModel(np.array(mesh.vertices), np.array(mesh.faces))
        model.endModel()
        objects.append(fcl.CollisionObject(model, fcl.Transform()))
    return max(fcl.distance(*objects, fcl.DistanceRequest(), fcl.DistanceResult()), 0.0)


@pytest.mark.parametrize("away_mm", [8.01, 8.5, 11.0, 30.0])
def test_two_balls_are_apart_by_their_middles_less_their_radii(away_mm):
    gap = gap_mm(ball(3), moved(ball(5), (away_mm, 0, 0)), search_mm=FAR)
    assert gap == pytest.approx(away_mm - 8, abs=1e-9)


def test_two_rings_side_by_side_are_apart_by_their_middles():
    assert gap_mm(torus(10, 1), moved(torus(10, 1), (24, 0, 0)), search_mm=FAR) == pytest.approx(2, abs=1e-9)


def test_a_ring_over_a_ring_is_apart_by_its_height():
    assert gap_mm(torus(10, 1), moved(torus(10, 1), (0, 0, 3.5)), search_mm=FAR) == pytest.approx(1.5, abs=1e-9)


def test_linked_rings_overlap_in_their_boxes_and_not_in_their_metal():
    one, other = torus(10, 1), moved(torus(10, 1), (10, 0, 0), (90, 0, 0))
    assert box_gap_mm(one.bounds, other.bounds) == 0
    assert gap_mm(one, other, search_mm=FAR) == pytest.approx(8, abs=0.01)


def test_a_ball_in_a_bowl_overlaps_in_its_box_and_not_in_its_metal():
    bowl = from_manifold(M.sphere(10, 128) - M.sphere(8, 128) - M.cube((40, 40, 40), True).translate((0, 0, 20)))
    inner = ball(5)
    assert box_gap_mm(bowl.bounds, inner.bounds) == 0
    assert gap_mm(bowl, inner, search_mm=FAR) == pytest.approx(3, abs=0.01)


def test_boxes_can_be_nearer_than_the_metal_but_never_farther():
    one, other = torus(10, 1), moved(torus(10, 1), (16, 16, 0))
    boxes = box_gap_mm(one.bounds, other.bounds)
    assert boxes == 0
    assert gap_mm(one, other, search_mm=FAR) == pytest.approx(16 * sqrt(2) - 22, abs=0.02)


def test_boxes_a_millimetre_apart_are_under_a_limit_of_three_and_so_is_the_metal():
    one, other = block(4, 4, 4), moved(block(4, 4, 4), (5, 0, 0))
    assert box_gap_mm(one.bounds, other.bounds) == pytest.approx(1)
    assert gap_mm(one, other, search_mm=3) == pytest.approx(1)


def test_nothing_is_found_beyond_the_search():
    assert gap_mm(ball(3), moved(ball(3), (10, 0, 0)), search_mm=3.9) == float("inf")
    assert gap_mm(ball(3), moved(ball(3), (10, 0, 0)), search_mm=4.0) == pytest.approx(4)


def test_crossing_solids_have_no_gap():
    assert gap_mm(block(10, 1, 1), block(1, 10, 1), search_mm=FAR) == 0


def test_a_solid_within_another_has_no_gap():
    assert gap_mm(ball(5), ball(1), search_mm=FAR) == 0
    assert gap_mm(ball(1), ball(5), search_mm=FAR) == 0


def test_touching_solids_have_no_gap():
    assert gap_mm(block(2, 2, 2), moved(block(2, 2, 2), (2, 0, 0)), search_mm=FAR) == 0


def test_coarse_faces_are_measured_in_their_middle_not_at_their_corners():
    assert gap_mm(block(40, 40, 1), moved(ball(2), (3, 5, 4.5)), search_mm=FAR) == pytest.approx(2, abs=1e-9)


def test_parallel_edges_are_measured_along_their_length():
    turned = moved(block(2, 2, 20), (5, 0, 9), (0, 0, 45))
    assert gap_mm(block(2, 2, 20), turned, search_mm=FAR) == pytest.approx(4 - sqrt(2))


def test_an_empty_mesh_is_near_to_nothing():
    nothing = Mesh(np.zeros((0, 3)), np.zeros((0, 3)))
    assert gap_mm(nothing, ball(1), search_mm=FAR) == float("inf")


@pytest.mark.parametrize("name", SHAPES)
def test_a_second_engine_agrees_on_pieces_thrown_at_random(name):
    mesh = about(2000, SHAPES[name].make)
    rng = np.random.default_rng(7)
    for k in range(6):
        turn = Rotation.random(random_state=k).as_matrix()
        other = mesh.moved(np.column_stack((turn, rng.normal(size=3) * 14)))
        assert gap_mm(mesh, other, search_mm=FAR) == pytest.approx(second_opinion(mesh, other), abs=1e-6)


def test_the_mesh_engine_agrees_on_rings():
    one, other = M.cylinder(4, 10.4, 10.4, 96) - M.cylinder(9, 8.6, 8.6, 96), M.cylinder(4, 10.4, 10.4, 96).rotate((80, 10, 0))
    other = other.translate((18, 9, 3))
    assert gap_mm(from_manifold(one), from_manifold(other), search_mm=9) == pytest.approx(one.min_gap(other, 9), abs=1e-9)


def test_triangles_that_pierce_each_other_touch():
    flat = np.array([[[0, 0, 0], [4, 0, 0], [0, 4, 0]]], dtype=float)
    needle = np.array([[[1, 1, -1], [1, 1, 1], [1.1, 1, 1]]], dtype=float)
    assert triangle_gaps(flat, needle) == pytest.approx(0)
    assert triangle_gaps(needle, flat) == pytest.approx(0)


def test_a_corner_over_a_face_is_measured_down_to_it():
    flat = np.array([[[0, 0, 0], [4, 0, 0], [0, 4, 0]]], dtype=float)
    above = np.array([[[1, 1, 2], [3, 1, 5], [1, 3, 5]]], dtype=float)
    assert triangle_gaps(flat, above) == pytest.approx(2)


def test_a_triangle_without_area_counts_as_its_line():
    line = np.array([[[0, 0, 0], [4, 0, 0], [2, 0, 0]]], dtype=float)
    other = np.array([[[3, 0, 3], [9, 0, 3], [3, 9, 3]]], dtype=float)
    assert triangle_gaps(line, other) == pytest.approx(3)


def test_a_hollow_holds_no_point_of_its_void():
    shell = from_manifold(M.sphere(10, 48) - M.sphere(8, 48))
    assert not holds(shell, np.zeros(3))
    assert holds(shell, np.array([9.0, 0, 0]))
    assert not holds(shell, np.array([11.0, 0, 0]))


@pytest.mark.parametrize(
    ("given", "nearest"),
    [((5, 0.3, 0.2), (1, 0.3, 0.2)), ((3, 3, 0.5), (1, 1, 0.5)), ((2, 2, 2), (1, 1, 1)), ((0.9, 0.1, 0), (1, 0.1, 0))],
)
def test_the_nearest_point_of_a_cube_lies_on_a_face_an_edge_or_a_corner(given, nearest):
    cube = block(2, 2, 2)
    point, face = nearest_point(cube, np.array(given, dtype=float))
    assert point == pytest.approx(nearest)
    assert np.abs(cube.normals[face]).max() == pytest.approx(1)
