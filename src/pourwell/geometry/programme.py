"""Small linear programmes: how high the least of some sloping planes can be lifted within a box.

A few unknowns and some hundred planes: the dual simplex method takes a dozen steps of a few hundredths of a millisecond. A large
solver is as sure and a hundred times slower over anything so small, and to load it takes longer than all that it is asked here.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from pourwell.geometry.mesh import Floats

MOST_STEPS: Final = 300
"""A dozen are usual; a programme that goes round in a circle, as exact ties may let it, ends here."""

TIGHT: Final = 1e-10
"""A plane or a wall of the box that is overstepped by less than this share of the largest number in sight holds."""

LEANS: Final = 1e-12
"""A row leans on another if its share of it is larger than this."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lifted:
    """The way found, (n,), and how high the least plane is there."""

    way: Floats
    height: float


def lifted(slopes: Floats, heights: Floats, *, low: Floats, high: Floats, cost: Floats | None = None) -> Lifted | None:
    """The way within a box on which the least of some planes is highest, less what the way costs.

    Parameters
    ----------
    slopes : (m, n) float array, of planes whose heights where no way is gone are `heights`, (m,)
    low, high : (n,) float arrays, the box
    cost : (n,) float array, of a step along each axis; none by default

    Returns
    -------
    None where no end was found.

    Source: the dual simplex method (Lemke 1954), on rows that are met one at a time, the most overstepped first.
    """
    count = slopes.shape[1]
    axes = np.eye(count, count + 1)
    rows = np.vstack([np.column_stack([-slopes, np.ones(len(slopes))]), axes, -axes])
    most = np.concatenate([heights, high, -low])
    gain = np.append(np.zeros(count) if cost is None else -cost, 1.0)
    first = int(np.argmin(heights))
    rest = gain[:-1] - rows[first, :-1]  # what one plane leaves to the walls of the box
    held = np.append(len(slopes) + np.arange(count) + np.where(rest >= 0, 0, count), first)
    share = np.append(np.abs(rest), 1.0)
    slack = TIGHT * max(float(np.abs(most).max()), np.finfo(float).tiny)
    for _ in range(MOST_STEPS):
        basis = rows[held]
        try:
            at = np.linalg.solve(basis, most[held])
            over = rows @ at - most
            over[held] = 0.0
            worst = int(np.argmax(over))
            if over[worst] <= slack:
                return Lifted(way=at[:-1], height=float(at[-1]))
            leans = np.linalg.solve(basis.T, rows[worst])
        except np.linalg.LinAlgError:
            return None
        ratio = np.where(leans > LEANS, share / np.where(leans > LEANS, leans, 1.0), np.inf)
        out = int(np.argmin(ratio))
        if not np.isfinite(ratio[out]):
            return None
        share = np.maximum(share - ratio[out] * leans, 0.0)
        share[out] = ratio[out]
        held[out] = worst
    return None
