"""A mesh as it is seen along a direction, one ray a pixel [mm]: what is hit, how it is lit, where lines run."""

from dataclasses import dataclass
from math import cos, radians
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.rays import Caster

Mask = NDArray[np.bool_]

CREASE_DEG: Final = 30.0
"""Faces that meet at more are an edge to the eye: values and normals are not blended over it."""

LIGHT: Final = (-0.45, 0.6, 0.66)
"""Where the soft key light stands: right, up, towards the viewer. Upper left, as drawings are lit."""

AMBIENT: Final = 0.35
"""Brightness of what the key light does not reach at all."""

JUMP_MM: Final = 0.15
"""A step in depth beyond the slope of both its sides that is drawn as a line."""

STEEP: Final = 0.02
"""Slopes are trusted up to this cosine between face and line of sight."""

JUMP_DARK, CREASE_DARK = 0.25, 0.6
"""What is left of the light on outlines and steps, and on edges."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """A mesh with its corners joined where the surface is smooth and parted along creases.

    Attributes
    ----------
    mesh : the triangles [mm]
    normals : (m, 3) float array [-], of the triangles
    areas : (m,) float array [mm2]
    points : (k, 3) float array [mm], the vertices that triangles use
    joint : (m, 3) int array, for every corner of every triangle the smooth joint that it belongs to
    """

    mesh: Mesh
    normals: Floats
    areas: Floats
    points: Floats
    joint: Ints

    def blended(self, values: ArrayLike) -> Floats:
        """Values of triangles, (m,) or (m, k), as values of their corners, (m, 3) or (m, 3, k): area-weighted means at joints."""
        given = np.asarray(values, dtype=np.float64)
        columns = given.reshape(len(given), -1)
        joints, weights = self.joint.ravel(), np.repeat(self.areas + np.finfo(float).tiny, 3)
        total = np.bincount(joints, weights)
        means = [np.bincount(joints, weights * np.repeat(column, 3)) / total for column in columns.T]
        spread: Floats = np.stack(means, axis=-1)[self.joint]
        return spread.reshape(len(given), 3, *given.shape[1:])


def smooth(mesh: Mesh) -> Surface:
    """Join the corners of triangles over every edge that is no crease."""
    sides = np.stack([mesh.faces, np.roll(mesh.faces, -1, axis=1)], axis=-1).reshape(-1, 2)
    low, high = sides.min(axis=1), sides.max(axis=1)
    keys = low * (int(mesh.faces.max(initial=0)) + 1) + high
    order = np.argsort(keys, kind="stable")
    pair = np.flatnonzero(keys[order][1:] == keys[order][:-1])
    one, other = order[pair], order[pair + 1]
    vectors = mesh.area_vectors
    areas = np.sqrt(np.einsum("ij,ij->i", vectors, vectors))
    normals = vectors / np.where(areas > 0, areas, 1.0)[:, None]
    smooth_edge = np.einsum("ij,ij->i", normals[one // 3], normals[other // 3]) > cos(radians(CREASE_DEG))
    one, other = one[smooth_edge], other[smooth_edge]
    same_way = sides[one, 0] == sides[other, 0]
    ends = []
    for end in (0, 1):
        mine = one if end == 0 else _next_corner(one)
        theirs = np.where(same_way == (end == 0), other, _next_corner(other))
        ends.append((mine, theirs))
    rows, columns = (np.concatenate(side) for side in zip(*ends, strict=True))
    size = 3 * len(mesh.faces)
    links = coo_matrix((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(size, size))
    joint = connected_components(links, directed=False)[1].astype(np.int64)
    used = np.zeros(len(mesh.vertices), dtype=bool)
    used[mesh.faces] = True
    return Surface(mesh=mesh, normals=normals, areas=areas, points=mesh.vertices[used], joint=joint.reshape(-1, 3))


def _next_corner(corner: Ints) -> Ints:
    """The following corner of the same triangle; corners are numbered 3 face + k."""
    return np.where(corner % 3 == 2, corner - 2, corner + 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """What an orthographic look at a mesh shows; row 0 is the upper edge.

    Attributes
    ----------
    axes : (3, 3) float array [-]: right, up, and towards the viewer
    middle : (3,) float array [mm], what lies in the picture's middle, half way through the mesh
    half_depth_mm : from there to the plane that depths are measured from, the mesh's nearest
    mm_per_px : size of a pixel
    hit : (h, w) bool array
    depth_mm : (h, w) float array, away from the viewer; inf where nothing is hit
    face : (h, w) int array, -1 where nothing is hit
    weights : (k, 3) float array [-], of the face's three corners, for the k pixels that are hit, row by row
    light : (h, w) float array [-], 0 to 1: how the soft key light falls; 1 where nothing is hit
    jump : (h, w) bool array: outlines and steps in depth, on the nearer side
    crease : (h, w) bool array: edges of the visible surface
    """

    axes: Floats
    middle: Floats
    half_depth_mm: float
    mm_per_px: float
    hit: Mask
    depth_mm: Floats
    face: Ints
    weights: Floats
    light: Floats
    jump: Mask
    crease: Mask

    def __post_init__(self) -> None:
        for name in ("axes", "middle", "hit", "depth_mm", "face", "weights", "light", "jump", "crease"):
            getattr(self, name).setflags(write=False)

    @property
    def shade(self) -> Floats:
        """(h, w) float array [-], 0 black to 1 white: the light, darkened at lines, so that it reads in one ink."""
        shade: Floats = self.light * np.where(self.crease, CREASE_DARK, 1.0) * np.where(self.jump, JUMP_DARK, 1.0)
        return shade

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        rows, columns = self.hit.shape
        return rows, columns

    def place(self, points: ArrayLike) -> Floats:
        """(k, 2) float array [px]: column and row of points, (k, 3) [mm]; a pixel's middle is at its number and a half."""
        across = (np.atleast_2d(np.asarray(points, dtype=np.float64)) - self.middle) @ self.axes[:2].T / self.mm_per_px
        rows, columns = self.shape
        return np.column_stack([columns / 2 + across[:, 0], rows / 2 - across[:, 1]])

    def depths(self, points: ArrayLike) -> Floats:
        """(k,) float array [mm]: depth of points, (k, 3) [mm], whether they are seen or not."""
        across = np.atleast_2d(np.asarray(points, dtype=np.float64)) - self.middle
        depths: Floats = self.half_depth_mm - across @ self.axes[2]
        return depths

    @property
    def places(self) -> Floats:
        """(k, 3) float array [mm]: where the k pixels that are hit see the mesh, row by row."""
        rows, columns = np.nonzero(self.hit)
        right = (columns + 0.5 - self.shape[1] / 2) * self.mm_per_px
        upward = (self.shape[0] / 2 - rows - 0.5) * self.mm_per_px
        towards = self.half_depth_mm - self.depth_mm[self.hit]
        places: Floats = self.middle + np.column_stack([right, upward, towards]) @ self.axes
        return places

    def seen(self, corner_values: Floats) -> Floats:
        """(h, w) or (h, w, k) float array: values of corners, (m, 3) or (m, 3, k), at every pixel; nan where nothing is hit."""
        out = np.full((*self.shape, *corner_values.shape[2:]), np.nan)
        out[self.hit] = np.einsum("ij,ij...->i...", self.weights, corner_values[self.face[self.hit]])
        return out


