"""One body that passes through itself made the union of what it passes through [mm].

The mesh engine unites different solids, not one with itself. So the body is cut by planes until no part crosses itself any more,
and the parts are united: the faces of the cuts lie upon one another and vanish, all other triangles stay where they were.
"""

from typing import Final

import manifold3d
import numpy as np

from pourwell.geometry.crossing import crossings
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import NotSolidError, from_manifold, to_manifold

MOST_CUTS: Final = 6
"""Cuts one after another through a part: 64 parts where every cut is through all; a body still crossing itself is a tangle."""

CUTS_AT: Final = (0.4871, 0.2613, 0.7389)
"""Where planes are tried, as shares of a part's box: off the middle, where drawings have their planes of symmetry."""

MOST_PAIRS: Final = 5000
"""Crossing pairs of triangles above which a body is a tangle, and is not cut."""

NOTHING_SHARE: Final = 1e-9
"""A part with less volume than this share of its box is a skin of rounding."""


def uncrossed(mesh: Mesh) -> Mesh | None:
    """The union of a closed body with itself, or None where cutting does not part what crosses.

    Parts that the body winds round the wrong way, as where a corner was pushed out through the far wall, are left away.
    """
    count = len(crossings(mesh))
    if not count:
        return mesh
    if count > MOST_PAIRS:
        return None
    try:
        parts = _parted(to_manifold(mesh), MOST_CUTS)
    except NotSolidError:
        return None
    if not parts:
        return None
    union = manifold3d.Manifold.batch_boolean(parts, manifold3d.OpType.Add)
    if union.status() != manifold3d.Error.NoError or union.is_empty():
        return None
    whole = from_manifold(union)
    return whole if not len(crossings(whole)) else None


def _parted(solid: manifold3d.Manifold, cuts: int) -> list[manifold3d.Manifold] | None:
    """Parts of a solid that do not cross themselves; None where that takes more cuts."""
    mesh = from_manifold(solid)
    if _empty(mesh):
        return []
    if not len(crossings(mesh)):
        return [solid] if mesh.volume_mm3 > 0 else []
    if not cuts:
        return None
    low, high = mesh.bounds
    best: tuple[int, list[manifold3d.Manifold]] | None = None
    for axis in np.argsort(low - high).tolist():
        for share in CUTS_AT:
            normal = np.eye(3)[axis].tolist()
            halves = solid.split_by_plane(normal, float(low[axis] + share * (high[axis] - low[axis])))
            found = [part for half in halves for part in half.decompose()]
            left = sum(len(crossings(from_manifold(part))) for part in found)
            if best is None or left < best[0]:
                best = left, found
            if not left:
                break
        if best and not best[0]:
            break
    out: list[manifold3d.Manifold] = []
    for part in best[1] if best else []:
        finer = _parted(part, cuts - 1)
        if finer is None:
            return None
        out += finer
    return out


def _empty(mesh: Mesh) -> bool:
    return not len(mesh.faces) or abs(mesh.volume_mm3) <= NOTHING_SHARE * max(mesh.envelope_mm) ** 3
