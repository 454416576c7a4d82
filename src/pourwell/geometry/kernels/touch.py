"""Compiled: the largest ball that touches a surface at a point and lies on one side of it, for many points.

A ball that touches at a point, with its middle on the line square to the surface there, shrinks until nothing is within it
(Ma, Bae and Choi's shrinking ball). The smaller of two such balls lies within the larger, so that one walk through the tree of
boxes settles it: what a ball has been found not to reach, no later one reaches.
"""

from math import sqrt
from typing import NamedTuple

import numpy as np

from pourwell.geometry.kernels.compiled import compiled, compiled_lean
from pourwell.geometry.kernels.leaves import FLAT
from pourwell.geometry.kernels.nearest import Aim, boxes_ahead, nearest_of
from pourwell.geometry.kernels.tree import FAN, STACK, WIDTH, Trees
from pourwell.geometry.mesh import Floats, Ints

SMOOTH = 0.642788
"""Cosine of 50 degrees: a face that looks the same way as the one touched, but for so much, rounds it off and stops no ball."""

SETTLED = 1e-4
"""What reaches into a ball by less than this share of its radius does not shrink it."""

FLATTEST = 1e-6
"""A place this near to the plane touched (sine) does not stop a ball."""

MOST_TURNS = 64
"""Shrinks by one leaf at most; three or four are usual."""

JOINED = 0.866025
"""Cosine of 30 degrees: faces that meet at less are one smooth surface."""

MOST_AROUND = 48
"""Faces about a vertex beyond which it is the middle of a fan, and its faces are taken as they are."""


class Ball(NamedTuple):
    """A ball on its way: where it touches [mm], unit way to its middle, side of the surface (1 out, -1 in), radius [mm], slot."""

    x: float
    y: float
    z: float
    wx: float
    wy: float
    wz: float
    side: float
    radius: float
    slot: int


@compiled_lean
def foot(frame: Floats, j: int, at: tuple[float, float, float]) -> tuple[float, float, float, float]:
    """Where a leaf's triangle j comes nearest to a point [mm], and the squared distance [mm2]."""
    dx, dy, dz = at[0] - frame[0, j], at[1] - frame[1, j], at[2] - frame[2, j]
    ex, ey, ez = frame[3, j], frame[4, j], frame[5, j]
    fx, fy, fz = frame[6, j], frame[7, j], frame[8, j]
    b, cx, cy = frame[9, j], frame[10, j], frame[11, j]
    x, y = dx * ex + dy * ey + dz * ez, dx * fx + dy * fy + dz * fz
    gx, hx = cx - b, x - b
    qx, qy = x, y
    if not (y > 0 and gx * y - cy * hx > 0 and cy * x - cx * y > 0):
        u = min(max(x, 0.0), b)
        v = min(max((hx * gx + y * cy) * frame[12, j], 0.0), 1.0)
        w = min(max((x * cx + y * cy) * frame[13, j], 0.0), 1.0)
        ab = (x - u) ** 2 + y**2
        bc = (hx - v * gx) ** 2 + (y - v * cy) ** 2
        ca = (x - w * cx) ** 2 + (y - w * cy) ** 2
        qx, qy = u, 0.0
        if bc < ab and bc <= ca:
            qx, qy = b + v * gx, v * cy
        elif ca < ab:
            qx, qy = w * cx, w * cy
    px, py, pz = frame[0, j] + qx * ex + qy * fx, frame[1, j] + qx * ey + qy * fy, frame[2, j] + qx * ez + qy * fz
    return px, py, pz, (at[0] - px) ** 2 + (at[1] - py) ** 2 + (at[2] - pz) ** 2


@compiled_lean
def _stops(frame: Floats, j: int, ball: Ball) -> bool:
    """Whether a triangle can stop a ball: it has an area, and looks another way than the face touched."""
    if frame[11, j] <= FLAT * frame[9, j]:
        return False
    nx = frame[4, j] * frame[8, j] - frame[5, j] * frame[7, j]
    ny = frame[5, j] * frame[6, j] - frame[3, j] * frame[8, j]
    nz = frame[3, j] * frame[7, j] - frame[4, j] * frame[6, j]
    other: bool = ball.side * (nx * ball.wx + ny * ball.wy + nz * ball.wz) < SMOOTH
    return other


