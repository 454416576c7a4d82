"""What people type into fields, read with patience: a comma for a point, a unit behind the figure; or why not, with the range."""

import re
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from typing import Final

from pourwell.app.shown import MINUS, plain_number, split, to_base
from pourwell.errors import PourwellError
from pourwell.steps.day.clock import FIRST_YEAR, LAST_YEAR, at, local

HOUR: Final = re.compile(r"(\d{1,2})(?:[:.h ]?(\d{2}))?", re.IGNORECASE)


class NotYetError(PourwellError):
    """What stands in a field is not yet what it must be; `what` says why, and what may stand there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """What a number in a field may be, in the field's unit."""

    low: float
    high: float
    unit: str
    more: str = ""
    """Why, where that is not plain."""


WEIGHT: Final = Span(low=0.1, high=20_000, unit="g")
PART: Final = Span(low=0, high=20_000, unit="g")
METAL: Final = Span(low=500, high=2000, unit="°C")
FLASK: Final = Span(low=20, high=1100, unit="°C")
ROUNDING: Final = 1e-9
"""What is lost on the way from another unit."""
PERCENT: Final = Span(low=0, high=100, unit="%")


def number(text: str, span: Span) -> float:
    """The number in a field, in the unit of its span; another unit of the same kind may stand behind it. Raises NotYetError."""
    figure, unit = split(text)
    may = f"Enter {_said(span.low)} to {_said(span.high)} {span.unit}".rstrip() + "."
    try:
        value = to_base(plain_number(figure), "" if unit.replace(" ", "") == span.unit.replace(" ", "") else unit, span.unit)
    except (ValueError, KeyError):
        raise NotYetError(f'"{text.strip()}" is no number. {may}') from None
    if not span.low - ROUNDING * abs(span.low) <= value <= span.high + ROUNDING * abs(span.high):
        side = "above" if value > span.high else "below" if value < span.low else "not"
        said = figure.replace(MINUS, "-") + (f" {unit}" if unit not in ("", span.unit) else "")
        raise NotYetError(f"{said} is {side} what can be{span.more}. {may}")
    return value


def _said(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:g}"


def hour(text: str) -> time:
    """A time of day, as "9", "9:30", "0930" or "14h05". Raises NotYetError."""
    match = HOUR.fullmatch(text.strip())
    if match is None or int(match[1]) > 23 or int(match[2] or 0) > 59:
        raise NotYetError(f'"{text.strip()}" is no time of day. Enter it as 10:00.')
    return time(int(match[1]), int(match[2] or 0))


def moment(day_text: str, hour_text: str, *, now: datetime, zone: tzinfo | None) -> datetime | None:
    """The pour that two fields name; None if both are empty. Raises NotYetError for half of it, or one that is over."""
    if not day_text.strip() and not hour_text.strip():
        return None
    if not hour_text.strip():
        raise NotYetError("The day needs an hour, such as 10:00.")
    clock = hour(hour_text)
    today = local(now, zone).date()
    try:
        day = date.fromisoformat(day_text.strip()) if day_text.strip() else today
    except ValueError:
        raise NotYetError(f'"{day_text.strip()}" is no day. Enter it as {today.isoformat()}.') from None
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise NotYetError(f"{day.isoformat()} lies in the year {day.year}. Enter a day of this year or the next.")
    when = at(day, clock, zone=zone)
    if when <= now:
        raise NotYetError(f"{when:%H:%M} on {when:%A %d %B} is over. Enter a later time.")
    return when
