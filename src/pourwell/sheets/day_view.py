"""The day on the front: the strip, the list, and what a clock change does to them."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any

from pourwell.plan import Plan
from pourwell.sheets.display import Display, day, span
from pourwell.steps.day.clock import changes, local, minutes_between
from pourwell.steps.day.model import Entry
from pourwell.units import h_from_min

STRIP_STEPS_H = ((30.0, 2), (80.0, 6), (float("inf"), 12))
KILN_STEPS_H = ((9.0, 1), (26.0, 2), (float("inf"), 4))
"""Up to so many hours, a mark every so many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """A line of time in elapsed hours, marked with the clock of the place."""

    starts_at: datetime
    length_h: float
    zone: tzinfo | None
    steps: tuple[tuple[float, int], ...]

    def at(self, moment: datetime) -> float:
        """Elapsed hours from the start."""
        return round(h_from_min(minutes_between(self.starts_at, moment)), 4)

    def marks(self, show: Display, *, minutes: bool = False) -> list[dict[str, Any]]:
        """Where the clock shows a full step, and midnight with its date; an hour that comes twice is marked twice."""
        step = next(s for limit, s in self.steps if self.length_h <= limit)
        return [
            {"x": self.at(m), "label": show.clock(m) if minutes else _hour(m, show), "midnight": m.hour == 0, "day": day(m)}
            for m in self._full_hours()
            if m.hour % step == 0
        ]

    def _full_hours(self) -> Iterator[datetime]:
        moment = self.starts_at.astimezone(UTC)
        while self.at(moment) <= self.length_h:
            shown = local(moment, self.zone)
            if shown.minute == 0:
                yield shown
            moment += timedelta(minutes=60 - shown.minute)


def _hour(moment: datetime, show: Display) -> str:
    return str((moment.hour - 1) % 12 + 1) if show.imperial else f"{moment.hour:02d}"


def day_view(plan: Plan, show: Display) -> dict[str, Any]:
    """Rows of the list, spans and marks of the strip, and both sums."""
    entries = plan.timeline
    first, last = entries[0].starts_at, max((e.ends_at for e in entries), key=lambda moment: moment.timestamp())
    start = first - timedelta(minutes=first.minute)
    whole_min = minutes_between(first, last)
    axis = Axis(
        starts_at=start,
        length_h=float(-(-minutes_between(start, last) // 60)),
        zone=plan.studio.zone,
        steps=STRIP_STEPS_H,
    )
    hands_min = sum(e.hands_on_min for e in entries)
    return {
        "rows": list(_rows(entries, show)),
        "spans": [bar for e in entries for bar in _bars(e, axis)],
        "marks": axis.marks(show),
        "hours": axis.length_h,
        "hands": span(hands_min),
        "wait": span(max(whole_min - hands_min, 0)),
        "change": clock_change(first, last),
    }


def _bars(entry: Entry, axis: Axis) -> Iterator[dict[str, float]]:
    """A line on the strip, black where somebody is at hand: at its start, or at every setting of the kiln."""
    scattered = entry.moments or ()
    hands_h = 0.0 if scattered else h_from_min(entry.hands_on_min)
    yield {"a": axis.at(entry.starts_at), "b": axis.at(entry.ends_at), "hands": hands_h}
    for moment in scattered:
        at = axis.at(moment)
        yield {"a": at, "b": at, "hands": h_from_min(entry.hands_on_min / len(scattered))}


def _rows(entries: tuple[Entry, ...], show: Display) -> Iterator[dict[str, Any]]:
    date = None
    for entry in entries:
        if entry.starts_at.date() != date:
            date = entry.starts_at.date()
            yield {"day": day(entry.starts_at)}
        waiting = round(minutes_between(entry.starts_at, entry.ends_at)) - entry.hands_on_min
        yield {
            "clock": show.clock(entry.starts_at),
            "says": show.text(entry.says),
            "hands": span(entry.hands_on_min) if entry.hands_on_min else "",
            "wait": span(waiting) if waiting > 0 else "",
            "on": entry.hands_on_min > 0,
        }


def clock_change(first: datetime, last: datetime) -> str:
    """A sentence when the clocks change in between, else empty."""
    moved = changes(first, last)
    if not moved:
        return ""
    way = "forward" if moved > 0 else "back"
    return f"The clocks go {way} by {span(abs(moved))} in this run; durations are elapsed time."