def look(
    mesh: Mesh,
    direction: ArrayLike,
    up: ArrayLike,
    *,
    width_px: int,
    height_px: int | None = None,
    mm_per_px: float,
    caster: Caster | None = None,
    surface: Surface | None = None,
) -> Picture:
    """Look at a mesh from far away; the middle of its extent lies in the picture's middle.

    Parameters
    ----------
    mesh : triangles [mm]
    direction : (3,) float array [-], from the viewer to the mesh, of any length but zero
    up : (3,) float array [-], what shall point up; need not be upright to `direction`, but not along it
    width_px, height_px : size of the picture; square if only the width is given
    mm_per_px : size of a pixel
    caster, surface : of the same mesh, if made already

    Raises
    ------
    ValueError if `up` lies along `direction`.
    """
    axes = view_axes(direction, up)
    skin = surface or smooth(mesh)
    rows, columns = height_px or width_px, width_px
    across = axes @ skin.points.T
    low, high = across.min(axis=1), across.max(axis=1)
    middle = axes.T @ ((low + high) / 2)
    depth_of_all = float(high[2] - low[2])
    lift_mm = depth_of_all / 2 + 1.0
    origins = middle + axes[2] * lift_mm + _pixels(rows, columns, axes=axes, mm_per_px=mm_per_px)
    distance, face = (caster or Caster(mesh)).first(origins, -axes[2])
    seen = np.flatnonzero(face >= 0)
    met = face[seen]
    weights = barycentric(mesh, met, origins[seen] - axes[2] * distance[seen, None])
    leaning = np.einsum("ij,ijk->ik", weights, skin.blended(skin.normals)[met]) @ axes.T
    normals = leaning / np.maximum(np.sqrt(np.einsum("ij,ij->i", leaning, leaning)), np.finfo(float).tiny)[:, None]
    facing = skin.normals[met] @ axes.T
    slopes = facing[:, :2] / np.maximum(facing[:, 2:], STEEP)
    hit = (face >= 0).reshape(rows, columns)
    jump, crease = _drawn(hit, distance[seen], normals, slopes=slopes * mm_per_px)
    light = np.ones(rows * columns)
    light[seen] = _light(normals)
    return Picture(
        axes=axes,
        middle=middle,
        half_depth_mm=depth_of_all / 2,
        mm_per_px=mm_per_px,
        hit=hit,
        depth_mm=(distance + depth_of_all / 2 - lift_mm).reshape(rows, columns),
        face=face.reshape(rows, columns),
        weights=weights,
        light=light.reshape(rows, columns),
        jump=jump,
        crease=crease & ~jump,
    )


