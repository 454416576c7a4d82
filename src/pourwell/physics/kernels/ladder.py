"""The coarser levels in one set of arrays, one level after another, and the round over all of them in one piece of machine code.

A level of a few thousand cells is done in microseconds: to go from level to level in the interpreter would take longer.
"""

from typing import Final, NamedTuple

import numpy as np
from numba import prange

from pourwell.physics.kernels import WORTH_SHARING, compiled, forms
from pourwell.physics.kernels.linear import STRETCH, Array, Groups, Rows, inflow

RELAX: Final = np.float32(0.7)
"""Damping of Jacobi: the least eigenvalues are the coarser levels' work."""
SWEEPS: Final = 6
"""Of Gauss-Seidel, forth and back, on the coarsest level."""


class Ladder(NamedTuple):
    """Levels from the finest of the coarser to the coarsest. Cells are told by their place among all of them.

    rows: neighbours within a level. bounds (levels + 1,): where each level begins. groups: parents, and children from the second
    level on. sums, capacity, diagonal, inverse: of each cell; r, x, y: scratch; y holds the correction at last. All (N,) float32.
    """

    rows: Rows
    bounds: Array
    groups: Groups
    sums: Array
    capacity: Array
    diagonal: Array
    inverse: Array
    r: Array
    x: Array
    y: Array


def _sum_up(groups: Groups, vectors: tuple[Array, Array], ends: tuple[int, int]) -> None:
    """Out[low:high] = the sums of the children's values; vectors are the values and out."""
    values, out = vectors
    low, high = ends
    start, children = groups.start, groups.children
    for n in prange(high - low):
        c = low + n
        total = np.float32(0.0)
        for q in range(start[c], start[c + 1]):
            total += values[children[q]]
        out[c] = total


def _go_down(rows: Rows, ladder: Ladder, ends: tuple[int, int]) -> None:
    """X = one damped Jacobi step from zero, and y = what is then left of r, for the level between two ends."""
    low, high = ends
    r, x, y, inverse, diagonal = ladder.r, ladder.x, ladder.y, ladder.inverse, ladder.diagonal
    parts = (high - low + STRETCH - 1) // STRETCH
    for part in prange(parts):
        first = low + part * STRETCH
        last = min(first + STRETCH, high)
        xs, rs, ds = x[first:last], r[first:last], inverse[first:last]
        for i in range(xs.size):
            xs[i] = RELAX * rs[i] * ds[i]
    for part in prange(parts):
        first = low + part * STRETCH
        last = min(first + STRETCH, high)
        inflow(rows, (x, y), (first, last))
        ys, xs, rs, ds = y[first:last], x[first:last], r[first:last], diagonal[first:last]
        for i in range(ys.size):
            ys[i] += rs[i] - ds[i] * xs[i]


def _go_up(rows: Rows, ladder: Ladder, ends: tuple[int, int]) -> None:
    """X += the correction of the parents, then one damped Jacobi sweep from x into y, for the level between two ends."""
    low, high = ends
    r, x, y, inverse, diagonal = ladder.r, ladder.x, ladder.y, ladder.inverse, ladder.diagonal
    parent = ladder.groups.parent
    for n in prange(high - low):
        x[low + n] += y[parent[low + n]]
    for part in prange((high - low + STRETCH - 1) // STRETCH):
        first = low + part * STRETCH
        last = min(first + STRETCH, high)
        inflow(rows, (x, y), (first, last))
        ys, xs, rs, ds, es = y[first:last], x[first:last], r[first:last], diagonal[first:last], inverse[first:last]
        for i in range(ys.size):
            ys[i] = xs[i] + RELAX * es[i] * (rs[i] - ds[i] * xs[i] + ys[i])


_sum_alone, _sum_shared = forms(_sum_up)
_down_alone, _down_shared = forms(_go_down)
_up_alone, _up_shared = forms(_go_up)


@compiled()
def sweep(ladder: Ladder) -> None:
    """Symmetric Gauss-Seidel from zero on the coarsest level, into y."""
    rows, r, y, diagonal = ladder.rows, ladder.r, ladder.y, ladder.diagonal
    nb, w, start, listed, lw = rows.neighbour, rows.weight, rows.start, rows.listed, rows.listed_weight
    low, high = ladder.bounds[-2], ladder.bounds[-1]
    for a in range(low, high):
        y[a] = 0.0
    for turn in range(2 * SWEEPS):
        for b in range(high - low):
            a = low + b if turn % 2 == 0 else high - 1 - b
            v = r[a]
            for side in range(6):
                v += w[side, a] * y[nb[side, a]]
            for e in range(start[a], start[a + 1]):
                v += lw[e] * y[listed[e]]
            y[a] = v / diagonal[a]


@compiled()
def cycle(ladder: Ladder) -> float:
    """One V-cycle for the right side r of the finest level, into its y; returns r . y."""
    bounds = ladder.bounds
    levels = bounds.size - 1
    for k in range(levels - 1):
        ends, above = (bounds[k], bounds[k + 1]), (bounds[k + 1], bounds[k + 2])
        if ends[1] - ends[0] >= WORTH_SHARING:
            _down_shared(ladder.rows, ladder, ends)
            _sum_shared(ladder.groups, (ladder.y, ladder.r), above)
        else:
            _down_alone(ladder.rows, ladder, ends)
            _sum_alone(ladder.groups, (ladder.y, ladder.r), above)
    sweep(ladder)
    for k in range(levels - 2, -1, -1):
        ends = (bounds[k], bounds[k + 1])
        if ends[1] - ends[0] >= WORTH_SHARING:
            _up_shared(ladder.rows, ladder, ends)
        else:
            _up_alone(ladder.rows, ladder, ends)
    total = 0.0
    for a in range(bounds[1]):
        total += ladder.r[a] * ladder.y[a]
    return total


@compiled()
def follow(ladder: Ladder) -> None:
    """Take the capacities of the finest level to the coarser ones, and the diagonals with them."""
    capacity, sums, diagonal, inverse = ladder.capacity, ladder.sums, ladder.diagonal, ladder.inverse
    start, children = ladder.groups.start, ladder.groups.children
    for c in range(capacity.size):
        if start[c + 1] > start[c]:
            total = np.float32(0.0)
            for q in range(start[c], start[c + 1]):
                total += capacity[children[q]]
            capacity[c] = total
        diagonal[c] = capacity[c] + sums[c]
        inverse[c] = np.float32(1.0) / diagonal[c]
