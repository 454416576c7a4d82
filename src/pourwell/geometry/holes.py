"""Holes closed by triangles between the corners of their rims: flat ones in their plane, others as taut as can be [mm]."""

from collections.abc import Sequence
from typing import Final

import manifold3d
import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.solidity import edges_of

FLAT_SHARE: Final = 1e-3
"""A rim whose corners lie off their plane by less than this share of its size is flat."""

LONGEST_TAUT: Final = 160
"""Corners of a rim up to which the cover of least area is found: the work grows with the cube."""

SAME_AREA: Final = 1e-6
"""A flat cover whose triangles add up to the area of its rim, to this share, overlaps nowhere."""

LEAST_CORNERS: Final = 3


def rims(mesh: Mesh) -> tuple[Ints, ...]:
    """The rims of a mesh, each once round against its triangles, so that a cover wound along it agrees with them.

    Parameters
    ----------
    mesh : welded, consistently wound along its open edges

    Returns
    -------
    corners of every closed rim, (k,) int arrays; none is met twice in one. Rims that do not close are left out.
    """
    edges = edges_of(mesh)
    half = np.flatnonzero((edges.count == 1)[edges.which])
    start, end = mesh.faces.reshape(-1), np.roll(mesh.faces, -1, axis=1).reshape(-1)
    onward: dict[int, list[int]] = {}
    for a, b in zip(end[half].tolist(), start[half].tolist(), strict=True):
        onward.setdefault(a, []).append(b)
    found = []
    for first in sorted(onward):
        while onward.get(first):
            way, place = [first], {first: 0}
            while onward.get(way[-1]):
                corner = onward[way[-1]].pop()
                if corner in place:  # a round is closed; what leads to it goes on
                    loop = way[place[corner] :]
                    found.append(np.array(loop))
                    for gone in loop[1:]:
                        del place[gone]
                    del way[place[corner] + 1 :]
                else:
                    place[corner] = len(way)
                    way.append(corner)
    return tuple(loop for loop in found if len(loop) >= LEAST_CORNERS)


def fanned_mm3(mesh: Mesh) -> float:
    """The volume of a surface with every rim closed by a fan about its middle, whatever the order of its triangles [mm3].

    Flat holes count exactly. Where triangles disagree which way is out, the figure is rough; it is taken about the middle of all
    rims, or of the box where there are none.

    Parameters
    ----------
    mesh : welded
    """
    start, end = mesh.faces.reshape(-1), np.roll(mesh.faces, -1, axis=1).reshape(-1)
    edges = edges_of(mesh)
    half = np.flatnonzero((edges.count == 1)[edges.which])
    along = mesh.vertices[end[half]], mesh.vertices[start[half]]
    middles, long = (along[0] + along[1]) / 2, np.linalg.norm(along[1] - along[0], axis=1)
    about = np.average(middles, axis=0, weights=long) if long.sum() else np.mean(mesh.bounds, axis=0)
    size = len(mesh.vertices)
    _, of_corner = connected_components(
        coo_array((np.ones(len(half)), (start[half], end[half])), shape=(size, size)), directed=False
    )
    _, rim = np.unique(of_corner[start[half]], return_inverse=True)
    round_mm = np.maximum(np.bincount(rim, long), np.finfo(float).tiny)
    fans = np.stack([np.bincount(rim, long * middles[:, k]) / round_mm for k in range(3)], axis=1)[rim]
    a, b, c = np.moveaxis(np.concatenate((mesh.corners, np.stack((*along, fans), axis=1))) - about, 1, 0)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def filled(mesh: Mesh) -> tuple[Mesh, int]:
    """The mesh with every rim covered.

    Flat rims in one plane are covered together, so that one within another leaves an opening. Others are covered with the least
    area, or, where they are long, in the plane nearest to them; where neither works, by a fan about their middle.

    Returns
    -------
    mesh : Mesh [mm]
    count : covers laid
    """
    points, covers = [mesh.vertices], [mesh.faces]
    added, count = len(mesh.vertices), 0
    loops = rims(mesh)
    on_rim = np.zeros(len(mesh.vertices), dtype=bool)
    for loop in loops:
        on_rim[loop] = True
    ends = edges_of(mesh).ends
    taken = {(int(a), int(b)) for a, b in ends[on_rim[ends].all(axis=1)]}
    for group in _together(mesh.vertices, loops):
        faces = _cover(mesh.vertices, group)
        chords = _chords(faces, group)
        if not len(faces) or chords & taken:
            for loop in group:
                points.append(mesh.vertices[loop].mean(axis=0, keepdims=True))
                covers.append(np.stack((loop, np.roll(loop, -1), np.full(len(loop), added)), axis=1))
                added += 1
        else:
            covers.append(faces)
            taken |= chords
        count += 1
    return Mesh(np.vstack(points), np.vstack(covers)), count


def _chords(faces: Ints, group: Sequence[Ints]) -> set[tuple[int, int]]:
    """The edges of a cover that are not its rim, the lower corner first."""
    sides = np.sort(np.stack((faces, np.roll(faces, -1, axis=1)), axis=2).reshape(-1, 2), axis=1)
    rim = {tuple(sorted((int(a), int(b)))) for loop in group for a, b in zip(loop, np.roll(loop, -1), strict=True)}
    return {(int(a), int(b)) for a, b in sides} - rim


def _area_vector(points: Floats) -> Floats:
    """Normal times area of a polygon [mm2]; Newell's formula."""
    about = points - points[0]
    vector: Floats = np.cross(about, np.roll(about, -1, axis=0)).sum(axis=0) / 2
    return vector


