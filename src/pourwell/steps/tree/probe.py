"""Could a sprue stand here: what lies under its foot, and what is in its way."""

from dataclasses import dataclass
from typing import Final

import manifold3d
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from pourwell.geometry.balls import Balls, inner_balls, thinned
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.solidity import to_manifold
from pourwell.steps.pattern.model import Pattern
from pourwell.steps.tree.faces import Faces, look_at
from pourwell.steps.tree.model import Attachment

AROUND_COUNT: Final = 8
"""Rays on each of two circles of a foot, besides the one in its middle. An even number: opposite ones are compared."""

SAG_SHARE: Final = 0.5
"""Surface that lies lower under a foot than this share of its radius does not carry it: wax does not bridge more. Own estimate."""

FACING_FOOT: Final = 0.5
"""Surface carries a foot if it leans less than 60 degrees from it. Own estimate."""

TAKEN_AS_LEVEL: Final = 1e-6
"""Across a narrow rim nothing tells the slope; it is then left as it is. Far under the weight of one pair of rays."""

LIFT_MM: Final = 0.05
"""A ray along a sprue starts this far over the surface: past its rounding, far less than any detail. Own choice."""

ROOM_RATIO: Final = 1.2
"""What is in the way is looked for this much wider than the sprue. Own choice."""

LARGEST_RATIO: Final = 1.02
"""No ball is larger than the largest that was measured; samples make them 2 % larger at most. Tried on the sample pieces."""

LOCAL_RATIO: Final = 1.5
"""A ball feeds from a foot if its middle lies within this many radii of it: so far from the corner of a square bar. Geometry."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Ready:
    """A pattern made ready for choosing places."""

    pattern: Pattern
    solid: manifold3d.Manifold
    normals: Floats
    """(m, 3) float array [-], of its triangles."""
    rays: Caster
    balls: Balls
    faces: Faces

    core: tuple[Floats, Floats]
    """Middles and radii of the balls that stand for all [mm]."""

    @property
    def mesh(self) -> Mesh:
        """The piece."""
        return self.pattern.mesh

    @property
    def thickest_mm(self) -> float:
        """Diameter of the largest ball inside."""
        return self.pattern.piece.wall.thickest_mm

    def thickness_mm(self, at: Floats) -> Floats:
        """Thickness that a sprue with its foot here meets: the largest ball beside it. `at` : (k, 3) [mm]; returns (k,) [mm]."""
        centres, radii = self.core
        tree = cKDTree(centres)
        pairs = cKDTree(at).sparse_distance_matrix(tree, LOCAL_RATIO * float(radii.max()), output_type="coo_matrix")
        beside = pairs.data <= LOCAL_RATIO * radii[pairs.col]
        found: Floats = radii[tree.query(at)[1]]
        np.maximum.at(found, pairs.row[beside], radii[pairs.col[beside]])
        return 2 * found


def ready(pattern: Pattern) -> Ready:
    """Make a pattern ready. Raises NotSolidError if its mesh is no closed solid."""
    mesh = pattern.mesh
    balls = inner_balls(mesh, largest_mm=LARGEST_RATIO * pattern.piece.wall.thickest_mm)
    kept = thinned(balls.centres, balls.radii)
    return Ready(
        pattern=pattern,
        solid=to_manifold(mesh),
        normals=mesh.normals,
        rays=Caster(mesh),
        balls=balls,
        core=(balls.centres[kept], balls.radii[kept]),
        faces=look_at(mesh, pattern.piece.bore),
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Spots:
    """Places for the foot of a sprue.

    Attributes
    ----------
    points, normals : (k, 3) float arrays [mm], [-]; the normal is the mean under the foot
    support : (k,) share of the foot that finds surface under it, 0 where something stands in it
    rough_mm : (k,) how far the surface departs from a smooth one
    clear_mm : (k,) how far the way out is free
    """

    points: Floats
    normals: Floats
    support: Floats
    rough_mm: Floats
    clear_mm: Floats

    def one(self, k: int) -> "Spots":
        """The k-th place alone."""
        return Spots(**{name: getattr(self, name)[k : k + 1] for name in self.__slots__})


def probe(piece: Ready, points: Floats, normals: Floats, *, radius_mm: Floats) -> Spots:
    """Look at places for the foot of a sprue.

    Parameters
    ----------
    points, normals : (k, 3) float arrays [mm], [-], on the surface and out of it
    radius_mm : (k,) float array [mm], of the sprue
    """
    heights, under = _heights(piece, points, normals=normals, radius_mm=radius_mm)
    carried = _carried(heights, under, normals=normals, radius_mm=radius_mm)
    mean = np.where(carried[..., None], under, 0.0).sum(axis=1) + normals * np.finfo(float).eps
    normals = mean / np.linalg.norm(mean, axis=1, keepdims=True)
    for level in (True, False):
        heights, under = _heights(piece, points, normals=normals, radius_mm=radius_mm)
        carried = _carried(heights, under, normals=normals, radius_mm=radius_mm)
        if level:
            normals = _levelled(heights, carried, normals=normals, radius_mm=radius_mm)
    blocked = (heights > SAG_SHARE * radius_mm[:, None]).any(axis=1)
    aside, beside = across(normals)
    offsets = _foot(aside, beside, radius_mm * ROOM_RATIO)
    start = points[:, None] + offsets + normals[:, None] * (np.where(carried, heights, 0.0) + LIFT_MM)[..., None]
    rays = np.repeat(normals, start.shape[1], axis=0)
    clear = piece.rays.first(start.reshape(-1, 3), rays)[0].reshape(len(points), -1).min(axis=1)
    return Spots(
        points=points,
        normals=normals,
        support=np.where(blocked, 0.0, carried.mean(axis=1)),
        rough_mm=_rough(heights, carried),
        clear_mm=clear,
    )


def recentred(piece: Ready, spot: Spots, *, radius_mm: float) -> Floats:
    """A single place moved to the middle of what carries its foot, such as the middle of a rim: (1, 3) float array [mm]."""
    radius = np.array([radius_mm])
    heights, under = _heights(piece, spot.points, normals=spot.normals, radius_mm=radius)
    carried = _carried(heights, under, normals=spot.normals, radius_mm=radius)[0]
    offsets = _foot(*across(spot.normals), radius)[0]
    return spot.points + (offsets[carried].mean(axis=0) if carried.any() else 0.0)


def _carried(heights: Floats, under: Floats, *, normals: Floats, radius_mm: Floats) -> NDArray[np.bool_]:
    """(k, 1 + 2 n): is there surface near the foot's plane that looks the foot's way."""
    looks = np.einsum("ijk,ik->ij", under, normals) >= FACING_FOOT
    carried: NDArray[np.bool_] = looks & (np.abs(heights) <= SAG_SHARE * radius_mm[:, None])
    return carried


def foot_drop_mm(piece: Ready, foot: Attachment, *, radius_mm: float) -> float:
    """How far the surface falls away under the foot of a sprue, where it carries it [mm]."""
    radius = np.array([radius_mm])
    normal = np.array([foot.normal])
    heights, under = _heights(piece, np.array([foot.at_mm]), normals=normal, radius_mm=radius)
    carried = _carried(heights, under, normals=normal, radius_mm=radius)
    return float(np.max(-heights[carried], initial=0.0))


def across(normals: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors across each of (k, 3) directions."""
    least = np.argmin(np.abs(normals), axis=1)
    aside = np.cross(normals, np.eye(3)[least])
    aside /= np.linalg.norm(aside, axis=1, keepdims=True)
    return aside, np.cross(normals, aside)


