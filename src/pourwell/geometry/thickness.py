"""Wall thickness by rays, and the thickest section [mm].

The wall at a point of the surface is the diameter of the largest sphere that touches there from inside, as far as a narrow
cone of inward rays can tell: a ray at an angle a to the inward normal that leaves the solid after the length l bounds that
diameter by l / cos a. Between two parallel faces it is their distance, in a ball the ball's diameter, in a wedge it lies
between the ray's length and the inscribed circle. Rays that leave at a grazing angle say nothing about a wall (they meet the
side of a corner, not the face behind) and are dropped.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.spatial import cKDTree

from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.rays import Caster

CONE_DEG: Final = 20.0
"""Half angle of the cone of rays about the inward normal."""

CONE_COUNT: Final = 6
"""Rays on the cone, besides the one along the normal."""

GRAZING: Final = 0.5
"""A ray that leaves a face at more than 60 degrees to its normal does not cross a wall."""

SAMPLE_SHARE: Final = 2e-4
"""A triangle with more than this share of the surface is sampled at several points: 5,000 points on the coarsest mesh."""

SAMPLE_MM2: Final = 0.1
"""... or with more than this area [mm2], so that samples lie closer than a third of a millimetre, up to MOST_SAMPLES."""

MOST_SAMPLES: Final = 40_000
"""Extra samples at most, on large pieces of few triangles."""

CELLS_A_REACH: Final = 3
"""Cells of the grid that the surface is thinned out with, along the reach within which thicker metal carries."""

SIDEWAYS_COUNT: Final = 8
SIDEWAYS_SLACK: Final = 0.9
"""Rays across the wall's direction from half the limit's depth; a face nearer than this share of that depth is in the way."""

SMALL_SHARE: Final = 0.02
"""A thin patch need not be larger than this share of the surface."""

SPHERE_STARTS: Final = 8
"""From how many of the best places the largest sphere is sought."""

SPHERE_STEPS: Final = (0.3, 0.1, 0.03)
"""Steps of the search for its middle, as shares of its radius, so that no step leaves the solid."""

SPHERE_TURNS: Final = 10
"""Moves of one step length at most."""

LEAN: Final = (0.0137, 0.0271, 0.0419)
"""Added to the axes, so that a ray along one runs along no edge of a piece drawn square to them."""

CLIMB_SHARE: Final = 0.3
"""How far the exact search may go from where the samples led, as a share of the radius, along each axis."""

CLIMB_TURNS: Final = 12
"""Linear programmes at most; each halves the error at least fourfold once it is near."""

ROUGH: Final = 0.05
"""The first look at a try may be wrong by this share: in the middle of a round bar all the surface is equally near, and the
exact nearest takes long to tell."""

MOST_TRIES: Final = 4_000
"""Middles of rays that are tried for the largest sphere, at most."""

GOLDEN: Final = (0.7548776662466927, 0.5698402909980532)
"""Steps of the plane's most even sequence (the plastic number's inverse and its square), to spread samples on a triangle."""


INSET: Final = 0.98
"""Samples are drawn in towards the middle of their triangle by this, so that no ray starts on an edge."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """The wall at points spread over the surface.

    Attributes
    ----------
    points : (k, 3) float array [mm]
    face : (k,) int array, the triangle of each
    area_mm2 : (k,) float array [mm2], what each stands for
    inward : (k, 3) float array [-], unit normals into the solid
    wall_mm : (k,) float array [mm]
    crossing : (k,) bool array: the ray inward first meets a face from outside, so the mesh crosses itself there
    """

    points: Floats
    face: Ints
    area_mm2: Floats
    inward: Floats
    wall_mm: Floats
    crossing: NDArray[np.bool_]

    def at_most(self, most_mm: float) -> "Samples":
        """The same with no wall over the largest sphere that fits [mm]: what the narrow cone of rays does not see."""
        return replace(self, wall_mm=np.minimum(self.wall_mm, most_mm))

    @property
    def typical_mm(self) -> float:
        """Median of the wall over the surface."""
        order = np.argsort(self.wall_mm)
        summed = np.cumsum(self.area_mm2[order])
        return float(self.wall_mm[order][np.searchsorted(summed, summed[-1] / 2)])


def spread(mesh: Mesh) -> tuple[Floats, Ints, Floats]:
    """Points over the surface: the middle of every small triangle, several on a large one.

    Returns
    -------
    points : (k, 3) float array [mm], face : (k,) int array, area_mm2 : (k,) float array [mm2] that each stands for
    """
    areas = mesh.areas
    total = float(areas.sum())
    each = max(min(SAMPLE_SHARE * total, SAMPLE_MM2), total / MOST_SAMPLES)
    count = np.where(areas > each, np.ceil(areas / each), 1.0).astype(np.int64)
    face = np.repeat(np.arange(len(areas)), count)
    number = np.arange(len(face)) - np.repeat(np.cumsum(count) - count, count)
    u, v = ((1 / 3 + number * step) % 1.0 for step in GOLDEN)
    over = u + v > 1
    u, v = np.where(over, 1 - u, u), np.where(over, 1 - v, v)
    u, v = (1 / 3 + (share - 1 / 3) * INSET for share in (u, v))
    a, b, c = np.moveaxis(mesh.corners[face], 1, 0)
    return a + (b - a) * u[:, None] + (c - a) * v[:, None], face, areas[face] / count[face]


def _cone(inward: Floats, angle: float, turn: float) -> Floats:
    """Directions at an angle to the inward normals, turned about them; both [rad]."""
    least = np.argmin(np.abs(inward), axis=1)
    aside = np.cross(inward, np.eye(3)[least])
    aside /= np.linalg.norm(aside, axis=1, keepdims=True)
    beside = np.cross(inward, aside)
    directions: Floats = np.cos(angle) * inward + np.sin(angle) * (np.cos(turn) * aside + np.sin(turn) * beside)
    return directions


def sampled(mesh: Mesh, caster: Caster | None = None) -> Samples:
    """The wall at points spread over a closed solid.

    Parameters
    ----------
    mesh : a closed solid, wound outward
    caster : its rays, if made already
    """
    rays = caster or Caster(mesh)
    points, face, area = spread(mesh)
    solid = area > 0
    points, face, area = points[solid], face[solid], area[solid]
    normals = mesh.normals
    inward = -normals[face]
    wall = np.full(len(points), np.inf)
    straight = np.full(len(points), np.inf)
    crossing = np.zeros(len(points), dtype=bool)
    turns = np.arange(CONE_COUNT) * (2 * np.pi / CONE_COUNT)
    for k, (angle, turn) in enumerate([(0.0, 0.0), *((np.deg2rad(CONE_DEG), t) for t in turns)]):
        heading = _cone(inward, angle, turn)
        length, met = rays.first(points, heading, leaving=face)
        leaves = np.where(met >= 0, np.einsum("ij,ij->i", normals[met], heading), 0.0)
        if k == 0:
            straight, crossing = length, leaves < -GRAZING
        wall = np.minimum(wall, np.where(leaves >= GRAZING, length / np.cos(angle), np.inf))
    wall = np.where(np.isfinite(wall), wall, straight)
    told = np.isfinite(wall)  # a ray from the very tip of an edge may meet nothing
    return Samples(
        points=points[told],
        face=face[told],
        area_mm2=area[told],
        inward=inward[told],
        wall_mm=wall[told],
        crossing=crossing[told],
    )


def walls(mesh: Mesh, caster: Caster | None = None) -> Floats:
    """Wall thickness at every triangle of a closed solid, by inward rays.

    Returns
    -------
    (m,) float array [mm]; the mean over its samples for a large triangle, and 0 for one of no area that no ray tells about
    """
    return per_triangle(mesh, sampled(mesh, caster))


def per_triangle(mesh: Mesh, samples: Samples) -> Floats:
    """The wall at every triangle, (m,) float array [mm], from samples of the same mesh."""
    size = len(mesh.faces)
    weight = np.bincount(samples.face, weights=samples.area_mm2, minlength=size)
    summed = np.bincount(samples.face, weights=samples.area_mm2 * samples.wall_mm, minlength=size)
    wall: Floats = summed / np.where(weight > 0, weight, 1.0)
    return wall


@dataclass(frozen=True, slots=True, kw_only=True)
class ThinPlace:
    """The thinnest wall that is no mere edge, and how much of the surface is thinner than a limit."""

    wall_mm: float
    at_mm: tuple[float, float, float]
    under_mm2: float
    """Surface under the limit, edges that something thicker carries left out."""


def thinnest(samples: Samples, caster: Caster, *, limit_mm: float, reach_mm: float, patch_mm2: float) -> ThinPlace:
    """The thinnest wall with nothing thicker within reach, over at least a patch of the surface.

    A knife edge or a bevel tapers to nothing, but the metal beside it carries and fills it; a thin sheet or wire has nothing
    thicker near. So at each place the thickest wall within reach counts, and the tip of a corner is too small to count.

    Parameters
    ----------
    limit_mm, reach_mm : [mm]
    patch_mm2 : [mm2]; of a small piece, at most a fiftieth of its surface
    """
    picked, which = _thickest_of_cells(samples, reach_mm / CELLS_A_REACH)
    area = np.bincount(which, weights=samples.area_mm2)
    points, wall = samples.points[picked], _broad(samples, picked, caster, limit_mm=limit_mm)
    near = cKDTree(points).query_pairs(reach_mm, output_type="ndarray")
    carried = wall.copy()
    np.maximum.at(carried, near[:, 0], wall[near[:, 1]])
    np.maximum.at(carried, near[:, 1], wall[near[:, 0]])
    rising = np.argsort(carried)
    summed = np.cumsum(area[rising])
    least = rising[min(np.searchsorted(summed, min(patch_mm2, SMALL_SHARE * summed[-1])), len(rising) - 1)]
    x, y, z = points[least].tolist()
    return ThinPlace(wall_mm=float(carried[least]), at_mm=(x, y, z), under_mm2=float(area[carried < limit_mm].sum()))


def _thickest_of_cells(samples: Samples, cell_mm: float) -> tuple[Ints, Ints]:
    """Of every cell of a grid the sample with the thickest wall, and to which of these cells each sample belongs."""
    cell = np.floor(samples.points / cell_mm).astype(np.int64)
    cell -= cell.min(axis=0)
    span = cell.max(axis=0) + 1
    key = (cell[:, 0] * span[1] + cell[:, 1]) * span[2] + cell[:, 2]
    order = np.lexsort((samples.wall_mm, key))
    last = np.append(np.flatnonzero(np.diff(key[order])), len(order) - 1)
    which = np.empty(len(key), dtype=np.int64)
    which[order] = np.repeat(np.arange(len(last)), np.diff(last, prepend=-1))
    return order[last], which


def _broad(samples: Samples, picked: Ints, caster: Caster, *, limit_mm: float) -> Floats:
    """The wall at samples, but where a ball of the limit does not fit sideways, what fits: the rim of a sheet is no thick wall."""
    wall, inward = samples.wall_mm[picked], samples.inward[picked]
    deep = np.flatnonzero(wall >= limit_mm)
    centres = samples.points[picked][deep] + inward[deep] * (limit_mm / 2)
    free = np.full(len(deep), np.inf)
    for turn in np.arange(SIDEWAYS_COUNT) * (2 * np.pi / SIDEWAYS_COUNT):
        free = np.minimum(free, caster.first(centres, _cone(inward[deep], np.pi / 2, turn))[0])
    tight = free < limit_mm / 2 * SIDEWAYS_SLACK
    out = wall.copy()
    out[deep[tight]] = 2 * free[tight]
    return out


def largest_sphere(
    mesh: Mesh, samples: Samples | None = None, caster: Caster | None = None
) -> tuple[tuple[float, float, float], float]:
    """The thickest section: the largest sphere that fits into a closed solid.

    The middles of the inward rays are tried against the sampled surface, the best are moved uphill, and the best of these
    is measured exactly.

    Returns
    -------
    centre : [mm]
    radius_mm : [mm]
    """
    rays = caster or Caster(mesh)
    known = samples or sampled(mesh, rays)
    surface = cKDTree(known.points)
    order = np.argsort(-known.wall_mm)[:: max(1, len(known.wall_mm) // MOST_TRIES)]
    tries = known.points[order] - mesh.normals[known.face[order]] * (known.wall_mm[order] / 2)[:, None]
    tries = tries[_inside(tries, mesh, rays)]
    if not len(tries):
        thickest = int(np.argmax(known.wall_mm))
        tries = known.points[[thickest]]
    rough = surface.query(tries, eps=ROUGH)[0]
    starts = np.argsort(-rough)[:SPHERE_STARTS]
    ends = [_uphill(tries[k], rough[k], surface) for k in starts]
    within = _inside(np.array([centre for centre, _ in ends]), mesh, rays)  # between samples a thin wall may let one through
    kept = [end for end, inside in zip(ends, within, strict=True) if inside]
    return _climbed(mesh, *max(kept or [(tries[starts[0]], rough[starts[0]])], key=lambda end: end[1]))


def _inside(points: Floats, mesh: Mesh, rays: Caster) -> NDArray[np.bool_]:
    """Which points lie inside: the first face that most rays from there meet is met from inside."""
    votes, normals = np.zeros(len(points)), mesh.normals
    for heading in np.vstack((np.eye(3), -np.eye(3))) + LEAN:
        met = rays.first(points, heading)[1]
        votes += np.where(met >= 0, np.sign(normals[met] @ heading), -1.0)
    inside: NDArray[np.bool_] = votes > 0
    return inside


def _climbed(mesh: Mesh, centre: Floats, about: float) -> tuple[tuple[float, float, float], float]:
    """Move a middle to where the nearest triangles hold it from all sides, by small linear programmes, exactly measured."""
    corners = mesh.corners
    middle = corners.mean(axis=1)
    reach = np.linalg.norm(corners - middle[:, None], axis=2).max(axis=1)
    near = corners[np.linalg.norm(middle - centre, axis=1) - reach <= about * (1 + 3 * CLIMB_SHARE)]
    feet = nearest_points(centre, near)
    found, start = float(np.linalg.norm(feet - centre, axis=1).min()), centre
    step = CLIMB_SHARE * found  # shorter than the way to the surface, so that no step leaves the solid
    for _ in range(CLIMB_TURNS):
        away = centre - feet
        gap = np.maximum(np.linalg.norm(away, axis=1), np.finfo(float).tiny)
        held = gap < found + 2 * step
        rise = linprog(
            [0.0, 0.0, 0.0, -1.0],
            A_ub=np.column_stack((-away[held] / gap[held, None], np.ones(held.sum()))),
            b_ub=gap[held],
            bounds=[(-step, step)] * 3 + [(None, None)],
        )
        tried = centre + rise.x[:3] if rise.status == 0 else centre
        feet_there = nearest_points(tried, near)
        there = float(np.linalg.norm(feet_there - tried, axis=1).min())
        if there > found and np.abs(tried - start).max() <= CLIMB_SHARE * about:
            centre, feet, found = tried, feet_there, there
        else:
            step /= 4
    x, y, z = centre.tolist()
    return (x, y, z), found


def _uphill(start: Floats, found: float, surface: cKDTree) -> tuple[Floats, float]:
    """Move a point away from the nearest samples of the surface until no step helps."""
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) / np.sqrt(3)
    compass = np.vstack((np.eye(3), -np.eye(3), corners))
    centre = start
    for share in SPHERE_STEPS:
        for _ in range(SPHERE_TURNS):
            tries = centre + compass * (share * found)
            got = surface.query(tries, eps=ROUGH / len(tries))[0]
            k = int(np.argmax(got))
            if got[k] <= found:
                break
            centre, found = tries[k], float(got[k])
    return centre, found


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
