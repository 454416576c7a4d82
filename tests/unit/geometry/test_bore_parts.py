"""The parts of finding and moving a bore by themselves: finer meshes, edges about an axis, seeds, openings all round."""

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.geometry.bore import Cylinder
from pourwell.geometry.bore_grow import Edges, around, grown
from pourwell.geometry.bore_offset import scaled_about, wall_behind, with_bore_moved
from pourwell.geometry.bore_seeds import GAPS_COUNT, SAME_AXIS, Line, axes_of, axis_of, frame_of, gaps, looking_over, thinned
from pourwell.geometry.bore_shape import across, bore_shape, unroll
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.refine import refined
from pourwell.geometry.solidity import edges_of, faults, from_manifold
from tests.unit.files.pattern_files import cube, joined

SEEDS = st.integers(0, 10_000)
UNITS = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: np.linalg.norm(v) > 0.1).map(lambda v: np.array(v) / np.linalg.norm(v))


def tube(inner: float = 8.6, outer: float = 10.4, *, height: float = 4.0, sides: int = 96) -> manifold3d.Manifold:
    hole = manifold3d.Manifold.cylinder(height + 2, inner, inner, sides, True)
    return manifold3d.Manifold.cylinder(height, outer, outer, 96, True) - hole


def upright(diameter_mm: float = 17.2) -> Cylinder:
    return Cylinder(centre=(0, 0, 0), axis=(0, 0, 1), diameter_mm=diameter_mm)


# --- finer meshes ---


@settings(max_examples=15)
@given(SEEDS, st.floats(0.3, 3.0))
def test_a_finer_mesh_has_short_edges_and_the_same_surface(seed, longest_mm):
    """The hull of some points: a closed body with long and short edges."""
    rng = np.random.default_rng(seed)
    body = from_manifold(manifold3d.Manifold.hull_points(rng.uniform(0, 4, (14, 3))))
    fine = refined(body, lambda a, b: np.linalg.norm(a - b, axis=1) > longest_mm)
    sides = fine.vertices[edges_of(fine).ends]
    assert np.linalg.norm(sides[:, 0] - sides[:, 1], axis=1).max() <= longest_mm
    assert faults(fine).sound
    assert fine.area_mm2 == pytest.approx(body.area_mm2)
    assert fine.volume_mm3 == pytest.approx(body.volume_mm3)
    assert (fine.vertices[: len(body.vertices)] == body.vertices).all(), "what was there keeps its number"


@pytest.mark.parametrize("cut", [{0}, {0, 1}, {0, 1, 2}], ids=["one", "two", "three"])
def test_a_triangle_falls_into_one_part_more_than_edges_that_are_divided(cut):
    """The edges of a triangle are told by their length: 3, 4 and 5."""
    lengths = (3.0, 4.0, 5.0)
    wanted = [lengths[k] for k in cut]
    flat = Mesh([[0, 0, 0], [3, 0, 0], [3, 4, 0]], [[0, 1, 2]])
    for start in range(3):
        turned = Mesh(flat.vertices, np.roll(flat.faces, start, axis=1))
        fine = refined(turned, lambda a, b: np.isclose(np.linalg.norm(a - b, axis=1)[:, None], wanted).any(axis=1))
        assert len(fine.faces) == len(cut) + 1
        assert fine.area_mm2 == pytest.approx(6)
        assert (fine.area_vectors[:, 2] > 0).all(), "every part faces as the whole did"


def test_a_mesh_with_nothing_too_long_comes_back_as_it_is():
    box = cube(4)
    assert refined(box, lambda a, b: np.zeros(len(a), dtype=bool)) is box


# --- edges about an axis ---


@settings(max_examples=25)
@given(SEEDS, UNITS)
def test_the_nearest_point_of_an_edge_is_the_nearest_of_many_on_it(seed, axis):
    rng = np.random.default_rng(seed)
    start, end = rng.uniform(-9, 9, (2, 40, 3))
    line = Line(rng.uniform(-2, 2, 3), axis, 1.0)
    radius, flat, height = around(line, (start, end))
    share = np.linspace(0, 1, 2001)[:, None, None]
    points = start + (end - start) * share - line.centre
    along = points @ axis
    away = np.linalg.norm(points - along[..., None] * axis, axis=2)
    assert radius == pytest.approx(away.min(axis=0), abs=0.01)
    assert (radius <= away.min(axis=0) + 1e-9).all()
    assert np.hypot(*flat.T) == pytest.approx(radius)
    assert (np.abs(height) <= np.abs(along).max(axis=0) + 1e-9).all()


