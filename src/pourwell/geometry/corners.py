"""Sharp inner corners of a surface: there the mould has an edge as sharp, which breaks off [mm]."""

from dataclasses import dataclass
from math import cos, radians
from typing import Final

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.rolling import Flags, Places
from pourwell.geometry.touching import Touching

PARALLEL_DEG: Final = 12.0
"""Faces that meet at less are a slit, not a corner."""

FITS: Final = 0.9
"""The small ball fits into the corner if the surface is no nearer to its middle than this share of its radius, and looks at it (the
cosine) as one of the two faces does."""

NEAR: Final = 3.0
"""Corners are looked for where the ball between the faces is at most so many times as wide as the small one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Corners:
    """Places beside sharp inner corners.

    Attributes
    ----------
    at_mm : (k, 3) float array [mm], in the corner
    angle_deg : (k,) float array [degrees] between the two faces, in the air: of the mould's edge
    length_mm : (k,) float array [mm], about, of corner that each place stands for
    """

    at_mm: Floats
    angle_deg: Floats
    length_mm: Floats

    def only(self, chosen: Flags) -> "Corners":
        """Those chosen, (k,) bool array."""
        return Corners(at_mm=self.at_mm[chosen], angle_deg=self.angle_deg[chosen], length_mm=self.length_mm[chosen])

    def sharpest(self) -> int | None:
        """Which place is the most acute; None where there is none."""
        return int(np.argmin(self.angle_deg)) if len(self.angle_deg) else None


def sharp_corners(places: Places, touching: Touching, *, sharp_deg: float, radius_mm: float) -> Corners:
    """Inner corners more acute than an angle and of less than a radius, between faces of one body: two bodies leave a gap.

    Parameters
    ----------
    places : spread over a surface, with balls from outside
    touching : of the same mesh
    sharp_deg : angle in the air [degrees]
    radius_mm : a corner rounded by as much is not sharp [mm]
    """
    normals, touch = touching.mesh.normals, places.touch
    beside = normals[touch.stop]
    turn = np.einsum("ij,ij->i", touch.way, beside)  # of the two ways out: -1 where the faces look at each other
    near = (touch.stop >= 0) & (turn < -cos(radians(sharp_deg))) & (turn > -cos(radians(PARALLEL_DEG)))
    near &= touch.diameter_mm <= 2 * NEAR * radius_mm
    chosen = np.flatnonzero(near)
    body = _bodies(touching.mesh)
    chosen = chosen[body[places.face[chosen]] == body[touch.stop[chosen]]]
    angle = np.pi - np.arccos(turn[chosen])
    radius = touch.diameter_mm[chosen] / 2
    point, way = places.points[chosen], touch.way[chosen]
    halving = way + beside[chosen]
    halving /= np.linalg.norm(halving, axis=1, keepdims=True)  # square to the edge, out of the corner
    middle = point + way * radius[:, None]
    apex = middle - halving * (radius / np.sin(angle / 2))[:, None]
    small = apex + halving * (radius_mm / np.sin(angle / 2))[:, None]
    away, foot = touching.feet(small)
    up = (small - foot) / np.maximum(away, np.finfo(float).tiny)[:, None]
    on_one = np.maximum(np.einsum("ij,ij->i", up, way), np.einsum("ij,ij->i", up, beside[chosen])) >= FITS
    sharp = (away >= FITS * radius_mm) & on_one  # else it lies in the metal behind a rounding
    reach = NEAR * radius_mm / np.tan(angle[sharp] / 2)  # along one face, from the corner to where a place can lie
    return Corners(
        at_mm=apex[sharp],
        angle_deg=np.degrees(angle[sharp]),
        length_mm=places.area_mm2[chosen][sharp] / (2 * reach),
    )


def _bodies(mesh: Mesh) -> Ints:
    """The connected body that each triangle belongs to, (m,)."""
    size = len(mesh.vertices)
    rows, columns = mesh.faces[:, [0, 1]].reshape(-1), mesh.faces[:, [1, 2]].reshape(-1)
    body = connected_components(coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(size, size)), directed=False)[1]
    of: Ints = body[mesh.faces[:, 0]]
    return of
