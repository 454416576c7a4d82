"""Clock arithmetic: durations are elapsed time, shown on the studio's clock, also over a clock change.

Every moment made here carries a fixed offset, so that adding, subtracting and comparing mean elapsed time.
"""

from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from typing import Final

from pourwell.errors import BadRequestError

DATE_ONLY = len("2027-03-05")
FIRST_YEAR, LAST_YEAR = 2000, 2200
"""Other years are slips of the finger, and at the ends of the calendar no day lies before or after. Own choice."""


def local(moment: datetime, zone: tzinfo | None) -> datetime:
    """The moment on the zone's clock, with the offset then in force; None is the machine's own zone."""
    shown = moment.astimezone(zone)
    return shown.replace(tzinfo=timezone(shown.utcoffset() or timedelta(0)), fold=0)


def after(moment: datetime, minutes: float, *, zone: tzinfo | None) -> datetime:
    """The moment so many elapsed minutes later (earlier if negative)."""
    return local(moment.astimezone(UTC) + timedelta(minutes=minutes), zone)


def minutes_between(start: datetime, end: datetime) -> float:
    """Elapsed minutes from start to end."""
    return (end.astimezone(UTC) - start.astimezone(UTC)) / timedelta(minutes=1)


def at(day: date, hour: time, *, zone: tzinfo | None) -> datetime:
    """The moment when the wall clock shows this; of an hour that comes twice, the first; for one skipped, the hour after it."""
    wall = datetime.combine(day, hour)
    moment = wall.astimezone() if zone is None else wall.replace(tzinfo=zone)
    return local(moment.astimezone(UTC), zone)


def read(text: str, *, zone: tzinfo | None) -> datetime:
    """A moment from "YYYY-MM-DD HH:MM" on the studio's clock, or from an ISO text with its own offset.

    Raises BadRequestError for other forms, and for an hour that the clock change skips.
    """
    try:
        wall = datetime.fromisoformat(text.strip())
    except ValueError:
        raise BadRequestError(
            f'"{text}" is not a date and time.', try_this='Write it as "YYYY-MM-DD HH:MM", for example "2027-03-05 10:00".'
        ) from None
    if not FIRST_YEAR <= wall.year <= LAST_YEAR:
        raise BadRequestError(f'"{text}" lies in the year {wall.year}.', try_this="Give a day of this year or the next.")
    if len(text.strip()) <= DATE_ONLY:
        raise BadRequestError(f'"{text}" has no hour.', try_this=f'Write it as "{wall:%Y-%m-%d} 10:00".')
    if wall.tzinfo is not None:
        return local(wall, zone)
    moment = at(wall.date(), wall.time(), zone=zone)
    if moment.replace(tzinfo=None) != wall:
        raise BadRequestError(
            f"{wall:%Y-%m-%d %H:%M} does not exist here.",
            why="The clocks are put forward over it.",
            try_this=f"Take {moment:%H:%M} instead.",
        )
    return moment


def round_up(moment: datetime, step_min: int, *, zone: tzinfo | None) -> datetime:
    """The next moment whose minute is a multiple of the step."""
    shown = local(moment, zone)
    whole = shown.replace(second=0, microsecond=0)
    if whole < shown:
        whole += timedelta(minutes=1)
    return after(whole, -whole.minute % step_min, zone=zone)


SETTING_STEP_MIN: Final = 5
"""What the clock times of a kiln set by hand are told to."""


def to_five(moment: datetime, *, first: bool = False) -> datetime:
    """The time of a setting by hand to the nearest five minutes; that of the first is when the kiln goes on, and stays."""
    if first:
        return moment
    past = (moment - moment.replace(minute=0, second=0, microsecond=0)) / timedelta(minutes=1)
    return moment + timedelta(minutes=SETTING_STEP_MIN * round(past / SETTING_STEP_MIN) - past)


def changes(start: datetime, end: datetime) -> int:
    """By how many minutes the clock is put forward (negative: back) between two moments."""
    return round(((end.utcoffset() or timedelta(0)) - (start.utcoffset() or timedelta(0))) / timedelta(minutes=1))