def test_an_edge_along_the_axis_has_one_distance():
    line = Line(np.zeros(3), np.array([0.0, 0.0, 1.0]), 1.0)
    radius, _, _ = around(line, (np.array([[3.0, 4.0, -9.0]]), np.array([[3.0, 4.0, 9.0]])))
    assert radius == pytest.approx([5])


def test_the_edges_near_an_axis_are_all_that_come_so_near():
    mesh = from_manifold(tube())
    line = Line(np.array([0.3, -0.2, 0.0]), np.array([0.0, 0.0, 1.0]), 8.0)
    every = mesh.vertices[mesh.faces.reshape(-1)], mesh.vertices[np.roll(mesh.faces, -1, axis=1).reshape(-1)]
    distance = around(line, every)[0]
    for within in (8.3, 8.7, 12.0):
        assert len(Edges(mesh).near(line, within)[0]) == (distance <= within).sum()
    held = around(line, Edges(mesh).holding(line, 1.0))[0]
    assert held.min() == pytest.approx(distance.min()), "the nearest of all is among those that hold"


@pytest.mark.parametrize("sides", [5, 6, 9])
@pytest.mark.parametrize("tilt", [0.0, 0.03])
def test_a_cylinder_grown_from_a_poor_guess_touches_every_flat(sides, tilt):
    mesh = from_manifold(tube(sides=sides))
    seed = Line(np.array([0.4, -0.3, 0.2]), np.array([tilt, 0, np.sqrt(1 - tilt**2)]), 6.0)
    found = grown(seed, Edges(mesh))
    assert found.radius == pytest.approx(8.6 * np.cos(np.pi / sides), rel=2e-3)
    assert abs(found.axis[2]) > 1 - 1e-3


# --- seeds ---


@given(UNITS)
def test_the_frame_across_an_axis_is_square_and_turns_with_it(axis):
    u, v = frame_of(axis)
    assert np.array([u, v, axis]) @ np.array([u, v, axis]).T == pytest.approx(np.eye(3), abs=1e-9)
    assert np.linalg.det([u, v, axis]) == pytest.approx(1)
    ways = across(axis)
    assert ways.mean(axis=0) == pytest.approx(np.zeros(3), abs=1e-9)
    assert ways[:-1] @ axis == pytest.approx(0, abs=1e-9)
    steps = np.einsum("ij,ij->i", ways, np.roll(ways, -1, axis=0))
    assert np.ptp(steps) < 1e-9, "even steps"


def test_axes_to_try_hold_each_direction_once():
    mesh = from_manifold(tube().rotate((20, 30, 40)))
    tried = np.array([0.0, 0.0, 1.0])
    axes = axes_of(mesh, tried)
    assert all(abs(axis @ tried) < SAME_AXIS for axis in axes)
    for k, one in enumerate(axes):
        assert all(abs(one @ other) < SAME_AXIS for other in axes[:k])
    assert len(axes_of(cube(4), None)) >= 3


def test_points_are_thinned_to_one_a_cell_and_all_are_of_the_first():
    rng = np.random.default_rng(4)
    points = rng.uniform(0, 20, (5000, 3))
    few = thinned(cube(20), points)
    cells = np.floor(few / 0.5).astype(int)
    assert len(np.unique(cells, axis=0)) == len(few)
    assert len(np.unique(np.floor(points / 0.5).astype(int), axis=0)) == len(few)
    assert {tuple(p) for p in few.tolist()} <= {tuple(p) for p in points.tolist()}


@pytest.mark.parametrize("radius", [3.0, 6.0, 8.6])
def test_the_widest_gap_between_points_seen_along_an_axis_is_the_hole(radius):
    turn = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    rings = [
        np.stack((r * np.cos(turn) + 1, r * np.sin(turn) - 2, np.full(200, z)), axis=1)
        for r in np.arange(radius, 10.5, 0.4)
        for z in (0.0, 3.0)
    ]
    found = list(gaps(np.vstack(rings), np.array([0.0, 0.0, 1.0])))
    assert 1 <= len(found) <= GAPS_COUNT
    assert found[0].radius == pytest.approx(radius, rel=0.06)
    assert found[0].centre[:2] == pytest.approx([1, -2], abs=0.3)


def test_points_in_a_line_or_too_few_leave_no_gap():
    line = np.stack((np.arange(50.0), np.zeros(50), np.zeros(50)), axis=1)
    assert list(gaps(line, np.array([0.0, 0.0, 1.0]))) == []
    assert list(gaps(line[:2], np.array([0.0, 0.0, 1.0]))) == []


