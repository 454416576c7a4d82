"""The bore: the largest cylinder that passes through a piece and is surrounded by it [mm]; all of them, if there are several."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.geometry.bore_grow import Edges, grown
from pourwell.geometry.bore_seeds import SLANT, Line, Looking, axes_of, axis_of, frame_of, gaps, looking_over, thinned
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.thickness import spread

TRIES: Final = 4
"""How many of the most promising places are measured exactly."""

SURROUNDED: Final = 0.75
"""A bore has metal around at least this share of the circle: an open-ended ring still has a bore, a crescent has none."""

AROUND_COUNT: Final = 72
"""Directions in which the surrounding metal is looked for."""

SAME_SHARE: Final = 0.02
"""Faces within this share of the radius belong to the bore, and give its middle along the axis."""

MOST_BORES: Final = 4
"""Bores listed at most: a ring for more fingers than that is no ring."""

WITHIN: Final = 1.5
"""Faces that look at a bore's axis from within so many of its radii are that bore's."""

FEW: Final = 12
"""So many points that look at each other over a wide gap, or fewer, are a corner or a hollow, not another bore."""

PASSING: Final = (0.0, 0.5, 0.9)
PASSING_COUNT: Final = 16
"""Lines along the axis, at these shares of the radius, so many on each circle, must all be clear."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """A cylinder through a piece."""

    centre: tuple[float, float, float]
    """On the axis, half way along the bore [mm]."""
    axis: tuple[float, float, float]
    """Unit vector; its largest share is positive."""
    diameter_mm: float


def find_bore(mesh: Mesh, caster: Caster | None = None) -> Cylinder | None:
    """The largest cylinder that passes through the piece with metal around it, or None.

    The axis is sought among the file's axes, the principal axes of the surface and the axis of the faces that look at each
    other over a gap; then axis and place are moved until edges hold the cylinder from all sides. A bore of flat faces is
    measured between the flats, as a finger meets it.

    Parameters
    ----------
    mesh : a closed solid [mm]
    caster : its rays, if made already
    """
    found = _search(mesh, caster or Caster(mesh), least_mm=0.0, most=1)
    return found[0] if found else None


def find_bores(mesh: Mesh, caster: Caster | None = None, *, least_mm: float) -> tuple[Cylinder, ...]:
    """Every bore of at least that diameter, the largest first; the first is `find_bore`'s if that is wide enough.

    Two cylinders are one bore if the axis of the second passes through the first at its middle: a hole that opens into a bore is
    none of its own.

    Parameters
    ----------
    mesh : a closed solid [mm]
    caster : its rays, if made already
    least_mm : [mm], above zero
    """
    return _search(mesh, caster or Caster(mesh), least_mm=least_mm, most=MOST_BORES)


def _search(mesh: Mesh, rays: Caster, *, least_mm: float, most: int) -> tuple[Cylinder, ...]:
    """The bores, the largest first."""
    surface = spread(mesh)
    points = thinned(mesh, surface[0])
    looking = looking_over(mesh, rays, surface)
    facing = axis_of(looking)
    first = [] if facing is None else list(gaps(points, facing))
    others = [seed for axis in axes_of(mesh, facing) for seed in gaps(points, axis)]
    others.sort(key=lambda seed: -seed.radius)
    seeds, edges = [*first, *others[:TRIES]], Edges(mesh)
    found: list[Line] = []
    while len(found) < most:
        best = _best((s for s in seeds if 2 * s.radius >= least_mm and not _known(s, found)), edges, rays=rays, points=points)
        if best is not None and 2 * best.radius >= least_mm and not _known(best, found):
            found.append(best)
        elif not found or looking is None:
            break
        else:
            looking = looking.only(looking.across >= least_mm)
            for line in found:
                looking = looking.only(~_looks_at(line, looking))
            axis = axis_of(looking) if len(looking.area) > FEW else None
            looking, seeds = None, [] if axis is None else list(gaps(points, axis))
    cylinders = [_cylinder(line, edges) for line in found]
    return tuple(sorted(cylinders, key=lambda cylinder: -cylinder.diameter_mm))


def _best(seeds: Iterable[Line], edges: Edges, *, rays: Caster, points: Floats) -> Line | None:
    """The widest cylinder that grows from one of the seeds, passes and is surrounded."""
    best: Line | None = None
    for seed in seeds:
        if best is not None and seed.radius <= best.radius * (1 + SAME_SHARE):
            continue
        line = grown(seed, edges)
        wider = best is None or line.radius > best.radius * (1 + SAME_SHARE)
        if wider and _passes(line, rays) and _surrounded(line, points):
            best = line
    return best


def _known(line: Line, found: Iterable[Line]) -> bool:
    """Does an axis pass through a bore that is found already, or that bore's through it."""
    return any(
        _off(one.centre, other) < max(one.radius, other.radius) for bore in found for one, other in ((bore, line), (line, bore))
    )


def _off(point: Floats, line: Line) -> float:
    """How far a point lies from an axis [mm]."""
    return float(np.linalg.norm(np.cross(point - line.centre, line.axis)))


def _looks_at(line: Line, looking: Looking) -> NDArray[np.bool_]:
    """Which points lie around a bore and look at its axis."""
    away = looking.points - line.centre
    away = away - np.outer(away @ line.axis, line.axis)
    far = np.linalg.norm(away, axis=1)
    inward: NDArray[np.bool_] = np.einsum("ij,ij->i", away, looking.normals) < -SLANT * far
    close: NDArray[np.bool_] = far < WITHIN * line.radius
    return np.logical_and(inward, close)


def _passes(line: Line, rays: Caster) -> bool:
    """Is nothing in the way of the cylinder, along lines through it."""
    low, high = rays.mesh.bounds
    far = float(np.linalg.norm(high - low) + np.linalg.norm((low + high) / 2 - line.centre))
    turns = np.arange(PASSING_COUNT) * (2 * np.pi / PASSING_COUNT)
    circle = np.stack((np.cos(turns), np.sin(turns)), axis=1) @ frame_of(line.axis)
    starts = np.vstack([line.centre + circle * (share * line.radius) for share in PASSING]) - line.axis * far
    return bool((rays.first(starts, line.axis)[1] < 0).all())


def _surrounded(line: Line, points: Floats) -> bool:
    """Is there metal around the cylinder, within twice its radius."""
    flat = (points - line.centre) @ frame_of(line.axis).T
    close: NDArray[np.bool_] = np.linalg.norm(flat, axis=1) < 2 * line.radius
    turn = np.arctan2(flat[close, 1], flat[close, 0]) / (2 * np.pi) + 0.5
    return len(np.unique(np.floor(turn * AROUND_COUNT))) >= SURROUNDED * AROUND_COUNT


def _cylinder(line: Line, edges: Edges) -> Cylinder:
    """The result, its centre half way along the edges that lie on the bore."""
    axis = line.axis * np.sign(line.axis[np.argmax(np.abs(line.axis))])
    start, end = edges.near(line, line.radius * (1 + SAME_SHARE))
    height = (np.concatenate((start, end)) - line.centre) @ axis
    centre = line.centre + axis * (height.min() + height.max()) / 2
    x, y, z = (centre + 0.0).tolist()
    a, b, c = (axis + 0.0).tolist()
    return Cylinder(centre=(x, y, z), axis=(a, b, c), diameter_mm=2 * line.radius)
