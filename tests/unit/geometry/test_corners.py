"""Sharp inner corners: what is one, how sharp and how long it is told, wherever and however large the piece is."""

import numpy as np
import pytest

from pourwell.geometry.corners import Corners, sharp_corners
from pourwell.geometry.rolling import Places
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.thickness import spread
from pourwell.geometry.touching import Touching
from tests.unit.geometry.distance_samples import icosphere, turned
from tests.unit.geometry.feature_pieces import Solid, block, notch, refined


def corners_of(mesh, *, sharp_deg=45.0, radius_mm=0.1):
    """The sharp corners of a mesh; balls are looked for up to four millimetres, or as much more as the corner is larger."""
    points, face, area = spread(mesh)
    touching = Touching(mesh)
    balls = touching.balls(points, face, outside=True, most_mm=40 * radius_mm)
    places = Places(points=points, face=face, area_mm2=area, touch=balls, ball_mm=40 * radius_mm)
    return sharp_corners(places, touching, sharp_deg=sharp_deg, radius_mm=radius_mm)


def cut(angle, **looked):
    """The corners of a block with a notch."""
    return corners_of(refined(block(notch(angle)), 2), **looked)


def test_the_sharpest_of_several_is_the_most_acute_and_of_none_there_is_none():
    three = Corners(at_mm=np.zeros((3, 3)), angle_deg=np.array([40.0, 22.0, 31.0]), length_mm=np.ones(3))
    assert three.sharpest() == 1
    assert Corners(at_mm=np.empty((0, 3)), angle_deg=np.empty(0), length_mm=np.empty(0)).sharpest() is None


def test_what_counts_as_sharp_is_what_was_asked():
    assert cut(30, sharp_deg=28.0).sharpest() is None
    assert cut(30, sharp_deg=32.0).sharpest() is not None
    assert cut(60, sharp_deg=70.0).angle_deg == pytest.approx(60, abs=0.5)


def test_a_slit_is_no_corner():
    """At 10 degrees its sides face each other: the gap tells of it."""
    assert cut(10).sharpest() is None
    assert cut(15).sharpest() is not None


def test_a_corner_lies_on_the_line_in_which_its_faces_meet():
    corners = cut(30)
    assert np.abs(corners.at_mm[:, 1]).max() < 1e-4
    assert np.abs(corners.at_mm[:, 2]).max() < 1e-4
    assert np.ptp(corners.at_mm[:, 0]) > 12


@pytest.mark.parametrize("seed", range(3))
def test_a_rigid_motion_changes_neither_angle_nor_length(seed):
    mesh, move = refined(block(notch(30)), 2), np.column_stack((turned(np.random.default_rng(seed)), (-30, 4, 9)))
    here, there = corners_of(mesh), corners_of(mesh.moved(move))
    assert there.angle_deg == pytest.approx(30, abs=0.5)
    assert there.length_mm.sum() == pytest.approx(here.length_mm.sum(), rel=0.02)


@pytest.mark.parametrize("factor", [0.5, 3.0])
def test_a_larger_piece_has_longer_corners_as_sharp(factor):
    """Asked with a small ball as much larger. Samples lie closer on a small piece, so that the length is told about alike only."""
    mesh = refined(block(notch(30)), 2)
    here = corners_of(mesh)
    there = corners_of(mesh.scaled(factor), radius_mm=0.1 * factor)
    assert there.angle_deg == pytest.approx(30, abs=0.5)
    assert there.length_mm.sum() == pytest.approx(factor * here.length_mm.sum(), rel=0.25)


def test_a_rounding_is_one_by_the_radius_asked_for():
    """A corner rounded by 0.25 is blunt to a grain of 0.1 and sharp to one of 0.5."""
    along = Solid.cylinder(40, 0.25, 0.25, 48, True).rotate((0, 90, 0)).translate((0, 0.3, 0.3))
    mesh = refined(block(Solid.batch_hull([along, Solid.cube((40, 1.4, 1), True).translate((0, 0.4, 3))])), 2)
    assert corners_of(mesh, radius_mm=0.1).sharpest() is None
    assert corners_of(mesh, radius_mm=0.5).sharpest() is not None


def test_two_corners_are_twice_as_long_as_one():
    one = refined(block(notch(30).translate((0, -2, 0))), 2)
    two = refined(block(notch(30).translate((0, -2, 0)), notch(30).translate((0, 2, 0))), 2)
    assert corners_of(two).length_mm.sum() == pytest.approx(2 * corners_of(one).length_mm.sum(), rel=0.1)


def test_outer_edges_and_round_pieces_have_none_however_acute():
    knife = np.array([[x, y, z] for x in (-6, 6) for y, z in ((-4, 0), (4, 0), (4, 2))], dtype=float)
    for solid in (Solid.hull_points(knife), Solid.cylinder(6, 2, 0, 48)):
        assert corners_of(refined(from_manifold(solid), 2)).sharpest() is None
    assert corners_of(icosphere(3.0, halvings=3)).sharpest() is None


@pytest.mark.parametrize("name", SHAPES)
def test_our_own_pieces_have_next_to_no_sharp_inner_corner(name):
    assert corners_of(SHAPES[name].make()).length_mm.sum() < 1.0
