"""From which faces of a piece hardly any way leads straight out: what stands there, no tool takes off again."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.rays import Caster

WAYS_COUNT: Final = 64
"""Ways spread evenly over a ball; half of them lead away from a face."""

ROUND_COUNT: Final = 8
"""So many are tried at a time: most faces of most pieces are known to be open after the first round."""

OPEN_COUNT: Final = 2
"""A face from which so many lead out, a sixteenth of what it faces, can be got at: own choice."""

ALONG: Final = 0.1
"""A way flatter on the face than this cosine is not tried."""


def shut_in(mesh: Mesh, rays: Caster) -> NDArray[np.bool_]:
    """(m,) bool: the triangles from which hardly any way leads straight out, as on the inside of a ball with a small hole.

    Parameters
    ----------
    mesh : a closed solid [mm]
    rays : its caster
    """
    ways = _spread()
    out = np.zeros(len(mesh.faces), dtype=np.int64)
    left = np.flatnonzero(mesh.areas > 0)
    for first in range(WAYS_COUNT // ROUND_COUNT):
        for way in ways[first :: WAYS_COUNT // ROUND_COUNT]:
            faces = left[mesh.normals[left] @ way > ALONG]
            if len(faces):
                out[faces] += np.isinf(rays.first(mesh.centres[faces], way, leaving=faces)[0])
        left = left[out[left] < OPEN_COUNT]
    shut = np.zeros(len(mesh.faces), dtype=bool)
    shut[left] = True
    return shut


def _spread() -> Floats:
    """(WAYS, 3) float array [-]: unit vectors on a spiral by the golden angle."""
    number = np.arange(WAYS_COUNT) + 0.5
    height, turn = 1 - 2 * number / WAYS_COUNT, number * np.pi * (3 - np.sqrt(5))
    flat = np.sqrt(1 - height**2)
    return np.column_stack((flat * np.cos(turn), flat * np.sin(turn), height))
