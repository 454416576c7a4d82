"""Loops over rows of the linear system: products, sums, smoothing, transfer between levels. Weights and corrections are float32.

A row is six neighbours with their weights, and for cells beside smaller ones a list of what is over. `more` holds the cells that
have such a list. The matrix is diagonal minus weights.
"""

from typing import Any, NamedTuple

import numpy as np
from numba import prange

from pourwell.physics.kernels import compiled

Array = np.ndarray[Any, np.dtype[Any]]
Number = Any
"""A number of 32 or 64 bits."""


class Rows(NamedTuple):
    """A symmetric matrix of weights: neighbour (n, 6), weight (n, 6), more (q,), start (n + 1,), listed and listed_weight (x,)."""

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


@compiled(parallel=True)
def row_sums(rows: Rows, out: Array) -> None:
    """Sum of the weights of each row."""
    weight, more, start, listed_weight = rows.weight, rows.more, rows.start, rows.listed_weight
    for a in prange(out.size):
        out[a] = weight[a, 0] + weight[a, 1] + weight[a, 2] + weight[a, 3] + weight[a, 4] + weight[a, 5]
    for q in prange(more.size):
        a = more[q]
        for e in range(start[a], start[a + 1]):
            out[a] += listed_weight[e]


@compiled(parallel=True)
def product(rows: Rows, x: Array, out: Array, *, diagonal: Array) -> float:
    """Out = A x; returns x . A x."""
    nb, w, more, start, listed, lw = rows.neighbour, rows.weight, rows.more, rows.start, rows.listed, rows.listed_weight
    total = 0.0
    for a in prange(out.size):
        v = (
            diagonal[a] * x[a]
            - (w[a, 0] * x[nb[a, 0]] + w[a, 1] * x[nb[a, 1]] + w[a, 2] * x[nb[a, 2]])
            - (w[a, 3] * x[nb[a, 3]] + w[a, 4] * x[nb[a, 4]] + w[a, 5] * x[nb[a, 5]])
        )
        out[a] = v
        total += v * x[a]
    for q in prange(more.size):
        a = more[q]
        v = np.float32(0.0)
        for e in range(start[a], start[a + 1]):
            v -= lw[e] * x[listed[e]]
        out[a] += v
        total += v * x[a]
    return total


@compiled(parallel=True)
def begin(residual: Array, *, r: Array, x: Array, diagonal: Array) -> float:
    """Take a float64 residual over into r and begin at x = 0; returns the sum of r^2 / diagonal."""
    total = 0.0
    for a in prange(x.size):
        x[a] = 0.0
        r[a] = residual[a]
        total += residual[a] * residual[a] / diagonal[a]
    return total


@compiled(parallel=True)
def add_scaled(target: Array, x: Array, factor: Number) -> None:
    """Target becomes x + factor * target."""
    for a in prange(target.size):
        target[a] = x[a] + factor * target[a]


@compiled(parallel=True)
def advance(x: Array, r: Array, factor: Number, *, p: Array, q: Array, diagonal: Array) -> float:
    """X += factor p, r -= factor q; returns the sum of r^2 / diagonal."""
    total = 0.0
    for a in prange(x.size):
        x[a] += factor * p[a]
        left = r[a] - factor * q[a]
        r[a] = left
        total += left * left / diagonal[a]
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
def correct(groups: Groups, r: Array, coarse: Array, *, diagonal: Array, relax: Number, out: Array) -> float:
    """Out = relax r / diagonal + the coarse correction; returns r . out."""
    parent = groups.parent
    total = 0.0
    for a in prange(out.size):
        z = relax * r[a] / diagonal[a] + coarse[parent[a]]
        out[a] = z
        total += z * r[a]
    return total


@compiled(parallel=True)
def scale_by_diagonal(r: Array, diagonal: Array, out: Array, *, relax: Number) -> None:
    """Out = relax r / diagonal."""
    for a in prange(out.size):
        out[a] = relax * r[a] / diagonal[a]


@compiled(parallel=True)
def smooth(rows: Rows, x: Array, r: Array, *, diagonal: Array, relax: Number, out: Array) -> None:
    """One damped Jacobi sweep for A x = r from x into out."""
    nb, w, start, listed, lw = rows.neighbour, rows.weight, rows.start, rows.listed, rows.listed_weight
    for a in prange(out.size):
        v = r[a] - diagonal[a] * x[a]
        for side in range(6):
            v += w[a, side] * x[nb[a, side]]
        for e in range(start[a], start[a + 1]):
            v += lw[e] * x[listed[e]]
        out[a] = x[a] + relax * v / diagonal[a]


@compiled(parallel=True)
def restrict_residual(rows: Rows, groups: Groups, r: Array, *, x: Array, diagonal: Array, out: Array) -> None:
    """Sums over the children of r - A x."""
    nb, w, start, listed, lw = rows.neighbour, rows.weight, rows.start, rows.listed, rows.listed_weight
    first, children = groups.start, groups.children
    for c in prange(out.size):
        total = np.float32(0.0)
        for q in range(first[c], first[c + 1]):
            a = children[q]
            v = r[a] - diagonal[a] * x[a]
            for side in range(6):
                v += w[a, side] * x[nb[a, side]]
            for e in range(start[a], start[a + 1]):
                v += lw[e] * x[listed[e]]
            total += v
        out[c] = total


@compiled(parallel=True)
def prolong(groups: Groups, coarse: Array, x: Array) -> None:
    """X += the coarse correction of each cell's parent."""
    parent = groups.parent
    for a in prange(x.size):
        x[a] += coarse[parent[a]]


@compiled()
def sweep(rows: Rows, r: Array, x: Array, *, diagonal: Array, sweeps: int) -> None:
    """Symmetric Gauss-Seidel from zero: the coarsest level."""
    nb, w, start, listed, lw = rows.neighbour, rows.weight, rows.start, rows.listed, rows.listed_weight
    for a in range(x.size):
        x[a] = 0.0
    for turn in range(2 * sweeps):
        for b in range(x.size):
            a = b if turn % 2 == 0 else x.size - 1 - b
            v = r[a]
            for side in range(6):
                v += w[a, side] * x[nb[a, side]]
            for e in range(start[a], start[a + 1]):
                v += lw[e] * x[listed[e]]
            x[a] = v / diagonal[a]


@compiled(parallel=True)
def plus(a: Array, b: Array, out: Array) -> None:
    """Out = a + b."""
    for n in prange(out.size):
        out[n] = a[n] + b[n]
