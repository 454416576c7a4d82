"""Where a print has its largest ceiling [mm]: the underside that a layer reaches over what stands beneath it."""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from pourwell.geometry.layers import Point
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.orient import hanging_together

LEVEL_SHARE: Final = 1e-9
"""A triangle that rises by less than this share of a layer is level."""


def ceiling_place(mesh: Mesh, mate: Ints, direction: ArrayLike, *, height_mm: float, layer_mm: float) -> Point | None:
    """A place on the underside that lies between the middles of a layer and of the one beneath it; of several the largest.

    Parameters
    ----------
    mate : (3 m,) int array, the half edge against every half edge
    direction : (3,) away from the plate [-], of any length but zero
    height_mm : the foot of the layer, over the lowest point [mm]
    layer_mm : thickness of a layer [mm]

    Returns
    -------
    (x, y, z) [mm] on the surface; None where no underside lies there
    """
    up = np.asarray(direction, dtype=np.float64)
    up = up / np.linalg.norm(up)
    corners = mesh.corners @ up
    level = float(corners.min()) + height_mm
    low, high = corners.min(axis=1), corners.max(axis=1)
    down = np.maximum(-(mesh.area_vectors @ up), 0.0)
    within = np.minimum(high, level + layer_mm / 2) - np.maximum(low, level - layer_mm / 2)
    flat = high - low <= LEVEL_SHARE * layer_mm
    share = np.where(flat, within >= 0, np.maximum(within, 0) / np.where(flat, 1.0, high - low))
    bare = down * share
    if not bare.any():
        return None
    mine = _largest(mesh, mate, bare=bare)
    middle = bare[mine] @ mesh.centres[mine] / bare[mine].sum()
    nearest = int(mine[np.argmin(np.linalg.norm(mesh.centres[mine] - middle, axis=1))])
    x, y, z = _at_level(mesh.corners[nearest], corners[nearest], level).tolist()
    return x, y, z


def _largest(mesh: Mesh, mate: Ints, *, bare: Floats) -> Ints:
    """The triangles of the patch that has most of `bare` [mm2], (m,)."""
    rows = np.flatnonzero(bare > 0)
    label = hanging_together(mate, bare > 0)
    mine: Ints = rows[label == int(np.argmax(np.bincount(label, weights=bare[rows])))]
    return mine


def _at_level(corners: Floats, heights: Floats, level: float) -> Floats:
    """(3,): the middle of what a level cuts of a triangle (3, 3), whose corners have heights (3,); of a level one its middle."""
    order = np.argsort(heights)
    (a, b, c), (low, between, high) = corners[order], heights[order]
    if high <= low:
        middle: Floats = corners.mean(axis=0)
        return middle
    at = float(np.clip(level, low, high))
    first = a + (at - low) / (high - low) * (c - a)
    start, end, begin, stop = (a, b, low, between) if at <= between else (b, c, between, high)
    second = start + ((at - begin) / (stop - begin) if stop > begin else 0.0) * (end - start)
    cut: Floats = (first + second) / 2
    return cut
