"""The bore: the largest cylinder that passes through a piece and is surrounded by it [mm]; all of them, if there are several."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.spatial import Delaunay, QhullError

from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.thickness import spread

GRID_COUNT: Final = 40
"""Cells along the largest side when the surface is thinned out for the first look."""

LEAST_CELLS: Final = 1.5
"""A gap with a radius under so many cells is one between samples, not a bore."""

FACING_COUNT: Final = 4000
"""Points from which rays go outward to find faces that look at each other over a bore."""

FACING_TURNS: Final = 4
"""Rounds of fitting the axis to the faces of the bore, each leaving out those that do not fit."""

SLANT: Final = 0.3
"""A face of the bore looks across the axis: its normal's share along the axis is less than this (17 degrees)."""

TRIES: Final = 4
"""How many of the most promising places are measured exactly."""

SAME_AXIS: Final = 0.9998
"""Two axes with a larger cosine (within a degree) need not both be tried: the search tilts them."""

SURROUNDED: Final = 0.75
"""A bore has metal around at least this share of the circle: an open-ended ring still has a bore, a crescent has none."""

AROUND_COUNT: Final = 72
"""Directions in which the surrounding metal is looked for."""

SAME_SHARE: Final = 0.02
"""Faces within this share of the radius belong to the bore, and give its middle along the axis."""

STEPS_COUNT: Final = 30
"""Linear programmes at most."""

FIRST_STEP: Final = 0.05
LAST_STEP: Final = 1e-5
"""Their first and last step, as shares of the radius."""

NEAR_SHARE: Final = 0.25
"""Edges farther from the first guess than this share of its radius take no part in the search; rays check the result."""

TILT_COST: Final = 0.1
"""A tilt must widen the cylinder by at least this share of how far it moves the bore's ends: a barrel-shaped bore lets a
narrower cylinder rock, which is no reason to tilt the finger."""

ANGLE_BINS: Final = 240
HEIGHT_BINS: Final = 6
"""Of the many edges around a bore, the nearest in each such bin holds the cylinder."""

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


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """A cylinder's axis under way, and the free radius about it."""

    centre: Floats
    axis: Floats
    radius: float


@dataclass(frozen=True, slots=True, eq=False)
class _Looking:
    """Points of the surface from which another face is seen over a gap: (k, 3), (k, 3), (k,), (k,)."""

    points: Floats
    normals: Floats
    area: Floats
    across: Floats

    def only(self, chosen: NDArray[np.bool_]) -> "_Looking":
        return _Looking(self.points[chosen], self.normals[chosen], self.area[chosen], self.across[chosen])


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
    points = _thinned(mesh, surface[0])
    looking = _looking(mesh, rays, surface)
    facing = _axis_of(looking)
    first = [] if facing is None else list(_gaps(points, facing))
    others = [seed for axis in _axes(mesh, facing) for seed in _gaps(points, axis)]
    others.sort(key=lambda seed: -seed.radius)
    seeds, edges = [*first, *others[:TRIES]], _edge_ends(mesh)
    found: list[_Line] = []
    while len(found) < most:
        best = _best((s for s in seeds if 2 * s.radius >= least_mm and not _known(s, found)), edges, rays, points)
        if best is not None and 2 * best.radius >= least_mm and not _known(best, found):
            found.append(best)
        elif not found or looking is None:
            break
        else:
            looking = looking.only(looking.across >= least_mm)
            for line in found:
                looking = looking.only(~_looks_at(line, looking))
            axis = _axis_of(looking) if len(looking.area) > FEW else None
            looking, seeds = None, [] if axis is None else list(_gaps(points, axis))
    cylinders = [_cylinder(line, edges) for line in found]
    return tuple(sorted(cylinders, key=lambda cylinder: -cylinder.diameter_mm))


