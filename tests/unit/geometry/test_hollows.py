"""Hollows behind narrow necks, against balls, tubes and cubes whose volumes and openings are known; nothing on open pieces."""

from functools import cache

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.hollows import hollows
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import NotSolidError, from_manifold

Solid = manifold3d.Manifold
NECK_MM, LEAST_MM3 = 2.0, 3.0


def found(solid, *, neck_mm=NECK_MM, least_mm3=LEAST_MM3):
    mesh = solid if isinstance(solid, Mesh) else from_manifold(solid)
    return hollows(mesh, neck_mm=neck_mm, least_mm3=least_mm3)


def bead(outer=5.0, inner=4.0):
    return Solid.sphere(outer, 48) - Solid.sphere(inner, 48)


def drill(width, length, at=(0.0, 0.0, 0.0)):
    return Solid.cylinder(length, width / 2, width / 2, 48).translate(at)


def round_width(drawn, sides=48):
    """Between opposite sides of a hole of so many sides."""
    return drawn * np.cos(np.pi / sides)


@cache
def pierced(width):
    """A hollow bead with one hole, downward."""
    return found(bead() - drill(width, 20, (0, 0, -20)))


@pytest.mark.parametrize("width", [0.5, 1.0, 1.5])
def test_a_hollow_ball_has_its_volume_and_the_width_of_its_hole(width):
    (hollow,) = pierced(width)
    assert hollow.volume_mm3 == pytest.approx(Solid.sphere(4.0, 48).volume(), rel=0.02), "cells are counted: their size sets it"
    assert hollow.width_mm == pytest.approx(8.0, abs=0.4), "half the diagonal of a cell, twice"
    assert len(hollow.openings) == 1
    assert hollow.neck_mm == pytest.approx(round_width(width), abs=0.02), "a disc of points, drawn closer three times"


def test_the_opening_is_where_the_hole_is():
    (hollow,) = pierced(1.0)
    x, y, z = hollow.openings[0].at_mm
    assert np.hypot(x, y) < 0.1
    assert -5.2 < z < -3.8, "within the wall, give or take a cell"


def test_a_wide_hole_opens_it():
    assert pierced(2.4) == ()


def test_what_counts_as_wide_is_the_callers_to_say():
    assert len(found(bead() - drill(2.4, 20, (0, 0, -20)), neck_mm=3.0)) == 1
    assert found(bead() - drill(1.5, 20, (0, 0, -20)), neck_mm=1.2) == ()


def test_a_hollow_less_than_the_least_is_left_out():
    assert found(bead() - drill(1.0, 20, (0, 0, -20)), least_mm3=400.0) == ()


def test_a_pinhole_finer_than_the_cells_leaves_a_hollow_with_no_opening_that_was_found():
    (hollow,) = found(bead() - Solid.cylinder(20, 0.01, 0.01, 6).translate((0.07, 0.05, -20)))
    assert hollow.openings == ()
    assert hollow.neck_mm == hollow.least_mm > 0.02
    assert hollow.volume_mm3 == pytest.approx(Solid.sphere(4.0, 48).volume(), rel=0.02)


def test_a_void_without_any_opening_is_not_told_here():
    assert found(bead()) == ()


def test_a_void_beside_a_pierced_hollow_is_left_to_the_one_who_counts_voids():
    two = bead().translate((-4.7, 0, 0)) - drill(0.8, 20, (-4.7, 0, -20))
    both = two + Solid.sphere(5.0, 48).translate((4.7, 0, 0)) - Solid.sphere(3.0, 48).translate((4.7, 0, 0))
    (hollow,) = found(both)
    assert hollow.at_mm[0] == pytest.approx(-4.7, abs=0.3)


def test_two_holes_are_two_openings_the_widest_first():
    (hollow,) = found(bead() - drill(0.8, 20, (0, 0, -20)) - drill(1.4, 20, (0, 0, 0)))
    assert [o.width_mm for o in hollow.openings] == pytest.approx([round_width(1.4), round_width(0.8)], abs=0.02)
    assert hollow.openings[0].at_mm[2] > 3 > -3 > hollow.openings[1].at_mm[2]


def test_more_holes_than_are_looked_for_leave_the_volume_in_the_ball():
    solid = bead()
    for k in range(8):
        solid -= drill(0.8, 20).rotate((0, 90, 0)).rotate((0, 0, 45 * k + 3))
    (hollow,) = found(solid)
    assert len(hollow.openings) == 6
    assert hollow.volume_mm3 == pytest.approx(Solid.sphere(4.0, 48).volume(), rel=0.1), "balls on cells: half a cell all round"


def test_two_balls_with_a_hole_each_are_two_hollows_the_larger_first():
    small = bead(4.0, 3.0).translate((12, 0, 0)) - drill(1.2, 20, (12, 0, 0))
    one, two = found(bead() - drill(0.8, 20, (0, 0, -20)) + small)
    assert one.volume_mm3 > two.volume_mm3
    assert (one.neck_mm, two.neck_mm) == pytest.approx((round_width(0.8), round_width(1.2)), abs=0.02)


