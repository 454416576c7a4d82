"""The thinnest wall that counts, by rays and by balls: shapes of known walls, where the two agree, and where they do not."""

from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.thickness import sampled
from pourwell.geometry.thin import agreed, by_both, thinnest
from pourwell.geometry.touching import Touching
from tests.unit.geometry.test_thickness import ball, slab

RULES = {"limit_mm": 0.6, "reach_mm": 1.0, "patch_mm2": 1.0}


def walls_of(mesh):
    rays, touching = Caster(mesh), Touching(mesh)
    samples = sampled(mesh, rays)
    return by_both(samples, touching.balls(samples.points, samples.face), touching), rays


def thin(mesh):
    walls, rays = walls_of(mesh)
    return thinnest(walls, rays, **RULES)


def thin_place(mesh):
    """What is told; both methods must agree about it."""
    found = thin(mesh)
    assert found.agree
    return found.place


def tube(outer=4.0, inner=3.2, height=6.0):
    whole = manifold3d.Manifold.cylinder(height, outer, outer, 128) - manifold3d.Manifold.cylinder(9, inner, inner, 128)
    return from_manifold(whole)


def wedge(deg=10.0, long=20.0):
    """A prism whose sides meet at an angle in an edge along x."""
    high = 10 * np.tan(np.deg2rad(deg))
    return from_manifold(
        manifold3d.Manifold.hull_points(np.array([[x, y, z] for x in (0, long) for y, z in ((0, 0), (10, 0), (10, high))]))
    )


@pytest.mark.parametrize(
    ("mesh", "wall"),
    [(ball(3.0), 6.0), (slab(0.4), 0.4), (slab(1.0), 1.0), (tube(), 0.8), (tube(2.0, 1.7), 0.3)],
    ids=["ball", "thin slab", "slab", "tube", "thin tube"],
)
def test_each_method_by_itself_tells_the_wall_of_a_shape_that_is_known(mesh, wall):
    found = thin(mesh)
    assert found.rays.wall_mm == pytest.approx(wall, rel=0.02)
    assert found.balls.wall_mm == pytest.approx(wall, rel=0.02)
    assert found.agree


def test_in_a_wedge_the_methods_tell_one_place_near_its_edge():
    """A ball that touches one side at s from the edge has the diameter 2 s tan(a/2), a ray square to it is s tan a long."""
    found = thin(wedge())
    assert found.agree
    for place in (found.rays, found.balls):
        assert place.wall_mm == pytest.approx(place.at_mm[1] * np.tan(np.deg2rad(10)), rel=0.06)


def test_the_place_that_is_told_is_as_thick_as_is_told():
    for mesh in (slab(0.4), tube(), wedge(), *(shape.make() for shape in SHAPES.values())):
        walls, rays = walls_of(mesh)
        found = thinnest(walls, rays, **RULES)
        for place, samples in ((found.rays, walls.rays), (found.balls, walls.balls)):
            assert tuple(samples.points[place.sample]) == place.at_mm
            assert samples.wall_mm[place.sample] == pytest.approx(place.wall_mm, rel=0.02)


def test_the_lesser_figure_is_told_with_its_place_and_the_larger_surface():
    found = thin(slab(0.4))
    less = replace(found, balls=replace(found.balls, wall_mm=0.35, under_mm2=9.0))
    assert (less.told_by, less.place.wall_mm) == ("balls", 0.35)
    assert less.place.at_mm == found.balls.at_mm
    assert less.place.under_mm2 == found.rays.under_mm2 > 9
    more = replace(found, balls=replace(found.balls, wall_mm=0.45))
    assert (more.told_by, more.place.wall_mm) == ("rays", found.rays.wall_mm)
    alone = replace(found, balls=None)
    assert (alone.told_by, alone.place) == ("rays", found.rays)


@pytest.mark.parametrize(("share", "agree"), [(1.1, True), (1.3, False), (0.9, True), (0.7, False)])
def test_methods_that_differ_by_more_than_a_fifth_do_not_agree(share, agree):
    walls, rays = walls_of(slab(0.4))
    other = replace(walls, balls=replace(walls.balls, wall_mm=share * walls.balls.wall_mm, across_mm=share * walls.balls.across_mm))
    assert thinnest(other, rays, **RULES).agree is agree


def test_what_only_one_method_finds_is_agreed_if_the_other_says_the_same_there():
    """Rays are told a thinner wall on one spot only: the verdict of all balls differs, but the ball there may say the same."""
    walls, rays = walls_of(slab(2.0))
    spot = np.linalg.norm(walls.rays.points - (2, 2, 1), axis=1) < 1.2
    thinner = {"wall_mm": np.where(spot, 0.4, walls.rays.wall_mm), "across_mm": np.where(spot, 0.4, walls.rays.across_mm)}
    alone = replace(walls, rays=replace(walls.rays, **thinner))
    assert not thinnest(alone, rays, **RULES).agree
    both = replace(alone, balls=replace(walls.balls, wall_mm=np.where(spot, 0.42, walls.balls.wall_mm)))
    assert thinnest(both, rays, **RULES).agree


def test_figures_agree_within_a_fifth_of_the_lesser_one():
    assert agreed(0.5, 0.6)
    assert agreed(0.6, 0.5)
    assert not agreed(0.5, 0.61)


def test_where_no_ball_lies_between_two_sides_rays_tell_alone():
    walls, rays = walls_of(slab())
    found = thinnest(replace(walls, told=np.zeros_like(walls.told)), rays, **RULES)
    assert found.balls is None
    assert found.agree
    assert found.place.wall_mm == pytest.approx(1.0)


def test_a_ball_in_the_corner_of_something_thick_lies_between_no_two_sides():
    cube = from_manifold(manifold3d.Manifold.cube((6, 6, 6), True))
    walls, _ = walls_of(cube)
    corner = (np.sort(np.abs(walls.rays.points), axis=1)[:, 1] > 2.5) & (walls.balls.wall_mm < 3)
    assert corner.sum() > 100
    assert not walls.told[corner].any()
    assert walls.told[walls.balls.wall_mm > 5.8].all()


def test_some_of_the_points_can_be_left_out():
    walls, rays = walls_of(slab(0.4))
    keep = walls.rays.points[:, 0] > 0
    some = walls.only(keep)
    assert len(some.rays.points) == len(some.balls.points) == len(some.told) == keep.sum()
    assert thinnest(some, rays, **RULES).place.at_mm[0] > 0


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
        walls.append(thin(from_manifold(block + lip)).place.wall_mm)
    assert walls[0] > 1.0
    assert walls[1] == pytest.approx(0.4, rel=0.02)


def test_a_speck_of_thinness_does_not_count():
    speck = manifold3d.Manifold.cube((8, 8, 8), True) - manifold3d.Manifold.cube((0.5, 0.5, 7.7), True).translate((0, 0, 0.5))
    thin = thin_place(from_manifold(speck))
    assert thin.wall_mm > 1, "a floor of a quarter of a square millimetre is a corner, not a wall"


@pytest.mark.parametrize("name", SHAPES)
def test_our_own_pieces_have_no_thin_wall(name):
    assert thin_place(SHAPES[name].make()).wall_mm > 0.8
