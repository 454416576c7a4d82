"""A mesh with shorter edges and the same surface [mm]."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from pourwell.geometry.mesh import Floats, Mesh


def refined(mesh: Mesh, too_long: Callable[[Floats, Floats], NDArray[np.bool_]]) -> Mesh:
    """The same surface, edges halved until none is too long. A closed mesh stays closed.

    Parameters
    ----------
    mesh : triangles [mm]
    too_long : says of edges from (e, 3) to (e, 3) [mm] which are, whichever end comes first; of an edge divided again and again,
        the parts must be short enough in the end
    """
    while True:
        finer = _halved(mesh, too_long)
        if len(finer.faces) == len(mesh.faces):
            return mesh
        mesh = finer


def _halved(mesh: Mesh, too_long: Callable[[Floats, Floats], NDArray[np.bool_]]) -> Mesh:
    """The same surface, every such edge divided once in its middle.

    A triangle is turned so that its divided edges come first; then it falls into two, three or four.
    """
    sides = np.stack([mesh.faces, np.roll(mesh.faces, -1, axis=1)], axis=-1)
    low, high = np.sort(sides.reshape(-1, 2), axis=1).T
    keys, which = np.unique(low * len(mesh.vertices) + high, return_inverse=True)
    ends = np.column_stack(np.divmod(keys, len(mesh.vertices)))
    long = too_long(mesh.vertices[ends[:, 0]], mesh.vertices[ends[:, 1]])
    middle = np.full(len(ends), -1)
    middle[long] = len(mesh.vertices) + np.arange(long.sum())
    vertices = np.concatenate([mesh.vertices, mesh.vertices[ends[long]].mean(axis=1)])
    cuts = middle[which].reshape(-1, 3)
    count = (cuts >= 0).sum(axis=1)
    start = np.where(count == 1, (cuts >= 0).argmax(axis=1), np.where(count == 2, ((cuts < 0).argmax(axis=1) + 1) % 3, 0))
    order = (start[:, None] + np.arange(3)) % 3
    a, b, c = np.take_along_axis(mesh.faces, order, axis=1).T
    ab, bc, ca = np.take_along_axis(cuts, order, axis=1).T
    patterns = {
        0: ((a, b, c),),
        1: ((a, ab, c), (ab, b, c)),
        2: ((a, ab, c), (ab, bc, c), (ab, b, bc)),
        3: ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)),
    }
    parts = [np.column_stack(corner)[count == cut] for cut, pattern in patterns.items() for corner in pattern]
    return Mesh(vertices, np.concatenate(parts))
