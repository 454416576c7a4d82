"""The compiled loops of slicing once more, written to be read: no regard to speed. The tests hold each pair together.

`root` is held by the twin of `joined`, which it serves.
"""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pourwell.geometry.kernels.regions import FAR_MM, Rows
from pourwell.geometry.mesh import Floats, Ints

Crossing = tuple[int, int, int]
"""The lower and the higher vertex number of an edge, and the plane that crosses it."""


def node_bases(faces: Ints, mate: Ints, level: Ints) -> tuple[Ints, int]:
    """As `slicing.node_bases`: edges in the order of their first halves, each with as many numbers as planes cross it."""
    start, end = level[faces].reshape(-1), level[np.roll(faces, -1, axis=1)].reshape(-1)
    first = np.arange(len(mate)) < mate
    counts = np.where(first, np.abs(start - end), 0)
    base: Ints = np.cumsum(counts) - counts - np.minimum(start, end)
    return np.where(first, base, base[mate]), int(counts.sum())


def faces_at(faces: Ints, vertex_count: int) -> tuple[Ints, Ints]:
    """As `pockets.faces_at`: the triangles that hold each vertex."""
    listed = [np.flatnonzero((faces == v).any(axis=1)) for v in range(vertex_count)]
    return np.cumsum([0, *(len(each) for each in listed)]), np.concatenate(listed)


def crossings(points: Floats, faces: Ints, level: Ints, *, step: float) -> tuple[dict[Crossing, Floats], dict[Crossing, Crossing]]:
    """As `slicing.trace`: where edges cross planes, (2,) float array [mm] each, and which crossing follows which."""
    places: dict[Crossing, Floats] = {}
    follows: dict[Crossing, Crossing] = {}
    for face in faces.tolist():
        low, high = min(level[face]), max(level[face])
        for k in range(low, high):
            ends: dict[bool, Crossing] = {}
            for i in range(3):
                a, b = face[i], face[(i + 1) % 3]
                if (level[a] <= k) != (level[b] <= k):  # plane k lies over one end and not over the other
                    key = (min(a, b), max(a, b), k)
                    share = ((k + 0.5) * step - points[a, 2]) / (points[b, 2] - points[a, 2])
                    places[key] = points[a, :2] + share * (points[b, :2] - points[a, :2])
                    ends[bool(level[a] <= k)] = key
            follows[ends[False]] = ends[True]
    return places, follows


def loops(nodes: Floats, layer: Ints, follows: Ints) -> tuple[Ints, Ints, Floats]:
    """As `slicing.loops`: the loop of every crossing, numbered by their first crossings; layers; area, moments and length."""
    count = len(follows)
    graph = coo_matrix((np.ones(count), (np.arange(count), follows)), shape=(count, count))
    _, first, which = np.unique(connected_components(graph, directed=False)[1], return_index=True, return_inverse=True)
    loop = np.argsort(np.argsort(first))[which]
    (xa, ya), (xb, yb) = nodes.T, nodes[follows].T
    twice = xa * yb - xb * ya  # about the origin
    parts = np.stack((twice / 2, twice * (xa + xb) / 6, twice * (ya + yb) / 6, np.hypot(xb - xa, yb - ya)), axis=1)
    measures = np.zeros((len(first), 4))
    np.add.at(measures, loop, parts)
    return loop, layer[np.sort(first)], measures


def row_crossings(
    nodes: Floats, layer: Ints, follows: Ints, *, loop: Ints, layer_count: int, row: Ints, row_y: Floats
) -> tuple[Ints, Floats, Ints, Ints]:
    """As `slicing.row_crossings`: every row is held against every side of every loop."""
    found = []
    for i, then in enumerate(follows.tolist()):
        for j, y in enumerate(row_y.tolist()):
            if (row[i] > j) != (row[then] > j):
                share = (y - nodes[i, 1]) / (nodes[then, 1] - nodes[i, 1])
                x = nodes[i, 0] + share * (nodes[then, 0] - nodes[i, 0])
                found.append((int(layer[i]) * len(row_y) + j, x, int(loop[i]), -1 if row[then] > j else 1))
    found.sort(key=lambda each: each[:2])
    cells = np.array([each[0] for each in found], dtype=np.int64)
    start = np.searchsorted(cells, np.arange(layer_count * len(row_y) + 1))
    x, of, turn = (np.array([each[k] for each in found]) for k in (1, 2, 3))
    return start, x, of, turn


