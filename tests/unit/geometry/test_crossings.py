"""Which side a point lies on and which triangles cross: the compiled loops against their readable twins, in whole numbers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from pourwell.geometry.crossing import crossing_lines, crossings, doubled_mm3
from pourwell.geometry.kernels import reference_crossings as reference
from pourwell.geometry.kernels.crossings import crossing_pairs
from pourwell.geometry.kernels.signs import side_of
from pourwell.geometry.kernels.tree import tree_order
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import weld
from pourwell.geometry.soup import Soup
from tests.unit.files.pattern_files import cube, joined

CORNERS = st.lists(st.tuples(*[st.integers(-4, 4)] * 3), min_size=4, max_size=4)


def compiled_side(corners):
    a, b, c, d = (tuple(float(x) for x in corner) for corner in corners)
    return side_of(a, b, (c, d))


def compiled_pairs(mesh):
    pairs = crossing_pairs(mesh.vertices, mesh.faces, (tree_order(mesh.centres), 10_000))[0]
    return {(int(f), int(g)) for f, g in pairs}


def twin_pairs(mesh):
    return {(int(f), int(g)) for f, g in reference.crossing_pairs(mesh.vertices, mesh.faces)}


@given(CORNERS)
def test_a_side_on_a_lattice_is_the_same_in_whole_numbers(corners):
    """On a lattice many four corners lie in a plane exactly."""
    assert compiled_side(corners) == reference.side_of(np.array(corners, dtype=float))


@given(CORNERS, st.integers(0, 1000), st.floats(1e-3, 1e3))
def test_a_side_near_a_plane_is_the_same_in_whole_numbers(corners, seed, scale):
    """Turned and moved, what lay in a plane lies on one side of it by rounding: the sign of that must be right too."""
    turn = Rotation.random(rng=np.random.default_rng(seed)).as_matrix()
    moved = np.array(corners, dtype=float) @ turn.T * scale + 7.3
    assert compiled_side(moved.tolist()) == reference.side_of(moved)


def test_a_side_is_right_where_plain_sums_lose_it():
    """The point lies 2^-52 off the plane x = y, whose corners are a million times farther out."""
    big = 2.0**20
    near = [(0.0, 0.0, 0.0), (big, big, 0.0), (0.0, 0.0, big), (1.0, 1.0 + 2.0**-52, 0.5)]
    away = [*near[:3], (1.0, 1.0 - 2.0**-53, 0.5)]
    assert compiled_side(near) == -compiled_side(away) != 0
    assert compiled_side([*near[:3], (1.0, 1.0, 0.5)]) == 0


@settings(max_examples=20)
@given(st.integers(0, 10_000), st.integers(2, 6), st.booleans())
def test_crossing_pairs_are_those_of_the_readable_twin(seed, count, coarse):
    rng = np.random.default_rng(seed)
    points = rng.integers(-2, 3, (8, 3)).astype(float) if coarse else rng.normal(size=(12, 3))
    faces = np.array([rng.choice(len(points), 3, replace=False) for _ in range(count)])
    mesh = Mesh(points, faces)
    assert compiled_pairs(mesh) == twin_pairs(mesh)


def test_triangles_of_several_leaves_meet_one_another():
    rng = np.random.default_rng(3)
    at = rng.uniform(0, 3, (24, 1, 3))
    mesh = Mesh((at + rng.normal(size=(24, 3, 3))).reshape(-1, 3), np.arange(72).reshape(-1, 3))
    found = compiled_pairs(mesh)
    assert len(found) > 10
    assert found == twin_pairs(mesh)


@pytest.mark.parametrize("name", sorted(SHAPES))
def test_none_of_our_shapes_crosses_itself_wherever_it_lies(name):
    mesh = weld(SHAPES[name].make())
    turn = Rotation.random(rng=np.random.default_rng(5)).as_matrix()
    for turned in (mesh, Mesh(mesh.vertices @ turn.T + 3.1, mesh.faces), Mesh(mesh.vertices.astype(np.float32), mesh.faces)):
        assert not len(crossings(turned)), name


@pytest.mark.parametrize("at", [(4, 0, 0), (4, 4, 0), (4, 4, 4), (2, 2, 4), (4, 1, 1)], ids=str)
def test_touching_is_not_crossing(at):
    assert not len(crossings(joined(cube(4), cube(4, at))))
    turn = Rotation.random(rng=np.random.default_rng(7)).as_matrix()
    touching = joined(cube(4), cube(4, at))
    assert not len(crossings(Mesh(touching.vertices @ turn.T, touching.faces))), "rounding makes no crossing"


def test_two_cubes_through_each_other_cross_at_their_common_edges():
    met = crossings(joined(cube(4), cube(4, (1, 1.5, 2))))
    assert len(met)
    assert met.depth_mm.max() > 0.9
    low, high = met.at_mm.min(axis=0), met.at_mm.max(axis=0)
    assert low == pytest.approx([1, 1.5, 2], abs=0.6)
    assert high == pytest.approx([4, 4, 4], abs=0.6)


def test_a_mesh_of_one_triangle_or_none_crosses_nothing():
    assert not len(crossings(Mesh(np.eye(3), [[0, 1, 2]])))
    assert not len(crossings(Mesh(np.zeros((0, 3)), np.zeros((0, 3)))))


def test_crossing_counts_twice_what_the_rays_say():
    mesh = joined(cube(4), cube(4, (2, 0.3, 0.4)))
    assert len(crossings(mesh))
    assert doubled_mm3(mesh) == pytest.approx(2 * 3.7 * 3.6, rel=0.05)


@settings(max_examples=15)
@given(st.integers(0, 10_000), st.integers(1, 60))
def test_distance_and_winding_of_loose_triangles_are_those_of_the_readable_twin(seed, count):
    rng = np.random.default_rng(seed)
    mesh = Mesh(rng.normal(size=(3 * count, 3)), np.arange(3 * count).reshape(-1, 3))
    points = rng.normal(size=(20, 3)) * 2
    soup = Soup(mesh)
    assert soup.distances(points) == pytest.approx(reference.distances(mesh.corners, points), abs=1e-9)
    assert soup.windings(points) == pytest.approx(reference.windings(mesh.corners, points), abs=0.05), "dipoles far away"


def test_the_lines_of_a_crossing_are_as_long_as_the_two_bodies_share_skin():
    """Two cubes of 4, one moved by (2, 1, 1): each face that is cut shows its part of the outline of what they share.

    The skins cross along the edges of the common box 2 x 3 x 3 that lie on one skin of either: six edges, two each of 2, 3 and 3.
    """
    two = joined(cube(4), cube(4, (2, 1, 1)))
    lines = crossing_lines(two, crossings(two).pairs)
    length = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum()
    assert length == pytest.approx(16.0, rel=1e-6)
    low, high = lines.reshape(-1, 3).min(axis=0), lines.reshape(-1, 3).max(axis=0)
    assert low == pytest.approx((2, 1, 1))
    assert high == pytest.approx((4, 4, 4))


def test_what_crosses_nowhere_has_no_lines():
    assert crossing_lines(cube(4), crossings(cube(4)).pairs).shape == (0, 2, 3)
