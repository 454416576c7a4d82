"""The balls that fit inside a solid [mm]: how thick it is at a place, and the thinnest neck on the way between two places.

At a point of the surface, the largest ball that touches there from inside shrinks until the surface holds no point within it
(Ma, Bae and Choi's shrinking ball). The middles of these balls lie on the solid's middle sheet; two balls that overlap leave
a way between them that is as thick as the waist of their union, and the best way between two places is the one whose
thinnest waist is thickest.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree
from scipy.spatial import cKDTree

from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.thickness import GOLDEN

SURFACE_COUNT: Final = 16_000
"""Points that stand for the surface; on a ring of 700 mm2 they lie 0.2 mm apart, and a ball of 1 mm is then known to 2 %."""

EVERY: Final = 3
"""Every so many points carry a ball."""

SHRINKS_COUNT: Final = 12
"""A ball has settled after five or six steps; the last ones move it by less than 0.1 %."""

SETTLED: Final = 0.02
"""A ball has settled when the surface reaches into it by less than this share of its radius: the facets of a round surface do."""

TIE: Final = 1e-3
"""Necks that agree to this share are the same."""

SAME_SHARE: Final = 0.02
"""Middles that agree to this share of their radius ask for their nearest surface point together: in a round solid all do, and to
find what is nearest to a point that is alike far from everything takes long."""

HASH: Final = np.array([0x9E3779B9, 0x85EBCA6B, 0xC2B2AE35, 0x27D4EB2F], dtype=np.int64)
"""Odd numbers that mix a cell's four numbers into one."""

SMALL_SHARE: Final = 0.1
"""Balls under this share of the largest lie in edges and corners and carry no way."""

CELLS: Final = 5.0
"""Of balls of about one size, one is kept in each cell of a fifth of their radius."""

HUB_CELLS: Final = 1.5
"""Small balls join the large ones that stand for all with so many cells in a radius."""

REACH: Final = 1.2
"""Balls of about one size join whose middles lie within so many radii: their waist is then 0.8 of a radius or more."""


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """Points spread evenly over a surface.

    Attributes
    ----------
    points, normals : (k, 3) float arrays [mm], [-]
    """

    points: Floats
    normals: Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Balls:
    """Largest inner balls at points of a surface.

    Attributes
    ----------
    points, normals : (k, 3) float arrays [mm], [-], where each touches, and the surface's way out there
    centres : (k, 3) float array [mm]
    radii : (k,) float array [mm]
    """

    points: Floats
    normals: Floats
    centres: Floats
    radii: Floats


def spread(mesh: Mesh, count: int) -> Surface:
    """About so many points spread evenly by area, the same for the same mesh."""
    areas = mesh.areas
    summed = np.cumsum(areas)
    number = np.arange(count)
    face = np.searchsorted(summed, (number + 0.5) * summed[-1] / count).clip(max=len(areas) - 1)
    u, v = ((0.5 + number * step) % 1.0 for step in GOLDEN)
    over = u + v > 1
    u, v = np.where(over, 1 - u, u), np.where(over, 1 - v, v)
    a, b, c = np.moveaxis(mesh.corners[face], 1, 0)
    return Surface(a + (b - a) * u[:, None] + (c - a) * v[:, None], mesh.normals[face])


