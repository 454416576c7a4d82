"""Inks and grounds of pictures on the screen, and the one map for fields with its scale."""

from dataclasses import dataclass
from math import ceil, floor, log10
from typing import Final

import numpy as np

from pourwell.geometry.mesh import Floats

Colour = tuple[int, int, int]

GROUND, TRAY, INK, INK_2, WHITE = (241, 242, 238), (228, 230, 225), (21, 24, 26), (67, 73, 78), (255, 255, 255)
"""Grounds and inks of the screen: plaster, where a thing lies, two steps of ink."""

BLUE: Final = (38, 56, 155)
"""Marking-out blue: what was, beside what is."""

RED: Final = (156, 28, 23)
"""What stops a run; never without another sign."""

BODY: Final = (250, 249, 245)
"""A piece whose form is all that is shown, in full light."""

CUT: Final = (214, 205, 180)
"""The face of a cut, even, without light and shade: metal where the saw went."""

UNKNOWN: Final = (196, 197, 195)
"""Where a field has no value."""

GLOW: Final = (
    "352b88 473b8f 58488d 68538a 795a87 8a6085 9b6681 ac6d7a bf7270 d17864 e48057 f08f4d f5a14a f9b652 facc69 f8e18b f3f1af"
)
"""The one map for fields: dark is thin, bright is thick; even steps in CAM02-UCS, lightness rises for every colour vision."""

MOST_TICKS: Final = 6
TOP_PERCENT: Final = 98.0
"""The scale ends where so much of the surface has less: a single thick place does not take all the colours."""

LIMITS_SHOWN: Final = 2.5
"""It goes at least so many limits up, so that what is well above the limit looks it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """What the colours stand for: from `low` to `high`, a tick at each of `ticks`."""

    unit: str
    low: float
    high: float
    ticks: tuple[float, ...]

    def share(self, values: Floats) -> Floats:
        """Where values lie between the ends, 0 to 1, held there."""
        return np.clip((values - self.low) / (self.high - self.low), 0, 1)

    def words(self, value: float) -> str:
        """A value of the scale as its ticks are written."""
        step = self.ticks[1] - self.ticks[0] if len(self.ticks) > 1 else self.high - self.low
        return f"{value:.{max(0, -floor(log10(step) + 1e-9))}f}"


def scale_of(values: Floats, *, weights: Floats, limit: float | None, unit: str = "mm", from_nothing: bool = False) -> Scale:
    """A scale for a field that is not below zero: from nothing, or from its least where that is far off, to round ends.

    Parameters
    ----------
    values : (m,) float array, at least one of them finite or else a scale of 0 to 1 comes back
    weights : (m,) float array, areas
    limit : what the field is held against, in its unit
    unit : the field's
    from_nothing : it begins at nothing, however far off that is, as for a length
    """
    known = np.isfinite(values) & (weights > 0)
    if not known.any():
        return Scale(unit=unit, low=0.0, high=1.0, ticks=(0.0, 0.5, 1.0))
    order = np.argsort(values[known])
    share = np.cumsum(weights[known][order]) / weights[known].sum()
    low, high = float(values[known].min()), float(values[known][order][np.searchsorted(share, TOP_PERCENT / 100)])
    low = low if low < 0 or (limit is None and not from_nothing and low > high - low) else 0.0
    high = max(high, LIMITS_SHOWN * limit if limit else low, low + 1e-9 * max(1.0, abs(low)))
    step = _round_step((high - low) / MOST_TICKS)
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    ticks = tuple(round(k * step, 10) for k in range(first, last + 1))
    return Scale(unit=unit, low=ticks[0], high=ticks[-1], ticks=ticks)


def _round_step(least: float) -> float:
    """The next of 1, 2, 5, 10 ... at or above `least`."""
    ten: float = 10.0 ** floor(log10(least))
    return next(ten * k for k in (1, 2, 5, 10) if ten * k >= least * (1 - 1e-9))


def glow(share: Floats) -> Floats:
    """(..., 3) float array, 0 to 255: the map's colour at 0 (thin) to 1 (thick), held at its ends."""
    colours: Floats = _TABLE[(np.clip(share, 0, 1) * (len(_TABLE) - 1)).round().astype(np.int64)]
    return colours


def _table(count: int = 1024) -> Floats:
    stops = np.array([list(bytes.fromhex(stop)) for stop in GLOW.split()], dtype=np.float64)
    at, steps = np.linspace(0, 1, len(stops)), np.linspace(0, 1, count)
    return np.stack([np.interp(steps, at, channel) for channel in stops.T], axis=-1)


_TABLE: Final = _table()


def hexed(colour: Colour) -> str:
    """As SVG writes it."""
    return "#{:02x}{:02x}{:02x}".format(*colour)
