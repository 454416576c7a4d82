"""Walls, gaps and features against closed forms, other libraries, and published minimum features."""

import math

import fcl
import manifold3d
import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from pourwell.geometry.shapes import SHAPES, Fineness
from pourwell.geometry.solidity import from_manifold, to_manifold
from pourwell.geometry.thickness import sampled, spread, walls
from pourwell.geometry.touching import Touching
from pourwell.materials.library import load_library
from tests.unit.geometry.distance_samples import icosphere, shaken
from tests.unit.geometry.feature_pieces import Solid, block, found, groove, refined, round_groove, with_wire

FINE = 128


def ball(radius, count=96):
    return from_manifold(Solid.sphere(radius, count))


def tube(outer, inner, height=8.0):
    return from_manifold(Solid.cylinder(height, outer, outer, FINE) - Solid.cylinder(height, inner, inner, FINE))


def ring(large, small, count=48):
    section = manifold3d.CrossSection.circle(small, count).translate((large, 0))
    return from_manifold(manifold3d.Manifold.revolve(section, FINE))


def slab(thickness):
    return from_manifold(Solid.cube((20, 20, thickness), True))


def wedge(angle_deg, length=10.0):
    height = length * math.tan(math.radians(angle_deg))
    corners = np.array([[x, y, z] for y in (0, 12) for x, z in ((0, 0), (length, 0), (length, height))], dtype=float)
    return from_manifold(Solid.hull_points(corners))


def cone(radius, height):
    return refined(from_manifold(Solid.cylinder(height, radius, 0.0, FINE)), 2)


def both(mesh, chosen=None, **ball_of):
    """Places, and the diameter of the ball there, with the wall by rays."""
    samples = sampled(mesh)
    balls = Touching(mesh).balls(samples.points, samples.face, **ball_of)
    keep = np.ones(len(samples.points), dtype=bool) if chosen is None else chosen(samples)
    return samples.points[keep], balls.diameter_mm[keep], samples.wall_mm[keep]


# --- walls: two methods, one truth ---


def test_both_walls_of_a_ball_are_its_diameter():
    """The chord of the facets is 0.5 % of the radius at most."""
    _, diameter, wall = both(ball(3.0))
    assert diameter == pytest.approx(6.0, rel=0.01)
    assert wall == pytest.approx(6.0, rel=0.02)


@pytest.mark.parametrize("thickness", [0.3, 1.0, 2.5])
def test_both_walls_of_a_slab_are_its_thickness(thickness):
    """Farther from the rim than the slab is thick."""

    def inside(samples):
        return (np.abs(samples.points[:, :2]).max(axis=1) < 10 - thickness) & (np.abs(samples.inward[:, 2]) > 0.9)

    _, diameter, wall = both(slab(thickness), inside)
    assert len(wall) > 1000
    assert diameter == pytest.approx(thickness, rel=1e-3)
    assert wall == pytest.approx(thickness, rel=1e-6)


def test_both_walls_of_a_tube_are_the_difference_of_its_radii():
    def barrel(samples):
        return (np.abs(samples.inward[:, 2]) < 0.1) & (np.abs(samples.points[:, 2] - 4) < 2.4)

    _, diameter, wall = both(tube(10.0, 8.4), barrel)
    assert len(wall) > 1000
    assert diameter == pytest.approx(1.6, rel=0.01)
    assert wall == pytest.approx(1.6, rel=0.01)


def test_both_walls_of_a_torus_are_its_wire():
    _, diameter, wall = both(ring(8.0, 1.2))
    assert diameter == pytest.approx(2.4, rel=0.01)
    assert wall == pytest.approx(2.4, rel=0.01)


