"""Blocks with one feature of known size, that the tests of gaps, wires, recesses and corners share; all in millimetres."""

import manifold3d
import numpy as np

from pourwell.geometry.features import Looked, features
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.thickness import sampled

Solid = manifold3d.Manifold
TOP = 2.0
"""Height of the block's upper face."""
LOOKED = Looked(gap_mm=4.0, gap_least_mm=0.4, ridge_mm=1.0, least_mm=0.05, wire_mm=0.8, corner_deg=45.0, corner_mm=0.1)


def found(mesh, looked=LOOKED):
    """The features of a mesh."""
    caster = Caster(mesh)
    return features(mesh, sampled(mesh, caster), caster, looked=looked)


def block(*cuts, on=()):
    """A block of 14 by 8 by 4 with something cut from it or set on it."""
    body = Solid.cube((14, 8, 2 * TOP), True)
    for cut in cuts:
        body -= cut
    for part in on:
        body += part
    return from_manifold(body)


def groove(width, depth):
    """A groove with a flat floor, all along the block."""
    return Solid.cube((20, width, 2 * depth), True).translate((0, 0, TOP))


def v_groove(angle_deg, depth):
    """A groove with slanted sides that meet at an angle."""
    half = depth * np.tan(np.radians(angle_deg / 2))
    rims = ((0, TOP - depth), (-2 * half, TOP + depth), (2 * half, TOP + depth))
    return Solid.hull_points(np.array([[x, y, z] for x in (-20, 20) for y, z in rims], float))


def round_groove(radius):
    """A groove with a half-round section."""
    return Solid.cylinder(40, radius, radius, 48, True).rotate((0, 90, 0)).translate((0, 0, TOP))


def blind_hole(diameter, depth):
    """A round hole from above."""
    return Solid.cylinder(depth + 1, diameter / 2, diameter / 2, 48).translate((0, 0, TOP - depth))


def drilled(diameter):
    """A round hole right through."""
    return Solid.cylinder(20, diameter / 2, diameter / 2, 48, True)


def slot(width, length=6.0):
    """A slot right through."""
    return Solid.cube((length, width, 20), True)


def line(width, height):
    """A raised line on the block."""
    return Solid.cube((8, width, 2 * height), True).translate((0, 0, TOP))


def flask_shaped():
    """A pocket 2 wide and 1 high under a neck of 0.8."""
    return Solid.cube((6, 2, 1), True).translate((0, 0, 0.5)) + Solid.cube((6, 0.8, 4), True).translate((0, 0, TOP))


def notch(angle_deg):
    """A slanted cut that leaves an inner corner of so many degrees, 2 deep."""
    wide = 2 * np.tan(np.radians(angle_deg))
    places = ((0.0, 0.0), (0.0, TOP + 1), (1.5 * wide, TOP + 1))
    return Solid.hull_points(np.array([[x, y, z] for x in (-20, 20) for y, z in places], float))


def with_wire(diameter, length=6.0):
    """A cube with a wire standing on it."""
    radius = diameter / 2
    return from_manifold(Solid.cube((6, 6, 6), True) + Solid.cylinder(3 + length, radius, radius, 32))


def refined(mesh: Mesh, times: int) -> Mesh:
    """The same surface with every triangle quartered, so many times."""
    for _ in range(times):
        a, b, c = np.moveaxis(mesh.corners, 1, 0)
        ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
        corners = np.concatenate([np.stack(t, axis=1) for t in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))])
        points, index = np.unique(corners.reshape(-1, 3).round(12), axis=0, return_inverse=True)
        mesh = Mesh(points, index.reshape(-1, 3))
    return mesh
