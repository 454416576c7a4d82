"""Triangles put in order before a surface can be closed: seams sewn, copies dropped, neighbours made to agree [mm]."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import breadth_first_order

from pourwell.geometry.mesh import Ints, Mesh
from pourwell.geometry.solidity import WELD_SHARE, edges_of, weld

AGAINST: Final = 1e6
"""Mark of two neighbours that contradict each other; far over the number of edges that two triangles can share."""

SEAM_STEPS: Final = (3.0, 10.0, 30.0, 100.0)
"""How far corners of a seam may lie apart, tried in this order, as multiples of the rounding of files."""

SEAM_MM: Final = 0.03
"""Corners farther apart than this are never sewn together: a little more than the finest print layer, 0.025 mm."""


def sewn(mesh: Mesh) -> tuple[Mesh, int]:
    """The mesh with its seams sewn: rims that run side by side, farther apart than rounding but no more than a print can show.

    Returns
    -------
    mesh : welded Mesh [mm]
    count : open edges that closed by it
    """
    best = weld(mesh)
    if not len(best.faces):
        return best, 0
    size = max(best.envelope_mm)
    before = int((edges_of(best).count == 1).sum())
    left = before
    for factor in SEAM_STEPS:
        reach = min(factor * WELD_SHARE * size, SEAM_MM)
        if not left:
            break
        tried = weld(best, tolerance_mm=reach)
        best, left = tried, int((edges_of(tried).count == 1).sum())
    return best, before - left


def without_repeats(mesh: Mesh) -> tuple[Mesh, int]:
    """The mesh with triangles that stand in one place more than once dropped; two that face each other both go.

    Returns
    -------
    mesh : Mesh [mm]
    count : triangles dropped
    """
    low = np.argmin(mesh.faces, axis=1)
    turned = np.take_along_axis(mesh.faces, (np.arange(3) + low[:, None]) % 3, axis=1)
    against = turned[:, 1] > turned[:, 2]
    rows = np.where(against[:, None], turned[:, [0, 2, 1]], turned)
    _, first, which = np.unique(rows, axis=0, return_index=True, return_inverse=True)
    which = which.reshape(-1)
    if len(first) == len(rows):
        return mesh, 0
    net = np.bincount(which, weights=np.where(against, -1.0, 1.0))
    single = _picked(which, against, np.sign(net))
    best = _picked(which, against, net)
    if single.sum() < best.sum() and _unbalanced(mesh, single) < _unbalanced(mesh, best):
        best = single  # else both are needed: two sheets lie upon one another
    return Mesh(mesh.vertices, mesh.faces[best]), int((~best).sum())


def _picked(which: Ints, against: NDArray[np.bool_], wanted: NDArray[np.number]) -> NDArray[np.bool_]:
    """(m,) bool: of every group of triangles in one place, as many as are wanted of those that face that way."""
    order = np.lexsort((against, which))
    start = np.r_[True, (np.diff(which[order]) != 0) | (np.diff(against[order].astype(np.int64)) != 0)]
    at = np.flatnonzero(start)
    rank = np.arange(len(order)) - np.repeat(at, np.diff(np.r_[at, len(order)]))
    kept = np.zeros(len(order), dtype=bool)
    way = np.where(against[order], -1.0, 1.0)
    kept[order] = rank < wanted[which[order]] * way
    return kept


def _unbalanced(mesh: Mesh, kept: NDArray[np.bool_]) -> int:
    """Edges with more triangles on one side than on the other."""
    return int((edges_of(Mesh(mesh.vertices, mesh.faces[kept])).balance != 0).sum())


def agreeing(mesh: Mesh) -> tuple[Mesh, int]:
    """The mesh with triangles turned so that neighbours over edges of two agree, as far as they can; the greater part stays.

    Returns
    -------
    mesh : Mesh [mm]
    count : triangles turned
    """
    edges = edges_of(mesh)
    half = np.flatnonzero((edges.count == 2)[edges.which])
    both = half[np.argsort(edges.which[half], kind="stable")].reshape(-1, 2)
    one, two = (both // 3).T
    against = edges.balance[edges.which[both[:, 0]]] != 0
    if not against.any():
        return mesh, 0
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
        if mesh.areas[order][turn[order]].sum() > mesh.areas[order].sum() / 2:
            turn[order] = ~turn[order]
        seen[order] = True
    return Mesh(mesh.vertices, np.where(turn[:, None], mesh.faces[:, ::-1], mesh.faces)), int(turn.sum())
