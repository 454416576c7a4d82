"""Times of a log: clocks, dates, numbers; midnight, clock changes, stamps that stand twice, gaps, time that goes back."""

import pytest

from pourwell.errors import BadFileError
from pourwell.files.log_time import Stamps, in_order, is_date_alone, is_moment, moments_s, numbers_s, unit_in


def stamps(count, begin=2):
    return Stamps(file="log.csv", lines=list(range(begin, begin + count)), says=[])


def read(cells, **named):
    known = stamps(len(cells))
    times, turned = in_order(moments_s(cells, stamps=known), stamps=known, zoned=named.get("zoned", False))
    return [t - times[0] for t in times], turned, known.says


@pytest.mark.parametrize(
    ("cells", "seconds"),
    [
        (["08:00", "08:01", "08:02"], [0, 60, 120]),
        (["8:00:00", "8:00:30", "8:01:00"], [0, 30, 60]),
        (["08:00:00.5", "08:00:01.0", "08:00:01,25"], [0, 0.5, 0.75]),
        (["11:59 AM", "12:00 PM", "12:01 pm"], [0, 60, 120]),
        (["11:59 p.m.", "12:00 a.m.", "12:01 a.m."], [0, 60, 120]),
        (["23:58", "23:59", "00:00", "00:01"], [0, 60, 120, 180]),
        (["0:00", "24:00", "25:00"], [0, 86400, 90000]),
        (["2026-11-26 23:59", "2026-11-27 00:00"], [0, 60]),
        (["2026-11-26T08:00:00Z", "2026-11-26T08:00:10Z"], [0, 10]),
        (["2026/11/26 08:00", "2026/11/26 08:05"], [0, 300]),
        (["26.11.2026 08:00", "26.11.2026 08:01", "27.11.2026 08:01"], [0, 60, 86460]),
        (["11/26/2026 8:00 AM", "11/26/2026 8:01 AM"], [0, 60]),
        (["26.11.26, 08:00", "26.11.26, 08:01"], [0, 60]),
    ],
)
def test_times_are_read_in_every_usual_form(cells, seconds):
    known = stamps(len(cells))
    got = moments_s(cells, stamps=known)
    assert [t - got[0] for t in got] == pytest.approx(seconds)


def test_midnight_is_passed_and_said():
    times, _, says = read(["22:00", "22:30", "23:00", "23:05", "23:20", "00:02", "00:20"])
    assert times == [0, 1800, 3600, 3900, 4800, 7320, 8400]
    assert (7, "The clock passes midnight; the log goes on the next day.") in says


def test_a_dial_of_twelve_hours_goes_on_past_twelve():
    cells = [f"{h}:{m:02d}" for h, m in [(12, 40), (12, 50), (1, 0), (1, 10)]]
    times, _, says = read(cells)
    assert times == [0, 600, 1200, 1800]
    assert "twelve hours" in says[0][1]


def test_day_and_month_are_told_apart_by_how_the_dates_go_on():
    us = ["11/09/2026 23:59", "11/10/2026 00:00"]
    european = ["09.11.2026 23:59", "10.11.2026 00:00"]
    for cells in (us, european):
        assert read(cells)[0] == [0, 60], cells


def test_dates_in_both_orders_are_refused():
    with pytest.raises(BadFileError, match="both orders"):
        moments_s(["26.11.2026 08:00", "11.27.2026 08:00"], stamps=stamps(2))


def test_offsets_from_utc_carry_over_a_clock_change():
    cells = ["2026-10-25T02:30:00+02:00", "2026-10-25T02:00:00+01:00", "2026-10-25T02:30:00+01:00"]
    assert read(cells, zoned=True)[0] == [0, 1800, 3600]


def test_an_hour_back_at_the_end_of_summer_time_goes_on_and_is_said():
    cells = ["2026-10-25 02:50", "2026-10-25 02:55", "2026-10-25 02:00", "2026-10-25 02:05"]
    times, _, says = read(cells)
    assert times == [0, 300, 600, 900]
    assert says[0][0] == 4
    assert "end of summer time" in says[0][1]


