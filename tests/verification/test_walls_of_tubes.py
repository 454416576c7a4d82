"""Walls of faceted tubes against the distance of their two polygons, and the largest spheres of known solids.

The truth is plane geometry: between two coaxial regular polygons the least wall is the least way from a corner of one to a side of
the other, reckoned here without any mesh, ray or ball.
"""

import math

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.inscribed import largest_sphere
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.thickness import sampled
from pourwell.geometry.thin import by_both, thinnest
from pourwell.geometry.touching import Touching

Solid = manifold3d.Manifold
BORE = 8.6
RULES = {"limit_mm": 0.6, "reach_mm": 1.0, "patch_mm2": 1.0}


def polygon(radius, count, turn=0.0):
    angle = 2 * np.pi * (np.arange(count) + turn) / count
    return radius * np.column_stack((np.cos(angle), np.sin(angle)))


def from_corners(corners, sides):
    """The least way from corners to the closed line of sides."""
    start, along = sides, np.roll(sides, -1, axis=0) - sides
    away = corners[:, None] - start[None]
    share = np.clip(np.einsum("ijk,jk->ij", away, along) / np.einsum("jk,jk->j", along, along), 0, 1)
    return float(np.linalg.norm(away - share[..., None] * along, axis=2).min())


def least_wall(wall, count, turn):
    inner, outer = polygon(BORE, count), polygon(BORE + wall, count, turn)
    return min(from_corners(inner, outer), from_corners(outer, inner))


def tube(wall, count, *, turn=0.0, height=4.0, leant=False):
    """A ring of two prisms; the outer one turned by a share of a facet."""
    outer = Solid.cylinder(height, BORE + wall, BORE + wall, count, True).rotate((0, 0, 360 * turn / count))
    ring = outer - Solid.cylinder(height + 1, BORE, BORE, count, True)
    return from_manifold(ring.rotate((23, -61, 17) if leant else (90, 0, 0)))


def told(mesh):
    """The thinnest wall as a piece is told it, and the thickest section."""
    rays = Caster(mesh)
    free = sampled(mesh, rays)
    _, radius = largest_sphere(mesh, free, rays)
    samples = free.at_most(2 * radius)
    return min(both(samples, rays).place.wall_mm, samples.typical_mm), 2 * radius


def both(samples, rays):
    """The thinnest wall by rays and by balls, which must agree."""
    touching = Touching(rays.mesh)
    found = thinnest(by_both(samples, touching.balls(samples.points, samples.face), touching), rays, **RULES)
    assert found.agree
    return found


def test_the_polygons_of_the_truth_are_as_far_apart_as_their_sides_are():
    """In phase the sides are parallel: the wall times cos(pi / n)."""
    for count in (32, 128):
        assert least_wall(0.4, count, 0.0) == pytest.approx(0.4 * math.cos(math.pi / count), rel=1e-9)
    assert least_wall(0.4, 32, 0.5) == pytest.approx((BORE + 0.4) * math.cos(math.pi / 32) - BORE, rel=1e-9)


@pytest.mark.parametrize("wall", [0.2, 0.4, 1.5, 3.0])
@pytest.mark.parametrize("count", [32, 64, 128, 200, 400])
def test_the_wall_of_a_tube_in_phase_is_its_wall(wall, count):
    thin, thick = told(tube(wall, count))
    assert thin == pytest.approx(least_wall(wall, count, 0.0), rel=0.01)
    assert thick == pytest.approx(wall, rel=0.012)


@pytest.mark.parametrize(("wall", "count"), [(0.3, 96), (0.3, 128), (0.6, 160), (0.8, 128), (3.0, 200)])
@pytest.mark.parametrize("turn", [0.31, 0.5, 0.85])
def test_the_wall_of_a_tube_lies_between_its_polygons_in_any_phase_and_stance(wall, count, turn):
    """The told wall holds over a patch, so it lies over the least, that only corners have, by at most a facet's sag."""
    sag = (BORE + wall) * (1 - math.cos(math.pi / count))
    thin, thick = told(tube(wall, count, turn=turn, leant=True))
    least = least_wall(wall, count, turn)
    assert least * 0.995 <= thin <= least + 2 * sag
    assert thin == pytest.approx(wall, rel=0.03)
    assert thin <= thick * 1.001


@pytest.mark.parametrize("edge", [2.0, 0.7])
def test_other_triangles_on_the_same_tube_change_nothing(edge):
    ring = Solid.cylinder(4, 9.0, 9.0, 128, True) - Solid.cylinder(5, BORE, BORE, 128, True)
    coarse, fine = told(from_manifold(ring)), told(from_manifold(ring.refine_to_length(edge)))
    assert fine == pytest.approx(coarse, rel=0.01)
    assert fine[0] == pytest.approx(0.4, rel=0.01)


def test_triangles_in_another_order_change_nothing():
    mesh = tube(0.4, 128)
    mixed = Mesh(mesh.vertices, np.random.default_rng(5).permutation(mesh.faces))
    assert told(mixed) == pytest.approx(told(mesh), rel=0.003)


@pytest.mark.parametrize("height", [1.0, 12.0])
def test_the_height_of_a_thin_tube_does_not_matter(height):
    assert told(tube(0.4, 128, height=height))[0] == pytest.approx(0.4, rel=0.01)


def test_the_corner_of_a_thick_tube_is_no_rim_of_a_sheet():
    """200 facets as long as the ring is wide: few samples lie on each, and near the rims they used to pass for a sheet's rim."""
    for turn in (0.0, 0.25, 0.85):
        assert told(tube(3.0, 200, turn=turn, leant=True))[0] > 2.9


def test_the_rim_of_a_sheet_is_still_a_thin_place():
    """The whole surface of a plate of 0.4 is under the limit, its four rims too."""
    plate = from_manifold(Solid.cube((12, 8, 0.4), True))
    rays = Caster(plate)
    assert both(sampled(plate, rays), rays).place.under_mm2 == pytest.approx(plate.area_mm2, rel=0.08)


@pytest.mark.parametrize("wall", [0.3, 0.6])
def test_the_largest_sphere_of_a_thin_ring_fits_and_no_ball_that_touches_is_larger(wall):
    """Two more ways of reckoning: the nearest surface from its middle, and balls that touch at every sample."""
    for count in (64, 128, 400):
        mesh = tube(wall, count)
        centre, radius = largest_sphere(mesh)
        near, _ = Touching(mesh).feet(np.array([centre]))
        assert near[0] == pytest.approx(radius, rel=1e-6)
        samples = sampled(mesh)
        assert Touching(mesh).balls(samples.points, samples.face).diameter_mm.max() <= 2 * radius * 1.002


def test_the_largest_sphere_in_a_joint_is_larger_than_in_the_arms():
    """Two square bars of 2 that cross flush: at the crossing sqrt(2) to the inner corners, but 1 to the faces: a radius of 1.

    A third through them opens it: then the corners hold the sphere, at sqrt(2).
    """
    arms = [Solid.cube(size, True) for size in ((12, 2, 2), (2, 12, 2), (2, 2, 12))]
    assert largest_sphere(from_manifold(arms[0] + arms[1]))[1] == pytest.approx(1.0, rel=1e-3)
    centre, radius = largest_sphere(from_manifold(arms[0] + arms[1] + arms[2]))
    assert radius == pytest.approx(math.sqrt(2), rel=2e-3)
    assert centre == pytest.approx((0, 0, 0), abs=0.02)
