"""Coarser levels for the solver: cells put together by eights, metal never with mould. Float32.

The weights of the coarser levels are made once; their capacities follow the state. Lessening the summed weights at each level makes
up for the steps of a correction that is level within a group (the distance between groups is twice that between cells).
"""

import numpy as np
from numpy.typing import NDArray

from pourwell.physics.kernels import ONE_AT_A_TIME
from pourwell.physics.kernels.groups import children_of, gather, split
from pourwell.physics.kernels.ladder import Ladder, cycle, follow
from pourwell.physics.kernels.linear import Groups, Rows, restrict, row_sums

Singles = NDArray[np.float32]
FEWEST = 60
"""Cells of the coarsest level, which Gauss-Seidel solves."""
OVERCORRECTION = 0.65
"""Factor on the summed weights at each level. 0.5 would be right for groups of equal cubes; 0.65 took the fewest products on a
tree of six rings, where many groups are flat or cut."""
MOST_LEVELS = 16


def _group(level: NDArray[np.int8], index: NDArray[np.int32], kind: NDArray[np.int8]) -> tuple[NDArray[np.int32], NDArray[np.intp]]:
    """Parent of each cell, numbered in the order of their first cells, and one cell of each parent."""
    up = index.astype(np.int64) >> 1
    key = (((up[:, 0] << 17 | up[:, 1]) << 17 | up[:, 2]) << 6 | level.astype(np.int64)) << 2 | kind
    _, some, parent = np.unique(key, return_index=True, return_inverse=True)
    order = np.argsort(some)
    rank = np.empty_like(order)
    rank[order] = np.arange(order.size)
    return rank[parent].astype(np.int32), some[order]


def _joined(levels: list[Rows], steps: list[Groups]) -> Ladder:
    """The levels (one at least) one after another; steps: how the cells of each but the last are grouped."""
    sizes = [rows.weight.shape[1] for rows in levels]
    bounds = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
    whole = int(bounds[-1])
    offsets = bounds[:-1].astype(np.int32)
    entries = np.concatenate([[0], np.cumsum([rows.listed.size for rows in levels])]).astype(np.int32)
    rows = Rows(
        np.concatenate([rows.neighbour + o for rows, o in zip(levels, offsets, strict=True)], axis=1),
        np.concatenate([rows.weight for rows in levels], axis=1),
        np.concatenate([rows.more + o for rows, o in zip(levels, offsets, strict=True)]),
        np.concatenate([*(rows.start[:-1] + e for rows, e in zip(levels, entries[:-1], strict=True)), entries[-1:]]),
        np.concatenate([rows.listed + o for rows, o in zip(levels, offsets, strict=True)]),
        np.concatenate([rows.listed_weight for rows in levels]),
    )
    first = np.zeros(sizes[0], dtype=np.int32)
    begun = np.concatenate([[0], np.cumsum([step.children.size for step in steps])]).astype(np.int32)
    groups = Groups(
        np.concatenate([*(step.parent + o for step, o in zip(steps, offsets[1:], strict=True)), np.full(sizes[-1], -1, np.int32)]),
        np.concatenate([first, *(step.start[:-1] + b for step, b in zip(steps, begun[:-1], strict=True)), begun[-1:]]),
        np.concatenate([first[:0], *(step.children + o for step, o in zip(steps, offsets[:-1], strict=True))]),
    )
    sums, *scratch = (np.zeros(whole, dtype=np.float32) for _ in range(7))
    row_sums(rows, sums)
    capacity, diagonal, inverse, r, x, y = scratch
    return Ladder(rows, bounds, groups, sums, capacity, diagonal=diagonal, inverse=inverse, r=r, x=x, y=y)


class Hierarchy:
    """The coarser levels over the rows of a mesh, and the correction that they give."""

    def __init__(self, rows: Rows, level: NDArray[np.int8], *, index: NDArray[np.int32], kind: NDArray[np.int8]) -> None:
        steps: list[Groups] = []
        made = [rows]
        while len(made) < 2 or (made[-1].weight.shape[1] > FEWEST and len(made) < MOST_LEVELS):
            parent, some = _group(level, index, kind)
            if steps and some.size > 0.95 * parent.size:
                break
            groups = Groups(parent, *children_of(parent, some.size))
            start, other, weight = gather(made[-1], groups, np.float32(OVERCORRECTION))
            neighbour, first, begin, listed, listed_weight = split(start, other, weight)
            more = np.flatnonzero(np.diff(begin)).astype(np.int32)
            made.append(Rows(neighbour, first, more, begin, listed, listed_weight))
            steps.append(groups)
            level, index, kind = (level[some] + 1).astype(np.int8), index[some] >> 1, kind[some]
        self.groups = steps[0]
        self._ladder = _joined(made[1:], steps[1:])
        self._count = made[1].weight.shape[1]
        self.correction = self._ladder.y[: self._count]
        """(m,) of the first coarser level, after `correct`."""

    def renew(self, capacity: Singles) -> None:
        """Take over the capacities (n,) of the fine cells [W/K]."""
        restrict(self.groups, capacity, self._ladder.capacity[: self._count])
        follow(self._ladder)

    def correct(self, r: Singles) -> float:
        """Reckon the correction for a residual (n,) of the fine level by one V-cycle; returns residual times correction."""
        restrict(self.groups, r, self._ladder.r[: self._count])
        with ONE_AT_A_TIME:
            return float(cycle(self._ladder))
