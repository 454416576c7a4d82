"""From where a piece is drawn: its useful sides, and how large it is then."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import cos, radians, sin
from typing import Final

import numpy as np

from pourwell.geometry.crossing import crossing_lines, crossings
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.picture import Camera, extent, view_axes
from pourwell.geometry.solidity import NotSolidError, from_manifold, to_manifold
from pourwell.geometry.surface import Mask, Surface, smooth
from pourwell.sheets.viewpoint import front_axes
from pourwell.steps.pattern.model import MM_PER_UNIT, Pattern

SIZE: Final = 600
"""Edge of a still [px]."""

SIDES: Final[Mapping[str, tuple[float, float]]] = {
    "three-quarter": (32.0, 26.0),
    "front": (0.0, 0.0),
    "side": (90.0, 0.0),
    "above": (0.0, 90.0),
}
"""Useful sides: how far the viewer walks round to the right and how far up [degrees]."""

BEHIND: Final = (-148.0, -26.0)
"""The other half of a piece: what the three-quarter view does not show."""

MARGIN_SHARE: Final = 0.05
"""Of its edge, left free all round."""

INTO_DEG: Final = (16.0, 12.0)
"""How far from square a cut is looked at, from the right and from above: its depth shows, and lengths in it are true to 7 %."""

ALONG_LEAST: Final = 0.9
"""A way lies along a surface if so much of it, of one, is square to the way out."""

ON_CUT_SHARE, LEVEL_COS = 1e-6, 0.999
"""A triangle is of the cut if its corners lie in the plane, to this share of the piece's size, and it looks along it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """A piece made ready to be drawn: its mesh [mm], its surface, and its front: right, up and towards the viewer (3, 3).

    `own_mm` is what one of the file's own numbers was taken as [mm], where that is in doubt: nothing is then called a millimetre.
    `cut` tells which triangles, (m,), are no surface of the piece but the face of a cut through its metal.
    """

    id: str
    name: str
    surface: Surface
    axes: Floats
    own_mm: float | None = None
    cut: Mask | None = None

    @property
    def mesh(self) -> Mesh:
        """The piece."""
        return self.surface.mesh

    @property
    def called(self) -> str:
        """How a title names it."""
        return f"{self.id}  {self.name}".strip()


def scene_of(pattern: Pattern, *, as_read: bool = False) -> Scene:
    """A pattern's scene, its front as on the run sheet; `as_read` with the triangles of its file if its solid is a stand-in."""
    piece, own = pattern.piece, pattern.as_read if as_read else None
    axes = front_axes(pattern)
    taken = MM_PER_UNIT[piece.units] if piece.doubt == "unit" else None
    return Scene(id=piece.id, name=piece.name, surface=smooth(own or pattern.mesh), axes=axes, own_mm=taken)


def crossed(scene: Scene) -> Scene:
    """The scene with the lines along which its surface crosses itself."""
    met = crossings(scene.mesh)
    lines = crossing_lines(scene.mesh, met.pairs)
    return replace(scene, surface=replace(scene.surface, crossing_mm=lines)) if len(lines) else scene


def cut_open(scene: Scene, at_mm: Floats, towards: Floats) -> Scene | None:
    """The scene without what lies before a place, cut square to a way, (3,); None where it is no closed solid.

    One with faults is left whole: a cut would take away the edges that show them.
    """
    if scene.surface.edges.faulty.any():
        return None
    try:
        solid = to_manifold(scene.mesh)
    except NotSolidError:
        return None
    left = from_manifold(solid.trim_by_plane(tuple(-towards), float(-towards @ at_mm)))
    if not len(left.faces):
        return None
    surface, low_high = smooth(left), np.array(scene.mesh.bounds)
    near = ON_CUT_SHARE * float(np.ptp(low_high, axis=0).max())
    off = np.abs((left.corners - at_mm) @ towards).max(axis=1)
    return replace(scene, surface=surface, cut=(off <= near) & (surface.normals @ towards > LEVEL_COS))


def section_view(axes: Floats, outward: Floats) -> tuple[Floats, Floats]:
    """How a place is cut open so that what is measured there, along the way out of its surface, lies in the cut.

    Parameters
    ----------
    axes : (3, 3) float array [-], the front: right, up and towards the viewer
    outward : (3,) float array [-], out of the surface at the place

    Returns
    -------
    towards : (3,) float array [-], square to the cut: the one of the front's axes that lies along the surface there and is seen
        best in the usual view, else the usual view's own way, laid along the surface
    view : (3, 3) float array [-], a little aslant to the cut: one sees into what it opens
    """
    usual = walked(axes, *SIDES["three-quarter"])[2]
    ways = np.vstack([axes, -axes, usual])
    along = ways - (ways @ outward)[:, None] * outward
    lengths = np.linalg.norm(along, axis=1)
    liked = np.where(lengths > ALONG_LEAST, along @ usual, -np.inf)
    liked[-1] -= 1  # the front's axes come first
    best = int(np.argmax(liked)) if np.isfinite(liked).any() else int(np.argmax(lengths))
    towards = along[best] / lengths[best]
    up = axes[1] if abs(towards @ axes[1]) < ALONG_LEAST else -axes[2]
    return towards, walked(view_axes(-towards, up), *INTO_DEG)


def walked(axes: Floats, right_deg: float, up_deg: float) -> Floats:
    """(3, 3): the axes of a viewer who has walked round to the right and up."""
    right, up = radians(right_deg), radians(up_deg)
    level = sin(right) * axes[0] + cos(right) * axes[2]
    towards = cos(up) * level + sin(up) * axes[1]
    across = cos(right) * axes[0] - sin(right) * axes[2]
    return np.array([across, np.cross(towards, across), towards])


def camera_for(points: Floats, axes: Floats, *, size: int, mm_per_px: float) -> Camera:
    """A square picture of size^2 pixels with the middle of points, (k, 3) [mm], in its middle."""
    low, high = extent(points, axes)
    return Camera(axes=axes, middle=axes.T @ ((low + high) / 2), mm_per_px=mm_per_px, shape=(size, size))


def fitting(points: Floats, axes: Sequence[Floats], *, size: int) -> float:
    """The size of a pixel [mm] at which points, (k, 3) [mm], fit a square picture from each of several views."""
    spans = [float((high - low)[:2].max()) for low, high in (extent(points, view) for view in axes)]
    return max(max(spans), 1e-6) / (size * (1 - 2 * MARGIN_SHARE))


def cameras(scene: Scene, *, size: int = SIZE) -> dict[str, Camera]:
    """A camera for each useful side, all at one scale."""
    views = {name: walked(scene.axes, *way) for name, way in SIDES.items()}
    px = fitting(scene.surface.points, list(views.values()), size=size)
    return {name: camera_for(scene.surface.points, axes, size=size, mm_per_px=px) for name, axes in views.items()}
