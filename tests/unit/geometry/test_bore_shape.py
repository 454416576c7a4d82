"""What a bore looks like about its axis: roundness, curve, width, openings; each on a solid whose answer is known."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.bore import Cylinder, find_bore
from pourwell.geometry.bore_shape import AROUND_COUNT, across, bore_shape
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import SHAPES, bezel_ring, comfort_band, half_round_band, plain_band, signet
from pourwell.geometry.solidity import from_manifold

RINGS = [name for name, shape in SHAPES.items() if shape.is_ring]


def cylinder(radius, height=4.0, *, count=240):
    return manifold3d.Manifold.cylinder(height, radius, radius, count, True)


def tube(inner=8.6, outer=10.4, *, height=4.0, count=240):
    return cylinder(outer, height) - cylinder(inner, height + 2, count=count)


def shape_of(solid):
    mesh = solid if hasattr(solid, "faces") else from_manifold(solid)
    rays = Caster(mesh)
    return bore_shape(rays, find_bore(mesh, rays))


def test_directions_go_all_round_and_each_has_its_opposite():
    ways = across(np.array([0.6, 0.0, 0.8]))
    assert ways @ [0.6, 0.0, 0.8] == pytest.approx(0, abs=1e-12)
    assert np.linalg.norm(ways, axis=1) == pytest.approx(1)
    assert ways[AROUND_COUNT // 2 :] == pytest.approx(-ways[: AROUND_COUNT // 2])


@pytest.mark.parametrize("name", RINGS)
def test_our_own_rings_are_round_and_closed(name):
    shape = shape_of(SHAPES[name].make())
    assert shape.out_of_round_mm < 0.02
    assert shape.open_deg == 0
    assert shape.open_along is None
    assert shape.taper_mm < 0.01


@pytest.mark.parametrize(("name", "profile"), [(n, "comfort" if n == "comfort-band" else "flat") for n in RINGS])
def test_our_own_rings_are_flat_inside_but_for_one(name, profile):
    assert shape_of(SHAPES[name].make()).profile == profile


@pytest.mark.parametrize(("width", "edge"), [(2.0, 0.2), (4.0, 0.0), (6.5, 0.3), (12.0, 0.2)])
def test_the_width_of_a_band_is_as_drawn(width, edge):
    shape = shape_of(plain_band(width_mm=width, edge_mm=edge))
    assert (shape.width_mm, shape.width_least_mm, shape.width_most_mm) == pytest.approx((width,) * 3, abs=1e-6)
    assert shape.profile == "flat"
    assert shape.curve_mm is None


def test_a_shank_that_tapers_tells_its_narrowest_and_widest():
    shape = shape_of(signet(back_width_mm=3.4) if "back_width_mm" in signet.__kwdefaults__ else signet())
    assert shape.width_least_mm == pytest.approx(3.4, abs=0.05)
    assert shape.width_least_mm < shape.width_mm < shape.width_most_mm


@pytest.mark.parametrize(("width", "rise"), [(5.0, 0.4), (4.0, 0.2), (8.0, 0.9), (3.0, 0.3)])
def test_a_comfort_curve_is_told_with_its_rise_and_radius(width, rise):
    shape = shape_of(comfort_band(width_mm=width, rise_mm=rise, thickness_mm=2.4, edge_mm=0.2))
    assert shape.profile == "comfort"
    assert shape.rise_mm == pytest.approx(rise, rel=0.03)
    assert shape.curve_mm == pytest.approx((width**2 / 4 + rise**2) / (2 * rise), rel=0.03)


@pytest.mark.parametrize("edge", [0.05, 0.2, 0.35])
def test_rounded_edges_are_no_comfort_curve(edge):
    shape = shape_of(half_round_band(edge_mm=edge))
    assert shape.profile == "flat"
    assert abs(shape.rise_mm) < 0.03


def test_a_barrel_is_hollow_inside():
    barrel = cylinder(11, 6) - (manifold3d.Manifold.sphere(12, 200).scale((0.72, 0.72, 1.2)))
    shape = shape_of(barrel)
    assert shape.profile == "hollow"
    assert shape.rise_mm < -0.05


def test_a_cone_is_tapered():
    cone = cylinder(10.4, 6) - manifold3d.Manifold.cylinder(6.0, 8.4, 8.9, 240, True)
    shape = shape_of(cone)
    assert shape.profile == "tapered"
    assert shape.taper_mm == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize("sides", [8, 12, 16])
def test_facets_make_a_bore_out_of_round_by_what_they_cut_off(sides):
    shape = shape_of(tube(count=sides))
    assert shape.out_of_round_mm == pytest.approx(2 * 8.6 * (1 - np.cos(np.pi / sides)), abs=0.02)


def test_a_notch_on_one_side_is_no_oval():
    notched = tube() - manifold3d.Manifold.cube((3, 2, 10), True).translate((0, 8.6, 0))
    assert shape_of(notched).out_of_round_mm < 0.01


def test_the_cup_of_a_bezel_is_an_opening_and_no_oval():
    shape = shape_of(bezel_ring())
    assert shape.out_of_round_mm < 0.02
    assert 10 < shape.pierced_deg < 40
    assert shape.width_mm == pytest.approx(2.0, abs=0.01)
    assert shape.width_most_mm > 5


@pytest.mark.parametrize("gap", [0.4, 2.0, 6.0])
def test_a_cut_shank_is_open_over_the_angle_of_the_cut(gap):
    cut = tube() - manifold3d.Manifold.cube((gap, 20, 10)).translate((-gap / 2, 0, -5))
    shape = shape_of(cut)
    assert shape.open_deg == pytest.approx(np.degrees(2 * np.arcsin(gap / 2 / 10.4)), abs=2), "all the way through"
    assert shape.open_along == pytest.approx((0, 1, 0), abs=0.03)
    assert shape.out_of_round_mm < 0.01


def test_of_two_openings_the_wider_is_pointed_at():
    cut = tube() - manifold3d.Manifold.cube((2, 20, 10)).translate((-1, 0, -5))
    shape = shape_of(cut - manifold3d.Manifold.cube((20, 4, 10)).translate((0, -2, -5)))
    assert shape.open_along == pytest.approx((1, 0, 0), abs=0.03)
    assert shape.open_deg == pytest.approx(np.degrees(2 * np.arcsin(1 / 10.4) + 2 * np.arcsin(2 / 10.4)), abs=3)


def test_a_split_shank_is_pierced_and_not_open():
    split = tube(height=6) - manifold3d.Manifold.cube((12, 20, 2), True).translate((0, 10, 0))
    shape = shape_of(split)
    assert shape.open_deg == 0
    assert shape.pierced_deg == pytest.approx(np.degrees(2 * np.arcsin(6 / 10.4)), abs=3), "all the way through"
    assert shape.width_mm == pytest.approx(6, abs=1e-6)
    assert shape.profile == "flat"


def test_where_there_is_no_metal_there_is_no_shape():
    assert bore_shape(Caster(from_manifold(tube())), Cylinder(centre=(0, 0, 50), axis=(1, 0, 0), diameter_mm=17.2)) is None


def test_both_engines_of_rays_see_the_same_bore():
    mesh = comfort_band(width_mm=5.0)
    bore = find_bore(mesh)
    fast, slow = (bore_shape(Caster(mesh, engine=engine), bore) for engine in ("embree", "manifold"))
    assert slow.rise_mm == pytest.approx(fast.rise_mm, abs=1e-3)
    assert slow.width_mm == pytest.approx(fast.width_mm, abs=1e-3)
    assert slow.out_of_round_mm == pytest.approx(fast.out_of_round_mm, abs=1e-3)
