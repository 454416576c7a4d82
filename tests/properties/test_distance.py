"""What holds of every signed distance: slope, motion, scale, mirror, union, and the order of things."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.errors import BadDataError
from pourwell.geometry.distance import SignedDistance
from pourwell.geometry.kernels import reference
from pourwell.geometry.mesh import Mesh
from tests.unit.geometry.distance_samples import beside, box, box_distance, icosphere, shaken, turned

seeds = st.integers(0, 2**32 - 1)
crumpled = st.builds(
    lambda halvings, by, seed: shaken(icosphere(2.0, halvings=halvings), by=by, seed=seed),
    st.integers(0, 2),
    st.sampled_from([0.0, 0.01, 0.05]),
    seeds,
)
"""Spheres of 8 to 128 triangles with their corners moved: convex and not, blunt and sharp."""


def places(seed, *, count=60, reach=4.0):
    return np.random.default_rng(seed).uniform(-reach, reach, (count, 3))


@given(mesh=crumpled, seed=seeds, step=st.sampled_from([1e-6, 1e-3, 0.1, 3.0]))
def test_the_distance_changes_no_more_than_the_point_moves(mesh, seed, step):
    """Lipschitz with constant one: an octree may skip a cell by the value at its middle."""
    rng = np.random.default_rng(seed)
    here = places(seed)
    there = here + step * rng.normal(size=here.shape)
    distance = SignedDistance([mesh, box((1, 1, 1), (3, 2, 2))])
    change = np.abs(distance(here) - distance(there))
    assert (change <= np.linalg.norm(here - there, axis=1) + 1e-12).all()


@given(mesh=crumpled, seed=seeds)
def test_moving_solid_and_points_together_changes_nothing(mesh, seed):
    rng = np.random.default_rng(seed)
    motion = np.column_stack((turned(rng), rng.uniform(-50, 50, 3)))
    points = places(seed)
    moved = SignedDistance(mesh.moved(motion))(points @ motion[:, :3].T + motion[:, 3])
    np.testing.assert_allclose(moved, SignedDistance(mesh)(points), atol=1e-11)


@given(mesh=crumpled, seed=seeds, factor=st.floats(1e-3, 1e3))
def test_distances_scale_with_the_solid(mesh, seed, factor):
    points = places(seed)
    np.testing.assert_allclose(
        SignedDistance(mesh.scaled(factor))(points * factor), factor * SignedDistance(mesh)(points), rtol=1e-9, atol=1e-11 * factor
    )


@given(mesh=crumpled, seed=seeds)
def test_a_mirrored_solid_has_mirrored_distances(mesh, seed):
    flip = np.array([1.0, -1.0, 1.0])
    mirrored = Mesh(mesh.vertices * flip, mesh.faces[:, ::-1])
    points = places(seed)
    np.testing.assert_allclose(SignedDistance(mirrored)(points * flip), SignedDistance(mesh)(points), atol=1e-12)


@given(mesh=crumpled, seed=seeds)
def test_the_order_of_triangles_corners_and_numbers_changes_nothing(mesh, seed):
    rng = np.random.default_rng(seed)
    number = rng.permutation(len(mesh.vertices))
    points = np.empty_like(mesh.vertices)
    points[number] = mesh.vertices
    faces = number[mesh.faces][rng.permutation(len(mesh.faces))]
    faces = np.take_along_axis(faces, (np.arange(3) + rng.integers(3, size=(len(faces), 1))) % 3, axis=1)
    asked = places(seed)
    np.testing.assert_allclose(SignedDistance(Mesh(points, faces))(asked), SignedDistance(mesh)(asked), atol=1e-12)


@given(mesh=crumpled, seed=seeds, near=st.booleans())
def test_brute_force_finds_the_same(mesh, seed, near):
    """Every triangle measured, the side by the winding number alone; near the surface and all about."""
    points = places(seed, count=20)
    if near:
        rng = np.random.default_rng(seed)
        points = mesh.vertices[rng.integers(len(mesh.vertices), size=20)] + 1e-3 * rng.normal(size=(20, 3))
    found = SignedDistance(mesh)(points)
    np.testing.assert_allclose(found, [reference.signed_distance(mesh.corners, p) for p in points], atol=1e-11)


@given(count=st.integers(1, 12), seed=seeds, together=st.booleans())
def test_the_union_is_the_least_of_its_bodies(count, seed, together):
    """Boxes at random, apart or one in another, given apart or as one mesh."""
    rng = np.random.default_rng(seed)
    lows = rng.uniform(-3, 3, (count, 3))
    highs = lows + rng.uniform(0.01, 3, (count, 3))
    solids = [box(low, high) for low, high in zip(lows, highs, strict=True)]
    points = places(seed, count=100)
    each = np.array([box_distance(points, low, high) for low, high in zip(lows, highs, strict=True)])
    distance, body = SignedDistance(beside(*solids) if together else solids).nearest(points)
    np.testing.assert_allclose(distance, each.min(axis=0), atol=1e-12)
    if together:
        assert not body.any()
    else:
        np.testing.assert_allclose(each[body, np.arange(len(points))], distance, atol=1e-12)


@given(seed=seeds, decimals=st.integers(0, 2))
def test_points_on_the_planes_edges_and_corners_of_a_box_are_exact(seed, decimals):
    """Rounded places hit faces, edges, diagonals and their continuations exactly, where ties and noughts are."""
    points = np.round(places(seed, reach=2.0), decimals)
    found = SignedDistance(box((-1, -1, -1), (1, 1, 1)))(points)
    np.testing.assert_allclose(found, box_distance(points, (-1, -1, -1), (1, 1, 1)), atol=1e-13)


@given(mesh=crumpled, seed=seeds)
def test_a_mesh_with_a_hole_is_refused_wherever_the_hole_is(mesh, seed):
    gone = np.random.default_rng(seed).integers(len(mesh.faces))
    with pytest.raises(BadDataError):
        SignedDistance(Mesh(mesh.vertices, np.delete(mesh.faces, gone, axis=0)))
