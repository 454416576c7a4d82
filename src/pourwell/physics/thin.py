"""How thick metal is behind its surface, measured along the normal: walls that a grid would lose. SI."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pourwell.physics.kernels.tree import Array
from pourwell.physics.octree import Cells

Floats = NDArray[np.float64]
THINNEST = 2.0
"""Fewer cells than these across a wall do not carry its heat: the third has nothing to compare with."""
BORDER = 0.01
"""A wall thicker by this share is thin too: facets and rounding would decide on one of just two cells, and move its end by 5 %."""
STEPS = 40
"""Most steps of a ray; each goes as far as the distance allows, so a wall across it is found in a few."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ThinWalls:
    """Walls of two cells or fewer: middles (k, 3) [m] and thickness (k,) [m], thickness in cells (k,) [-]."""

    middle: Floats
    thickness: Floats
    cells: Floats


def gradient(distance: Callable[[Floats], Floats], points: Floats, step: float) -> Floats:
    """(n, 3) slope of a distance at points (n, 3), by central differences over twice `step` [m]."""
    shifts = step * np.concatenate([np.eye(3), -np.eye(3)])
    values = distance((points[None] + shifts[:, None]).reshape(-1, 3)).reshape(6, -1)
    slope: Floats = ((values[:3] - values[3:]) / (2 * step)).T
    return slope


def wall_thickness(distance: Callable[[Floats], Floats], points: Floats, *, most: float) -> tuple[Floats, Floats]:
    """Thickness of metal under the surface nearest to each point, and the middle of that wall.

    A ray goes from the surface along the inward normal until it leaves the metal. Near an edge it runs along the other face and
    through the whole body, so that an edge is not taken for a thin wall.

    Parameters
    ----------
    points : (n, 3) [m], nearer to the surface than half the wall
    most : [m], beyond which a wall is thick enough; the ray ends there.

    Returns
    -------
    (n,) thickness [m], infinite where it is more than `most`; (n, 3) middles [m].
    """
    if not len(points):
        return np.empty(0), np.empty((0, 3))
    small = 0.01 * most
    away, slope = distance(points), gradient(distance, points, small)
    normal = slope / np.maximum(np.linalg.norm(slope, axis=1), 1e-9)[:, None]
    surface = points - away[:, None] * normal
    surface -= distance(surface)[:, None] * normal
    gone = np.full(len(points), 2 * small)
    thick, entered = np.full(len(points), np.inf), np.zeros(len(points), dtype=np.bool_)
    going = np.flatnonzero(np.linalg.norm(slope, axis=1) > 0.5)
    for _ in range(STEPS):
        inside = -distance(surface[going] - gone[going, None] * normal[going])
        out = inside <= 0
        left = out & entered[going]
        thick[going[left]] = gone[going[left]] + inside[left]
        entered[going] |= ~out
        gone[going] += np.maximum(inside, small)
        going = going[~out & (gone[going] < most)]
        if not going.size:
            break
    middle = surface - 0.5 * np.where(np.isfinite(thick), thick, 0.0)[:, None] * normal
    return thick, middle


def suspects(cells: Cells, across: Array) -> NDArray[np.intp]:
    """Cells where metal may be thin: no neighbour lies much deeper; or the surface is near but no metal beside.

    across (n, 6): the neighbours of `kernels.tree.neighbours`. Behind a flat surface one of the six neighbours is deeper by 0.57 of
    an edge at least, whatever way the surface leans.
    """
    away = np.append(cells.distance, np.inf)
    deepest = away[np.where(across >= 0, across, len(away) - 1)].min(axis=1)
    size, own = cells.size, cells.distance
    ridge = (own <= 0) & (own > -size) & (deepest > own - 0.5 * size)
    missed = (own > 0) & (own < 0.5 * size) & (deepest > 0)
    return np.flatnonzero(ridge | missed)


def thin_walls(distance: Callable[[Floats], Floats], cells: Cells, across: Array) -> ThinWalls:
    """The walls of two cells or fewer."""
    doubted = suspects(cells, across)
    size = cells.size[doubted]
    middle, thickness, count = [np.empty((0, 3))], [np.empty(0)], [np.empty(0)]
    for edge in np.unique(size):
        mine = doubted[size == edge]
        # a little off the middle of the cell, because just between two faces a distance has no slope
        points = cells.centre[mine] + 0.04 * edge * np.array([1.0, 0.7, 0.4])
        thick, middles = wall_thickness(distance, points, most=1.5 * THINNEST * edge)
        found = thick <= THINNEST * edge * (1 + BORDER)
        middle.append(middles[found])
        thickness.append(thick[found])
        count.append(thick[found] / edge)
    return ThinWalls(middle=np.concatenate(middle), thickness=np.concatenate(thickness), cells=np.concatenate(count))
