"""Volumes, walls, sections and bores against closed forms."""

import math

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.bore import find_bore
from pourwell.geometry.crossing import doubled_mm3
from pourwell.geometry.inscribed import largest_sphere
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold, to_manifold, unite
from pourwell.geometry.thickness import sampled
from tests.unit.files.pattern_files import cube, joined

FINE = 128


def ball(radius, at=(0, 0, 0), *, count=FINE):
    return from_manifold(manifold3d.Manifold.sphere(radius, count).translate(at))


def ring(large, small, *, around=160, count=64):
    section = manifold3d.CrossSection.circle(small, count).translate((large, 0))
    return from_manifold(manifold3d.Manifold.revolve(section, around))


def wedge(angle_deg, length=10.0):
    """A prism whose section is a right triangle with this angle at the origin."""
    height = length * math.tan(math.radians(angle_deg))
    corners = np.array([[x, y, z] for y in (0, 12) for x, z in ((0, 0), (length, 0), (length, height))], dtype=float)
    return from_manifold(manifold3d.Manifold.hull_points(corners))


# --- volumes ---


def test_three_cubes_by_inclusion_and_exclusion():
    """|A u B u C| = sum - pairs + triple, for three cubes of 4 mm set off by (2, 1, 1) and (1, 2, 3)."""
    a, b, c = cube(4), cube(4, (2, 1, 1)), cube(4, (1, 2, 3))
    pairs = 2 * 3 * 3 + 3 * 2 * 1 + 3 * 3 * 2
    triple = 2 * 2 * 1
    solid, overlap = unite([a, b, c])
    assert solid.volume_mm3 == pytest.approx(3 * 64 - pairs + triple)
    assert overlap == pytest.approx(pairs - triple)


def test_two_balls_overlap_by_a_lens():
    """The lens of two balls of radius r at distance d is pi (4 r + d) (2 r - d)^2 / 12 (geometry)."""
    r, d = 3.0, 4.0
    solid, overlap = unite([ball(r), ball(r, (d, 0, 0))])
    assert overlap == pytest.approx(math.pi * (4 * r + d) * (2 * r - d) ** 2 / 12, rel=0.02)
    assert solid.volume_mm3 == pytest.approx(2 * 4 / 3 * math.pi * r**3 - overlap, rel=0.005)


def test_a_hollow_ball_is_the_difference_of_two():
    outer, inner = ball(5), ball(3)
    shell = Mesh([*outer.vertices, *inner.vertices], [*outer.faces, *(inner.faces[:, ::-1] + len(outer.vertices))])
    solid, _ = unite([outer, Mesh(inner.vertices, inner.faces[:, ::-1])])
    assert solid.volume_mm3 == pytest.approx(4 / 3 * math.pi * (125 - 27), rel=0.005)
    assert shell.volume_mm3 == pytest.approx(solid.volume_mm3)


def test_a_torus_by_pappus():
    """Volume 2 pi^2 R r^2, surface 4 pi^2 R r (Pappus)."""
    mesh = ring(10, 2)
    assert mesh.volume_mm3 == pytest.approx(2 * math.pi**2 * 10 * 4, rel=0.005)
    assert mesh.area_mm2 == pytest.approx(4 * math.pi**2 * 20, rel=0.005)


@pytest.mark.parametrize("shift", [(2.0, 0.4, 0.3), (1.0, 1.0, 1.0), (3.0, 0.2, 0.1)])
def test_what_a_crossing_surface_counts_twice_is_the_overlap(shift):
    """Two cubes in one mesh: the exact overlap is the product of what is left of each side."""
    both = joined(cube(4), cube(4, shift))
    exact = math.prod(4 - s for s in shift)
    assert both.volume_mm3 == pytest.approx(128), "the formula counts it twice"
    assert doubled_mm3(both) == pytest.approx(exact, rel=0.04)


def test_our_volume_is_the_engines():
    """The boolean engine integrates volume and surface in its own way."""
    for mesh in (ring(10, 2), ball(4), wedge(30)):
        solid = to_manifold(mesh)
        assert mesh.volume_mm3 == pytest.approx(solid.volume())
        assert mesh.area_mm2 == pytest.approx(solid.surface_area())


# --- walls ---


@pytest.mark.parametrize("thickness", [0.3, 1.0, 2.5])
def test_the_wall_of_a_slab_is_its_thickness(thickness):
    samples = sampled(from_manifold(manifold3d.Manifold.cube((20, 20, thickness), True)))
    flat = np.abs(samples.inward[:, 2]) > 0.99
    assert samples.wall_mm[flat] == pytest.approx(thickness, rel=1e-6)
    assert samples.typical_mm == pytest.approx(thickness, rel=1e-6)


def test_the_wall_of_a_ball_is_its_diameter_everywhere():
    samples = sampled(ball(3))
    assert samples.wall_mm == pytest.approx(6, rel=0.02)


def test_the_wall_of_a_tube_is_the_difference_of_its_radii():
    tube = manifold3d.Manifold.cylinder(6, 10, 10, FINE) - manifold3d.Manifold.cylinder(6, 8.4, 8.4, FINE)
    samples = sampled(from_manifold(tube))
    round_faces = np.abs(samples.inward[:, 2]) < 0.1
    assert samples.wall_mm[round_faces] == pytest.approx(1.6, rel=0.01)


