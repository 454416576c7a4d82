"""Compiled: the parts of a surface that lie under a rising level, where each begins and where it joins an older one."""

import numpy as np

from pourwell.geometry.kernels.compiled import compiled
from pourwell.geometry.kernels.regions import root
from pourwell.geometry.mesh import Floats, Ints


@compiled
def faces_at(faces: Ints, vertex_count: int) -> tuple[Ints, Ints]:
    """The triangles at every vertex v: `listed[start[v]:start[v + 1]]`.

    Returns
    -------
    start : (n + 1,) int array; listed : (3 m,) int array
    """
    start = np.zeros(vertex_count + 1, dtype=np.int64)
    for t in range(len(faces)):
        for i in range(3):
            start[faces[t, i] + 1] += 1
    for v in range(vertex_count):
        start[v + 1] += start[v]
    at = start[:-1].copy()
    listed = np.empty(3 * len(faces), dtype=np.int64)
    for t in range(len(faces)):
        for i in range(3):
            listed[at[faces[t, i]]] = t
            at[faces[t, i]] += 1
    return start, listed


@compiled
def pockets(height: Floats, order: Ints, faces: Ints, *, start: Ints, listed: Ints, upward: Floats) -> tuple[Ints, Floats, Floats]:
    """Where parts of the surface begin as a level rises, where each joins an older one, and what it holds up to there.

    Parameters
    ----------
    height : (n,) float array [mm]
    order : (n,) int array: the vertices from low to high
    faces : (m, 3) int array of a closed mesh that leaves no vertex out
    start, listed : as `faces_at` gives them
    upward : (m,) float array [mm2]: the area of every triangle seen from above, positive if it looks up

    Returns
    -------
    begins : (p,) int array: the lowest vertex of every part
    joins : (p,) float array [mm]: the height at which it joins an older part, inf if it never does
    holds : (p,) float array [mm3]: between its surface and that height, of the triangles that lie wholly under it
    """
    count = len(order)
    rank = np.empty(count, dtype=np.int64)
    rank[order] = np.arange(count)
    parent = np.arange(count)
    area, moment = np.zeros(count), np.zeros(count)
    begins, joins, holds = np.empty(count, dtype=np.int64), np.empty(count), np.empty(count)
    found = 0
    for i in range(count):
        v = order[i]
        eldest = -1
        for s in range(start[v], start[v + 1]):
            for c in range(3):
                w = faces[listed[s], c]
                part = root(parent, w) if rank[w] < i else eldest
                if part == eldest:
                    continue
                if eldest < 0:
                    eldest = part
                    continue
                younger = part if rank[part] > rank[eldest] else eldest
                eldest = eldest if younger == part else part
                begins[found], joins[found] = younger, height[v]
                holds[found] = height[v] * area[younger] - moment[younger]
                found += 1
                parent[younger] = eldest
                area[eldest] += area[younger]
                moment[eldest] += moment[younger]
        eldest = v if eldest < 0 else eldest
        parent[v] = eldest
        for s in range(start[v], start[v + 1]):
            t = listed[s]
            a, b, c = faces[t, 0], faces[t, 1], faces[t, 2]
            if rank[a] <= i and rank[b] <= i and rank[c] <= i:
                area[eldest] += upward[t]
                moment[eldest] += upward[t] * (height[a] + height[b] + height[c]) / 3
    for i in range(count):
        v = order[i]
        if parent[v] == v:
            begins[found], joins[found] = v, np.inf
            holds[found] = height[order[count - 1]] * area[v] - moment[v]
            found += 1
    return begins[:found].copy(), joins[:found].copy(), holds[:found].copy()