def test_time_that_goes_back_is_refused_with_its_line():
    with pytest.raises(BadFileError, match="line 4: the time goes back by 10 min") as caught:
        read(["08:00", "08:10", "08:00", "08:05"])
    assert "Two logs" in caught.value.why
    assert "Cut the file there" in caught.value.try_this


def test_a_log_with_the_newest_reading_first_is_turned_round():
    times, turned, says = read(["2026-11-26 08:02", "2026-11-26 08:01", "2026-11-26 08:00"])
    assert turned
    assert times == [0, 60, 120]
    assert "newest reading stands first" in says[0][1]


def test_readings_under_one_stamp_are_spread_up_to_the_next():
    times, _, says = read(["08:00", "08:00", "08:00", "08:01", "08:01", "08:01"])
    assert times == pytest.approx([0, 20, 40, 60, 80, 100])
    assert says == [(2, "3 readings have one time stamp; such readings are spread up to the next.")]


def test_a_gap_is_bridged_and_said():
    cells = [f"08:{m:02d}" for m in range(0, 20)] + [f"08:{m:02d}" for m in range(40, 59)]
    _, _, says = read(cells)
    assert says == [(22, "No reading for 21 min: bridged by a straight line.")]


def test_a_long_gap_is_refused_with_its_line():
    cells = [f"08:{m:02d}" for m in range(20)] + [f"10:{m:02d}" for m in range(20)]
    with pytest.raises(BadFileError, match="line 22: no reading for 101 min") as caught:
        read(cells)
    assert "straight line would invent it" in caught.value.why


def test_a_slow_logger_has_no_gaps():
    assert read([f"{h:02d}:{m:02d}" for h in range(5) for m in (0, 20, 40)])[2] == []


@pytest.mark.parametrize(
    ("header", "unit"),
    [
        ("Time (s)", "s"),
        ("time [min]", "min"),
        ("elapsed_h", "h"),
        ("t / min", "min"),
        ("Seconds", "s"),
        ("hours", "h"),
        ("Zeit Std", "h"),
        ("Time", None),
        ("Time hh:mm:ss", None),
        ("temps", None),
        ("min of h", None),
    ],
)
def test_a_header_says_what_its_numbers_count(header, unit):
    assert unit_in(header) == unit


@pytest.mark.parametrize(("unit", "seconds"), [("s", 90.0), ("min", 5400.0), ("h", 324000.0)])
def test_numbers_count_what_is_said(unit, seconds):
    assert numbers_s([0.0, 90.0], unit=unit, stamps=stamps(2)) == [0.0, seconds]


def test_numbers_that_are_dates_since_1970_need_no_unit():
    assert numbers_s([1.77e9, 1.77e9 + 60], unit=None, stamps=stamps(2))[1] == 1.77e9 + 60
    assert numbers_s([1.77e12, 1.77e12 + 6e4], unit=None, stamps=stamps(2))[1] == pytest.approx(1.77e9 + 60)


def test_numbers_without_a_unit_are_refused_and_the_option_is_named():
    with pytest.raises(BadFileError, match="line 2: nothing says what the time 0 counts") as caught:
        numbers_s([0.0, 1.0], unit=None, stamps=stamps(2))
    assert "--time min" in caught.value.try_this


@pytest.mark.parametrize("cell", ["25:61", "8.30", "2026-13-45 08:00", "half past eight", "13:00 PM"])
def test_what_is_no_time_is_refused_with_its_line(cell):
    with pytest.raises(BadFileError, match="line 3"):
        moments_s(["08:00", cell, "08:02"], stamps=stamps(3))


def test_times_with_and_without_a_date_do_not_mix():
    with pytest.raises(BadFileError, match="line 3: some times have a date"):
        moments_s(["08:00", "2026-11-26 08:01"], stamps=stamps(2))


def test_a_date_alone_is_told_from_a_moment():
    assert is_date_alone("26.11.2026")
    assert not is_date_alone("26.11.2026 08:00")
    assert is_moment("26.11.2026")
    assert not is_moment("26.11")
