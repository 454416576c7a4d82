"""A firing's log against the model: what kiln and flask read, and what the fitted model says they should have."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.sheets.colours import BLUE, INK, INK_2, RED, UNKNOWN, WHITE, Colour
from pourwell.sheets.drawing import Box, Drawing, Part, Strokes, Words, frame, shortened
from pourwell.units import h_from_s, s_from_h

Floats = NDArray[np.float64]

WIDTH, HEIGHT = 1200, 760
LEFT, RIGHT, ABOVE, BELOW = 80, 250, 90, 60
"""Margins about the plot [px]; names stand at the right."""
INKS: Final[tuple[Colour, ...]] = (BLUE, RED, (70, 110, 60), (120, 70, 130), (160, 110, 20))
STEP_C: Final = 100.0
MOST_TICKS: Final = 14
DOT: Final = 6.0
DOTS: Final = 90
"""So many readings of a thermocouple are shown."""
LINE_SPACE: Final = 30
NAMES: Final = 50
"""Where the names begin right of the plot, with the margin behind them [px]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace:
    """One thermocouple: its name, (n,) times [s], (n,) readings [degC], and what the model gives, if it does."""

    name: str
    times: Floats
    readings: Floats
    modelled: Floats | None = None


def log_view(kiln: Trace, probes: Sequence[Trace], *, title: str, about: str) -> Drawing:
    """The kiln as a grey line, readings as dots, the model as lines of the same colour."""
    ends = max(h_from_s(float(t.times[-1])) for t in (kiln, *probes))
    hottest = max(float(np.nanmax(t.readings)) for t in (kiln, *probes))
    top = STEP_C * np.ceil((hottest + 1) / STEP_C)
    wide, high = WIDTH - LEFT - RIGHT, HEIGHT - ABOVE - BELOW

    def places(times: Floats, level: Floats) -> Floats:
        x = LEFT + times / s_from_h(1) / ends * wide
        return np.column_stack([x, ABOVE + high * (1 - np.clip(level, 0, top) / top)])

    parts: list[Part] = [Box(x=0, y=0, width=WIDTH, height=HEIGHT, fill=WHITE)]
    parts += _grid(ends, float(top), wide=wide, high=high)
    parts.append(Strokes(lines=_line(places(kiln.times, kiln.readings)), width=1.5, colour=INK_2))
    names = [(kiln.name, INK_2)]
    for trace, ink in zip(probes, INKS * (1 + len(probes) // len(INKS)), strict=False):
        if trace.modelled is not None:
            parts.append(Strokes(lines=_line(places(trace.times, trace.modelled)), width=2.0, colour=ink))
        step = max(1, trace.times.size // DOTS)
        dots = places(trace.times[::step], trace.readings[::step])
        parts.append(Strokes(lines=np.hstack([dots, dots]), width=DOT, colour=ink))
        names.append((trace.name, ink))
    for row, (name, ink) in enumerate(names):
        y = ABOVE + 10 + row * LINE_SPACE
        x = LEFT + wide + 18
        parts.append(Strokes(lines=np.array([(x, y, x + 18, y)]), width=3.0, colour=ink))
        text = shortened(name, width=RIGHT - NAMES, size=14)
        parts.append(Words(x=x + NAMES - 24, y=y, text=text, size=14, colour=INK))
    parts.append(Words(x=LEFT, y=32, text=title, size=24, bold=True))
    parts.append(Words(x=LEFT, y=60, text=about, size=15, colour=INK_2))
    if any(trace.modelled is not None for trace in probes):
        parts.append(Words(x=LEFT, y=HEIGHT - 18, text="dots: read; lines: computed", size=14, colour=INK_2))
    return Drawing(width=WIDTH, height=HEIGHT, title=title, about=about, parts=tuple(parts))


def _line(places: Floats) -> Floats:
    """Points as strokes, without those that are not known."""
    known = places[np.isfinite(places).all(axis=1)]
    return np.hstack([known[:-1], known[1:]])


def _grid(ends: float, top: float, *, wide: int, high: int) -> Iterator[Part]:
    """Rules at full hundreds of degrees and at hours, with their figures."""
    step_h = next(step for step in (0.5, 1, 2, 3, 6, 12, 24, 48, 96, 1e9) if ends / step <= MOST_TICKS)
    lines: list[tuple[float, float, float, float]] = []
    for level in np.arange(0, top + 1, STEP_C):
        y = ABOVE + high * (1 - level / top)
        lines.append((LEFT, y, LEFT + wide, y))
        yield Words(x=LEFT - 10, y=y, text=f"{level:.0f}", size=14, anchor="end", colour=INK_2)
    for hour in np.arange(0, ends + 1e-9, step_h):
        x = LEFT + wide * hour / ends
        lines.append((x, ABOVE, x, ABOVE + high))
        yield Words(x=x, y=ABOVE + high + 18, text=f"{hour:g}", size=14, anchor="middle", colour=INK_2)
    yield Strokes(lines=np.array(lines), width=1.0, colour=UNKNOWN)
    yield Strokes(lines=frame(LEFT, ABOVE, width=wide, height=high), width=1.5, colour=INK_2)
    yield Words(x=LEFT - 10, y=ABOVE - 16, text="°C", size=14, anchor="end", colour=INK_2)
    yield Words(x=LEFT + wide, y=ABOVE + high + 42, text="hours from the first reading", size=14, anchor="end", colour=INK_2)
