"""Compiled: the loops in which level planes cut a closed mesh, and the spans of those loops along rows."""

import numpy as np

from pourwell.geometry.kernels.compiled import compiled
from pourwell.geometry.mesh import Floats, Ints


@compiled
def node_bases(faces: Ints, mate: Ints, level: Ints) -> tuple[Ints, int]:
    """Where the crossings of every half edge with the planes are counted: of plane k it is the number base + k.

    Parameters
    ----------
    faces : (m, 3) int array of a closed mesh
    mate : (3 m,) int array, the half edge against every half edge
    level : (n,) int array: how many planes lie at or under every vertex

    Returns
    -------
    base : (3 m,) int array, equal for both halves of an edge
    node_count : of all crossings
    """
    base = np.empty(len(mate), dtype=np.int64)
    total = 0
    for half in range(len(mate)):
        if half < mate[half]:
            a, b = level[faces[half // 3, half % 3]], level[faces[half // 3, (half % 3 + 1) % 3]]
            base[half] = base[mate[half]] = total - min(a, b)
            total += abs(a - b)
    return base, total


@compiled
def trace(points: Floats, faces: Ints, level: Ints, *, base: Ints, node_count: int, step: float) -> tuple[Floats, Ints, Ints]:
    """The crossings of the edges with the planes, each with the one that follows it round the material, anticlockwise from above.

    Parameters
    ----------
    points : (n, 3) float array [mm]; plane k lies at z = (k + 1/2) step
    step : distance of the planes [mm]

    Returns
    -------
    nodes : (c, 2) float array [mm], x and y
    layer : (c,) int array, the plane
    follows : (c,) int array, the next crossing of the same loop
    """
    nodes = np.empty((node_count, 2))
    layer = np.empty(node_count, dtype=np.int64)
    follows = np.empty(node_count, dtype=np.int64)
    for t in range(len(faces)):
        low = min(level[faces[t, 0]], level[faces[t, 1]], level[faces[t, 2]])
        high = max(level[faces[t, 0]], level[faces[t, 1]], level[faces[t, 2]])
        for k in range(low, high):
            up = down = 0
            for i in range(3):
                a, b = faces[t, i], faces[t, (i + 1) % 3]
                if level[a] <= k < level[b]:
                    up = base[3 * t + i] + k
                    share = ((k + 0.5) * step - points[a, 2]) / (points[b, 2] - points[a, 2])
                    nodes[up, 0] = points[a, 0] + share * (points[b, 0] - points[a, 0])
                    nodes[up, 1] = points[a, 1] + share * (points[b, 1] - points[a, 1])
                    layer[up] = k
                elif level[b] <= k < level[a]:
                    down = base[3 * t + i] + k
            follows[down] = up
    return nodes, layer, follows


@compiled
def loops(nodes: Floats, layer: Ints, follows: Ints) -> tuple[Ints, Ints, Floats]:
    """The closed loops of crossings.

    Returns
    -------
    loop : (c,) int array, the number of the loop of every crossing
    loop_layer : (l,) int array
    measures : (l, 4) float array: area [mm2], positive anticlockwise; its first moments in x and y [mm3]; length [mm]
    """
    loop = np.full(len(follows), -1, dtype=np.int64)
    loop_layer = np.empty(len(follows), dtype=np.int64)
    measures = np.zeros((len(follows), 4))
    count = 0
    for first in range(len(follows)):
        if loop[first] >= 0:
            continue
        x0, y0 = nodes[first, 0], nodes[first, 1]
        area = mx = my = length = 0.0
        at = first
        while loop[at] < 0:
            loop[at] = count
            then = follows[at]
            xa, ya, xb, yb = nodes[at, 0] - x0, nodes[at, 1] - y0, nodes[then, 0] - x0, nodes[then, 1] - y0
            twice = xa * yb - xb * ya
            area += twice / 2
            mx += twice * (xa + xb) / 6
            my += twice * (ya + yb) / 6
            length += np.hypot(xb - xa, yb - ya)
            at = then
        loop_layer[count] = layer[first]
        measures[count, 0], measures[count, 3] = area, length
        measures[count, 1], measures[count, 2] = mx + area * x0, my + area * y0
        count += 1
    return loop, loop_layer[:count].copy(), measures[:count].copy()


@compiled
def row_crossings(
    nodes: Floats, layer: Ints, follows: Ints, *, loop: Ints, layer_count: int, row: Ints, row_y: Floats
) -> tuple[Ints, Floats, Ints, Ints]:
    """Where rows along x cross the loops, by plane and row, from left to right.

    Parameters
    ----------
    row : (c,) int array: how many rows lie under every crossing
    row_y : (r,) float array [mm]

    Returns
    -------
    start : (layer_count r + 1,) int array: where each plane's row begins in the arrays that follow
    x : (q,) float array [mm]
    of : (q,) int array, the loop
    turn : (q,) int array: 1 where the material begins, -1 where it ends
    """
    rows = len(row_y)
    start = np.zeros(layer_count * rows + 1, dtype=np.int64)
    for i in range(len(follows)):
        a, b = row[i], row[follows[i]]
        for j in range(min(a, b), max(a, b)):
            start[layer[i] * rows + j + 1] += 1
    for cell in range(layer_count * rows):
        start[cell + 1] += start[cell]
    at = start[:-1].copy()
    x = np.empty(start[-1])
    of = np.empty(start[-1], dtype=np.int64)
    turn = np.empty(start[-1], dtype=np.int64)
    for i in range(len(follows)):
        then = follows[i]
        a, b = row[i], row[then]
        for j in range(min(a, b), max(a, b)):
            cell = layer[i] * rows + j
            share = (row_y[j] - nodes[i, 1]) / (nodes[then, 1] - nodes[i, 1])
            here = nodes[i, 0] + share * (nodes[then, 0] - nodes[i, 0])
            k = at[cell]
            while k > start[cell] and x[k - 1] > here:
                x[k], of[k], turn[k] = x[k - 1], of[k - 1], turn[k - 1]
                k -= 1
            x[k], of[k], turn[k] = here, loop[i], 1 if b < a else -1
            at[cell] += 1
    return start, x, of, turn
