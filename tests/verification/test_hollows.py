"""Hollows behind narrow necks against closed forms, against the layers of a print, and against their own scaling.

Tolerances: a volume is a count of cells, right to about a layer of cells with either sign over the hollow's face; a width is found
between points that are drawn together to a few thousandths of a millimetre.
"""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.hollows import hollows
from pourwell.geometry.layers import layers
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold

Solid = manifold3d.Manifold
NECK_MM, LEAST_MM3 = 2.0, 3.0


def found(solid, scale=1.0):
    return hollows(from_manifold(solid).scaled(scale), neck_mm=NECK_MM * scale, least_mm3=LEAST_MM3 * scale**3)


def hole(width, *, sides=48):
    return Solid.cylinder(30, width / 2, width / 2, sides).translate((0.3, -0.2, -30))


def box(outer, wall):
    inner = tuple(side - 2 * wall for side in outer)
    return Solid.cube(outer, True) - Solid.cube(inner, True), float(np.prod(inner))


def cone_hole(narrow, wide):
    """A countersunk hole: wide outside, narrow within."""
    return Solid.cylinder(1.5, wide / 2, narrow / 2, 48).translate((0.3, -0.2, -5.5)) + hole(narrow)


@pytest.mark.parametrize("outer", [(8, 8, 8), (14, 7, 6), (20, 5, 5)])
def test_a_hollow_box_is_the_product_of_its_inner_sides(outer):
    solid, volume = box(outer, 1.0)
    (hollow,) = found(solid - hole(0.8))
    assert hollow.volume_mm3 == pytest.approx(volume, rel=0.06)
    assert hollow.width_mm == pytest.approx(min(outer) - 2, abs=0.4), "the largest ball touches the nearest walls"


@pytest.mark.parametrize("sides", [3, 4, 6, 12])
def test_a_hole_of_flat_sides_passes_the_ball_in_its_incircle(sides):
    """The incircle of a polygon of n sides about radius r has radius r cos(pi / n)."""
    solid, _ = box((9, 9, 9), 1.2)
    (hollow,) = found(solid - hole(1.6, sides=sides))
    assert hollow.neck_mm == pytest.approx(1.6 * np.cos(np.pi / sides), abs=0.03)


def test_a_countersunk_hole_is_as_wide_as_its_narrowest_place():
    solid = Solid.sphere(5, 48) - Solid.sphere(3.5, 48) - cone_hole(0.7, 3.0)
    (hollow,) = found(solid)
    assert hollow.neck_mm == pytest.approx(0.7 * np.cos(np.pi / 48), abs=0.03)


@pytest.mark.parametrize("scale", [0.8, 1.7])
def test_widths_grow_with_the_piece_and_volumes_with_its_cube(scale):
    solid = Solid.sphere(5, 48) - Solid.sphere(4, 48) - hole(1.0)
    (one,), (other,) = found(solid), found(solid, scale)
    assert other.neck_mm == pytest.approx(scale * one.neck_mm, abs=0.02)
    assert other.volume_mm3 == pytest.approx(scale**3 * one.volume_mm3, rel=0.02)


@pytest.mark.parametrize("axis", [(1, 0, 0), (0, 1, 0), (0, 0, 1)])
def test_a_mirrored_piece_has_the_same_hollow_at_the_mirrored_place(axis):
    solid = Solid.sphere(5, 48) - Solid.sphere(4, 48) - hole(1.0).rotate((25, 40, 0))
    (one,), (other,) = found(solid), found(solid.mirror(axis))
    assert other.volume_mm3 == pytest.approx(one.volume_mm3, rel=0.02)
    assert other.neck_mm == pytest.approx(one.neck_mm, abs=0.02)
    sign = 1 - 2 * np.array(axis)
    assert np.array(other.openings[0].at_mm) == pytest.approx(sign * np.array(one.openings[0].at_mm), abs=1.2), "along the hole"


def test_the_layers_of_a_print_hold_as_much_resin_as_the_hollow_has_room():
    """Second opinion: with its hole downward the hollow is a cup that the film seals, its volume from exact sections."""
    solid = Solid.sphere(5, 48) - Solid.sphere(4, 48) - Solid.cylinder(30, 0.4, 0.4, 48)
    mesh = from_manifold(solid)
    (hollow,) = found(solid)
    cup = layers(mesh, (0, 0, 1), layer_mm=0.05).cups[0]
    assert hollow.volume_mm3 == pytest.approx(cup.volume_mm3, rel=0.03)


def test_the_wall_and_the_hollow_together_are_the_outer_ball():
    solid = Solid.sphere(5, 48) - Solid.sphere(4, 48) - hole(0.6)
    (hollow,) = found(solid)
    plug = np.pi * 0.3**2 * 1.0
    assert from_manifold(solid).volume_mm3 + hollow.volume_mm3 + plug == pytest.approx(Solid.sphere(5, 48).volume(), rel=0.01)


def test_the_order_of_triangles_and_corners_changes_nothing():
    mesh = from_manifold(Solid.sphere(5, 48) - Solid.sphere(4, 48) - hole(0.9))
    order = np.random.default_rng(4).permutation(len(mesh.vertices))
    place = np.argsort(order)
    mixed = Mesh(mesh.vertices[order], place[mesh.faces][::-1])
    (one,), (other,) = (hollows(m, neck_mm=NECK_MM, least_mm3=LEAST_MM3) for m in (mesh, mixed))
    assert other.volume_mm3 == pytest.approx(one.volume_mm3, rel=1e-6)
    assert other.neck_mm == pytest.approx(one.neck_mm, abs=1e-6)
