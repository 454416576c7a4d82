"""Loops over rows of the linear system: products and sums, and what the finest level does in a round. Weights are float32.

A row is six neighbours with their weights, and for cells beside smaller ones a list of what is over. `more` holds the cells that
have such a list. The matrix is diagonal minus weights. Neighbours and weights lie side by side, one column a cell, so that eight or
sixteen cells are reckoned at once; a stretch of cells is done with all that belongs to it before the next is read.
"""

from typing import Any, Final, NamedTuple

import numpy as np
from numba import prange

from pourwell.physics.kernels import compiled

Array = np.ndarray[Any, np.dtype[Any]]
Number = Any
"""A number of 32 or 64 bits."""
STRETCH: Final = 1024
"""Cells that are done together: their part of ten arrays fits the nearest cache."""


class Rows(NamedTuple):
    """A symmetric matrix of weights: neighbour (6, n), weight (6, n), more (q,), start (n + 1,), listed and listed_weight (x,)."""

    neighbour: Array
    weight: Array
    more: Array
    start: Array
    listed: Array
    listed_weight: Array


class Groups(NamedTuple):
    """Which cells make one of the next coarser level: parent (n,), start (m + 1,) and children (n,)."""

    parent: Array
    start: Array
    children: Array


@compiled()
def first_at(sorted_cells: Array, cell: int) -> int:
    """How many of some cells, which rise, lie before a cell."""
    low, high = 0, sorted_cells.size
    while low < high:
        middle = (low + high) // 2
        if sorted_cells[middle] < cell:
            low = middle + 1
        else:
            high = middle
    return low


@compiled()
def inflow(rows: Rows, vectors: tuple[Array, Array], ends: tuple[int, int]) -> None:
    """Out[low:high] = the weights times x, for the cells between two ends; vectors are x and out."""
    x, out = vectors
    low, high = ends
    n, w = rows.neighbour, rows.weight
    n0, n1, n2, n3, n4, n5 = n[0, low:high], n[1, low:high], n[2, low:high], n[3, low:high], n[4, low:high], n[5, low:high]
    w0, w1, w2, w3, w4, w5 = w[0, low:high], w[1, low:high], w[2, low:high], w[3, low:high], w[4, low:high], w[5, low:high]
    mine = out[low:high]
    for i in range(mine.size):
        mine[i] = (w0[i] * x[n0[i]] + w1[i] * x[n1[i]] + w2[i] * x[n2[i]]) + (
            w3[i] * x[n3[i]] + w4[i] * x[n4[i]] + w5[i] * x[n5[i]]
        )
    more, start, listed, lw = rows.more, rows.start, rows.listed, rows.listed_weight
    for q in range(first_at(more, low), more.size):
        a = more[q]
        if a >= high:
            break
        v = out.dtype.type(0)
        for e in range(start[a], start[a + 1]):
            v += lw[e] * x[listed[e]]
        out[a] += v


@compiled(parallel=True)
def row_sums(rows: Rows, out: Array) -> None:
    """Sum of the weights of each row."""
    w, more, start, lw = rows.weight, rows.more, rows.start, rows.listed_weight
    for a in prange(out.size):
        out[a] = w[0, a] + w[1, a] + w[2, a] + w[3, a] + w[4, a] + w[5, a]
    for q in prange(more.size):
        a = more[q]
        for e in range(start[a], start[a + 1]):
            out[a] += lw[e]


@compiled(parallel=True)
def product(rows: Rows, x: Array, out: Array, *, diagonal: Array) -> Number:
    """Out = A x; returns x . A x."""
    total: Number = 0.0
    for part in prange((out.size + STRETCH - 1) // STRETCH):
        low = part * STRETCH
        high = min(low + STRETCH, out.size)
        inflow(rows, (x, out), (low, high))
        d, y, v = diagonal[low:high], x[low:high], out[low:high]
        along = np.float32(0.0)
        for i in range(v.size):
            v[i] = d[i] * y[i] - v[i]
            along += v[i] * y[i]
        total += along
    return total


@compiled(parallel=True)
def begin(residual: Array, *, r: Array, x: Array, inverse: Array) -> float:
    """Take a float64 residual over into r and begin at x = 0; returns the sum of r^2 times the inverse of the diagonal."""
    total = 0.0
    for a in prange(x.size):
        x[a] = 0.0
        r[a] = residual[a]
        total += residual[a] * residual[a] * inverse[a]
    return total


@compiled(parallel=True)
def advance(x: Array, r: Array, factor: Number, *, p: Array, q: Array, inverse: Array) -> Number:
    """X += factor p, r -= factor q; returns the sum of r^2 times the inverse of the diagonal."""
    total: Number = 0.0
    for part in prange((x.size + STRETCH - 1) // STRETCH):
        low = part * STRETCH
        high = min(low + STRETCH, x.size)
        mine, left, ahead, less, d = x[low:high], r[low:high], p[low:high], q[low:high], inverse[low:high]
        size = np.float32(0.0)
        for i in range(mine.size):
            mine[i] += factor * ahead[i]
            left[i] -= factor * less[i]
            size += left[i] * left[i] * d[i]
        total += size
    return total


@compiled(parallel=True)
def restrict(groups: Groups, r: Array, out: Array) -> None:
    """Sums over the children of each coarse cell."""
    start, children = groups.start, groups.children
    for c in prange(out.size):
        total = np.float32(0.0)
        for q in range(start[c], start[c + 1]):
            total += r[children[q]]
        out[c] = total


@compiled(parallel=True)
def direct(groups: Groups, r: Array, coarse: Array, *, inverse: Array, factors: tuple[Number, Number], p: Array) -> None:
    """P = factor r / diagonal + the coarse correction of each cell's parent + other factor * p."""
    parent, relax, keep = groups.parent, factors[0], factors[1]
    for a in prange(p.size):
        p[a] = relax * r[a] * inverse[a] + coarse[parent[a]] + keep * p[a]


@compiled(parallel=True)
def renew(capacity: Array, sums: Array, *, diagonal: Array, inverse: Array) -> None:
    """Diagonal = capacity + sums, and its inverse."""
    for a in prange(capacity.size):
        d = capacity[a] + sums[a]
        diagonal[a] = d
        inverse[a] = np.float32(1.0) / d
