"""Compiled: triangles put in the order of a tree of boxes, eight to a leaf and sixteen children to a node."""

from typing import NamedTuple

import numpy as np

from pourwell.geometry.kernels.compiled import compiled
from pourwell.geometry.mesh import Floats, Ints

WIDTH = 8
"""Triangles of a leaf: two wide registers of doubles."""

FAN = 16
"""Children of a node: their boxes are short work, and so few are looked at without need."""

STACK = 256
"""Nodes waiting to be looked at: fifteen a level and one more, for 17 levels."""


class Trees(NamedTuple):
    """Every shell's tree of boxes, one behind another; all lengths about a common middle [mm].

    A node has sixteen children: further nodes from `first` on, or, if that is negative, leaves from -1 - `first` on. A leaf has
    eight slots, each a triangle in its own plane: corner A, unit vectors along AB (its longest side) and square to it within
    the triangle, then B's x, C's x and y, and one over BC and CA squared.
    """

    boxes: Floats
    """(nodes, 6, 16): least x, y, z and most x, y, z of every child."""
    dipoles: Floats
    """(nodes, 7, 16): centre, area vector and radius of every child."""
    first: Ints
    """(nodes,)"""
    frames: Floats
    """(leaves, 14, 8)"""
    corners: Ints
    """(8 leaves, 3): vertices A, B, C of every slot."""
    beside: Ints
    """(8 leaves, 3): slots across AB, BC, CA; -1 where a normal there cannot be trusted."""
    normals: Floats
    """(vertices, 3): pseudo-normals, zero where not to be trusted."""
    roots: Ints
    """(shells,): node."""
    bounds: Floats
    """(shells, 6)"""


@compiled
def _part(keys: Floats, order: Ints, span: tuple[int, int, int]) -> None:
    """Put the rows from `low` up to `high` so that those before `middle` come no later on the first axis (quickselect)."""
    low, high, middle = span
    high -= 1
    while low < high:
        pivot = keys[(low + high) // 2, 0]
        i, j = low, high
        while i <= j:
            while keys[i, 0] < pivot:
                i += 1
            while keys[j, 0] > pivot:
                j -= 1
            if i <= j:
                for c in range(4):
                    keys[i, c], keys[j, c] = keys[j, c], keys[i, c]
                order[i], order[j] = order[j], order[i]
                i += 1
                j -= 1
        if middle <= j:
            high = j
        elif middle >= i:
            low = i
        else:
            return


@compiled
def tree_order(centres: Floats) -> Ints:
    """The order in which every run of 8, 128, 2048 ... rows is a compact cluster: halved again and again across the longest side.

    Parameters
    ----------
    centres : (m, 3) float array [mm]

    Returns
    -------
    (m,) int array, a permutation
    """
    count = len(centres)
    keys = np.empty((count, 4))
    order = np.empty(count, dtype=np.int64)
    for i in range(count):
        order[i] = i
        for c in range(3):
            keys[i, c + 1] = centres[i, c]
    unit = WIDTH
    while unit * FAN < count:
        unit *= FAN
    spans = np.empty((256, 3), dtype=np.int64)
    spans[0, 0], spans[0, 1], spans[0, 2] = 0, count, unit
    depth = 1
    while depth:
        depth -= 1
        low, high, unit = spans[depth, 0], spans[depth, 1], spans[depth, 2]
        while high - low <= unit and unit > WIDTH:
            unit //= FAN
        parts = (high - low + unit - 1) // unit
        if parts < 2:
            continue
        axis, widest = 0, -1.0
        for c in range(1, 4):
            least, most = keys[low, c], keys[low, c]
            for i in range(low + 1, high):
                least, most = min(least, keys[i, c]), max(most, keys[i, c])
            if most - least > widest:
                axis, widest = c, most - least
        for i in range(low, high):
            keys[i, 0] = keys[i, axis]
        middle = low + parts // 2 * unit
        _part(keys, order, (low, high, middle))
        spans[depth, 0], spans[depth, 1], spans[depth, 2] = low, middle, unit
        spans[depth + 1, 0], spans[depth + 1, 1], spans[depth + 1, 2] = middle, high, unit
        depth += 2
    return order
