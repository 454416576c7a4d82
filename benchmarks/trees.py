"""A tree of six rings, and one ring that leans, as formulas and as closed triangle meshes. Metres unless said otherwise."""

import math

import numpy as np

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import weld

MM = 1e3
STANCE = np.array([math.sqrt(0.5), math.sqrt(0.5)])
"""Sprues rise at 45 degrees."""


def rod(points, start, along, *, length, radius):
    """Distance from a cylinder [m]."""
    q = points - start
    s = q @ along
    a = np.sqrt(np.maximum((q**2).sum(axis=1) - s**2, 0)) - radius
    b = np.abs(s - 0.5 * length) - 0.5 * length
    return np.minimum(np.maximum(a, b), 0) + np.hypot(np.maximum(a, 0), np.maximum(b, 0))


def band(points, middle, *, head, axis, thick=2e-3):
    """Distance from a band of bore 17 mm, 3 mm wide, 2 mm thick, which grows by `thick` on the side of `head` [m]."""
    q = points - middle
    a, c = q @ head, q @ axis
    r = np.sqrt(np.maximum((q**2).sum(axis=1) - c**2, 0))
    share = np.clip((a / np.maximum(r, 1e-9) - 0.5) * 3.2, 0, 1)
    wall = 2e-3 + thick * share**2 * (3 - 2 * share)
    u, v = np.abs(r - 8.5e-3 - 0.5 * wall) - 0.5 * wall, np.abs(c) - 1.5e-3
    away = np.minimum(np.maximum(u, v), 0) + np.hypot(np.maximum(u, 0), np.maximum(v, 0))
    return away * (0.93 if thick else 1.0)


def tree(points):
    """Distance from six rings on a stem of 6 mm with a button of 25 x 15 mm [m]."""
    up = np.array([0.0, 0.0, 1.0])
    away = rod(points, np.array([0, 0, 85e-3]), up, length=20e-3, radius=12.5e-3)
    away = np.minimum(away, rod(points, np.array([0, 0, 15e-3]), up, length=71e-3, radius=3e-3))
    for n in range(6):
        turn = (n % 3) * 2 * math.pi / 3 + (n // 3) * math.pi / 3 + 0.2
        out = np.array([math.cos(turn), math.sin(turn), 0.0])
        along = STANCE[0] * out + STANCE[1] * up
        foot = 2e-3 * out + (18e-3 + 26e-3 * (n // 3)) * up
        near = np.flatnonzero((np.linalg.norm(points - (foot + 16e-3 * along), axis=1) - 18e-3) < away)
        axis = np.array([-math.sin(turn), math.cos(turn), 0.0])
        piece = np.minimum(
            rod(points[near], foot, along, length=11.8e-3, radius=1.25e-3),
            band(points[near], foot + 21.5e-3 * along, head=along, axis=axis),
        )
        away[near] = np.minimum(away[near], piece)
    return away


def lone_ring(points):
    """Distance from one plain band that leans across all axes [m]."""
    axis = np.array([0.3, 0.5, 1.0])
    axis /= np.linalg.norm(axis)
    head = np.cross(axis, [0.0, 0.0, 1.0])
    return band(points, np.array([0.1e-3, 0.2e-3, 20.15e-3]), head=head / np.linalg.norm(head), axis=axis, thick=0.0)


def loft(sections: np.ndarray) -> np.ndarray:
    """Triangles (2 n m, 3, 3) between n closed sections of m points (n, m, 3), of which the last meets the first."""
    a, b = sections, np.roll(sections, -1, axis=0)
    c, d = np.roll(b, -1, axis=1), np.roll(a, -1, axis=1)
    return np.stack([np.stack([a, b, c], axis=2), np.stack([a, c, d], axis=2)], axis=2).reshape(-1, 3, 3)


def rod_mesh(start: np.ndarray, along: np.ndarray, *, length: float, radius: float, sides: int = 96) -> np.ndarray:
    """Triangles of a closed cylinder: a tube whose ends are drawn together to points."""
    across = np.cross(along, [0.0, 1.0, 0.0] if abs(along[1]) < 0.9 else [1.0, 0.0, 0.0])
    across /= np.linalg.norm(across)
    turn = np.linspace(0, 2 * np.pi, sides, endpoint=False)[:, None]
    rim = radius * (np.cos(turn) * across + np.sin(turn) * np.cross(along, across))
    low, high = start, start + length * along
    walls = [np.stack([low + rim, np.roll(low + rim, -1, axis=0), high + rim], axis=1)]
    walls.append(np.stack([np.roll(low + rim, -1, axis=0), np.roll(high + rim, -1, axis=0), high + rim], axis=1))
    walls.append(np.stack([np.broadcast_to(low, rim.shape), np.roll(low + rim, -1, axis=0), low + rim], axis=1))
    walls.append(np.stack([np.broadcast_to(high, rim.shape), high + rim, np.roll(high + rim, -1, axis=0)], axis=1))
    return np.concatenate(walls)


def band_mesh(middle: np.ndarray, *, head: np.ndarray, axis: np.ndarray, around: int = 500, edge: int = 25) -> np.ndarray:
    """Triangles (8 around edge) of `band` with its head, four sides of `edge` strips each."""
    share = np.linspace(0, 1, edge, endpoint=False)
    u = np.concatenate([share, np.ones(edge), 1 - share, np.zeros(edge)])
    v = np.concatenate([np.zeros(edge), share, np.ones(edge), 1 - share]) - 0.5
    turn = np.linspace(0, 2 * np.pi, around, endpoint=False)[:, None]
    grown = np.clip((np.cos(turn) - 0.5) * 3.2, 0, 1)
    radius = 8.5e-3 + u * (2e-3 + 2e-3 * grown**2 * (3 - 2 * grown))
    side = np.cross(axis, head)
    points = middle + (radius * np.cos(turn))[..., None] * head + (radius * np.sin(turn))[..., None] * side
    return loft(points + (v * 3e-3)[None, :, None] * axis)


def tree_meshes() -> list[Mesh]:
    """The same tree as closed meshes [mm] that reach into one another, 100,000 triangles a ring."""
    up = np.array([0.0, 0.0, 1.0])
    parts = [rod_mesh(np.array([0, 0, 85e-3]), up, length=20e-3, radius=12.5e-3)]
    parts.append(rod_mesh(np.array([0, 0, 15e-3]), up, length=71e-3, radius=3e-3))
    for n in range(6):
        turn = (n % 3) * 2 * math.pi / 3 + (n // 3) * math.pi / 3 + 0.2
        out = np.array([math.cos(turn), math.sin(turn), 0.0])
        along = STANCE[0] * out + STANCE[1] * up
        foot = 2e-3 * out + (18e-3 + 26e-3 * (n // 3)) * up
        axis = np.array([-math.sin(turn), math.cos(turn), 0.0])
        parts.append(rod_mesh(foot, along, length=11.8e-3, radius=1.25e-3))
        parts.append(band_mesh(foot + 21.5e-3 * along, head=along, axis=axis))
    return [welded(MM * part) for part in parts]


def welded(corners: np.ndarray) -> Mesh:
    """The mesh of some triangles (m, 3, 3) [mm]."""
    return weld(Mesh(vertices=corners.reshape(-1, 3), faces=np.arange(3 * len(corners)).reshape(-1, 3)))
