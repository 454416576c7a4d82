"""Compiled: which triangles meet at an edge, which hang together, and which way is out at a corner."""

from math import atan2, sqrt

import numpy as np

from pourwell.geometry.kernels.compiled import compiled
from pourwell.geometry.mesh import Floats, Ints


@compiled
def mates(faces: Ints, vertex_count: int) -> tuple[Ints, int]:
    """The half edge that runs against every half edge (three a triangle, 3 t + k from corner k to the next).

    Parameters
    ----------
    faces : (m, 3) int array
    vertex_count : more than the largest vertex number

    Returns
    -------
    mates : (3 m,) int array, -1 where there is none
    fault_count : half edges that have none, or more than one; 0 for a closed manifold, consistently wound
    """
    count = 3 * len(faces)
    start = np.zeros(vertex_count + 1, dtype=np.int64)
    for t in range(len(faces)):
        for k in range(3):
            start[min(faces[t, k], faces[t, (k + 1) % 3]) + 1] += 1
    for v in range(vertex_count):
        start[v + 1] += start[v]
    at = start[:-1].copy()
    bucket = np.empty(count, dtype=np.int64)  # half edges by their lower end
    for t in range(len(faces)):
        for k in range(3):
            low = min(faces[t, k], faces[t, (k + 1) % 3])
            bucket[at[low]] = 3 * t + k
            at[low] += 1
    mate = np.full(count, -1, dtype=np.int64)
    seen = np.full((vertex_count, 2), -1, dtype=np.int64)  # by the upper end: the half edge up to it, the one down from it
    faults = 0
    for v in range(vertex_count):
        for i in range(start[v], start[v + 1]):
            half = bucket[i]
            a, b = faces[half // 3, half % 3], faces[half // 3, (half % 3 + 1) % 3]
            down = 0 if a == v else 1
            if a == b or seen[max(a, b), down] >= 0:
                faults += 1
            else:
                seen[max(a, b), down] = half
        for i in range(start[v], start[v + 1]):
            half = bucket[i]
            high = max(faces[half // 3, half % 3], faces[half // 3, (half % 3 + 1) % 3])
            up, low = seen[high, 0], seen[high, 1]
            if up >= 0 and low >= 0:
                mate[up], mate[low] = low, up
            elif up >= 0 or low >= 0:
                faults += 1
            seen[high, 0] = seen[high, 1] = -1
    return mate, faults


@compiled
def shells(mate: Ints) -> Ints:
    """(m,) int: the number of the shell that every triangle belongs to, in the order of first triangles.

    Parameters
    ----------
    mate : (3 m,) int array, as `mates` gives it for a closed mesh
    """
    count = len(mate) // 3
    label = np.full(count, -1, dtype=np.int64)
    waiting = np.empty(count, dtype=np.int64)
    shell = 0
    for first in range(count):
        if label[first] >= 0:
            continue
        label[first] = shell
        waiting[0] = first
        depth = 1
        while depth:
            depth -= 1
            t = waiting[depth]
            for k in range(3):
                other = mate[3 * t + k] // 3
                if label[other] < 0:
                    label[other] = shell
                    waiting[depth] = other
                    depth += 1
        shell += 1
    return label


@compiled
def corner_normals(points: Floats, faces: Ints, mate: Ints, *, flat: Ints) -> Floats:
    """Outward pseudo-normals at the vertices: the normals of the triangles round them, weighted by their angles there.

    Parameters
    ----------
    points : (n, 3) float array [mm]
    faces, mate : (m, 3) and (3 m,) int arrays
    flat : (m,) int array, 1 for a triangle whose normal cannot be trusted

    Returns
    -------
    (n, 3) float array [-], of length one; zero where a triangle is flat, where the triangles form more than one fan, and where
    the sum vanishes.

    Source: Baerentzen and Aanaes, "Signed distance computation using the angle weighted pseudonormal" (2005).
    """
    normal = np.zeros((len(points), 3))
    degree = np.zeros(len(points), dtype=np.int64)
    one = np.full(len(points), -1, dtype=np.int64)
    for t in range(len(faces)):
        for k in range(3):
            v = faces[t, k]
            degree[v] += -(2**40) if flat[t] else 1
            one[v] = 3 * t + k
            p, q, r = points[v], points[faces[t, (k + 1) % 3]], points[faces[t, (k + 2) % 3]]
            ax, ay, az = q[0] - p[0], q[1] - p[1], q[2] - p[2]
            bx, by, bz = r[0] - p[0], r[1] - p[1], r[2] - p[2]
            x, y, z = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
            across = sqrt(x * x + y * y + z * z)
            if across > 0:
                weight = atan2(across, ax * bx + ay * by + az * bz) / across
                normal[v, 0] += weight * x
                normal[v, 1] += weight * y
                normal[v, 2] += weight * z
    for v in range(len(points)):
        turn, half = 0, one[v]
        while half >= 0 and turn <= degree[v]:
            half = mate[3 * (half // 3) + (half % 3 + 2) % 3]  # against the half edge that comes in: it goes out, one further
            turn += 1
            if half == one[v]:
                break
        length = sqrt(normal[v, 0] ** 2 + normal[v, 1] ** 2 + normal[v, 2] ** 2)
        sure = turn == degree[v] and length > 1e-9
        for i in range(3):
            normal[v, i] = normal[v, i] / length if sure else 0.0
    return normal
