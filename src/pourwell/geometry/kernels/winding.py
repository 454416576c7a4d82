"""Compiled: how often a closed surface winds round a point, which decides the side where normals cannot."""

from math import atan2, pi, sqrt

import numpy as np

from pourwell.geometry.kernels.compiled import compiled, compiled_lean
from pourwell.geometry.kernels.tree import FAN, STACK, WIDTH, Trees
from pourwell.geometry.mesh import Floats, Ints

FAR = 3.0
"""A cluster of triangles counts as one dipole for points farther away than this many of its radii: an error of a few
hundredths at most, where a half decides."""


@compiled_lean
def _solid_angle(frame: Floats, j: int, point: tuple[float, float, float]) -> float:
    """Solid angle [sr] of a triangle seen from a point, positive from inside (Van Oosterom and Strackee's formula)."""
    px, py, pz = point
    ax, ay, az = frame[0, j] - px, frame[1, j] - py, frame[2, j] - pz
    b, c, d = frame[9, j], frame[10, j], frame[11, j]
    bx, by, bz = ax + b * frame[3, j], ay + b * frame[4, j], az + b * frame[5, j]
    cx, cy, cz = (
        ax + c * frame[3, j] + d * frame[6, j],
        ay + c * frame[4, j] + d * frame[7, j],
        az + c * frame[5, j] + d * frame[8, j],
    )
    la, lb, lc = sqrt(ax * ax + ay * ay + az * az), sqrt(bx * bx + by * by + bz * bz), sqrt(cx * cx + cy * cy + cz * cz)
    volume = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
    ab, bc, ca = ax * bx + ay * by + az * bz, bx * cx + by * cy + bz * cz, cx * ax + cy * ay + cz * az
    return 2 * atan2(volume, la * lb * lc + ab * lc + bc * la + ca * lb)


@compiled_lean
def winding(trees: Trees, at: tuple[float, float, float, int], stack: Ints) -> float:
    """How often a shell winds round a point: 1 within, 0 without.

    Parameters
    ----------
    at : x, y, z [mm], and the root of the shell
    stack : (STACK,) int array to work in

    Source: Barill et al., "Fast winding numbers for soups and clouds" (2018): far clusters as dipoles, of the first order.
    """
    px, py, pz, root = at
    total = 0.0
    depth = 1
    stack[0] = root
    while depth:
        depth -= 1
        node = stack[depth]
        if node < 0:
            leaf = trees.frames[-1 - node]
            for j in range(WIDTH):
                total += _solid_angle(leaf, j, (px, py, pz)) if trees.corners[WIDTH * (-1 - node) + j, 0] >= 0 else 0.0
            continue
        base = trees.first[node]
        cluster = trees.dipoles[node]
        for j in range(FAN):
            radius = cluster[6, j]
            if radius < 0:
                continue
            x, y, z = cluster[0, j] - px, cluster[1, j] - py, cluster[2, j] - pz
            square = x * x + y * y + z * z
            if square > (FAR * radius) ** 2:
                total += (x * cluster[3, j] + y * cluster[4, j] + z * cluster[5, j]) / (square * sqrt(square))
            else:
                stack[depth] = base + j if base >= 0 else base - j
                depth += 1
    return total / (4 * pi)


@compiled
def windings(trees: Trees, points: Floats, out: Floats) -> None:
    """How often the first shell winds round many points.

    Parameters
    ----------
    trees : over any triangles, closed or not
    points : (n, 3) float array [mm]
    out : (n,) float array to be filled: a whole number for a closed surface, a share of the directions for an open one
    """
    stack = np.empty(STACK, dtype=np.int64)
    for i in range(len(points)):
        out[i] = winding(trees, (points[i, 0], points[i, 1], points[i, 2], trees.roots[0]), stack)
