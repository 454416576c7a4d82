"""The smallest distance between two solids, exact between their triangles [mm].

The mesh engine's own gap grows with the number of triangle pairs within reach: seconds for two rings of 20,000 triangles that
lie 3 mm apart. Here bounding spheres and the nearest corners leave a few hundred pairs, which are measured in one go.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from pourwell.geometry.mesh import Floats, Ints, Mesh

BATCH: Final = 2048
"""Pairs measured at a time; between batches, pairs that can no longer be the nearest are dropped."""

TINY: Final = float(np.finfo(np.float64).tiny)

PARALLEL: Final = 1e-12
"""Two sides whose squared sine is less than this are taken for parallel: any common normal serves."""

SIDES: Final = ((0, 1), (1, 2), (2, 0))


def box_gap_mm(a: tuple[Floats, Floats], b: tuple[Floats, Floats]) -> float:
    """Distance between two boxes, each its lowest and highest corner [mm]; never more than that of what they hold."""
    return float(np.linalg.norm(np.maximum(np.maximum(a[0] - b[1], b[0] - a[1]), 0.0)))


def gap_mm(a: Mesh, b: Mesh, *, search_mm: float) -> float:
    """The smallest distance between two solids; 0 where they touch, cross or one holds the other.

    Parameters
    ----------
    a, b : closed solids [mm]
    search_mm : how far to look [mm]; the smaller, the faster

    Returns
    -------
    [mm], exact between triangles; infinity where they are further apart than `search_mm`.
    """
    if not len(a.faces) or not len(b.faces):
        return float("inf")
    boxes = a.bounds, b.bounds
    if box_gap_mm(*boxes) > search_mm:
        return float("inf")
    if _within(boxes[0], boxes[1]) and holds(b, a.vertices[a.faces[0, 0]]):
        return 0.0
    if _within(boxes[1], boxes[0]) and holds(a, b.vertices[b.faces[0, 0]]):
        return 0.0
    first, second = _near_box(a.corners, boxes[1], search_mm), _near_box(b.corners, boxes[0], search_mm)
    if not len(first) or not len(second):
        return float("inf")
    reach = np.nextafter(search_mm, np.inf)
    reach = min(reach, _corner_gap(first, second, reach))
    for i, j, least in _pairs(first, second, reach):
        order = np.argsort(least, kind="stable")
        for start in range(0, len(order), BATCH):
            batch = order[start : start + BATCH]
            batch = batch[least[batch] < reach]
            if not len(batch):
                break
            p, q = first[i[batch]], second[j[batch]]
            able = _slab(p, q) < reach
            if able.any():
                reach = min(reach, float(triangle_gaps(p[able], q[able]).min()))
    return reach if reach <= search_mm else float("inf")


def holds(mesh: Mesh, point: Floats) -> bool:
    """Does a closed solid hold a point: the solid angle of its triangles seen from there is a whole sphere, not nothing.

    Source: Van Oosterom and Strackee's formula for the solid angle of a triangle.
    """
    a, b, c = np.moveaxis(mesh.corners - point, 1, 0)
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c))
    dots = [np.einsum("ij,ij->i", u, v) for u, v in ((a, b), (b, c), (c, a))]
    angle = 2 * np.arctan2(volume, la * lb * lc + dots[0] * lc + dots[1] * la + dots[2] * lb)
    return bool(angle.sum() > 2 * np.pi)


def nearest_point(mesh: Mesh, point: Floats) -> tuple[Floats, int]:
    """The point of a surface that lies nearest to a given one.

    Parameters
    ----------
    point : (3,) float array [mm]

    Returns
    -------
    point : (3,) float array [mm]
    face : the triangle that it lies on
    """
    corners = mesh.corners
    sides = np.roll(corners, -1, axis=1) - corners
    along = np.einsum("ijk,ijk->ij", point - corners, sides) / np.maximum(np.einsum("ijk,ijk->ij", sides, sides), TINY)
    feet = corners + sides * np.clip(along, 0, 1)[..., None]
    normals = mesh.normals
    over = point - normals * np.einsum("ij,ij->i", point - corners[:, 0], normals)[:, None]
    turns = np.einsum("ijk,ik->ij", np.cross(sides, over[:, None] - corners), normals)
    inside = (turns >= 0).all(axis=1) & (mesh.areas > 0)
    tries = np.concatenate((feet, np.where(inside[:, None], over, feet[:, 0])[:, None]), axis=1)
    face, which = divmod(int(np.argmin(np.linalg.norm(tries - point, axis=2))), tries.shape[1])
    return tries[face, which], face


def _within(inner: tuple[Floats, Floats], outer: tuple[Floats, Floats]) -> bool:
    return bool((inner[0] >= outer[0]).all() and (inner[1] <= outer[1]).all())


def _near_box(corners: Floats, box: tuple[Floats, Floats], reach_mm: float) -> Floats:
    """The triangles whose own boxes come within reach of a box."""
    low, high = corners.min(axis=1), corners.max(axis=1)
    away = np.maximum(np.maximum(box[0] - high, low - box[1]), 0.0)
    near: Floats = corners[np.einsum("ij,ij->i", away, away) <= reach_mm**2]
    return near


def _corner_gap(first: Floats, second: Floats, reach_mm: float) -> float:
    """Distance between the nearest corners: never less than the gap."""
    p, q = np.unique(first.reshape(-1, 3), axis=0), np.unique(second.reshape(-1, 3), axis=0)
    if len(p) > len(q):
        p, q = q, p
    return float(cKDTree(q).query(p, distance_upper_bound=reach_mm)[0].min())


def _pairs(first: Floats, second: Floats, reach_mm: float) -> Iterator[tuple[Ints, Ints, Floats]]:
    """Pairs of triangles whose bounding spheres come within reach, small triangles first, with the spheres' gap."""
    sets = [_by_size(corners) for corners in (first, second)]
    for p, pc, pr in sets[0]:
        for q, qc, qr in sets[1]:
            reach = reach_mm + pr.max() + qr.max()
            near = cKDTree(pc).sparse_distance_matrix(cKDTree(qc), reach, output_type="coo_matrix")
            i, j = near.row, near.col
            least = np.maximum(near.data - pr[i] - qr[j], 0.0)
            close = least < reach_mm
            yield p[i[close]], q[j[close]], least[close]


