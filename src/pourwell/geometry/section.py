"""Plane sections of a solid [mm]: exact polygons, their area and perimeter, and the smallest section about an axis."""

from dataclasses import dataclass
from typing import Final

import manifold3d
import numpy as np
from numpy.typing import ArrayLike

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.solidity import to_manifold

TURNS_COUNT: Final = 18
"""Planes tried about an axis at first: every ten degrees."""

NARROWING_COUNT: Final = 8
"""Further planes between the neighbours of the best: the turn is then known to half a degree, the area to 1e-4 of itself."""

GOLDEN: Final = (5**0.5 - 1) / 2

INSIDE_SHARE: Final = 1e-3
"""How far under the surface [share of the solid's size] the point lies that a section must hold."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionPart:
    """One connected part of a plane section.

    Attributes
    ----------
    area_mm2, perimeter_mm : [mm2], [mm], holes taken out of the first and counted in the second
    loops : tuple of (k, 2) float arrays [mm]; the outline first, anticlockwise, then the holes, clockwise
    origin : (3,) float array [mm], where the plane's own axes start
    axes : (3, 3) float array [-]: the plane's first and second axis, and its normal
    """

    area_mm2: float
    perimeter_mm: float
    loops: tuple[Floats, ...]
    origin: Floats
    axes: Floats

    @property
    def modulus_mm(self) -> float:
        """Area over perimeter: half of what volume over surface is to a plate, a quarter of a rod's diameter."""
        return self.area_mm2 / self.perimeter_mm

    @property
    def in_space(self) -> tuple[Floats, ...]:
        """The loops as (k, 3) float arrays [mm]."""
        return tuple(self.origin + loop @ self.axes[:2] for loop in self.loops)


def solid_of(body: Mesh | manifold3d.Manifold) -> manifold3d.Manifold:
    """The body in the boolean engine, as it is if it is there already. Raises NotSolidError."""
    return to_manifold(body) if isinstance(body, Mesh) else body


def cut(body: Mesh | manifold3d.Manifold, point: ArrayLike, normal: ArrayLike) -> tuple[SectionPart, ...]:
    """The parts of a plane section, the largest first.

    Parameters
    ----------
    body : a closed solid [mm]
    point : (3,) a point of the plane [mm]
    normal : (3,) its direction [-], of any length but zero

    Raises
    ------
    NotSolidError if a mesh is no closed solid.
    """
    up = np.asarray(normal, dtype=np.float64)
    up = up / np.linalg.norm(up)
    aside = np.cross(up, np.eye(3)[int(np.argmin(np.abs(up)))])
    aside /= np.linalg.norm(aside)
    axes = np.stack((aside, np.cross(up, aside), up))
    parts = _parts(solid_of(body), np.asarray(point, dtype=np.float64), axes)
    return tuple(sorted(parts, key=lambda part: -part.area_mm2))


