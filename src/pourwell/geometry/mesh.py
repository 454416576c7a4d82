"""A triangle mesh [mm] and what is measured on it without any engine."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LOT: Final = 250_000
"""Triangles reckoned with in one go: two million at once would take half a gigabyte for a moment."""


@dataclass(frozen=True, eq=False)
class Mesh:
    """Vertices and the triangles between them; both arrays are read-only.

    Attributes
    ----------
    vertices : (n, 3) float array [mm]
    faces : (m, 3) int array, anticlockwise seen from outside
    """

    vertices: Floats
    faces: Ints

    def __post_init__(self) -> None:
        for name, dtype in (("vertices", np.float64), ("faces", np.int64)):
            given = np.asarray(getattr(self, name), dtype=dtype).reshape(-1, 3)
            array = given.copy() if given.flags.writeable else given  # what nobody can change is shared
            array.setflags(write=False)
            object.__setattr__(self, name, array)

    @property
    def corners(self) -> Floats:
        """(m, 3, 3) float array [mm]: the three corners of every triangle."""
        return self.vertices[self.faces]

    @property
    def centres(self) -> Floats:
        """(m, 3) float array [mm]: the centroid of every triangle."""
        centres: Floats = self.corners.mean(axis=1)
        return centres

    @cached_property
    def area_vectors(self) -> Floats:
        """(m, 3) float array [mm2]: outward normal times area of every triangle."""
        vectors = np.empty((len(self.faces), 3))
        for begin in range(0, len(self.faces), LOT):
            a, b, c = np.moveaxis(self.vertices[self.faces[begin : begin + LOT]], 1, 0)
            vectors[begin : begin + LOT] = np.cross(b - a, c - a) / 2
        return _fixed(vectors)

    @cached_property
    def areas(self) -> Floats:
        """(m,) float array [mm2]."""
        return _fixed(np.linalg.norm(self.area_vectors, axis=1))

    @cached_property
    def normals(self) -> Floats:
        """(m, 3) float array [-]: unit normals, zero for a triangle without area."""
        return _fixed(self.area_vectors / np.where(self.areas > 0, self.areas, 1.0)[:, None])

    @property
    def area_mm2(self) -> float:
        """Surface."""
        return float(self.areas.sum())

    @cached_property
    def volume_mm3(self) -> float:
        """Enclosed volume by the divergence theorem, about the first vertex; meaningless for an open mesh."""
        if not len(self.faces):
            return 0.0
        a, b, c = np.moveaxis(self.corners - self.vertices[self.faces[0, 0]], 1, 0)
        return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)

    @cached_property
    def bounds(self) -> tuple[Floats, Floats]:
        """Lowest and highest corner, (3,) float arrays [mm]."""
        used = np.zeros(len(self.vertices), dtype=bool)
        used[self.faces] = True
        points = self.vertices if used.all() else self.vertices[used]
        return _fixed(points.min(axis=0)), _fixed(points.max(axis=0))

    @property
    def envelope_mm(self) -> tuple[float, float, float]:
        """Size along x, y, z."""
        low, high = self.bounds
        x, y, z = (high - low).tolist()
        return x, y, z

    def moved(self, transform: ArrayLike) -> "Mesh":
        """The mesh under a (3, 4) or (4, 4) rigid transform."""
        matrix = np.asarray(transform, dtype=np.float64)
        return Mesh(self.vertices @ matrix[:3, :3].T + matrix[:3, 3], self.faces)

    def scaled(self, factor: float) -> "Mesh":
        """The mesh with every coordinate multiplied."""
        return Mesh(self.vertices * factor, self.faces)


def _fixed(array: Floats) -> Floats:
    """The array, read-only."""
    array.setflags(write=False)
    return array


def joined(meshes: Sequence[Mesh]) -> Mesh:
    """Several meshes as one, nothing welded."""
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    return Mesh(
        np.vstack([np.zeros((0, 3)), *(mesh.vertices for mesh in meshes)]),
        np.vstack([np.zeros((0, 3), dtype=np.int64), *(mesh.faces + start for mesh, start in zip(meshes, starts, strict=False))]),
    )