def _by_size(corners: Floats) -> list[tuple[Ints, Floats, Floats]]:
    """Triangles by the size of their bounding spheres, each class twice the one before: numbers, middles, radii."""
    middles = corners.mean(axis=1)
    radii = np.linalg.norm(corners - middles[:, None], axis=2).max(axis=1)
    sizes = np.floor(np.log2(np.maximum(radii, TINY)))
    groups = [np.flatnonzero(sizes == size) for size in np.unique(sizes)]
    return [(group, middles[group], radii[group]) for group in groups]


def _slab(p: Floats, q: Floats) -> Floats:
    """Distance between pairs of triangles along the line of their middles: never more than their gap. (k,) [mm]."""
    way = q.mean(axis=1) - p.mean(axis=1)
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), TINY)
    slab: Floats = np.einsum("ijk,ik->ij", q, way).min(axis=1) - np.einsum("ijk,ik->ij", p, way).max(axis=1)
    return slab


def triangle_gaps(p: Floats, q: Floats) -> Floats:
    """Distances between pairs of triangles, 0 where they touch or cross.

    Parameters
    ----------
    p, q : (k, 3, 3) float arrays [mm], corners

    Returns
    -------
    (k,) float array [mm]

    Source: definition: the nearest points lie on two sides, or on a corner and inside the other triangle, unless a side
    of one passes through the other.
    """
    least = _side_gaps(p, q)
    for corners, face in ((p, q), (q, p)):
        least = np.minimum(least, _face_gaps(corners, face))
    return np.sqrt(least)


def _side_gaps(p: Floats, q: Floats) -> Floats:
    """Squared distances between the nearest sides of pairs of triangles, (k,) [mm2]."""
    u = (np.roll(p, -1, axis=1) - p)[:, :, None]
    v = (np.roll(q, -1, axis=1) - q)[:, None]
    w = p[:, :, None] - q[:, None]
    uu, vv, uv = (np.einsum("...k,...k->...", x, y) for x, y in ((u, u), (v, v), (u, v)))
    uw, vw = (np.einsum("...k,...k->...", x, w) for x in (u, v))
    sine = uu * vv - uv**2
    s = np.where(sine > PARALLEL * uu * vv, np.clip((uv * vw - vv * uw) / np.maximum(sine, TINY), 0, 1), 0.0)
    t = np.clip((uv * s + vw) / np.maximum(vv, TINY), 0, 1)
    s = np.clip((uv * t - uw) / np.maximum(uu, TINY), 0, 1)
    apart = w + s[..., None] * u - t[..., None] * v
    gaps: Floats = np.einsum("...k,...k->...", apart, apart).reshape(len(p), 9).min(axis=1)
    return gaps


def _face_gaps(corners: Floats, face: Floats) -> Floats:
    """Squared distances of corners that stand over the other triangle, 0 where a side passes through it, else infinity."""
    sides = np.roll(face, -1, axis=1) - face
    normal = np.cross(sides[:, 0], sides[:, 1])
    length = np.einsum("ij,ij->i", normal, normal)
    flat = length > TINY
    height = np.einsum("ijk,ik->ij", corners - face[:, None, 0], normal)
    best = np.full(len(corners), np.inf)

    def over(points: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        away = points[:, None] - face
        turn = np.einsum("ijk,ik->ij", np.cross(sides, away), normal)
        inside: np.ndarray[tuple[int], np.dtype[np.bool_]] = flat & (turn >= 0).all(axis=1)
        return inside

    for k in range(3):
        stands = over(corners[:, k])
        best[stands] = np.minimum(best[stands], height[stands, k] ** 2 / length[stands])
    for k, m in SIDES:
        crossing = height[:, k] * height[:, m] <= 0
        fall = height[:, k] - height[:, m]
        share = np.where(fall != 0, height[:, k] / np.where(fall != 0, fall, 1.0), 0.0)
        point = corners[:, k] + share[:, None] * (corners[:, m] - corners[:, k])
        best[crossing & (fall != 0) & over(point)] = 0.0
    return best
