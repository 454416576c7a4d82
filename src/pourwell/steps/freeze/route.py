"""A way for a second sprue: from the stem, or from the stem carried on, straight to the heavy section and clear of all else."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from pourwell.geometry.distance import SignedDistance
from pourwell.geometry.joints import bar
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold
from pourwell.steps.freeze.cast import Cast, Fed
from pourwell.steps.freeze.model import Floats

CLEAR_MM: Final = 0.5
"""A second sprue keeps so far from the pieces until it meets its own. Own choice."""
STEP_MM: Final = 1.0
"""Between the places along stem and sprue that are tried. Own choice."""
ASIDE_MM: Final = 4.0
"""A second sprue stands so near to the place that was proposed for it, or to the one right across the piece. Own choice."""
LEAN: Final = 0.5
"""Least cosine between a sprue and the surface's normal at its foot: 60 degrees. Own choice."""
SAME_SIDE: Final = 0.7
"""Least cosine between the normals at a place and at the proposed one, or its back: a side of the head, no face. Own choice."""
SEEN_MM: Final = 30.0
"""A place that looks on the piece itself so near lies in a bore, where no sprue is set. Own choice, wider than bores."""
MOST_ENDS: Final = 60
"""Places of a foot that are tried. Own choice."""
FOOT_GAUGES: Final = 0.5
"""A sprue goes so many gauges on into what it meets. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Route:
    """Where a second sprue runs, in the tree's frame [mm]."""

    begin: Floats
    """(3,) on the stem's axis."""
    end: Floats
    """(3,) on the piece."""
    stem_top: float
    """How far up the stem has to reach for it [mm]; no more than it does where it need not be carried on."""


def rod(begin: Floats, end: Floats, gauge_mm: float) -> Mesh:
    """A sprue whose end goes on into what it meets by half its gauge."""
    way = (end - begin) / np.linalg.norm(end - begin)
    return from_manifold(bar(begin, end + FOOT_GAUGES * gauge_mm * way, diameter_mm=gauge_mm))


def route(cast: Cast, fed: Fed) -> Route | None:
    """The shortest way to near the place of a second sprue that keeps clear of every piece and the wall; None: there is none."""
    assert fed.second_mm is not None
    bodies = dict(cast.bodies)
    own = next(mesh for name, mesh in cast.bodies if f"{name} ".startswith(f"piece {fed.number} "))
    others = [mesh for name, mesh in cast.bodies if name.startswith("piece ") and mesh is not own]
    away = SignedDistance([own, *others])
    low, high = bodies["stem"].bounds
    reach = fed.second_gauge_mm / 2 + CLEAR_MM
    begins = _begins(cast, away, float(low[2]) + fed.second_gauge_mm, radius=float(high[0] - low[0]) / 2, top=float(high[2]))
    ends, normals = _ends(own, np.array(fed.second_mm))
    ways = [(float(np.linalg.norm(end - begin)), k, n) for k, begin in enumerate(begins) for n, end in enumerate(ends)]
    for length, k, n in sorted(ways):
        begin, end = begins[k], ends[n]
        lean = float(-normals[n] @ (end - begin)) / length
        if lean >= LEAN and _is_clear(cast, away, (begin, end), reach=reach, lean=lean):
            top = max(float(high[2]), float(begin[2]) + fed.second_gauge_mm / 2)
            return Route(begin=begin, end=end, stem_top=top)
    return None


def _begins(cast: Cast, away: SignedDistance, bottom: float, *, radius: float, top: float) -> Floats:
    """(n, 3) places on the stem's axis, and beyond its end as far as it can be carried on clear of pieces and tip."""
    within = np.arange(bottom, top, STEP_MM)
    beyond = np.arange(top, cast.tip_mm - radius, STEP_MM)
    room = away(np.stack([0 * beyond, 0 * beyond, beyond], axis=1)) > radius + CLEAR_MM
    heights = np.concatenate([within, beyond[np.logical_and.accumulate(room)]]) if beyond.size else within
    return np.stack([0 * heights, 0 * heights, heights], axis=1)


def _ends(piece: Mesh, place: Floats) -> tuple[Floats, Floats]:
    """Places on a piece and their normals outwards, (n, 3) each: the one proposed, others beside it, and those right across."""
    middles = piece.vertices[piece.faces].mean(axis=1)
    nearest = int(np.argmin(np.linalg.norm(middles - place, axis=1)))
    side = piece.normals[nearest]
    own, offset = SignedDistance(piece), middles - place
    deep = own(place - np.arange(STEP_MM, SEEN_MM, STEP_MM)[:, None] * side) > 0
    across_mm = STEP_MM * (1 + int(np.argmax(deep)))
    apart = np.linalg.norm(offset - (offset @ side)[:, None] * side, axis=1)
    near = (apart < ASIDE_MM) & (np.abs(piece.normals @ side) > SAME_SIDE) & (-(offset @ side) < across_mm + STEP_MM)
    beside = np.flatnonzero(near)
    beside = beside[np.argsort(apart[beside])]
    beside = beside[:: max(1, -(-beside.size // MOST_ENDS))]
    ends = np.concatenate([place[None], middles[beside]])
    normals = np.concatenate([side[None], piece.normals[beside]])
    seen = ends[:, None] + np.arange(STEP_MM, SEEN_MM, STEP_MM)[:, None] * normals[:, None]
    free = (own(seen.reshape(-1, 3)).reshape(len(ends), -1) > 0).all(axis=1)
    return ends[free], normals[free]


def _is_clear(cast: Cast, away: SignedDistance, ends: tuple[Floats, Floats], *, reach: float, lean: float) -> bool:
    """Does a sprue keep `reach` from its axis to all pieces but near its foot, where it may only not enter before its end."""
    begin, end = ends
    length = float(np.linalg.norm(end - begin))
    along = np.arange(0.0, length, STEP_MM)
    points = begin + along[:, None] / length * (end - begin)
    far, body = away.nearest(points)
    foot = (length - along < reach / lean + STEP_MM) & (body == 0)
    inside = np.hypot(points[:, 0], points[:, 1]) < cast.flask.diameter_mm / 2 - reach
    inside &= points[:, 2] < cast.tip_mm - reach
    return bool(np.all(inside) and np.all(np.where(foot, far > 0, far > reach)))
