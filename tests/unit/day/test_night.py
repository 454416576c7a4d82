"""A kiln that fires while nobody is awake, and its caution in the check list."""

from datetime import UTC, date, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest

from pourwell.materials.studio import Studio
from pourwell.steps.day.checklist import checklist
from pourwell.steps.day.night import BRIEFLY, OVERNIGHT, fires_overnight, rises_at
from tests.unit.day.case import bench_of, run

AWAKE = time(7), time(23)
LISBON = ZoneInfo("Europe/Lisbon")


@pytest.mark.parametrize(
    ("on", "off", "night"),
    [
        ("2027-03-01 07:00", "2027-03-01 23:00", False),
        ("2027-03-01 06:59", "2027-03-01 12:00", True),
        ("2027-03-01 12:00", "2027-03-01 23:01", True),
        ("2027-03-01 12:00", "2027-03-02 10:00", True),
        ("2027-07-01 08:00", "2027-07-01 22:30", False),
    ],
)
def test_a_firing_within_one_day_awake_is_no_night(on, off, night):
    moments = (datetime.fromisoformat(text).replace(tzinfo=LISBON) for text in (on, off))
    assert fires_overnight(*moments, awake=AWAKE, zone=LISBON) is night


def test_the_hours_are_those_of_the_place_whatever_offset_a_moment_carries():
    east = timezone(timedelta(hours=9))
    on = datetime(2027, 3, 1, 8, 0, tzinfo=LISBON).astimezone(east)
    assert not fires_overnight(on, on + timedelta(hours=14), awake=AWAKE, zone=LISBON)


def test_who_goes_to_bed_after_midnight_is_awake_until_then():
    late = time(9), time(1, 30)
    at = datetime(2027, 3, 1, 20, 0, tzinfo=LISBON)
    assert not fires_overnight(at, at + timedelta(hours=5), awake=late, zone=LISBON)
    assert not fires_overnight(at + timedelta(hours=4, minutes=10), at + timedelta(hours=5), awake=late, zone=LISBON)
    assert fires_overnight(at, at + timedelta(hours=6), awake=late, zone=LISBON)


@pytest.mark.parametrize("text", [BRIEFLY, OVERNIGHT])
def test_the_caution_names_alarms_fire_solvent_and_local_rules(text):
    for word in ("smoke", "carbon monoxide", "nothing flammable near", "solvent in another room", "ocal rules"):
        assert word in text


def test_the_check_list_warns_where_the_kiln_is_started():
    usual = [s for s in checklist(bench_of(run())) if s.text.startswith("Start the programme")]
    assert BRIEFLY in usual[0].caution
    late = Studio(sleep_to=time(0), sleep_from=time(23, 59))
    day = [s for s in checklist(bench_of(run(), studio=late)) if s.text.startswith("Start the programme")]
    assert (BRIEFLY in day[0].caution) is (bench_of(run()).starts("kiln").date() != bench_of(run()).starts("pour").date())


@pytest.mark.parametrize(
    ("moment", "rises"),
    [
        ("2027-03-01 23:30", "2027-03-02T07:00:00+00:00"),
        ("2027-03-02 03:00", "2027-03-02T07:00:00+00:00"),
        ("2027-03-02 07:00", "2027-03-03T07:00:00+00:00"),  # who rises now is up: it is the next morning that is asked for
        ("2027-03-27 23:30", "2027-03-28T07:00:00+01:00"),  # the clocks go forward in this night
        ("2027-10-30 23:30", "2027-10-31T07:00:00+00:00"),  # and back in this one
        ("2027-12-31 23:59", "2028-01-01T07:00:00+00:00"),
    ],
)
def test_a_sleeper_rises_at_the_next_hour_of_rising_on_the_wall_clock(moment, rises):
    asleep = datetime.fromisoformat(moment).replace(tzinfo=LISBON)
    assert rises_at(asleep, time(7), zone=LISBON).isoformat() == rises


def test_the_night_of_the_change_is_an_hour_shorter_or_longer():
    """Portugal changes its clocks with the European Union (Directive 2000/84/EC): last Sundays of March and October, 01:00 UTC."""
    hours = []
    for day in (date(2027, 3, 27), date(2027, 6, 1), date(2027, 10, 30)):
        to_bed = datetime.combine(day, time(23), tzinfo=LISBON)
        hours.append((rises_at(to_bed, time(7), zone=LISBON) - to_bed.astimezone(UTC)) / timedelta(hours=1))
    assert hours == [7.0, 8.0, 9.0]


def test_rising_is_told_on_the_clock_of_the_place_for_a_moment_with_another_offset():
    tokyo = datetime(2027, 6, 2, 6, 0, tzinfo=timezone(timedelta(hours=9)))  # 22:00 on the day before in Lisbon
    assert rises_at(tokyo, time(7), zone=LISBON).isoformat() == "2027-06-02T07:00:00+01:00"


def test_a_firing_over_the_change_of_the_clocks_within_waking_hours_is_no_night():
    """Awake around midnight: 20:00 to 04:00 on the wall is seven hours of elapsed time when the clocks go forward."""
    owl = time(12), time(4)
    on = datetime(2027, 3, 27, 20, 0, tzinfo=LISBON).astimezone(UTC)
    assert not fires_overnight(on, on + timedelta(hours=7), awake=owl, zone=LISBON)
    assert fires_overnight(on, on + timedelta(hours=7, minutes=1), awake=owl, zone=LISBON)


def test_a_firing_of_two_whole_days_is_a_night_for_everybody_who_sleeps():
    on = datetime(2027, 3, 1, 8, 0, tzinfo=LISBON)
    for awake in (AWAKE, (time(9), time(1, 30)), (time(6), time(5, 59))):
        assert fires_overnight(on, on + timedelta(days=2), awake=awake, zone=LISBON)
