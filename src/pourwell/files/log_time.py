"""The times of a log: clocks, dates, numbers; past midnight, over a clock change, several readings under one stamp."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from statistics import median
from typing import Final, Literal

from pourwell.errors import BadFileError

TimeUnit = Literal["s", "min", "h"]
DAY_S: Final = 86400.0
HALF_DAY_S: Final = 43200.0
HOUR_S: Final = 3600.0
CHANGE_S: Final = 120.0
"""A clock is set back by an hour, less an interval and no more than this."""
GAP_INTERVALS: Final = 10
"""A gap is longer than so many intervals: own choice."""
GAP_S: Final = 300.0
"""... and than this: a flask's wall takes longer to follow."""
BRIDGED_S: Final = 1800.0
"""A longer gap is not bridged: in half an hour a kiln climbs 120 K."""
TO_S: Final[dict[TimeUnit, float]] = {"s": 1.0, "min": 60.0, "h": HOUR_S}
EPOCH_S: Final = 1e9
"""A number of seconds over this is a date, counted from 1970."""

_CLOCK = r"(\d{1,4}):([0-5]\d)(?::([0-5]\d)(?:[.,](\d{1,9}))?)?\s*([apAP]\.?[mM]\.?)?"
_ZONE = r"\s*(Z|[+-]\d{2}:?\d{2})?"
CLOCK = re.compile(_CLOCK, re.ASCII)
ISO = re.compile(rf"(\d{{4}})[-/.](\d{{1,2}})[-/.](\d{{1,2}})(?:[T\s]\s*{_CLOCK}{_ZONE})?", re.ASCII)
SHORT = re.compile(rf"(\d{{1,2}})[-/.](\d{{1,2}})[-/.](\d{{4}}|\d{{2}})(?:,?\s+{_CLOCK})?", re.ASCII)
UNITS: Final[tuple[tuple[str, TimeUnit], ...]] = (
    (r"\b(s|sec|secs|seconds?|sek|sekunden)\b", "s"),
    (r"\b(min|mins|minutes?|minuten)\b", "min"),
    (r"\b(h|hr|hrs|hours?|std|stunden)\b", "h"),
)
"""Words of a header that say what its numbers count."""

