"""The cooling curves of the freezing page: temperature against time at a few telling places."""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from pourwell.sheets.display import Display
from pourwell.steps.freeze.model import Fields, Freezing
from pourwell.units import f_from_c, min_from_s

STEP: Final = {"metric": 50.0, "imperial": 100.0}
"""From line to line of temperature, in the reader's degrees."""
UNDER_K: Final = 40.0
"""The plot reaches at least so far below the solidus."""
MOST_TICKS: Final = 7
TICKS_S: Final = (1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0)
BEYOND: Final = 1.06
"""The plot ends so much after the button is solid."""
WOBBLE_K: Final = 1.5
"""A standing temperature wobbles by less than this."""
PURE_K: Final = 1.0
"""With a narrower range liquidus and solidus are one line."""


def curves_view(freezing: Freezing, fields: Fields, *, show: Display) -> dict[str, Any]:
    """Lines and ticks as shares of the plot: x from the left, y from the foot; lines may leave it below."""
    told = told_place(freezing)
    names = {name: i for i, name in enumerate(fields.curve_names)}
    piece = next(name for name in names if name == f"piece {told}" or name.startswith(f"piece {told} "))
    wanted = [
        (piece, f"piece {told}, its thickest place", "piece"),
        (f"sprue {told}", f"sprue {told}, middle", "sprue"),
        ("stem", "stem", "stem"),
        ("button", "button, middle", "button"),
    ]
    ends = freezing.button.value_s * BEYOND
    step = STEP["imperial" if show.fahrenheit else "metric"]
    low = np.floor(degrees(freezing.solidus_c - UNDER_K, show) / step) * step
    high = np.ceil(degrees(float(fields.curve_c[0, names[piece]]), show) / step) * step

    def y(c: float) -> float:
        return float((degrees(c, show) - low) / (high - low))

    def line(column: NDArray[np.float32]) -> list[list[float]]:
        known = np.isfinite(column)
        times = np.concatenate([fields.curve_s[known][fields.curve_s[known] < ends], [ends]])
        read = np.interp(times, fields.curve_s[known], column[known])
        return [[round(float(t) / ends, 5), round(y(float(c)), 5)] for t, c in zip(times, read, strict=True)]

    tick = next((t for t in TICKS_S if ends / t <= MOST_TICKS), TICKS_S[-1])
    minutes = tick >= 60
    return {
        "lines": [
            {
                "style": style,
                "says": says,
                "points": line(fields.curve_c[:, names[name]]),
                "solid": _solid(freezing, fields, names[name], ends=ends),
            }
            for name, says, style in wanted
            if name in names
        ],
        "band": [*line(fields.curve_high_c[:, names[piece]]), *reversed(line(fields.curve_low_c[:, names[piece]]))],
        "marks": [{"y": y(c), "says": f"{word} {show.temperature(c)} {show.temperature_unit}"} for word, c in _marks(freezing)],
        "levels": [{"y": (level - low) / (high - low), "label": f"{level:.0f}"} for level in np.arange(low, high + step / 2, step)],
        "unit": show.temperature_unit,
        "ticks": [{"x": t / ends, "label": f"{min_from_s(t) if minutes else t:g}"} for t in np.arange(0.0, ends, tick)],
        "clock": "min" if minutes else "s",
    }


def told_place(freezing: Freezing) -> int:
    """The piece that is told: that of the worst pool, else the one that needs feed for longest."""
    if freezing.pools:
        return freezing.pools[0].place
    return max(freezing.clocks, key=lambda clock: clock.section.value_s).place


def degrees(c: float, show: Display) -> float:
    """A temperature [degC] as a number in the reader's degrees."""
    return f_from_c(c) if show.fahrenheit else c


def _marks(freezing: Freezing) -> list[tuple[str, float]]:
    """The lines across: where freezing begins and where it has ended [degC]."""
    if freezing.liquidus_c - freezing.solidus_c < PURE_K:
        return [("freezes at", freezing.liquidus_c)]
    return [("liquidus", freezing.liquidus_c), ("solidus", freezing.solidus_c)]


def _solid(freezing: Freezing, fields: Fields, column: int, *, ends: float) -> float | None:
    """Where along the plot a curve passes the solidus; None: beyond it."""
    below = np.flatnonzero(fields.curve_c[:, column] < freezing.solidus_c - WOBBLE_K)
    if not below.size or below[0] == 0:
        return None
    before, after = int(below[0]) - 1, int(below[0])
    c, t = fields.curve_c[[before, after], column].astype(float), fields.curve_s[[before, after]].astype(float)
    share = float(np.clip((c[0] - freezing.solidus_c) / (c[0] - c[1]), 0, 1))
    at = float(t[0] + share * (t[1] - t[0]))
    return at / ends if at < ends else None