def test_the_wall_of_a_torus_is_its_wire():
    """Every ball that touches a torus from inside and fits has the wire's diameter, on the inner side as on the outer."""
    assert sampled(ring(8, 1.2)).wall_mm == pytest.approx(2.4, rel=0.01)


@pytest.mark.parametrize("angle_deg", [10, 20, 30])
def test_the_wall_of_a_wedge_lies_between_the_inscribed_circle_and_the_normal_chord(angle_deg):
    """At distance s from the edge the circle that touches both faces is 2 s tan(a/2) wide, the chord along the normal s tan a."""
    mesh, a = wedge(angle_deg), math.radians(angle_deg)
    samples = sampled(mesh)
    floor = (samples.inward[:, 2] > 0.99) & (samples.points[:, 0] > 1) & (samples.points[:, 0] < 8)
    floor &= (samples.points[:, 1] > 4) & (samples.points[:, 1] < 8)
    s = samples.points[floor, 0]
    assert len(s) > 100
    assert (samples.wall_mm[floor] >= 2 * s * math.tan(a / 2) * (1 - 1e-9)).all()
    assert (samples.wall_mm[floor] <= s * math.tan(a) * (1 + 1e-9)).all()


def test_walls_scale_with_the_piece():
    mesh = ring(9, 1.5, around=64, count=24)
    small, large = sampled(mesh), sampled(mesh.scaled(10))
    assert large.typical_mm == pytest.approx(10 * small.typical_mm, rel=0.01), "a larger one is sampled at more points"


# --- the thickest section ---


@pytest.mark.parametrize(
    ("mesh", "radius_mm"),
    [
        (from_manifold(manifold3d.Manifold.cube((20, 10, 1), True)), 0.5),
        (from_manifold(manifold3d.Manifold.cube((20, 10, 0.4), True)), 0.2),
        (cube(6), 3.0),
        (from_manifold(manifold3d.Manifold.cylinder(12, 1.5, 1.5, FINE)), 1.5),
        (ball(3), 3.0),
        (ring(10, 2), 2.0),
    ],
    ids=["slab", "sheet", "cube", "rod", "ball", "torus"],
)
def test_the_largest_sphere_is_the_known_one(mesh, radius_mm):
    assert largest_sphere(mesh)[1] == pytest.approx(radius_mm, rel=0.005)


def test_the_largest_sphere_of_a_tetrahedron_is_its_inscribed_one():
    """r = 3 V / S for a polyhedron with an inscribed sphere."""
    corners = np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]], dtype=float) * 5
    mesh = from_manifold(manifold3d.Manifold.hull_points(corners))
    centre, radius = largest_sphere(mesh)
    assert radius == pytest.approx(3 * mesh.volume_mm3 / mesh.area_mm2, rel=1e-4)
    assert centre == pytest.approx((0, 0, 0), abs=0.02)


def test_the_largest_sphere_of_a_wedge_touches_its_three_sides():
    """In a right triangle the inscribed circle has the radius (a + b - c) / 2."""
    a, b = 10.0, 10.0 * math.tan(math.radians(35))
    radius = largest_sphere(wedge(35))[1]
    assert radius == pytest.approx((a + b - math.hypot(a, b)) / 2, rel=0.002)


# --- bores ---


@pytest.mark.parametrize("sides", [5, 8, 16, 48])
def test_a_cylinder_through_a_hole_of_flats_has_the_inscribed_radius(sides):
    """R cos(pi / n)."""
    hole = manifold3d.Manifold.cylinder(9, 8, 8, sides).translate((0, 0, -2))
    mesh = from_manifold(manifold3d.Manifold.cylinder(5, 11, 11, FINE) - hole)
    assert find_bore(mesh).diameter_mm == pytest.approx(16 * math.cos(math.pi / sides), rel=1e-5)


def test_a_cylinder_through_a_torus_has_the_inner_radius():
    """R - r."""
    assert find_bore(ring(10, 1.5)).diameter_mm == pytest.approx(17, rel=0.002)


def test_a_cylinder_through_a_slanted_hole_is_found_along_the_slant():
    """A straight hole drilled at 20 degrees through a thick plate."""
    hole = manifold3d.Manifold.cylinder(60, 7, 7, FINE).translate((0, 0, -30)).rotate((20, 0, 0))
    mesh = from_manifold(manifold3d.Manifold.cube((30, 30, 10), True) - hole)
    bore = find_bore(mesh)
    tilt = np.array([0, -math.sin(math.radians(20)), math.cos(math.radians(20))])
    assert bore.diameter_mm == pytest.approx(14, rel=0.002)
    assert abs(np.array(bore.axis) @ tilt) == pytest.approx(1, abs=1e-5)


def test_a_cylinder_through_an_oval_ring_has_its_short_axis():
    outer, inner = (manifold3d.CrossSection.circle(1, FINE).scale(s) for s in ((12, 11), (10, 8.5)))
    mesh = from_manifold(manifold3d.Manifold.extrude(outer - inner, 4))
    assert find_bore(mesh).diameter_mm == pytest.approx(17, rel=0.002)
