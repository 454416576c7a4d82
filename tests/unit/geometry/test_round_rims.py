"""Rims that taper to a rounding, on flanges and lenses whose sections are drawn: width and length by construction."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import from_manifold
from tests.unit.geometry.test_edges import edge_of

RIM, REACH, STEM = 12.0, 3.0, 6.0


def revolved(section, turns=128):
    return from_manifold(manifold3d.Manifold.revolve(section, turns))


def flange(radius, *, angle_deg=25.0, corners=9):
    """A disc of 12 mm radius whose last 3 mm taper at an angle to a rounding of so many corners, tangent to both flanks."""
    half = np.radians(angle_deg / 2)
    turn = np.linspace(half - np.pi / 2, np.pi / 2 - half, corners)
    tip = np.column_stack((RIM - radius + radius * np.cos(turn), radius * np.sin(turn)))
    high = tip[-1, 1] + (tip[-1, 0] - RIM + REACH) * np.tan(half)
    foot = [(RIM - REACH, high), (0.0, high), (0.0, -high), (RIM - REACH, -high)]
    return revolved(manifold3d.CrossSection([[*map(tuple, tip), *foot]]))


def lens(radius, *, thick=2.0, wide=8.0):
    """Two arcs that meet in a rim of 8 mm radius, rounded: a smaller lens with the radius laid round it."""
    rise, inner = thick / 2 - radius, wide - radius
    arc = (inner**2 + rise**2) / (2 * rise)
    upper, lower = (manifold3d.CrossSection.circle(arc, 512).translate((0, way * (rise - arc))) for way in (1, -1))
    whole = (upper ^ lower).offset(radius, manifold3d.JoinType.Round, 2.0, 48)
    return revolved(whole ^ manifold3d.CrossSection.square((20, 20)).translate((0, -10)))


@pytest.mark.parametrize("corners", [9, 17])
@pytest.mark.parametrize("radius", [0.03, 0.06, 0.1])
def test_a_rounded_rim_is_twice_its_radius_wide_and_as_long_as_the_disc_is_round(radius, corners):
    found = edge_of(flange(radius, corners=corners))
    assert found.width_mm == pytest.approx(2 * radius, rel=0.03)
    assert found.length_mm == pytest.approx(2 * np.pi * RIM, rel=0.1)
    assert np.hypot(*found.at_mm[:2]) == pytest.approx(RIM - radius, abs=radius + 0.01)


@pytest.mark.parametrize("radius", [0.05, 0.1])
def test_the_rim_of_a_lens_is_measured_alike(radius):
    found = edge_of(lens(radius))
    assert found.width_mm == pytest.approx(2 * radius, rel=0.03)
    assert found.length_mm == pytest.approx(2 * np.pi * 8.0, rel=0.1)


def test_a_rounding_of_three_facets_is_told_though_it_is_rough():
    found = edge_of(flange(0.1, corners=4))
    assert 0.12 < found.width_mm < 0.21
    assert found.length_mm == pytest.approx(2 * np.pi * RIM, rel=0.5)


@pytest.mark.parametrize("angle_deg", [75.0, 90.0, 120.0])
def test_the_rounded_corner_of_something_blunt_is_no_rim(angle_deg):
    assert edge_of(flange(0.1, angle_deg=angle_deg)) is None


def test_the_round_edge_of_a_sheet_is_its_wall():
    """A disc of 0.4 mm with a half round all about: it does not widen behind its rim."""
    assert edge_of(flange(0.2, angle_deg=0.01, corners=25)) is None


def test_a_rounded_rim_thicker_than_asked_for_or_shorter_is_none():
    assert edge_of(flange(0.1), below=0.15) is None
    assert edge_of(flange(0.1), length=100.0) is None


@pytest.mark.parametrize("name", SHAPES)
def test_our_own_pieces_have_no_thin_rims(name):
    found = edge_of(SHAPES[name].make(), below=0.25)
    assert found is None
