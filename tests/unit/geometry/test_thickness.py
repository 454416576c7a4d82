"""Walls by rays, the thickest section, and what a crossing surface counts twice."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.crossing import doubled_mm3
from pourwell.geometry.inscribed import largest_sphere, nearest_points
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.thickness import per_triangle, sampled, spread, walls
from tests.unit.files.pattern_files import cube, joined


def slab(thickness=1.0, *, width=10.0):
    return from_manifold(manifold3d.Manifold.cube((width, width, thickness), True))


def ball(radius=3.0, *, count=96):
    return from_manifold(manifold3d.Manifold.sphere(radius, count))


def test_samples_stand_for_the_whole_surface():
    for mesh in (slab(), ball(), SHAPES["signet"].make()):
        points, face, area = spread(mesh)
        assert len(points) == len(face) == len(area)
        assert area.sum() == pytest.approx(mesh.area_mm2)
        assert np.bincount(face, weights=area, minlength=len(mesh.faces)) == pytest.approx(mesh.areas)


def test_samples_lie_within_their_triangles():
    mesh = slab()
    points, face, _ = spread(mesh)
    feet = np.array([nearest_points(p, mesh.corners[[f]])[0] for p, f in zip(points[::50], face[::50], strict=True)])
    assert feet == pytest.approx(points[::50])


def test_large_triangles_are_sampled_closely():
    points, _, area = spread(slab())
    assert area.max() <= 0.1
    assert len(points) > 2000


def test_walls_are_told_for_every_triangle_and_are_read_with_a_ready_caster():
    mesh = slab()
    wall = walls(mesh, Caster(mesh))
    assert wall.shape == (len(mesh.faces),)
    assert wall[np.abs(mesh.normals[:, 2]) > 0.9] == pytest.approx(1.0)
    assert wall == pytest.approx(walls(mesh))


def test_no_wall_exceeds_the_largest_sphere_once_that_is_known():
    mesh = slab()
    samples = sampled(mesh)
    assert samples.wall_mm.max() > 5, "along the plate the narrow cone sees ten millimetres"
    assert per_triangle(samples.at_most(1.0)).max() == pytest.approx(1.0)


def test_the_largest_sphere_lies_inside_and_touches():
    for name in ("signet", "bezel-ring", "pendant", "stud"):
        mesh = SHAPES[name].make()
        centre, radius = largest_sphere(mesh)
        gaps = np.linalg.norm(nearest_points(np.array(centre), mesh.corners) - centre, axis=1)
        assert gaps.min() == pytest.approx(radius)
        met = Caster(mesh).first(np.array(centre), np.array([0.1, 0.2, 1.0]))[1]
        assert mesh.normals[met[0]] @ [0.1, 0.2, 1.0] > 0, "the first face from there is met from inside"


def test_the_largest_sphere_is_found_in_the_thicker_of_two_ends():
    dumbbell = manifold3d.Manifold.sphere(2.0, 64) + manifold3d.Manifold.sphere(3.0, 64).translate((12, 0, 0))
    dumbbell += manifold3d.Manifold.cylinder(12, 0.7, 0.7, 32).rotate((0, 90, 0))
    centre, radius = largest_sphere(from_manifold(dumbbell))
    assert centre == pytest.approx((12, 0, 0), abs=0.1)
    assert radius == pytest.approx(3, rel=0.01)


def test_a_surface_that_nowhere_crosses_itself_counts_nothing_twice():
    for name in SHAPES:
        mesh = SHAPES[name].make()
        assert not sampled(mesh).crossing.any(), name
        assert doubled_mm3(mesh) == 0


def test_a_surface_that_crosses_itself_is_noticed_by_the_rays():
    crossed = joined(cube(4), cube(4, (2, 0.5, 0.5)))
    samples = sampled(crossed)
    assert samples.area_mm2[samples.crossing].sum() > 5


@pytest.mark.parametrize("engine", ["embree", "manifold"])
def test_walls_agree_on_both_ray_engines(engine):
    pytest.importorskip("embreex") if engine == "embree" else None
    mesh = from_manifold(manifold3d.Manifold.cylinder(2, 3, 3, 16))
    samples = sampled(mesh, Caster(mesh, engine=engine))
    assert samples.typical_mm == pytest.approx(2.0)