def inner_balls(mesh: Mesh, *, surface_count: int = SURFACE_COUNT, largest_mm: float = np.inf) -> Balls:
    """The largest ball that touches from inside, at points spread over a closed solid.

    Parameters
    ----------
    mesh : a closed solid [mm]
    surface_count : points that stand for the surface
    largest_mm : diameter that no ball exceeds, where it is known; it saves time [mm]
    """
    surface = spread(mesh, surface_count)
    tree = cKDTree(surface.points)
    points, inward = surface.points[::EVERY], -surface.normals[::EVERY]
    radii = np.full(len(points), min(float(np.linalg.norm(np.subtract(*mesh.bounds))), largest_mm) / 2)
    open_ = np.arange(len(points))
    for _ in range(SHRINKS_COUNT):
        p, d, r = points[open_], inward[open_], radii[open_]
        nearest = _nearest(tree, p + d * r[:, None], r)
        found = np.linalg.norm(surface.points[nearest] - p - d * r[:, None], axis=1)
        away = surface.points[nearest] - p
        depth = np.einsum("ij,ij->i", away, d)
        shrink = (found < r * (1 - SETTLED)) & (depth > 0)
        if not shrink.any():
            break
        open_, away, depth = open_[shrink], away[shrink], depth[shrink]
        radii[open_] = np.minimum(np.einsum("ij,ij->i", away, away) / (2 * depth), radii[open_])
    return Balls(points=points, normals=-inward, centres=points + inward * radii[:, None], radii=radii)


def _nearest(tree: cKDTree, points: Floats, radii: Floats) -> Ints:
    """Which point of the tree lies nearest to the middle of each ball, or to another middle very near to it, (k,)."""
    size = np.floor(np.log2(radii))
    cells = np.floor(points / (SAME_SHARE * 2.0 ** size[:, None])).astype(np.int64)
    keys = np.column_stack((size.astype(np.int64), cells)) @ HASH
    _, first, which = np.unique(keys, return_index=True, return_inverse=True)
    nearest: Ints = tree.query(points[first])[1][which]
    return nearest


@dataclass(frozen=True, slots=True, eq=False)
class Neck:
    """The thinnest place on the thickest way between two places.

    Attributes
    ----------
    diameter_mm : [mm], of the waist there; 0 where no way was found
    at_mm : (3,) float array [mm]
    """

    diameter_mm: float
    at_mm: Floats


class Ways:
    """The ways through a solid from ball to ball; `centres` and `radii` are those of the balls kept, [mm]."""

    def __init__(self, balls: Balls, also: Sequence[tuple[Floats, float]] = ()) -> None:
        """`also` are further balls, given by middle and radius, such as the largest of all; they come first."""
        extra = np.array([middle for middle, _ in also], dtype=np.float64).reshape(-1, 3)
        centres = np.concatenate((extra, balls.centres))
        radii = np.concatenate((np.array([radius for _, radius in also], dtype=np.float64), balls.radii))
        kept = thinned(centres, radii, first=len(also))
        self.centres, self.radii = centres[kept], radii[kept]
        self._joints = _joints(self.centres, self.radii)

    def near(self, point: Floats, reach_mm: float) -> Ints:
        """The balls whose middles lie within reach of a point, else the nearest one."""
        away = np.linalg.norm(self.centres - point, axis=1)
        near = np.flatnonzero(away <= reach_mm)
        return near if len(near) else np.array([int(np.argmin(away))])

    def necks(self, start: Ints) -> Floats:
        """Diameter of the thinnest waist on the thickest way from any of the start balls to every ball, (k,) [mm]; 0: no way."""
        return self._from(start)[0]

    def neck(self, start: Ints, end: int) -> Neck:
        """The thinnest place on the thickest way from any of the start balls to another one."""
        necks, before = self._from(start)
        if necks[end] <= 0:
            return Neck(0.0, self.centres[end])
        node = end
        while necks[before[node]] > necks[end] * (1 + TIE) and before[node] != node:
            node = int(before[node])
        narrow = node
        while before[node] != node and 2 * self.radii[node] > necks[end] * (1 + 10 * TIE):
            node = int(before[node])
            narrow = node if self.radii[node] < self.radii[narrow] else narrow
        return Neck(float(necks[end]), self.centres[narrow])

    def _from(self, start: Ints) -> tuple[Floats, Ints]:
        """Necks as above, and for every ball the one before it on its way."""
        size = len(self.radii)
        root = size
        i, j, waist = self._joints
        wide = float(self.radii.max()) * 4
        rows = np.concatenate((i, np.full(len(start), root)))
        columns = np.concatenate((j, start))
        weight = np.concatenate((wide - waist, np.full(len(start), wide / 2)))
        trunk = minimum_spanning_tree(coo_matrix((weight, (rows, columns)), shape=(size + 1, size + 1)).tocsr())
        order, before = breadth_first_order(trunk, root, directed=False, return_predecessors=True)
        both = trunk + trunk.T
        necks = np.zeros(size + 1)
        necks[root] = np.inf
        parents = before[order[1:]]
        links = wide - np.asarray(both[order[1:], parents]).reshape(-1)
        for node, parent, link in zip(order[1:].tolist(), parents.tolist(), links.tolist(), strict=True):
            necks[node] = min(necks[parent], 2 * self.radii[node] if parent == root else 2 * link)
        own = np.where((before[:size] < 0) | (before[:size] == root), np.arange(size), before[:size])
        return necks[:size], own


