"""The outline of a solid seen along a direction [mm]: exact, with its holes."""

from typing import Final

import manifold3d
import numpy as np
from numpy.typing import ArrayLike

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.solidity import to_manifold

SIMPLER_BY_MM: Final = 0.05
"""Corners that move the outline by less are left out: a fine pencil's line at full size."""

UNIT_TOLERANCE: Final = 1e-6
"""How far two axes may be from upright to each other and of length one."""


def silhouette(mesh: Mesh, axes: ArrayLike, *, simpler_by_mm: float = SIMPLER_BY_MM) -> tuple[Floats, ...]:
    """The outline of a solid on the plane of two axes.

    Parameters
    ----------
    mesh : a closed solid [mm]
    axes : (2, 3) float array [-], right and up on the plane: unit vectors, upright to each other; seen from right x up
    simpler_by_mm : corners that move the outline by less are left out; 0 keeps them all

    Returns
    -------
    (k, 2) float arrays [mm], right and up, the largest first; outlines run anticlockwise, holes clockwise

    Raises
    ------
    NotSolidError (a ValueError) if the mesh is no solid; ValueError for axes that span no plane.
    """
    right, up = np.asarray(axes, dtype=np.float64).reshape(2, 3)
    if np.abs(np.array([right @ right - 1, up @ up - 1, right @ up])).max() > UNIT_TOLERANCE:
        raise ValueError("The two axes of a silhouette must be unit vectors and upright to each other.")
    turn = np.zeros((3, 4))
    turn[:, :3] = right, up, np.cross(right, up)
    shadow = to_manifold(mesh).transform(turn).project()
    outline = manifold3d.CrossSection(shadow.to_polygons(), manifold3d.FillRule.Positive)
    if simpler_by_mm > 0:
        outline = outline.simplify(simpler_by_mm)
    polygons = [np.asarray(polygon, dtype=np.float64) for polygon in outline.to_polygons()]
    return tuple(sorted(polygons, key=lambda polygon: -abs(area_mm2(polygon))))


def area_mm2(polygon: Floats) -> float:
    """Signed area of a polygon, (k, 2) float array [mm]: positive anticlockwise (the shoelace formula)."""
    x, y = (polygon - polygon[0]).T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2
