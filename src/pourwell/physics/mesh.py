"""What the solver works on: cells with a volume and a substance, faces between them, and faces to the outside. SI.

A mesh may come from the octree (`grid.py`) or from anything else that has cells and faces: a line, a ring's cross-section.
"""

from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Bytes = NDArray[np.int8]

MOULD: Final = 0
METAL: Final = 1
WALL: Final = 2
"""What a cell is made of; the number is its place among the substances."""
SIDE: Final = 0
BELOW: Final = 1
ABOVE: Final = 2
"""Faces of the flask: round it, under it, and the open one with the button."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """Cells and faces. All arrays are closed to writing."""

    volume: Floats
    """(n,) [m3]."""
    kind: Bytes
    """(n,) MOULD, METAL or WALL."""
    centre: Floats
    """(n, 3) [m]."""
    level: Bytes
    """(n,) how many times a cell is doubled from the smallest."""
    index: Ints
    """(n, 3) place of a cell in the lattice of its own level; used to put cells together for the coarser levels."""
    body: Ints
    """(n,) which body a metal cell belongs to; -1 in the mould."""
    first: Ints
    second: Ints
    """(m,) cells on both sides of each face."""
    area: Floats
    """(m,) [m2] of the face, square to the line along which heat goes."""
    near: Floats
    far: Floats
    """(m,) distance from the face to the first and to the second cell [m]."""
    outer_cell: Ints
    """(b,) cells with a face to the outside."""
    outer_area: Floats
    """(b,) [m2]."""
    outer_depth: Floats
    """(b,) distance from the cell to that face [m]."""
    outer_face: Bytes
    """(b,) SIDE, BELOW or ABOVE."""

    def __post_init__(self) -> None:
        """Close the arrays to writing."""
        for field in fields(self):
            getattr(self, field.name).setflags(write=False)

    @property
    def metal(self) -> Ints:
        """(q,) the metal cells."""
        return np.flatnonzero(self.kind == METAL).astype(np.int32)

    def nearest(self, place: ArrayLike) -> int:
        """The cell whose middle is nearest to a place (3,) [m]; of a wall and the mould behind it, which share it, the mould."""
        return int(np.argmin(((self.centre - np.asarray(place)) ** 2).sum(axis=1)))

    @property
    def smallest(self) -> float:
        """Edge of the smallest cell that a body or the mould has kept whole, by volume [m]."""
        return float(np.cbrt(np.median(self.volume[self.level == self.level.min()])))


def with_wall(mesh: Mesh, thickness: float) -> Mesh:
    """The same mesh with a steel wall round its side: one cell behind each face, thin enough to have one temperature [m].

    Heat along the wall is neglected: 2 mm of steel carry less than a centimetre of mould behind it.
    """
    lateral = np.flatnonzero(mesh.outer_face == SIDE)
    count, n = lateral.size, mesh.volume.size
    if not count:
        return mesh
    cells, area = mesh.outer_cell[lateral], mesh.outer_area[lateral]
    wall = np.arange(n, n + count, dtype=np.int32)
    outer_cell, outer_depth = mesh.outer_cell.copy(), mesh.outer_depth.copy()
    outer_cell[lateral], outer_depth[lateral] = wall, 0.5 * thickness
    return replace(
        mesh,
        volume=np.concatenate([mesh.volume, area * thickness]),
        kind=np.concatenate([mesh.kind, np.full(count, WALL, dtype=np.int8)]),
        centre=np.concatenate([mesh.centre, mesh.centre[cells]]),
        level=np.concatenate([mesh.level, mesh.level[cells]]),
        index=np.concatenate([mesh.index, mesh.index[cells]]),
        body=np.concatenate([mesh.body, np.full(count, -1, dtype=np.int32)]),
        first=np.concatenate([mesh.first, cells]),
        second=np.concatenate([mesh.second, wall]),
        area=np.concatenate([mesh.area, area]),
        near=np.concatenate([mesh.near, mesh.outer_depth[lateral]]),
        far=np.concatenate([mesh.far, np.full(count, 0.5 * thickness)]),
        outer_cell=outer_cell,
        outer_depth=outer_depth,
    )
