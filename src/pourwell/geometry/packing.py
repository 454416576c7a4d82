"""Placing bodies beside each other [mm]: quick distances between sampled surfaces, for the search; `gap` then measures exactly.

The distance between two samples is never less than the gap between the surfaces. It is more by about the square of the
spacing over twice the gap: a tenth of a millimetre at 3 mm. Edges are sampled too, so that this holds there as well.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.spatial import cKDTree

from pourwell.geometry.balls import spread
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.solidity import edges_of

OVERSAMPLING: Final = 3.0
"""Samples drawn for each that is kept, so that every cell of the surface has one."""

SHARP: Final = 0.9
"""An edge whose two faces turn by more than 26 degrees (cosine) is sampled along its length."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cloud:
    """Samples of a surface.

    Attributes
    ----------
    points : (k, 3) float array [mm]
    tree : the same points, made ready for finding the nearest
    low, high : (3,) float arrays [mm], their box
    """

    points: Floats
    tree: cKDTree
    low: Floats
    high: Floats


def cloud(mesh: Mesh, *, spacing_mm: float) -> Cloud:
    """Samples of a closed surface about so far apart, edges first, the same for the same mesh."""
    count = int(np.ceil(OVERSAMPLING * mesh.area_mm2 / spacing_mm**2))
    points = np.concatenate((_edge_points(mesh, spacing_mm), spread(mesh, count).points))
    cells = np.floor((points - points.min(axis=0)) / spacing_mm).astype(np.int64)
    size = cells.max(axis=0) + 1
    _, first = np.unique((cells[:, 0] * size[1] + cells[:, 1]) * size[2] + cells[:, 2], return_index=True)
    return of_points(points[np.sort(first)])


def of_points(points: Floats) -> Cloud:
    """A cloud of given points."""
    return Cloud(points=points, tree=cKDTree(points), low=points.min(axis=0), high=points.max(axis=0))


def _edge_points(mesh: Mesh, spacing_mm: float) -> Floats:
    """Points along the sharp edges, ends included."""
    edges = edges_of(mesh)
    order = np.argsort(edges.which, kind="stable")
    regular = np.flatnonzero(edges.count == 2)
    start = np.cumsum(edges.count) - edges.count
    normals = mesh.normals
    first, second = order[start[regular]] // 3, order[start[regular] + 1] // 3
    sharp = regular[np.einsum("ij,ij->i", normals[first], normals[second]) < SHARP]
    a, b = np.moveaxis(mesh.vertices[edges.ends[sharp]], 1, 0)
    pieces = np.ceil(np.linalg.norm(b - a, axis=1) / spacing_mm).astype(np.int64)
    which = np.repeat(np.arange(len(sharp)), pieces + 1)
    number = np.arange(len(which)) - np.repeat(np.cumsum(pieces + 1) - pieces - 1, pieces + 1)
    share = (number / np.maximum(pieces[which], 1))[:, None]
    along: Floats = a[which] + (b - a)[which] * share
    return along


def nearness_mm(a: Cloud, points: Floats, *, reach_mm: float) -> float:
    """Distance from a cloud to the nearest of some points in its own frame, at most `reach_mm`.

    Parameters
    ----------
    a : samples
    points : (k, 3) float array [mm]
    reach_mm : how far to look [mm]
    """
    close = ((points > a.low - reach_mm) & (points < a.high + reach_mm)).all(axis=1)
    if not close.any():
        return reach_mm
    return min(float(a.tree.query(points[close], distance_upper_bound=reach_mm)[0].min()), reach_mm)


def rigid(axes: ArrayLike, origin: ArrayLike) -> Floats:
    """The (3, 4) transform that takes a frame's own coordinates to where its axes (rows) and origin lie."""
    return np.column_stack((np.asarray(axes, dtype=np.float64).T, np.asarray(origin, dtype=np.float64)))


def after(outer: Floats, inner: Floats) -> Floats:
    """The (3, 4) transform that does the inner one first."""
    return np.column_stack((outer[:, :3] @ inner[:, :3], outer[:, :3] @ inner[:, 3] + outer[:, 3]))


def back(transform: Floats) -> Floats:
    """The inverse of a rigid (3, 4) transform."""
    turn = transform[:, :3].T
    return np.column_stack((turn, -turn @ transform[:, 3]))


def moved(points: Floats, transform: Floats) -> Floats:
    """Points, (k, 3) [mm], under a (3, 4) transform."""
    out: Floats = points @ transform[:, :3].T + transform[:, 3]
    return out
