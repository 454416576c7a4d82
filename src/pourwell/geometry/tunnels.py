"""Places on the sides of holes that go through a piece, whatever the surface that they open in [mm].

A hole is shut in all round, and one sees along it out of both its ends. Its way lies along its sides: it is sought there, about the
middle of the ball that touches a side from the air.
"""

from typing import Final

import numpy as np

from pourwell.geometry.mesh import Floats, Ints
from pourwell.geometry.rays import Caster
from pourwell.geometry.rolling import Flags
from pourwell.geometry.thickness import directions
from pourwell.geometry.touching import Touching

WAYS_COUNT: Final = 24
"""Ways along a side that are looked along, both ways each: 7.5 degrees apart, so holes up to seven times as long as wide are seen
through from their middle."""

ROUND_COUNT: Final = 8
"""Ways across, both ways each, in which something must stand."""

FREE: Final = 2.0
"""A way out of a hole is free for so many of the ball's diameters at least: a wider room, or the open."""

SQUARE, NEARLY = 0.5, 0.7
"""Sides of a hole tell its way if they meet at 30 degrees or more, and that lies within 45 degrees of the one looked along: a short
hole is seen through aslant."""

REACH, STEPS_COUNT = 3.0, 12
"""A hole is followed over so many of its widths each way, in so many steps."""

SAME_SIDE: Final = 0.2
"""... as far as its side lies as far from the middle, within this share."""


def along_tunnels(caster: Caster, points: Floats, normals: Floats, *, ball_mm: Floats) -> Floats:
    """Which places lie on the side of a hole that leads on, or out, at both ends, and which way it runs.

    Parameters
    ----------
    caster : rays of a closed solid, wound outward
    points, normals : (k, 3) float arrays [mm], [-], on its surface and out of it
    ball_mm : (k,) float array [mm], the largest balls that touch there from outside; infinite where it is open: no hole

    Returns
    -------
    (k, 3) float array [-], of length one, or nothing for a place that lies on no such side
    """
    ways = np.zeros((len(points), 3))
    left = np.flatnonzero(np.isfinite(ball_mm) & (ball_mm > 0))
    middles, free_mm = points + normals * np.where(np.isfinite(ball_mm), ball_mm / 2, 0.0)[:, None], FREE * ball_mm
    for turn in np.arange(WAYS_COUNT) * (np.pi / WAYS_COUNT):
        along = directions(normals[left], np.pi / 2, turn)
        both = _free(caster, middles[left], along, free_mm=free_mm[left])
        both[both] = _free(caster, middles[left[both]], -along[both], free_mm=free_mm[left[both]])
        both[both] = _shut_in(caster, middles[left[both]], along[both])
        ways[left[both]] = _squared(caster, middles[left[both]], normals[left[both]], along=along[both])
        left = left[~both]
    return ways


def webs(
    caster: Caster, touching: Touching, sides: tuple[Floats, Floats], *, ways: Floats, ball_mm: Floats
) -> tuple[Floats, Floats, Floats, Ints]:
    """How thick the web is beside holes, for places on their sides: the most along the hole, for it tapers to a lip at its mouths.

    Parameters
    ----------
    caster, touching : rays and balls of a closed solid, wound outward
    sides : points and normals, (k, 3) float arrays [mm], [-], on sides of holes and out of the surface
    ways : (k, 3) float array [-], which way each hole runs
    ball_mm : (k,) float array [mm], how wide each is

    Returns
    -------
    at_mm : (k, 3) float array [mm], where it is so thick, on the side of the hole
    rays_mm, balls_mm : (k,) float arrays [mm], straight through the metal there, and the ball that touches there
    behind : (k,) int array, the face in which that ray leaves; -1 where the hole has no side there
    """
    points, normals = sides
    behind, at, rays, balls = np.full(len(points), -1), points.copy(), np.zeros(len(points)), np.zeros(len(points))
    middles, radius = points + normals * (ball_mm / 2)[:, None], ball_mm / 2
    for step in np.arange(-STEPS_COUNT, STEPS_COUNT + 1) / STEPS_COUNT:
        start = middles + ways * (step * REACH * ball_mm)[:, None]
        away, face = caster.first(start, -normals)
        good = np.flatnonzero(np.abs(away - radius) <= SAME_SIDE * radius)
        here, face = start[good] - normals[good] * away[good, None], face[good]
        through, back = caster.first(here, -normals[good], leaving=face)
        ball = touching.balls(here, face).diameter_mm
        more = np.minimum(through, ball) > np.minimum(rays, balls)[good]
        at[good[more]], rays[good[more]], balls[good[more]] = here[more], through[more], ball[more]
        behind[good[more]] = back[more]
    return at, rays, balls, behind


def _squared(caster: Caster, middles: Floats, normals: Floats, *, along: Floats) -> Floats:
    """Ways along holes, made square to the side of the place and to the one beside it, where that is met squarely."""
    face = caster.first(middles, np.cross(along, normals))[1]
    exact = np.cross(normals, caster.mesh.normals[face])
    length = np.linalg.norm(exact, axis=1)
    exact *= (np.sign(np.einsum("ij,ij->i", exact, along)) / np.maximum(length, np.finfo(float).tiny))[:, None]
    good = (length > SQUARE) & (np.einsum("ij,ij->i", exact, along) > NEARLY)
    return np.where(good[:, None], exact, along)


def _free(caster: Caster, points: Floats, way: Floats, *, free_mm: Floats) -> Flags:
    free: Flags = caster.first(points, way)[0] >= free_mm
    return free


def _shut_in(caster: Caster, points: Floats, along: Floats) -> Flags:
    """Whether something stands all round ways through points."""
    shut = np.ones(len(points), dtype=bool)
    for turn in np.arange(2 * ROUND_COUNT) * (np.pi / ROUND_COUNT):
        shut[shut] = np.isfinite(caster.first(points[shut], directions(along[shut], np.pi / 2, turn))[0])
    return shut