def _foot(aside: Floats, beside: Floats, radius_mm: Floats) -> Floats:
    """(k, 1 + 2 n, 3) float array [mm]: the middle of a foot, then its inner and its outer circle."""
    turns = np.arange(AROUND_COUNT) * (2 * np.pi / AROUND_COUNT)
    circle = np.cos(turns)[:, None] * aside[:, None] + np.sin(turns)[:, None] * beside[:, None]
    circle = circle * radius_mm[:, None, None]
    return np.concatenate((np.zeros((len(aside), 1, 3)), circle / 2, circle), axis=1)


def _heights(piece: Ready, points: Floats, *, normals: Floats, radius_mm: Floats) -> tuple[Floats, Floats]:
    """Height of the surface over the foot's plane, (k, 1 + 2 n) [mm], minus infinity where there is none; and its normals."""
    aside, beside = across(normals)
    start = points[:, None] + _foot(aside, beside, radius_mm) + normals[:, None] * radius_mm[:, None, None]
    distance, face = piece.rays.first(start.reshape(-1, 3), -np.repeat(normals, start.shape[1], axis=0))
    heights = radius_mm[:, None] - distance.reshape(len(points), -1)
    under = np.where(face[:, None] >= 0, piece.normals[face], 0.0)
    return heights, under.reshape(len(points), -1, 3)


def _levelled(heights: Floats, carried: NDArray[np.bool_], *, normals: Floats, radius_mm: Floats) -> Floats:
    """The foot's normals turned so that opposite heights on its outer circle agree where both are carried, (k, 3)."""
    half = AROUND_COUNT // 2
    ring, known = heights[:, 1 + AROUND_COUNT :], carried[:, 1 + AROUND_COUNT :]
    both = known[:, :half] & known[:, half:]
    with np.errstate(invalid="ignore"):
        slope = np.where(both, (ring[:, :half] - ring[:, half:]) / (2 * radius_mm[:, None]), 0.0)
    turns = np.arange(half) * (2 * np.pi / AROUND_COUNT)
    ways = np.column_stack((np.cos(turns), np.sin(turns)))
    weight = np.einsum("ki,ij,il->kjl", both.astype(np.float64), ways, ways) + TAKEN_AS_LEVEL * np.eye(2)
    fall = np.linalg.solve(weight, np.einsum("ki,ij->kj", slope, ways)[..., None])[..., 0]
    aside, beside = across(normals)
    turned = normals - fall[:, :1] * aside - fall[:, 1:] * beside
    levelled: Floats = turned / np.linalg.norm(turned, axis=1, keepdims=True)
    return levelled


def _rough(heights: Floats, carried: NDArray[np.bool_]) -> Floats:
    """How far the surface departs from a smooth one, (k,) [mm].

    On a smooth surface the mean of two opposite heights, over the middle's, grows with the square of the distance: on the outer
    circle it is four times that on the inner one.
    """
    half = AROUND_COUNT // 2
    inner, outer = heights[:, 1 : 1 + AROUND_COUNT], heights[:, 1 + AROUND_COUNT :]
    known = carried[:, 1 : 1 + AROUND_COUNT] & carried[:, 1 + AROUND_COUNT :]
    known = known[:, :half] & known[:, half:]
    with np.errstate(invalid="ignore"):
        rises = [(circle[:, :half] + circle[:, half:]) / 2 - heights[:, :1] for circle in (inner, outer)]
        off = np.abs(rises[1] - 4 * rises[0])
    rough: Floats = np.where(known, off, 0.0).max(axis=1)
    return rough
