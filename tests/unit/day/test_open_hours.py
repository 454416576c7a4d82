"""When somebody works, over several days, and moments told by the name of a day."""

from dataclasses import replace
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from pourwell.errors import BadRequestError
from pourwell.materials.studio import Studio
from pourwell.steps.day.open_hours import Terms, days, read_soon, spans, terms_of, week_of, without_pour_times, working
from pourwell.steps.day.week_model import WeekKiln
from tests.unit.day.week_case import run

LISBON = ZoneInfo("Europe/Lisbon")
MONDAY = datetime(2027, 3, 1, 9, 2, tzinfo=UTC)
RULES = {"bag_max_min": 1440, "crucible_change_min": 10, "set_point_min": 2}


def terms(start: datetime = MONDAY, **studio: object) -> Terms:
    own = Studio(time_zone="Europe/Lisbon", **studio)  # type: ignore[arg-type]
    return terms_of(own, start_at=start, asked=(), first_pour_at=None, rules=RULES)


def test_the_first_moment_is_the_next_full_step_of_the_clock():
    assert terms().start_at == datetime(2027, 3, 1, 9, 5, tzinfo=UTC)


def test_hours_are_minutes_from_the_first_moment_and_nothing_lies_before_it():
    first, second = list(spans(terms(), (time(8), time(19))))[:2]
    assert first == (0, 595)
    assert second == (1375, 2035)


def test_a_day_that_is_over_has_no_hours():
    late = terms(datetime(2027, 3, 1, 20, 0, tzinfo=UTC))
    assert next(iter(spans(late, (time(8), time(19))))) == (720, 1380)


def test_days_off_have_no_hours_but_nights_to_be_awake():
    own = terms(days_off=("Tuesday", "2027-03-03"))
    assert [working(own, day) for day in days(own)[:4]] == [True, False, False, True]
    work, awake = list(spans(own, own.work)), list(spans(own, own.awake, off=False))
    assert work[1][0] == 3 * 1440 - 65
    assert len(awake) == len(days(own))


def test_the_day_of_a_clock_change_is_an_hour_shorter_or_longer():
    """Lisbon: forward on 28 March 2027, back on 31 October 2027, both at one in the morning UTC."""
    spring = list(spans(terms(datetime(2027, 3, 27, 0, 0, tzinfo=UTC)), (time(8), time(19))))
    autumn = list(spans(terms(datetime(2027, 10, 29, 23, 0, tzinfo=UTC)), (time(8), time(19))))
    assert [spring[1][0] - spring[0][0], spring[2][0] - spring[1][0]] == [1380, 1440]
    assert [autumn[1][0] - autumn[0][0], autumn[2][0] - autumn[1][0]] == [1500, 1440]
    assert all(closes - opens == 660 for opens, closes in spring + autumn)


def test_hours_over_the_change_itself_are_elapsed_hours():
    own = terms(datetime(2027, 3, 28, 0, 0, tzinfo=UTC))
    assert next(iter(spans(own, (time(0), time(6))))) == (0, 300)


def test_hours_may_end_after_midnight():
    own = terms(sleep_from=time(1), sleep_to=time(9))
    first, second = list(spans(own, own.awake, off=False))[:2]
    assert own.awake == (time(9), time(1))
    assert first == (0, 955)
    assert second == (1435, 2395)


def test_there_and_back_is_the_same_minute_also_over_a_change():
    own = terms(datetime(2027, 3, 27, 12, 0, tzinfo=UTC))
    for minute in (0, 700, 780, 785, 3000):
        assert own.minute(own.moment(minute)) == minute
    assert own.moment(1440).hour == 13


def test_a_rota_reaches_beyond_a_late_pour():
    late = datetime(2027, 4, 1, 10, 0, tzinfo=UTC)
    own = terms_of(Studio(time_zone="UTC"), start_at=MONDAY, asked=(late,), first_pour_at=None, rules=RULES)
    assert days(own)[-1] >= date(2027, 4, 3)
    assert len(days(terms())) == 15


def test_the_week_for_the_solver_has_the_hours_the_pour_and_the_settings():
    own = replace(terms(overnight_firing=False), first_pour_at=datetime(2027, 3, 2, 10, 0, tzinfo=UTC))
    made = week_of(own, (run(),), (WeekKiln(name="kiln"),))
    assert (made.first_pour_min, made.overnight, made.bag_max_min, made.crucible_change_min) == (1495, False, 1440, 10)
    assert made.calendar.easy == made.calendar.work
    assert made.horizon_min == made.calendar.awake[-1][1]


def test_letting_the_pour_times_go_leaves_none():
    own = replace(terms(), first_pour_at=datetime(2027, 3, 2, 10, 0, tzinfo=UTC))
    free, (one,) = without_pour_times(own, (run(pour_at_min=900, pour_by_min=1000),))
    assert (free.first_pour_at, one.pour_at_min, one.pour_by_min) == (None, None, None)


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("Friday 10:00", "2027-03-05T10:00"),
        ("fri 9:30", "2027-03-05T09:30"),
        ("Monday 10:00", "2027-03-01T10:00"),
        ("Monday, 08:00", "2027-03-08T08:00"),
        ("today 18:00", "2027-03-01T18:00"),
        ("tomorrow 9:00", "2027-03-02T09:00"),
        ("2027-03-09 14:30", "2027-03-09T14:30"),
    ],
)
def test_a_day_by_its_name_is_the_next_such_one(text, moment):
    assert read_soon(text, now=MONDAY, zone=LISBON).isoformat(timespec="minutes").startswith(moment)


@pytest.mark.parametrize("text", ["Frday 10:00", "someday 10:00", "Friday", "10:00", "Friday 25:00", "yesterday 10:00"])
def test_what_is_no_moment_is_told_in_a_sentence(text):
    with pytest.raises(BadRequestError) as told:
        read_soon(text, now=MONDAY, zone=LISBON)
    assert told.value.try_this


def test_an_hour_that_the_clocks_skip_is_told():
    with pytest.raises(BadRequestError, match="does not exist here"):
        read_soon("Sunday 1:30", now=datetime(2027, 3, 27, 12, 0, tzinfo=UTC), zone=LISBON)
