"""Bores on solids whose answers are known: round, oval, curved, open, split, for two fingers; wherever they lie."""

import math

import manifold3d
import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ellipe

from pourwell.geometry.bore import find_bore, find_bores
from pourwell.geometry.bore_offset import wall_behind, with_bore_moved
from pourwell.geometry.bore_shape import bore_shape
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import SHAPES, bezel_ring, comfort_band, pendant_with_bail
from pourwell.geometry.solidity import from_manifold, to_manifold, weld
from tests.unit.geometry.test_bore import turned

FINE = 256
RINGS = [name for name, shape in SHAPES.items() if shape.is_ring]


def disc(radius, height, *, count=FINE):
    return manifold3d.Manifold.cylinder(height, radius, radius, count, True)


def tube(inner=8.6, outer=10.4, height=4.0):
    return disc(outer, height) - disc(inner, height + 2)


def oval(long, short, height=4.0):
    circle = manifold3d.CrossSection.circle(1, FINE)
    return manifold3d.Manifold.extrude(circle.scale((long + 2, short + 2)) - circle.scale((long, short)), height)


def seen(solid, seed=None):
    """The bore and its shape, of the solid as it lies or turned and moved."""
    mesh = from_manifold(solid) if isinstance(solid, manifold3d.Manifold) else solid
    if seed is not None:
        mesh, _ = turned(mesh, seed)
    rays = Caster(mesh)
    bore = find_bore(mesh, rays)
    return bore, bore_shape(rays, bore)


@pytest.mark.parametrize("seed", [None, 1, 2])
@pytest.mark.parametrize(("inner", "outer", "height"), [(7.0, 8.2, 2.0), (8.6, 10.4, 4.0), (10.5, 13.0, 12.0)])
def test_a_tube_has_its_inner_diameter_its_length_and_no_curve(inner, outer, height, seed):
    """The inscribed polygon of a circle of 256 sides is R cos(pi / 256)."""
    bore, shape = seen(tube(inner, outer, height), seed)
    assert bore.diameter_mm == pytest.approx(2 * inner * math.cos(math.pi / FINE), rel=1e-5)
    assert shape.out_of_round_mm < 0.005
    assert shape.width_mm == pytest.approx(height, abs=1e-4)
    assert (shape.profile, shape.open_deg, shape.pierced_deg) == ("flat", 0, 0)


@pytest.mark.parametrize("seed", [None, 3])
@pytest.mark.parametrize(("long", "short"), [(9.0, 8.5), (9.5, 8.0), (8.7, 8.6)])
def test_an_oval_bore_has_its_axes_and_its_mean(long, short, seed):
    """Longest and shortest diameter of an ellipse; hammered round it keeps its girth, 4 a E(e²), nearly its mean radius."""
    bore, shape = seen(oval(long, short), seed)
    assert bore.diameter_mm == pytest.approx(2 * short, abs=0.003)
    assert shape.widest_mm == pytest.approx(2 * long, abs=0.005)
    assert shape.out_of_round_mm == pytest.approx(2 * (long - short), abs=0.006)
    girth = 4 * long * ellipe(1 - (short / long) ** 2)
    assert shape.mean_mm == pytest.approx(girth / math.pi, abs=0.05)
    assert np.dot(shape.widest_along, shape.narrowest_along) == pytest.approx(0, abs=0.05)


@pytest.mark.parametrize("seed", [None, 4])
@pytest.mark.parametrize(("width", "rise"), [(4.0, 0.25), (6.0, 0.5), (8.0, 0.4), (10.0, 1.2)])
def test_a_comfort_band_has_the_curve_that_it_was_drawn_with(width, rise, seed):
    """A circular arc over a chord w with the rise h has the radius (w² / 4 + h²) / (2 h)."""
    bore, shape = seen(comfort_band(width_mm=width, rise_mm=rise, thickness_mm=3.0), seed)
    assert bore.diameter_mm == pytest.approx(17.2, abs=0.02)
    assert shape.profile == "comfort"
    assert shape.rise_mm == pytest.approx(rise, rel=0.02)
    assert shape.curve_mm == pytest.approx((width**2 / 4 + rise**2) / (2 * rise), rel=0.02)
    assert shape.width_mm == pytest.approx(width, abs=1e-3)


