"""Patches of a surface that are too many to be closed one by one: loose triangles, of which nobody can say what they enclose."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import edges_of

MOST_PATCHES: Final = 300
"""Above so many open patches a surface is a heap of them: closing one takes some five thousandths of a second, and a drawing
whose every face stands apart has fewer faces, which sewing joins first."""


def heap_of(parts: Sequence[Mesh]) -> tuple[int, ...]:
    """Which of some bodies make a heap: all that are open or wound two ways, if those are too many to look at one by one.

    Parameters
    ----------
    parts : bodies, each welded [mm]
    """
    if len(parts) <= MOST_PATCHES:
        return ()
    starts = np.cumsum([0, *(len(part.vertices) for part in parts)])
    faces = np.vstack([part.faces + start for part, start in zip(parts, starts, strict=False)])
    edges = edges_of(Mesh(np.zeros((int(starts[-1]), 3)), faces))
    body = np.repeat(np.arange(len(parts)), [len(part.faces) for part in parts])
    wrong = np.bincount(body, weights=(~edges.regular)[edges.which].reshape(-1, 3).any(axis=1), minlength=len(parts))
    found = np.flatnonzero(wrong).tolist()
    return tuple(found) if len(found) > MOST_PATCHES else ()
