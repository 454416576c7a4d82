"""Points spread over triangles, no farther apart than asked [mm]."""

from typing import Final

import numpy as np

from pourwell.geometry.mesh import Floats, Ints, Mesh

MOST_HALVINGS: Final = 60
"""Halvings of a longest side after which any triangle is small, whatever the spacing."""


def scattered(mesh: Mesh, spacing_mm: float) -> tuple[Floats, Ints]:
    """Points on every triangle, its corners among them: no place of it is farther from one than `spacing_mm`.

    Triangles are halved across their longest side until no side is longer; every corner that comes about is a point.

    Returns
    -------
    points : (n, 3) float array [mm]
    face : (n,) int array, the triangle of each
    """
    corners, face = mesh.corners, np.arange(len(mesh.faces))
    points, faces = [corners.reshape(-1, 3)], [np.repeat(face, 3)]
    for _ in range(MOST_HALVINGS):
        sides = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
        long = np.flatnonzero(sides.max(axis=1, initial=0.0) > spacing_mm)
        if not len(long):
            break
        turn = (np.argmax(sides[long], axis=1)[:, None] + np.arange(3)) % 3
        a, b, c = np.moveaxis(np.take_along_axis(corners[long], turn[:, :, None], axis=1), 1, 0)
        middle = (a + b) / 2
        points.append(middle)
        faces.append(face[long])
        corners = np.concatenate((np.stack((a, middle, c), axis=1), np.stack((middle, b, c), axis=1)))
        face = np.tile(face[long], 2)
    return np.concatenate(points), np.concatenate(faces)
