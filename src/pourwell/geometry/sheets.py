"""Sheets of a surface that hang on edges of more than two triangles: which of them are inner walls [mm]."""

from typing import Final

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pourwell.geometry.mesh import Ints, Mesh
from pourwell.geometry.solidity import edges_of

MOST_SHEETS: Final = 100
"""Above so many sheets a mesh is a tangle, and none is an inner wall of the rest."""


def sheets_of(mesh: Mesh) -> Ints:
    """(m,) int: the sheet of every triangle; sheets hang together over edges of two triangles."""
    edges = edges_of(mesh)
    half = np.flatnonzero((edges.count == 2)[edges.which])
    both = half[np.argsort(edges.which[half], kind="stable")].reshape(-1, 2) // 3
    graph = coo_matrix((np.ones(len(both)), tuple(both.T)), shape=(len(mesh.faces),) * 2)
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def without_inner_walls(mesh: Mesh) -> tuple[Mesh, int]:
    """The mesh without the sheets that only make edges of more than two triangles: the smallest first, while that helps.

    Returns
    -------
    mesh : Mesh [mm]
    count : triangles dropped
    """
    label = sheets_of(mesh)
    areas = np.bincount(label, weights=mesh.areas)
    if len(areas) > MOST_SHEETS:
        return mesh, 0
    kept = np.ones(len(mesh.faces), dtype=bool)
    left = _wrong(mesh)
    for sheet in np.argsort(areas, kind="stable").tolist():
        if not left:
            break
        tried = kept & (label != sheet)
        wrong = _wrong(Mesh(mesh.vertices, mesh.faces[tried]))
        if tried.any() and wrong < left:
            kept, left = tried, wrong
    return Mesh(mesh.vertices, mesh.faces[kept]), int((~kept).sum())


def _wrong(mesh: Mesh) -> int:
    """Edges that do not join two triangles."""
    return int((edges_of(mesh).count != 2).sum())
