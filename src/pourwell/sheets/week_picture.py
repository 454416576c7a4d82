"""A picture of the days: a strip a day, the kilns' lines over the work, the night shaded. In greys: a photocopy keeps it."""

import itertools
from collections.abc import Iterator, Sequence
from datetime import tzinfo
from typing import Final

import numpy as np

from pourwell.geometry.mesh import Floats
from pourwell.sheets.colours import INK, INK_2, WHITE
from pourwell.sheets.day_view import Axis
from pourwell.sheets.display import Display, day
from pourwell.sheets.drawing import Box, Drawing, Part, Strokes, Words, font_of, frame
from pourwell.sheets.week_view import Block, Day, blocks, days_of, lines, of_day, shades
from pourwell.steps.day.week_plan import WeekPlan
from pourwell.units import h_from_min

HOUR_PX: Final = 52
LEFT, RIGHT, HEAD, FOOT = 118, 26, 60, 34
PLOT, LANE, WORDS, CLOCK, GAP = 112, 24, 60, 22, 16
"""Heights of a strip's parts: the kilns' lines, the blocks of work, their words in three rows, the clock, and air."""
STRIP: Final = PLOT + LANE + WORDS + CLOCK + GAP
TOP_C, STEP_C = 800.0, 200
"""The lines' scale; no gypsum programme goes higher, and a hotter one gets a scale of its own."""
NIGHT, CLOSED = (205, 205, 205), (232, 232, 232)
TITLE_PX, TEXT_PX, SMALL_PX = 24, 16, 14
ROWS: Final = 3
MARKS: Final = ((float("inf"), 2),)
DASHES: Final = (None, (14.0, 7.0), (4.0, 5.0))
"""The line of the first kiln is whole, of the next dashed, then dotted: ink and gap in pixels."""


def week_picture(plan: WeekPlan, *, zone: tzinfo | None, days: Sequence[Day] | None = None, titled: bool = True) -> Drawing:
    """The days of a week, or some of them."""
    every = days_of(plan, zone)
    shown = list(days if days is not None else every)
    head = HEAD if titled else 0
    longest = max(d.minutes for d in every)
    width = round(LEFT + RIGHT + h_from_min(longest) * HOUR_PX)
    parts: list[Part] = []
    if titled:
        says = f"last pour {plan.last_pour_at:%H:%M}, {day(plan.last_pour_at)}"
        parts.append(Words(x=LEFT, y=HEAD / 2, text=plan.title, size=TITLE_PX, bold=True))
        parts.append(Words(x=width - RIGHT, y=HEAD / 2, text=says, size=TEXT_PX, colour=INK_2, anchor="end"))
    top_c = max(TOP_C, *(p.set_c for load in plan.loads for p in load.curve))
    for row, one in enumerate(shown):
        parts += _strip(plan, one, y=head + row * STRIP, zone=zone, top_c=top_c)
    foot = head + len(shown) * STRIP
    parts += _key(plan, y=foot + FOOT / 2 - GAP / 2)
    return Drawing(
        width=width,
        height=foot + FOOT,
        title=plan.title,
        about=f"{len(shown)} days: the kilns' temperature over the hands-on work of each run; the night is shaded.",
        parts=tuple(parts),
    )


def _x(minutes: float) -> float:
    return LEFT + h_from_min(minutes) * HOUR_PX


def _strip(plan: WeekPlan, one: Day, *, y: int, zone: tzinfo | None, top_c: float) -> Iterator[Part]:
    """One day."""
    low = y + PLOT
    for (a, b), fill in [
        *((s, CLOSED) for s in shades(one, plan.work_hours if _works(plan, one, zone) else None, zone)),
        *((s, NIGHT) for s in shades(one, plan.awake_hours, zone)),
    ]:
        yield Box(x=round(_x(a)), y=y, width=round(_x(b)) - round(_x(a)), height=PLOT + LANE, fill=fill)
    shown = one.starts_at.astimezone(zone)
    yield Words(x=LEFT - 14, y=y + 14, text=day(shown), size=TEXT_PX, bold=True, anchor="end")
    yield from _levels(one, y=y, top_c=top_c)
    yield from _clock(one, y=y + PLOT + LANE + WORDS, zone=zone, foot=low + LANE)
    for load in plan.loads:
        points = [(_x(m), low - c / top_c * PLOT) for m, c in lines(load, one)]
        if len(points) > 1:
            kilns = sorted({other.kiln for other in plan.loads})
            yield Strokes(lines=_dashed(points, DASHES[kilns.index(load.kiln) % len(DASHES)]), width=3.0)
    yield from _moments(plan, one, y=y)
    yield from _work(blocks(plan, one), y=low)
    edge = frame(_x(0), y, width=_x(one.minutes) - _x(0), height=PLOT + LANE)
    yield Strokes(lines=np.vstack([edge, [(_x(0), low, _x(one.minutes), low)]]), width=1.2)


def _works(plan: WeekPlan, one: Day, zone: tzinfo | None) -> bool:
    """Is this a working day."""
    return one.starts_at.astimezone(zone).date() not in plan.closed_days


