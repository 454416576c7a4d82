"""Printing against closed forms, a second engine's sections, and a reckoning by hand."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.layers import layers, upright
from pourwell.geometry.orient import proud
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import to_manifold
from pourwell.materials.studio import Printer
from pourwell.steps.pattern.print_plan import stair_width_mm
from pourwell.steps.pattern.print_time import print_time
from tests.unit.geometry.distance_samples import box, icosphere, swept
from tests.unit.geometry.printed_samples import block, cylinder, mesh, placed, turn_by

UP = (0, 0, 1)


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("up", [(0, 0, 1), (0.2, -0.7, 0.4)])
def test_every_section_has_the_area_that_the_boolean_engine_finds(name, up):
    """A second opinion: the engine slices the turned solid by its own code; areas agree to a part in a million of the largest."""
    what = SHAPES[name].make()
    cut = layers(what, up, layer_mm=0.25)
    turned = what.vertices @ upright(up).T
    solid = to_manifold(type(what)(turned - [0, 0, turned[:, 2].min()], what.faces))
    theirs = [solid.slice((k + 0.5) * 0.25).area() for k in range(len(cut.area_mm2))]
    np.testing.assert_allclose(cut.area_mm2, theirs, atol=1e-6 * max(theirs))


def test_sections_of_a_cone_shrink_as_the_square():
    """A cone of radius r and height h: area pi r^2 (1 - z/h)^2 at every height; 96 sides take sin(x)/x off that."""
    cone = mesh(cylinder(5, low=0, high=10, tip=0))
    cut = layers(cone, UP, layer_mm=0.1)
    z = (np.arange(100) + 0.5) * 0.1
    sides = 96 / (2 * np.pi) * np.sin(2 * np.pi / 96)
    np.testing.assert_allclose(cut.area_mm2, np.pi * 25 * (1 - z / 10) ** 2 * sides, rtol=1e-9)
    assert cut.islands == cut.cups == ()


def test_a_cone_on_its_tip_stands_on_it_and_a_cone_that_hangs_does_not_hold_resin():
    cone = mesh(cylinder(5, low=0, high=10, tip=0))
    assert layers(cone, (0, 0, -1), layer_mm=0.1).islands == ()
    assert layers(cone, (0, 0, -1), layer_mm=0.1).cups == ()


@pytest.mark.parametrize("layer_mm", [0.2, 0.1, 0.05])
def test_layers_hold_the_volume_to_the_second_order(layer_mm):
    """The midpoint rule on a sphere: each layer is short by the same, pi layer^2 / 12 times its height in all.

    Integral of pi (r^2 - z^2) over layers of thickness t by their middles: 4/3 pi r^3 + pi t^2 2r / 12; the mesh's own volume takes
    the place of the sphere's.
    """
    ball = icosphere(2.0, halvings=5)
    cut = layers(ball, (0.3, 0.2, 0.9), layer_mm=layer_mm)
    excess = cut.volume_mm3 - ball.volume_mm3
    assert excess == pytest.approx(np.pi * layer_mm**2 * 4 / 12, rel=0.35), f"observed {excess:.2e}"


def test_layers_of_a_torus_hold_what_pappus_says():
    """Volume 2 pi^2 R r^2, from any side, within the fineness of the mesh and of the layers."""
    turns = np.arange(64) * (2 * np.pi / 64)
    torus = swept(np.stack((np.cos(turns), np.sin(turns)), axis=1), around=256, radius=8.0)
    for up in (UP, (1, 0, 0), (1, 1, 1)):
        cut = layers(torus, up, layer_mm=0.05)
        assert cut.volume_mm3 == pytest.approx(2 * np.pi**2 * 8, rel=0.003)
        assert cut.cups == cut.islands == ()


@pytest.mark.parametrize("slope_deg", [5.0, 15.0, 30.0, 45.0, 70.0])
def test_stairs_of_a_wedge_are_a_layer_over_the_tangent_wide(slope_deg):
    """By definition of the slope, and as counted: outlines of neighbouring layers of a wedge lie layer / tan(slope) apart."""
    slope, layer_mm = np.deg2rad(slope_deg), 0.05
    run = 3.0 / np.tan(slope)
    corners = [(x, y, z) for x, z in ((0, 0), (run, 0), (0, 3)) for y in (0, 2)]
    wedge = mesh(manifold3d.Manifold.hull_points(np.array(corners, dtype=float)))
    cut = layers(wedge, UP, layer_mm=layer_mm)
    counted = -np.diff(cut.area_mm2) / 2  # 2 mm deep
    rise = proud(wedge, UP)
    sloping = (rise > 0) & (rise < 0.999)
    np.testing.assert_allclose(counted, layer_mm / np.tan(slope), rtol=1e-6)
    np.testing.assert_allclose(rise[sloping], np.cos(slope), rtol=1e-9)
    assert stair_width_mm(layer_mm, float(np.cos(slope))) == pytest.approx(layer_mm / np.tan(slope))


def test_upright_faces_have_no_stairs_and_level_ones_endless():
    assert stair_width_mm(0.05, 0.0) == 0.0
    assert stair_width_mm(0.05, 1.0) == np.inf


@pytest.mark.parametrize("tilt_deg", [0.0, 10.0, 25.0])
def test_a_tilted_cup_holds_what_a_tilted_glass_of_water_does(tilt_deg):
    """A round glass of inner radius r and depth d leaned by a, while its floor stays wet: pi r^2 (d - r tan a)."""
    glass = mesh(cylinder(3, low=0, high=6, around=256) - cylinder(2, low=1, high=7, around=256))
    tilt = np.deg2rad(tilt_deg)
    cups = layers(glass, (np.sin(tilt), 0, np.cos(tilt)), layer_mm=0.02).cups
    assert [c.kind for c in cups] == ["suction"]
    assert cups[0].volume_mm3 == pytest.approx(np.pi * 4 * (5 - 2 * np.tan(tilt)), rel=0.01)


def test_a_bowl_of_a_half_ball_holds_half_a_ball():
    """2/3 pi r^3."""
    inner = manifold3d.Manifold.sphere(3, 256)
    bowl = mesh(cylinder(4, low=-4, high=0) - inner)
    (held,) = layers(bowl, UP, layer_mm=0.02).cups
    assert held.volume_mm3 == pytest.approx(2 / 3 * np.pi * 27, rel=0.005)


def test_the_flat_ceiling_of_a_bridge_is_found_exactly():
    """A bridge of 8 by 2 mm between two piers: 16 mm2 with nothing beneath, at the height of the piers."""
    bridge = mesh(block((0, 0, 0), (1, 2, 3)) + block((9, 0, 0), (10, 2, 3)) + block((0, 0, 3), (10, 2, 4)))
    cut = layers(bridge, UP, layer_mm=0.05)
    assert cut.ceiling_mm2 == pytest.approx(16, rel=1e-3)
    assert cut.ceiling_height_mm == pytest.approx(3)


def test_printing_time_by_hand():
    """22 mm on 5 mm supports in layers of 0.05: 540 layers of 2.5 + 7 s and 5 of them 27.5 s more: 5130 + 137.5 s."""
    time = print_time(22.0, Printer())
    assert (time.layers_count, time.bottom_layers_count) == (540, 5)
    assert time.print_min == pytest.approx((540 * 9.5 + 5 * 27.5) / 60)
    assert time.print_min == pytest.approx(87.79, abs=0.01)


def test_printing_time_of_a_ring_lies_where_the_trade_s_rule_of_thumb_does():
    """Common practice, no source: 8 to 12 s a layer, so a ring 22 mm high at 0.05 mm takes 1 to 1.5 h."""
    assert 60 <= print_time(22.0, Printer(stand_mm=0.0)).print_min <= 90


def test_fewer_layers_than_bottom_layers_all_get_the_long_light():
    time = print_time(0.1, Printer(stand_mm=0.0, layer_mm=0.05, light_s=2, lift_s=6, bottom_light_s=30))
    assert (time.layers_count, time.bottom_layers_count) == (2, 2)
    assert time.print_min == pytest.approx(2 * 36 / 60)


def test_where_a_place_is_told_stays_with_the_piece():
    """The leg of a table, 2 mm short, wherever the table is and whichever way it is turned."""
    short = mesh(block((0, 0, 5), (10, 6, 6)) + block((0, 0, 0), (1, 1, 5)) + block((9, 5, 2), (10, 6, 5)))
    turn, shift = turn_by((1, 2, -1), 0.9), (4.0, -7.0, 2.0)
    (island,) = layers(placed(short, turn, shift), turn @ UP, layer_mm=0.1).islands
    np.testing.assert_allclose(island.at_mm, turn @ (9.5, 5.5, 2.05) + shift, atol=0.06)


def test_a_layer_of_a_box_at_any_lean_is_the_known_prism():
    """A square prism leaned by a about y: away from its ends each section is side^2 / cos a."""
    prism = box((0, 0, 0), (2, 2, 30))
    tilt = np.deg2rad(35)
    cut = layers(prism, (np.sin(tilt), 0, np.cos(tilt)), layer_mm=0.1)
    inner = cut.area_mm2[30:-30]
    np.testing.assert_allclose(inner, 4 / np.cos(tilt), rtol=1e-9)
