"""What must hold of any day: lines touch, durations are elapsed time, free work keeps the hours, the earliest pour is so."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.steps.day.clock import after, local, minutes_between, round_up
from pourwell.steps.day.plan import Hours, calmer_pour, outside, schedules, tasks
from tests.unit.day.case import earliest_pour, schedule
from tests.unit.day.test_schedule import LIBRARY, WORK

ZONES = st.sampled_from(["Europe/Lisbon", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata", "Pacific/Auckland", "UTC"])
MOMENTS = st.datetimes(datetime(2027, 1, 1), datetime(2028, 12, 31)).map(lambda d: d.replace(second=0, microsecond=0, tzinfo=UTC))
HOURS = st.builds(
    lambda zone, opens, long: Hours(work_from=time(opens), work_to=time(opens + long), zone=ZoneInfo(zone)),
    ZONES,
    st.integers(5, 11),
    st.integers(4, 12),
)


@st.composite
def works(draw, *, air=None):
    """A day's work: how many pieces of how many kinds, how long the burnout, how long it cools."""
    kinds = draw(st.integers(0, 4))
    wait_min = draw(st.integers(5, 120))
    way = draw(st.sampled_from(["water", "air"])) if air is None else ("air" if air else "water")
    cool_min = wait_min if way == "water" else wait_min + draw(st.integers(0, 120))
    return replace(
        WORK,
        kinds_count=kinds,
        pieces_count=kinds * draw(st.integers(1, 10)),
        resin=draw(st.booleans()),
        programme=replace(WORK.programme, total_min=draw(st.integers(300, 1500))),
        quench=replace(WORK.quench, wait_min=wait_min, cool_min=cool_min, way=way),
        mix=replace(WORK.mix, set_h=draw(st.sampled_from([1.5, 2, 2.75, 6])), finish_min=draw(st.integers(6, 12))),
        vacuum_min=draw(st.floats(0, 5)),
    )


@st.composite
def loads(draw):
    """One to five flasks of one kiln: the same burnout, all into water or all not."""
    air = draw(st.booleans())
    flasks = [draw(works(air=air)) for _ in range(draw(st.integers(1, 5)))]
    return tuple(replace(w, programme=flasks[0].programme) for w in flasks)


def day(work, pour, hours):
    return schedule(work, pour_at=pour, hours=hours, library=LIBRARY)


@given(works(), MOMENTS, HOURS)
def test_every_line_takes_its_elapsed_minutes_and_what_is_tied_touches(work, pour, hours):
    entries = day(work, pour, hours)
    wanted = [t for part in tasks(work, LIBRARY) for t in part]
    assert [e.key for e in entries] == [t.key for t in wanted]
    for entry, task in zip(entries, wanted, strict=True):
        assert minutes_between(entry.starts_at, entry.ends_at) == task.whole_min
        assert 0 <= entry.hands_on_min <= task.whole_min + 0.5
    for a, b in pairwise(entries):
        assert a.ends_at <= b.starts_at
        if a.key not in ("patterns", "tree"):
            assert a.ends_at == b.starts_at


@given(works(), MOMENTS, HOURS)
def test_the_flask_is_poured_when_its_programme_ends(work, pour, hours):
    lines = {e.key: e for e in day(work, pour, hours)}
    assert pour == lines["pour"].starts_at
    assert minutes_between(lines["kiln"].starts_at, pour) == work.programme.total_min
    assert minutes_between(lines["set"].starts_at, lines["set"].ends_at) >= work.mix.set_h * 60


@given(loads(), MOMENTS, HOURS)
def test_no_two_hands_on_parts_of_a_kiln_load_overlap(load, pour, hours):
    """One pair of hands; each line's hands-on part is at its start."""
    days = schedules(load, pour_at=pour, hours=hours, library=LIBRARY)
    busy = sorted(
        (minutes_between(pour, e.starts_at), e.hands_on_min, n, e.key) for n, d in enumerate(days) for e in d if e.hands_on_min
    )
    for (start, long, *one), (following, _, *other) in pairwise(busy):
        assert start + long <= following + 0.01, (one, other)