@pytest.mark.parametrize("half_deg", [3.0, 10.0, 25.0, 40.0])
def test_a_c_shaped_ring_has_the_bore_of_the_whole_one_and_its_opening(half_deg):
    """A sector cut out of a tube: the circle is still held from all sides."""
    reach = 20 * math.tan(math.radians(half_deg))
    sector = manifold3d.Manifold.extrude(manifold3d.CrossSection([[(0, 0), (20, -reach), (20, reach)]]), 10).translate((0, 0, -5))
    bore, shape = seen(tube() - sector)
    assert bore.diameter_mm == pytest.approx(17.2, abs=0.01)
    assert shape.open_deg == pytest.approx(2 * half_deg, abs=2)
    assert shape.open_along == pytest.approx((1, 0, 0), abs=0.02)
    assert shape.out_of_round_mm < 0.01


@pytest.mark.parametrize("seed", [None, 5])
def test_a_split_shank_has_its_whole_width_and_is_pierced(seed):
    """Two rails of 2 mm, 2 mm apart, over the part of the circle that a slot of 12 mm leaves."""
    split = tube(height=6) - manifold3d.Manifold.cube((12, 20, 2), True).translate((0, 10, 0))
    bore, shape = seen(split, seed)
    assert bore.diameter_mm == pytest.approx(17.2, abs=0.01)
    assert shape.width_mm == pytest.approx(6, abs=1e-3)
    assert shape.open_deg == 0
    assert shape.pierced_deg == pytest.approx(2 * math.degrees(math.asin(6 / 10.4)), abs=2)


@pytest.mark.parametrize("tilt_deg", [0, 8, 35, 90])
def test_a_piece_for_two_fingers_has_both_bores(tilt_deg):
    """Two tubes that share a wall, the second turned about the line between their middles."""
    first, second = tube(8.6), tube(8.0, 10.0)
    joined = first + second.rotate((tilt_deg, 0, 0)).translate((19.0, 0, 0))
    hole = disc(8.0, 60).rotate((tilt_deg, 0, 0)).translate((19.0, 0, 0))
    mesh = from_manifold(joined - disc(8.6, 3.9) - hole)
    bores = find_bores(mesh, least_mm=12)
    assert [b.diameter_mm for b in bores] == pytest.approx([17.2, 16.0], abs=0.02)
    assert np.subtract(bores[1].centre, bores[0].centre)[0] == pytest.approx(19, abs=0.1)
    assert abs(np.dot(bores[0].axis, bores[1].axis)) == pytest.approx(math.cos(math.radians(tilt_deg)), abs=2e-3)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_as_many_bores_are_found_as_there_are(count):
    solid = sum((disc(10.4, 3).translate((19.0 * k, 0, 0)) for k in range(count)), manifold3d.Manifold())
    for k in range(count):
        solid -= disc(8.6 - 0.4 * k, 9).translate((19.0 * k, 0, 0))
    bores = find_bores(from_manifold(solid), least_mm=12)
    assert [b.diameter_mm for b in bores] == pytest.approx([17.2 - 0.8 * k for k in range(count)], abs=0.01)


def test_what_no_finger_goes_through_is_no_bore():
    """The eye of a jump ring, a bead, a bail, the cup of a bezel for a large stone, a stud."""
    section = manifold3d.CrossSection.circle(0.6, 32).translate((3.0, 0))
    eye = from_manifold(manifold3d.Manifold.revolve(section, 96))
    bead = from_manifold(manifold3d.Manifold.sphere(5, 64) - disc(2.2, 20))
    for mesh in (eye, bead, pendant_with_bail(), SHAPES["stud"].make()):
        assert find_bores(mesh, least_mm=12) == ()
    (only,) = find_bores(bezel_ring(stone_mm=7.0, bore_mm=19.0), least_mm=12)
    assert only.diameter_mm == pytest.approx(19, abs=0.02)


