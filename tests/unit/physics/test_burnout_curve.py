"""A kiln's own record: few corners, falls, rises, holds, an opened door."""

import numpy as np
import pytest

from pourwell.errors import BadRequestError
from pourwell.physics.burnout.curve import kiln_told, means, paces, programme_of
from pourwell.units import k_from_c

T = np.arange(0.0, 12 * 3600 + 1, 60.0)
CORNERS = np.array([0, 1, 3, 4, 6, 9, 10.5, 12]) * 3600.0
LEVELS = np.array([20, 150, 150, 370, 730, 730, 500, 500]) + k_from_c(0)


def course(corners=CORNERS, levels=LEVELS, scatter=0.0, seed=0):
    return np.interp(T, corners, levels) + np.random.default_rng(seed).normal(0, scatter, T.size)


def test_a_course_is_read_with_few_corners_and_stays_near():
    programme = programme_of(T, course())
    assert programme.times.size < 20
    assert np.abs(programme.at(T) - course()).max() < 6
    assert np.abs(programme.at(T) - course()).mean() < 0.5
    assert (programme.times[0], programme.times[-1]) == (T[0], T[-1])


def test_scatter_makes_no_forest_of_corners():
    programme = programme_of(T, course(scatter=2.0))
    assert programme.times.size < 90
    assert np.abs(programme.at(T) - course()).mean() < 1.5


def test_a_kiln_that_cycles_is_read_at_its_mean():
    saw = course() + 6 * np.sign(np.sin(T / 120.0 * np.pi + 0.3))
    assert np.abs(programme_of(T, saw).at(T) - course()).mean() < 2.5


def test_a_slow_log_keeps_its_own_readings():
    slow = slice(0, None, 10)
    programme = programme_of(T[slow], course()[slow], off=0.01)
    assert programme.at(T[slow]) == pytest.approx(course()[slow], abs=0.02)


def test_too_short_a_record_is_refused():
    with pytest.raises(BadRequestError, match="9 min long"):
        programme_of(T[:10], course()[:10])


def test_means_keep_what_was_read_on_the_whole():
    t, level = means(T, course(), count=100)
    assert t.size == 100
    assert level.mean() == pytest.approx(course().mean(), rel=2e-3)
    assert means(T, course(), count=10_000)[0] is T


def test_paces_are_slopes_of_straight_lines():
    got = paces(T, course())
    inside = (T > 4.3 * 3600) & (T < 5.7 * 3600)
    assert got[inside] == pytest.approx(180 / 3600, rel=1e-6)
    assert abs(got[(T > 7 * 3600) & (T < 8 * 3600)]).max() < 1e-9


def test_holds_are_found_with_level_and_length():
    told = kiln_told(T, course(scatter=0.5), level=k_from_c(500))
    assert [round(h.level - k_from_c(0)) for h in told.holds] == [150, 730, 500]
    assert all(h.swing < 1.5 for h in told.holds)
    assert all(h.overshoot < 2 for h in told.holds)
    assert told.holds[0].ends - told.holds[0].begins == pytest.approx(2 * 3600, abs=1200)


def test_an_overshoot_is_measured_over_the_level():
    over = course() + 18 * np.exp(-(((T - 6.05 * 3600) / 500) ** 2))
    told = kiln_told(T, over, level=k_from_c(500))
    at_730 = next(h for h in told.holds if h.level > k_from_c(700))
    assert at_730.overshoot == pytest.approx(18, abs=3)


def test_a_swing_is_half_of_what_the_kiln_cycles_through():
    told = kiln_told(T, course() + 8 * np.sin(T / 180), level=k_from_c(500))
    assert max(h.swing for h in told.holds) == pytest.approx(8, rel=0.1)


def test_the_fastest_half_hour_is_found_with_its_temperatures():
    rise = kiln_told(T, course(), level=k_from_c(500)).rise
    assert rise is not None
    assert rise.rate * 3600 == pytest.approx(220, rel=0.01)
    assert k_from_c(150) <= rise.low < rise.high < k_from_c(370)
    assert rise.high - rise.low == pytest.approx(110, abs=2)


def test_a_ramp_that_the_controller_holds_is_called_straight():
    fall = kiln_told(T, course(scatter=0.5), level=k_from_c(500)).fall
    assert fall is not None
    assert fall.straight
    assert fall.rate * 3600 == pytest.approx(153, rel=0.1)


def test_a_fall_far_from_the_level_is_carried_there_and_says_where_it_was_read():
    corners = np.array([0, 2, 4, 12]) * 3600.0
    levels = np.array([900, 900, 700, 700]) + k_from_c(0)
    fall = kiln_told(T, np.interp(T, corners, levels), level=k_from_c(500)).fall
    assert fall is not None
    assert fall.middle > k_from_c(700)
    assert fall.rate * 3600 == pytest.approx(100 * 480 / (fall.middle - 293.15), rel=0.01)


def test_an_opened_door_is_counted_and_is_no_fall():
    opened = course()
    opened[600:630] -= np.minimum(np.arange(30) * 20, 300)
    opened[630:] -= 300
    told = kiln_told(T, np.maximum(opened, k_from_c(100)), level=k_from_c(500))
    assert told.doors_count == 1


@pytest.mark.parametrize("levels", [[20, 20, 20, 20, 20, 20, 20, 20.5], [20, 100, 200, 300, 400, 500, 600, 700]])
def test_a_record_without_a_fall_tells_none(levels):
    told = kiln_told(T, np.interp(T, CORNERS, np.array(levels) + k_from_c(0)), level=k_from_c(500))
    assert told.fall is None


def test_a_record_that_stands_still_tells_no_rise():
    told = kiln_told(T, np.full(T.size, k_from_c(500)), level=k_from_c(500))
    assert told.rise is None
    assert len(told.holds) == 1
