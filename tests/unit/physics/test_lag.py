"""Rim and core: the two rules and how they scale."""

import pytest

from pourwell.physics.lag import ramp_lag, ramp_limit, settling_time


def test_the_limit_is_the_lag_turned_round():
    ramp = ramp_limit(100.0, radius=0.05, diffusivity=3.4e-7)
    assert ramp_lag(ramp, radius=0.05, diffusivity=3.4e-7) == pytest.approx(100.0)


def test_lag_and_settling_go_with_the_square_of_the_size():
    assert ramp_lag(0.05, radius=0.06, diffusivity=3e-7) == pytest.approx(4 * ramp_lag(0.05, radius=0.03, diffusivity=3e-7))
    assert settling_time(radius=0.06, diffusivity=3e-7) == pytest.approx(4 * settling_time(radius=0.03, diffusivity=3e-7))
