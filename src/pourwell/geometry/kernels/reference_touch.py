"""The compiled loops of `touch` once more, written to be read: numpy, all triangles, no regard to speed.

What `_shrunk` and `_stops` do is within `touch`, what `_corner_angle` does within `smooth_normals`.
"""

import numpy as np

from pourwell.geometry.kernels.touch import FLATTEST, JOINED, MOST_TURNS, SETTLED, SMOOTH
from pourwell.geometry.mesh import Floats, Ints, Mesh


def feet(corners: Floats, point: Floats) -> Floats:
    """As `touch.foot` for all triangles, (m, 3, 3) [mm]: where each comes nearest to a point, (m, 3) [mm]."""
    sides = np.roll(corners, -1, axis=1) - corners
    offset = point - corners
    square = np.einsum("ijk,ijk->ij", sides, sides)
    share = np.clip(np.einsum("ijk,ijk->ij", offset, sides) / np.where(square > 0, square, 1.0), 0.0, 1.0)
    on_sides = corners + share[..., None] * sides
    normal = np.cross(sides[:, 0], sides[:, 1])
    size = np.einsum("ij,ij->i", normal, normal)
    over = (np.einsum("ijk,ik->ij", np.cross(sides, offset), normal) > 0).all(axis=1) & (size > 0)
    height = np.einsum("ij,ij->i", offset[:, 0], normal) / np.where(size > 0, size, 1.0)
    nearest = on_sides[np.arange(len(corners)), np.argmin(np.linalg.norm(point - on_sides, axis=2), axis=1)]
    found: Floats = np.where(over[:, None], point - height[:, None] * normal, nearest)
    return found


def touch(mesh: Mesh, point: Floats, way: Floats, *, side: float, most_mm: float) -> tuple[float, int]:
    """As `touch.touch_all` for one point: the ball's radius [mm] and the triangle that stops it, -1 where none does."""
    stops = (side * (mesh.normals @ way) < SMOOTH) & (mesh.areas > 0)
    radius, stop = most_mm, -1
    for _ in range(MOST_TURNS):
        middle = point + radius * way
        foot = feet(mesh.corners, middle)
        away = foot - point
        rise, square = away @ way, np.einsum("ij,ij->i", away, away)
        near = stops & (np.linalg.norm(foot - middle, axis=1) < (1 - SETTLED) * radius) & (rise > FLATTEST * np.sqrt(square))
        if not near.any():
            break
        tried = np.where(near, np.linalg.norm(foot - middle, axis=1), np.inf)
        stop = int(np.argmin(tried))
        radius = min(radius, float(square[stop] / (2 * rise[stop])))
    return radius, stop


def away(corners: Floats, point: Floats) -> float:
    """As `touch.away_all` for one point: the distance to the nearest of some triangles, (m, 3, 3) [mm]."""
    return float(np.linalg.norm(feet(corners, point) - point, axis=1).min())


def smooth_normals(mesh: Mesh, face: Ints, weights: Floats) -> Floats:
    """As `touch.smooth_normals`, for vertices with few faces: (k, 3) [-]."""
    corners, normals = mesh.corners, mesh.normals
    out = []
    for t, weight in zip(face, weights, strict=True):
        total = np.zeros(3)
        for k in range(3):
            others, places = np.nonzero(mesh.faces == mesh.faces[t, k])
            alike = normals[others] @ normals[t] > JOINED
            joint = np.zeros(3)
            for other, place in zip(others[alike], places[alike], strict=True):
                a, b, c = (corners[other, (place + i) % 3] for i in range(3))
                angle = np.arctan2(np.linalg.norm(np.cross(b - a, c - a)), (b - a) @ (c - a))
                joint += angle * normals[other]
            total += weight[k] * joint / np.linalg.norm(joint)
        out.append(total / np.linalg.norm(total))
    return np.array(out)
