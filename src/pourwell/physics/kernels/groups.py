"""Loops that build the coarser levels: which cells go together, and the sums of the weights between them."""

from typing import Any

import numpy as np

from pourwell.physics.kernels import compiled
from pourwell.physics.kernels.linear import Groups, Number, Rows

Array = np.ndarray[Any, np.dtype[Any]]


@compiled()
def children_of(parent: Array, count: int) -> tuple[Array, Array]:
    """Start (count + 1,) and children (n,) of each parent, in the order of the cells."""
    start = np.zeros(count + 1, dtype=np.int32)
    for a in range(parent.size):
        start[parent[a] + 1] += 1
    for c in range(count):
        start[c + 1] += start[c]
    place = start[:-1].copy()
    children = np.empty(parent.size, dtype=np.int32)
    for a in range(parent.size):
        children[place[parent[a]]] = a
        place[parent[a]] += 1
    return start, children


@compiled()
def gather(rows: Rows, groups: Groups, factor: Number) -> tuple[Array, Array, Array]:
    """Weights between coarse cells: start (m + 1,), neighbour and weight of each entry; sums of the fine ones times a factor."""
    nb, w, start, listed, lw = rows.neighbour, rows.weight, rows.start, rows.listed, rows.listed_weight
    count = groups.start.size - 1
    mark = np.full(count, -1, dtype=np.int64)
    out_start = np.zeros(count + 1, dtype=np.int32)
    room = nb.size + listed.size
    out = np.empty(room, dtype=np.int32)
    weight = np.empty(room, dtype=np.float32)
    used = 0
    for c in range(count):
        begin = used
        for q in range(groups.start[c], groups.start[c + 1]):
            a = groups.children[q]
            for e in range(6 + start[a + 1] - start[a]):
                other = nb[e, a] if e < 6 else listed[start[a] + e - 6]
                value = w[e, a] if e < 6 else lw[start[a] + e - 6]
                o = groups.parent[other]
                if o == c or value == 0.0:
                    continue
                if mark[o] < begin:
                    mark[o] = used
                    out[used] = o
                    weight[used] = factor * value
                    used += 1
                else:
                    weight[mark[o]] += factor * value
        out_start[c + 1] = used
    return out_start, out[:used].copy(), weight[:used].copy()


@compiled()
def split(start: Array, other: Array, weight: Array) -> tuple[Array, Array, Array, Array, Array]:
    """Rows of six and the list of what is over, from entries row by row."""
    count = start.size - 1
    neighbour = np.empty((6, count), dtype=np.int32)
    first = np.zeros((6, count), dtype=np.float32)
    begin = np.zeros(count + 1, dtype=np.int32)
    for a in range(count):
        begin[a + 1] = begin[a] + max(0, start[a + 1] - start[a] - 6)
    listed = np.empty(begin[count], dtype=np.int32)
    listed_weight = np.empty(begin[count], dtype=np.float32)
    for a in range(count):
        for side in range(6):
            neighbour[side, a] = a
        for q in range(start[a + 1] - start[a]):
            e = start[a] + q
            if q < 6:
                neighbour[q, a] = other[e]
                first[q, a] = weight[e]
            else:
                listed[begin[a] + q - 6] = other[e]
                listed_weight[begin[a] + q - 6] = weight[e]
    return neighbour, first, begin, listed, listed_weight
