"""Moments and charts as pages show them."""

from datetime import UTC, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from pourwell.web.desk import when
from pourwell.web.desk.drawn import Heat, TimeLine, clipped, hour_words, kiln_points
from pourwell.web.desk.patterns import CELL_PX, PICTURE_PX, px_per_mm
from pourwell.web.desk.rail import BEFORE_H, WHOLE_H, hours_told
from tests.unit.web.built import Built

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)
LISBON = ZoneInfo("Europe/Lisbon")


@pytest.mark.parametrize(
    ("minutes", "said"), [(0, "0 min"), (45, "45 min"), (60, "1 h"), (96, "1 h 36"), (125, "2 h 05"), (1440, "24 h"), (59.7, "1 h")]
)
def test_spans_are_said_in_hours_and_minutes(minutes, said):
    assert when.span(minutes) == said


def test_moments_of_today_need_no_day():
    assert when.day_and_clock(NOW.replace(hour=17, minute=10), NOW) == "17:10"
    assert when.day_and_clock(NOW + timedelta(days=1), NOW) == "Fri 08:30"
    assert when.day_and_clock(NOW + timedelta(days=7), NOW) == "Thu 3 Dec 08:30"
    assert when.day_and_clock(NOW - timedelta(days=8), NOW) == "Wed 18 Nov 08:30"
    assert when.long_day(NOW) == "Thursday 26 November"


@pytest.mark.parametrize("minutes", range(0, 24 * 60, 13))
def test_no_hour_of_the_rail_runs_over_its_end_or_over_now_at_any_time_of_day(minutes):
    """A clock of 36 px, on rails of a phone, a small tablet and a desk."""
    now = NOW.replace(hour=0, minute=0) + timedelta(minutes=minutes)
    start = now.replace(minute=0) - timedelta(hours=BEFORE_H)
    axis = TimeLine(start=start, end=start + timedelta(hours=WHOLE_H), zone=UTC)
    told = hours_told(axis, axis.x(now))
    for px, shown in ((320, [h for h, classes in told if not classes]), (701, [h for h, _ in told]), (1440, [h for h, _ in told])):
        assert len(shown) >= 5
        for hour in shown:
            assert 18 <= px * axis.x(hour) <= px - 18
            assert px * abs(axis.x(hour) - axis.x(now)) >= 35


@pytest.mark.parametrize("hours", [10, 19, 43, 70, 130])
def test_no_hours_under_a_chart_run_into_each_other(hours):
    """A clock of 34 px in a chart of 358 px, a phone's, and of 1100."""
    start = NOW.replace(hour=13, minute=20)
    axis = TimeLine(start=start, end=start + timedelta(hours=hours), zone=UTC)
    told: list[datetime] = []

    def says(hour):
        told.append(hour)
        return when.clock(hour)

    words = Built(lambda: hour_words(axis, 0.0, says)).all("span")
    narrow = [hour for hour, word in zip(told, words, strict=True) if "wide" not in word.classes]
    assert len(narrow) >= 2
    for px, shown in ((1100, told), (358, narrow)):
        at = [px * axis.x(hour) for hour in shown]
        assert all(b - a >= 36 for a, b in pairwise(at)), (px, at)


def test_what_is_ahead_and_what_is_over():
    assert when.ahead(NOW + timedelta(minutes=96), NOW) == "in 1 h 36"
    assert when.ahead(NOW - timedelta(minutes=5), NOW) == "5 min ago"


def test_kept_moments_are_told_on_the_clock_of_the_studio():
    assert when.clock(when.told("2026-07-01T10:00+00:00", LISBON)) == "11:00"


def test_days_to_choose_from_begin_today():
    days = when.days(NOW)
    assert days[0] == ("", "Earliest")
    assert days[1] == ("2026-11-26", "Today, Thu 26 Nov")
    assert days[2] == ("2026-11-27", "Tomorrow, Fri 27 Nov")
    assert len(days) == when.DAYS + 1
    assert len(dict(days)) == len(days)


