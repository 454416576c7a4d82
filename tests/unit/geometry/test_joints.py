"""Bars and domes: the volumes of their formulas, whatever their facets."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.geometry.joints import area_true_radius_mm, bar, cap_height_mm, cap_volume_mm3, dome

SIZES = st.floats(0.5, 20)
PLACES = st.tuples(*[st.floats(-30, 30)] * 3)


@given(start=PLACES, way=st.tuples(*[st.floats(0.5, 9)] * 3), diameter=SIZES, sides=st.integers(3, 90))
def test_a_bar_has_the_volume_of_its_cylinder(start, way, diameter, sides):
    end = tuple(a + b for a, b in zip(start, way, strict=True))
    length = sum(b * b for b in way) ** 0.5
    assert bar(start, end, diameter_mm=diameter, sides_count=sides).volume() == pytest.approx(pi * diameter**2 / 4 * length)


def test_a_bar_ends_where_it_is_told_to():
    box = bar((0, 0, 2), (0, 0, 9), diameter_mm=3).bounding_box()
    assert (box[2], box[5]) == pytest.approx((2, 9))
    assert box[3] == pytest.approx(1.5, rel=0.003)


def test_the_polygon_of_a_circles_area_is_a_little_wider_than_it():
    assert 1 < area_true_radius_mm(1.0, 48) < 1.002


@given(half=SIZES, share=st.floats(0.1, 1))
def test_a_dome_has_the_volume_of_its_cap(half, share):
    cap = dome(diameter_mm=2 * half, height_mm=share * half, foot_mm=8)
    assert cap.volume() == pytest.approx(cap_volume_mm3(2 * half, share * half))
    assert cap.bounding_box()[2] == pytest.approx(8)
    assert cap.bounding_box()[5] == pytest.approx(8 + share * half)


def test_a_half_ball_is_a_cap():
    assert cap_volume_mm3(20, 10) == pytest.approx(2 / 3 * pi * 1000)


def test_a_cap_falls_from_its_crown_to_nothing_at_its_foot():
    heights = [cap_height_mm(30, 12, away_mm=away) for away in (0, 5, 10, 14.9, 15, 20)]
    assert heights[0] == pytest.approx(12)
    assert heights == sorted(heights, reverse=True)
    assert heights[-2:] == [0, 0]


def test_the_height_of_a_cap_is_that_of_its_solid():
    solid = dome(diameter_mm=30, height_mm=12, foot_mm=0)
    column = bar((6, 0, -1), (6, 0, 30), diameter_mm=0.01)
    assert (solid ^ column).bounding_box()[5] == pytest.approx(cap_height_mm(30, 12, away_mm=6), abs=0.1)
