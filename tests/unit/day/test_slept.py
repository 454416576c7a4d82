"""A kiln set by hand: which pour leaves it alone at night, and what is done for one that is asked for."""

from dataclasses import replace
from datetime import datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo

from pourwell.materials.studio import Kiln, Studio
from pourwell.steps.burnout.plan import programme, relegged
from pourwell.steps.day.plan import Found, find_pour, in_hours, schedules, settings_outside
from pourwell.steps.day.slept import ByHand, course_min, slept
from tests.unit.burnout.test_inside import case
from tests.unit.day.test_schedule import HOURS, LIBRARY, MORNING, WORK

HAND = Kiln(segments_count=0)
STUDIO = Studio(kiln=HAND, time_zone="Europe/Lisbon")
AWAKE = (time(6, 30), time(22, 30))
ZONE = ZoneInfo("Europe/Lisbon")


@cache
def by_hand() -> ByHand:
    """A small flask of wax, ten hours and a half by controller."""
    asked = case(50, 60, kiln=HAND)
    made = programme(asked)
    works = (replace(WORK, programme=made),)
    return ByHand(programme=made, case=asked, works=works, studio=STUDIO, hours=HOURS, library=LIBRARY, now=MORNING)


def settings_at_night(made, pour_at):
    (lines,) = schedules((replace(WORK, programme=made),), pour_at=pour_at, hours=HOURS, library=LIBRARY)
    return list(settings_outside(lines, HOURS, awake=AWAKE))


def test_the_first_pour_in_hours_whose_holds_can_last_the_night_is_taken():
    first = find_pour(by_hand().works, now=MORNING, hours=HOURS, library=LIBRARY)
    made, found = slept(by_hand(), first)
    assert found.pour_at >= first.pour_at
    assert in_hours(found.pour_at, HOURS)
    assert settings_at_night(made, found.pour_at) == []
    assert all(v.keeps for v in made.verdicts)


def test_a_pour_that_is_asked_for_stays_and_its_holds_grow_for_it():
    pour_at = datetime(2027, 3, 6, 14, 0, tzinfo=ZONE)
    made, found = slept(by_hand(), Found(pour_at=pour_at, longer_min=0, asked=True))
    assert found.pour_at == pour_at
    assert made.total_min > by_hand().programme.total_min
    assert settings_at_night(made, pour_at) == []


def test_a_pour_that_no_holds_bring_about_is_left_to_its_stop_and_others_are_known():
    """At eight the fall would have to be set before half past six, or the peak last ten hours."""
    pour_at = datetime(2027, 3, 6, 8, 0, tzinfo=ZONE)
    made, _ = slept(by_hand(), Found(pour_at=pour_at, longer_min=0, asked=True))
    assert made is by_hand().programme
    assert settings_at_night(made, pour_at)
    takes = course_min(by_hand(), pour_at)
    assert takes(0) is None
    later, other = slept(by_hand(), Found(pour_at=pour_at + timedelta(hours=6), longer_min=0, asked=True))
    assert other.pour_at == pour_at + timedelta(hours=6)
    assert takes(6 * 60) == later.total_min


def test_investing_that_would_have_begun_before_now_is_not_asked_for():
    late = replace(by_hand(), now=MORNING + timedelta(days=2))
    pour_at = datetime(2027, 3, 6, 14, 0, tzinfo=ZONE)
    made, _ = slept(late, Found(pour_at=pour_at, longer_min=0, asked=True))
    assert made is by_hand().programme


def test_an_earliest_pour_leaves_time_for_patterns_and_trees_too():
    """With every line counted the day begins after now; a pour that is asked for may find its trees ready."""
    given = by_hand()
    at = datetime(2027, 3, 6, 14, 0, tzinfo=ZONE)
    legs = given.legs(at)
    held = (replace(WORK, programme=relegged(given.programme, given.case, legs)),)
    (lines,) = schedules(held, pour_at=at, hours=HOURS, library=LIBRARY)
    wrap = next(e.starts_at for e in lines if e.key == "wrap")
    assert lines[0].starts_at < wrap
    between = replace(given, now=wrap)
    assert between.begins(legs, at, asked=True)[0]
    assert not between.begins(legs, at)[0]
    assert replace(given, now=lines[0].starts_at).begins(legs, at)[0]


def test_the_bench_is_open_from_the_first_minute_to_the_last():
    at = datetime(2027, 3, 4, 8, 0, tzinfo=ZONE)
    assert in_hours(at, HOURS)
    assert in_hours(at + timedelta(hours=11), HOURS)
    assert not in_hours(at - timedelta(minutes=1), HOURS)
    assert not in_hours(at + timedelta(hours=11, minutes=1), HOURS)
