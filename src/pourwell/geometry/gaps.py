"""How wide the gap before a face is, by rays that go out from it [mm]: grooves, slots, the space between two wires."""

import numpy as np

from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.thickness import GRAZING, cone, directions


def gaps_by_rays(mesh: Mesh, points: Floats, face: Ints, *, caster: Caster, most_mm: float = np.inf) -> Floats:
    """The way across the gap at points of faces, by a narrow cone of outward rays.

    As inside the metal, a ray at an angle a to the normal that meets a face looking back after the length l bounds the gap by
    l / cos a; rays that meet a face at a grazing angle say nothing. The floor of a groove has no gap by this measure: it looks out.

    Parameters
    ----------
    mesh : wound outward
    points, face : (k, 3) float array [mm], (k,) int array
    caster : rays of the same mesh
    most_mm : wider than this is open [mm]

    Returns
    -------
    (k,) float array [mm], infinite where open
    """
    normals = mesh.normals
    outward = normals[face]
    gap = np.full(len(points), np.inf)
    for angle, turn in cone():
        heading = directions(outward, angle, turn)
        length, met = caster.first(points, heading, leaving=face)
        facing = (met >= 0) & (np.einsum("ij,ij->i", normals[met], heading) <= -GRAZING)
        gap = np.minimum(gap, np.where(facing, length / np.cos(angle), np.inf))
    return np.where(gap <= most_mm, gap, np.inf)