@compiled_lean
def _shrunk(frames: Floats, leaf: int, ball: Ball) -> Ball:
    """The ball after a leaf's triangles have shrunk it."""
    frame = frames[leaf]
    x, y, z, wx, wy, wz, side, radius, slot = ball
    for _ in range(MOST_TURNS):
        at = (x + radius * wx, y + radius * wy, z + radius * wz)
        limit = ((1 - SETTLED) * radius) ** 2
        bits = nearest_of(frame, Aim(at[0], at[1], at[2], 0, 0.0))
        if bits & -WIDTH >= np.float64(limit).view(np.int64):
            break
        least, smaller, found = limit, radius, -1
        for j in range(WIDTH):
            qx, qy, qz, square = foot(frame, j, at)
            if square < least and _stops(frame, j, ball):
                vx, vy, vz = qx - x, qy - y, qz - z
                rise, length = vx * wx + vy * wy + vz * wz, vx * vx + vy * vy + vz * vz
                if rise > FLATTEST * sqrt(length):
                    least, smaller, found = square, length / (2 * rise), j
        if found < 0 or smaller >= radius:
            break
        radius, slot = smaller, WIDTH * leaf + found
    return Ball(x, y, z, wx, wy, wz, side, radius, slot)


@compiled_lean
def touch_all(trees: Trees, asked: tuple[Floats, Floats, float, float], out: tuple[Floats, Ints, Ints, Floats]) -> None:
    """Radii [mm] of the largest balls that touch at some points, and the slots of the triangles that stop them.

    Parameters
    ----------
    asked : (n, 3) points [mm], best in the order of the tree; (n, 3) unit ways to the balls' middles; the side of the surface that
        they lie on, 1 outside and -1 inside; and the radius beyond which none is looked for [mm]
    out : (n,) radii and (n,) slots, -1 where nothing stops the ball, to be filled; and (STACK,) int and float arrays to work in
    """
    points, ways, side, most = asked
    radii, slots, stack, ahead = out
    seed = -1
    for i in range(len(points)):
        ball = Ball(points[i, 0], points[i, 1], points[i, 2], ways[i, 0], ways[i, 1], ways[i, 2], side, most, -1)
        if seed >= 0:  # what stopped the ball before is likely to stop this one
            ball = _shrunk(trees.frames, seed // WIDTH, ball)
        depth = 1
        stack[0] = trees.roots[0]
        while depth:
            depth -= 1
            node = stack[depth]
            if node < 0:
                ball = _shrunk(trees.frames, -1 - node, ball)
                continue
            reach, bottom = ball.radius, depth
            aim = Aim(ball.x + reach * ball.wx, ball.y + reach * ball.wy, ball.z + reach * ball.wz, 0, 0.0)
            box, base = trees.boxes[node], trees.first[node]
            children = boxes_ahead(box, aim, ((1 - SETTLED) * reach) ** 2)
            for j in range(FAN):
                if children >> j & 1:
                    x = max(box[0, j] - aim.x, aim.x - box[3, j], 0.0)
                    y = max(box[1, j] - aim.y, aim.y - box[4, j], 0.0)
                    z = max(box[2, j] - aim.z, aim.z - box[5, j], 0.0)
                    away = x * x + y * y + z * z
                    k = depth
                    while k > bottom and ahead[k - 1] < away:  # the nearest child comes to lie on top
                        stack[k], ahead[k] = stack[k - 1], ahead[k - 1]
                        k -= 1
                    stack[k], ahead[k] = (base + j if base >= 0 else base - j), away
                    depth += 1
        radii[i], slots[i] = ball.radius, ball.slot
        seed = ball.slot


@compiled_lean
def away_all(trees: Trees, asked: tuple[Floats, Floats], out: tuple[Floats, Ints, Ints, Floats]) -> None:
    """Distances [mm] from points to the nearest triangle, its slot, and where it is nearest.

    Parameters
    ----------
    asked : (n, 3) points [mm], and the (n, 3) places on the surface that are nearest to them, to be filled
    out : as that of `touch_all`
    """
    points, feet = asked
    distance, slots, stack, ahead = out
    slot = 0
    for i in range(len(points)):
        aim = Aim(points[i, 0], points[i, 1], points[i, 2], 0, 0.0)
        best = foot(trees.frames[slot // WIDTH], slot % WIDTH, (aim.x, aim.y, aim.z))[3]
        depth = 1
        stack[0], ahead[0] = trees.roots[0], 0.0
        while depth:
            depth -= 1
            if ahead[depth] >= best:
                continue
            node, bottom = stack[depth], depth
            if node < 0:
                found = nearest_of(trees.frames[-1 - node], aim)
                if found & -WIDTH < np.float64(best).view(np.int64):
                    slot = WIDTH * (-1 - node) + (found & (WIDTH - 1))
                    best = np.int64(found & -WIDTH).view(np.float64)
                continue
            box, base = trees.boxes[node], trees.first[node]
            children = boxes_ahead(box, aim, best)
            for j in range(FAN):
                if children >> j & 1:
                    x = max(box[0, j] - aim.x, aim.x - box[3, j], 0.0)
                    y = max(box[1, j] - aim.y, aim.y - box[4, j], 0.0)
                    z = max(box[2, j] - aim.z, aim.z - box[5, j], 0.0)
                    away = x * x + y * y + z * z
                    k = depth
                    while k > bottom and ahead[k - 1] < away:
                        stack[k], ahead[k] = stack[k - 1], ahead[k - 1]
                        k -= 1
                    stack[k], ahead[k] = (base + j if base >= 0 else base - j), away
                    depth += 1
        feet[i, 0], feet[i, 1], feet[i, 2], best = foot(trees.frames[slot // WIDTH], slot % WIDTH, (aim.x, aim.y, aim.z))
        distance[i], slots[i] = sqrt(best), slot


def room(count: int) -> tuple[Floats, Ints, Ints, Floats]:
    """Arrays for so many answers, and to work in."""
    return np.empty(count), np.full(count, -1), np.empty(STACK, dtype=np.int64), np.empty(STACK)


@compiled_lean
def _corner_angle(points: Floats, faces: Ints, half: tuple[int, int]) -> float:
    """The angle of a triangle at its corner k [rad]; `half` is its number and k."""
    t, k = half
    a, b, c = faces[t, k], faces[t, (k + 1) % 3], faces[t, (k + 2) % 3]
    ux, uy, uz = points[b, 0] - points[a, 0], points[b, 1] - points[a, 1], points[b, 2] - points[a, 2]
    vx, vy, vz = points[c, 0] - points[a, 0], points[c, 1] - points[a, 1], points[c, 2] - points[a, 2]
    x, y, z = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    angle: float = np.arctan2(sqrt(x * x + y * y + z * z), ux * vx + uy * vy + uz * vz)
    return angle


@compiled
def smooth_normals(mesh: tuple[Floats, Ints, Floats], around: tuple[Ints, Ints], asked: tuple[Ints, Floats]) -> Floats:
    """The way out of a surface at points of its faces, rounded over edges that are no crease.

    At every corner of a face the normals of the faces about it that make less than 30 degrees with its own are joined, weighted by
    their angles; between the corners the way turns evenly.

    Parameters
    ----------
    mesh : vertices (n, 3) [mm], faces (m, 3), unit normals (m, 3)
    around : (n + 1,) and (3 m,): where each vertex's half edges begin in the list of them, and the list
    asked : (k,) faces, and (k, 3) weights of their corners

    Returns
    -------
    (k, 3) float array [-], unit vectors
    """
    points, faces, normals = mesh
    start, halves = around
    which, weights = asked
    out = np.empty((len(which), 3))
    for i in range(len(which)):
        t = which[i]
        nx, ny, nz = normals[t, 0], normals[t, 1], normals[t, 2]
        x, y, z = 0.0, 0.0, 0.0
        for k in range(3):
            vertex = faces[t, k]
            sx, sy, sz = 0.0, 0.0, 0.0
            if start[vertex + 1] - start[vertex] <= MOST_AROUND:
                for h in range(start[vertex], start[vertex + 1]):
                    other = halves[h] // 3
                    ox, oy, oz = normals[other, 0], normals[other, 1], normals[other, 2]
                    if ox * nx + oy * ny + oz * nz > JOINED:
                        angle = _corner_angle(points, faces, (other, halves[h] % 3))
                        sx, sy, sz = sx + angle * ox, sy + angle * oy, sz + angle * oz
            length = sqrt(sx * sx + sy * sy + sz * sz)
            if length > 0:
                sx, sy, sz = sx / length, sy / length, sz / length
            else:
                sx, sy, sz = nx, ny, nz
            x, y, z = x + weights[i, k] * sx, y + weights[i, k] * sy, z + weights[i, k] * sz
        length = sqrt(x * x + y * y + z * z)
        out[i, 0], out[i, 1], out[i, 2] = x / max(length, 1e-300), y / max(length, 1e-300), z / max(length, 1e-300)
    return out
