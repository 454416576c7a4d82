"""From where a pattern is looked at: a ring along its bore with the head up, anything else on its broadest side."""

from dataclasses import dataclass
from math import ceil, radians, sin
from typing import Final, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.picture import Picture, look, view_axes
from pourwell.geometry.rays import Caster
from pourwell.geometry.surface import Surface, smooth
from pourwell.geometry.walls_seen import edges_carried, walls_seen
from pourwell.steps.pattern.model import Pattern, Point

Kind = TypeVar("Kind", bound=np.generic)

MM_PER_PX: Final = 0.04
"""A finger ring fills 600 pixels; printed at twice its size that is 320 pixels an inch."""

GAP_MM: Final = 4.0
"""Between the two views."""

MARGIN_MM: Final = 0.4
"""Round them, so that no outline lies on the picture's edge."""

LEVEL_DEG: Final = 12.0
"""A head that leans by less against the file's own axes is left as the file stands."""

HEAD_SHARE: Final = 0.02
"""A ring has a head if its weight lies off the bore's middle by more than this share of the bore."""

SEEN_MM: Final = 0.3
"""A place is seen if what is drawn there lies no farther in front of it."""

REACH_MM: Final = 1.0
"""A thin edge with something at least as thick as the limit so near is carried by it and counts as no wall, as in the plan's
own measure of the thinnest wall."""

EDGES_PX: Final = 160
"""Edge of the small pictures by which the two sides of a piece are compared."""

MORE_EDGES, LEAST_EDGES_MM = 1.1, 2.0
"""The other side shows more if its edges are longer by this factor and so many millimetres: own choice, a small drain's rim."""

ALIKE: Final = 0.02
"""A body as long one way as another, by this share of its spread, has no axes of its own there: a cube is not shown on its edge."""

AS_FILED: Final = (1.03, 1.02, 1.01, 0.95, 0.95, 0.95)
"""A pattern is looked at along its file's y, z, x (the first of equals) unless its own axes show clearly more."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Views:
    """A pattern looked at from the front and from its right side, at one scale.

    Attributes
    ----------
    front, side : what is seen
    front_mm, side_mm : (h, w) float arrays, the least wall under every pixel, nan where nothing is
    axes, surface, rays : what it was looked at with, for further looks
    """

    front: Picture
    side: Picture
    front_mm: Floats
    side_mm: Floats
    limit_mm: float
    axes: Floats
    surface: Surface
    rays: Caster

    @property
    def left_px(self) -> int:
        """Where the side begins."""
        return self.front.shape[1] + round(GAP_MM / self.front.mm_per_px)

    def joined(self, front: NDArray[Kind], side: NDArray[Kind], nothing: ArrayLike) -> NDArray[Kind]:
        """Two arrays, (h, w) or (h, w, k), one for each view, side by side, with `nothing` between."""
        gap = np.full((front.shape[0], self.left_px - front.shape[1], *front.shape[2:]), nothing, dtype=front.dtype)
        return np.concatenate([front, gap, side], axis=1)


def views(pattern: Pattern, *, mm_per_px: float = MM_PER_PX, limit_mm: float | None = None) -> Views:
    """Look at a pattern from its front and its right side.

    A ring is seen along its bore with its head up, anything else on its broadest side, as its file stands.

    Parameters
    ----------
    pattern : with its mesh and wall thickness
    mm_per_px : size of a pixel
    limit_mm : the least castable wall; the pattern's own by default
    """
    mesh = pattern.mesh
    axes = front_axes(pattern)
    caster, surface = Caster(mesh), smooth(mesh)
    limit = pattern.piece.wall.limit_mm if limit_mm is None else limit_mm
    wall = np.asarray(pattern.wall_mm, dtype=np.float64)
    size = np.ptp(axes @ surface.points.T, axis=1) + 2 * MARGIN_MM
    wide, high, deep = (max(2, ceil(part / mm_per_px)) for part in size)
    seen = []
    for direction, width in ((-axes[2], wide), (-axes[0], deep)):
        picture = look(mesh, direction, axes[1], width_px=width, height_px=high, mm_per_px=mm_per_px, surface=surface)
        walls = walls_seen(picture, surface, wall, caster=caster)
        seen.append((picture, edges_carried(picture, walls, limit_mm=limit, reach_mm=REACH_MM)))
    (front, front_mm), (side, side_mm) = seen
    return Views(
        front=front, side=side, front_mm=front_mm, side_mm=side_mm, limit_mm=limit, axes=axes, surface=surface, rays=caster
    )


def front_axes(pattern: Pattern) -> Floats:
    """(3, 3) float array [-]: right, up and towards the viewer, for the pattern's front."""
    mesh, bore = pattern.mesh, pattern.piece.bore
    if bore is None:
        return _open_side(mesh, broadside(mesh))
    along = _positive(np.array(bore.axis))
    offset = _middle_of_mass(mesh) - bore.centre_mm
    offset -= along * (offset @ along)
    if np.linalg.norm(offset) < HEAD_SHARE * bore.diameter_mm:
        sprue = np.array(pattern.sprue_at_mm if pattern.sprue_at_mm else bore.centre_mm)
        offset = np.array(bore.centre_mm) - sprue
        offset -= along * (offset @ along)
    if np.linalg.norm(offset) < HEAD_SHARE * bore.diameter_mm:
        offset = _file_up(along)
    up = offset / np.linalg.norm(offset)
    for own in np.vstack([np.eye(3), -np.eye(3)]):
        if np.linalg.norm(np.cross(own, up)) < sin(radians(LEVEL_DEG)) and own @ up > 0:
            up = own
    return view_axes(along, up)


