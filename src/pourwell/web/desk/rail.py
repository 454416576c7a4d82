"""The day rail, on every page at the same place: the kiln's curve, hands-on time, now."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from pourwell.app.choices import Choices
from pourwell.app.in_hand import KILN_TAKEN, Standing, soonest
from pourwell.web.desk import drawn, when
from pourwell.web.desk.drawn import WIDE, Hands, TimeLine
from pourwell.web.desk.tag import Tag

BEFORE_H, WHOLE_H = 3, 30
HIGH: Final = 62
"""Height of the rail [px]; the drawing has the same units up and down."""
FOOT, HAND_TOP, HAND_HIGH, PEAK, TICK_TOP = 42.0, 35.0, 8.0, 8.0, 38.0
HOT_C: Final = 800.0
LABEL_Y: Final = 45
NEAR, EDGE = 0.05, 0.026
"""Shares of the rail within which an hour gives way to "now" and to the end: a clock is 36 px wide, the rail of a tablet 700."""
NEAR_ON_PHONE, EDGE_ON_PHONE = 0.12, 0.06
"""The same on 320 px: such an hour is marked `wide`, and hidden where the page is narrow."""
NAME_TURNS: Final = 0.65
"""From here on the name of a run stands before its kiln's start: it takes a third of a phone's rail."""

NAME_WIDE: Final = 0.36
NAME_TOP, NAME_HIGH, NAME_LINES = 3, 14, 2
"""The share that a name takes of a phone's rail, and the lines for names over the hands."""


def day_rail(standings: Sequence[Standing], lists: Choices, now: datetime) -> None:
    """The next hours of all runs in hand."""
    start = now.replace(minute=0, second=0, microsecond=0) - timedelta(hours=BEFORE_H)
    axis = TimeLine(start=start, end=start + timedelta(hours=WHOLE_H), zone=lists.zone)
    mine = [s for s in standings if s.plan is not None and not s.over]
    with Tag("div", classes="rail"):
        with drawn.svg(HIGH, _label(mine, now)):
            for a, b in axis.open_hours(lists.work_from, lists.work_to):
                drawn.box(WIDE * a, 0, width=WIDE * (b - a), height=HIGH, classes="c-open")
            for hour in axis.hours(1):
                drawn.line([(WIDE * axis.x(hour), TICK_TOP), (WIDE * axis.x(hour), FOOT)], "c-axis")
            drawn.line([(0, FOOT), (WIDE, FOOT)], "c-axis")
            for one in mine:
                _curve(one, axis)
            for hands in _hands(mine, axis):
                a, b = max(axis.x(hands.start), 0.0), min(axis.x(hands.end), 1.0)
                width = max(WIDE * (b - a), 3.0)
                drawn.box(WIDE * a, HAND_TOP, width=width, height=HAND_HIGH, classes="c-next" if hands.next else "c-hand")
            x = axis.x(now)
            drawn.line([(WIDE * x, 0), (WIDE * x, FOOT)], "c-now")
        for hour, classes in hours_told(axis, x):
            drawn.word(when.clock(hour), axis.x(hour), LABEL_Y, classes=classes)
        drawn.word(when.clock(now), x, LABEL_Y, classes="now")
        for name in names(mine, axis, now):
            anchor, classes = "start" if name.at < NAME_TURNS else "end", "halo fault" if name.taken else "halo"
            drawn.word(name.says, name.at, NAME_TOP + NAME_HIGH * name.line, classes=classes, anchor=anchor)


def hours_told(axis: TimeLine, now: float) -> list[tuple[datetime, str]]:
    """The hours that are told under a rail with "now" at a share of it, and whether only where it is wide."""
    out = []
    for hour in axis.hours(3):
        beside, inside = abs(axis.x(hour) - now), min(axis.x(hour), 1 - axis.x(hour))
        if beside > NEAR and inside > EDGE:
            out.append((hour, "" if beside > NEAR_ON_PHONE and inside > EDGE_ON_PHONE else "wide"))
    return out