def thinned(centres: Floats, radii: Floats, *, first: int = 0, cells: float = CELLS) -> Ints:
    """The balls that stand for all: the first ones, and of the others, by size, one in each cell of a share of their radius.

    Parameters
    ----------
    centres, radii : (k, 3), (k,) float arrays [mm]
    first : so many are kept whatever their size
    cells : in a ball's radius

    Returns
    -------
    (m,) int array
    """
    large = radii >= SMALL_SHARE * radii.max()
    sizes = np.floor(np.log2(radii))
    kept = [np.arange(first)]
    for size in np.unique(sizes[large]):
        group = np.flatnonzero(large & (sizes == size))
        group = group[group >= first]
        group = group[np.argsort(-radii[group], kind="stable")]
        where = np.floor(centres[group] / (2.0**size / cells)).astype(np.int64)
        _, index = np.unique(where, axis=0, return_index=True)
        kept.append(np.sort(group[index]))
    return np.concatenate(kept)


def _joints(centres: Floats, radii: Floats) -> tuple[Ints, Ints, Floats]:
    """Pairs of balls that overlap well, the smaller first, and half the thickness of their waists."""
    sizes = np.floor(np.log2(radii))
    hubs = np.zeros(len(radii), dtype=bool)
    hubs[thinned(centres, radii, cells=HUB_CELLS)] = True
    rows, columns = [], []
    for size in np.unique(sizes):
        same = np.flatnonzero(sizes == size)
        tree = cKDTree(centres[same])
        inner = tree.query_pairs(REACH * float(radii[same].max()), output_type="ndarray")
        rows.append(same[inner[:, 0]])
        columns.append(same[inner[:, 1]])
        for larger in np.unique(sizes[sizes > size]):
            large = np.flatnonzero(hubs & (sizes == larger))
            outer = tree.sparse_distance_matrix(cKDTree(centres[large]), float(radii[large].max()), output_type="coo_matrix")
            rows.append(same[outer.row])
            columns.append(large[outer.col])
    i, j = np.concatenate(rows), np.concatenate(columns)
    i, j = np.where(radii[i] <= radii[j], i, j), np.where(radii[i] <= radii[j], j, i)
    away = np.linalg.norm(centres[i] - centres[j], axis=1)
    waist = _waists(radii[i], radii[j], away)
    joined = waist > 0
    return i[joined], j[joined], waist[joined]


def _waists(small: Floats, large: Floats, away: Floats) -> Floats:
    """Half the thickness of the waist of two balls so far away from each other: the circle in which they meet; 0 if they do not.

    Where that circle lies beyond the smaller one's middle, the smaller ball itself is the narrowest.
    """
    near = (away**2 + small**2 - large**2) / (2 * np.maximum(away, np.finfo(float).tiny))
    circle = np.sqrt(np.maximum(small**2 - near**2, 0.0))
    waists: Floats = np.where(near <= 0, small, circle)
    return waists
