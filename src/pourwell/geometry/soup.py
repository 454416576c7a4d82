"""Distance to any triangles, closed or not, and how often they wind round a point [mm]."""

from collections.abc import Callable
from typing import Final

import numpy as np

from pourwell.geometry.kernels.compiled import in_parts
from pourwell.geometry.kernels.nearest import distances
from pourwell.geometry.kernels.tree import Trees, tree_order
from pourwell.geometry.kernels.winding import windings
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.planting import planted

CHUNK: Final = 16_384
"""Points that a thread takes at a time."""


class Soup:
    """Triangles made ready for many questions, however they hang together.

    Parameters
    ----------
    mesh : triangles [mm], at least one
    """

    def __init__(self, mesh: Mesh) -> None:
        used = np.unique(mesh.faces)
        mesh = Mesh(mesh.vertices[used], np.searchsorted(used, mesh.faces))
        self._middle: Floats = np.mean(mesh.bounds, axis=0)
        self._trees = planted([mesh], self._middle)

    def distances(self, points: Floats) -> Floats:
        """(n,) float array [mm]: from every point, (n, 3) [mm], to the nearest triangle."""
        return self._asked(points, distances)

    def windings(self, points: Floats) -> Floats:
        """(n,) float array: how often the triangles wind round every point, (n, 3) [mm]."""
        return self._asked(points, windings)

    def _asked(self, points: Floats, question: Callable[[Trees, Floats, Floats], None]) -> Floats:
        """The answers for all points, a part at a time and side by side; neighbours are asked one after another."""
        if not len(points):
            return np.zeros(0)
        order = tree_order(points - self._middle)
        asked, answers = points[order] - self._middle, np.empty(len(points))
        in_parts(lambda part: question(self._trees, asked[part], answers[part]), len(points), most=CHUNK)
        out = np.empty(len(points))
        out[order] = answers
        return out