@pytest.mark.parametrize("angle_deg", [10, 20, 30])
def test_the_ball_in_a_wedge_touches_both_faces_and_the_rays_bound_it(angle_deg):
    """Tangent to both faces at s from the edge its diameter is 2 s tan(a/2); the rays say between that and the chord s tan a."""

    def floor(samples):
        x, y, _ = samples.points.T
        return (samples.inward[:, 2] > 0.99) & (x > 1) & (x < 6.5) & (y > 4) & (y < 8)

    points, diameter, wall = both(wedge(angle_deg), floor)
    a, s = math.radians(angle_deg), points[:, 0]
    assert len(s) > 100
    assert diameter == pytest.approx(2 * s * math.tan(a / 2), rel=0.003)
    assert (wall >= diameter * 0.997).all()
    assert (wall / diameter).max() <= math.tan(a) / (2 * math.tan(a / 2)) * 1.003
    assert (wall / diameter).max() < 1.08, "the two methods agree within 8 % on wedges of up to 30 degrees"


@pytest.mark.parametrize(("angle_deg", "least", "most"), [(45, 1.0, 1.06), (60, 1.08, 1.51), (90, 2.0, 9.5)])
def test_in_a_steep_wedge_the_ball_is_exact_and_the_figure_told_is_the_balls(angle_deg, least, most):
    """The ball's diameter at s from the edge is 2 s tan(a/2) whatever the angle. The cone of rays still finds it within 6 % at
    45 degrees, says up to 1.5 times that at 60 and several times that in a square corner, where straight up no wall is near.
    The lesser of both is told: the ball's.

    A wedge of two equal sides of 10 mm; the ball must stand clear of the third.
    """
    a = math.radians(angle_deg)
    corners = np.array(
        [[x, y, z] for y in (0, 12) for x, z in ((0, 0), (10, 0), (10 * math.cos(a), 10 * math.sin(a)))], dtype=float
    )
    clear = 0.95 * 10 * (1 - math.sin(a / 2))  # so far from the edge the inscribed ball touches

    def floor(samples):
        x, y, _ = samples.points.T
        return (samples.inward[:, 2] > 0.99) & (x > 0.5) & (x < min(clear, 4.0)) & (y > 4) & (y < 8)

    points, diameter, wall = both(from_manifold(Solid.hull_points(corners)), floor)
    s = points[:, 0]
    assert len(s) > 20
    assert diameter == pytest.approx(2 * s * math.tan(a / 2), rel=0.003)
    told = np.minimum(wall, diameter)
    assert told == pytest.approx(diameter, rel=0.003)
    assert least < (wall / diameter).max() <= most, "the steeper, the more the rays alone would flatter"


def test_the_ball_at_a_cones_mantle_is_its_inscribed_sphere_there():
    """A ball that touches a cone of half angle b all round, at s from the tip along the mantle, has the radius s tan b.

    Where that ball stands clear of the cone's base.
    """
    radius, height = 3.0, 6.0
    b = math.atan(radius / height)

    def mantle(samples):
        z, slope = samples.points[:, 2], math.hypot(radius, height)
        s = (height - z) / height * slope
        r = s * math.tan(b)
        return (samples.inward[:, 2] < -0.1) & (z - r * math.sin(b) > r) & (s > 0.5)

    points, diameter, _ = both(cone(radius, height), mantle)
    s = (height - points[:, 2]) / math.cos(b)
    assert len(s) > 500
    assert diameter == pytest.approx(2 * s * math.tan(b), rel=0.02)


def test_every_triangle_of_a_fine_round_piece_has_the_same_wall_both_ways():
    for mesh, truth in ((ball(3.0), 6.0), (ring(8.0, 1.2), 2.4)):
        told = found(mesh)
        assert told.ball_mm == pytest.approx(truth, rel=0.01)
        assert walls(mesh) == pytest.approx(truth, rel=0.02)


# --- gaps: the same from outside ---


def test_the_gap_in_a_tube_is_its_bore():
    mesh = tube(4.0, 1.5)
    points, face, _ = spread(mesh)
    inner = (np.hypot(points[:, 0], points[:, 1]) < 1.6) & (np.abs(points[:, 2] - 4) < 2)
    gaps = Touching(mesh).balls(points, face, outside=True, most_mm=10.0).diameter_mm
    assert gaps[inner] == pytest.approx(3.0, rel=0.01)
    outer = np.hypot(points[:, 0], points[:, 1]) > 3.9
    assert np.isinf(gaps[outer]).all()


