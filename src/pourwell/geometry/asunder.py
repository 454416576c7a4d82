"""Solids of one piece that do not touch: how many there are, and how far the nearest two lie from each other [mm]."""

from dataclasses import dataclass

import numpy as np

from pourwell.geometry.mesh import Floats, Mesh, joined
from pourwell.geometry.solidity import bodies
from pourwell.geometry.touching import Touching


@dataclass(frozen=True, slots=True, kw_only=True)
class Asunder:
    """Solids that do not touch.

    Attributes
    ----------
    count : how many
    gap_mm : from the least of them to the nearest other, by the corners of both
    at_mm : there, on the least of them
    """

    count: int
    gap_mm: float
    at_mm: tuple[float, float, float]


def asunder(mesh: Mesh) -> Asunder | None:
    """The solids that a surface consists of; None where there is but one.

    The distance is taken from every corner of either surface to the other: two edges that cross may be a little nearer.

    Parameters
    ----------
    mesh : united, so that bodies that touch are one [mm]
    """
    solids = sorted((body for body in bodies(mesh) if body.volume_mm3 > 0), key=lambda body: body.volume_mm3)
    if len(solids) < 2:
        return None
    least, rest = solids[0], joined(solids[1:])
    there = Touching(rest).feet(least.vertices)[0]
    back, own = Touching(least).feet(rest.vertices)
    near, far = int(np.argmin(there)), int(np.argmin(back))
    at: Floats = least.vertices[near] if there[near] <= back[far] else own[far]
    x, y, z = at.tolist()
    return Asunder(count=len(solids), gap_mm=float(min(there[near], back[far])), at_mm=(x, y, z))
