"""Coarser levels for the solver: cells put together by eights, metal never with mould. Float32.

The weights of the coarser levels are made once; their capacities follow the state. Lessening the summed weights at each level makes
up for the steps of a correction that is level within a group (the distance between groups is twice that between cells).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pourwell.physics.kernels.groups import children_of, gather, split
from pourwell.physics.kernels.linear import (
    Groups,
    Rows,
    plus,
    prolong,
    restrict,
    restrict_residual,
    row_sums,
    scale_by_diagonal,
    smooth,
    sweep,
)

Singles = NDArray[np.float32]
FEWEST = 60
"""Cells of the coarsest level, which Gauss-Seidel solves."""
OVERCORRECTION = 0.8
"""Factor on the summed weights at each level. 0.5 would be right for groups of equal cubes; 0.8 took the fewest products on a
tree of six rings, where many groups are flat or cut."""
RELAX = 0.7
"""Damping of Jacobi: the least eigenvalues are the coarser levels' work."""
SWEEPS = 6


@dataclass(frozen=True, slots=True, eq=False)
class _Level:
    """One level: its rows, what of it stays, and scratch."""

    rows: Rows
    sums: Singles
    capacity: Singles
    diagonal: Singles
    residual: Singles
    x: Singles
    y: Singles
    groups: Groups | None


def _group(level: NDArray[np.int8], index: NDArray[np.int32], kind: NDArray[np.int8]) -> tuple[NDArray[np.int32], NDArray[np.intp]]:
    """Parent of each cell, numbered in the order of their first cells, and one cell of each parent."""
    up = index.astype(np.int64) >> 1
    key = (((up[:, 0] << 17 | up[:, 1]) << 17 | up[:, 2]) << 6 | level.astype(np.int64)) << 2 | kind
    _, some, parent = np.unique(key, return_index=True, return_inverse=True)
    order = np.argsort(some)
    rank = np.empty_like(order)
    rank[order] = np.arange(order.size)
    return rank[parent].astype(np.int32), some[order]


def _level(rows: Rows, groups: Groups | None) -> _Level:
    """A level with its scratch."""
    n = rows.weight.shape[0]
    sums = np.empty(n, dtype=np.float32)
    row_sums(rows, sums)
    capacity, diagonal, residual, x, y = (np.zeros(n, dtype=np.float32) for _ in range(5))
    return _Level(rows, sums, capacity, diagonal=diagonal, residual=residual, x=x, y=y, groups=groups)


class Hierarchy:
    """The coarser levels over the rows of a mesh, and the correction that they give."""

    def __init__(self, rows: Rows, level: NDArray[np.int8], *, index: NDArray[np.int32], kind: NDArray[np.int8]) -> None:
        self.groups: Groups | None = None
        self.levels: list[_Level] = []
        fine: list[Groups] = []
        made = [rows]
        while made[-1].weight.shape[0] > FEWEST and len(made) < 16:
            parent, some = _group(level, index, kind)
            if some.size > 0.95 * parent.size:
                break
            groups = Groups(parent, *children_of(parent, some.size))
            start, other, weight = gather(made[-1], groups, np.float32(OVERCORRECTION))
            neighbour, first, begin, listed, listed_weight = split(start, other, weight)
            more = np.flatnonzero(np.diff(begin)).astype(np.int32)
            made.append(Rows(neighbour, first, more, begin, listed, listed_weight))
            fine.append(groups)
            level, index, kind = (level[some] + 1).astype(np.int8), index[some] >> 1, kind[some]
        self.groups = fine[0] if fine else None
        self.levels = [_level(r, g) for r, g in zip(made[1:], [*fine[1:], None], strict=False)]

    def renew(self, capacity: Singles) -> None:
        """Take over the capacities (n,) of the fine cells [W/K]."""
        groups = self.groups
        for level in self.levels:
            assert groups is not None
            restrict(groups, capacity, level.capacity)
            plus(level.capacity, level.sums, level.diagonal)
            capacity, groups = level.capacity, level.groups

    def correction(self, r: Singles) -> Singles:
        """Correction (m,) of the first coarser level for a residual (n,) of the fine one: one V-cycle."""
        assert self.groups is not None
        restrict(self.groups, r, self.levels[0].residual)
        return self._cycle(0)

    def _cycle(self, at: int) -> Singles:
        level = self.levels[at]
        r, x, y = level.residual, level.x, level.y
        if level.groups is None:
            sweep(level.rows, r, x, diagonal=level.diagonal, sweeps=SWEEPS)
            return x
        scale_by_diagonal(r, level.diagonal, x, relax=RELAX)
        coarse = self.levels[at + 1].residual
        restrict_residual(level.rows, level.groups, r, x=x, diagonal=level.diagonal, out=coarse)
        prolong(level.groups, self._cycle(at + 1), x)
        smooth(level.rows, x, r, diagonal=level.diagonal, relax=RELAX, out=y)
        return y