def tube(*, bore, length, holes):
    """A tube along z with capped ends, each cap with a hole of its own width, or none for 0."""
    solid = drill(bore + 2, length) - drill(bore, length - 2, (0, 0, 1))
    for width, z in zip(holes, (-1, length - 2), strict=True):
        solid -= drill(width, 4, (0, 0, z)) if width else Solid()
    return solid


@pytest.mark.parametrize("holes", [(0.8, 0.0), (0.6, 1.2)])
def test_a_capped_tube_has_the_volume_of_its_bore_and_the_holes_of_its_caps(holes):
    (hollow,) = found(tube(bore=3.0, length=14.0, holes=holes))
    assert hollow.volume_mm3 == pytest.approx(drill(3.0, 12.0).volume(), rel=0.05)
    wanted = sorted((round_width(width) for width in holes if width), reverse=True)
    assert [o.width_mm for o in hollow.openings] == pytest.approx(wanted, abs=0.02)


def test_an_open_tube_is_no_hollow_and_a_capped_one_with_a_hole_as_wide_as_its_bore_is_none():
    assert found(drill(4.0, 12.0) - drill(2.4, 14.0, (0, 0, -1))) == ()
    assert found(drill(3.0, 12.0) - drill(1.2, 14.0, (0, 0, -1))) == (), "narrow all the way: a passage, without a room behind it"


def test_a_slit_is_as_wide_as_the_ball_that_passes():
    (hollow,) = found(bead() - Solid.cube((0.6, 3.0, 6.0), True).translate((0, 0, -5)))
    assert hollow.neck_mm == pytest.approx(0.6, abs=0.02)


def test_turning_the_piece_changes_neither_volume_nor_width():
    (straight,) = pierced(1.0)
    turned = (bead() - drill(1.0, 20, (0, 0, -20))).rotate((31, 17, 53)).translate((3, -40, 7))
    (askew,) = found(turned)
    assert askew.volume_mm3 == pytest.approx(straight.volume_mm3, rel=0.02)
    assert askew.neck_mm == pytest.approx(straight.neck_mm, abs=0.02)


def test_smaller_triangles_change_nothing():
    solid = bead() - drill(1.0, 20, (0, 0, -20))
    (coarse,), (fine,) = found(solid), found(solid.refine(2))
    assert fine.volume_mm3 == pytest.approx(coarse.volume_mm3, rel=1e-3)
    assert fine.neck_mm == pytest.approx(coarse.neck_mm, abs=1e-3)


@pytest.mark.parametrize("name", SHAPES)
def test_none_of_our_own_pieces_has_one(name):
    assert found(SHAPES[name].make()) == ()


def cup():
    return Solid.cylinder(3.0, 3.5, 3.5, 48) - Solid.cylinder(3.0, 2.6, 2.6, 48).translate((0, 0, 1))


def chain():
    """Four links through each other."""
    points = [[3 + 0.6 * np.cos(t), 0.6 * np.sin(t)] for t in np.linspace(0, 2 * np.pi, 25)[:-1]]
    link = Solid.revolve(manifold3d.CrossSection([points]), 48)
    links = [link.rotate((90 * (k % 2), 0, 0)).translate((4.2 * k, 0, 0)) for k in range(4)]
    return links[0] + links[1] + links[2] + links[3]


def band(bore=17.2, wall=1.8, width=6.0):
    return Solid.cylinder(width, bore / 2 + wall, bore / 2 + wall, 96, True) - Solid.cylinder(
        width + 1, bore / 2, bore / 2, 96, True
    )


def band_with_holes():
    solid = band()
    for k in range(12):
        solid -= drill(1.4, 20).rotate((90, 0, 0)).rotate((0, 0, 30 * k))
    return solid


def box_open_below():
    return Solid.cube((14, 12, 3), True) - Solid.cube((12, 10, 3), True).translate((0, 0, -1))


def solitaire():
    """A band with a collet and four prongs."""
    solid = band(width=2.2).rotate((90, 0, 0))
    head = Solid.cylinder(2, 2.6, 2.6, 48) - Solid.cylinder(4, 1.8, 1.8, 48).translate((0, 0, -1))
    for x, y in ((1.8, 1.8), (-1.8, 1.8), (-1.8, -1.8), (1.8, -1.8)):
        head += Solid.cylinder(5, 0.5, 0.5, 24).translate((x, y, 0))
    return solid + head.translate((0, 0, 9.6))


@pytest.mark.parametrize("make", [cup, chain, band, band_with_holes, box_open_below, solitaire])
def test_open_pieces_have_none(make):
    assert found(make()) == ()


def test_a_solid_has_none_and_nothing_has_none():
    assert found(Solid.cube((5, 5, 5))) == ()
    assert found(Mesh(np.zeros((0, 3)), np.zeros((0, 3)))) == ()


def test_a_surface_that_encloses_nothing_is_refused():
    whole = from_manifold(bead() - drill(1.0, 20, (0, 0, -20)))
    with pytest.raises(NotSolidError):
        found(Mesh(whole.vertices, whole.faces[5:]))
