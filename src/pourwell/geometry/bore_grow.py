"""A cylinder grown in a gap until edges hold it from all sides [mm]."""

from typing import Final

import numpy as np

from pourwell.geometry.bore_seeds import Line, frame_of
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.programme import lifted

STEPS_COUNT: Final = 30
"""Linear programmes at most."""

FIRST_STEP: Final = 0.05
LAST_STEP: Final = 1e-5
"""Their first and last step, as shares of the radius."""

TILT_COST: Final = 0.1
"""A tilt must widen the cylinder by at least this share of how far it moves the bore's ends: a barrel-shaped bore lets a
narrower cylinder rock, which is no reason to tilt the finger."""

ANGLE_BINS: Final = 240
HEIGHT_BINS: Final = 6
"""Of the many edges around a bore, the nearest in each such bin holds the cylinder."""

NEAR_SHARE: Final = 0.25
"""Edges farther from the first guess than this share of its radius hold it only if a look at all edges says so."""

ROUNDS_COUNT: Final = 6
"""Looks at all edges at most, each after a search among those that were known to hold."""

CLOSE_SHARE: Final = 1e-3
"""In such a look, edges within this share of the radius join those that hold."""

Ends = tuple[Floats, Floats]
"""Both ends of edges, (e, 3) and (e, 3) float arrays [mm]."""


class Edges:
    """All edges of a mesh, of which only those near an axis are looked at.

    Parameters
    ----------
    mesh : triangles [mm]
    """

    def __init__(self, mesh: Mesh) -> None:
        self._mesh = mesh
        corners = [mesh.vertices[mesh.faces[:, k]] for k in range(3)]
        longest = np.maximum.reduce([np.einsum("ij,ij->i", side, side) for side in (corners[k] - corners[k - 1] for k in range(3))])
        self._half_mm: Floats = np.sqrt(longest) / 2

    def _bounds(self, line: Line) -> tuple[Floats, Ints]:
        """(m,) and (m,): no edge of a triangle comes nearer to the axis than this [mm]; the corner that is nearest."""
        flat = (self._mesh.vertices - line.centre) @ frame_of(line.axis).T
        corner = np.hypot(flat[:, 0], flat[:, 1])[self._mesh.faces]
        first = corner.argmin(axis=1)
        rows = np.arange(len(corner))
        return corner[rows, first] - self._half_mm, self._mesh.faces[rows, first]

    def _ends(self, faces: Ints) -> Ends:
        """The edges of some triangles; one between two of them twice."""
        start = self._mesh.faces[faces]
        return self._mesh.vertices[start.reshape(-1)], self._mesh.vertices[np.roll(start, -1, axis=1).reshape(-1)]

    def near(self, line: Line, within_mm: float) -> Ends:
        """All edges that come so near to an axis."""
        ends = self._ends(np.flatnonzero(self._bounds(line)[0] <= within_mm))
        close = around(line, ends)[0] <= within_mm
        return ends[0][close], ends[1][close]

    def holding(self, line: Line, beyond_mm: float) -> Ends:
        """Edges around an axis: in every direction and at every height the nearest, up to so far beyond the nearest of all."""
        bound, corner = self._bounds(line)
        close = np.flatnonzero(bound < bound.min() + beyond_mm + 2 * self._half_mm[bound.argmin()])
        if len(close) > 4 * ANGLE_BINS * HEIGHT_BINS:
            at = (self._mesh.vertices[corner[close]] - line.centre) @ np.vstack((frame_of(line.axis), line.axis)).T
            close = close[_nearest(bound[close], at[:, :2], at[:, 2])]
        ends = self._ends(close)
        kept = _nearest(*around(line, ends))
        return ends[0][kept], ends[1][kept]


def around(line: Line, ends: Ends) -> tuple[Floats, Floats, Floats]:
    """The point of every edge nearest to an axis, seen along it.

    Returns
    -------
    radius : (e,) [mm], flat : (e, 2) [mm] across the axis, height : (e,) [mm] along it
    """
    basis = np.vstack((frame_of(line.axis), line.axis))
    start, end = (ends[0] - line.centre) @ basis.T, (ends[1] - line.centre) @ basis.T
    side = end - start
    across = np.maximum(side[:, 0] ** 2 + side[:, 1] ** 2, np.finfo(float).tiny)
    share = np.clip(-(start[:, 0] * side[:, 0] + start[:, 1] * side[:, 1]) / across, 0, 1)
    near = start + side * share[:, None]
    return np.hypot(near[:, 0], near[:, 1]), near[:, :2], near[:, 2]


