"""A kiln set by hand: how it follows, what it shows, and nights in which nobody sets it."""

import math
from datetime import UTC, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.hand import followed, set_points
from pourwell.steps.burnout.legs import Leg, total_min
from pourwell.steps.burnout.nights import Nights, through_the_night
from pourwell.steps.burnout.plan import programme, slept
from tests.unit.burnout.case import SHOWS
from tests.unit.burnout.test_inside import case

HAND = Kiln(segments_count=0, rise_c_per_h=400, fall_c_per_h=120)
NIGHT = (time(22, 30), time(6, 30))
UP = Leg(start_c=20.0, target_c=149.0, ramp_c_per_h=129.0, hold_min=60, why="dry")
ON = Leg(start_c=149.0, target_c=349.0, ramp_c_per_h=100.0, hold_min=30, why="burn")
DOWN = Leg(start_c=349.0, target_c=289.0, ramp_c_per_h=60.0, hold_min=30, why="settle")


def nights(sleeps=NIGHT, zone=UTC, **more):
    usual = {"sleeps": sleeps, "zone": zone, "kiln": HAND, "step_min": 30, "dry_before_c": 400}
    return Nights(**{**usual, "drying_most_min": 600, "peak_most_min": 480, "flask_longer_min": 600, **more})


def points(*legs, kiln=HAND):
    return set_points(legs, kiln=kiln, step_min=30, reading=SHOWS)


def test_the_kiln_climbs_at_full_power_and_waits():
    """60 min to 149: 80 at once (84.5 dialled down), reached after 60 K / 400 K/h = 9 min; 149 after 30 min, in 10.35 min."""
    course = followed((UP,), points(UP), HAND)
    assert [c for pair in course for c in pair] == pytest.approx([0, 20, 9.0, 80, 30, 80, 40.35, 149, 120, 149])


def test_a_kiln_too_weak_for_its_setting_shows_less_at_the_next():
    weak = Kiln(segments_count=0, rise_c_per_h=80)
    course = dict(followed((UP,), points(UP, kiln=weak), weak))
    assert course[30] == pytest.approx(60)
    assert course[120] == 149
    assert [p.seen_c for p in points(UP, kiln=weak)] == [20, 60]


def test_a_fall_follows_the_kiln_and_no_dial():
    course = followed((UP, ON, DOWN), points(UP, ON, DOWN), HAND)
    (at_min, level), end = course[-2:]
    assert level == 289
    assert at_min == pytest.approx(270 + 240 * math.log(329 / 269)), "from 349, four hours to fall by e over the room"
    assert end == (360.0, 289.0)


def test_each_setting_says_what_the_kiln_should_show():
    seen = [(p.at_min, p.set_c, p.seen_c) for p in points(UP, ON, DOWN)]
    assert seen == [(0, 80, 20), (30, 149, 80), (120, 195, 149), (150, 245, 195), (180, 295, 245), (210, 349, 295), (270, 289, 349)]


def test_what_the_controller_takes_is_followed_as_typed():
    kiln = Kiln(segments_count=1, rise_c_per_h=400)
    course = followed((UP, ON), points(UP, ON, kiln=kiln), kiln)
    assert course[:3] == ((0, 20), (60, 149), (120, 149))
    assert course[-1] == (total_min((UP, ON)), 349)
    assert followed((UP, ON), (), Kiln()) == ((0, 20), (60, 149), (120, 149), (240, 349), (270, 349))


def asleep(moment):
    return moment.time() > NIGHT[0] or moment.time() < NIGHT[1]


def at_night(legs, pour_at, zone=UTC):
    end = total_min(legs)
    moments = [(pour_at - timedelta(minutes=end - p.at_min)).astimezone(zone) for p in points(*legs)]
    return [m for m in moments if asleep(m)]


@pytest.mark.parametrize("hour", range(0, 24, 3))
def test_nobody_sets_the_kiln_between_bedtime_and_rising(hour):
    legs = (UP, ON, DOWN)
    pour_at = datetime(2026, 11, 28, hour, 0, tzinfo=UTC)
    through = through_the_night(legs, nights(), end_at=pour_at)
    assert at_night(through, pour_at) == []
    for before, after in zip(legs, through, strict=True):
        assert after.hold_min >= before.hold_min
        assert (after.target_c, after.ramp_c_per_h) == (before.target_c, before.ramp_c_per_h)


def test_by_day_nothing_is_moved():
    pour_at = datetime(2026, 11, 28, 18, 0, tzinfo=UTC)
    legs = (UP, ON, DOWN)
    assert through_the_night(legs, nights(), end_at=pour_at) == legs


def test_the_night_is_that_of_the_studio_s_clock():
    zone = ZoneInfo("America/Denver")
    legs = (UP, ON, DOWN)
    pour_at = datetime(2026, 11, 28, 18, 0, tzinfo=UTC)
    through = through_the_night(legs, nights(zone=zone), end_at=pour_at)
    assert at_night(legs, pour_at, zone)
    assert at_night(through, pour_at, zone) == []


def test_who_never_sleeps_sets_it_at_any_hour():
    pour_at = datetime(2026, 11, 28, 4, 0, tzinfo=UTC)
    never = (time(0, 0), time(0, 0))
    assert through_the_night((UP, ON), nights(never), end_at=pour_at) == (UP, ON)


def test_a_whole_burnout_through_the_night_keeps_its_limits_and_says_why_it_is_longer():
    asked = case(kiln=HAND)
    made = programme(asked)
    night = slept(made, asked, pour_at=datetime(2026, 11, 28, 10, 0, tzinfo=UTC), sleeps=NIGHT, zone=UTC)
    assert night.total_min > made.total_min
    assert all(v.keeps for v in night.verdicts)
    assert "no setting in the night" in {s.ruled_by for s in night.segments}
    assert night.published_min == made.published_min
    assert all(a.at_min < b.at_min for a, b in pairwise(night.by_hand))


def test_the_settings_of_a_burnout_are_simulated_with_the_kilns_own_climb():
    """The kiln is on its level soon after a setting, and never over the last."""
    made = programme(case(kiln=HAND))
    curve = made.inside.curves
    assert max(curve.kiln_c) == made.peak_c == 732
    first = made.by_hand[0]
    reached = first.at_min + (first.set_c - 20) / 400 * 60
    at = min(t for t in curve.times_min if t >= reached)
    assert curve.kiln_c[curve.times_min.index(at)] == pytest.approx(first.set_c, abs=1)
    assert all(v.keeps for v in made.verdicts)