def spans(rows: Rows, cell: int, outside: int, *, wanted: bool) -> Iterator[tuple[float, float, int, int]]:
    """As `regions.spans`: from, to [mm], the loop at the left and the one at the right, or the number of the outside."""
    mine = range(rows.start[cell], rows.start[cell + 1])
    ends = [(-FAR_MM, outside), *((float(rows.x[i]), int(rows.of[i])) for i in mine), (FAR_MM, outside)]
    inside = [0, *np.cumsum([rows.turn[i] for i in mine]).tolist()]
    for ((left, a), (right, b)), depth in zip(pairwise(ends), inside, strict=True):
        if (depth > 0) == wanted:
            yield left, right, a, b


def joined(rows: Rows, loop_count: int) -> tuple[Ints, Ints]:
    """As `regions.joined`: loops that bound the same material, and the same air, each named by the highest of them."""
    named = []
    for wanted in (True, False):
        cells = range(len(rows.start) - 1)
        pairs = [(a, b) for cell in cells for _, _, a, b in spans(rows, cell, loop_count, wanted=wanted)]
        graph = coo_matrix((np.ones(len(pairs)), tuple(np.array(pairs).reshape(-1, 2).T)), shape=(loop_count + 1,) * 2)
        label = connected_components(graph, directed=False)[1]
        named.append(np.array([np.flatnonzero(label == each).max() for each in label]))
    return named[0][:-1], named[1]


def over(rows: Rows, region: Ints, layer_count: int, *, wanted: bool, width: Floats) -> dict[tuple[int, int], float]:
    """As `regions.over`: what regions have in common with those of the plane beneath [mm2], each span held against each."""
    count, outside = (len(rows.start) - 1) // layer_count, len(region) - 1
    out: dict[tuple[int, int], float] = {}
    for cell in range(count, layer_count * count):
        if not wanted and rows.start[cell - count] == rows.start[cell + 1]:
            continue  # air over air
        for left, right, mine, last in spans(rows, cell, outside, wanted=wanted):
            for low, high, theirs, end in spans(rows, cell - count, outside, wanted=wanted):
                common = min(right, high) - max(left, low)
                a = outside if outside in (mine, last) else mine
                b = outside if outside in (theirs, end) else theirs
                key = int(region[a]), int(region[b])
                if common > 0 and key[0] != key[1]:
                    out[key] = out.get(key, 0.0) + common * float(width[cell % count])
    return out


def pockets(height: Floats, faces: Ints, upward: Floats) -> list[tuple[int, float, float]]:
    """As `pockets.pockets` for vertices of different heights: lowest vertex, height of joining, what is held; every level anew."""
    order = np.argsort(height, kind="stable")
    edges = np.concatenate((faces[:, :2], faces[:, 1:], faces[:, ::2]))
    out: list[tuple[int, float, float]] = []
    before: dict[int, NDArray[np.bool_]] = {}
    for count in range(1, len(order) + 1):
        under = np.zeros(len(order), dtype=bool)
        under[order[:count]] = True
        both = edges[under[edges].all(axis=1)]
        graph = coo_matrix((np.ones(len(both)), tuple(both.T)), shape=(len(order),) * 2)
        label = connected_components(graph, directed=False)[1]
        now: dict[int, int] = {}
        for vertex in order[:count].tolist():
            now.setdefault(int(label[vertex]), vertex)  # the lowest comes first
        names = set(now.values())
        level = float(height[order[count - 1]])
        for vertex, mine in before.items():
            if vertex not in names:
                whole = mine[faces].all(axis=1)
                out.append((vertex, level, float((upward * (level - height[faces].mean(axis=1)))[whole].sum())))
        before = {vertex: (label == key) & under for key, vertex in now.items()}
    top = float(height[order[-1]])
    out += [
        (vertex, np.inf, float((upward * (top - height[faces].mean(axis=1)))[mine[faces].all(axis=1)].sum()))
        for vertex, mine in before.items()
    ]
    return out
