"""When somebody works, is at ease, is awake, over several days; and moments told by the name of a day."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Final

from pourwell.errors import BadRequestError
from pourwell.materials.studio import Studio
from pourwell.materials.weekdays import SHORT, day_off, weekday
from pourwell.steps.day.clock import after, at, minutes_between, read, round_up
from pourwell.steps.day.week_model import STEP_MIN, Calendar, Span, Week, WeekKiln, WeekRun, with_runs

DAYS_AHEAD: Final = 14
"""So far ahead a rota may reach, beyond the last moment that was asked for. Own choice."""
_SOON: Final = re.compile(r"([^\W\d_]+)[ ,]+(\d{1,2}:\d{2})")
TODAY, TOMORROW = "today", "tomorrow"
DAYS_A_WEEK: Final = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """On what terms a week is planned."""

    start_at: datetime
    """The first moment, at a full step of the clock."""
    days_count: int
    work: tuple[time, time]
    easy: tuple[time, time]
    awake: tuple[time, time]
    days_off: frozenset[int | date]
    zone: tzinfo | None
    overnight: bool
    bag_damp: bool
    bag_max_min: int
    crucible_change_min: int
    set_point_min: int
    first_pour_at: datetime | None = None

    def minute(self, moment: datetime) -> int:
        """Elapsed minutes from the first moment."""
        return round(minutes_between(self.start_at, moment))

    def moment(self, minute: int) -> datetime:
        """The other way round, on the clock of the place."""
        return after(self.start_at, minute, zone=self.zone)


def terms_of(
    studio: Studio, *, start_at: datetime, asked: Sequence[datetime], first_pour_at: datetime | None, rules: dict[str, int]
) -> Terms:
    """The studio's own terms from a moment on.

    `asked` are moments that it must reach; `rules` holds bag_max_min, crucible_change_min and set_point_min.
    """
    start = round_up(start_at, STEP_MIN, zone=studio.zone)
    far = max((minutes_between(start, moment) for moment in (*asked, first_pour_at) if moment is not None), default=0.0)
    return Terms(
        start_at=start,
        days_count=DAYS_AHEAD + max(timedelta(minutes=far).days, 0),
        work=(studio.work_from, studio.work_to),
        easy=studio.easy,
        awake=studio.awake,
        days_off=frozenset(day_off(name) for name in studio.days_off),
        zone=studio.zone,
        overnight=studio.overnight_firing,
        bag_damp=False,
        first_pour_at=first_pour_at,
        **rules,
    )


def working(terms: Terms, day: date) -> bool:
    """Is this no day off."""
    return day not in terms.days_off and day.weekday() not in terms.days_off


def days(terms: Terms) -> list[date]:
    """The days that a rota may reach, the last one for what ends after a midnight."""
    return [terms.start_at.date() + timedelta(days=number) for number in range(terms.days_count + 1)]


def spans(terms: Terms, hours: tuple[time, time], *, off: bool = True) -> Iterator[Span]:
    """The hours of each day as minutes, from the first moment on, those that end after midnight too; `off`: not on days off."""
    for day in days(terms):
        if off and not working(terms, day):
            continue
        ends = day + timedelta(days=hours[1] <= hours[0])
        opens, closes = (terms.minute(at(*moment, zone=terms.zone)) for moment in ((day, hours[0]), (ends, hours[1])))
        if closes > max(opens, 0):
            yield max(opens, 0), closes


def week_of(terms: Terms, runs: tuple[WeekRun, ...], kilns: tuple[WeekKiln, ...]) -> Week:
    """The week as the solver takes it."""
    work = tuple(spans(terms, terms.work))
    return Week(
        runs=runs,
        kilns=kilns,
        calendar=Calendar(
            work=work,
            easy=work if terms.easy == terms.work else tuple(spans(terms, terms.easy)),
            awake=tuple(spans(terms, terms.awake, off=False)),
        ),
        horizon_min=max((b for _, b in spans(terms, terms.awake, off=False)), default=0),
        overnight=terms.overnight,
        bag_damp=terms.bag_damp,
        bag_max_min=terms.bag_max_min,
        crucible_change_min=terms.crucible_change_min,
        set_point_min=terms.set_point_min,
        first_pour_min=None if terms.first_pour_at is None else terms.minute(terms.first_pour_at),
    )


def without_pour_times(terms: Terms, runs: tuple[WeekRun, ...]) -> tuple[Terms, tuple[WeekRun, ...]]:
    """The same without any moment that a pour was asked for."""
    week = with_runs(week_of(replace(terms, first_pour_at=None), runs, ()), pour_at_min=None, pour_by_min=None)
    return replace(terms, first_pour_at=None), week.runs


def read_soon(text: str, *, now: datetime, zone: tzinfo | None) -> datetime:
    """A moment from "Friday 10:00", "tomorrow 9:30" or "YYYY-MM-DD HH:MM": the next such one after now.

    Raises BadRequestError for what is no moment, and for a day that no week has.
    """
    match = _SOON.fullmatch(text.strip())
    if match is None:
        return read(text, zone=zone)
    word, hour = match[1].lower(), match[2]
    today = now.astimezone(zone).date()
    if len(word) >= SHORT and word in (TODAY, TOMORROW):
        return read(f"{today + timedelta(days=word == TOMORROW)} {hour:0>5}", zone=zone)
    try:
        ahead = (weekday(word) - today.weekday()) % DAYS_A_WEEK
    except ValueError as err:
        raise BadRequestError(f"{err}.", try_this='Write it as "Friday 10:00", or as "2027-03-05 10:00".') from None
    moment = read(f"{today + timedelta(days=ahead)} {hour:0>5}", zone=zone)
    return moment if moment > now else read(f"{today + timedelta(days=ahead + DAYS_A_WEEK)} {hour:0>5}", zone=zone)