def broadside(mesh: Mesh) -> Floats:
    """The broadest of the file's three sides, and of the body's own three if that shows more."""
    spread, own = np.linalg.eigh(_covariance(mesh))
    steps = np.diff(spread) > ALIKE * spread[-1]
    distinct = np.append(True, steps) & np.append(steps, True)
    sides = np.vstack([np.eye(3)[[1, 2, 0]], own.T[distinct]])
    shown = np.abs(mesh.area_vectors @ sides.T).sum(axis=0)
    along = _positive(sides[int(np.argmax(shown * AS_FILED[: len(sides)]))])
    return view_axes(along, _file_up(along))


def _open_side(mesh: Mesh, axes: Floats) -> Floats:
    """The view, or that from the other side if clearly more edges are seen there: of openings, of a setting, of engraving."""
    surface = smooth(mesh)
    wide, high, _ = np.ptp(axes @ surface.points.T, axis=1) + 2 * MARGIN_MM
    px = float(max(wide, high)) / EDGES_PX

    def edges_mm(way: Floats) -> float:
        seen = look(mesh, way, axes[1], width_px=ceil(wide / px), height_px=ceil(high / px), mm_per_px=px, surface=surface)
        lines = np.vstack((seen.outline, seen.crease))
        return float(np.hypot(*(lines[:, 2:] - lines[:, :2]).T).sum()) * px

    here, there = edges_mm(-axes[2]), edges_mm(axes[2])
    return view_axes(axes[2], axes[1]) if there > MORE_EDGES * here + LEAST_EDGES_MM else axes


def _covariance(mesh: Mesh) -> Floats:
    """(3, 3) [mm2]: of the surface, however it is cut into triangles; a triangle's is that of 9 parts middle and 1 each corner."""
    points = np.vstack([mesh.centres, *np.moveaxis(mesh.corners, 1, 0)])
    covariance: Floats = np.cov(points.T, aweights=np.concatenate([9 * mesh.areas, *[mesh.areas] * 3]))
    return covariance


def _positive(axis: Floats) -> Floats:
    """The axis or its opposite: along +y, else down along z, else against x, as a file's front, upper and right side are seen."""
    unit = axis / np.linalg.norm(axis)
    lead = int(np.argmax(np.abs(unit)))
    turned: Floats = unit if (unit[lead] > 0) == (lead == 1) else -unit
    return turned


def _file_up(along: Floats) -> Floats:
    """What stands up in the file's own frame: z, or y where one looks along z."""
    up: Floats = np.array((0.0, 1.0, 0.0) if abs(along[2]) > sin(radians(45)) else (0.0, 0.0, 1.0))
    return up


def _middle_of_mass(mesh: Mesh) -> Floats:
    """(3,) float array [mm]: centroid of the enclosed volume, by tetrahedra about the box's middle."""
    low, high = mesh.bounds
    corners = mesh.corners - (low + high) / 2
    volumes = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    middle: Floats = (low + high) / 2 + np.einsum("i,ijk->k", volumes, corners) / 4 / volumes.sum()
    return middle


def points(pattern: Pattern, seen: Views, *, sprue_at_mm: Point | None = None) -> dict[str, tuple[bool, float, float]]:
    """Where the thinnest and the thickest place and the sprue lie in the two views.

    A ring's places are shown on its front. Another pattern's are shown on the view where they can be seen, on the front if on
    neither.

    Returns
    -------
    by name: whether it is shown on the side, and its place from that view's upper left corner, right and down [px]
    """
    wall, sprue = pattern.piece.wall, sprue_at_mm or pattern.sprue_at_mm
    places = {"thinnest": wall.thinnest_at_mm, "thickest": wall.thickest_at_mm} | ({"sprue": sprue} if sprue else {})
    out = {}
    for name, place in places.items():
        on_side = pattern.piece.bore is None and not is_visible(seen.front, place) and is_visible(seen.side, place)
        x, y = (seen.side if on_side else seen.front).place(place)[0].tolist()
        out[name] = (on_side, x, y)
    return out


def is_visible(picture: Picture, place: Point, *, deep_mm: float = 0.0) -> bool:
    """Whether nothing lies in front of a place, but for metal so deep where it lies under the surface."""
    x, y = np.floor(picture.place(place)[0]).astype(int).tolist()
    rows, columns = picture.shape
    near = picture.depth_mm[max(y - 1, 0) : max(min(y + 2, rows), 0), max(x - 1, 0) : max(min(x + 2, columns), 0)]
    drawn = near[np.isfinite(near)]
    return bool(len(drawn) and drawn.max() + deep_mm + SEEN_MM >= picture.depths(place)[0])
