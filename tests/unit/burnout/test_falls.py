"""A kiln falls as Newton says, wherever a fall is timed."""

import math
from itertools import pairwise

import pytest

from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.hand import followed, set_points
from pourwell.steps.burnout.legs import RAMP_BY_FALL, Leg, fall, fall_h, legs_of, mean_fall_c_per_h, typed_fall_c_per_h
from pourwell.steps.burnout.plan import usual_row
from tests.unit.burnout.case import SHOWS, altered, own_programme
from tests.unit.burnout.test_inside import case


def test_two_hours_at_the_rate_are_two_and_a_half_by_newton():
    """540 to 300 degC at 120 an hour at 500: 4 h times ln(520/280) = 2 h 29 min, not 2 h."""
    assert fall_h(540, 300, fall_c_per_h=120) * 60 == pytest.approx(148.6, abs=0.1)
    assert fall_h(732, 200, fall_c_per_h=120) * 60 == pytest.approx(240 * math.log(712 / 180), rel=1e-9)


def test_falls_follow_one_another():
    """The whole way takes as long as its parts."""
    parts = fall_h(732, 540, fall_c_per_h=90) + fall_h(540, 300, fall_c_per_h=90)
    assert fall_h(732, 300, fall_c_per_h=90) == pytest.approx(parts)


def test_near_500_the_mean_is_the_rate_that_was_given():
    assert mean_fall_c_per_h(501, 499, fall_c_per_h=110) == pytest.approx(110, rel=1e-4)
    assert mean_fall_c_per_h(300, 300, fall_c_per_h=110) == 110


@pytest.mark.parametrize(("start", "target", "typed"), [(732, 540, 120), (540, 300, 95), (732, 200, 95), (300, 200, 55)])
def test_a_fall_is_typed_no_faster_than_the_kiln_falls(start, target, typed):
    """No faster than the rate at 500, nor than the mean of the way, rounded down to fives."""
    assert typed_fall_c_per_h(start, target, fall_c_per_h=120) == typed
    leg = Leg(start_c=start, target_c=target, ramp_c_per_h=typed, hold_min=0, why="")
    assert leg.ramp_min >= fall_h(start, target, fall_c_per_h=120) * 60


def test_a_fall_to_the_room_comes_to_an_end():
    assert fall_h(540, 20, fall_c_per_h=120) == pytest.approx(4 * math.log(520 / 5))
    assert 0 < typed_fall_c_per_h(540, 20, fall_c_per_h=120) < 30


def test_the_last_leg_to_a_cool_flask_takes_newtons_time_and_a_slower_published_fall_stays():
    cool = case(76, 100, flask_c=300.0)
    assert fall(540.0, cool).ramp_c_per_h == 95
    published = legs_of(usual_row(cool, own=None), cool, own=False)
    assert published[-1].ramp_min >= fall_h(published[-1].start_c, 300, fall_c_per_h=120) * 60
    slow = case(76, 100, flask_c=540.0)
    gentle = altered(slow.kiln, fall_c_per_h=400.0)
    assert isinstance(gentle, Kiln)
    assert legs_of(usual_row(slow, own=None), slow, own=False)[-1].ramp_c_per_h <= 120


@pytest.mark.parametrize(("asked", "typed", "ruled_by"), [(200, 120, RAMP_BY_FALL), (100, 100, "")])
def test_a_fall_of_one_s_own_that_the_kiln_does_not_follow_is_told_so(asked, typed, ruled_by):
    """A kiln that falls 120 K an hour at 500 degC is typed no faster, whatever one's own schedule says."""
    row = own_programme((149, 100, 120), (371, 100, 240), (732, 150, 180), ("flask", asked, 90))
    last = legs_of(row, case(), own=True)[-1]
    assert (last.ramp_c_per_h, last.ruled_by) == (typed, ruled_by)


def test_a_kiln_set_by_hand_is_at_its_level_when_newton_says():
    kiln = Kiln(segments_count=0)
    legs = (
        Leg(start_c=20, target_c=540, ramp_c_per_h=120, hold_min=60, why=""),
        Leg(start_c=540, target_c=300, ramp_c_per_h=95, hold_min=120, why=""),
    )
    corners = followed(legs, set_points(legs, kiln=kiln, step_min=30, reading=SHOWS), kiln)
    start = next(t for (t, c), (_, after) in pairwise(corners) if c == 540 and after == 300)
    end = next(t for t, c in corners if c == 300)
    assert end - start == pytest.approx(148.6, abs=0.1)