@pytest.mark.parametrize("width", [0.2, 0.5, 1.0])
def test_the_gap_between_the_sides_of_a_groove_are_its_width(width):
    """Where the side is deeper than half the width under the rim and as high over the floor."""
    mesh = refined(block(groove(width, 1.6)), 1)
    points, face, _ = spread(mesh)
    sides = (np.abs(np.abs(points[:, 1]) - width / 2) < 1e-9) & (points[:, 2] > 0.4 + width / 2) & (points[:, 2] < 2 - width / 2)
    assert sides.sum() > 50
    gaps = Touching(mesh).balls(points, face, outside=True, most_mm=4.0).diameter_mm
    assert gaps[sides] == pytest.approx(width, rel=1e-3)


def test_the_gap_round_a_convex_piece_is_open():
    for mesh in (ball(3.0), slab(1.0), cone(3.0, 6.0)):
        told = found(mesh)
        assert np.isinf(told.gap_mm).all()


# --- features of known size ---


def test_a_half_round_groove_has_its_diameter_as_gap_at_its_rims_and_its_radius_as_depth():
    told = found(refined(block(round_groove(0.4)), 1))
    assert told.sunk.depth_mm.max() == pytest.approx(0.4, rel=0.02)
    assert np.nanmin(told.gap_mm) >= 0.8 * 0.97


def test_the_depth_of_a_blind_hole_with_a_tip_runs_to_the_tip():
    """A drill of 118 degrees: the tip is d / 2 / tan 59 deeper than the shoulder."""
    tip = 0.6 / math.tan(math.radians(59))
    drill = Solid.cylinder(3.0, 0.6, 0.6, 48).translate((0, 0, 0.5)) + Solid.cylinder(tip, 0.0, 0.6, 48).translate(
        (0, 0, 0.5 - tip)
    )
    sunk = found(block(drill)).sunk
    assert np.median(sunk.depth_mm) == pytest.approx(1.5 + tip, rel=0.04)
    assert np.median(sunk.width_mm) == pytest.approx(1.2, rel=0.02)


@pytest.mark.parametrize("sides", [4, 6, 32])
def test_the_gauge_of_a_wire_lies_between_the_circles_in_and_about_its_section(sides):
    """A regular prism: what passes between its flats and its corners; of a round one the diameter."""
    radius = 0.35
    mesh = from_manifold(Solid.cube((6, 6, 6), True) + Solid.cylinder(12, radius, radius, sides))
    gauge, _ = found(mesh).wires.thinnest()
    assert 2 * radius * math.cos(math.pi / sides) * 0.99 <= gauge <= 2 * radius * 1.01


# --- second opinions ---


@pytest.fixture(params=["bezel-ring", "stud", "crumpled"])
def piece(request):
    if request.param == "crumpled":
        return shaken(icosphere(2.0, halvings=3), by=0.04, seed=3)
    return SHAPES[request.param].make(fineness=Fineness(chord_mm=0.03, longest_mm=2.0))


def some_balls(mesh, count, **which):
    points, face, _ = spread(mesh)
    chosen = np.random.default_rng(1).permutation(len(points))[:count]
    balls = Touching(mesh).balls(points[chosen], face[chosen], **which)
    told = np.isfinite(balls.diameter_mm)
    middle = points[chosen] + balls.way * (np.where(told, balls.diameter_mm, 0.0) / 2)[:, None]
    return middle[told], balls.diameter_mm[told] / 2


def test_trimesh_finds_the_same_nearest_places(piece):
    """Its exhaustive search in doubles (trimesh.proximity.closest_point_naive)."""
    points = np.random.default_rng(2).uniform(*piece.bounds, (80, 3))
    _, truth, _ = trimesh.proximity.closest_point_naive(trimesh.Trimesh(piece.vertices, piece.faces, process=False), points)
    away, foot = Touching(piece).feet(points)
    np.testing.assert_allclose(away, truth, atol=1e-9)
    np.testing.assert_allclose(np.linalg.norm(foot - points, axis=1), truth, atol=1e-9)


