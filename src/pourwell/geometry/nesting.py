"""Which bodies lie wholly within another."""

from collections.abc import Sequence
from typing import Final

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import inside_out, to_manifold

WHOLLY_SHARE: Final = 1e-6
"""A body lies wholly within another if no more than this share of it sticks out: single precision rounds no coarser."""


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
    by_size = sorted(range(len(meshes)), key=lambda i: (abs(volumes[i]), -volumes[i]))  # of one size, a body before a hollow
    pairs = []
    for place, k in enumerate(by_size):
        if volumes[k] <= 0:
            continue
        low, high = bounds[k]
        slack = WHOLLY_SHARE * float((high - low).max())
        around = (i for i in by_size[place + 1 :] if (bounds[i][0] <= low + slack).all() and (high <= bounds[i][1] + slack).all())
        host = next((i for i in around if _within(meshes[k], meshes[i])), None)
        if host is not None and volumes[host] > 0:
            pairs.append((k, host))
    return tuple(sorted(pairs))


def _within(inner: Mesh, outer: Mesh) -> bool:
    """Does an outward body lie within another or within a hollow."""
    solid = to_manifold(inner)
    whole = to_manifold(outer if outer.volume_mm3 > 0 else inside_out(outer))
    return bool((solid - whole).volume() <= WHOLLY_SHARE * solid.volume())
