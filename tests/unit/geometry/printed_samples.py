"""Solids whose layers are known beforehand."""

import manifold3d
import numpy as np

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold


def block(low, high):
    """A box in the boolean engine."""
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    return manifold3d.Manifold.cube((high - low).tolist()).translate(low.tolist())


def cylinder(radius, *, low, high, at=(0.0, 0.0), tip=None, around=96):
    """A round column, or a cone frustum that ends in the radius `tip`."""
    made = manifold3d.Manifold.cylinder(high - low, radius, radius if tip is None else tip, around)
    return made.translate((at[0], at[1], low))


def mesh(solid) -> Mesh:
    """A solid of the boolean engine as a mesh."""
    return from_manifold(solid)


def table(*, legs, top=(10.0, 6.0, 1.0), high=5.0):
    """A table top on legs of one square millimetre, each (x, y, where it begins)."""
    whole = block((0, 0, high), (top[0], top[1], high + top[2]))
    for x, y, begins in legs:
        whole += block((x, y, begins), (x + 1, y + 1, high + 0.1))
    return mesh(whole)


def cup(*, outer=5.0, inner=4.0, high=6.0, floor=1.0, hole=None):
    """A round cup, open towards +z; with a drain of radius `hole` in the middle of its floor."""
    whole = cylinder(outer, low=0, high=high) - cylinder(inner, low=floor, high=high + 1)
    if hole:
        whole -= cylinder(hole, low=-1, high=floor + 1)
    return mesh(whole)


def over(what: Mesh) -> Mesh:
    """Upside down: turned about x by half a turn."""
    return what.moved(np.diag([1.0, -1.0, -1.0, 1.0]))


def turn_by(axis, angle):
    """(3, 3): a turn about an axis (Rodrigues)."""
    x, y, z = np.asarray(axis, dtype=float) / np.linalg.norm(axis)
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross


def placed(what: Mesh, turn, shift=(0.0, 0.0, 0.0)) -> Mesh:
    """Under a rigid motion."""
    return what.moved(np.column_stack((turn, np.asarray(shift, dtype=float))))


def stl_file(path, what: Mesh) -> str:
    """A mesh as a text STL file; its name."""
    lines = ["solid piece"]
    for corners in what.corners.tolist():
        lines += ["facet normal 0 0 0", "outer loop", *(f"vertex {x} {y} {z}" for x, y, z in corners), "endloop", "endfacet"]
    path.write_text("\n".join([*lines, "endsolid piece"]), encoding="utf-8")
    return str(path)
