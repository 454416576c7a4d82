"""What stays fed while it freezes: liquid followed through time, pools that lose their way to the feeder, and through which neck.

Metal feeds as long as its solid fraction is below a limit, and through metal that is. Let t be the time at which a cell passes that
limit. Looking back from the end, cells turn liquid in the order of falling t, and regions of liquid appear, grow and join: where
two join, looking forward one was cut off from the other. That is the tree of joins of the level sets of t, found in one pass. SI.

Source: isolated-pool criterion of casting practice; tree of joins: Carr, Snoeyink & Axen, Comput. Geom. 24 (2003) 75.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components

from pourwell.errors import BadRequestError
from pourwell.physics.kernels.feeding import flood, join, widest
from pourwell.physics.mesh import Mesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
LEVELS: Final = (0.0, 0.1, 0.3, 0.5, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 1.0)
"""Solid fractions whose passing is noted."""
LEAST_CELLS: Final = 8
"""Smaller pools are of the grid, not of the metal: a cell in 3-D has 26 neighbours, and a true one fills at least a cube of two."""
LEAST_LEAD: Final = 0.01
"""A pool that is solid less than this share of its time after it was cut off is taken for noise: the steps' own error."""


STRAY: Final = 0.01
"""Share of a volume that may freeze after the time that is told for it: cut cells as small as a hundredth of a whole one stray."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Web:
    """The metal's cells and which touch: `start` (q + 1,) and `other` (x,) lists of neighbours, areas (x,) of the faces [m2]."""

    cells: NDArray[np.int32]
    """(q,) of the mesh."""
    volume: Floats
    centre: Floats
    body: Ints
    start: Ints
    other: Ints
    area: Floats


def web(mesh: Mesh) -> Web:
    """The metal of a mesh."""
    cells = mesh.metal
    place = np.full(mesh.volume.size, -1, dtype=np.int64)
    place[cells] = np.arange(cells.size)
    a, b = place[mesh.first], place[mesh.second]
    inside = (a >= 0) & (b >= 0)
    a, b, area = a[inside], b[inside], mesh.area[inside]
    ends, others = np.concatenate([a, b]), np.concatenate([b, a])
    order = np.argsort(ends, kind="stable")
    start = np.concatenate([[0], np.cumsum(np.bincount(ends, minlength=cells.size))])
    return Web(
        cells=cells,
        volume=np.array(mesh.volume[cells]),
        centre=np.array(mesh.centre[cells]),
        body=mesh.body[cells].astype(np.int64),
        start=start.astype(np.int64),
        other=others[order],
        area=np.concatenate([area, area])[order],
    )


