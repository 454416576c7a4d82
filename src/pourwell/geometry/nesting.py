"""Which bodies lie wholly within another."""

from collections.abc import Sequence
from typing import Final

import manifold3d
import numpy as np

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import inside_out, to_manifold
from pourwell.geometry.soup import Soup

WHOLLY_SHARE: Final = 1e-6
"""A body lies wholly within another if no more than this share of it sticks out: single precision rounds no coarser."""

MOST_PLACES: Final = 8
"""Places under a body's surface that are looked at before its volume is: if none lies within the other, the body does not."""

UNDER_SHARE: Final = 1e-4
"""So far under its surface they lie, as a share of its size: what fills a hollow to its wall lies within it."""

HALF: Final = 0.5
"""A closed surface winds once round what lies within it, and not at all round what does not."""


def nested(meshes: Sequence[Mesh]) -> tuple[tuple[int, int], ...]:
    """Pairs of closed bodies wound outward of which the first lies wholly within the second, and in no hollow of it.

    Parameters
    ----------
    meshes : closed meshes [mm]; one wound inward is a hollow

    Raises
    ------
    NotSolidError if two of them of which one may lie within the other are not closed.
    """
    if len(meshes) < 2:
        return ()
    low, high = (np.array([mesh.bounds[end] for mesh in meshes]) for end in (0, 1))
    volumes = [mesh.volume_mm3 for mesh in meshes]
    solids: dict[int, manifold3d.Manifold] = {}
    soups: dict[int, Soup] = {}

    def solid(k: int) -> manifold3d.Manifold:
        if k not in solids:
            solids[k] = to_manifold(meshes[k] if volumes[k] > 0 else inside_out(meshes[k]))
        return solids[k]

    def within(inner: int, outer: int) -> bool:
        if outer not in soups:
            soups[outer] = Soup(meshes[outer])
        few = slice(None, None, -(-len(meshes[inner].faces) // MOST_PLACES))
        skin = UNDER_SHARE * float((high[inner] - low[inner]).max())
        some = meshes[inner].centres[few] - skin * meshes[inner].normals[few] * np.sign(volumes[inner])
        if not (soups[outer].windings(some) * np.sign(volumes[outer]) > HALF).any():
            return False
        return bool((solid(inner) - solid(outer)).volume() <= WHOLLY_SHARE * solid(inner).volume())

    sizes = [(abs(volume), -volume) for volume in volumes]
    by_size = np.array(sorted(range(len(meshes)), key=lambda i: sizes[i]))  # of one size, a body before a hollow
    pairs = []
    for place, k in enumerate(by_size.tolist()):
        if volumes[k] <= 0:
            continue
        slack = WHOLLY_SHARE * float((high[k] - low[k]).max())
        larger = by_size[place + 1 :]
        around = larger[((low[larger] <= low[k] + slack) & (high[k] <= high[larger] + slack)).all(axis=1)]
        host = next((i for i in around.tolist() if within(k, i)), None)
        if host is not None and volumes[host] > 0:
            pairs.append((k, host))
    return tuple(sorted(pairs))
