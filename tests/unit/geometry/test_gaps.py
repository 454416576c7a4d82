"""Gaps by rays: between plates, in hollows, in slanted grooves, and where there is none."""

import math

import numpy as np
import pytest

from pourwell.geometry.gaps import gaps_by_rays
from pourwell.geometry.rays import Caster
from pourwell.geometry.thickness import GRAZING, spread
from tests.unit.geometry.distance_samples import beside, box, icosphere, turned
from tests.unit.geometry.feature_pieces import TOP, block, refined, v_groove
from tests.unit.pattern.case import hollow


def gaps(mesh, **more):
    """Gaps at places spread over a mesh, and these places."""
    points, face, _ = spread(mesh)
    return points, gaps_by_rays(mesh, points, face, caster=Caster(mesh), **more)


def plates(gap):
    """Two plates of 6 by 6 by 1 so far apart along z."""
    return beside(box((0, 0, 0), (6, 6, 1)), box((0, 0, 1 + gap), (6, 6, 2 + gap)))


@pytest.mark.parametrize("gap", [0.1, 0.7, 2.0])
def test_two_plates_are_as_far_apart_as_they_lie_and_open_on_all_other_sides(gap):
    points, told = gaps(plates(gap))
    z = points[:, 2]
    facing = (np.abs(z - 1) < 1e-9) | (np.abs(z - 1 - gap) < 1e-9)
    facing &= (np.abs(points[:, :2] - 3) < 2.99).all(axis=1)
    assert told[facing] == pytest.approx(gap, rel=1e-6)
    assert np.isinf(told[(z < 1e-9) | (z > 2 + gap - 1e-9)]).all()


def test_a_gap_wider_than_is_looked_for_is_open():
    _, near = gaps(plates(0.7), most_mm=0.71)
    _, far = gaps(plates(0.7), most_mm=0.69)
    assert np.isfinite(near).any()
    assert np.isinf(far).all()


def test_a_closed_hollow_is_as_wide_as_its_ball():
    points, told = gaps(hollow(icosphere(4.0, halvings=4), icosphere(2.5, halvings=4)))
    within = np.linalg.norm(points, axis=1) < 3
    assert told[within] == pytest.approx(5.0, rel=0.05)
    assert np.isinf(told[~within]).all()


@pytest.mark.parametrize("angle", [20, 30, 45])
def test_the_gap_over_a_slanted_side_lies_between_the_circle_and_the_ray(angle):
    """At s from the bottom: no narrower than the circle that touches both sides, 2 s tan(a/2), no wider than s tan a."""
    mesh = refined(block(v_groove(angle, 1.2)), 3)
    points, told = gaps(mesh)
    s = (points[:, 2] - (TOP - 1.2)) / math.cos(math.radians(angle / 2))
    a = math.radians(angle)
    side = (
        (np.abs(np.abs(points[:, 1]) - s * math.sin(a / 2)) < 1e-9) & (s > 0.1) & (s * math.cos(a) > 0) & (np.abs(points[:, 0]) < 5)
    )
    side &= s / math.cos(a) * math.cos(a / 2) < 1.2  # where the ray square to the side still meets the other one
    assert side.sum() > 50
    assert (told[side] >= 2 * s[side] * math.tan(a / 2) * 0.999).all()
    assert (told[side] <= s[side] * math.tan(a) * 1.001).all()


def test_sides_that_meet_at_more_than_the_grazing_angle_bound_no_gap():
    """In a groove of 100 degrees no ray of the narrow cone about the one side's way out meets the other at less than 60 degrees."""
    assert math.acos(GRAZING) == pytest.approx(math.radians(60))
    points, told = gaps(refined(block(v_groove(100, 1.0)), 2))
    side = (points[:, 2] < TOP - 1e-6) & (points[:, 2] > TOP - 1 + 1e-6) & (np.abs(points[:, 1]) < 2)
    assert side.any()
    assert np.isinf(told[side]).all()


def test_gaps_do_not_hang_on_where_a_piece_lies():
    mesh = plates(0.4)
    move = np.column_stack((turned(np.random.default_rng(8)), (5, 60, -7)))
    points, face, _ = spread(mesh)
    there = mesh.moved(move)
    here = gaps_by_rays(mesh, points, face, caster=Caster(mesh))
    told = gaps_by_rays(there, points @ move[:, :3].T + move[:, 3], face, caster=Caster(there))
    both = np.isfinite(here) & np.isfinite(told)
    assert both.sum() > 0.98 * np.isfinite(here).sum()
    assert told[both] == pytest.approx(here[both], rel=1e-4)


def test_gaps_of_no_place_are_none():
    mesh = plates(0.4)
    assert gaps_by_rays(mesh, np.empty((0, 3)), np.empty(0, dtype=np.int64), caster=Caster(mesh)).shape == (0,)
