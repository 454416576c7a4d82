"""Nights in which nobody sets the kiln: which hold lasts through them, and courses from a start to an end."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest

from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.hand import LOOK, SLEEPS, looks, set_points
from pourwell.steps.burnout.legs import Leg, legs_as_typed, total_min
from pourwell.steps.burnout.nights import Nights, after_the_night, from_to, nights_of, through_the_night
from pourwell.steps.burnout.plan import programme
from pourwell.steps.burnout.synthesis import YOURS
from tests.unit.burnout.test_inside import case

HAND = Kiln(segments_count=0)
NIGHT = (time(22, 30), time(6, 30))
LEGS = (
    Leg(start_c=20.0, target_c=149.0, ramp_c_per_h=129.0, hold_min=120, why="dry"),
    Leg(start_c=149.0, target_c=371.0, ramp_c_per_h=111.0, hold_min=90, why="burn"),
    Leg(start_c=371.0, target_c=731.0, ramp_c_per_h=240.0, hold_min=150, why="carbon"),
    Leg(start_c=731.0, target_c=541.0, ramp_c_per_h=95.0, hold_min=60, why="settle"),
)
"""60 + 120, 120 + 90, 90 + 150, 120 + 60 min: 12 h 30 min."""


def nights(**more):
    usual = {"sleeps": NIGHT, "zone": UTC, "kiln": HAND, "step_min": 30, "dry_before_c": 400}
    usual |= {"drying_most_min": 480, "peak_most_min": 480, "flask_longer_min": 360}
    return Nights(**{**usual, **more})


def grown_at(legs):
    return [i for i, (a, b) in enumerate(zip(LEGS, legs, strict=True)) if b.hold_min > a.hold_min]


@pytest.mark.parametrize(
    ("hour", "asleep"), [((22, 0), 0), ((22, 1), 1), ((22, 30), 30), ((2, 0), 240), ((6, 29), 509), ((6, 30), 0), ((12, 0), 0)]
)
def test_the_evening_s_last_setting_comes_half_an_hour_before_bed(hour, asleep):
    assert nights().asleep_min(datetime(2026, 11, 28, *hour, tzinfo=UTC)) == asleep


def test_with_the_day_long_enough_after_it_the_mould_dries_through_the_night():
    """Poured at 13:30: peak and flask take 7 h, so all after drying comes after 06:30."""
    through = through_the_night(LEGS, nights(), end_at=datetime(2026, 11, 28, 13, 30, tzinfo=UTC))
    assert grown_at(through) == [1]
    assert through[1].ruled_by == SLEEPS


def test_no_hold_lasts_longer_than_its_rule_and_what_one_cannot_take_another_does():
    """Poured at 10:00 the peak would stand from 22 to 7 o'clock, 9 h: it takes its 8 h, and the flask waits for the rest."""
    end_at = datetime(2026, 11, 28, 10, 0, tzinfo=UTC)
    through = through_the_night(LEGS, nights(), end_at=end_at)
    assert grown_at(through) == [2, 3]
    assert (through[2].hold_min, through[3].hold_min) == (480, 90)
    assert nights().bears(through, LEGS)
    assert not nights().bears((*through[:2], replace(through[2], hold_min=481), through[3]), LEGS)
    assert [leg.ruled_by for leg in through] == ["", "", SLEEPS, YOURS], "the flask's hold only moves the others"
    assert [looks(p) for p in set_points(through, kiln=HAND, step_min=30)].count(True) == 1


def test_a_flask_waits_no_longer_than_its_rule_so_some_pours_have_no_course():
    """Poured at 08:00 all but the wait would lie in the night: 60 + 360 min do not reach back to 22 o'clock."""
    assert through_the_night(LEGS, nights(), end_at=datetime(2026, 11, 28, 8, 0, tzinfo=UTC)) is None


def test_a_published_hold_that_is_longer_than_the_rule_stays_as_long():
    long = (*LEGS[:2], replace(LEGS[2], hold_min=600), LEGS[3])
    assert nights().longest_min(long[2]) == 600
    assert nights().bears(long, long)


def test_the_last_setting_before_bed_has_a_look_after_it_that_says_what_it_must_show():
    end_at = datetime(2026, 11, 28, 16, 0, tzinfo=UTC)
    legs = through_the_night(LEGS, nights(), end_at=end_at)
    points = set_points(legs, kiln=HAND, step_min=30)
    (look,) = (p for p in points if looks(p))
    start = end_at - timedelta(minutes=total_min(legs))
    assert (start + timedelta(minutes=look.at_min)).time() <= NIGHT[0]
    assert (look.set_c, look.seen_c) == (371, 371)
    assert "within {k:10} of {t:371}" in look.why
    assert "switch off only if over {t:391}" in look.why
    assert not any(looks(p) for p in set_points(LEGS, kiln=HAND, step_min=30))