@given(loads(), MOMENTS, HOURS)
def test_a_kiln_load_goes_in_together_and_each_flask_keeps_its_times(load, pour, hours):
    days = schedules(load, pour_at=pour, hours=hours, library=LIBRARY)
    assert days[0][-1].key == "cut"
    for work, entries in zip(load, days, strict=True):
        lines = {e.key: e for e in entries}
        assert minutes_between(lines["kiln"].starts_at, pour) == work.programme.total_min
        assert minutes_between(lines["set"].starts_at, lines["set"].ends_at) >= work.mix.set_h * 60
        stood = minutes_between(lines["pour"].ends_at, lines["quench"].starts_at)
        assert stood >= work.quench.cool_min
        assert stood == work.quench.cool_min or work.quench.way == "air", "into water on its minute"
        assert [e.starts_at for e in entries] == sorted(e.starts_at for e in entries)
        tied = [e for e in entries if e.key not in ("patterns", "tree")]
        assert all(a.ends_at == b.starts_at for a, b in pairwise(tied))


@given(works(), MOMENTS, HOURS)
def test_what_may_be_done_earlier_keeps_the_hours_unless_no_day_is_long_enough(work, pour, hours):
    open_min = (hours.work_to.hour - hours.work_from.hour) * 60
    for entry in day(work, pour, hours):
        long = minutes_between(entry.starts_at, entry.ends_at)
        if entry.key in ("patterns", "tree") and long <= open_min - 60:  # an hour to spare where clocks change
            start, end = (m.astimezone(hours.zone) for m in (entry.starts_at, entry.ends_at))
            assert hours.work_from <= start.time()
            assert end.time() <= hours.work_to
            assert start.date() == end.date()


@settings(max_examples=5)
@given(works(), MOMENTS, HOURS)
def test_the_earliest_pour_is_the_first_that_will_do(work, now, hours):
    found = earliest_pour((work,), now=now, hours=hours, library=LIBRARY)
    assert day(work, found, hours)[0].starts_at >= now
    calm = not list(outside(day(work, found, hours), hours))
    for step in range(1, 7):
        sooner = day(work, after(found, -15 * step, zone=hours.zone), hours)
        if calm:
            assert sooner[0].starts_at < now or list(outside(sooner, hours))


@settings(max_examples=6)
@given(works(), MOMENTS, HOURS)
def test_a_calmer_pour_is_calm_within_a_day_and_not_begun(work, pour, hours):
    now = pour - timedelta(days=3)
    calmer = calmer_pour((work,), pour_at=pour, now=now, hours=hours, library=LIBRARY)
    if calmer is not None:
        entries = day(work, calmer, hours)
        assert not list(outside(entries, hours))
        assert entries[0].starts_at >= now
        assert abs(minutes_between(pour, calmer)) < 24 * 60


@given(MOMENTS, ZONES, st.floats(-3000, 3000).map(round))
def test_there_and_back_is_the_same_moment_in_any_zone(moment, zone, minutes):
    place = ZoneInfo(zone)
    there = after(moment, minutes, zone=place)
    assert minutes_between(moment, there) == minutes
    assert after(there, -minutes, zone=place) == moment
    assert local(there, place) == there


@given(st.datetimes(datetime(2027, 1, 1), datetime(2028, 12, 31)), ZONES, st.sampled_from([5, 15, 30]))
def test_rounding_up_never_goes_back_and_never_a_whole_step(moment, zone, step_min):
    aware = moment.replace(tzinfo=UTC)
    rounded = round_up(aware, step_min, zone=ZoneInfo(zone))
    assert timedelta(0) <= rounded - aware < timedelta(minutes=step_min + 1)
    assert (rounded.second, rounded.microsecond) == (0, 0)