def _is_flat(points: Floats) -> bool:
    vector = _area_vector(points)
    length = np.linalg.norm(vector)
    if length == 0:
        return False
    away = (points - points.mean(axis=0)) @ (vector / length)
    return bool(np.abs(away).max() <= FLAT_SHARE * np.ptp(points, axis=0).max())


def _plane(points: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors in the plane of a polygon, so that it runs anticlockwise in them."""
    normal = _area_vector(points)
    normal = normal / np.linalg.norm(normal)
    u = np.cross(np.eye(3)[int(np.argmin(np.abs(normal)))], normal)
    u /= np.linalg.norm(u)
    return u, np.cross(normal, u)


def _together(vertices: Floats, loops: Sequence[Ints]) -> list[list[Ints]]:
    """Rims in groups that one cover closes: a flat one with those that lie within it and run the other way."""
    flat = [k for k, loop in enumerate(loops) if _is_flat(vertices[loop])]
    areas = {k: float(np.linalg.norm(_area_vector(vertices[loops[k]]))) for k in flat}
    host: dict[int, int] = {}
    for k in flat:
        around = [m for m in flat if areas[m] > areas[k] and _lies_in(vertices[loops[k]], vertices[loops[m]])]
        if around:
            host[k] = min(around, key=lambda m: areas[m])
    inner = {k for k in host if host[k] not in host}
    groups = [[loop, *(loops[i] for i in sorted(inner) if host[i] == k)] for k, loop in enumerate(loops) if k not in inner]
    return groups


def _lies_in(inner: Floats, outer: Floats) -> bool:
    """Does a flat rim lie in the plane of another, within it, and run against it."""
    u, v = _plane(outer)
    normal = np.cross(u, v)
    if _area_vector(inner) @ normal >= 0:
        return False
    if np.abs((inner - outer[0]) @ normal).max() > FLAT_SHARE * np.ptp(outer, axis=0).max():
        return False
    return bool(_within(np.stack((inner @ u, inner @ v), axis=1), np.stack((outer @ u, outer @ v), axis=1)).all())


def _within(points: Floats, polygon: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """(n,) bool: points within a polygon, by counting the sides that a ray to the right passes."""
    (x, y), (ax, ay) = points.T, polygon.T
    bx, by = np.roll(polygon, -1, axis=0).T
    spans = (ay[None] > y[:, None]) != (by[None] > y[:, None])
    rise = np.where(by != ay, by - ay, 1.0)
    at = ax + (y[:, None] - ay) / rise * (bx - ax)
    return np.asarray((spans & (x[:, None] < at)).sum(axis=1) % 2 == 1)


def _cover(vertices: Floats, group: Sequence[Ints]) -> Ints:
    """Triangles between the corners of a group of rims; none where no cover without overlap is found."""
    loop = group[0]
    points = vertices[loop]
    if len(group) > 1 or _is_flat(points):
        faces = _flat_cover(vertices, group)
        if len(faces):
            return faces
    if len(loop) <= LONGEST_TAUT:
        return loop[_taut(points)]
    return _flat_cover(vertices, group)


def _flat_cover(vertices: Floats, group: Sequence[Ints]) -> Ints:
    """The cover in the plane of the first rim; empty where it would overlap itself there."""
    none = np.zeros((0, 3), dtype=np.int64)
    if np.linalg.norm(_area_vector(vertices[group[0]])) == 0:
        return none
    u, v = _plane(vertices[group[0]])
    corners = np.concatenate(group)
    flat = [np.stack((vertices[loop] @ u, vertices[loop] @ v), axis=1) for loop in group]
    faces = corners[np.asarray(manifold3d.triangulate(flat), dtype=np.int64).reshape(-1, 3)]
    spread = np.stack((vertices @ u, vertices @ v), axis=1)[faces]
    one, two = spread[:, 1] - spread[:, 0], spread[:, 2] - spread[:, 0]
    pieces = (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]) / 2
    whole = sum(_turn(polygon) for polygon in flat)
    least = len(corners) - 2 + 2 * (len(group) - 1)
    fits = len(faces) == least and abs(np.abs(pieces).sum() - whole) <= SAME_AREA * abs(whole)
    return faces if fits else none


def _turn(polygon: Floats) -> float:
    """Signed area [mm2] of a polygon in the plane."""
    x, y = (polygon - polygon[0]).T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def _taut(points: Floats) -> Ints:
    """The triangles between the corners of a rim, (k, 3), that have the least area together: (k - 2, 3) places in it.

    Source: Barequet and Sharir, "Filling gaps in the boundary of a polyhedron" (1995): the best cover of a run of corners is a
    triangle on its chord and the best covers of the two runs that this leaves.
    """
    count = len(points)
    cost, middle = np.zeros((count, count)), np.zeros((count, count), dtype=np.int64)
    for span in range(2, count):
        for low in range(count - span):
            high = low + span
            between = np.arange(low + 1, high)
            area = np.linalg.norm(np.cross(points[between] - points[low], points[high] - points[low]), axis=1) / 2
            whole = cost[low, between] + cost[between, high] + area
            best = int(np.argmin(whole))
            cost[low, high], middle[low, high] = whole[best], between[best]
    faces, waiting = [], [(0, count - 1)]
    while waiting:
        low, high = waiting.pop()
        if high - low > 1:
            at = int(middle[low, high])
            faces.append((low, at, high))
            waiting += [(low, at), (at, high)]
    return np.array(faces, dtype=np.int64).reshape(-1, 3)
