"""Cells of the octree: order along the Morton curve, neighbours, volume fractions, and the packing of faces into rows."""

from typing import Any

import numpy as np
from numba import prange

from pourwell.physics.kernels import compiled

Array = np.ndarray[Any, np.dtype[Any]]
Whole = Any
"""A whole number: a plain one, or of 64 bits."""
NOTHING, FINER = -1, -2
"""What stands in the table of neighbours where there is no cell, and where there are smaller ones."""


@compiled()
def _spread(value: Whole) -> Whole:
    """Bits of a whole number below 2^21, each followed by two zeros (the usual masks)."""
    v = np.int64(value) & 0x1FFFFF
    v = (v | (v << 32)) & 0x1F00000000FFFF
    v = (v | (v << 16)) & 0x1F0000FF0000FF
    v = (v | (v << 8)) & 0x100F00F00F00F00F
    v = (v | (v << 4)) & 0x10C30C30C30C30C3
    return np.int64((v | (v << 2)) & 0x1249249249249249)


@compiled(parallel=True)
def morton(index: Array, level: Array, out: Array) -> None:
    """Place of each cell's first corner on the Morton curve of the finest level.

    index (n, 3) int32 at the cell's own level, level (n,), out (n,) int64.
    """
    for cell in prange(out.size):
        up = np.int64(level[cell])
        x, y, z = np.int64(index[cell, 0]) << up, np.int64(index[cell, 1]) << up, np.int64(index[cell, 2]) << up
        out[cell] = (_spread(x) << 2) | (_spread(y) << 1) | _spread(z)


@compiled()
def _slot(key: Whole, mask: int) -> Whole:
    """Where the search for a key begins in a table of mask + 1 places."""
    return np.int64((np.uint64(key) * np.uint64(0x9E3779B97F4A7C15)) >> np.uint64(24)) & np.int64(mask)


@compiled()
def _fill(codes: Array, keys: Array, values: Array) -> None:
    """Put every code with its place into an open table; keys begins as -1 and is a power of two long."""
    mask = keys.size - 1
    for cell in range(codes.size):
        at = _slot(codes[cell], mask)
        while keys[at] != -1:
            at = (at + 1) & mask
        keys[at] = codes[cell]
        values[at] = cell


@compiled()
def _find(code: Whole, keys: Array, values: Array) -> Whole:
    """Place of a code, or -1."""
    mask = keys.size - 1
    at = _slot(code, mask)
    while keys[at] != -1:
        if keys[at] == code:
            return np.int64(values[at])
        at = (at + 1) & mask
    return np.int64(-1)


@compiled(parallel=True)
def _look(index: Array, level: Array, out: Array, *, keys: Array, values: Array) -> None:
    """Neighbours of all cells, by a filled table."""
    for cell in prange(level.size):
        up = np.int64(level[cell])
        for side in range(6):
            axis, step = side // 2, 2 * (side % 2) - 1
            x: Whole = np.int64(index[cell, 0])
            y: Whole = np.int64(index[cell, 1])
            z: Whole = np.int64(index[cell, 2])
            if axis == 0:
                x += step
            elif axis == 1:
                y += step
            else:
                z += step
            found: Whole = np.int64(NOTHING)
            if x >= 0 and y >= 0 and z >= 0:
                code = (_spread(x << up) << 2) | (_spread(y << up) << 1) | _spread(z << up)
                at = _find(code, keys, values)
                if at >= 0 and level[at] <= level[cell]:
                    found = at if level[at] == level[cell] else np.int64(FINER)
                else:
                    x, y, z, big = x >> 1, y >> 1, z >> 1, up + 1
                    code = (_spread(x << big) << 2) | (_spread(y << big) << 1) | _spread(z << big)
                    at = _find(code, keys, values)
                    if at >= 0 and level[at] == big:
                        found = at
            out[cell, side] = found


def neighbours(codes: Array, index: Array, level: Array) -> Array:
    """Cell across each side (-x, +x, -y, +y, -z, +z): of the same size or twice as large, else NOTHING or FINER. (n, 6) int32."""
    size = 1 << int(2 * max(codes.size, 2) - 1).bit_length()
    keys, values = np.full(size, -1, dtype=np.int64), np.empty(size, dtype=np.int32)
    out = np.empty((codes.size, 6), dtype=np.int32)
    _fill(codes, keys, values)
    _look(index, level, out, keys=keys, values=values)
    return out


@compiled(parallel=True)
def cut_fraction(distance: Array, slope: Array, out: Array) -> None:
    """Share of a unit cube where distance + slope . x < 0, x from the middle of the cube.

    distance (n,) and slope (n, 3) in units of the cube's edge. Source: inclusion and exclusion of the corners of a plane-cut cube.
    """
    for n in prange(distance.size):
        a, b, c = abs(slope[n, 0]), abs(slope[n, 1]), abs(slope[n, 2])
        least = 1e-3 * max(a, max(b, c)) + 1e-12
        a, b, c = max(a, least), max(b, least), max(c, least)
        reach = 0.5 * (a + b + c) - distance[n]
        total = 0.0
        for corner in range(8):
            i, j, k = corner & 1, (corner >> 1) & 1, corner >> 2
            left = reach - i * a - j * b - k * c
            if left > 0.0:
                sign = 1.0 - 2.0 * ((i + j + k) & 1)
                total += sign * left * left * left
        out[n] = min(1.0, max(0.0, total / (6.0 * a * b * c)))


@compiled()
def pack(first: Array, second: Array, count: int) -> tuple[Array, Array, Array, Array]:
    """Rows of six neighbours, what is over in a list, and where each face lies from both ends.

    Returns
    -------
    neighbour (6, count) int32, itself where there is none; start (count + 1,) int32 of the list; listed int32, neighbours in it;
    place (m, 2) int32 of each face in the weights, which are those of the first neighbours, the second, and so on, then the list.
    """
    degree = np.zeros(count, dtype=np.int32)
    for face in range(first.size):
        degree[first[face]] += 1
        degree[second[face]] += 1
    start = np.zeros(count + 1, dtype=np.int32)
    for cell in range(count):
        start[cell + 1] = start[cell] + max(0, degree[cell] - 6)
        degree[cell] = 0
    neighbour = np.empty((6, count), dtype=np.int32)
    for side in range(6):
        for cell in range(count):
            neighbour[side, cell] = cell
    listed = np.empty(start[count], dtype=np.int32)
    place = np.empty((first.size, 2), dtype=np.int32)
    for face in range(first.size):
        for end in range(2):
            cell = first[face] if end == 0 else second[face]
            other = second[face] if end == 0 else first[face]
            at = degree[cell]
            degree[cell] += 1
            if at < 6:
                neighbour[at, cell] = other
                place[face, end] = at * count + cell
            else:
                listed[start[cell] + at - 6] = other
                place[face, end] = 6 * count + start[cell] + at - 6
    return neighbour, start, listed, place