def _curve(one: Standing, axis: TimeLine) -> None:
    firings: list[list[tuple[datetime, float]]] = []
    for plan in one.plans:
        corners = drawn.kiln_points(plan["burnout"]["segments"], plan["burnout"]["start_c"])
        points = [(WIDE * x, FOOT - (FOOT - PEAK) * min(c / HOT_C, 1.0)) for x, c in drawn.clipped(corners, axis)]
        if points and corners not in firings:
            firings.append(corners)
            drawn.line(points, "c-ink thin")


@dataclass(frozen=True, slots=True, kw_only=True)
class Name:
    """The name of what is in the kiln, over its curve."""

    runs: tuple[int, ...]
    at: float
    """Where it stands, 0 to 1."""
    line: int
    taken: bool
    """Whether the kiln is not free when it goes in."""
    ahead: bool = False
    """Whether that lies ahead for all of them."""

    @property
    def says(self) -> str:
        """Run 1 in the kiln; into it, while that lies ahead."""
        runs = f"Run{'s' if len(self.runs) > 1 else ''} {', '.join(map(str, self.runs))}"
        return f"{runs}: the kiln is taken" if self.taken else f"{runs} in{'to' if self.ahead else ''} the kiln"

    def meets(self, other: "Name") -> bool:
        """Whether two names on one line would print over each other: those from NAME_TURNS on reach back."""
        mine, its = ((x, x + NAME_WIDE) if x < NAME_TURNS else (x - NAME_WIDE, x) for x in (self.at, other.at))
        return self.line == other.line and mine[0] < its[1] and its[0] < mine[1]


def names(mine: Sequence[Standing], axis: TimeLine, now: datetime) -> list[Name]:
    """Names for the curves; one that would meet another stands a line lower, and where no line is left it joins the last."""
    out: list[Name] = []
    for one in sorted((s for s in mine if s.plan), key=lambda s: _starts(s, axis)):
        x, taken = _starts(one, axis), any(found["code"] == KILN_TAKEN for found in one.clashes)
        if not -0.2 < x < 0.9:
            continue
        name = Name(runs=(one.run.number,), at=max(x, 0.01), line=0, taken=taken, ahead=x > axis.x(now))
        tried = [replace(name, line=line) for line in range(NAME_LINES)]
        free = [on for on in tried if not any(on.meets(other) for other in out)]
        if free:
            out.append(free[0])
        else:
            last = out.pop()
            together = {"taken": last.taken or taken, "ahead": last.ahead and name.ahead}
            out.append(replace(last, runs=(*last.runs, one.run.number), **together))
    return out


def _starts(one: Standing, axis: TimeLine) -> float:
    """Where on the rail a run goes into its kiln."""
    assert one.plan is not None
    return axis.x(when.told(one.plan["burnout"]["starts_at"], axis.zone))


def _hands(mine: Sequence[Standing], axis: TimeLine) -> list[Hands]:
    first = soonest(mine)
    out = []
    for one in mine:
        for step in one.steps:
            if step.hands_on_min and step.hands_until > axis.start and step.starts_at < axis.end:
                is_next = first is not None and one is first and step is first.next
                out.append(Hands(start=step.starts_at, end=step.hands_until, says=step.says, next=is_next))
    return out


def _label(mine: Sequence[Standing], now: datetime) -> str:
    """The rail in a sentence."""
    first, held = soonest(mine), [f"run {one.run.number}" for one in mine if one.forbidden]
    stopped = f" Stopped: {', '.join(held)}." if held else ""
    if first is None or first.next is None:
        return f"The day, now {when.clock(now)}: nothing is {'next' if held else 'planned'}.{stopped}"
    at = first.next.starts_at.astimezone(now.tzinfo)
    return (
        f"The day, now {when.clock(now)}. Next, {when.day_and_clock(at, now)}, run {first.run.number}: {first.next.says}.{stopped}"
    )
