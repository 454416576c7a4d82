"""A mesh made ready to be looked at: corners joined where it is smooth, its edges with what lies on either side."""

from dataclasses import dataclass, field
from math import cos, radians
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pourwell.geometry.mesh import Floats, Ints, Mesh

Mask = NDArray[np.bool_]

CREASE_DEG: Final = 30.0
"""Faces that meet at more are an edge to the eye: values and normals are not blended over it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edges:
    """The edges of a mesh.

    Attributes
    ----------
    ends : (e, 2) int array, vertices
    opposite : (e, 2) int array, the third vertex of the triangle on either side; -1 twice where not just two triangles meet
    sharp : (e,) bool array: a crease, a rim, or an edge of more than two triangles
    hollow : (e,) bool array: the surface turns inward there, so that where it folds out of sight it hides the edge itself
    faulty : (e,) bool array: what no closed solid has: a rim, an edge of more than two triangles, or one whose sides disagree
    """

    ends: Ints
    opposite: Ints
    sharp: Mask
    hollow: Mask
    faulty: Mask

    def __post_init__(self) -> None:
        for array in (self.ends, self.opposite, self.sharp, self.hollow, self.faulty):
            array.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """A mesh with its corners joined where the surface is smooth and parted along creases.

    Attributes
    ----------
    mesh : the triangles [mm]
    normals : (m, 3) float array [-], of the triangles
    areas : (m,) float array [mm2], of the triangles
    points : (k, 3) float array [mm], the vertices that triangles use
    joint : (m, 3) int array, for every corner of every triangle the smooth joint that it belongs to
    leaning : (m, 3, 3) float array [-], normals at corners, blended over the joints; not of length one
    edges : its edges
    crossing_mm : (l, 2, 3) float array [mm], lines along which it is known to cross itself, from end to end
    """

    mesh: Mesh
    normals: Floats
    areas: Floats
    points: Floats
    joint: Ints
    leaning: Floats
    edges: Edges
    crossing_mm: Floats = field(default_factory=lambda: np.empty((0, 2, 3)))

    def blended(self, values: ArrayLike) -> Floats:
        """Values of triangles, (m,) or (m, k), as values of their corners, (m, 3) or (m, 3, k): area-weighted means at joints.

        What is not finite does not count; a joint that has nothing else is nan.
        """
        return _blended(self.joint, self.areas, np.asarray(values, dtype=np.float64))


def _blended(joint: Ints, areas: Floats, given: Floats) -> Floats:
    columns = given.reshape(len(given), -1)
    joints, weights = joint.ravel(), np.repeat(areas + np.finfo(float).tiny, 3)
    means = []
    for column in columns.T:
        known = np.repeat(np.isfinite(column), 3)
        if known.all():
            total, sums = np.bincount(joints, weights), np.bincount(joints, weights * np.repeat(column, 3))
        else:
            counted = np.where(known, weights, 0.0)
            total = np.bincount(joints, counted)
            sums = np.bincount(joints, counted * np.repeat(np.where(np.isfinite(column), column, 0.0), 3))
        means.append(np.where(total > 0, sums, np.nan) / np.where(total > 0, total, 1.0))
    spread: Floats = np.stack(means, axis=-1)[joint]
    return spread.reshape(len(given), 3, *given.shape[1:])


def smooth(mesh: Mesh) -> Surface:
    """Join the corners of triangles over every edge that is no crease."""
    sides = np.stack([mesh.faces, np.roll(mesh.faces, -1, axis=1)], axis=-1).reshape(-1, 2)
    one, other, lone = _met(sides)
    vectors = mesh.area_vectors
    areas = np.sqrt(np.einsum("ij,ij->i", vectors, vectors))
    normals = vectors / np.where(areas > 0, areas, 1.0)[:, None]
    same_way = sides[one, 0] == sides[other, 0]
    bend = np.einsum("ij,ij->i", normals[one // 3], normals[other // 3])
    level = bend > cos(radians(CREASE_DEG))
    joint = _joints(3 * len(mesh.faces), one[level], other[level], same_way=same_way[level])
    edges = _edges(mesh, one, other, lone=lone, bend=np.where(same_way, -bend, bend), normals=normals, sides=sides)
    used = np.zeros(len(mesh.vertices), dtype=bool)
    used[mesh.faces] = True
    return Surface(
        mesh=mesh,
        normals=normals,
        areas=areas,
        points=mesh.vertices[used],
        joint=joint,
        leaning=_blended(joint, areas, normals),
        edges=edges,
    )


def _met(sides: Ints) -> tuple[Ints, Ints, Ints]:
    """The edges of two triangles, by their corners in either; then those of one or of more, by the corner in the first."""
    low, high = sides.min(axis=1), sides.max(axis=1)
    keys = low * (int(sides.max(initial=0)) + 1) + high
    order = np.argsort(keys, kind="stable")
    first = np.flatnonzero(np.diff(keys[order], prepend=-1))
    count = np.diff(np.append(first, len(keys)))
    return order[first[count == 2]], order[first[count == 2] + 1], order[first[count != 2]]


def _edges(mesh: Mesh, one: Ints, other: Ints, *, lone: Ints, bend: Floats, normals: Floats, sides: Ints) -> Edges:
    """Edges between two triangles, given by their corners in either, `bend` the cosine between their normals; then the others."""
    third = mesh.faces.ravel()
    opposite = np.column_stack([third[_after(_after(one))], third[_after(_after(other))]])
    flat = ~normals[one // 3].any(axis=1) | ~normals[other // 3].any(axis=1)
    over = np.einsum("ij,ij->i", normals[one // 3], mesh.vertices[opposite[:, 1]] - mesh.vertices[sides[one, 0]])
    same_way = sides[one, 0] == sides[other, 0]
    hollow = ((over > 0) == (mesh.volume_mm3 >= 0)) & (over != 0) & ~same_way & ~flat
    return Edges(
        ends=np.concatenate([sides[one], sides[lone]]),
        opposite=np.concatenate([opposite, np.full((len(lone), 2), -1)]),
        sharp=np.concatenate([(bend < cos(radians(CREASE_DEG))) & ~flat, np.ones(len(lone), dtype=bool)]),
        hollow=np.concatenate([hollow, np.zeros(len(lone), dtype=bool)]),
        faulty=np.concatenate([same_way, np.ones(len(lone), dtype=bool)]),
    )


def _joints(size: int, one: Ints, other: Ints, *, same_way: Mask) -> Ints:
    """(m, 3): corners are one joint if a chain of smooth edges links them; an edge is given by its corner in either triangle."""
    kind = np.int32 if size < 2**31 else np.int64  # half as long, where there may be millions
    rows, columns = np.empty(2 * len(one), dtype=kind), np.empty(2 * len(one), dtype=kind)
    rows[: len(one)], rows[len(one) :] = one, _after(one)
    columns[: len(one)] = np.where(same_way, other, _after(other))
    columns[len(one) :] = np.where(same_way, _after(other), other)
    links = coo_matrix((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(size, size))
    joint: Ints = connected_components(links, directed=False)[1].astype(np.int64).reshape(-1, 3)
    return joint


def _after(corner: Ints) -> Ints:
    """The following corner of the same triangle; corners are numbered 3 face + k."""
    return np.where(corner % 3 == 2, corner - 2, corner + 1)
