"""Compiled: which triangles of a mesh pass through one another, decided exactly; touching is not passing."""

from math import sqrt
from typing import NamedTuple

import numpy as np

from pourwell.geometry.kernels.compiled import compiled, compiled_lean
from pourwell.geometry.kernels.parting import CLEAR, apart, at, hubs, leaf_hubs, leaves, meet, parted
from pourwell.geometry.kernels.signs import rough_side_of, side_of
from pourwell.geometry.kernels.tree import FAN, STACK, WIDTH
from pourwell.geometry.mesh import Floats, Ints

Face = tuple[int, int, int]
"""The three corners of a triangle."""

LEAST_ROOM = 1024
"""Rows of the first list of pairs; it is doubled as it fills."""


class Levels(NamedTuple):
    """Boxes [mm] over triangles in a tree's order: eight to a leaf, then sixteen to a box, level by level up to one."""

    boxes: Floats
    """(b, 6): least x, y, z and most x, y, z; the leaves first, the root last."""
    starts: Ints
    """Where each level begins, and the end."""


@compiled
def levels(points: Floats, faces: Ints, order: Ints) -> Levels:
    """The boxes over triangles in the order given.

    Parameters
    ----------
    points : (n, 3) float array [mm]
    faces : (m, 3) int array, m at least 1
    order : (m,) int array
    """
    starts = [0, (len(order) + WIDTH - 1) // WIDTH]
    while starts[-1] - starts[-2] > 1:
        starts.append(starts[-1] + (starts[-1] - starts[-2] + FAN - 1) // FAN)
    boxes = np.empty((starts[-1], 6))
    for leaf in range(starts[1]):
        for slot in range(leaf * WIDTH, min(leaf * WIDTH + WIDTH, len(order))):
            for k in range(3):
                for c in range(3):
                    value = points[faces[order[slot], k], c]
                    first = slot == leaf * WIDTH and k == 0
                    boxes[leaf, c] = value if first else min(boxes[leaf, c], value)
                    boxes[leaf, c + 3] = value if first else max(boxes[leaf, c + 3], value)
    for level in range(1, len(starts) - 1):
        for box in range(starts[level], starts[level + 1]):
            child = starts[level - 1] + (box - starts[level]) * FAN
            boxes[box] = boxes[child]
            for other in range(child + 1, min(child + FAN, starts[level])):
                for c in range(3):
                    boxes[box, c] = min(boxes[box, c], boxes[other, c])
                    boxes[box, c + 3] = max(boxes[box, c + 3], boxes[other, c + 3])
    return Levels(boxes, np.array(starts))


@compiled_lean
def _corners(faces: Ints, face: int) -> Face:
    return (faces[face, 0], faces[face, 1], faces[face, 2])


@compiled_lean
def _clear_of_side(points: Floats, f: Face, g: Face) -> bool:
    """Does a plane along one side of f, square to f, keep g wholly beyond it but for a corner that they share on that side."""
    a, b, c = at(points, f[0]), at(points, f[1]), at(points, f[2])
    ux, uy, uz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    vx, vy, vz = c[0] - a[0], c[1] - a[1], c[2] - a[2]
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    for k in range(3):
        p, q = at(points, f[k]), at(points, f[(k + 1) % 3])
        ex, ey, ez = q[0] - p[0], q[1] - p[1], q[2] - p[2]
        ox, oy, oz = ey * nz - ez * ny, ez * nx - ex * nz, ex * ny - ey * nx  # out of f, over the side
        length = abs(ox) + abs(oy) + abs(oz)
        beyond = length > 0
        for i in range(3):
            if g[i] == f[k] or g[i] == f[(k + 1) % 3]:
                continue
            r = at(points, g[i])
            rx, ry, rz = r[0] - p[0], r[1] - p[1], r[2] - p[2]
            far = ox * rx + oy * ry + oz * rz
            beyond = beyond and far > CLEAR * length * (abs(rx) + abs(ry) + abs(rz) + abs(ex) + abs(ey) + abs(ez))
        if beyond:
            return True
    return False


@compiled
def _side(points: Floats, f: Face, asked: tuple[int, bool]) -> int:
    """On which side of a plane a corner is: none if it is one of the triangle's own; 2 where plain sums are unsure."""
    corner, exact = asked
    if corner == f[0] or corner == f[1] or corner == f[2]:
        return 0
    a, b, rest = at(points, f[0]), at(points, f[1]), (at(points, f[2]), at(points, corner))
    return side_of(a, b, rest) if exact else rough_side_of(a, b, rest)


@compiled
def _sides(points: Floats, pair: tuple[Face, Face], exact: bool) -> tuple[int, int, int]:
    """On which side of the first one's plane each corner of the second is."""
    f, g = pair
    return _side(points, f, (g[0], exact)), _side(points, f, (g[1], exact)), _side(points, f, (g[2], exact))


@compiled_lean
def _one_side(sides: tuple[int, int, int]) -> bool:
    """Do all corners lie on one side for certain, or in the plane."""
    x, y, z = sides
    return (x != 2 and y != 2 and z != 2) and ((x >= 0 and y >= 0 and z >= 0) or (x <= 0 and y <= 0 and z <= 0))


@compiled
def _pierced(points: Floats, side: tuple[int, int], face: Face) -> bool:
    """Does a side, whose ends are on either side of a triangle's plane, go through the triangle, and not just its rim."""
    a, b = at(points, side[0]), at(points, side[1])
    x = side_of(a, b, (at(points, face[0]), at(points, face[1])))
    if x == 0 or x != side_of(a, b, (at(points, face[1]), at(points, face[2]))):
        return False
    return x == side_of(a, b, (at(points, face[2]), at(points, face[0])))


@compiled_lean
def _height(points: Floats, face: Face, corner: int) -> float:
    """How far a corner lies over the plane of a triangle [mm]; 0 where that has no area."""
    a, b, c, r = at(points, face[0]), at(points, face[1]), at(points, face[2]), at(points, corner)
    ux, uy, uz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    vx, vy, vz = c[0] - a[0], c[1] - a[1], c[2] - a[2]
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    length = sqrt(nx * nx + ny * ny + nz * nz)
    height = nx * (r[0] - a[0]) + ny * (r[1] - a[1]) + nz * (r[2] - a[2])
    return height / length if length > 0 else 0.0


@compiled_lean
def _depth(points: Floats, f: Face, g: Face) -> float:
    """How far g reaches beyond the plane of f on the side where it reaches less far [mm]."""
    low, high = 0.0, 0.0
    for i in range(3):
        if g[i] != f[0] and g[i] != f[1] and g[i] != f[2]:
            height = _height(points, f, g[i])
            low, high = min(low, height), max(high, height)
    return min(-low, high)


@compiled
def _crossing(points: Floats, f: Face, g: Face) -> tuple[float, float, float, float]:
    """Where two triangles pass through each other, and by how much [mm]; by less than nothing if they do not.

    That is how far one reaches beyond the other's plane, but no more than the line in which they meet is long.
    """
    shared = -1
    for i in range(3):
        for k in range(3):
            if f[i] == g[k]:
                if shared >= 0:
                    return 0.0, 0.0, 0.0, -1.0
                shared = f[i]
    over_f, over_g = _sides(points, (f, g), False), _sides(points, (g, f), False)
    if _one_side(over_f) or _one_side(over_g) or _clear_of_side(points, f, g) or _clear_of_side(points, g, f):
        return 0.0, 0.0, 0.0, -1.0
    over_f, over_g = _sides(points, (f, g), True), _sides(points, (g, f), True)
    count = 0
    met = np.zeros((7, 3))  # the corner that they share, and where sides go through
    for turn in range(2):
        face, other, over = (f, g, over_f) if turn == 0 else (g, f, over_g)
        for k in range(3):
            m = (k + 1) % 3
            if over[k] * over[m] < 0 and _pierced(points, (other[k], other[m]), face):
                rise, fall = abs(_height(points, face, other[k])), abs(_height(points, face, other[m]))
                share = rise / (rise + fall) if rise + fall > 0 else 0.5
                for c in range(3):
                    met[count, c] = points[other[k], c] + share * (points[other[m], c] - points[other[k], c])
                count += 1
    if count == 0:
        return 0.0, 0.0, 0.0, -1.0
    reach = min(_depth(points, f, g), _depth(points, g, f))
    if shared >= 0:
        met[count] = points[shared]
        count += 1
    low, high = met[0].copy(), met[0].copy()
    for i in range(1, count):
        for c in range(3):
            low[c], high[c] = min(low[c], met[i, c]), max(high[c], met[i, c])
    if count > 1:
        reach = min(reach, sqrt((high[0] - low[0]) ** 2 + (high[1] - low[1]) ** 2 + (high[2] - low[2]) ** 2))
    return (low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (low[2] + high[2]) / 2, reach


@compiled
def crossing_pairs(points: Floats, faces: Ints, search: tuple[Ints, int]) -> tuple[Ints, Floats]:
    """Pairs of triangles of which a side of one passes through the other.

    Parameters
    ----------
    points : (n, 3) float array [mm], equal corners welded
    faces : (m, 3) int array
    search : (m,) int array, a permutation of the triangles that keeps neighbours together; pairs after which the search ends

    Returns
    -------
    pairs : (k, 2) int array, the lower number first
    places : (k, 4) float array: where they cross [mm], and how far they reach through each other [mm]
    """
    order, most = search
    pairs, places = np.empty((LEAST_ROOM, 2), dtype=np.int64), np.empty((LEAST_ROOM, 4))
    count = 0
    if len(order) < 2:
        return pairs[:0], places[:0]
    tree = levels(points, faces, order)
    boxes = np.empty((len(order), 6))
    for slot in range(len(order)):
        for c in range(3):
            u, v, w = points[faces[order[slot], 0], c], points[faces[order[slot], 1], c], points[faces[order[slot], 2], c]
            boxes[slot, c], boxes[slot, c + 3] = min(u, v, w), max(u, v, w)
    hub = hubs(points, faces, order)
    over, sheets = leaf_hubs(hub), leaves(points, faces, order)
    stack = np.empty((STACK, 2), dtype=np.int64)  # level, and box on it
    for leaf in range(tree.starts[1]):
        stack[0, 0], stack[0, 1] = len(tree.starts) - 2, 0
        depth = 1
        while depth and count < most:
            depth -= 1
            level, box = stack[depth, 0], stack[depth, 1]
            if level > 0:
                below = tree.starts[level] - tree.starts[level - 1]
                for child in range(box * FAN, min(box * FAN + FAN, below)):
                    last = child if level == 1 else len(order)  # a leaf meets itself and those after it
                    if last >= leaf and meet(tree.boxes, tree.boxes, (leaf, tree.starts[level - 1] + child)):
                        stack[depth, 0], stack[depth, 1] = level - 1, child
                        depth += 1
                continue
            if apart(over, leaf, box) or (box != leaf and (parted(sheets, leaf, box) or parted(sheets, box, leaf))):
                continue
            for i in range(leaf * WIDTH, min(leaf * WIDTH + WIDTH, len(order))):
                for j in range(max(box * WIDTH, i + 1), min(box * WIDTH + WIDTH, len(order))):
                    if not meet(boxes, boxes, (i, j)) or apart(hub, i, j):
                        continue
                    f, g = min(order[i], order[j]), max(order[i], order[j])
                    x, y, z, reach = _crossing(points, _corners(faces, f), _corners(faces, g))
                    if reach < 0:
                        continue
                    if count == len(pairs):
                        pairs, places = np.concatenate((pairs, pairs)), np.concatenate((places, places))
                    pairs[count, 0], pairs[count, 1] = f, g
                    places[count, 0], places[count, 1], places[count, 2], places[count, 3] = x, y, z, reach
                    count += 1
    return pairs[:count], places[:count]
