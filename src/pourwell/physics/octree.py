"""Cells that are small at the metal's surface and double away from it: a graded 2:1 octree. SI.

The tree is kept as one mask a level: which cells are split. Metal is where `distance(points)` is below zero.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from pourwell.physics.domain import Domain, Lattice
from pourwell.physics.kernels.tree import morton

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Mask = NDArray[np.bool_]
Distance = Callable[[Floats], Floats]
THIN_REACH = 2.5
"""Cells round a thin wall that are split, in their own edges."""
OCTANTS = np.array([[i, j, k] for i in (0, 1) for j in (0, 1) for k in (0, 1)], dtype=np.int32)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grading:
    """How fast cells grow.

    A cell is split while the metal's surface is nearer than `reach` of its edges (`inner` in metal, which conducts a hundred times
    better and so is nearly of one temperature across a wall), unless the metal there is so thick that a ball of `across` cells
    fits; below the wanted edge it is split only near thin walls.
    """

    reach: float = 1.0
    inner: float = 1.2
    across: float = 12.0
    outer: float = 5e-3
    """Largest cells at the flask's outside [m]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cells:
    """The cells of the tree that lie in the domain, along the Morton curve."""

    lattice: Lattice
    level: NDArray[np.int8]
    """(n,) doublings from the smallest."""
    index: Ints
    """(n, 3) at the cell's own level."""
    code: NDArray[np.int64]
    """(n,) place on the curve."""
    distance: Floats
    """(n,) of the cell's middle from the metal's surface [m], below zero in metal."""

    @property
    def size(self) -> Floats:
        """(n,) edges [m]."""
        sizes: Floats = self.lattice.step * np.exp2(self.level.astype(np.float64))
        return sizes

    @property
    def centre(self) -> Floats:
        """(n, 3) middles [m]."""
        middles: Floats = np.array(self.lattice.origin) + (self.index + 0.5) * self.size[:, None]
        return middles


def _flat(index: Ints, shape: tuple[int, int, int]) -> NDArray[np.int64]:
    """One number for each cell of a level."""
    wide = index.astype(np.int64)
    return (wide[:, 0] * shape[1] + wide[:, 1]) * shape[2] + wide[:, 2]


def _children(parents: Ints) -> Ints:
    """(8 n, 3) the eight of each."""
    kids: Ints = (2 * parents[:, None, :] + OCTANTS[None]).reshape(-1, 3)
    return kids


class _Thickness:
    """Where metal is thick: balls inside it, at the middles of the cells seen so far."""

    def __init__(self) -> None:
        self.middles: list[Floats] = []
        self.radii: list[Floats] = []

    def see(self, centres: Floats, distance: Floats) -> None:
        """Remember the cells in metal."""
        inside = distance < 0
        self.middles.append(centres[inside])
        self.radii.append(-distance[inside])

    def holds(self, points: Floats, radius: float) -> Mask:
        """(n,) whether a ball of a radius, or a fifth less (middles need not meet), lies within one and a half radii."""
        middles = np.concatenate([m[r >= 0.8 * radius] for m, r in zip(self.middles, self.radii, strict=True)])
        if not len(middles) or not len(points):
            return np.zeros(len(points), dtype=np.bool_)
        away, _ = cKDTree(middles).query(points, distance_upper_bound=1.5 * radius)
        near: Mask = np.isfinite(away)
        return near


def _near_any(places: tuple[Floats, ...], points: Floats, reach: float) -> Mask:
    """(n,) whether any of some places (k, 3) lies within a reach [m]."""
    near: Mask = np.zeros(len(points), dtype=np.bool_)
    for some in places:
        if len(some) and len(points):
            near |= np.isfinite(cKDTree(some).query(points, distance_upper_bound=reach)[0])
    return near


def _wanted(
    points: Floats, distance: Floats, level: int, *, grid: Lattice, base: int, tools: tuple[Grading, _Thickness, tuple[Floats, ...]]
) -> Mask:
    """(n,) which cells of a level the metal asks to be split."""
    grading, thick, thin = tools
    size = grid.size(level)
    near: Mask = (distance < grading.reach * size) & (distance > -grading.inner * size)
    thick.see(points, distance)
    which = np.flatnonzero(near)
    if level > base:
        held = thick.holds(points[which], 0.5 * grading.across * size)
        near[which[held]] = _near_any(thin, points[which[held]], THIN_REACH * size)
    else:
        near[which] = _near_any(thin[base - level :], points[which], THIN_REACH * size)
    return near