def smallest_section(
    body: Mesh | manifold3d.Manifold, at: ArrayLike, axis: ArrayLike, *, turns_count: int = TURNS_COUNT
) -> SectionPart:
    """The smallest plane section that holds the line `at + t axis`, the plane turned about it.

    Only the part that holds the point a hair under the surface counts.

    Parameters
    ----------
    body : a closed solid [mm]
    at : (3,) a point of its surface [mm]
    axis : (3,) out of the solid there [-]
    turns_count : planes tried at first, in even steps

    Returns
    -------
    The part; its first axis is the given one, so its first coordinate is the height over `at`.

    Raises
    ------
    NotSolidError if a mesh is no closed solid. ValueError if no plane about the line meets the solid near the point.
    """
    solid = solid_of(body)
    point = np.asarray(at, dtype=np.float64)
    out = np.asarray(axis, dtype=np.float64)
    out = out / np.linalg.norm(out)
    aside = np.cross(out, np.eye(3)[int(np.argmin(np.abs(out)))])
    aside /= np.linalg.norm(aside)
    beside = np.cross(out, aside)
    low, high = np.array(solid.bounding_box()).reshape(2, 3)
    under = -INSIDE_SHARE * float(np.linalg.norm(high - low))

    def turned(angle: float) -> SectionPart | None:
        second = np.cos(angle) * aside + np.sin(angle) * beside
        axes = np.stack((out, second, np.cross(out, second)))
        return _holding(_parts(solid, point, axes), np.array([under, 0.0]))

    step = np.pi / turns_count
    found = [(part, k * step) for k in range(turns_count) if (part := turned(k * step)) is not None]
    if not found:
        raise ValueError("no plane about this line meets the solid near the point")
    best, turn = min(found, key=lambda pair: pair[0].area_mm2)
    low_turn, high_turn = turn - step, turn + step
    for _ in range(NARROWING_COUNT // 2):
        inner = [high_turn - GOLDEN * (high_turn - low_turn), low_turn + GOLDEN * (high_turn - low_turn)]
        parts = [turned(angle) for angle in inner]
        areas = [np.inf if part is None else part.area_mm2 for part in parts]
        best = min((part for part in (best, *parts) if part is not None), key=lambda part: part.area_mm2)
        low_turn, high_turn = (low_turn, inner[1]) if areas[0] <= areas[1] else (inner[0], high_turn)
    return best


def _parts(solid: manifold3d.Manifold, origin: Floats, axes: Floats) -> list[SectionPart]:
    """The connected parts of the section in the plane of the first two axes through the origin."""
    placed = solid.transform(np.column_stack((axes, -axes @ origin)))
    parts = []
    for region in placed.slice(0.0).decompose():
        loops = [np.asarray(loop, dtype=np.float64) for loop in region.to_polygons()]
        if not loops:
            continue
        signed = [_area(loop) for loop in loops]
        order = np.argsort(signed)[::-1]
        parts.append(
            SectionPart(
                area_mm2=float(sum(signed)),
                perimeter_mm=float(sum(np.linalg.norm(loop - np.roll(loop, 1, axis=0), axis=1).sum() for loop in loops)),
                loops=tuple(loops[k] for k in order),
                origin=origin,
                axes=axes,
            )
        )
    return parts


def _area(loop: Floats) -> float:
    """Signed area of a closed polygon, (k, 2) [mm], positive anticlockwise."""
    x, y = loop.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def _holding(parts: list[SectionPart], point: Floats) -> SectionPart | None:
    """The part that holds a point of the plane, or that comes nearest to it within that point's own depth."""
    for part in parts:
        if sum(_encloses(loop, point) for loop in part.loops) % 2:
            return part
    reach = float(np.linalg.norm(point))
    near = [(min(_distance(loop, point) for loop in part.loops), k) for k, part in enumerate(parts)]
    nearest, k = min(near, default=(np.inf, -1))
    return parts[k] if nearest <= reach else None


def _encloses(loop: Floats, point: Floats) -> bool:
    """Does a ray from the point cross the loop an odd number of times."""
    x, y = (loop - point).T
    x1, y1 = np.roll(x, -1), np.roll(y, -1)
    rises = (y > 0) != (y1 > 0)
    ahead = x[rises] + (x1 - x)[rises] * (-y[rises] / (y1 - y)[rises]) > 0
    return bool(ahead.sum() % 2)


def _distance(loop: Floats, point: Floats) -> float:
    """Distance of a point from the nearest side of a closed polygon [mm]."""
    start = loop - point
    side = np.roll(start, -1, axis=0) - start
    length = np.maximum(np.einsum("ij,ij->i", side, side), np.finfo(float).tiny)
    along = np.clip(-np.einsum("ij,ij->i", start, side) / length, 0, 1)
    return float(np.linalg.norm(start + side * along[:, None], axis=1).min())


def folded(body: Mesh | manifold3d.Manifold, right: ArrayLike, left: ArrayLike) -> tuple[Floats, ...]:
    """Two half planes from the z axis outward, laid side by side into one section.

    Parameters
    ----------
    body : a closed solid [mm]
    right, left : (2,) ways in x and y [-] in which the halves look, of any length but zero

    Returns
    -------
    Loops as (k, 2) float arrays [mm], outlines anticlockwise, holes clockwise: how far from the axis, left below zero, and z.

    Raises
    ------
    NotSolidError if a mesh is no closed solid.
    """
    solid = solid_of(body)
    box = np.array(solid.bounding_box()).reshape(2, 3)
    reach = 2 * float(np.abs(box[:, :2]).max())
    low, high = float(box[0, 2]) - 1, float(box[1, 2]) + 1
    half = manifold3d.CrossSection([[(0.0, low), (reach, low), (reach, high), (0.0, high)]])
    halves = []
    for way in (right, left):
        x, y = np.asarray(way, dtype=np.float64) / np.linalg.norm(way)
        axes = np.array([[x, y, 0.0], [0.0, 0.0, 1.0], [y, -x, 0.0]])
        halves.append(solid.transform(np.column_stack((axes, np.zeros(3)))).slice(0.0) ^ half)
    whole = halves[0] + halves[1].mirror((1.0, 0.0))
    return tuple(np.asarray(loop, dtype=np.float64) for loop in whole.to_polygons())