@pytest.mark.parametrize(("chosen", "name"), [("2026-11-20", "Fri 20 Nov"), ("2027-03-05", "Fri 5 Mar"), ("rubbish", "rubbish")])
def test_a_day_that_was_chosen_earlier_stays_among_them(chosen, name):
    assert dict(when.days(NOW, chosen))[chosen] == name
    assert when.days(NOW, "2026-11-27") == when.days(NOW)


def line(hours=24, zone=UTC):
    return TimeLine(start=NOW, end=NOW + timedelta(hours=hours), zone=zone)


def test_moments_lie_where_they_should():
    axis = line()
    assert axis.x(NOW) == 0
    assert axis.x(NOW + timedelta(hours=6)) == 0.25
    assert axis.x(NOW + timedelta(hours=36)) == 1.5


def test_hours_are_full_hours_of_the_clock():
    assert [when.clock(h) for h in line(10).hours(3)] == ["09:00", "12:00", "15:00", "18:00"]


def test_hours_follow_a_clock_change():
    """On 28 March 2027 the clocks in Lisbon go from 01:00 to 02:00."""
    start = datetime(2027, 3, 27, 22, 0, tzinfo=UTC)
    axis = TimeLine(start=start, end=start + timedelta(hours=8), zone=LISBON)
    assert [when.clock(h) for h in axis.hours(1)] == [
        "22:00",
        "23:00",
        "00:00",
        "02:00",
        "03:00",
        "04:00",
        "05:00",
        "06:00",
        "07:00",
    ]


def test_working_hours_are_stretches_of_the_line():
    spans = list(line(30).open_hours(time(8, 0), time(19, 0)))
    assert spans == [(0.0, pytest.approx(10.5 / 30)), (pytest.approx(23.5 / 30), 1.0)]


def segment(reach_h, end_h, target):
    moments = [(NOW + timedelta(hours=h)).isoformat() for h in (reach_h - 1, reach_h, end_h)]
    return {"starts_at": moments[0], "reached_at": moments[1], "ends_at": moments[2], "target_c": target}


def test_a_programme_becomes_corners():
    corners = kiln_points([segment(1, 3, 150.0), segment(4, 6, 730.0)], 20.0)
    assert [c for _, c in corners] == [20.0, 150.0, 150.0, 730.0, 730.0]
    assert corners[0][0] == NOW
    assert corners[-1][0] == NOW + timedelta(hours=6)


def test_a_curve_is_cut_off_at_the_ends_of_its_axis():
    axis = TimeLine(start=NOW + timedelta(minutes=30), end=NOW + timedelta(hours=2), zone=UTC)
    points = clipped(kiln_points([segment(1, 3, 150.0)], 20.0), axis)
    assert points[0] == (0.0, pytest.approx(85.0))
    assert points[-1] == (1.0, pytest.approx(150.0))
    assert all(0 <= x <= 1 for x, _ in points)


def test_a_curve_that_is_not_in_the_axis_is_not_drawn():
    axis = TimeLine(start=NOW + timedelta(hours=20), end=NOW + timedelta(hours=30), zone=UTC)
    assert clipped(kiln_points([segment(1, 3, 150.0)], 20.0), axis) == []


def test_every_usual_piece_fits_its_cell_at_the_common_scale():
    sizes = [0.05, 0.06, 0.04]
    scale = px_per_mm(sizes)
    assert max(PICTURE_PX * mm * scale for mm in sizes) == pytest.approx(CELL_PX)


def test_a_piece_in_a_wrong_unit_does_not_make_specks_of_the_others():
    assert px_per_mm([0.05, 0.06, 0.04, 1.3]) == px_per_mm([0.05, 0.06, 0.04])
    assert px_per_mm([]) > 0


def test_a_chart_of_temperatures_reaches_over_the_hottest_and_always_as_high_as_for_gypsum():
    gypsum, phosphate = Heat.over(732, top=20, foot=220), Heat.over(732, 871, top=20, foot=220)
    assert gypsum.most_c == 800, "charts of gypsum can be compared"
    assert [gypsum.y(c) for c in (0, 400, 800)] == [220, 120, 20]
    assert phosphate.most_c == 911
    assert 20 < phosphate.y(871) < 30, "a phosphate mould's peak stays in the picture"