def _best(seeds: Iterable[_Line], edges: tuple[Floats, Floats], rays: Caster, points: Floats) -> _Line | None:
    """The widest cylinder that grows from one of the seeds, passes and is surrounded."""
    best: _Line | None = None
    for seed in seeds:
        if best is not None and seed.radius <= best.radius * (1 + SAME_SHARE):
            continue
        line = _widened(seed, edges)
        wider = best is None or line.radius > best.radius * (1 + SAME_SHARE)
        if wider and _passes(line, rays) and _surrounded(line, points):
            best = line
    return best


def _known(line: _Line, found: Iterable[_Line]) -> bool:
    """Does an axis pass through a bore that is found already, or that bore's through it."""
    return any(
        _off(one.centre, other) < max(one.radius, other.radius) for bore in found for one, other in ((bore, line), (line, bore))
    )


def _off(point: Floats, line: _Line) -> float:
    """How far a point lies from an axis [mm]."""
    return float(np.linalg.norm(np.cross(point - line.centre, line.axis)))


def _looks_at(line: _Line, looking: _Looking) -> NDArray[np.bool_]:
    """Which points lie around a bore and look at its axis."""
    away = looking.points - line.centre
    away = away - np.outer(away @ line.axis, line.axis)
    far = np.linalg.norm(away, axis=1)
    inward: NDArray[np.bool_] = np.einsum("ij,ij->i", away, looking.normals) < -SLANT * far
    return inward & (far < WITHIN * line.radius)


def _thinned(mesh: Mesh, points: Floats) -> Floats:
    """Of points over the surface, one a cell of a grid."""
    return points[_one_a_cell(points, max(mesh.envelope_mm) / GRID_COUNT)]


def _one_a_cell(points: Floats, cell_mm: float) -> Ints:
    """Of (k, d) points the number of one in every cell of a grid."""
    cell = np.floor(points / cell_mm).astype(np.int64)
    cell -= cell.min(axis=0)
    key = np.ravel_multi_index(tuple(cell.T), tuple(cell.max(axis=0) + 1))
    return np.asarray(np.unique(key, return_index=True)[1], dtype=np.int64)


