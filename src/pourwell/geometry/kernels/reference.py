"""The compiled loops once more, written to be read: numpy, no regard to speed. The tests hold each pair together.

What only other compiled loops call has its job done by the twin of the caller: `_square_to` by that of `leaf_frames`; `_part` by
`tree_order`; `_solid_angle` by `winding`; `_nearest_of`, `_ahead`, `_search`, `_side`, `_evaluate`, `_middle` and `_shells_near` by
`signed_distance`, the twin of `search_all`.
"""

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pourwell.geometry.kernels.tree import FAN, WIDTH
from pourwell.geometry.mesh import Floats, Ints


def mates(faces: Ints) -> Ints:
    """As `surface.mates` for a closed mesh: (3 m,) int, the half edge that runs against every half edge; -1 where there is none."""
    halves = [(int(t[k]), int(t[(k + 1) % 3])) for t in faces for k in range(3)]
    place = {half: number for number, half in enumerate(halves)}
    return np.array([place.get((b, a), -1) for a, b in halves])


def shells(mate: Ints) -> Ints:
    """As `surface.shells`: (m,) int, the shell of every triangle, in the order of first triangles."""
    count = len(mate) // 3
    graph = coo_matrix((np.ones(len(mate)), (np.arange(len(mate)) // 3, mate // 3)), shape=(count, count))
    _, first, label = np.unique(connected_components(graph, directed=False)[1], return_index=True, return_inverse=True)
    rank: Ints = np.argsort(np.argsort(first))
    return rank[label]


def corner_normals(points: Floats, faces: Ints) -> Floats:
    """As `surface.corner_normals` for a mesh without flat triangles and double cones: (n, 3), of length one."""
    total = np.zeros_like(points)
    for k in range(3):
        a, b, c = (points[faces[:, (k + i) % 3]] for i in range(3))
        u, v = b - a, c - a
        across = np.cross(u, v)
        length = np.linalg.norm(across, axis=1)
        angle = np.arccos(np.einsum("ij,ij->i", u, v) / np.linalg.norm(u, axis=1) / np.linalg.norm(v, axis=1))
        np.add.at(total, faces[:, k], (angle / length)[:, None] * across)
    normal: Floats = total / np.linalg.norm(total, axis=1, keepdims=True)
    return normal


def tree_order(centres: Floats) -> Ints:
    """As `tree.tree_order`: (m,) int; within a leaf the order may differ."""

    def halved(rows: Ints, unit: int) -> list[Ints]:
        while len(rows) <= unit and unit > WIDTH:
            unit //= FAN
        parts = -(-len(rows) // unit)
        if parts < 2:
            return [rows]
        axis = int(np.argmax(np.ptp(centres[rows], axis=0)))
        rows = rows[np.argsort(centres[rows, axis])]
        middle = parts // 2 * unit
        return halved(rows[:middle], unit) + halved(rows[middle:], unit)

    unit = WIDTH
    while unit * FAN < len(centres):
        unit *= FAN
    return np.concatenate(halved(np.arange(len(centres)), unit))


def longest_first(points: Floats, faces: Ints) -> Ints:
    """As `leaves.longest_first`: (m, 3) int, faces turned so that their longest side comes first."""
    corners = points[faces]
    turn = np.argmax(np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2), axis=1)
    return np.take_along_axis(faces, (np.arange(3) + turn[:, None]) % 3, axis=1)


def leaf_frames(points: Floats, faces: Ints) -> Floats:
    """As `leaves.leaf_frames`, a row a triangle: (m, 14) float; for triangles that have an area."""
    a, b, c = np.moveaxis(points[faces], 1, 0)
    long = np.linalg.norm(b - a, axis=1)
    along = (b - a) / long[:, None]
    cx = np.einsum("ij,ij->i", c - a, along)
    rest = c - a - cx[:, None] * along
    cy = np.linalg.norm(rest, axis=1)
    return np.column_stack((a, along, rest / cy[:, None], long, cx, cy, 1 / ((cx - long) ** 2 + cy**2), 1 / (cx**2 + cy**2)))


def winding(corners: Floats, point: Floats) -> float:
    """As `winding.winding`, without dipoles: how often triangles, (m, 3, 3) [mm], wind round a point.

    Source: Van Oosterom and Strackee's formula for the solid angle of a triangle.
    """
    a, b, c = np.moveaxis(corners - point, 1, 0)
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    ab, bc, ca = (np.einsum("ij,ij->i", u, v) for u, v in ((a, b), (b, c), (c, a)))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c))
    return float(np.arctan2(volume, la * lb * lc + ab * lc + bc * la + ca * lb).sum() / (2 * np.pi))


def triangle_distances(corners: Floats, point: Floats) -> Floats:
    """(m,) float [mm]: from a point to triangles, (m, 3, 3) [mm]: to the plane where it falls within, else to the sides."""
    side = np.roll(corners, -1, axis=1) - corners
    offset = point - corners
    square = np.einsum("ijk,ijk->ij", side, side)
    share = np.clip(np.einsum("ijk,ijk->ij", offset, side) / np.where(square > 0, square, 1.0), 0.0, 1.0)
    rim = np.linalg.norm(offset - share[..., None] * side, axis=2).min(axis=1)
    normal = np.cross(side[:, 0], side[:, 1])
    length = np.linalg.norm(normal, axis=1)
    over = (np.einsum("ijk,ik->ij", np.cross(side, offset), normal) > 0).all(axis=1) & (length > 0)
    height = np.abs(np.einsum("ij,ij->i", offset[:, 0], normal)) / np.where(length > 0, length, 1.0)
    away: Floats = np.where(over, np.minimum(height, rim), rim)
    return away


def signed_distance(corners: Floats, point: Floats) -> float:
    """As `nearest.search_all` for one point and one solid, (m, 3, 3) [mm]: the side by the winding number alone."""
    away = float(triangle_distances(corners, point).min())
    return -away if winding(corners, point) > 0.5 else away
