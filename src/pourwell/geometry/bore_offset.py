"""A bore made wider or narrower by moving only the inside of the band [mm]."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.geometry.bore import Cylinder
from pourwell.geometry.bore_grow import around
from pourwell.geometry.bore_seeds import Line
from pourwell.geometry.bore_shape import unroll
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.refine import refined

MIDDLE_SHARE: Final = 0.9
"""The wall is looked for over this share of the band's width: its edges are rounded or run out."""

INTO_MM: Final = 1e-3
"""How far under the bore's surface a ray starts that measures the wall behind it."""

WHOLE_SHARE: Final = 0.4
"""Metal up to this share of the wall behind the bore moves as the bore does, so that edges and curves keep their form."""

NONE_SHARE: Final = 0.8
"""Metal beyond this share of the wall stays where it is, and with it everything that is seen from outside."""

THIN_SHARE: Final = 0.05
"""The wall is what this share of the rays falls short of: a corner that a ray slips through is no wall."""

LONGEST_SHARE: Final = 0.06
"""Edges near the bore are halved until none is longer than this share of its radius: a long one would lie across the new bore."""

MOST_SHARE: Final = 0.3
"""A bore is widened by at most this share of its wall: the layer in between must not fold."""


def wall_behind(rays: Caster, bore: Cylinder) -> float:
    """The thinnest wall straight behind the surface of a bore [mm]; infinite if there is none.

    Parameters
    ----------
    rays : of the piece [mm]
    bore : as `find_bore` finds it
    """
    seen = unroll(rays, bore)
    way, level = np.nonzero(seen.near & (np.abs(seen.levels) <= MIDDLE_SHARE))
    if not len(way):
        return float("inf")
    middle, half = (seen.low + seen.high) / 2, (seen.high - seen.low) / 2
    height = middle[way] + half[way] * seen.levels[level]
    starts = np.asarray(bore.centre) + height[:, None] * np.asarray(bore.axis)
    starts = starts + (seen.free[way, level] + INTO_MM)[:, None] * seen.ways[way]
    return float(np.quantile(rays.first(starts, seen.ways[way])[0], THIN_SHARE)) + INTO_MM


def with_bore_moved(mesh: Mesh, bore: Cylinder, *, by_mm: float, wall_mm: float) -> Mesh:
    """The mesh with the surface of its bore moved away from the axis, and nothing of what is seen from outside.

    A corner on the bore, or in the first part of the wall behind it, moves straight away from the axis by `by_mm`; through the
    next part that fades to nothing. Before that, long edges near the bore are halved. A closed mesh stays closed.

    Parameters
    ----------
    mesh : triangles [mm], the piece or one body of it
    bore : the cylinder through the piece
    by_mm : [mm] of radius, negative for a narrower bore
    wall_mm : the thinnest wall behind the bore [mm], see `wall_behind`

    Raises
    ------
    ValueError if the wall is too thin to be moved so far.
    """
    if by_mm > MOST_SHARE * wall_mm or by_mm <= -bore.diameter_mm / 2:
        raise ValueError(f"a wall of {wall_mm:g} mm cannot be moved by {by_mm:g} mm")
    radius, line = bore.diameter_mm / 2, Line(np.asarray(bore.centre), np.asarray(bore.axis), bore.diameter_mm / 2)

    def too_long(start: Floats, end: Floats) -> NDArray[np.bool_]:
        long: NDArray[np.bool_] = np.linalg.norm(end - start, axis=1) > LONGEST_SHARE * radius
        long[long] = around(line, (start[long], end[long]))[0] < radius + NONE_SHARE * wall_mm
        return long

    fine = refined(mesh, too_long)
    away = fine.vertices - line.centre
    away = away - np.outer(away @ line.axis, line.axis)
    far = np.linalg.norm(away, axis=1)
    share = np.clip((NONE_SHARE - (far - radius) / wall_mm) / (NONE_SHARE - WHOLE_SHARE), 0.0, 1.0)
    unit = away / np.maximum(far, np.finfo(float).tiny)[:, None]
    return Mesh(fine.vertices + unit * (by_mm * share)[:, None], fine.faces)


def scaled_about(mesh: Mesh, centre: tuple[float, float, float], factor: float) -> Mesh:
    """The mesh with every distance from a point multiplied: what lies there stays there.

    Parameters
    ----------
    mesh : triangles [mm]
    centre : [mm]
    factor : [-], above zero
    """
    middle = np.asarray(centre)
    return Mesh(middle + (mesh.vertices - middle) * factor, mesh.faces)