def _edge_ends(mesh: Mesh) -> tuple[Floats, Floats]:
    """Both ends of every edge, (e, 3) float arrays [mm]; an edge of two triangles once, if they share its corners."""
    start, end = mesh.faces.reshape(-1), np.roll(mesh.faces, -1, axis=1).reshape(-1)
    keys = np.unique(np.minimum(start, end) * len(mesh.vertices) + np.maximum(start, end))
    return mesh.vertices[keys // len(mesh.vertices)], mesh.vertices[keys % len(mesh.vertices)]


def _axes(mesh: Mesh, tried: Floats | None) -> list[Floats]:
    """Unit vectors worth trying besides the one tried: the file's axes and the principal axes of the surface, each once."""
    areas = mesh.areas
    weights = areas / areas.sum()
    centres = mesh.centres
    from_middle = centres - weights @ centres
    principal = np.linalg.eigh((from_middle * weights[:, None]).T @ from_middle)[1].T
    out: list[Floats] = [] if tried is None else [tried]
    for axis in (*np.eye(3), *principal):
        if all(abs(axis @ other) < SAME_AXIS for other in out):
            out.append(axis)
    return out[0 if tried is None else 1 :]


def _looking(mesh: Mesh, rays: Caster, surface: tuple[Floats, Ints, Floats]) -> _Looking | None:
    """Where the surface looks at itself over a gap."""
    points, face, area = surface
    chosen = np.arange(0, len(points), max(1, len(points) // FACING_COUNT))
    chosen = chosen[area[chosen] > 0]
    normals = mesh.normals
    outward = normals[face[chosen]]
    across, met = rays.first(points[chosen], outward, leaving=face[chosen])
    meets = (met >= 0) & (np.einsum("ij,ij->i", outward, normals[met]) < 0)
    if not meets.any():
        return None
    return _Looking(points[chosen][meets], outward[meets], area[chosen][meets], across[meets])


def _axis_of(looking: _Looking | None) -> Floats | None:
    """The direction that the faces which look at each other over a gap have least to do with."""
    if looking is None:
        return None
    weight, normals = looking.area * looking.across**2, looking.normals  # wide gaps before cracks and hinges
    axis: Floats = np.linalg.eigh((normals * weight[:, None]).T @ normals)[1][:, 0]
    for _ in range(FACING_TURNS):
        fits = np.abs(normals @ axis) < SLANT
        if not fits.any():
            return axis
        axis = np.linalg.eigh((normals[fits] * weight[fits, None]).T @ normals[fits])[1][:, 0]
    return axis


def _frame(axis: Floats) -> Floats:
    """(2, 3): two unit vectors across an axis."""
    u = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    u /= np.linalg.norm(u)
    return np.stack((u, np.cross(axis, u)))


def _gaps(points: Floats, axis: Floats) -> Iterator[_Line]:
    """The two widest gaps between points seen along an axis, each held from all sides: circles about acute triangles."""
    frame = _frame(axis)
    flat = points @ frame.T
    cell_mm = float(np.ptp(flat, axis=0).max()) / GRID_COUNT
    flat = flat[_one_a_cell(flat, cell_mm)]
    try:
        corners = flat[Delaunay(flat).simplices]
    except (QhullError, ValueError):
        return
    b, c = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    twice = 2 * (b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0])
    wide = np.abs(twice) > np.finfo(float).eps
    corners, b, c, twice = corners[wide], b[wide], c[wide], twice[wide]
    bb, cc = (b**2).sum(axis=1), (c**2).sum(axis=1)
    middle = np.stack((c[:, 1] * bb - b[:, 1] * cc, b[:, 0] * cc - c[:, 0] * bb), axis=1) / twice[:, None]
    sides = np.sort(((np.roll(corners, 1, axis=1) - corners) ** 2).sum(axis=2), axis=1)
    acute = sides[:, 2] <= sides[:, 0] + sides[:, 1]
    radius = np.linalg.norm(middle, axis=1)
    radius = np.where(acute & (radius < np.ptp(flat, axis=0).max() / 2), radius, 0.0)
    along = float(np.median(points @ axis))
    taken: list[Floats] = []
    for k in np.argsort(-radius):
        if radius[k] < LEAST_CELLS * cell_mm:
            return
        centre = corners[k, 0] + middle[k]
        if all(np.linalg.norm(centre - other) > radius[k] for other in taken):
            yield _Line(centre @ frame + axis * along, axis, float(radius[k]))
            taken.append(centre)
        if len(taken) == 2:
            return


def _around(line: _Line, edges: tuple[Floats, Floats]) -> tuple[Floats, Floats, Floats]:
    """The point of every edge nearest to an axis, seen along it.

    Returns
    -------
    radius : (e,) [mm], flat : (e, 2) [mm] across the axis, height : (e,) [mm] along it
    """
    basis = np.vstack((_frame(line.axis), line.axis))
    start, end = (edges[0] - line.centre) @ basis.T, (edges[1] - line.centre) @ basis.T
    side = end - start
    across = np.maximum((side[:, :2] ** 2).sum(axis=1), np.finfo(float).tiny)
    share = np.clip(-(start[:, :2] * side[:, :2]).sum(axis=1) / across, 0, 1)
    near = start + side * share[:, None]
    return np.linalg.norm(near[:, :2], axis=1), near[:, :2], near[:, 2]


def _widened(seed: _Line, edges: tuple[Floats, Floats]) -> _Line:
    """Move and tilt an axis until the cylinder about it is held from all sides, by small linear programmes."""
    line = seed
    radius, flat, height = _around(line, edges)
    line = _Line(line.centre, line.axis, float(radius.min()))
    near = radius < line.radius + NEAR_SHARE * seed.radius
    edges = edges[0][near], edges[1][near]
    radius, flat, height = radius[near], flat[near], height[near]
    step = FIRST_STEP
    for _ in range(STEPS_COUNT):
        tried = _step(line, (radius, flat, height), step * max(line.radius, FIRST_STEP * seed.radius))
        there = _around(tried, edges)
        least = float(there[0].min())
        if least > line.radius * (1 + LAST_STEP):
            line = _Line(tried.centre, tried.axis, least)
            radius, flat, height = there
        else:
            step /= 4
        if step < LAST_STEP:
            break
    return line


def _step(line: _Line, around: tuple[Floats, Floats, Floats], reach: float) -> _Line:
    """The best small move and tilt: shifting by d and tilting by t takes n.(d + height t) off the radius at every edge."""
    radius, flat, height = around
    held = np.flatnonzero(radius < line.radius + 4 * reach)
    span = max(float(np.ptp(height[held])), reach)
    level = float(height[held].min()) + span / 2
    bins = (np.floor((np.arctan2(flat[held, 1], flat[held, 0]) / (2 * np.pi) + 0.5) * ANGLE_BINS) * HEIGHT_BINS).astype(np.int64)
    bins += np.clip(np.floor((height[held] - level + span / 2) / span * HEIGHT_BINS), 0, HEIGHT_BINS - 1).astype(np.int64)
    order = np.lexsort((radius[held], bins))
    _, first = np.unique(bins[order], return_index=True)
    rows = held[order[first]]
    unit = flat[rows] / np.maximum(radius[rows], np.finfo(float).tiny)[:, None]
    lever = (height[rows] - level) / (span / 2)
    best = linprog(
        [0.0, 0.0, TILT_COST, TILT_COST, TILT_COST, TILT_COST, -1.0],
        A_ub=np.column_stack((unit, unit * lever[:, None], -unit * lever[:, None], np.ones(len(rows)))),
        b_ub=radius[rows],
        bounds=[(-reach, reach)] * 2 + [(0, reach)] * 4 + [(None, None)],
    )
    if best.status != 0:
        return line
    frame = _frame(line.axis)
    axis = line.axis + ((best.x[2:4] - best.x[4:6]) / (span / 2)) @ frame
    return _Line(line.centre + line.axis * level + best.x[:2] @ frame, axis / np.linalg.norm(axis), line.radius)


def _passes(line: _Line, rays: Caster) -> bool:
    """Is nothing in the way of the cylinder, along lines through it."""
    low, high = rays.mesh.bounds
    far = float(np.linalg.norm(high - low) + np.linalg.norm((low + high) / 2 - line.centre))
    turns = np.arange(PASSING_COUNT) * (2 * np.pi / PASSING_COUNT)
    circle = np.stack((np.cos(turns), np.sin(turns)), axis=1) @ _frame(line.axis)
    starts = np.vstack([line.centre + circle * (share * line.radius) for share in PASSING]) - line.axis * far
    return bool((rays.first(starts, line.axis)[1] < 0).all())


def _surrounded(line: _Line, points: Floats) -> bool:
    """Is there metal around the cylinder, within twice its radius."""
    flat = (points - line.centre) @ _frame(line.axis).T
    close: NDArray[np.bool_] = np.linalg.norm(flat, axis=1) < 2 * line.radius
    turn = np.arctan2(flat[close, 1], flat[close, 0]) / (2 * np.pi) + 0.5
    return len(np.unique(np.floor(turn * AROUND_COUNT))) >= SURROUNDED * AROUND_COUNT


def _cylinder(line: _Line, edges: tuple[Floats, Floats]) -> Cylinder:
    """The result, its centre half way along the edges that lie on the bore."""
    axis = line.axis * np.sign(line.axis[np.argmax(np.abs(line.axis))])
    touching = _around(line, edges)[0] <= line.radius * (1 + SAME_SHARE)
    height = np.concatenate([(end[touching] - line.centre) @ axis for end in edges])
    centre = line.centre + axis * (height.min() + height.max()) / 2
    x, y, z = (centre + 0.0).tolist()
    a, b, c = (axis + 0.0).tolist()
    return Cylinder(centre=(x, y, z), axis=(a, b, c), diameter_mm=2 * line.radius)
