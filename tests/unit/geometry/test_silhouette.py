"""Outlines of solids against closed forms, and Cauchy's formula for a convex one."""

from math import pi, sqrt

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import plain_band, signet
from pourwell.geometry.silhouette import area_mm2, silhouette
from pourwell.geometry.solidity import NotSolidError, from_manifold

ALONG_Y = ((1.0, 0, 0), (0, 0, 1.0))
ACROSS = ((0, 1.0, 0), (0, 0, 1.0))


def test_a_ball_throws_a_round_shadow_from_everywhere():
    ball = from_manifold(manifold3d.Manifold.sphere(5.0, 128))
    for turn in Rotation.random(6, rng=np.random.default_rng(2)).as_matrix():
        (outline,) = silhouette(ball, turn[:2], simpler_by_mm=0.0)
        assert area_mm2(outline) == pytest.approx(25 * pi, rel=2e-3)
        assert np.linalg.norm(outline, axis=1) == pytest.approx(np.full(len(outline), 5.0), rel=2e-3)


def test_a_ring_along_its_bore_has_an_outline_and_a_hole():
    outline, hole = silhouette(plain_band(bore_mm=17.2, thickness_mm=1.8), ALONG_Y)
    assert area_mm2(outline) == pytest.approx(pi * 10.4**2, rel=0.01)
    assert area_mm2(hole) == pytest.approx(-pi * 8.6**2, rel=0.01)


def test_a_ring_across_its_bore_has_no_hole():
    (outline,) = silhouette(plain_band(bore_mm=17.2, thickness_mm=1.8, width_mm=4.0, edge_mm=0.0), ACROSS)
    assert area_mm2(outline) == pytest.approx(20.8 * 4.0)
    assert outline.min(axis=0) == pytest.approx([-2.0, -10.4])


def test_right_and_up_are_the_axes_given_and_nothing_is_mirrored():
    """A cuboid off the middle, seen from -y (right x, up z): its shadow lies where it lies."""
    block = from_manifold(manifold3d.Manifold.cube((1.0, 2.0, 3.0)).translate((10.0, 20.0, 30.0)))
    (outline,) = silhouette(block, ALONG_Y)
    assert outline.min(axis=0) == pytest.approx([10, 30])
    assert outline.max(axis=0) == pytest.approx([11, 33])
    assert area_mm2(outline) == pytest.approx(3.0)


@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=25, deadline=None)
def test_a_convex_solid_throws_half_the_sum_of_its_projected_faces(seed):
    """Cauchy 1841: the shadow of a convex solid along a direction is half the sum of |area . direction| over its faces."""
    rng = np.random.default_rng(seed)
    hull = ConvexHull(rng.normal(size=(40, 3)) * (3.0, 5.0, 2.0))
    solid = from_manifold(manifold3d.Manifold.hull_points(hull.points[hull.vertices]))
    turn = Rotation.random(rng=rng).as_matrix()
    (outline,) = silhouette(solid, turn[:2], simpler_by_mm=0.0)
    cauchy = np.abs(solid.area_vectors @ turn[2]).sum() / 2
    assert area_mm2(outline) == pytest.approx(cauchy, rel=1e-6)
    assert area_mm2(outline) == pytest.approx(ConvexHull(solid.vertices @ turn[:2].T).volume, rel=1e-6)


def test_the_mean_shadow_of_a_cube_is_a_quarter_of_its_surface():
    """Cauchy's surface formula for the mean over all directions: a cube of side 2 has the mean shadow 6."""
    cube = from_manifold(manifold3d.Manifold.cube((2.0, 2.0, 2.0), center=True))
    turns = Rotation.random(400, rng=np.random.default_rng(7)).as_matrix()
    shadows = [area_mm2(silhouette(cube, turn[:2], simpler_by_mm=0.0)[0]) for turn in turns]
    assert min(shadows) >= 4.0
    assert max(shadows) <= 4 * sqrt(3)
    assert np.mean(shadows) == pytest.approx(6.0, abs=3 * np.std(shadows) / sqrt(400))


def test_simpler_outlines_have_fewer_corners_and_stay_within_a_pencil_line():
    ring = signet()
    exact = silhouette(ring, ALONG_Y, simpler_by_mm=0.0)
    simple = silhouette(ring, ALONG_Y)
    assert len(simple) == len(exact) == 2
    assert len(simple[0]) < len(exact[0]) / 2
    for rough, fine in zip(simple, exact, strict=True):
        assert abs(area_mm2(rough) - area_mm2(fine)) < 0.05 * 80


def test_two_bodies_throw_two_outlines_and_one_behind_the_other_throws_one():
    cube = manifold3d.Manifold.cube((1.0, 1.0, 1.0))
    apart = from_manifold(manifold3d.Manifold.compose([cube, cube.translate((3.0, 0, 0))]))
    behind = from_manifold(manifold3d.Manifold.compose([cube, cube.translate((0, 3.0, 0))]))
    assert [area_mm2(p) for p in silhouette(apart, ALONG_Y)] == pytest.approx([1, 1])
    assert [area_mm2(p) for p in silhouette(behind, ALONG_Y)] == pytest.approx([1])


def test_a_mesh_with_a_hole_in_it_is_refused():
    ring = plain_band()
    with pytest.raises(NotSolidError):
        silhouette(Mesh(ring.vertices, ring.faces[4:]), ALONG_Y)


def test_slanted_axes_are_refused():
    with pytest.raises(ValueError, match="upright to each other"):
        silhouette(plain_band(), ((1.0, 0, 0), (0.5, 0, 1.0)))
