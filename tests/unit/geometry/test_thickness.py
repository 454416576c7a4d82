"""Walls by rays, the thinnest that counts, the thickest section, and what a crossing surface counts twice."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.crossing import doubled_mm3
from pourwell.geometry.inscribed import largest_sphere, nearest_points
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.thickness import per_triangle, sampled, spread, thinnest, walls
from tests.unit.files.pattern_files import cube, joined

RULES = {"limit_mm": 0.6, "reach_mm": 1.0, "patch_mm2": 1.0}


def thin_place(mesh):
    rays = Caster(mesh)
    return thinnest(sampled(mesh, rays), rays, **RULES)


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


def test_a_thin_plate_is_thin_and_where_it_is():
    thin = thin_place(slab(0.4))
    assert thin.wall_mm == pytest.approx(0.4)
    assert thin.under_mm2 == pytest.approx(216, rel=0.15), "both faces and the rim"


def test_a_thin_flange_on_a_thick_block_is_found():
    block = manifold3d.Manifold.cube((4, 4, 4), True) + manifold3d.Manifold.cube((10, 10, 0.4), True)
    thin = thin_place(from_manifold(block))
    assert thin.wall_mm == pytest.approx(0.4)
    assert max(np.abs(thin.at_mm[:2])) > 2, "on the flange, not on the block"
    assert abs(thin.at_mm[2]) < 0.3


def test_a_narrow_strip_is_as_thin_as_its_thickness_though_it_is_wider():
    strip = manifold3d.Manifold.cube((4, 4, 4), True) + manifold3d.Manifold.cube((14, 1.4, 0.4), True)
    thin = thin_place(from_manifold(strip))
    assert thin.wall_mm == pytest.approx(0.4, rel=0.02)
    assert thin.under_mm2 > 20


def test_a_knife_edge_is_no_thin_wall():
    """A prism that tapers to nothing over its whole length: its edges are carried by what is behind them."""
    prism = manifold3d.Manifold.hull_points(
        np.array([[x, y, z] for x in (0, 20) for y, z in ((-3, 0), (3, 0), (0, 3))], dtype=float)
    )
    assert sampled(from_manifold(prism)).wall_mm.min() < 0.2, "right at the edge it is thin"
    thin = thin_place(from_manifold(prism))
    assert thin.wall_mm > 0.6
    assert thin.under_mm2 < 0.2, "no more than the very corners"


def test_a_long_feather_edge_is_a_thin_wall():
    feather = manifold3d.Manifold.hull_points(np.array([[x, y, z] for x in (0, 20) for y, z in ((0, 0), (10, 0), (10, 1.5))]))
    thin = thin_place(from_manifold(feather))
    assert thin.wall_mm < 0.3
    assert thin.under_mm2 > 50


def test_a_thin_wire_on_a_thick_block_is_found():
    wire = manifold3d.Manifold.cube((6, 6, 6), True) + manifold3d.Manifold.cylinder(12, 0.25, 0.25, 32)
    thin = thin_place(from_manifold(wire))
    assert thin.wall_mm == pytest.approx(0.5, rel=0.03)
    assert thin.at_mm[2] > 3


@pytest.mark.parametrize("wall", [0.4, 0.9])
def test_the_wall_of_a_cup_is_found_though_its_seat_is_near(wall):
    """A cup of 1.2 mm over a ledge of 0.6 mm: thicker metal lies within a millimetre of nearly all of its wall."""
    thin = thin_place(SHAPES["bezel-ring"].make(wall_mm=wall))
    assert thin.wall_mm == pytest.approx(wall, rel=0.03)
    assert thin.at_mm[2] > 11, "on the cup, not on the shank"


def test_a_lip_no_longer_than_it_is_thick_is_carried():
    """The same sheet, once as a lip of its own thickness, once six times as long."""
    walls = []
    for length in (0.35, 2.4):
        block = manifold3d.Manifold.cube((8, 8, 8), True)
        lip = manifold3d.Manifold.cube((8 + 2 * length, 8, 0.4), True)
        walls.append(thin_place(from_manifold(block + lip)).wall_mm)
    assert walls[0] > 1.0
    assert walls[1] == pytest.approx(0.4, rel=0.02)


def test_a_speck_of_thinness_does_not_count():
    speck = manifold3d.Manifold.cube((8, 8, 8), True) - manifold3d.Manifold.cube((0.5, 0.5, 7.7), True).translate((0, 0, 0.5))
    thin = thin_place(from_manifold(speck))
    assert thin.wall_mm > 1, "a floor of a quarter of a square millimetre is a corner, not a wall"


@pytest.mark.parametrize("name", SHAPES)
def test_our_own_pieces_have_no_thin_wall(name):
    assert thin_place(SHAPES[name].make()).wall_mm > 0.8


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
