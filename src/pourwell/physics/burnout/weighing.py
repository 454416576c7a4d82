"""How much free water a flask brought into the kiln, from its weight before and after. SI: kg, m3.

A burnout takes the free water that is left, all bound water of the gypsum, and the pattern. Source: stoichiometry of
`physics.mould`.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from pourwell.errors import BadRequestError
from pourwell.physics.mould import Composition


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """A flask on the scale [kg]; None for what was not weighed."""

    before: float
    """As it goes into the kiln, without its base."""
    after: float
    """Burnt out and cold."""
    empty: float | None = None
    """The steel alone."""
    pattern: float = 0.0
    """What burnt or drained out: pieces and sprues."""
    resolution: float = 0.001
    """Least step of the scale."""
    pattern_off: float = 0.0
    """Standard uncertainty of the pattern's weight."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterWeighed:
    """Free water at the start over that of the mould as mixed [-], with its standard uncertainty and its parts by name."""

    share: float
    uncertainty: float
    parts: dict[str, float]
    free: float
    """Free water that was left [kg]."""
    mixed: float
    """... and that the mould was mixed with [kg]."""


def water_share(
    weighing: Weighing, made: Composition, *, volume: float, doubts: dict[str, Composition], volume_off: float
) -> WaterWeighed:
    """The share of free water that a weighing tells.

    Parameters
    ----------
    weighing : the flask before and after
    made : what the mould is of as mixed
    volume : of the mould [m3], where the empty flask was not weighed
    doubts : by name, the same mould with one input moved by a standard deviation
    volume_off : standard uncertainty of the volume, as a share

    Raises BadRequestError for weights that no burnout gives.
    """
    share, free, mixed = _share(weighing, made, volume)
    parts: dict[str, float] = {}

    def part(name: str, moved: Callable[[float], float]) -> None:
        parts[name] = (moved(1.0) - moved(-1.0)) / 2

    step = weighing.resolution / math.sqrt(12)
    part("scale before", lambda s: _share(replace(weighing, before=weighing.before + s * step), made, volume)[0])
    part("scale after", lambda s: _share(replace(weighing, after=weighing.after + s * step), made, volume)[0])
    if weighing.empty is None:
        part("volume", lambda s: _share(weighing, made, volume * (1 + s * volume_off))[0])
    else:
        empty = weighing.empty
        part("scale empty", lambda s: _share(replace(weighing, empty=empty + s * step), made, volume)[0])
    if weighing.pattern_off:
        part("pattern", lambda s: _share(replace(weighing, pattern=weighing.pattern + s * weighing.pattern_off), made, volume)[0])
    for name, other in doubts.items():
        parts[name] = _share(weighing, other, volume)[0] - share
    return WaterWeighed(
        share=share, uncertainty=math.sqrt(sum(value**2 for value in parts.values())), parts=parts, free=free, mixed=mixed
    )


def _share(weighing: Weighing, made: Composition, volume: float) -> tuple[float, float, float]:
    """The share, the water left and the water mixed [kg]."""
    if weighing.empty is not None:
        volume = (weighing.after - weighing.empty) / made.burnt
    if not (weighing.before > weighing.after > (weighing.empty or 0.0) >= 0 and volume > 0 and weighing.pattern >= 0):
        raise BadRequestError(
            f"A flask of {weighing.before:g} kg before and {weighing.after:g} kg after was not burnt out.",
            why="It loses water and pattern, and what is left is heavier than the empty flask.",
            try_this="Look whether the weights are exchanged, or the base was on the scale.",
        )
    lost = weighing.before - weighing.after - weighing.pattern
    free = lost - volume * made.bound_water
    mixed = volume * made.free_water
    return free / mixed, free, mixed