@pytest.mark.parametrize(("rise_c_per_h", "after_min"), [(600, 16), (200, 27), (60, 30)])
def test_the_look_comes_ten_minutes_after_the_climb_is_done_and_never_after_bedtime(rise_c_per_h, after_min):
    """The last setting, 315 to 371, is 56 K: 5.6 min, 16.8 min, or too long for the half hour before bed."""
    kiln = Kiln(segments_count=0, rise_c_per_h=rise_c_per_h)
    legs = (LEGS[0], replace(LEGS[1], ruled_by=SLEEPS), *LEGS[2:])
    points = set_points(legs, kiln=kiln, step_min=30)
    index = next(i for i, p in enumerate(points) if looks(p))
    assert points[index].at_min - points[index - 1].at_min == after_min


def test_a_flask_that_falls_into_the_night_is_only_to_be_falling():
    legs = (*LEGS[:3], replace(LEGS[3], ruled_by=SLEEPS))
    assert set_points(legs, kiln=HAND, step_min=30)[-1].why == LOOK + "it must be falling"


def test_a_hold_that_contains_bedtime_as_it_stands_has_its_look_too():
    """Poured at 10:00: set to the peak at 20:30, and to the fall at 07:00."""
    long = (*LEGS[:2], replace(LEGS[2], hold_min=600, ruled_by="the published programme"), LEGS[3])
    end_at = datetime(2026, 11, 28, 10, 0, tzinfo=UTC)
    through = through_the_night(long, nights(), end_at=end_at)
    assert total_min(through) == total_min(long), "nothing had to grow"
    assert through[2].ruled_by == f"the published programme; {SLEEPS}"
    assert [looks(p) for p in set_points(through, kiln=HAND, step_min=30)].count(True) == 1
    day = nights().marked(through, end_at + timedelta(hours=10))
    assert day[2].ruled_by == "the published programme", "poured in the evening it lies in the day"


def test_what_the_controller_takes_needs_nobody():
    """Only the last setting, the fall, is made by hand: it alone must fall into the day."""
    few = nights(kiln=Kiln(segments_count=3))
    end_at = datetime(2026, 11, 28, 10, 0, tzinfo=UTC)
    assert through_the_night(LEGS, few, end_at=end_at) == LEGS
    assert grown_at(through_the_night(LEGS, few, end_at=datetime(2026, 11, 28, 6, 45, tzinfo=UTC))) == [3]


def test_from_a_start_to_an_end_the_course_fills_the_time_outside_the_night():
    asked = case(kiln=HAND)
    legs = legs_as_typed(programme(asked))
    given = nights_of(asked, NIGHT, UTC)
    start, end = datetime(2026, 11, 27, 20, 0, tzinfo=UTC), datetime(2026, 11, 28, 18, 0, tzinfo=UTC)
    found = from_to(legs, asked, given, start=start, end=end, first=len(legs))
    assert total_min(found) == 22 * 60
    assert given.asleep(found, end, begun=True) == []
    assert given.asleep(legs, end, begun=True) != [] or total_min(legs) != total_min(found)


def test_a_start_from_which_no_course_keeps_the_night_is_none():
    """20 h from 16:00 to noon: wherever the spare hours go, something must be set in the night."""
    asked = case(kiln=HAND)
    legs = legs_as_typed(programme(asked))
    start = datetime(2026, 11, 27, 16, 0, tzinfo=UTC)
    end = start + timedelta(hours=20)
    assert from_to(legs, asked, nights_of(asked, NIGHT, UTC), start=start, end=end, first=len(legs)) is None


def test_who_says_when_he_begins_is_there_then():
    late = datetime(2026, 11, 27, 23, 0, tzinfo=UTC)
    end = late + timedelta(minutes=total_min(LEGS))
    assert any(at == 0 for _, at, _ in nights().asleep(LEGS, end))
    assert all(at > 0 for _, at, _ in nights().asleep(LEGS, end, begun=True))


def test_begun_in_the_morning_what_would_be_set_in_the_night_waits_for_the_next_one():
    """From 13:00 the flask's level would be set at 23:30: the peak lasts its 8 h, till 5:00, and what is left comes before it."""
    start = datetime(2026, 11, 27, 13, 0, tzinfo=UTC)
    after = after_the_night(LEGS, nights(), start=start)
    end = start + timedelta(minutes=total_min(after))
    assert nights().asleep(after, end, begun=True) == []
    assert nights().bears(after, LEGS)
    settings = [start + timedelta(minutes=at) for _, at in nights().settings(after)]
    assert settings[-1].time() == NIGHT[1], "and no later than it must"
    assert SLEEPS in [leg.ruled_by for leg in after]


def test_begun_early_enough_nothing_waits():
    start = datetime(2026, 11, 27, 7, 0, tzinfo=UTC)
    assert after_the_night(LEGS, nights(), start=start) == LEGS


def test_begun_an_hour_before_bed_a_first_climb_that_reaches_into_the_night_has_no_course():
    """Nothing stands before it that could wait."""
    slow = (replace(LEGS[0], ramp_c_per_h=20.0), *LEGS[1:])
    assert after_the_night(slow, nights(), start=datetime(2026, 11, 27, 21, 0, tzinfo=UTC)) is None
