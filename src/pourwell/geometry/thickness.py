"""Wall thickness by rays [mm].

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

from pourwell.geometry.kernels.tree import tree_order
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.rays import Caster

CONE_DEG: Final = 20.0
"""Half angle of the cone of rays about the inward normal."""

CONE_COUNT: Final = 6
"""Rays on the cone, besides the one along the normal."""

GRAZING: Final = 0.5
"""A ray that leaves a face at more than 60 degrees to its normal does not cross a wall."""

PARALLEL: Final = 0.966
"""Cosine of 15 degrees: faces that meet at less than this taper so slowly that they are a sheet, not an edge."""

SAMPLE_SHARE: Final = 2e-4
"""A triangle with more than this share of the surface is sampled at several points: 5,000 points on the coarsest mesh."""

SAMPLE_MM2: Final = 0.1
"""... or with more than this area [mm2], so that samples lie closer than a third of a millimetre, up to MOST_SAMPLES."""

MOST_SAMPLES: Final = 40_000
"""Extra samples at most, on large pieces of few triangles."""

MOST_FACES: Final = 200_000
"""Triangles measured one by one; of more, one speaks for several that lie together."""

TOGETHER: Final = 0.966
"""... if they look the same way but for 15 degrees."""

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
    across_mm : (k,) float array [mm], the ray straight inward where it leaves through a face all but parallel, else infinite:
        it crosses a sheet or a wire
    crossing : (k,) bool array: the ray inward first meets a face from outside, so the mesh crosses itself there
    owner : (m,) int array, for every triangle of the mesh the one whose samples speak for it: itself but for very fine meshes
    """

    points: Floats
    face: Ints
    area_mm2: Floats
    inward: Floats
    wall_mm: Floats
    across_mm: Floats
    crossing: NDArray[np.bool_]
    owner: Ints

    @property
    def spared_count(self) -> int:
        """Triangles that another one speaks for; none but in a very fine mesh."""
        return int(np.count_nonzero(self.owner != np.arange(len(self.owner))))

    @property
    def apart_mm(self) -> float:
        """How far apart the triangles lie that are measured, about [mm]: as on a square grid of as many."""
        return float(np.sqrt(self.area_mm2.sum() / (len(self.owner) - self.spared_count)))

    def only(self, keep: NDArray[np.bool_]) -> "Samples":
        """Some of them, (k,) bool array."""
        arrays = ("points", "face", "area_mm2", "inward", "wall_mm", "across_mm", "crossing")
        return replace(self, **{name: getattr(self, name)[keep] for name in arrays})

    def at_most(self, most_mm: float) -> "Samples":
        """The same with no wall over the largest sphere that fits [mm]: what the narrow cone of rays does not see."""
        return replace(self, wall_mm=np.minimum(self.wall_mm, most_mm))

    def spread_out(self, values: Floats) -> Floats:
        """Values of the samples, (k,), as means of triangles, (m,); 0 for one that no sample tells about."""
        size = len(self.owner)
        weight = np.bincount(self.face, weights=self.area_mm2, minlength=size)
        summed = np.bincount(self.face, weights=self.area_mm2 * values, minlength=size)
        mean: Floats = (summed / np.where(weight > 0, weight, 1.0))[self.owner]
        return mean

    def spread_open(self, values: Floats) -> Floats:
        """As `spread_out` for values that may be infinite: infinite where they are so over half of a triangle or more."""
        finite = np.isfinite(values)
        closed = self.spread_out(finite.astype(np.float64))
        mean = self.spread_out(np.where(finite, values, 0.0))
        return np.where(closed > 0.5, mean / np.where(closed > 0, closed, 1.0), np.inf)

    @property
    def typical_mm(self) -> float:
        """Median of the wall over the surface."""
        order = np.argsort(self.wall_mm)
        summed = np.cumsum(self.area_mm2[order])
        return float(self.wall_mm[order][np.searchsorted(summed, summed[-1] / 2)])


