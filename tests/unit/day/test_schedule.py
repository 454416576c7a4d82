"""The day around a pour, and the earliest pour."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from pourwell.materials.library import load_library
from pourwell.steps.burnout.model import Programme, SetPoint
from pourwell.steps.day.clock import after, at, minutes_between
from pourwell.steps.day.model import Entry, Hours, Work
from pourwell.steps.day.plan import (
    AT_THE_METAL,
    calm,
    calm_longer_min,
    calmer_hold,
    calmer_pour,
    find_pour,
    held_longer,
    outside,
    schedules,
    settings_outside,
)
from pourwell.steps.day.turns import turns_min
from pourwell.steps.flask.model import Mix
from pourwell.steps.pour.model import Quench
from tests.unit.day.case import earliest_pour, schedule

LIBRARY = load_library()
HOURS = Hours(work_from=time(8), work_to=time(19), zone=ZoneInfo("Europe/Lisbon"))

MIX = Mix(
    id="gypsum-resin",
    name="invented",
    powder_g=600,
    water_g=234,
    water_ml=234,
    ratio_g_per_100_g=39,
    ratio_from="library",
    slurry_cm3=470,
    bowl_cm3=1450,
    bowl_left_g=20,
    collar_mm=30,
    water_low_c=21,
    water_high_c=24,
    gloss_off_min=10,
    finish_min=8,
    still_min=60,
    set_h=2,
    stand_max_h=4,
    vacuum=True,
    boil_kpa=98,
    clock=(),
)
PROGRAMME = Programme(
    id="invented",
    name="invented",
    grade="handbook",
    segments=(),
    by_hand=(),
    total_min=16 * 60,
    start_c=20,
    peak_c=730,
    ceiling_c=740,
    warn_c=740,
    stop_c=760,
    energy_kwh=10,
    energy_low_kwh=8,
    energy_high_kwh=12,
    core_dry_min=300,
    core_dry_early_min=250,
    core_dry_late_min=350,
    passes_400_min=400,
)
QUENCH = Quench(
    way="water", wait_min=12, low_min=10, high_min=14, cool_min=12, cool_low_min=10, cool_high_min=14, sign="no red", about=""
)
WORK = Work(kinds_count=2, pieces_count=4, resin=True, mix=MIX, programme=PROGRAMME, quench=QUENCH)


def day(work: Work, text: str) -> dict[str, tuple[datetime, datetime]]:
    pour = datetime.fromisoformat(text).replace(tzinfo=HOURS.zone)
    return {e.key: (e.starts_at, e.ends_at) for e in schedule(work, pour_at=pour, hours=HOURS, library=LIBRARY)}


def test_the_kiln_goes_on_the_programmes_length_before_the_pour() -> None:
    lines = day(WORK, "2027-03-05 10:00")
    assert minutes_between(lines["kiln"][0], lines["pour"][0]) == PROGRAMME.total_min


def test_over_a_clock_change_the_programme_keeps_its_elapsed_length() -> None:
    lines = day(WORK, "2027-10-31 10:00")
    assert minutes_between(lines["kiln"][0], lines["pour"][0]) == PROGRAMME.total_min
    assert lines["kiln"][0].strftime("%d %H:%M") == "30 19:00"


def test_from_the_wrap_on_the_lines_touch_each_other() -> None:
    entries = schedule(WORK, pour_at=at(date(2027, 3, 5), time(10), zone=HOURS.zone), hours=HOURS, library=LIBRARY)
    tied = [e for e in entries if e.key not in ("patterns", "tree")]
    assert all(a.ends_at == b.starts_at for a, b in pairwise(tied))


def test_standing_time_between_set_and_kiln_is_kept() -> None:
    lines = day(WORK, "2027-03-05 10:00")
    assert minutes_between(*lines["set"]) == MIX.set_h * 60


def test_building_the_tree_moves_to_the_evening_before_when_investing_is_early() -> None:
    lines = day(WORK, "2027-03-06 04:30")  # wrap at about 09:00 on the fifth
    assert lines["wrap"][0].hour in (8, 9, 10)
    early = replace(WORK, pieces_count=30)
    tree = day(early, "2027-03-06 04:30")["tree"]
    assert tree[1].strftime("%d %H:%M") == "04 19:00"


def test_a_tree_on_the_scale_needs_no_pattern_and_tree_lines() -> None:
    assert day(replace(WORK, kinds_count=0), "2027-03-05 10:00").keys().isdisjoint({"patterns", "tree"})


def load(*works: Work, text: str = "2027-03-05 10:00") -> list[dict[str, Entry]]:
    """The days of a kiln load, by key."""
    pour = datetime.fromisoformat(text).replace(tzinfo=HOURS.zone)
    return [{e.key: e for e in d} for d in schedules(works, pour_at=pour, hours=HOURS, library=LIBRARY)]


def test_two_flasks_of_one_kiln_are_poured_in_turn_and_go_in_together() -> None:
    first, second = load(WORK, WORK)
    assert first["kiln"].starts_at == second["kiln"].starts_at
    assert first["strip"].ends_at == second["strip"].ends_at == first["kiln"].starts_at
    assert first["quench"].ends_at <= second["setout"].starts_at
    assert first["invest"].ends_at <= second["wrap"].starts_at
    assert minutes_between(first["strip"].starts_at, second["strip"].starts_at) == LIBRARY.rule("strip_min")


def test_the_gap_of_two_wet_flasks_is_pour_stand_quench_and_the_next_melt() -> None:
    """By hand (rules/day.toml): 3 to pour, 12 to stand, 15 to quench, 5 to weigh the next charge, 15 to melt."""
    assert turns_min((WORK, WORK, WORK), LIBRARY) == (0, 50, 100)


def test_a_flask_that_cools_in_air_does_not_hold_up_the_next_and_is_opened_after_the_last_pour() -> None:
    """By hand: 3 to pour, 5 and 15 for the next melt; a vacuum of 40 min holds the table longer."""
    air = replace(WORK, quench=replace(QUENCH, way="air", cool_min=20))
    assert turns_min((air, air), LIBRARY) == (0, 23)
    assert turns_min((replace(air, vacuum_min=40), air), LIBRARY) == (0, 43)
    days = load(air, air, air)
    assert days[0]["quench"].starts_at >= days[2]["pour"].ends_at
    assert all(minutes_between(d["pour"].ends_at, d["quench"].starts_at) >= 20 for d in days)


def test_what_cools_in_air_is_knocked_out_when_it_is_cool_not_when_it_may_be_moved() -> None:
    air = replace(WORK, quench=replace(QUENCH, way="air", wait_min=15, cool_min=75))
    (lines,) = load(air)
    assert minutes_between(lines["stand"].starts_at, lines["quench"].starts_at) == 75
    assert "air" in lines["stand"].says


def test_the_line_after_the_pour_says_when_the_vacuum_lasts_longer_than_it() -> None:
    assert load(replace(WORK, vacuum_min=2))[0]["stand"].says == "Stand"
    assert load(replace(WORK, vacuum_min=11))[0]["stand"].says == "Vacuum on until the button is solid, then stand"
    air = replace(WORK, vacuum_min=11, quench=replace(QUENCH, way="air"))
    assert load(air)[0]["stand"].says == "Vacuum on until the button is solid, then leave to cool in air"


def test_a_casting_that_waits_for_its_turn_at_the_saw_says_so() -> None:
    first, last = load(WORK, WORK)
    assert "turn" in first["pickle"].says
    assert load(WORK)[0]["pickle"].says == "Pickle"
    assert last["cut"].starts_at == first["cut"].ends_at


def test_settings_by_hand_are_work_at_their_hours() -> None:
    points = (SetPoint(at_min=0, set_c=100, why=""), SetPoint(at_min=300, set_c=730, why=""))
    (lines,) = load(replace(WORK, programme=replace(PROGRAMME, by_hand=points)))
    kiln = lines["kiln"]
    assert kiln.moments == (kiln.starts_at, after(kiln.starts_at, 300, zone=HOURS.zone))
    assert kiln.hands_on_min == 2 * LIBRARY.rule("set_point_min")
    assert [f"{m:%H:%M}" for m in settings_outside(tuple(lines.values()), HOURS, awake=(time(6, 30), time(22, 30)))] == ["23:00"]
    assert not list(outside((kiln,), HOURS))


NARROW = Hours(work_from=time(9), work_to=time(16), zone=HOURS.zone)
MORNING = datetime(2027, 3, 4, 7, 3, tzinfo=UTC)


def test_a_longer_hold_brings_the_pour_into_the_hours_and_is_as_short_as_may_be() -> None:
    """A burnout of 10 h and hours from 9 to 16: in by 16:00 at the latest, it ends by 2:00; poured at 9:40 at the earliest."""
    work = (replace(WORK, kinds_count=0, programme=replace(PROGRAMME, total_min=600)),)
    ask = {"now": MORNING, "hours": NARROW, "library": LIBRARY}
    assert not calm(schedules(work, pour_at=earliest_pour(work, **ask), hours=NARROW, library=LIBRARY), NARROW)
    found = find_pour(work, **ask, longest_min=720)
    days = schedules(held_longer(work, found.longer_min), pour_at=found.pour_at, hours=NARROW, library=LIBRARY)
    assert calm(days, NARROW)
    assert found.longer_min == 480, "9:40 is 17 h 40 after 16:00: 7 h 40 longer, in steps of half an hour"
    assert find_pour(work, **ask, longest_min=450).longer_min == 0


def test_where_not_all_can_be_kept_the_work_at_the_metal_is() -> None:
    work = (replace(WORK, kinds_count=0, programme=replace(PROGRAMME, total_min=600)),)
    found = find_pour(work, now=MORNING, hours=NARROW, library=LIBRARY)
    days = schedules(work, pour_at=found.pour_at, hours=NARROW, library=LIBRARY)
    assert not calm(days, NARROW)
    assert calm(days, NARROW, AT_THE_METAL)


def test_a_calmer_hold_takes_no_longer_one_where_the_plain_one_will_do() -> None:
    night = at(date(2027, 3, 5), time(3), zone=HOURS.zone)
    found = calmer_hold((WORK,), pour_at=night, now=MORNING, hours=HOURS, library=LIBRARY, longest_min=360)
    assert found is not None
    assert found.longer_min == 0


def test_the_earliest_pour_keeps_every_hands_on_step_inside_the_hours() -> None:
    now = datetime(2027, 3, 4, 7, 3, tzinfo=UTC)
    pour = earliest_pour((WORK,), now=now, hours=HOURS, library=LIBRARY)
    entries = schedule(WORK, pour_at=pour, hours=HOURS, library=LIBRARY)
    assert entries[0].starts_at >= now
    assert not list(outside(entries, HOURS))
    sooner = schedule(WORK, pour_at=after(pour, -15, zone=HOURS.zone), hours=HOURS, library=LIBRARY)
    assert sooner[0].starts_at < now or list(outside(sooner, HOURS))


def test_when_no_pour_keeps_the_hours_the_earliest_possible_is_taken() -> None:
    narrow = replace(HOURS, work_from=time(9), work_to=time(9, 30))
    now = datetime(2027, 3, 4, 7, 3, tzinfo=UTC)
    pour = earliest_pour((WORK,), now=now, hours=narrow, library=LIBRARY)
    assert schedule(WORK, pour_at=pour, hours=narrow, library=LIBRARY)[0].starts_at >= now
    assert calmer_pour((WORK,), pour_at=pour, now=now, hours=narrow, library=LIBRARY) is None


def test_a_pour_in_the_night_is_outside_and_a_calmer_one_is_found() -> None:
    now = datetime(2027, 3, 1, 7, 0, tzinfo=UTC)
    pour = at(date(2027, 3, 5), time(3), zone=HOURS.zone)
    late = list(outside(schedule(WORK, pour_at=pour, hours=HOURS, library=LIBRARY), HOURS))
    assert {"pour", "melt"} <= {e.key for e in late}
    calmer = calmer_pour((WORK,), pour_at=pour, now=now, hours=HOURS, library=LIBRARY)
    assert calmer is not None
    assert not list(outside(schedule(WORK, pour_at=calmer, hours=HOURS, library=LIBRARY), HOURS))


@pytest.mark.parametrize("way", ["water", "air"])
def test_the_last_line_is_the_results_whether_quenched_or_cooled(way: str) -> None:
    entries = schedule(
        replace(WORK, quench=replace(QUENCH, way=way)), pour_at=datetime(2027, 3, 5, 10, tzinfo=UTC), hours=HOURS, library=LIBRARY
    )
    assert entries[-1].key == "cut"
    assert entries[0].starts_at < entries[-1].ends_at


def test_the_night_before_a_pour_asked_for_is_taken_as_far_as_it_makes_the_work_fall_in_the_hours() -> None:
    pour_at, now = datetime(2027, 3, 5, 10, tzinfo=HOURS.zone), datetime(2027, 3, 1, 8, tzinfo=HOURS.zone)

    def longer(longest_min: float, *, now: datetime = now, hour: int = 10) -> int:
        asked = pour_at.replace(hour=hour)
        return calm_longer_min((WORK,), pour_at=asked, now=now, hours=HOURS, library=LIBRARY, longest_min=longest_min)

    def quiet(minutes: int, hour: int) -> bool:
        held = held_longer((WORK,), minutes)
        return calm(schedules(held, pour_at=pour_at.replace(hour=hour), hours=HOURS, library=LIBRARY), HOURS)

    for hour in range(9, 18):
        found = longer(600, hour=hour)
        assert quiet(found, hour) or found == 0
        assert not any(quiet(minutes, hour) for minutes in range(0, found, 30)), "no longer than it must be"
    assert any(longer(600, hour=hour) for hour in range(9, 18)), "else this says nothing"
    late = next(hour for hour in range(9, 18) if longer(600, hour=hour))
    assert longer(0, hour=late) == 0
    assert longer(600, hour=late, now=pour_at.replace(hour=late) - timedelta(hours=12)) == 0, (
        "it would have had to begin before now"
    )


def test_a_programme_of_one_s_own_set_by_hand_is_poured_when_its_settings_lie_in_the_day() -> None:
    """Its second setting comes an hour and a half before the pour that would be found: asleep then, it waits for the morning."""
    awake = (time(8, 45), time(22, 30))
    usual = find_pour((WORK,), now=MORNING, hours=HOURS, library=LIBRARY).pour_at
    points = (SetPoint(at_min=0, set_c=100, why=""), SetPoint(at_min=PROGRAMME.total_min - 90, set_c=730, why=""))
    by_hand = (replace(WORK, programme=replace(PROGRAMME, by_hand=points)),)
    found = find_pour(by_hand, now=MORNING, hours=HOURS, library=LIBRARY, awake=awake)
    (lines,) = schedules(by_hand, pour_at=found.pour_at, hours=HOURS, library=LIBRARY)
    assert not list(settings_outside(lines, HOURS, awake=awake))
    assert found.pour_at >= usual
    assert find_pour(by_hand, now=MORNING, hours=HOURS, library=LIBRARY).pour_at == usual, "not asked for, it is not looked at"
