"""Compiled: which loops of a plane bound one region of material, which one room of air, and what lies over what."""

from typing import NamedTuple

import numpy as np

from pourwell.geometry.kernels.compiled import compiled
from pourwell.geometry.mesh import Floats, Ints

FAR_MM = 1e30
"""Where air that reaches outside is taken to end."""


class Rows(NamedTuple):
    """Where rows along x cross loops, as `slicing.row_crossings` tells it."""

    start: Ints
    """Where each plane's row begins."""
    x: Floats
    """[mm], rising within a row."""
    of: Ints
    """The loop."""
    turn: Ints
    """1 where the material begins, -1 where it ends."""


class Look(NamedTuple):
    """What is looked for in a row, and room for it."""

    wanted: bool
    """True for material, False for air."""
    outside: int
    """The number of the air outside."""
    out: Floats
    """(s, 2) [mm], from and to."""
    which: Ints
    """(s,): the loop at the span's left, or for air that reaches outside its number."""


@compiled
def root(parent: Ints, item: int) -> int:
    """The head of an item's set; the way there is shortened."""
    while parent[item] != item:
        parent[item] = parent[parent[item]]
        item = parent[item]
    return item


@compiled
def joined(rows: Rows, loop_count: int) -> tuple[Ints, Ints]:
    """Which loops bound the same material, and which the same air.

    Returns
    -------
    material : (l,) int array: a loop that stands for all that bound the same region
    air : (l + 1,) int array: the same for the air; the last is the air outside
    """
    start, of, turn = rows.start, rows.of, rows.turn
    material, air = np.arange(loop_count), np.arange(loop_count + 1)
    for cell in range(len(start) - 1):
        inside, before = 0, loop_count
        for i in range(start[cell], start[cell + 1]):
            here = of[i]
            parent = material if inside > 0 else air
            a, b = root(parent, before), root(parent, here)
            parent[min(a, b)] = max(a, b)
            inside += turn[i]
            before = here
        if before < loop_count and inside <= 0:
            air[root(air, before)] = root(air, loop_count)
    for i in range(loop_count):
        material[i], air[i] = root(material, i), root(air, i)
    return material, air


@compiled
def spans(rows: Rows, cell: int, look: Look) -> int:
    """The spans of material, or of air, in one plane's row, from left to right, written into `look`. Returns how many."""
    count, inside, left, since = 0, 0, -FAR_MM, look.outside
    is_open = not look.wanted
    for i in range(rows.start[cell], rows.start[cell + 1]):
        inside += rows.turn[i]
        now = (inside > 0) == look.wanted
        if is_open and not now:
            look.out[count, 0], look.out[count, 1], look.which[count] = left, rows.x[i], since
            count += 1
        elif now and not is_open:
            left, since = rows.x[i], rows.of[i]
        is_open = now
    if is_open:
        look.out[count, 0], look.out[count, 1], look.which[count] = left, FAR_MM, look.outside
        count += 1
    return count


@compiled
def over(rows: Rows, region: Ints, layer_count: int, *, wanted: bool, width: Floats) -> tuple[Ints, Floats]:
    """Which regions of neighbouring planes lie over one another, and by how much.

    Parameters
    ----------
    region : (l + 1,) int array: the region of every loop; the last is the air outside
    wanted : True for material, False for air
    width : (r,) float array [mm]: how much of a plane each row stands for

    Returns
    -------
    pairs : (p, 2) int array: a region, and one in the plane under it; in the order of planes, the outside over itself left out
    area : (p,) float array [mm2]: that they have in common, by the rows
    """
    start = rows.start
    row_count = (len(start) - 1) // layer_count
    most = 2
    for cell in range(len(start) - 1):
        most = max(most, start[cell + 1] - start[cell] + 2)
    here = Look(wanted, len(region) - 1, np.empty((most, 2)), np.empty(most, dtype=np.int64))
    there = Look(wanted, len(region) - 1, np.empty((most, 2)), np.empty(most, dtype=np.int64))
    pairs, area = np.empty((1024, 2), dtype=np.int64), np.zeros(1024)
    count = 0
    for k in range(1, layer_count):
        first = count
        last = first
        for cell in range(k * row_count, (k + 1) * row_count):
            under = cell - row_count
            if start[cell] == start[cell + 1] and (wanted or start[under] == start[under + 1]):
                continue
            n, m = spans(rows, cell, here), spans(rows, under, there)
            a = b = 0
            while a < n and b < m:
                common = min(here.out[a, 1], there.out[b, 1]) - max(here.out[a, 0], there.out[b, 0])
                upper, lower = region[here.which[a]], region[there.which[b]]
                if common > 0 and upper != lower:  # the outside alone lies over itself
                    if last >= count or pairs[last, 0] != upper or pairs[last, 1] != lower:
                        last = first
                        while last < count and (pairs[last, 0] != upper or pairs[last, 1] != lower):
                            last += 1
                    if last == count:
                        if count == len(pairs):
                            pairs, area = np.concatenate((pairs, pairs)), np.concatenate((area, area))
                        pairs[count, 0], pairs[count, 1], area[count] = upper, lower, 0.0
                        count += 1
                    area[last] += common * width[cell % row_count]
                if here.out[a, 1] < there.out[b, 1]:
                    a += 1
                else:
                    b += 1
    return pairs[:count].copy(), area[:count].copy()
