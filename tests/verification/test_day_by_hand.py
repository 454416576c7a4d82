"""The day by hand: how long each line takes, elapsed time over clock changes of five places, the earliest and the calmest pour."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from pourwell.steps.day.clock import after, at, minutes_between, read, round_up
from pourwell.steps.day.plan import Hours, calmer_pour, outside, schedules, tasks
from tests.unit.day.case import earliest_pour, schedule
from tests.unit.day.test_schedule import HOURS, LIBRARY, WORK

BY_HAND = {
    "patterns": (97, 22),
    "tree": (35, 35),
    "wrap": (15, 15),
    "invest": (18, 18),
    "set": (120, 0),
    "strip": (15, 15),
    "kiln": (920, 0),
    "setout": (25, 25),
    "melt": (15, 15),
    "pour": (3, 3),
    "stand": (12, 0),
    "quench": (15, 15),
    "pickle": (15, 0),
    "cut": (23, 23),
}
"""Whole and hands-on minutes: two kinds of resin patterns, four pieces, burnout 16 h, mix 8 min, set 2 h, wait 12 min.

Common practice, no source (rules/day.toml): 5 a kind, 12 to wash, 30 to dry, 45 to cure; 15 and 5 a piece; 8 and 10 to clean; 16 h
less setting out (25) and melting (15); 15 and 2 a piece. They sum up to 1328 min, 22 h 8.
"""
CHANGES = [
    ("America/New_York", "2027-03-14 09:00", -16 * 60, "13 16:00"),
    ("America/New_York", "2027-11-07 09:00", -16 * 60, "06 18:00"),
    ("Europe/Lisbon", "2027-03-28 09:00", -16 * 60, "27 16:00"),
    ("Europe/Lisbon", "2027-10-31 09:00", -16 * 60, "30 18:00"),
    ("Australia/Lord_Howe", "2027-10-03 09:00", -16 * 60, "02 16:30"),
    ("Australia/Lord_Howe", "2027-04-04 09:00", -16 * 60, "03 17:30"),
    ("Asia/Kolkata", "2027-03-28 09:00", -16 * 60, "27 17:00"),
]
"""Sixteen hours before nine in the morning. Clocks change by law: in the USA on the second Sunday of March and the first of
November (Energy Policy Act 2005), in the EU on the last Sundays of March and October (Directive 2000/84/EC), on Lord Howe Island
by half an hour on the first Sundays of April and October, in India not at all."""


POUR = datetime(2027, 3, 5, 10, tzinfo=HOURS.zone)


def day(work=WORK, *, pour=POUR, hours=HOURS):
    return {e.key: e for e in schedule(work, pour_at=pour, hours=hours, library=LIBRARY)}


def test_every_line_of_the_day_takes_what_the_hand_sum_says():
    before, behind = tasks(WORK, LIBRARY)
    assert {t.key: (t.whole_min, t.hands_on_min) for t in (*before, *behind)} == BY_HAND
    assert sum(whole for whole, _ in BY_HAND.values()) == 22 * 60 + 8


def test_the_lines_of_the_day_last_what_they_take():
    for key, entry in day().items():
        assert minutes_between(entry.starts_at, entry.ends_at) == BY_HAND[key][0]
        assert entry.hands_on_min == BY_HAND[key][1]


def test_wax_needs_no_wash_no_drying_and_no_cure():
    wax = day(replace(WORK, resin=False))["patterns"]
    assert minutes_between(day()["patterns"].starts_at, wax.starts_at) == 12 + 30 + 45
    assert "cure" not in wax.says
    assert wax.ends_at == day()["patterns"].ends_at


def test_three_flasks_of_one_kiln_by_hand():
    """Each is wrapped and invested in 33 min, stripped in 15, and 50 min lie between two pours (3, 12, 15, 5, 15).

    The last stands 120 min, one before it 33 less 15 longer. Stripped 45, 30 and 15 min before kiln on. Quenched 15, 65 and 115 min
    after the first pour; cut off in turn once the last is quenched, 23 min each: from 130 min on.
    """
    flasks = [{e.key: e for e in d} for d in schedules((WORK,) * 3, pour_at=POUR, hours=HOURS, library=LIBRARY)]
    first = flasks[0]["pour"].starts_at
    assert [minutes_between(d["set"].starts_at, d["set"].ends_at) for d in flasks] == [156, 138, 120]
    assert [minutes_between(d["strip"].starts_at, d["kiln"].starts_at) for d in flasks] == [45, 30, 15]
    assert [minutes_between(first, d["pour"].starts_at) for d in flasks] == [0, 50, 100]
    assert [minutes_between(first, d["quench"].starts_at) for d in flasks] == [15, 65, 115]
    assert [minutes_between(first, d["cut"].starts_at) for d in flasks] == [130, 153, 176]


@pytest.mark.parametrize(("zone", "text", "minutes", "shown"), CHANGES)
def test_sixteen_elapsed_hours_over_a_change_of_the_clock(zone, text, minutes, shown):
    place = ZoneInfo(zone)
    end = read(text, zone=place)
    start = after(end, minutes, zone=place)
    assert start.strftime("%d %H:%M") == shown
    assert end.astimezone(UTC) - start.astimezone(UTC) == timedelta(hours=16)


@pytest.mark.parametrize(("zone", "text", "minutes", "shown"), CHANGES)
def test_the_kiln_is_switched_on_sixteen_elapsed_hours_before_the_pour(zone, text, minutes, shown):
    hours = replace(HOURS, zone=ZoneInfo(zone))
    lines = schedule(WORK, pour_at=read(text, zone=hours.zone), hours=hours, library=LIBRARY)
    assert next(e for e in lines if e.key == "kiln").starts_at.strftime("%d %H:%M") == shown


def test_a_moment_with_its_own_offset_is_shown_on_the_studio_s_clock():
    """10:00 at +03:00 is 08:00 in Lisbon in summer (UTC+1)."""
    assert read("2027-07-01T10:00+03:00", zone=HOURS.zone).hour == 8


@pytest.mark.parametrize(("minute", "expected"), [(0, "10:00"), (15, "10:15"), (16, "10:30"), (59, "11:00")])
def test_a_quarter_of_an_hour_is_its_own_next_quarter(minute, expected):
    moment = at(date(2027, 3, 5), time(10, minute), zone=HOURS.zone)
    assert round_up(moment, 15, zone=HOURS.zone).strftime("%H:%M") == expected


def test_work_that_ends_when_the_bench_closes_is_inside_and_a_minute_later_is_not():
    """Cutting off ends 68 min after the pour begins: a pour at 17:52 ends at 19:00."""
    last = list(outside(tuple(day(pour=at(date(2027, 3, 5), time(17, 52), zone=HOURS.zone)).values()), HOURS))
    assert "cut" not in {e.key for e in last}
    late = list(outside(tuple(day(pour=at(date(2027, 3, 5), time(17, 53), zone=HOURS.zone)).values()), HOURS))
    assert "cut" in {e.key for e in late}


def test_work_that_begins_when_the_bench_opens_is_inside_and_a_minute_sooner_is_not():
    """Setting out begins 40 min before the pour: a pour at 08:40 begins at 08:00."""
    early = [day(pour=at(date(2027, 3, 5), time(8, m), zone=HOURS.zone)) for m in (40, 39)]
    told = [{e.key for e in outside(tuple(d.values()), HOURS)} for d in early]
    assert "setout" not in told[0]
    assert "setout" in told[1]


def test_a_tree_too_long_for_one_day_is_built_right_before_the_wrap():
    """150 pieces take 765 min, the bench is open 660: no day holds it, so it is not moved."""
    long = day(replace(WORK, pieces_count=150))
    assert long["tree"].ends_at == long["wrap"].starts_at


def test_a_tree_is_never_built_after_the_bench_closes():
    """Wrapped at 23:15 for a pour at 18:03 the next day: tree and patterns end at 19:00 at the latest."""
    lines = day(pour=at(date(2027, 3, 5), time(18, 3), zone=HOURS.zone))
    assert lines["wrap"].starts_at.strftime("%d %H:%M") == "04 23:15"
    assert lines["tree"].ends_at.strftime("%d %H:%M") == "04 19:00"
    assert lines["patterns"].ends_at == lines["tree"].starts_at


def inside(pour, work=WORK, hours=HOURS):
    return not list(outside(schedule(work, pour_at=pour, hours=hours, library=LIBRARY), hours))


@pytest.mark.parametrize(("hour", "minute"), [(2, 0), (6, 30), (21, 0), (23, 45)])
def test_the_calmer_pour_is_the_nearest_on_either_side(hour, minute):
    """Definition: every pour nearer to the one that was asked for, a quarter of an hour apart, falls outside the hours."""
    pour, long_ago = at(date(2027, 3, 5), time(hour, minute), zone=HOURS.zone), datetime(2027, 1, 1, tzinfo=UTC)
    calmer = calmer_pour((WORK,), pour_at=pour, now=long_ago, hours=HOURS, library=LIBRARY)
    away = round(abs(minutes_between(pour, calmer)))
    assert inside(calmer)
    assert not any(inside(after(pour, sign * m, zone=HOURS.zone)) for m in range(15, away, 15) for sign in (1, -1))


def test_of_two_calmer_pours_as_near_the_later_is_taken():
    """One has more time for it."""
    pour = at(date(2027, 3, 5), time(12), zone=HOURS.zone)
    wide = Hours(work_from=time(0), work_to=time(23, 59), zone=HOURS.zone)
    short = replace(WORK, programme=replace(WORK.programme, total_min=60), mix=replace(WORK.mix, set_h=0.25))
    calmer = calmer_pour((short,), pour_at=pour, now=datetime(2027, 1, 1, tzinfo=UTC), hours=wide, library=LIBRARY)
    assert calmer == after(pour, 15, zone=HOURS.zone)


def test_a_calmer_pour_never_begins_before_now():
    """A nearer one that has begun already is no help."""
    pour = at(date(2027, 3, 5), time(21), zone=HOURS.zone)
    free = calmer_pour((WORK,), pour_at=pour, now=datetime(2027, 1, 1, tzinfo=UTC), hours=HOURS, library=LIBRARY)
    begins = schedule(WORK, pour_at=free, hours=HOURS, library=LIBRARY)[0].starts_at
    pressed = calmer_pour((WORK,), pour_at=pour, now=begins + timedelta(minutes=1), hours=HOURS, library=LIBRARY)
    assert pressed is not None
    assert pressed > free


@pytest.mark.parametrize("flasks", [1, 2, 3])
def test_the_earliest_pour_of_a_shared_kiln_begins_no_flask_before_now(flasks):
    """All of its flasks count, not only the last."""
    now = at(date(2027, 3, 4), time(8, 5), zone=HOURS.zone)
    work = (replace(WORK, kinds_count=0),) * flasks
    pour = earliest_pour(work, now=now, hours=HOURS, library=LIBRARY)
    assert min(d[0].starts_at for d in schedules(work, pour_at=pour, hours=HOURS, library=LIBRARY)) >= now
