"""How far a mended surface lies from the one it came from, sampled densely [mm]."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.scatter import scattered
from pourwell.geometry.soup import Soup

FINEST_MM: Final = 0.02
"""Points never lie closer than this."""

POINTS: Final = 60_000
"""About so many points on a surface at most."""

OFF_SHARE: Final = 1e-4
"""How far off a surface is asked which side it is, as a share of the piece's largest side."""

HALF: Final = 0.5
"""A point is within where the surface winds round it by more than this."""

MOST_SIDES: Final = 1_000_000
"""Points off the new surface that are asked whether they lay within the metal, at most, the farthest first; one that is not
asked counts as moved."""

AT_ONCE: Final = 10_000
"""So many are asked before it is seen whether one of them lay outside: the farthest such is all that is wanted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """What mending did to a surface. Distances are the largest of points `spacing_mm` apart at most."""

    moved_mm: float
    """From the old surface to the new one; inner walls that were taken away do not count."""
    at_mm: tuple[float, float, float]
    """Where that is."""
    new_mm: float
    """From the new surface to the old one: how far a cover stands from its rim."""
    spacing_mm: float


def moved(before: Mesh, after: Mesh) -> Moved:
    """Compare a surface before and after mending.

    Parameters
    ----------
    before : any triangles [mm]
    after : a solid [mm]
    """
    size = max(before.envelope_mm)
    spacing = max(FINEST_MM, float(np.sqrt(max(before.area_mm2, after.area_mm2) / POINTS)))
    points, face = scattered(before, spacing)
    away = Soup(after).distances(points)
    worst = _farthest(before, points, away, off=OFF_SHARE * size, normals=before.normals[face])
    x, y, z = points[worst].tolist()
    return Moved(
        moved_mm=float(away[worst]),
        at_mm=(x, y, z),
        new_mm=float(Soup(before).distances(scattered(after, spacing)[0]).max()),
        spacing_mm=spacing,
    )


def _farthest(before: Mesh, points: Floats, away: Floats, *, off: float, normals: Floats) -> int:
    """The number of the point that is farthest from the new surface, but for those that lay within the metal."""
    order = np.argsort(-away, kind="stable")
    far = int((away > off).sum())
    for first in range(0, min(far, MOST_SIDES), AT_ONCE):
        some = order[first : min(first + AT_ONCE, far, MOST_SIDES)]
        outer = np.flatnonzero(~_within(before, points[some], off * normals[some]))
        if len(outer):
            return int(some[outer[0]])
    return int(order[min(far, MOST_SIDES, len(order) - 1)])


def _within(mesh: Mesh, points: Floats, out: Floats) -> NDArray[np.bool_]:
    """(n,) bool: points of a surface with metal, by its own winding, on both sides."""
    soup = Soup(mesh)
    both = [soup.windings(points + side * out) > HALF for side in (1.0, -1.0)]
    return np.asarray(both[0] & both[1])
