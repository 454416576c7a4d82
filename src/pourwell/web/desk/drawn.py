"""Charts of time: lines are drawn as wide as their box, and words stand on top at their places, so type keeps its size.

The curve of the kiln stands above, hands-on time as filled bars below. Drawn from numbers alone; every word is its own element.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta, tzinfo
from itertools import pairwise
from typing import Any, Final

from pourwell.steps.day.clock import at, local
from pourwell.web.desk.tag import Tag

WIDE: Final = 1000
"""Units across a drawing; its box says how wide it is."""
LEAST_C: Final = 800.0
OVER_C: Final = 40.0
"""A chart of temperatures reaches so far above the hottest that it shows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeLine:
    """A stretch of time on the studio's clock."""

    start: datetime
    end: datetime
    zone: tzinfo | None

    def x(self, moment: datetime) -> float:
        """Where a moment lies, 0 to 1 within."""
        return (moment - self.start) / (self.end - self.start)

    def hours(self, step_h: int) -> Iterator[datetime]:
        """The full hours that the step divides."""
        moment = local(self.start, self.zone).replace(minute=0, second=0, microsecond=0)
        while moment <= self.end:
            if moment >= self.start and local(moment, self.zone).hour % step_h == 0:
                yield local(moment, self.zone)
            moment += timedelta(hours=1)

    def open_hours(self, work_from: time, work_to: time) -> Iterator[tuple[float, float]]:
        """Where somebody works, as stretches of 0 to 1."""
        day = local(self.start, self.zone).date()
        while day <= local(self.end, self.zone).date():
            a, b = (self.x(at(day, hour, zone=self.zone)) for hour in (work_from, work_to))
            if b > 0 and a < 1:
                yield max(a, 0.0), min(b, 1.0)
            day += timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """Temperatures up a drawing: where 0 and the highest lie, in its units, and how high it reaches."""

    top: float
    foot: float
    most_c: float

    @classmethod
    def over(cls, *hottest_c: float, top: float, foot: float) -> "Heat":
        """One that reaches over all of these, and as high as a gypsum mould's at least, so that charts can be compared."""
        return cls(top=top, foot=foot, most_c=max(LEAST_C, *(c + OVER_C for c in hottest_c)))

    def y(self, c: float) -> float:
        """Where a temperature lies."""
        return self.foot - (self.foot - self.top) * c / self.most_c


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """Time that somebody must be there."""

    start: datetime
    end: datetime
    says: str
    next: bool = False


def svg(height: int, label: str, **attributes: Any) -> Tag:
    """A drawing of WIDE by `height` units that fills its box."""
    return Tag(
        "svg",
        viewBox=f"0 0 {WIDE} {height}",
        preserveAspectRatio="none",
        role="img",
        aria_label=label,
        focusable="false",
        **attributes,
    )


def line(points: Sequence[tuple[float, float]], classes: str) -> None:
    """A line through points, in units of the drawing."""
    Tag("polyline", classes=classes, points=" ".join(f"{x:.1f},{y:.1f}" for x, y in points), vector_effect="non-scaling-stroke")


def area(points: Sequence[tuple[float, float]], classes: str) -> None:
    """A filled outline, in units of the drawing: a band."""
    Tag("polygon", classes=classes, points=" ".join(f"{x:.1f},{y:.1f}" for x, y in points))


def dot(x: float, y_px: float) -> None:
    """An open dot over a drawing, where something happens: `x` is 0 to 1 across, `y_px` from the upper edge."""
    Tag("i", classes="c-spot", aria_hidden="true").style(f"left: {100 * x:.2f}%; top: {y_px:.0f}px")


def box(x: float, y: float, *, width: float, height: float, classes: str) -> None:
    """A filled box, in units of the drawing."""
    Tag("rect", classes=classes, x=f"{x:.1f}", y=f"{y:.1f}", width=f"{max(width, 0):.1f}", height=f"{height:.1f}")


def word(text: str, x: float, y_px: float, *, classes: str = "", anchor: str = "middle") -> None:
    """A word over a drawing: `x` is 0 to 1 across, `y_px` from the upper edge."""
    made = Tag("span", text, f"c-word {anchor} {classes}".strip(), aria_hidden="true")
    made.style(f"left: {100 * x:.2f}%; top: {y_px:.0f}px")


def hour_words(axis: TimeLine, y_px: float, says: Callable[[datetime], str]) -> None:
    """The hours under a drawing: as close as there is room for, and on a narrow page every second or fourth of them."""
    hours = (axis.end - axis.start) / timedelta(hours=1)
    close, narrow = (next((step for step in STEPS_H if hours / step <= most), STEPS_H[-1]) for most in (MOST_WIDE, MOST_NARROW))
    for hour in axis.hours(close):
        wide = local(hour, axis.zone).hour % narrow or min(axis.x(hour), 1 - axis.x(hour)) < AT_EDGE
        word(says(hour), axis.x(hour), y_px, classes="wide" if wide else "")


STEPS_H: Final = (3, 6, 12, 24)
MOST_WIDE, MOST_NARROW, AT_EDGE = 24, 8, 0.04
"""Most words side by side on a desk and on a phone; and nearer to an end than this share a phone has no room for one."""


def kiln_points(segments: Sequence[dict[str, Any]], start_c: float) -> list[tuple[datetime, float]]:
    """The set programme as corners: moment and temperature."""
    corners: list[tuple[datetime, float]] = []
    for segment in segments:
        begin, reached, end = (datetime.fromisoformat(segment[key]) for key in ("starts_at", "reached_at", "ends_at"))
        if not corners:
            corners.append((begin, start_c))
        corners += [(reached, segment["target_c"]), (end, segment["target_c"])]
    return corners


def clipped(corners: Sequence[tuple[datetime, float]], axis: TimeLine) -> list[tuple[float, float]]:
    """Corners as (0 to 1 across, value), cut off at the ends of the axis."""
    out: list[tuple[float, float]] = []
    for (t0, v0), (t1, v1) in pairwise(corners):
        x0, x1 = axis.x(t0), axis.x(t1)
        if x1 < 0 or x0 > 1:
            continue
        for x, v in ((x0, v0), (x1, v1)):
            inside = min(max(x, 0.0), 1.0)
            share = (inside - x0) / (x1 - x0) if x1 > x0 else 0.0
            out.append((inside, v if x1 <= x0 else v0 + share * (v1 - v0)))
    return out
