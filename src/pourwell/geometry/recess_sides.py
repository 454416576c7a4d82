"""What stands beside a recess [mm]: how far its sides reach, how much of the sky it sees, how wide it is beyond its sides."""

from typing import Final

import numpy as np

from pourwell.geometry.mesh import Floats
from pourwell.geometry.rays import Caster

STEPS: Final = 10
"""The sides are followed in so many steps each way, up to the mouth and down to the floor."""

AS_WIDE: Final = 1.3
"""A tongue is one tongue as far as the way across is at most so many times as wide, or as narrow."""

SKY_COUNT: Final = 96
"""Directions, spread evenly over a whole ball, in which a recess is looked out of."""

TURN: Final = np.pi * (3 - np.sqrt(5))
"""The golden angle from each of them to the next."""

HAIR_MM: Final = 1e-3
"""A ray goes on so far behind the face that it met."""


def walled(
    caster: Caster, start: Floats, *, out: Floats, heading: Floats, width_mm: Floats, above_mm: Floats, below_mm: Floats
) -> Floats:
    """How much of the depth both sides stand on, as far apart as at the start: the tongue of mould that breaks.

    Parameters
    ----------
    start, out, heading : (k, 3) float arrays [mm], [-], [-]: within the recess, the way out, the way across
    width_mm : (k,) float array [mm], across at the start
    above_mm, below_mm : (k,) float arrays [mm], to the mouth and to the floor or the other mouth

    Returns
    -------
    (k,) float array [mm], to a tenth of the depth; never more than above and below together
    """
    total = np.zeros(len(start))
    for way, reach in ((1.0, above_mm), (-1.0, below_mm)):
        still = np.ones(len(start), dtype=bool)
        for step in range(STEPS):
            here = start + out * (way * reach * (step + 0.5) / STEPS)[:, None]
            across = caster.first(here, heading)[0] + caster.first(here, -heading)[0]
            still &= (across <= AS_WIDE * width_mm) & (across * AS_WIDE >= width_mm)
            total += np.where(still, reach / STEPS, 0.0)
    return total


def open_fraction(caster: Caster, start: Floats) -> Floats:
    """The share of all directions in which a place in the air sees past the piece, (k,) float array [-].

    Of a pocket it is what its mouth covers; under a wall half the sky is open, in a cage of wires most of it.
    """
    number = np.arange(SKY_COUNT) + 0.5
    height, turn = 1 - 2 * number / SKY_COUNT, number * TURN
    flat = np.sqrt(1 - height**2)
    seen = np.zeros(len(start))
    for way in np.column_stack((flat * np.cos(turn), flat * np.sin(turn), height)):
        seen += ~np.isfinite(caster.first(start, np.broadcast_to(way, start.shape).copy())[0])
    return seen / SKY_COUNT


def beside(caster: Caster, start: Floats, heading: Floats) -> Floats:
    """The lesser way across what lies on the other side of both sides, (k,) float array [mm], infinite where nothing follows.

    Of a line that stands up it is the free ground beside it; of a groove the land up to the next one.
    """
    least = np.full(len(start), np.inf)
    for way in (heading, -heading):
        side = caster.first(start, way)[0]
        met = np.isfinite(side)
        least[met] = np.minimum(least[met], caster.first(start[met] + way[met] * (side[met] + HAIR_MM)[:, None], way[met])[0])
    return least
