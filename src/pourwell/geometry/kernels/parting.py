"""Compiled: what tells triangles apart whose boxes meet, leaf by leaf, so that very many about one corner are not tried in pairs.

Thin triangles that lie about a corner as the sticks of a fan all meet one another's boxes.
"""

from math import inf, sqrt
from typing import NamedTuple

import numpy as np

from pourwell.geometry.kernels.compiled import compiled, compiled_lean
from pourwell.geometry.kernels.signs import Corner
from pourwell.geometry.kernels.tree import WIDTH
from pourwell.geometry.mesh import Floats, Ints

CLEAR = 1e-9
"""A corner this share of the lengths beyond a line within a plane is beyond it whatever the rounding."""

MANY = 32
"""A corner of more triangles is a hub: its triangles all meet one another's boxes."""


class Hubs(NamedTuple):
    """Of triangles in a tree's order, or of its leaves: about which corner they lie with very many others, and in what directions.

    Two triangles with a common corner that cross have a ray from it in common. Their own boxes meet however thin they are; those of
    their directions, unit vectors to the other two corners and what lies between, hardly do.
    """

    corner: Ints
    """(k,) vertex, -1 where there is none, or not one for all of a leaf."""
    ways: Floats
    """(k, 6) [-] the box of the directions."""


@compiled_lean
def at(points: Floats, corner: int) -> Corner:
    """A corner's place."""
    return (points[corner, 0], points[corner, 1], points[corner, 2])


@compiled_lean
def meet(one: Floats, two: Floats, numbers: tuple[int, int]) -> bool:
    """Do two boxes touch or overlap, each given by its list and its number there."""
    i, j = numbers
    beside = False
    for c in range(3):
        beside = beside or one[i, c] > two[j, c + 3] or two[j, c] > one[i, c + 3]
    return not beside


@compiled
def hubs(points: Floats, faces: Ints, order: Ints) -> Hubs:
    """The hubs of triangles in the order given."""
    degree = np.zeros(len(points), dtype=np.int64)
    for t in range(len(faces)):
        for k in range(3):
            degree[faces[t, k]] += 1
    hub, ways = np.full(len(order), -1), np.zeros((len(order), 6))
    for slot in range(len(order)):
        t, k = order[slot], 0
        for other in range(1, 3):
            if degree[faces[t, other]] > degree[faces[t, k]]:
                k = other
        if degree[faces[t, k]] <= MANY:
            continue
        h, a, b = at(points, faces[t, k]), at(points, faces[t, (k + 1) % 3]), at(points, faces[t, (k + 2) % 3])
        far_a = sqrt((a[0] - h[0]) ** 2 + (a[1] - h[1]) ** 2 + (a[2] - h[2]) ** 2)
        far_b = sqrt((b[0] - h[0]) ** 2 + (b[1] - h[1]) ** 2 + (b[2] - h[2]) ** 2)
        if far_a == 0 or far_b == 0:
            continue
        square = 0.0
        for c in range(3):
            square += ((a[c] - h[c]) / far_a - (b[c] - h[c]) / far_b) ** 2
        bulge = square / 4 + CLEAR  # of the arc over its chord, at most
        hub[slot] = faces[t, k]
        for c in range(3):
            u, v = (a[c] - h[c]) / far_a, (b[c] - h[c]) / far_b
            ways[slot, c], ways[slot, c + 3] = min(u, v) - bulge, max(u, v) + bulge
    return Hubs(hub, ways)


@compiled
def leaf_hubs(each: Hubs) -> Hubs:
    """The hubs of the leaves over such triangles."""
    count = (len(each.corner) + WIDTH - 1) // WIDTH
    corner, ways = np.full(count, -1), np.zeros((count, 6))
    for leaf in range(count):
        first, end = leaf * WIDTH, min(leaf * WIDTH + WIDTH, len(each.corner))
        alike = True
        for slot in range(first, end):
            alike = alike and each.corner[slot] == each.corner[first]
            for c in range(3):
                low, high = each.ways[slot, c], each.ways[slot, c + 3]
                ways[leaf, c] = low if slot == first else min(ways[leaf, c], low)
                ways[leaf, c + 3] = high if slot == first else max(ways[leaf, c + 3], high)
        if alike:
            corner[leaf] = each.corner[first]
    return Hubs(corner, ways)


@compiled
def apart(hub: Hubs, i: int, j: int) -> bool:
    """Do two triangles, or all of two leaves, lie about one corner and in directions that have nothing in common."""
    return hub.corner[i] >= 0 and hub.corner[i] == hub.corner[j] and not meet(hub.ways, hub.ways, (i, j))


class Leaves(NamedTuple):
    """Triangles in a tree's order, and the plane that each leaf of them lies nearest to."""

    points: Floats
    corners: Ints
    """(m, 3)."""
    planes: Floats
    """(leaves, 5): unit normal, and between which heights along it all the leaf's corners lie [mm]; a zero normal where none is."""
    margin: float
    """What lies farther apart than this is apart whatever the rounding [mm]."""


@compiled
def leaves(points: Floats, faces: Ints, order: Ints) -> Leaves:
    """The leaves over triangles in the order given."""
    corners, far = np.empty((len(order), 3), dtype=np.int64), 0.0
    for slot in range(len(order)):
        for k in range(3):
            corners[slot, k] = faces[order[slot], k]
            for c in range(3):
                far = max(far, abs(points[corners[slot, k], c]))
    planes = np.zeros(((len(order) + WIDTH - 1) // WIDTH, 5))
    made = Leaves(points, corners, planes, 3 * CLEAR * far)
    for leaf in range(len(planes)):
        x, y, z = 0.0, 0.0, 0.0
        for slot in range(leaf * WIDTH, min(leaf * WIDTH + WIDTH, len(order))):
            p, q, r = at(points, corners[slot, 0]), at(points, corners[slot, 1]), at(points, corners[slot, 2])
            ux, uy, uz = q[0] - p[0], q[1] - p[1], q[2] - p[2]
            vx, vy, vz = r[0] - p[0], r[1] - p[1], r[2] - p[2]
            x, y, z = x + uy * vz - uz * vy, y + uz * vx - ux * vz, z + ux * vy - uy * vx
        length = sqrt(x * x + y * y + z * z)
        if length > 0:
            planes[leaf, 0], planes[leaf, 1], planes[leaf, 2] = x / length, y / length, z / length
            planes[leaf, 3], planes[leaf, 4] = _span(made, leaf, leaf)
    return made


@compiled_lean
def _span(made: Leaves, leaf: int, other: int) -> tuple[float, float]:
    """Between which heights along a leaf's normal another one's corners lie [mm]."""
    x, y, z = made.planes[leaf, 0], made.planes[leaf, 1], made.planes[leaf, 2]
    low, high = inf, -inf
    for slot in range(other * WIDTH, min(other * WIDTH + WIDTH, len(made.corners))):
        for k in range(3):
            a = made.corners[slot, k]
            height = x * made.points[a, 0] + y * made.points[a, 1] + z * made.points[a, 2]
            low, high = min(low, height), max(high, height)
    return low, high


@compiled_lean
def parted(made: Leaves, leaf: int, other: int) -> bool:
    """Does the other leaf lie wholly beyond the plane that this one lies nearest to."""
    low, high = _span(made, leaf, other)
    beyond: bool = low > made.planes[leaf, 4] + made.margin or high < made.planes[leaf, 3] - made.margin
    return beyond