def speakers(mesh: Mesh, most: int = MOST_FACES) -> Ints:
    """For every triangle the one that is measured in its stead: itself, but in a mesh of very many, one of a few neighbours.

    Of so many triangles that lie together the largest speaks for those that look its way; any other speaks for itself.

    Returns
    -------
    (m,) int array
    """
    size = len(mesh.faces)
    owner = np.arange(size)
    together = -(-size // most)
    if together < 2:
        return owner
    order = tree_order(mesh.centres)
    group = np.pad(order, (0, -size % together), mode="edge").reshape(-1, together)
    first = group[np.arange(len(group)), np.argmax(mesh.areas[group], axis=1)]
    normals = mesh.normals
    alike = np.einsum("ijk,ik->ij", normals[group], normals[first]) > TOGETHER
    owner[group] = np.where(alike, first[:, None], group)
    return owner


def spread(mesh: Mesh, owner: Ints | None = None) -> tuple[Floats, Ints, Floats]:
    """Points over the surface: the middle of every small triangle, several on a large one.

    Parameters
    ----------
    owner : (m,) int array, the triangle that speaks for each; by default each for itself

    Returns
    -------
    points : (k, 3) float array [mm], face : (k,) int array, area_mm2 : (k,) float array [mm2] that each stands for
    """
    areas = mesh.areas if owner is None else np.bincount(owner, weights=mesh.areas, minlength=len(mesh.faces))
    total = float(areas.sum())
    each = max(min(SAMPLE_SHARE * total, SAMPLE_MM2), total / MOST_SAMPLES)
    count = np.where(areas > each, np.ceil(areas / each), 1.0).astype(np.int64)
    if owner is not None:
        count[owner != np.arange(len(owner))] = 0
    face = np.repeat(np.arange(len(areas)), count)
    number = np.arange(len(face)) - np.repeat(np.cumsum(count) - count, count)
    u, v = ((1 / 3 + number * step) % 1.0 for step in GOLDEN)
    over = u + v > 1
    u, v = np.where(over, 1 - u, u), np.where(over, 1 - v, v)
    u, v = (1 / 3 + (share - 1 / 3) * INSET for share in (u, v))
    a, b, c = np.moveaxis(mesh.corners[face], 1, 0)
    return a + (b - a) * u[:, None] + (c - a) * v[:, None], face, areas[face] / count[face]


def directions(inward: Floats, angle: float, turn: float) -> Floats:
    """Directions at an angle to the inward normals, turned about them; both [rad]."""
    least = np.argmin(np.abs(inward), axis=1)
    aside = np.cross(inward, np.eye(3)[least])
    aside /= np.linalg.norm(aside, axis=1, keepdims=True)
    beside = np.cross(inward, aside)
    directions: Floats = np.cos(angle) * inward + np.sin(angle) * (np.cos(turn) * aside + np.sin(turn) * beside)
    return directions


def cone() -> list[tuple[float, float]]:
    """Angles to the normal and turns about it [rad] of the rays that measure a wall: one along it, the others about it."""
    turns = np.arange(CONE_COUNT) * (2 * np.pi / CONE_COUNT)
    return [(0.0, 0.0), *((float(np.deg2rad(CONE_DEG)), float(turn)) for turn in turns)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cast:
    """What rays from places of a surface find, about the normal to one side.

    Attributes
    ----------
    least_mm : (k,) float array [mm], as far as the cone can tell; infinite where no ray meets a face well
    straight_mm : (k,) float array [mm], along the normal, whatever is met there
    square : (k,) float array [-], cosine at which that ray goes through the face it meets, 1 square to it, negative where the
        face is met from its wrong side; 0 where nothing is met
    """

    least_mm: Floats
    straight_mm: Floats
    square: Floats


def by_cone(caster: Caster, points: Floats, face: Ints, *, outward: bool = False) -> Cast:
    """Cast the cone of rays at points of faces, (k, 3) [mm], (k,): through the metal, or outward through the air."""
    side = 1.0 if outward else -1.0
    normals = caster.mesh.normals
    along = side * normals[face]
    least, straight, square = np.full(len(points), np.inf), np.full(len(points), np.inf), np.zeros(len(points))
    for k, (angle, turn) in enumerate(cone()):
        heading = directions(along, angle, turn)
        length, met = caster.first(points, heading, leaving=face)
        through = np.where(met >= 0, -side * np.einsum("ij,ij->i", normals[met], heading), 0.0)
        if k == 0:
            straight, square = length, through
        least = np.minimum(least, np.where(through >= GRAZING, length / np.cos(angle), np.inf))
    return Cast(least_mm=least, straight_mm=straight, square=square)


def sampled(mesh: Mesh, caster: Caster | None = None) -> Samples:
    """The wall at points spread over a closed solid.

    Parameters
    ----------
    mesh : a closed solid, wound outward
    caster : its rays, if made already
    """
    rays = caster or Caster(mesh)
    owner = speakers(mesh)
    points, face, area = spread(mesh, owner)
    solid = area > 0
    points, face, area = points[solid], face[solid], area[solid]
    cast = by_cone(rays, points, face)
    wall = np.where(np.isfinite(cast.least_mm), cast.least_mm, cast.straight_mm)
    told = np.isfinite(wall)  # a ray from the very tip of an edge may meet nothing
    return Samples(
        points=points[told],
        face=face[told],
        area_mm2=area[told],
        inward=-mesh.normals[face[told]],
        wall_mm=wall[told],
        across_mm=np.where(cast.square >= PARALLEL, cast.straight_mm, np.inf)[told],
        crossing=cast.square[told] < -GRAZING,
        owner=owner,
    )


def walls(mesh: Mesh, caster: Caster | None = None) -> Floats:
    """Wall thickness at every triangle of a closed solid, by inward rays.

    Returns
    -------
    (m,) float array [mm]; the mean over its samples for a large triangle, and 0 for one of no area that no ray tells about
    """
    return per_triangle(sampled(mesh, caster))


def per_triangle(samples: Samples) -> Floats:
    """The wall at every triangle, (m,) float array [mm], from samples of the same mesh."""
    return samples.spread_out(samples.wall_mm)
