"""A kiln that fires while nobody is awake, and its caution in the check list."""

from datetime import datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest

from pourwell.materials.studio import Studio
from pourwell.steps.day.checklist import checklist
from pourwell.steps.day.night import BRIEFLY, OVERNIGHT, fires_overnight
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