def _balance(split: list[Mask]) -> None:
    """Split more until no cell meets one of less than half its size, in place; split[l] are the masks by level."""
    for level in range(1, len(split) - 1):
        wide = split[level].copy()
        for axis in range(3):
            ahead = [slice(None)] * 3
            behind = [slice(None)] * 3
            ahead[axis], behind[axis] = slice(1, None), slice(None, -1)
            wide[tuple(ahead)] |= split[level][tuple(behind)]
            wide[tuple(behind)] |= split[level][tuple(ahead)]
        x, y, z = split[level + 1].shape
        split[level + 1] |= wide.reshape(x, 2, y, 2, z, 2).any(axis=(1, 3, 5))


def grow(domain: Domain, distance: Distance, grid: Lattice, *, grading: Grading, base: int, thin: tuple[Floats, ...]) -> Cells:
    """The tree over a domain: cells of level `base` at the metal's surface, smaller ones where it is thin.

    Parameters
    ----------
    distance : (n, 3) [m] to (n,) [m], below zero in metal.
    thin : (k, 3) places of thin walls [m] that were found with all cells of level `base`, then those still found with cells half
        as large round the first, and so on.
    """
    split = [np.zeros(grid.shape(level) if level or not grid.top else (0, 0, 0), dtype=np.bool_) for level in range(grid.top + 1)]
    seen: list[tuple[NDArray[np.int64], Floats]] = [(np.empty(0, dtype=np.int64), np.empty(0))] * (grid.top + 1)
    tools = (grading, _Thickness(), thin)
    index = np.argwhere(np.ones(grid.roots, dtype=np.bool_)).astype(np.int32)
    for level in range(grid.top, -1, -1):
        points, size = grid.centres(index, level), grid.size(level)
        depth = domain.depths(points).min(axis=1)
        kept = depth > -0.87 * size
        index, points, depth = index[kept], points[kept], depth[kept]
        away = distance(points) if len(points) else np.empty(0)
        seen[level] = (_flat(index, grid.shape(level)), away)
        if level == 0:
            break
        wanted = _wanted(points, away, level, grid=grid, base=base, tools=tools)
        if size > max(grading.outer, grid.size(base)) * 1.01:
            wanted |= np.abs(depth) < 0.87 * size
        split[level][tuple(index[wanted].T)] = True
        index = _children(index[wanted])
    _balance(split)
    return _leaves(domain, distance, grid, split=split, seen=seen)


def _leaves(
    domain: Domain, distance: Distance, grid: Lattice, *, split: list[Mask], seen: list[tuple[NDArray[np.int64], Floats]]
) -> Cells:
    """The cells that are not split, with their distances: those known already, and the few that balancing has added."""
    indices, levels, distances = [], [], []
    for level in range(grid.top, -1, -1):
        if level == grid.top:
            index = np.argwhere(~split[level]).astype(np.int32)
        else:
            index = _children(np.argwhere(split[level + 1]).astype(np.int32))
            index = index[~split[level][tuple(index.T)]] if level else index
        points = grid.centres(index, level)
        inside = domain.depths(points).min(axis=1) > 0
        index, points = index[inside], points[inside]
        known, values = seen[level]
        order = np.argsort(known)
        flat = _flat(index, grid.shape(level))
        place = np.minimum(np.searchsorted(known, flat, sorter=order), max(known.size - 1, 0))
        found = known[order[place]] == flat if known.size else np.zeros(flat.size, dtype=np.bool_)
        away = np.empty(flat.size)
        away[found] = values[order[place[found]]] if known.size else 0.0
        if not found.all():
            away[~found] = distance(points[~found])
        indices.append(index)
        levels.append(np.full(flat.size, level, dtype=np.int8))
        distances.append(away)
    index, doublings, away = np.concatenate(indices), np.concatenate(levels), np.concatenate(distances)
    code = np.empty(doublings.size, dtype=np.int64)
    morton(index, doublings, code)
    order = np.argsort(code)
    return Cells(lattice=grid, level=doublings[order], index=index[order], code=code[order], distance=away[order])