def _nearest(radius: Floats, flat: Floats, height: Floats) -> Ints:
    """Of points around an axis the nearest in every direction and at every height."""
    span = max(float(np.ptp(height)), np.finfo(float).tiny)
    level = np.clip(np.floor((height - height.min()) / span * HEIGHT_BINS), 0, HEIGHT_BINS - 1)
    turn = np.floor((np.arctan2(flat[:, 1], flat[:, 0]) / (2 * np.pi) + 0.5) * ANGLE_BINS)
    bins = (turn * HEIGHT_BINS + level).astype(np.int64)
    order = np.lexsort((radius, bins))
    first: Ints = order[np.flatnonzero(np.diff(bins[order], prepend=-1))]
    return first


def grown(seed: Line, edges: Edges) -> Line:
    """Move and tilt an axis until the cylinder about it is held from all sides.

    The search knows some edges only; after it, all are looked at, and those that are in the way take part in the next.

    Parameters
    ----------
    seed : where to begin [mm]
    edges : of the piece
    """
    ends = edges.holding(seed, NEAR_SHARE * seed.radius)
    best = Line(seed.centre, seed.axis, 0.0)
    tried, step = seed, FIRST_STEP
    for _ in range(ROUNDS_COUNT):
        tried = _climbed(tried, ends, reach_mm=FIRST_STEP * seed.radius, step=step)
        close = edges.near(tried, tried.radius * (1 + CLOSE_SHARE))
        radius, flat, height = around(tried, close)
        least = float(radius.min())
        if least > best.radius:
            best = Line(tried.centre, tried.axis, least)
        if least > tried.radius * (1 - LAST_STEP):
            break
        kept = _nearest(radius, flat, height)
        ends = np.concatenate((ends[0], close[0][kept])), np.concatenate((ends[1], close[1][kept]))
        step = min(FIRST_STEP, max(4 * (1 - least / tried.radius), 4 * LAST_STEP))
    return best


def _climbed(line: Line, ends: Ends, *, reach_mm: float, step: float) -> Line:
    """The best axis near a line as far as some edges tell, by small linear programmes; its radius is what they leave free."""
    found = around(line, ends)
    line = Line(line.centre, line.axis, float(found[0].min()))
    for _ in range(STEPS_COUNT):
        tried = _step(line, found, step * max(line.radius, reach_mm))
        there = around(tried, ends)
        least = float(there[0].min())
        if least > line.radius * (1 + LAST_STEP):
            line, found = Line(tried.centre, tried.axis, least), there
        else:
            step /= 4
        if step < LAST_STEP:
            break
    return line


def _step(line: Line, found: tuple[Floats, Floats, Floats], reach_mm: float) -> Line:
    """The best small move and tilt: shifting by d and tilting by t takes n.(d + height t) off the radius at every edge."""
    radius, flat, height = found
    held = np.flatnonzero(radius < line.radius + 4 * reach_mm)
    span = max(float(np.ptp(height[held])), reach_mm)
    level = float(height[held].min()) + span / 2
    rows = held[_nearest(radius[held], flat[held], height[held])]
    unit = flat[rows] / np.maximum(radius[rows], np.finfo(float).tiny)[:, None]
    lever = (height[rows] - level) / (span / 2)
    shift, tilt = np.full(2, reach_mm), np.full(4, reach_mm)
    best = lifted(
        -np.column_stack((unit, unit * lever[:, None], -unit * lever[:, None])),
        radius[rows],
        low=np.concatenate((-shift, 0 * tilt)),
        high=np.concatenate((shift, tilt)),
        cost=np.concatenate((0 * shift, TILT_COST * np.ones(4))),
    )
    if best is None:
        return line
    frame = frame_of(line.axis)
    axis = line.axis + ((best.way[2:4] - best.way[4:6]) / (span / 2)) @ frame
    return Line(line.centre + line.axis * level + best.way[:2] @ frame, axis / np.linalg.norm(axis), line.radius)
