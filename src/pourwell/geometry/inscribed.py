"""The thickest section: the largest sphere that fits into a solid [mm]."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadDataError
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.programme import lifted
from pourwell.geometry.rays import Caster
from pourwell.geometry.thickness import Samples, sampled
from pourwell.geometry.touching import Touching

SPHERE_STARTS: Final = 8
"""From how many of the best places the largest sphere is sought."""

SPHERE_STEPS: Final = (0.3, 0.1, 0.03)
"""Steps of the search for its middle, as shares of its radius, so that no step leaves the solid."""

SPHERE_TURNS: Final = 10
"""Moves of one step length at most."""

LEAN: Final = (0.0137, 0.0271, 0.0419)
"""Added to the axes, so that a ray along one runs along no edge of a piece drawn square to them."""

CLIMB_STARTS: Final = 3
"""From how many of the places found the exact search goes on: the first steps cannot tell two ends that are all but alike."""

CLIMB_SHARE: Final = 0.3
"""How far the exact search may go from where it starts, as a share of the radius, along each axis."""

CLIMB_TURNS: Final = 12
"""Linear programmes at most; each halves the error at least fourfold once it is near."""

PROGRAMME_ROWS: Final = 200
"""Of many distances a programme knows so many at first, and so many more at a time."""

OVERLOOKED: Final = 1e-9
"""A distance is overlooked if the way goes below it by more than this share of a step."""

CLIMB_GAIN: Final = 1e-7
"""The distance to a triangle is nowhere less than its slope tells, so a programme that promises no more is the last."""

LOT: Final = 262_144
"""Triangles looked at in one go: 20 MB of corners."""

MOST_TRIES: Final = 4_000
"""Places of the surface from which the largest sphere is sought, at most."""


def largest_sphere(
    mesh: Mesh, samples: Samples | None = None, caster: Caster | None = None, *, touching: Touching | None = None
) -> tuple[tuple[float, float, float], float]:
    """The thickest section: the largest sphere that fits into a closed solid.

    The middles of the inward rays and of the balls that touch are tried, the best are moved uphill, and the best of these by
    linear programmes. Every radius on the way is the distance to the surface itself, not to samples of it: these lie farther
    apart than a thin wall is thick, and would take a place beside its skin for the thickest.

    Returns
    -------
    centre : [mm]
    radius_mm : [mm]

    Raises
    ------
    BadDataError for a solid in which no wall can be measured.
    """
    rays = caster or Caster(mesh)
    known = samples or sampled(mesh, rays)
    if not len(known.points):
        raise BadDataError(
            "Nowhere in this solid can a wall be measured.",
            why="It is so thin for its size that rounding hides its other side.",
            try_this="Look at its measures and its unit.",
        )
    surface = touching or Touching(mesh)
    order = np.argsort(-known.wall_mm)[:: max(1, len(known.wall_mm) // MOST_TRIES)]
    points, face = known.points[order], known.face[order]
    balls = surface.balls(points, face, most_mm=float(known.wall_mm.max()))
    fit = np.isfinite(balls.diameter_mm)
    tries = np.concatenate(
        (
            points - mesh.normals[face] * (known.wall_mm[order] / 2)[:, None],
            points[fit] + balls.way[fit] * (balls.diameter_mm[fit] / 2)[:, None],
        )
    )
    tries = tries[_inside(tries, mesh, rays)]
    if not len(tries):
        thickest = int(np.argmax(known.wall_mm))
        tries = known.points[[thickest]]
    found = surface.feet(tries)[0]
    starts = np.argsort(-found)[:SPHERE_STARTS]
    ends = _uphill(tries[starts], found[starts], surface)
    ends.sort(key=lambda end: end[1], reverse=True)
    return max((_climbed(mesh, *end) for end in ends[:CLIMB_STARTS]), key=lambda end: end[1])


def _inside(points: Floats, mesh: Mesh, rays: Caster) -> NDArray[np.bool_]:
    """Which points lie inside: the first face that most rays from there meet is met from inside."""
    votes, normals = np.zeros(len(points)), mesh.normals
    for heading in np.vstack((np.eye(3), -np.eye(3))) + LEAN:
        met = rays.first(points, heading)[1]
        votes += np.where(met >= 0, np.sign(normals[met] @ heading), -1.0)
    inside: NDArray[np.bool_] = votes > 0
    return inside


def _within(mesh: Mesh, centre: Floats, reach_mm: float) -> Floats:
    """The corners of all triangles that may come so near to a point, and of some others, (m, 3, 3) [mm]."""
    found = []
    for begin in range(0, len(mesh.faces), LOT):
        corners = mesh.vertices[mesh.faces[begin : begin + LOT]]
        middle = corners.mean(axis=1)
        size = np.linalg.norm(corners - middle[:, None], axis=2).max(axis=1)
        found.append(corners[np.linalg.norm(middle - centre, axis=1) - size <= reach_mm])
    return np.concatenate(found)


def _climbed(mesh: Mesh, centre: Floats, about: float) -> tuple[tuple[float, float, float], float]:
    """Move a middle to where the nearest triangles hold it from all sides, by small linear programmes, exactly measured."""
    close = _within(mesh, centre, about * (1 + 3 * CLIMB_SHARE))
    feet = nearest_points(centre, close)
    found, start = float(np.linalg.norm(feet - centre, axis=1).min()), centre
    step = CLIMB_SHARE * found  # shorter than the way to the surface, so that no step leaves the solid
    for _ in range(CLIMB_TURNS):
        away = centre - feet
        gap = np.maximum(np.linalg.norm(away, axis=1), np.finfo(float).tiny)
        held = gap < found + 2 * step
        way, promised = _risen(away[held] / gap[held, None], gap[held], step)
        if promised <= found * (1 + CLIMB_GAIN):
            break
        tried = centre + way
        feet_there = nearest_points(tried, close)
        there = float(np.linalg.norm(feet_there - tried, axis=1).min())
        if there > found and np.abs(tried - start).max() <= CLIMB_SHARE * about:
            centre, feet, found = tried, feet_there, there
        else:
            step /= 4
    x, y, z = centre.tolist()
    return (x, y, z), found


def _risen(slopes: Floats, gap: Floats, step: float) -> tuple[Floats, float]:
    """The way, no longer than a step along any axis, that lifts the least of some distances most, and that least [mm].

    The distances are (m,), their slopes (m, 3). The programme knows the least of them, and learns of those that it overlooks.
    """
    known, box = np.argsort(gap, kind="stable")[:PROGRAMME_ROWS], np.full(3, step)
    while (rise := lifted(slopes[known], gap[known], low=-box, high=box)) is not None:
        over = rise.height - gap - slopes @ rise.way
        over[known] = 0.0
        worst = np.argsort(-over, kind="stable")[:PROGRAMME_ROWS]
        worst = worst[over[worst] > OVERLOOKED * step]
        if not len(worst):
            return rise.way, rise.height
        known = np.concatenate((known, worst))
    return np.zeros(3), 0.0


def _uphill(centres: Floats, found: Floats, surface: Touching) -> list[tuple[Floats, float]]:
    """Move points, (k, 3), away from the surface until no step helps, all at a time."""
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) / np.sqrt(3)
    compass = np.vstack((np.eye(3), -np.eye(3), corners))
    centres, found = centres.copy(), found.copy()
    for share in SPHERE_STEPS:
        still = np.arange(len(centres))
        for _ in range(SPHERE_TURNS):
            tries = centres[still, None] + compass * (share * found[still])[:, None, None]
            got = surface.feet(tries.reshape(-1, 3))[0].reshape(len(still), -1)
            best = np.argmax(got, axis=1)
            higher = got[np.arange(len(still)), best] > found[still]
            still, tries, best, got = still[higher], tries[higher], best[higher], got[higher]
            if not len(still):
                break
            rows = np.arange(len(still))
            centres[still], found[still] = tries[rows, best], got[rows, best]
    return list(zip(centres, found.tolist(), strict=True))


def nearest_points(point: Floats, corners: Floats) -> Floats:
    """The point of every triangle that lies nearest to a point.

    Parameters
    ----------
    point : (3,) float array [mm]
    corners : (m, 3, 3) float array [mm]

    Returns
    -------
    (m, 3) float array [mm]
    """
    tiny = np.finfo(float).tiny
    a, b, c = np.moveaxis(corners - point, 1, 0)
    normal = np.cross(b - a, c - a)
    size = np.maximum(np.einsum("ij,ij->i", normal, normal), tiny)
    foot = normal * (np.einsum("ij,ij->i", normal, a) / size)[:, None]
    gap = np.einsum("ij,ij->i", foot, foot)
    beside = np.zeros(len(corners), dtype=bool)
    for p, q in ((a, b), (b, c), (c, a)):
        beside |= np.einsum("ij,ij->i", np.cross(q - p, normal), p) < 0
    gap = np.where(beside, np.inf, gap)
    for p, q in ((a, b), (b, c), (c, a)):
        side = q - p
        along = np.clip(-np.einsum("ij,ij->i", p, side) / np.maximum(np.einsum("ij,ij->i", side, side), tiny), 0, 1)
        on = p + side * along[:, None]
        nearer = (length := np.einsum("ij,ij->i", on, on)) < gap
        foot, gap = np.where(nearer[:, None], on, foot), np.where(nearer, length, gap)
    nearest: Floats = foot + point
    return nearest
