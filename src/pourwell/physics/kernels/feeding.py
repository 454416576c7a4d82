"""Loops over the metal's cells for feeding: when each passes a solid fraction, and how regions of liquid join looking back."""

from typing import Any

import numpy as np

from pourwell.physics.kernels import compiled
from pourwell.physics.kernels.record import solid_at

Array = np.ndarray[Any, np.dtype[Any]]


@compiled()
def mark_levels(
    passed: Array, cells: Array, heat: Array, *, before: Array, fall: Array, span: tuple[float, float], heats: Array
) -> None:
    """Set when cells fall below heats [J/m3] in a step, straight between its ends (the last heat: `solid_at`); the last time holds.

    passed (q, k) [s]; heat, before (n,): after and before the step; fall (q,): pace of the step before [W/m3]; span: the step's
    beginning and length [s]; heats (k,), falling to the solid's.
    """
    last = heats.size - 1
    for q in range(cells.size):
        now, then = heat[cells[q]], before[cells[q]]
        if now >= then:
            continue
        for k in range(last):
            if now < heats[k] <= then:
                passed[q, k] = span[0] + span[1] * (then - heats[k]) / (then - now)
        if now < heats[last] <= then:
            passed[q, last] = solid_at((then, now, heats[last]), fall[q], span)


@compiled()
def _root(parent: Array, a: int) -> int:
    """The region that a cell belongs to; ways to it are shortened."""
    top = a
    while parent[top] != top:
        top = parent[top]
    while parent[a] != top:
        parent[a], a = top, parent[a]
    return top


@compiled()
def join(order: Array, start: Array, other: Array, *, feeder: int, parent: Array, out: Array) -> int:
    """Let cells turn liquid one after the other, and note which region joins which through which cell.

    Parameters
    ----------
    order : (q,) cells, the last to freeze first
    start, other : (q + 1,), (x,) lists of neighbours
    feeder : a cell; the region with it is never lost
    parent : (q,) scratch; becomes a way from each cell to the first of its region, which is its own parent
    out : (q, 3) first cell of the region that is lost, cell through which, first cell of the region that it joins

    Returns the count of rows in `out`. A region goes by its first cell, the one that froze last in it. Of two regions without the
    feeder the one whose first cell froze sooner is lost.
    """
    rank = np.full(order.size, -1, dtype=np.int64)
    parent[:] = -1
    count = 0
    home = -1
    for n in range(order.size):
        a = order[n]
        rank[a] = n
        parent[a] = a
        if a == feeder:
            home = a
        for e in range(start[a], start[a + 1]):
            b = other[e]
            if parent[b] < 0:
                continue
            mine, its = _root(parent, a), _root(parent, b)
            if mine == its:
                continue
            keep, lose = (mine, its) if rank[mine] < rank[its] else (its, mine)
            if lose == home:
                keep, lose = lose, keep
            if lose != a:
                out[count, 0], out[count, 1], out[count, 2] = lose, a, keep
                count += 1
            parent[lose] = keep
    return count


@compiled()
def flood(first: int, start: Array, other: Array, *, times: Array, after: float, mark: Array, number: int, out: Array) -> int:
    """Cells that hang together with a first one and all freeze after a time; marks them and returns how many stand in `out`."""
    out[0] = first
    mark[first] = number
    count, done = 1, 0
    while done < count:
        a = out[done]
        done += 1
        for e in range(start[a], start[a + 1]):
            b = other[e]
            if mark[b] != number and times[b] > after:
                mark[b] = number
                out[count] = b
                count += 1
    return count


@compiled()
def widest(order: Array, start: Array, other: Array, *, ends: Array, parent: Array) -> int:
    """Place in `order` at which cells of end 1 and of end 2 first hang together; its size if they never do.

    ends (q,): 1, 2, or 0 between. Cells are taken in their order.
    """
    parent[:] = -1
    one, two = -1, -1
    for n in range(order.size):
        a = order[n]
        parent[a] = a
        for e in range(start[a], start[a + 1]):
            b = other[e]
            if parent[b] >= 0:
                mine, its = _root(parent, a), _root(parent, b)
                if mine != its:
                    parent[mine] = its
        if ends[a] == 1:
            if one >= 0:
                parent[_root(parent, a)] = _root(parent, one)
            one = a
        elif ends[a] == 2:
            if two >= 0:
                parent[_root(parent, a)] = _root(parent, two)
            two = a
        if one >= 0 and two >= 0 and _root(parent, one) == _root(parent, two):
            return n
    return order.size