def test_the_faces_that_look_at_each_other_tell_the_axis_and_a_solid_has_none():
    mesh = from_manifold(tube().rotate((90, 0, 0)))
    rays = Caster(mesh)
    surface = mesh.centres, np.arange(len(mesh.faces)), mesh.areas
    axis = axis_of(looking_over(mesh, rays, surface))
    assert axis is not None
    assert abs(axis[1]) == pytest.approx(1, abs=1e-6)
    box = cube(4)
    assert looking_over(box, Caster(box), (box.centres, np.arange(12), box.areas)) is None
    assert axis_of(None) is None


# --- what is seen from the axis ---


@pytest.mark.parametrize("turn", [0, 1, 44, 90, 179, 225, 359])
def test_an_opening_is_pointed_at_wherever_the_look_round_begins(turn):
    slot = manifold3d.Manifold.cube((20, 3, 10)).translate((0, -1.5, -5)).rotate((0, 0, turn))
    shape = bore_shape(Caster(from_manifold(tube() - slot)), upright())
    assert shape is not None
    way = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn)), 0])
    assert np.array(shape.open_along) == pytest.approx(way, abs=0.03)
    assert 15 <= shape.open_deg <= 21


def test_a_look_round_sees_the_edges_and_the_wall_of_a_tube():
    mesh = from_manifold(tube(height=5.0))
    seen = unroll(Caster(mesh), upright())
    assert seen.low == pytest.approx(-2.5)
    assert seen.high == pytest.approx(2.5)
    assert seen.near.all()
    assert seen.closed.all()
    assert seen.free == pytest.approx(8.6, abs=8.6 * (1 - np.cos(np.pi / 96)) + 1e-6)


def test_an_oval_tells_its_longest_and_shortest_way_across():
    oval = manifold3d.Manifold.cylinder(4, 11, 11, 96, True) - manifold3d.Manifold.cylinder(6, 8, 8, 240, True).scale((1.05, 1, 1))
    shape = bore_shape(Caster(from_manifold(oval)), upright(16))
    assert shape.widest_mm == pytest.approx(16.8, abs=0.01)
    assert shape.out_of_round_mm == pytest.approx(0.8, abs=0.01)
    assert abs(shape.widest_along[0]) == pytest.approx(1, abs=1e-2)
    assert abs(shape.narrowest_along[1]) == pytest.approx(1, abs=1e-2)
    girth = np.pi * (3 * (8.4 + 8) - np.sqrt((3 * 8.4 + 8) * (8.4 + 3 * 8)))  # Ramanujan 1914
    assert shape.mean_mm == pytest.approx(girth / np.pi, rel=1e-3)


# --- moved ---


def test_where_nothing_stands_behind_a_bore_there_is_no_wall():
    mesh = from_manifold(tube())
    away = Cylinder(centre=(0, 0, 60), axis=(1, 0, 0), diameter_mm=17.2)
    assert wall_behind(Caster(mesh), away) == float("inf")


def test_a_move_there_and_back_leaves_the_bore_as_it_was():
    mesh = from_manifold(tube())
    wider = with_bore_moved(mesh, upright(), by_mm=0.2, wall_mm=1.8)
    back = with_bore_moved(wider, upright(17.6), by_mm=-0.2, wall_mm=1.6)
    inner = np.hypot(back.vertices[:, 0], back.vertices[:, 1])
    assert inner.min() == pytest.approx(8.6 * np.cos(np.pi / 96), abs=0.01)
    assert back.volume_mm3 == pytest.approx(mesh.volume_mm3, rel=2e-3)


def test_what_stands_beside_the_ring_does_not_move():
    """A second body farther out than the wall, as a charm that hangs there."""
    both = joined(from_manifold(tube()), cube(2, (14, 0, 0)))
    moved = with_bore_moved(both, upright(), by_mm=0.3, wall_mm=1.8)
    there = both.vertices[:, 0] >= 14
    assert (moved.vertices[: len(both.vertices)][there] == both.vertices[there]).all()


@settings(max_examples=15)
@given(st.tuples(*[st.floats(-20, 20)] * 3), st.floats(0.5, 2))
def test_scaling_about_a_point_and_back_is_nothing(centre, factor):
    box = cube(4)
    large = scaled_about(box, centre, factor)
    assert large.volume_mm3 == pytest.approx(64 * factor**3)
    assert scaled_about(large, centre, 1 / factor).vertices == pytest.approx(box.vertices, abs=1e-9)
    assert scaled_about(Mesh([centre] * 3, [[0, 1, 2]]), centre, factor).vertices == pytest.approx(np.array([centre] * 3))