def test_fcl_finds_the_surface_as_far_from_the_middle_of_every_ball(piece):
    """python-fcl's distance between the mesh and a ball of a micrometre; no ball of ours reaches out of the surface by more than
    the faces that round off its own."""
    model = fcl.BVHModel()
    model.beginModel(len(piece.vertices), len(piece.faces))
    model.addSubModel(piece.vertices, piece.faces)
    model.endModel()
    solid = fcl.CollisionObject(model)
    middles, radii = some_balls(piece, 40)
    away, _ = Touching(piece).feet(middles)
    for middle, mine in zip(middles, away, strict=True):
        grain = fcl.CollisionObject(fcl.Sphere(1e-3), fcl.Transform(middle))
        result = fcl.DistanceResult()
        assert fcl.distance(solid, grain, fcl.DistanceRequest(), result) + 1e-3 == pytest.approx(mine, abs=2e-4)
    assert np.quantile(away / radii, 0.5) > 0.95


def test_scipy_finds_no_point_of_the_surface_within_a_ball_but_of_faces_that_round_it_off():
    """A cloud of 200,000 points on the surface (scipy's k-d tree): on a smooth piece the balls are empty to half a hundredth."""
    mesh = ring(8.0, 1.2)
    cloud, _ = trimesh.sample.sample_surface(trimesh.Trimesh(mesh.vertices, mesh.faces, process=False), 200_000, seed=1)
    middles, radii = some_balls(mesh, 500)
    assert (cKDTree(cloud).query(middles)[0] >= radii * 0.995).all()


def test_manifold_meets_the_same_faces_as_the_rays_that_measure_a_wall():
    """manifold3d's own exact ray, from the middle of a wall to both its sides."""
    mesh = SHAPES["comfort-band"].make(fineness=Fineness(chord_mm=0.03, longest_mm=2.0))
    samples = sampled(mesh)
    solid = to_manifold(mesh)
    chosen = np.flatnonzero(np.isfinite(samples.across_mm))[::97]
    for k in chosen:
        begin = samples.points[k] + samples.inward[k] * 1e-6
        hits = solid.ray_cast(tuple(begin), tuple(begin + samples.inward[k] * 50))
        assert np.linalg.norm(np.subtract(hits[0].position, samples.points[k])) == pytest.approx(samples.across_mm[k], abs=1e-5)


# --- published minimum features ---


def test_limits_are_the_published_ones():
    """A maker's rules (maker-drawing-rules): engraving 0.3 mm wide, 0.1 mm a surface for finishing. A caster's page on labelling
    (caster-labelling-page): 0.25 to 0.50 mm deep. A design text (gold-casting-design-text): gap or hole 0.4 mm, blind holes to
    twice, through holes to four times their diameter. A trade article (snyder-tradition): lettering 0.5 mm deep at least.
    """
    rules = load_library().rules
    published = {
        "groove_width_mm": 0.3,
        "finishing_face_mm": 0.1,
        "engraving_depth_mm": 0.25,
        "gap_width_mm": 0.4,
        "blind_hole_depth_ratio": 2.0,
        "through_hole_length_ratio": 4.0,
    }
    assert {name: rules[name].value for name in published} == published
    assert rules["engraving_depth_mm"].high == 0.5


def test_a_tongue_of_mould_that_broke_in_the_trade_is_over_the_limit_and_letters_as_published_are_not():
    """Tongues 0.25 to 0.4 mm thick, 1 mm high broke (forum-threads); letters 0.5 mm deep (snyder-tradition), as wide, hold."""
    limit = load_library().rules["groove_depth_ratio"].value
    for width, depth, breaks in ((0.25, 1.0, True), (0.4, 1.0, True), (0.5, 0.5, False)):
        sunk = found(block(groove(width, depth))).sunk
        assert (np.median(sunk.depth_mm / sunk.mouth_mm) > limit) == breaks


def test_wires_that_partly_failed_in_the_trade_are_under_every_alloys_limit():
    """0.5 mm and thinner partly failed in 18 carat gold (forum-threads)."""
    gauge, _ = found(with_wire(0.5)).wires.thinnest()
    assert all(gauge < alloy.min_wire_mm.value for alloy in load_library().alloys.values())
