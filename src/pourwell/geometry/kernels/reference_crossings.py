"""Sides and crossings once more, written to be read: in whole numbers, all pairs against each other.

By the twin of `side_of` are done: `rough_side_of`, `_exact`, `_two_sum`, `_two_product`, `_grown`. By the twin of `crossing_pairs`:
`levels`, `hubs`, `leaf_hubs`, `apart`, `leaves`, `_span`, `parted`, `meet`, `at`, `_corners`, `_clear_of_side`, `_side`, `_sides`,
`_one_side`, `_pierced`, `_height`, `_depth` and `_crossing`. By that of `windings`: `winding`. By that of `_search_each`:
`_search`.
"""

from fractions import Fraction
from itertools import permutations

import numpy as np

from pourwell.geometry.kernels.reference import triangle_distances
from pourwell.geometry.kernels.reference import winding as winding_of_all
from pourwell.geometry.mesh import Floats, Ints


def side_of(corners: Floats) -> int:
    """As `signs.side_of`, for (4, 3) corners [mm], in whole numbers: a double is one times a power of two."""
    d = [Fraction(value) for value in corners[3].tolist()]
    (ax, ay, az), (bx, by, bz), (cx, cy, cz) = (
        [Fraction(value) - origin for value, origin in zip(row, d, strict=True)] for row in corners[:3].tolist()
    )
    value = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
    return (value > 0) - (value < 0)


def crossing_pairs(points: Floats, faces: Ints) -> Ints:
    """As `crossings.crossing_pairs`: (k, 2) int, by all sides of all triangles against all triangles."""
    found = set()
    for f, g in permutations(range(len(faces)), 2):
        if len(set(faces[f].tolist()) & set(faces[g].tolist())) > 1:
            continue
        for k in range(3):
            p, q = faces[g, k], faces[g, (k + 1) % 3]
            ends = [side_of(points[[*faces[f], end]]) for end in (p, q)]
            turns = [side_of(points[[p, q, faces[f, i], faces[f, (i + 1) % 3]]]) for i in range(3)]
            if ends[0] * ends[1] < 0 and (min(turns) > 0 or max(turns) < 0):
                found.add((min(f, g), max(f, g)))
    return np.array(sorted(found), dtype=np.int64).reshape(-1, 2)


def windings(corners: Floats, points: Floats) -> Floats:
    """As `winding.windings`, without dipoles: (n,) float, for triangles, (m, 3, 3) [mm], and points, (n, 3) [mm]."""
    return np.array([winding_of_all(corners, point) for point in points])


def distances(corners: Floats, points: Floats) -> Floats:
    """As `nearest._search_each`: (n,) float [mm], from points, (n, 3) [mm], to triangles, (m, 3, 3) [mm]."""
    return np.array([triangle_distances(corners, point).min() for point in points])
