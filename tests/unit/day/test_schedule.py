"""The day around a pour, and the earliest pour."""

from dataclasses import replace
from datetime import UTC, date, datetime, time
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from pourwell.materials.library import load_library
from pourwell.steps.burnout.model import Programme
from pourwell.steps.day.clock import after, at, minutes_between
from pourwell.steps.day.plan import Hours, Work, calmer_pour, earliest_pour, outside, schedule
from pourwell.steps.flask.model import Mix
from pourwell.steps.pour.model import Quench

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


def test_two_flasks_of_one_kiln_are_poured_in_turn_and_go_in_together() -> None:
    first = day(replace(WORK, flask_index=0, flasks_count=2), "2027-03-05 10:00")
    second = day(replace(WORK, flask_index=1, flasks_count=2), "2027-03-05 10:00")
    gap = LIBRARY.rule("between_flasks_min")
    assert minutes_between(first["pour"][0], second["pour"][0]) == gap
    assert first["kiln"][0] == second["kiln"][0]
    assert minutes_between(first["invest"][0], second["invest"][0]) == gap


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