def hanging_together(mesh: Mesh) -> int:
    """Of how many parts that do not touch the metal is."""
    net = web(mesh)
    touching = csr_matrix((np.ones(net.other.size, dtype=np.int8), net.other, net.start), shape=(net.cells.size,) * 2)
    return int(connected_components(touching, directed=False)[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Freeze:
    """When each metal cell passes solid fractions: levels (k,) rising, passed (q, k) [s]."""

    levels: Floats
    passed: Floats

    def when(self, fraction: float) -> Floats:
        """(q,) time at which each cell passes a solid fraction [s], straight between the levels noted."""
        k = int(np.clip(np.searchsorted(self.levels, fraction, side="right"), 1, self.levels.size - 1))
        low, high = self.levels[k - 1], self.levels[k]
        share = (fraction - low) / (high - low)
        times: Floats = self.passed[:, k - 1] + share * (self.passed[:, k] - self.passed[:, k - 1])
        return times

    def solid_at(self, time: float, cells: Ints) -> Floats:
        """(m,) solid fraction of some cells at a time [s]."""
        rows = np.maximum.accumulate(self.passed[cells], axis=1)
        k = np.clip((rows <= time).sum(axis=1), 1, self.levels.size - 1)
        each = np.arange(len(cells))
        before, after = rows[each, k - 1], rows[each, k]
        share = np.clip((time - before) / np.maximum(after - before, 1e-30), 0.0, 1.0)
        fraction: Floats = self.levels[k - 1] + share * (self.levels[k] - self.levels[k - 1])
        return np.where(time < rows[:, 0], 0.0, fraction)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pool:
    """Liquid that was cut off from its feeder before it was solid."""

    cells: Ints
    """Places in the web."""
    lost: float
    """When its way was shut [s]."""
    end: float
    """When the last of it passes the limit [s]."""
    volume: float
    """[m3]."""
    liquid: float
    """How much of that was liquid when it was lost [m3]."""
    unfed: float
    """What of the freezing metal an open way would still have fed, before contraction: sum of V max(0, limit - solid) [m3]."""
    last: int
    """Its last cell, place in the web."""
    neck: int
    """The cell through which it was fed."""
    neck_area: float
    """Section of metal there [m2]."""

    due: float
    """What an open way feeds from the liquid to the limit: limit V [m3]."""

    @property
    def starved(self) -> float:
        """What was not fed as a share of what should have been, 0 to 1; beyond the limit nothing is fed in any case."""
        return self.unfed / max(self.due, 1e-30)

    def void(self, contraction: float) -> float:
        """Hollow that all its liquid leaves as it freezes, at a share of its volume [m3]."""
        return contraction * self.liquid


def pools(net: Web, freeze: Freeze, *, limit: float, feeder: int, least_volume: float = 0.0) -> tuple[Pool, ...]:
    """Pools that lose their way to a feeder, the largest loss first; each is counted without those that left it earlier.

    Metal that no metal joins to the feeder is lost from the beginning; its neck is its own last cell, of no section.

    Parameters
    ----------
    limit : solid fraction up to which metal feeds
    feeder : place in the web of a cell that feeds, the button's last
    least_volume : smaller pools are left out [m3]

    Raises
    ------
    BadRequestError
        If some metal never passes the limit.
    """
    times = freeze.when(limit)
    if not np.isfinite(times).all():
        raise BadRequestError(
            "Some metal is still liquid, so that nothing can be said of its feeding.", try_this="Let the run go on to the end."
        )
    order = np.argsort(-times, kind="stable")
    parent, out = np.empty(order.size, dtype=np.int64), np.empty((order.size, 3), dtype=np.int64)
    count = join(order, net.start, net.other, feeder=feeder, parent=parent, out=out)
    mark, room = np.full(order.size, -1, dtype=np.int64), np.empty(order.size, dtype=np.int64)
    alone = [a for a in np.flatnonzero(parent == np.arange(order.size)).tolist() if a != feeder]
    found = []
    for number, (last, neck) in enumerate([*map(tuple, out[:count, :2].tolist()), *((a, a) for a in alone)]):
        lost = float(times[neck]) if last != neck else -np.inf
        if times[last] - max(lost, 0.0) < LEAST_LEAD * times[last]:
            continue
        many = flood(last, net.start, net.other, times=times, after=lost, mark=mark, number=number, out=room)
        mine = room[:many].copy()
        volume = float(net.volume[mine].sum())
        if many < LEAST_CELLS or volume < least_volume:
            continue
        found.append(_pool(net, freeze, mine, limit=limit, times=times, ends=(last, neck)))
    return tuple(sorted(found, key=lambda pool: -pool.unfed))


def _pool(net: Web, freeze: Freeze, mine: Ints, *, limit: float, times: Floats, ends: tuple[int, int]) -> Pool:
    """What is to be known of the cells of a pool."""
    last, neck = ends
    lost = float(times[neck]) if last != neck else 0.0
    solid, volume = freeze.solid_at(lost, mine), net.volume[mine]
    return Pool(
        cells=mine,
        lost=lost,
        end=float(times[last]),
        volume=float(volume.sum()),
        liquid=float(((1 - solid) * volume).sum()),
        unfed=float((np.maximum(limit - solid, 0) * volume).sum()),
        due=limit * float(volume.sum()),
        last=last,
        neck=neck,
        neck_area=_section(net, neck) if last != neck else 0.0,
    )


WAYS: Final = np.array([w for w in np.ndindex(3, 3, 3) if w > (1, 1, 1)]) - 1
"""(13, 3) ways through a cell to its neighbours, of each two that are opposite one."""
ROUNDS: Final = 40
"""Cells that a section may reach from its middle; a neck is narrower."""


def _section(net: Web, neck: int) -> float:
    """The smallest section of metal through a cell [m2]: for several ways, the metal in a slice of two cells over its thickness."""
    edge = float(np.cbrt(net.volume[neck]))
    return min(_slice(net, neck, way=way / np.linalg.norm(way), half=edge) for way in WAYS) / (2 * edge)


def _slice(net: Web, middle: int, *, way: Floats, half: float) -> float:
    """Volume of the metal that hangs together round a cell and lies within `half` of it along a way [m3]."""
    seen, rim, total = {middle}, [middle], 0.0
    for _ in range(ROUNDS):
        fresh = []
        for a in rim:
            total += float(net.volume[a])
            for b in net.other[net.start[a] : net.start[a + 1]].tolist():
                if b not in seen and abs(float((net.centre[b] - net.centre[middle]) @ way)) <= half:
                    seen.add(b)
                    fresh.append(b)
        rim = fresh
    return total


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """A channel against what lies behind it, by the time they pass the limit [s]."""

    channel: float
    """Until no liquid way through it is left."""
    behind: float
    """Until the last of the metal behind it, farther from the joint than a distance; but for a hundredth of it."""
    last: int
    """The cell that is meant by that, place in the web."""


def clock(
    net: Web, times: Floats, *, channels: Sequence[int], piece: int, joint: tuple[float, float, float], apart: float
) -> Clock:
    """The channels of a piece against the piece: bodies, by their numbers; `joint` [m] where they meet; `apart` [m].

    The way through a channel is open as long as a path of cells that are liquid leads from the piece to what is on its other side.
    """
    through, behind = np.isin(net.body, channels), net.body == piece
    ends = np.where(behind, 1, np.where(through, 0, 2))
    ways = np.flatnonzero(through | _beside(net, through))
    order = ways[np.lexsort((-np.where(through[ways], times[ways], np.inf),))]
    parent = np.empty(net.cells.size, dtype=np.int64)
    place = widest(order, net.start, net.other, ends=ends, parent=parent)
    shut = float(times[order[place]]) if place < order.size and through[order[place]] else 0.0
    far = np.flatnonzero(behind & (np.linalg.norm(net.centre - np.array(joint), axis=1) > apart))
    far = far if far.size else np.flatnonzero(behind)
    late = far[np.argsort(-times[far])]
    passed_over = np.cumsum(net.volume[late]) > STRAY * net.volume[late].sum()
    last = int(late[int(np.argmax(passed_over))])
    return Clock(channel=shut, behind=float(times[last]), last=last)


def _beside(net: Web, some: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(q,) cells that touch some of the others."""
    touches = np.zeros(some.size, dtype=np.bool_)
    owner = np.repeat(np.arange(some.size), np.diff(net.start))
    touches[net.other[some[owner]]] = True
    return touches & ~some
