"""A best guess at the solid that an unsound mesh was meant to be, as a stand-in for its figures [mm]."""

from typing import Final

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import breadth_first_order
from scipy.spatial import ConvexHull, QhullError

from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.solidity import NotSolidError, bodies, edges_of, from_manifold, inside_out, to_manifold, unite, weld

AGAINST: Final = 1e6
"""Mark of two neighbours that contradict each other; far over the number of edges that two triangles can share."""


def mended(mesh: Mesh) -> Mesh | None:
    """A best guess at the solid that an unsound mesh was meant to be, or None where there is none.

    Triangles that contradict their neighbours are turned, holes are closed by a fan about the middle of their rim, and
    the whole is turned outward. A guess never replaces a sound file: its figures are only a stand-in.
    """
    out = []
    for body in bodies(mesh):
        try:
            closed = from_manifold(to_manifold(_capped(_agreeing(body))))
        except NotSolidError:
            continue
        if closed.volume_mm3:
            out.append(closed if closed.volume_mm3 > 0 else inside_out(closed))
    if len(out) < 2:
        return out[0] if out else None
    try:
        return unite(out)[0]
    except NotSolidError:
        return None


def _agreeing(mesh: Mesh) -> Mesh:
    """The mesh with triangles turned so that neighbours over edges of two agree, as far as they can."""
    edges = edges_of(mesh)
    half = np.flatnonzero((edges.count == 2)[edges.which])
    both = half[np.argsort(edges.which[half], kind="stable")].reshape(-1, 2)
    one, two = (both // 3).T
    against = edges.balance[edges.which[both[:, 0]]] != 0
    size = len(mesh.faces)
    graph = coo_matrix((np.where(against, AGAINST, 1.0), (one, two)), shape=(size, size)).tocsr()
    graph = graph.maximum(graph.T)
    turn = np.zeros(size, dtype=bool)
    seen = np.zeros(size, dtype=bool)
    while not seen.all():
        order, parent = breadth_first_order(graph, int(np.argmin(seen)), directed=False)
        weights = np.asarray(graph[parent[order[1:]], order[1:]]).reshape(-1) if len(order) > 1 else np.zeros(0)
        for child, mother, weight in zip(order[1:].tolist(), parent[order[1:]].tolist(), weights.tolist(), strict=True):
            turn[child] = turn[mother] ^ (weight >= AGAINST)
        seen[order] = True
    return Mesh(mesh.vertices, np.where(turn[:, None], mesh.faces[:, ::-1], mesh.faces))


def _capped(mesh: Mesh) -> Mesh:
    """The mesh with every rim closed by a fan about its middle."""
    edges = edges_of(mesh)
    half = np.flatnonzero((edges.count == 1)[edges.which])
    if not len(half):
        return mesh
    start, end = mesh.faces.reshape(-1), np.roll(mesh.faces, -1, axis=1).reshape(-1)
    following = dict(zip(start[half].tolist(), end[half].tolist(), strict=True))
    points: list[Floats] = [mesh.vertices]
    faces: list[Ints] = [mesh.faces]
    added = len(mesh.vertices)
    while following:
        first, after = following.popitem()
        rim = [first, after]
        while rim[-1] in following and rim[-1] != first:
            rim.append(following.pop(rim[-1]))
        if rim[-1] != first:
            continue
        loop = np.array(rim[:-1])
        points.append(mesh.vertices[loop].mean(axis=0, keepdims=True))
        faces.append(np.stack((np.roll(loop, -1), loop, np.full(len(loop), added)), axis=1))
        added += 1
    return Mesh(np.vstack(points), np.vstack(faces))


def hull(mesh: Mesh) -> Mesh | None:
    """The convex hull, wound outward; None if all corners lie in a plane."""
    points = mesh.vertices[np.unique(mesh.faces)]
    try:
        found = ConvexHull(points)
    except (QhullError, ValueError):
        return None
    corners = points[found.simplices]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    inward = np.einsum("ij,ij->i", normals, found.equations[:, :3]) < 0
    return weld(Mesh(points, np.where(inward[:, None], found.simplices[:, ::-1], found.simplices)))
