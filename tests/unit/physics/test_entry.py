"""Entry and head: how they scale."""

import math

import pytest

from pourwell.physics.entry import entry_pressure, head_pressure


def test_a_hole_half_as_wide_needs_twice_the_pressure():
    assert entry_pressure(0.9, 5e-4) == pytest.approx(2 * entry_pressure(0.9, 1e-3))


def test_metal_that_wets_a_little_enters_sooner_and_at_a_right_angle_for_nothing():
    assert entry_pressure(0.9, 5e-4, contact_angle=math.radians(140)) < entry_pressure(0.9, 5e-4)
    assert entry_pressure(0.9, 5e-4, contact_angle=math.pi / 2) == pytest.approx(0, abs=1e-9)


def test_a_head_presses_with_its_weight():
    assert head_pressure(10000, 0.1) == pytest.approx(9806.65)
