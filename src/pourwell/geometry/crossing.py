"""Where a surface crosses itself, and what volume a closed one counts twice by that [mm].

Where: by all pairs of triangles of which one passes through the other, decided exactly, so that neither the place of the piece in
its file nor the numbering of its triangles matters. How much: two formulas for the volume of a mesh agree even where it overlaps
itself, for both count such places twice. A ray tells: going through, it is once inside after it went in once, twice inside after
it went in twice.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.geometry.kernels.crossings import crossing_pairs
from pourwell.geometry.kernels.tree import tree_order
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.rays import Caster

RAYS_ACROSS: Final = 100
"""Rays along the longer side of the grid: a grid cell is a hundredth of the piece."""

MOST_HITS: Final = 200
"""Surfaces that one ray goes through, at most."""

MOST_PAIRS: Final = 200_000
"""Crossing pairs after which the search ends: such a mesh is a tangle, and its places are told well enough."""

TOUCHES: Final = 1e-9
"""By this share of a triangle's own area a side may pass beside it and still end a stretch: the rounding of double precision."""

ROUNDING_SHARE: Final = 1e-5
"""Triangles that reach through each other by less than this share of the largest side do not count: files that store single
precision or six digits round no finer, and lay sheets that only touch so far into one another."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crossings:
    """Pairs of triangles that pass through each other."""

    pairs: Ints
    """(k, 2) triangles."""
    at_mm: Floats
    """(k, 3) float array [mm]: where they cross."""
    depth_mm: Floats
    """(k,) float array [mm]: how far they reach through each other."""

    def __len__(self) -> int:
        return len(self.pairs)


def crossings(mesh: Mesh, *, least_mm: float | None = None) -> Crossings:
    """The pairs of triangles of a mesh that pass through each other; those that only touch do not.

    Parameters
    ----------
    mesh : any triangles [mm], equal corners welded
    least_mm : how far they must reach through each other [mm]; by default 1e-5 of the largest side, 0 for every pair
    """
    if len(mesh.faces) < 2:
        return Crossings(pairs=np.zeros((0, 2), dtype=np.int64), at_mm=np.zeros((0, 3)), depth_mm=np.zeros(0))
    least = ROUNDING_SHARE * max(mesh.envelope_mm) if least_mm is None else least_mm
    middle = np.mean(mesh.bounds, axis=0)
    pairs, places = crossing_pairs(mesh.vertices, mesh.faces, (tree_order(mesh.centres - middle), MOST_PAIRS))
    deep = places[:, 3] >= least
    return Crossings(pairs=pairs[deep], at_mm=places[deep, :3], depth_mm=places[deep, 3])


def crossing_lines(mesh: Mesh, pairs: Ints) -> Floats:
    """The stretches along which triangles pass through each other, from end to end: (l, 2, 3) float array [mm], l at most k.

    Parameters
    ----------
    mesh : any triangles [mm]
    pairs : (k, 2) int array, as `crossings` finds them
    """
    one, two = mesh.corners[pairs[:, 0]], mesh.corners[pairs[:, 1]]
    along = np.cross(mesh.normals[pairs[:, 0]], mesh.normals[pairs[:, 1]])
    found = [_through(one, two), _through(two, one)]
    points = np.concatenate([points for points, _ in found], axis=1)
    there = np.concatenate([there for _, there in found], axis=1)
    place = np.einsum("ijk,ik->ij", points, along)
    first, last = np.argmin(np.where(there, place, np.inf), axis=1), np.argmax(np.where(there, place, -np.inf), axis=1)
    row = np.arange(len(pairs))
    ends = np.stack((points[row, first], points[row, last]), axis=1)
    lines: Floats = ends[there.sum(axis=1) > 1]
    return lines


def _through(sides: Floats, faces: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Where the sides of triangles, (k, 3, 3), pass through as many other ones: places, (k, 3, 3), and whether they do, (k, 3)."""
    edges = np.roll(faces, -1, axis=1) - faces
    normal = np.cross(edges[:, 0], edges[:, 1])
    height = np.einsum("ijk,ik->ij", sides - faces[:, :1], normal)
    after = np.roll(height, -1, axis=1)
    fall = height - after
    share = np.where(fall != 0, height / np.where(fall != 0, fall, 1.0), 0.0)
    points = sides + share[..., None] * (np.roll(sides, -1, axis=1) - sides)
    away = points[:, :, None] - faces[:, None]
    turn = np.einsum("ijmk,ik->ijm", np.cross(edges[:, None], away), normal)
    least = -TOUCHES * np.einsum("ij,ij->i", normal, normal)[:, None, None]
    return points, (height * after <= 0) & (fall != 0) & (turn >= least).all(axis=2)


def doubled_mm3(mesh: Mesh, caster: Caster | None = None) -> float:
    """The volume that a closed mesh counts wrongly, by parallel rays along its shortest side.

    Metal that lies twice within the surface is counted more than once; what lies within a part that is turned inside out, as
    where a surface was pushed through the wall across it, is taken off instead of added.

    Returns
    -------
    [mm3], 0 for a surface that nowhere crosses itself; good to a few hundredths of it
    """
    rays = caster or Caster(mesh)
    low, high = mesh.bounds
    along = int(np.argmin(high - low))
    sides = [k for k in range(3) if k != along]
    spacing = float((high - low)[sides].max()) / RAYS_ACROSS
    lines = [np.arange(low[k] + spacing / 2, high[k], spacing) for k in sides]
    grid = np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, 2)
    origin = np.zeros((len(grid), 3))
    origin[:, sides] = grid
    origin[:, along] = low[along] - spacing
    heading = np.eye(3)[along]
    level = np.zeros(len(grid))
    face = np.full(len(grid), -1)
    normals = mesh.normals[:, along]
    doubled = 0.0
    for _ in range(MOST_HITS):
        length, met = rays.first(origin, heading, leaving=face)
        going = met >= 0
        if not going.any():
            break
        origin, level, face, length = origin[going], level[going], met[going], length[going]
        wrong = np.where(level < 0, -level, np.maximum(level - 1, 0))
        doubled += float((wrong * length).sum()) * spacing**2
        level -= np.sign(normals[face])
        origin = origin + heading * length[:, None]
    return doubled
