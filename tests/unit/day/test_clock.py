"""Clock arithmetic over ordinary days and clock changes."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from pourwell.errors import BadRequestError
from pourwell.steps.day.clock import after, at, changes, local, minutes_between, read, round_up, to_five

LISBON = ZoneInfo("Europe/Lisbon")
"""Clocks go back an hour at 02:00 on 31 October 2027 and forward at 01:00 on 28 March 2027 (time zone data)."""


def test_sixteen_hours_over_the_night_when_clocks_go_back_end_an_hour_earlier_on_the_wall() -> None:
    start = at(date(2027, 10, 30), time(17, 0), zone=LISBON)
    end = after(start, 16 * 60, zone=LISBON)
    assert (end.hour, end.day) == (8, 31)
    assert minutes_between(start, end) == 16 * 60
    assert changes(start, end) == -60


def test_sixteen_hours_over_the_night_when_clocks_go_forward_end_an_hour_later_on_the_wall() -> None:
    start = at(date(2027, 3, 27), time(17, 0), zone=LISBON)
    end = after(start, 16 * 60, zone=LISBON)
    assert (end.hour, end.day) == (10, 28)
    assert changes(start, end) == 60


def test_plain_subtraction_of_moments_is_elapsed_time_too() -> None:
    start = at(date(2027, 10, 30), time(17, 0), zone=LISBON)
    end = at(date(2027, 10, 31), time(9, 0), zone=LISBON)
    assert (end - start).total_seconds() == 17 * 3600


def test_a_wall_time_is_read_on_the_studios_clock() -> None:
    assert read("2027-07-01 10:00", zone=LISBON).astimezone(UTC) == datetime(2027, 7, 1, 9, 0, tzinfo=UTC)


def test_a_time_with_its_own_offset_keeps_its_moment() -> None:
    assert read("2027-07-01T10:00+03:00", zone=LISBON) == datetime(2027, 7, 1, 7, 0, tzinfo=UTC)


def test_an_hour_that_comes_twice_is_the_first() -> None:
    moment = read("2027-10-31 01:30", zone=LISBON)
    assert moment.astimezone(UTC) == datetime(2027, 10, 31, 0, 30, tzinfo=UTC)


def test_a_skipped_hour_is_refused_with_the_one_to_take() -> None:
    with pytest.raises(BadRequestError, match="does not exist") as caught:
        read("2027-03-28 01:30", zone=LISBON)
    assert "02:30" in caught.value.try_this


@pytest.mark.parametrize("text", ["tomorrow", "10:00", "2027-13-01 10:00", ""])
def test_what_is_no_date_and_time_is_refused_with_the_form(text: str) -> None:
    with pytest.raises(BadRequestError) as caught:
        read(text, zone=LISBON)
    assert "YYYY-MM-DD HH:MM" in caught.value.try_this


def test_a_date_without_an_hour_is_refused() -> None:
    with pytest.raises(BadRequestError, match="no hour"):
        read("2027-07-01", zone=LISBON)


@pytest.mark.parametrize(("minute", "second", "expected"), [(0, 0, (8, 0)), (0, 1, (8, 15)), (14, 59, (8, 15)), (46, 0, (9, 0))])
def test_rounding_up_goes_to_the_next_quarter(minute: int, second: int, expected: tuple[int, int]) -> None:
    moment = datetime(2027, 7, 1, 7, minute, second, tzinfo=UTC)
    rounded = round_up(moment, 15, zone=LISBON)
    assert (rounded.hour, rounded.minute) == expected


def test_without_a_zone_the_machines_own_clock_is_used() -> None:
    moment = datetime(2027, 7, 1, 7, 0, tzinfo=UTC)
    assert local(moment, None).utcoffset() == moment.astimezone().utcoffset()


@pytest.mark.parametrize(("at_hand", "told"), [("14:54", "14:55"), ("14:57:30", "15:00"), ("23:58", "00:00"), ("06:30", "06:30")])
def test_settings_are_told_to_five_minutes(at_hand: str, told: str) -> None:
    moment = datetime.combine(date(2027, 3, 5), time.fromisoformat(at_hand), tzinfo=UTC)
    assert f"{to_five(moment):%H:%M}" == told
    assert abs(minutes_between(moment, to_five(moment))) <= 2.5
    assert to_five(moment, first=True) == moment, "the kiln goes on when it goes on"