def _levels(one: Day, *, y: int, top_c: float) -> Iterator[Part]:
    """The scale of temperature."""
    for c in range(0, int(top_c) + 1, STEP_C):
        level = y + PLOT - c / top_c * PLOT
        if 0 < c < top_c:
            yield Strokes(lines=np.array([(_x(0), level, _x(one.minutes), level)]), width=0.7, opacity=0.5)
        if 0 < c < top_c:
            yield Words(
                x=LEFT - 8,
                y=max(level, y + 32),
                text=f"{c} °C" if c == STEP_C else str(c),
                size=SMALL_PX,
                colour=INK_2,
                anchor="end",
            )


def _clock(one: Day, *, y: int, zone: tzinfo | None, foot: int) -> Iterator[Part]:
    """The hours under the strip."""
    axis = Axis(starts_at=one.starts_at, length_h=h_from_min(one.minutes), zone=zone, steps=MARKS)
    for mark in axis.marks(Display()):
        x = LEFT + mark["x"] * HOUR_PX
        yield Strokes(lines=np.array([(x, foot, x, foot + 5)]), width=1.2)
        yield Words(x=x, y=y + CLOCK / 2, text=mark["label"], size=SMALL_PX, colour=INK_2, anchor="middle")


def _moments(plan: WeekPlan, one: Day, *, y: int) -> Iterator[Part]:
    """What is done at the kiln: a line from its curve's plot down to the work, with a word; words that would touch step down."""
    ends = [float("-inf")] * ROWS
    for minute, word in of_day(plan, one):
        x = _x(minute)
        wide = font_of(SMALL_PX, bold=True).getlength(word)
        row = next((k for k in range(ROWS) if ends[k] < x), None)
        yield Strokes(lines=np.array([(x, y, x, y + PLOT)]), width=1.0, opacity=0.8)
        if row is None:
            continue
        ends[row] = x + wide + 8
        yield Words(x=x + 4, y=y + 11 + 17 * row, text=word, size=SMALL_PX, bold=True, halo=WHITE)


def _work(work: Sequence[Block], *, y: int) -> Iterator[Part]:
    """Black blocks with the number of the run, their words under them where there is room."""
    ends = [float("-inf")] * ROWS
    words: list[Words] = []
    for block in work:
        a, b = _x(block.from_min), _x(block.to_min)
        yield Box(x=round(a), y=y + 3, width=max(round(b) - round(a) - 1, 3), height=LANE - 6, fill=INK)
        number = str(block.run)
        inside = font_of(SMALL_PX, bold=True).getlength(number) + 4 <= b - a
        if inside:
            middle = (a + b) / 2
            yield Words(x=middle, y=y + LANE / 2, text=number, size=SMALL_PX, bold=True, colour=WHITE, anchor="middle")
        says = block.word if inside else f"{number} {block.word}"
        row = next((k for k in range(ROWS) if ends[k] < a), None)
        if row is None:
            continue
        ends[row] = a + font_of(SMALL_PX).getlength(says) + 8
        level = y + LANE + 12 + 18 * row
        yield Strokes(lines=np.array([(a + 1, y + LANE - 3, a + 1, level)]), width=0.8)
        words.append(Words(x=a + 4, y=level, text=says, size=SMALL_PX, halo=WHITE))
    yield from words


def _dashed(points: Sequence[tuple[float, float]], dash: tuple[float, float] | None) -> Floats:
    """A line as strokes, (k, 4), whole or in dashes [px]."""
    whole = np.array([(*a, *b) for a, b in itertools.pairwise(points)])
    if dash is None:
        return whole
    ink, gap = dash
    out, phase = [], 0.0
    for x, y, to_x, to_y in whole:
        length = float(np.hypot(to_x - x, to_y - y))
        if not length:
            continue
        at = -phase
        while at < length:
            low, high = max(at, 0.0), min(at + ink, length)
            if low < high:
                share = np.array((low, high)) / length
                out.append(
                    (x + (to_x - x) * share[0], y + (to_y - y) * share[0], x + (to_x - x) * share[1], y + (to_y - y) * share[1])
                )
            at += ink + gap
        phase = (length + phase) % (ink + gap)
    return np.array(out).reshape(-1, 4)


def _key(plan: WeekPlan, *, y: float) -> Iterator[Part]:
    """What the lines and shades are."""
    x = float(LEFT)
    for place, kiln in enumerate(sorted({load.kiln for load in plan.loads})):
        yield Strokes(lines=_dashed([(x, y), (x + 44, y)], DASHES[place % len(DASHES)]), width=3.0)
        yield Words(x=x + 52, y=y, text=kiln, size=SMALL_PX)
        x += 76 + font_of(SMALL_PX).getlength(kiln)
    for fill, says in ((INK, "hands on, with the run"), (CLOSED, "bench closed"), (NIGHT, "asleep")):
        yield Box(x=round(x), y=round(y) - 8, width=30, height=16, fill=fill)
        yield Words(x=x + 38, y=y, text=says, size=SMALL_PX)
        x += 62 + font_of(SMALL_PX).getlength(says)