Moment = tuple[float | None, float]
"""Days of a date, None without one; and seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamps:
    """Where the time stands in a table and how it is read."""

    file: str
    lines: Sequence[int]
    says: list[tuple[int, str]]
    """What was set right, with its line: filled as the times are read."""

    def refuse(self, row: int, what: str, *, why: str, try_this: str) -> BadFileError:
        """A fault with its line."""
        return BadFileError(f"{self.file}, line {self.lines[row]}: {what}", why=why, try_this=try_this)


def is_moment(cell: str) -> bool:
    """Does a cell hold a clock time or a date."""
    return any(pattern.fullmatch(cell.strip()) for pattern in (CLOCK, ISO, SHORT))


def is_date_alone(cell: str) -> bool:
    """Does a cell hold a date without a clock."""
    found = ISO.fullmatch(cell.strip()) or SHORT.fullmatch(cell.strip())
    return found is not None and found[4] is None


def unit_in(header: str) -> TimeUnit | None:
    """What a header says its numbers count: the one unit that it names."""
    words = re.sub(r"[_()\[\]/.,]", " ", header.lower())
    named = [unit for pattern, unit in UNITS if re.search(pattern, words)]
    return named[0] if len(named) == 1 else None


def numbers_s(values: Sequence[float], *, unit: TimeUnit | None, stamps: Stamps) -> list[float]:
    """Seconds from numbers that count them, minutes or hours. Raises BadFileError where nothing says which."""
    if unit is None:
        if values and min(values) > EPOCH_S:
            return [value / 1000 if values[0] > 1000 * EPOCH_S else value for value in values]
        raise stamps.refuse(
            0,
            f"nothing says what the time {values[0]:g} counts.",
            why="The header names no unit.",
            try_this="Say --time s, --time min or --time h.",
        )
    return [value * TO_S[unit] for value in values]


def moments_s(cells: Sequence[str], *, stamps: Stamps) -> list[float]:
    """Seconds from clock times or dates, all of one kind. Raises BadFileError with the line of what is neither."""
    order = _date_order(cells, stamps)
    moments = []
    for row, cell in enumerate(cells):
        try:
            moments.append(_moment(cell.strip(), order))
        except ValueError:
            raise stamps.refuse(
                row, f"{cell.strip()[:40]!r} is no time.", why="The rows above have one.", try_this="Mend or remove that line."
            ) from None
    dated = sum(days is not None for days, _ in moments)
    if 0 < dated < len(moments):
        row = next(i for i, (days, _) in enumerate(moments) if (days is None) != (moments[0][0] is None))
        raise stamps.refuse(row, "some times have a date and some have none.", why="", try_this="Export the log in one form.")
    if dated:
        return [(days or 0.0) * DAY_S + seconds for days, seconds in moments]
    return _over_midnight([seconds for _, seconds in moments], stamps)


def _moment(text: str, order: Callable[[int, int], tuple[int, int]]) -> Moment:
    """Days and seconds of a cell; raises ValueError for what is no moment."""
    if found := CLOCK.fullmatch(text):
        return None, _seconds(found.groups())
    if found := ISO.fullmatch(text):
        year, month, day, *clock, zone = found.groups()
        offset = 0.0
        if zone and zone != "Z":
            digits = zone[1:].replace(":", "")
            offset = (int(digits[:2]) * HOUR_S + int(digits[2:]) * 60) * (-1 if zone[0] == "-" else 1)
        return float(date(int(year), int(month), int(day)).toordinal()), _seconds(clock) - offset
    if found := SHORT.fullmatch(text):
        first, second, year, *clock = found.groups()
        month, day = order(int(first), int(second))
        whole = int(year) + (2000 if len(year) == 2 else 0)
        return float(date(whole, month, day).toordinal()), _seconds(clock)
    raise ValueError(text)


def _seconds(clock: Sequence[str | None]) -> float:
    """Seconds of hours, minutes, seconds, their part, and half of the day."""
    hours, minutes, seconds, part, half = clock
    if hours is None or minutes is None:
        return 0.0
    h = int(hours)
    if half:
        if not 1 <= h <= 12:
            raise ValueError(hours)
        h = h % 12 + (12 if half[0] in "pP" else 0)
    return h * HOUR_S + int(minutes) * 60 + int(seconds or 0) + (float(f"0.{part}") if part else 0.0)


def _date_order(cells: Sequence[str], stamps: Stamps) -> Callable[[int, int], tuple[int, int]]:
    """How day and month stand in short dates: by a number over 12, else as the dates go on from day to day."""
    pairs = [(int(found[1]), int(found[2])) for cell in cells if (found := SHORT.fullmatch(cell.strip()))]
    day_first, month_first = any(a > 12 for a, _ in pairs), any(b > 12 for _, b in pairs)
    if day_first and month_first:
        raise stamps.refuse(0, "its dates have day and month in both orders.", why="", try_this="Export the dates as 2026-11-26.")
    changed = [(a, b) for (a, b), (c, d) in pairwise(pairs) if a != c and b == d]
    if month_first or (not day_first and not changed and len(set(pairs)) > 1):
        return lambda first, second: (first, second)
    return lambda first, second: (second, first)


def _over_midnight(times: list[float], stamps: Stamps) -> list[float]:
    """Clock times that go on over midnight, or over noon on a dial of twelve hours."""
    dial = bool(times) and max(times) < 13 * HOUR_S
    out, added = [], 0.0
    for row, time in enumerate(times):
        back = times[row - 1] - time if row else 0.0
        if back > HALF_DAY_S:
            added += DAY_S
            stamps.says.append((stamps.lines[row], "The clock passes midnight; the log goes on the next day."))
        elif dial and back > HALF_DAY_S - HOUR_S:
            added += HALF_DAY_S
            stamps.says.append((stamps.lines[row], "The clock passes twelve; it is read as one of twelve hours."))
        out.append(time + added)
    return out


def in_order(times: list[float], *, stamps: Stamps, zoned: bool) -> tuple[list[float], bool]:
    """Times that rise, and whether the rows have to be turned round for it; stamps that stand several times are spread.

    Raises BadFileError with the line where the time goes back, or a gap is too long.
    """
    turned = len(times) > 2 and times[-1] < times[0] and all(b <= a for a, b in pairwise(times))
    if turned:
        times = times[::-1]
        stamps.says.append((0, "The newest reading stands first; the rows are read from below."))
    lines = list(stamps.lines)[::-1] if turned else list(stamps.lines)
    out, added = [], 0.0
    for row, time in enumerate(times):
        back = times[row - 1] - time if row else 0.0
        if back > 0:
            usual = times[row - 1] - times[row - 2] if row > 1 else 0.0
            if zoned or not 0 <= HOUR_S - back <= CHANGE_S + usual:
                raise BadFileError(
                    f"{stamps.file}, line {lines[row]}: the time goes back by {_span(back)}.",
                    why="Two logs may stand one behind the other, or the clock was set.",
                    try_this="Cut the file there, and give the part that holds the whole firing.",
                )
            added += HOUR_S
            stamps.says.append((lines[row], "The clock goes back by an hour, as at the end of summer time; the log goes on."))
        out.append(time + added)
    out = _spread(out, lines, stamps)
    _gaps(out, lines, stamps)
    return out, turned


def _spread(times: list[float], lines: list[int], stamps: Stamps) -> list[float]:
    """Readings under one stamp, spread evenly up to the next."""
    out, i, last = list(times), 0, 0.0
    told = False
    while i < len(times):
        end = i
        while end < len(times) and times[end] <= times[i]:
            end += 1
        count = end - i
        step = (times[end] - times[i]) / count if end < len(times) else last or 1.0
        if end == len(times) and count > 1 and last:
            step = min(step, last)
        for k in range(count):
            out[i + k] = times[i] + k * step
        if count > 1 and not told:
            stamps.says.append((lines[i], f"{count} readings have one time stamp; such readings are spread up to the next."))
            told = True
        i, last = end, step
    return out


def _gaps(times: list[float], lines: list[int], stamps: Stamps) -> None:
    """Tell of gaps that are bridged, refuse those that are too long."""
    steps = [b - a for a, b in pairwise(times)]
    if not steps:
        return
    longest = max(GAP_S, GAP_INTERVALS * median(steps))
    for row, step in enumerate(steps, start=1):
        if step > max(BRIDGED_S, longest):
            raise BadFileError(
                f"{stamps.file}, line {lines[row]}: no reading for {_span(step)}.",
                why="What the kiln did meanwhile is not known; a straight line would invent it.",
                try_this="Give the part before or behind the gap, if it holds what you want to know.",
            )
        if step > longest:
            stamps.says.append((lines[row], f"No reading for {_span(step)}: bridged by a straight line."))


def _span(seconds: float) -> str:
    """A time in words."""
    if seconds < 120:
        return f"{seconds:.3g} s"
    return f"{seconds / 60:.0f} min" if seconds < 2 * HOUR_S else f"{seconds / HOUR_S:.1f} h"
