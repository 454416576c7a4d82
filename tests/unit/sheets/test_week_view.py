"""The days of a week as strips: what stands on which day."""

from datetime import UTC, date, datetime, time
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from pourwell.sheets.week_view import Day, blocks, days_of, jobs_by_day, lines, of_day, shades
from tests.unit.day.weeks import ZONE, placed, planned

LISBON = ZoneInfo("Europe/Lisbon")


def midnight_to_midnight(day: int, month: int = 3) -> Day:
    start = datetime(2027, month, day, tzinfo=LISBON)
    return Day(starts_at=start, ends_at=datetime(2027, month, day + 1, tzinfo=LISBON))


def test_the_days_run_from_the_first_work_to_the_last():
    plan = planned("rings", "signets")
    days = days_of(plan, ZONE)
    assert [d.starts_at.date() for d in days] == [date(2027, 3, 1), date(2027, 3, 2)]
    assert all(a.ends_at == b.starts_at for a, b in pairwise(days))


@pytest.mark.parametrize(
    ("now", "hours"), [(datetime(2027, 3, 27, 8, tzinfo=UTC), 23), (datetime(2027, 10, 30, 7, tzinfo=UTC), 25)]
)
def test_a_day_on_which_the_clocks_change_is_shorter_or_longer(now, hours):
    days = days_of(placed("signets", now=now), ZONE)
    assert [d.minutes / 60 for d in days] == [24, hours]


def test_what_touches_and_has_one_word_is_one_block():
    plan = planned("rings")
    first, second = (blocks(plan, d) for d in days_of(plan, ZONE))
    assert [b.word for b in first] == ["patterns", "tree", "invest", "into kiln"]
    assert [b.word for b in second] == ["melt, pour", "quench", "cut"]
    invest = first[2]
    assert invest.to_min - invest.from_min == 36
    melt = second[0]
    assert (melt.from_min, melt.to_min) == (480, 523)


def test_each_block_lies_on_its_own_day_and_none_is_lost():
    plan = planned("rings", "signets", "studs")
    days = days_of(plan, ZONE)
    every = [b for d in days for b in blocks(plan, d)]
    hands = sum(e.hands_on_min for run in plan.runs for e in run.timeline)
    assert sum(b.to_min - b.from_min for b in every) == hands
    assert all(0 <= b.from_min < b.to_min <= d.minutes for d in days for b in blocks(plan, d))


def test_a_kilns_line_is_cut_at_midnight_without_a_jump():
    plan = planned("rings")
    (load,), (first, second) = plan.loads, days_of(plan, ZONE)
    before, after = lines(load, first), lines(load, second)
    assert before[0] == (first.minute(load.on_at), load.programme.start_c)
    assert (before[-1][0], after[0][0]) == (first.minutes, 0.0)
    assert before[-1][1] == pytest.approx(after[0][1])
    assert after[-1][0] == second.minute(load.off_at)


def test_a_day_without_a_kiln_has_no_line():
    plan = planned("rings")
    assert lines(plan.loads[0], midnight_to_midnight(9)) == []


def test_what_happens_at_the_kiln_is_marked_at_its_minute():
    plan = planned("rings", "signets")
    first, second = days_of(plan, ZONE)
    assert [word for _, word in of_day(plan, first)] == ["on"]
    assert [word for _, word in of_day(plan, second)] == ["pour 2", "pour 1"]


def test_the_work_is_listed_by_days():
    plan = planned("rings")
    listed = jobs_by_day(plan)
    assert [moment.date() for moment, _ in listed] == [date(2027, 3, 1), date(2027, 3, 2)]
    assert [job.key for job in listed[0][1]] == ["patterns", "tree", "wrap", "invest", "strip", "on"]


def test_what_lies_outside_the_hours_is_shaded():
    day = midnight_to_midnight(1)
    assert shades(day, (time(8), time(19)), LISBON) == [(0.0, 480.0), (1140.0, 1440.0)]
    assert shades(day, None, LISBON) == [(0.0, 1440.0)]
    assert shades(day, (time(0), time(19)), LISBON) == [(1140.0, 1440.0)]


def test_shades_follow_the_clock_on_the_day_of_a_change():
    assert shades(midnight_to_midnight(28), (time(8), time(19)), LISBON) == [(0.0, 420.0), (1080.0, 1380.0)]


def test_who_goes_to_bed_after_midnight_sleeps_in_one_stretch():
    assert shades(midnight_to_midnight(1), (time(9), time(1)), LISBON) == [(60.0, 540.0)]
    assert shades(midnight_to_midnight(1), (time(9), time(9)), LISBON) == []