def _pixels(rows: int, columns: int, *, axes: Floats, mm_per_px: float) -> Floats:
    """(h w, 3) float array [mm]: the middles of pixels about the picture's middle, row by row from the upper edge."""
    right = (np.arange(columns) + 0.5 - columns / 2) * mm_per_px
    upward = (rows / 2 - np.arange(rows) - 0.5) * mm_per_px
    middles: Floats = (upward[:, None, None] * axes[1] + right[:, None] * axes[0]).reshape(-1, 3)
    return middles


def view_axes(direction: ArrayLike, up: ArrayLike) -> Floats:
    """(3, 3) float array [-]: right, up and towards the viewer, for a look along `direction`."""
    towards = -np.asarray(direction, dtype=np.float64)
    towards = towards / np.linalg.norm(towards)
    right = np.cross(np.asarray(up, dtype=np.float64), towards)
    length = np.linalg.norm(right)
    if not length > 1e-9:
        raise ValueError("A picture needs an upward direction that does not lie along the line of sight.")
    right = right / length
    return np.array([right, np.cross(towards, right), towards])


def barycentric(mesh: Mesh, face: Ints, points: Floats) -> Floats:
    """(k, 3) float array [-]: weights of a face's corners at points on it, (k, 3) [mm]; even for a face without area."""
    a, b, c = np.moveaxis(mesh.vertices[mesh.faces[face]], 1, 0)
    ab, ac, ap = b - a, c - a, points - a
    bb, bc, cc = (np.einsum("ij,ij->i", p, q) for p, q in ((ab, ab), (ab, ac), (ac, ac)))
    pb, pc = np.einsum("ij,ij->i", ap, ab), np.einsum("ij,ij->i", ap, ac)
    size = bb * cc - bc * bc
    safe = np.where(size > 0, size, 1.0)
    v, w = (cc * pb - bc * pc) / safe, (bb * pc - bc * pb) / safe
    weights = np.clip(np.column_stack([1 - v - w, v, w]), 0, 1)
    weights[size <= 0] = 1 / 3
    whole: Floats = weights / weights.sum(axis=1, keepdims=True)
    return whole


def _drawn(hit: Mask, depth: Floats, normals: Floats, *, slopes: Floats) -> tuple[Mask, Mask]:
    """Where lines run.

    Parameters
    ----------
    hit : (h, w) bool array
    depth, normals : (k,) [mm] and (k, 3) of the k pixels hit, row by row, right, up and towards the viewer
    slopes : (k, 2), by how much depth grows from a pixel to its right and its upper neighbour on the face hit [mm]

    Returns
    -------
    jump : (h, w), the nearer side of outlines and of steps in depth that the slopes of both sides do not explain
    crease : (h, w), pixels whose right or lower neighbour looks another way
    """
    rows, columns = hit.shape
    flat, jump, crease = hit.ravel(), np.zeros(hit.size, dtype=bool), np.zeros(hit.size, dtype=bool)
    slot = np.cumsum(flat) - 1
    cells = np.arange(hit.size).reshape(rows, columns)
    for one, two, slope in (
        (cells[:, :-1].ravel(), cells[:, 1:].ravel(), slopes[:, 0]),
        (cells[:-1].ravel(), cells[1:].ravel(), -slopes[:, 1]),
    ):
        edge = flat[one] != flat[two]
        jump[np.where(flat[one[edge]], one[edge], two[edge])] = True
        both = flat[one] & flat[two]
        one, two = one[both], two[both]
        a, b = slot[one], slot[two]
        step, told, also = depth[b] - depth[a], slope[a], slope[b]
        apart = (step < np.minimum(told, also) - JUMP_MM) | (step > np.maximum(told, also) + JUMP_MM)
        jump[np.where(step[apart] > 0, one[apart], two[apart])] = True
        crease[one[np.einsum("ij,ij->i", normals[a], normals[b]) < cos(radians(CREASE_DEG))]] = True
    return jump.reshape(rows, columns), crease.reshape(rows, columns)


def _light(normals: Floats) -> Floats:
    """Brightness under the key light of normals (right, up, towards), wrapped half round so that nothing falls into black."""
    key: Floats = np.asarray(LIGHT) / np.linalg.norm(LIGHT)
    lit: Floats = AMBIENT + (1 - AMBIENT) * (0.5 + 0.5 * (normals @ key)) ** 2
    return lit
