"""A pin on a piece: a straight thin wire that makes up the half of its length or more, as on an ear stud [mm]."""

from typing import Final

import numpy as np

from pourwell.geometry.mesh import Floats, Mesh

HEAD_RATIO: Final = 2.0
"""The other end is at least so many times as wide as the pin: own choice, else it is a bar."""

LONG_RATIO: Final = 3.0
"""A pin is at least so many times as long as it is thick: own choice."""


def pin_of(mesh: Mesh, *, most_mm: float) -> Floats | None:
    """The direction from the pin's tip to the head, or None where half of the piece's length is no pin.

    Parameters
    ----------
    mesh : a closed solid [mm]
    most_mm : a pin is no thicker than this [mm]

    Returns
    -------
    (3,) float array, a unit vector [-]
    """
    points = mesh.vertices[np.unique(mesh.faces)]
    along = _axis(mesh)
    for way in (along, -along):
        height = points @ way
        low, high = float(height.min()), float(height.max())
        half = (low + high) / 2
        end = np.vstack((points[height <= half], _cut(mesh, way, half)))
        rest = points[height > half]
        thick, wide = _across(end, way), _across(rest, way)
        if thick <= most_mm and wide >= HEAD_RATIO * thick and half - low >= LONG_RATIO * thick:
            return np.asarray(way)
    return None


def _axis(mesh: Mesh) -> Floats:
    """(3,) the direction in which the piece is longest, by how its surface is spread."""
    weight = mesh.areas / mesh.area_mm2
    corners = mesh.vertices[mesh.faces]
    off = corners - weight @ mesh.centres
    spread = np.einsum("m,mki,mkj->ij", weight, off, off)
    return np.asarray(np.linalg.eigh(spread)[1][:, -1])


def _cut(mesh: Mesh, way: Floats, height_mm: float) -> Floats:
    """(n, 3) where the edges of the surface pass a height."""
    ends = mesh.vertices[np.vstack((mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]], mesh.faces[:, [2, 0]]))]
    up = ends @ way - height_mm
    ends, up = ends[up[:, 0] * up[:, 1] < 0], up[up[:, 0] * up[:, 1] < 0]
    share = (up[:, 0] / (up[:, 0] - up[:, 1]))[:, None]
    return np.asarray(ends[:, 0] + share * (ends[:, 1] - ends[:, 0]))


def _across(points: Floats, way: Floats) -> float:
    """How wide points lie about their middle across a direction [mm]: twice the farthest from the middle of their box."""
    flat = points - np.outer(points @ way, way)
    return float(2 * np.linalg.norm(flat - (flat.min(axis=0) + flat.max(axis=0)) / 2, axis=1).max())
