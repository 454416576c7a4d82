"""Which bodies lie wholly within another."""

from collections.abc import Sequence
from typing import Final

import manifold3d
import numpy as np

from pourwell.geometry.gap import holds
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import inside_out, to_manifold

WHOLLY_SHARE: Final = 1e-6
"""A body lies wholly within another if no more than this share of it sticks out: single precision rounds no coarser."""

MOST_CORNERS: Final = 8
"""Corners of a body that are looked at before its volume is: if none lies within the other, the body does not."""


def nested(meshes: Sequence[Mesh]) -> tuple[tuple[int, int], ...]:
    """Pairs of closed bodies wound outward of which the first lies wholly within the second, and in no hollow of it.

    Parameters
    ----------
    meshes : closed meshes [mm]; one wound inward is a hollow

    Raises
    ------
    NotSolidError if two of them of which one may lie within the other are not closed.
    """
    bounds = [mesh.bounds for mesh in meshes]
    volumes = [mesh.volume_mm3 for mesh in meshes]
    solids: dict[int, manifold3d.Manifold] = {}

    def solid(k: int) -> manifold3d.Manifold:
        if k not in solids:
            solids[k] = to_manifold(meshes[k] if volumes[k] > 0 else inside_out(meshes[k]))
        return solids[k]

    def within(inner: int, outer: int) -> bool:
        turned = meshes[outer] if volumes[outer] > 0 else inside_out(meshes[outer])
        corners = meshes[inner].vertices[np.unique(meshes[inner].faces)]
        some = corners[:: -(-len(corners) // MOST_CORNERS)]  # one of them may lie in the other's surface
        if not any(holds(turned, point) for point in some):
            return False
        return bool((solid(inner) - solid(outer)).volume() <= WHOLLY_SHARE * solid(inner).volume())

    by_size = sorted(range(len(meshes)), key=lambda i: abs(volumes[i]))
    pairs = []
    for place, k in enumerate(by_size):
        if volumes[k] <= 0:
            continue
        low, high = bounds[k]
        around = (i for i in by_size[place + 1 :] if (bounds[i][0] <= low).all() and (high <= bounds[i][1]).all())
        host = next((i for i in around if within(k, i)), None)
        if host is not None and volumes[host] > 0:
            pairs.append((k, host))
    return tuple(sorted(pairs))
