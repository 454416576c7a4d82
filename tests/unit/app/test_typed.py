"""What people type into fields: read with patience, refused with the range."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from pourwell.app.typed import METAL, PERCENT, WEIGHT, NotYetError, hour, moment, number

ZONE = ZoneInfo("Europe/Lisbon")
NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "grams"), [("23.4", 23.4), ("23,4", 23.4), (" 23.4 g", 23.4), ("23.4g", 23.4), ("1 200", 1200), ("1\u202f200", 1200)]
)
def test_a_weight_is_read_as_it_is_written(text, grams):
    assert number(text, WEIGHT) == grams


@pytest.mark.parametrize("text", ["", "abc", "12..3", "--4", "23 kg", "nan", "inf", "1e9", "0", "-5", "30000"])
def test_what_is_no_weight_is_refused_with_what_may_stand_there(text):
    with pytest.raises(NotYetError, match=r"Enter 0\.1 to 20,000 g\."):
        number(text, WEIGHT)


def test_a_figure_out_of_range_says_on_which_side():
    with pytest.raises(NotYetError, match="2500 is above what can be"):
        number("2500", METAL)
    with pytest.raises(NotYetError, match="-1 is below what can be"):
        number("\u22121 %", PERCENT)


@pytest.mark.parametrize(
    ("text", "clock"),
    [("9", "09:00"), ("9:30", "09:30"), ("0930", "09:30"), ("14h05", "14:05"), ("14.05", "14:05"), (" 0:00 ", "00:00")],
)
def test_an_hour_is_read_as_it_is_written(text, clock):
    assert f"{hour(text):%H:%M}" == clock


@pytest.mark.parametrize("text", ["24", "9:60", "noon", "", "9:5:1", "-3"])
def test_what_is_no_hour_is_refused(text):
    with pytest.raises(NotYetError, match="Enter it as 10:00"):
        hour(text)


def test_no_day_and_no_hour_is_no_wish():
    assert moment("", " ", now=NOW, zone=ZONE) is None


def test_an_hour_alone_is_today():
    when = moment("", "17:30", now=NOW, zone=ZONE)
    assert when is not None
    assert when.isoformat() == "2026-11-26T17:30:00+00:00"


def test_day_and_hour_are_on_the_clock_of_the_studio():
    when = moment("2027-07-01", "10", now=NOW, zone=ZONE)
    assert when is not None
    assert when.isoformat() == "2027-07-01T10:00:00+01:00"


@pytest.mark.parametrize(
    ("day", "clock", "why"),
    [
        ("2027-07-01", "", "needs an hour"),
        ("1 July", "10", "is no day"),
        ("", "8:30", "is over"),
        ("2026-11-25", "23", "is over"),
        ("2027-02-30", "9", "is no day"),
        ("0001-01-01", "9", "lies in the year 1"),
        ("9999-12-31", "23:59", "lies in the year 9999"),
    ],
)
def test_half_a_moment_or_one_that_is_over_is_refused(day, clock, why):
    with pytest.raises(NotYetError, match=why):
        moment(day, clock, now=NOW, zone=ZONE)