def test_a_cup_as_wide_as_a_finger_that_opens_into_the_bore_is_no_second_bore():
    """What would go through the cup meets the back of the shank."""
    ring = tube(10, 12, 16) + disc(8.5, 6).translate((0, 0, 12)).rotate((90, 0, 0))
    mesh = from_manifold((ring - disc(10, 40)) - disc(6.5, 30).translate((0, 0, 15)).rotate((90, 0, 0)))
    (only,) = find_bores(mesh, least_mm=12)
    assert only.diameter_mm == pytest.approx(20, abs=0.02)


# --- fitted ---


@pytest.mark.parametrize("by", [-0.25, 0.1, 0.3])
def test_the_metal_that_an_offset_takes_is_a_thin_ring(by):
    """pi ((r + d)² - r²) h, by the volume of the polygon's prism."""
    mesh = from_manifold(tube())
    bore = find_bore(mesh)
    moved = with_bore_moved(mesh, bore, by_mm=by, wall_mm=wall_behind(Caster(mesh), bore))
    inner = bore.diameter_mm / 2
    assert mesh.volume_mm3 - moved.volume_mm3 == pytest.approx(math.pi * ((inner + by) ** 2 - inner**2) * 4, rel=2e-3)
    assert find_bore(moved).diameter_mm == pytest.approx(bore.diameter_mm + 2 * by, abs=2e-3)


def test_the_offset_that_takes_a_tenth_of_the_metal_is_found_by_its_volume():
    """The root of the closed form is the offset that the mesh needs."""
    mesh = from_manifold(tube())
    bore = find_bore(mesh)
    inner, whole = bore.diameter_mm / 2, mesh.volume_mm3
    by = brentq(lambda d: math.pi * ((inner + d) ** 2 - inner**2) * 4 - 0.1 * whole, 0, 0.5)
    moved = with_bore_moved(mesh, bore, by_mm=by, wall_mm=1.8)
    assert moved.volume_mm3 == pytest.approx(0.9 * whole, rel=1e-3)


# --- whatever the triangles ---


def refaceted(mesh: Mesh) -> Mesh:
    """The same solid through the boolean engine, cut in two and put together again: other triangles."""
    box = manifold3d.Manifold.cube((200, 200, 200), True)
    solid = to_manifold(weld(mesh))
    plane = ((0.31, 0.17, 0.94), 0.7)
    half = solid.trim_by_plane(*plane)
    return from_manifold((half + (solid - half)) ^ box)


@pytest.mark.parametrize("name", RINGS)
def test_other_triangles_change_nothing(name):
    mesh = SHAPES[name].make()
    one, two = seen(mesh), seen(refaceted(mesh))
    assert two[0].diameter_mm == pytest.approx(one[0].diameter_mm, abs=2e-3)
    assert two[1].profile == one[1].profile
    assert two[1].width_mm == pytest.approx(one[1].width_mm, abs=0.02)
    assert two[1].rise_mm == pytest.approx(one[1].rise_mm, abs=0.01)
    assert two[1].out_of_round_mm == pytest.approx(one[1].out_of_round_mm, abs=0.01)


def test_a_bore_as_fine_as_100000_triangles_is_the_same_bore():
    coarse, fine = (find_bore(from_manifold(disc(10.4, 4, count=n) - disc(8.6, 6, count=n))) for n in (96, 4096))
    assert fine.diameter_mm == pytest.approx(17.2, abs=1e-4)
    assert coarse.diameter_mm == pytest.approx(17.2 * math.cos(math.pi / 96), abs=1e-4)
