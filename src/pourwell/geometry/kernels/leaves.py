"""Compiled: triangles laid out eight by eight for the search, each in a plane of its own."""

from math import sqrt

import numpy as np

from pourwell.geometry.kernels.compiled import compiled
from pourwell.geometry.kernels.tree import WIDTH
from pourwell.geometry.mesh import Floats, Ints

Vector = tuple[float, float, float]

FLAT = 1e-9
"""A triangle less high over its longest side than this share of it is flat: rounding decides which way its normal points."""


@compiled
def longest_first(points: Floats, faces: Ints, mate: Ints) -> tuple[Ints, Ints]:
    """Faces turned so that the side from the first to the second corner is the longest, and their mates numbered anew.

    Parameters
    ----------
    points : (n, 3) float array [mm]
    faces, mate : (m, 3) and (3 m,) int arrays

    Returns
    -------
    faces : (m, 3) int array
    mate : (m, 3) int array
    """
    turn = np.zeros(len(faces), dtype=np.int64)
    for t in range(len(faces)):
        most = -1.0
        for k in range(3):
            p, q = points[faces[t, k]], points[faces[t, (k + 1) % 3]]
            square = (p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2 + (p[2] - q[2]) ** 2
            if square > most:
                turn[t], most = k, square
    turned, other = np.empty_like(faces), np.empty_like(faces)
    for t in range(len(faces)):
        for k in range(3):
            old = (k + turn[t]) % 3
            turned[t, k] = faces[t, old]
            half = mate[3 * t + old]
            other[t, k] = 3 * (half // 3) + (half % 3 - turn[half // 3]) % 3
    return turned, other


@compiled
def _square_to(u: Vector, w: Vector, length: float) -> Vector:
    """A unit vector square to the unit vector u, along w, which is square to it but for rounding; any one if w is all rounding."""
    ux, uy, uz = u
    wx, wy, wz = w
    if length > 0:
        wx, wy, wz = wx / length, wy / length, wz / length
        share = wx * ux + wy * uy + wz * uz
        wx, wy, wz = wx - share * ux, wy - share * uy, wz - share * uz
        size = sqrt(wx * wx + wy * wy + wz * wz)
        if size > 0.5:
            return wx / size, wy / size, wz / size
    if abs(ux) < 0.6:
        wx, wy, wz = 0.0, -uz, uy
    else:
        wx, wy, wz = -uy, ux, 0.0
    size = sqrt(wx * wx + wy * wy + wz * wz)
    return wx / size, wy / size, wz / size


@compiled
def leaf_frames(points: Floats, faces: Ints, order: Ints) -> tuple[Floats, Floats, Floats, Ints]:
    """Triangles in the order given as frames, eight to a leaf, with each leaf's box; the last leaf is filled up with its last one.

    Parameters
    ----------
    points : (n, 3) float array [mm]
    faces : (m, 3) int array, the longest side first
    order : (m,) int array

    Returns
    -------
    frames : (leaves, 14, 8) float array, see `Trees`
    boxes : (leaves, 6) float array [mm]
    sums : (leaves, 7) float array: area [mm2], area times centre [mm3], area vector [mm2]
    flat : (m,) int array, by face: 1 where the normal cannot be trusted
    """
    count = (len(order) + WIDTH - 1) // WIDTH
    frames, boxes, sums = np.zeros((count, 14, WIDTH)), np.empty((count, 6)), np.zeros((count, 7))
    flat = np.zeros(len(faces), dtype=np.int64)
    for slot in range(count * WIDTH):
        t = order[min(slot, len(order) - 1)]
        leaf, j = slot // WIDTH, slot % WIDTH
        a, frame = points[faces[t, 0]], frames[leaf, :, j]
        ux, uy, uz = points[faces[t, 1]] - a
        vx, vy, vz = points[faces[t, 2]] - a
        b = sqrt(ux * ux + uy * uy + uz * uz)
        if b > 0:
            ux, uy, uz = ux / b, uy / b, uz / b
        else:
            ux, uy, uz = 1.0, 0.0, 0.0
        cx = vx * ux + vy * uy + vz * uz
        wx, wy, wz = vx - cx * ux, vy - cx * uy, vz - cx * uz
        cy = sqrt(wx * wx + wy * wy + wz * wz)
        flat[t] = 1 if cy <= FLAT * b else 0
        wx, wy, wz = _square_to((ux, uy, uz), (wx, wy, wz), cy)
        frame[0], frame[1], frame[2] = a
        frame[3], frame[4], frame[5] = ux, uy, uz
        frame[6], frame[7], frame[8] = wx, wy, wz
        frame[9], frame[10], frame[11] = b, cx, cy
        bc, ca = (cx - b) ** 2 + cy**2, cx**2 + cy**2
        frame[12], frame[13] = 1 / bc if bc > 0 else 0.0, 1 / ca if ca > 0 else 0.0
        for i in range(3):
            low, high = a[i], a[i]
            for k in range(1, 3):
                low, high = min(low, points[faces[t, k], i]), max(high, points[faces[t, k], i])
            boxes[leaf, i] = low if j == 0 else min(low, boxes[leaf, i])
            boxes[leaf, i + 3] = high if j == 0 else max(high, boxes[leaf, i + 3])
        if slot < len(order):
            area = b * cy / 2
            sums[leaf, 0] += area
            for i in range(3):
                sums[leaf, 1 + i] += area * (a[i] + points[faces[t, 1], i] + points[faces[t, 2], i]) / 3
            sums[leaf, 4] += area * (uy * wz - uz * wy)
            sums[leaf, 5] += area * (uz * wx - ux * wz)
            sums[leaf, 6] += area * (ux * wy - uy * wx)
    return frames, boxes, sums, flat
