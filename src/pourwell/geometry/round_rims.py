"""Rims that taper to a rounding, at places of a surface [mm]: how thin they are, and how far they run.

A rounding is as wide as its flanks are apart where the ball lies that touches it from inside. They are met from its middle: where
they would meet sharply beyond it, and the metal behind it is wider, the rounding is the rim of something that tapers. A wire has
no flanks, a sheet does not widen, the corner of a bar is not sharp.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from pourwell.geometry.mesh import Floats
from pourwell.geometry.rays import Caster
from pourwell.geometry.rolling import Flags
from pourwell.geometry.thickness import directions

TURNS: Final = 8
"""Ways across, both ways each: one lies within 12 degrees of the shortest, which is 2 % longer at most."""

FLANKS_DEG: Final = 60.0
"""So far from the way inward the flanks are met, on either side: they lie there if the place is no farther than 30 degrees from the
crest, and half the angle between them more or less."""

CREST_DEG: Final = 45.0
"""Places no farther from the crest are asked where it is."""

LEAST_BISECTED: Final = 0.2
"""Length of the sum of the flanks' normals under which they are parallel: at 11 degrees between them."""

CURVED_DEG, SAME_FACE = 25.0, 0.99
"""A narrow face is flat if it looks the same way, to this cosine, at so many degrees on both sides of the place from the middle of
the ball: by geometry still on a flat face, and off the facet of a rounding unless it has only three."""

SAME_BALL: Final = 2.0
"""The flanks lie no farther off than so many radii of the ball, and a place belongs to a crest if the middles of their balls lie no
farther apart than the radius and these agree within this: on coarse facets the ball is as much smaller."""

WINDOW_DEG: Final = 60.0
"""Places count the less the farther they lie from the crest, as half a cosine that ends here: coarse facets then add up to the same
length as fine ones."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Roundings:
    """At places, (k,): of rims that taper to a rounding.

    Attributes
    ----------
    width_mm : (k,) float array, how thin the rim is there; infinite where there is none
    length_mm : (k,) float array, how much of its length the place stands for; 0 where there is none
    curved : (k,) bool array, the surface turns about the place: no narrow flat face
    """

    width_mm: Floats
    length_mm: Floats
    curved: Flags


def roundings(
    caster: Caster,
    points: Floats,
    inward: Floats,
    *,
    heading: Floats,
    area_mm2: Floats,
    ball_mm: Floats,
    sharp_deg: float,
    grows: float,
) -> Roundings:
    """Find the rims.

    Parameters
    ----------
    caster : rays of a closed solid, wound outward
    points, inward : (k, 3) float arrays [mm], [-]
    heading : (k, 3) float array [-], along the least way across just under each place: square to the rim, if there is one
    area_mm2 : (k,) float array [mm2], what each place stands for
    ball_mm : (k,) float array [mm], the largest balls that touch there from inside
    sharp_deg : flanks that meet at more taper to no rim [degrees]
    grows : the metal a ball's diameter under the crest is so many times as wide as the ball, or it is no rim but of a sheet
    """
    radius = ball_mm / 2
    middles = points + inward * radius[:, None]
    turned = np.radians(CURVED_DEG)
    sides = [_met(caster, middles, -np.cos(turned) * inward + way * np.sin(turned) * heading)[0] for way in (1, -1)]
    curved = np.einsum("ij,ij->i", *sides) < SAME_FACE
    turned = np.radians(FLANKS_DEG)
    flanks = (_met(caster, middles, np.cos(turned) * inward + way * np.sin(turned) * heading) for way in (1, -1))
    (one, near), (other, beside) = flanks
    out = one + other
    length = np.linalg.norm(out, axis=1)
    out /= np.maximum(length, np.finfo(float).tiny)[:, None]
    sharp = (np.einsum("ij,ij->i", one, other) < -np.cos(np.radians(sharp_deg))) & (length > LEAST_BISECTED)
    sharp &= np.maximum(near, beside) < SAME_BALL * radius  # they hold the ball: it lies in no corner of something wide
    crest = np.flatnonzero(sharp & (np.einsum("ij,ij->i", out, -inward) > np.cos(np.radians(CREST_DEG))))
    behind = across(caster, middles[crest] - out[crest] * radius[crest, None], -out[crest])[0]
    crest = crest[behind >= grows * ball_mm[crest]]
    width, long = np.full(len(points), np.inf), np.zeros(len(points))
    if len(crest):
        away, which = cKDTree(middles[crest]).query(middles)
        mate = crest[which]
        alike = (away <= radius[mate]) & (np.maximum(ball_mm, ball_mm[mate]) < SAME_BALL * np.minimum(ball_mm, ball_mm[mate]))
        turn = np.arccos(np.clip(np.einsum("ij,ij->i", out[mate], -inward), -1, 1))
        share = np.where(alike & (turn < np.radians(WINDOW_DEG)), np.cos(turn * 90 / WINDOW_DEG) ** 2, 0.0)
        apart = (near + beside)[mate]  # the ball's own diameter, but on coarse facets
        width[share > 0] = apart[share > 0]
        # a whole rounding adds up to its length: the cosine's integral
        long = area_mm2 * share / (apart / 2 * np.radians(WINDOW_DEG))
    return Roundings(width_mm=width, length_mm=long, curved=curved)


def across(caster: Caster, centres: Floats, inward: Floats, *, sharp_deg: float | None = None) -> tuple[Floats, Floats]:
    """The least way across the metal at places in it, square to ways inward.

    Parameters
    ----------
    centres, inward : (k, 3) float arrays [mm], [-]
    sharp_deg : only between sides that would meet at no more [degrees]; by default between any

    Returns
    -------
    width_mm : (k,) float array, infinite where there is none
    heading : (k, 3) float array [-], along the least of all, sharp or not
    """
    normals = caster.mesh.normals
    least, along = np.full(len(centres), np.inf), directions(inward, np.pi / 2, 0.0)
    shortest = least.copy()
    for turn in np.arange(TURNS) * (np.pi / TURNS):
        heading = directions(inward, np.pi / 2, turn)
        (ahead, met), (behind, back) = caster.first(centres, heading), caster.first(centres, -heading)
        width = ahead + behind
        along[width < shortest] = heading[width < shortest]
        shortest = np.minimum(shortest, width)
        if sharp_deg is not None:
            facing = np.einsum("ij,ij->i", normals[met], normals[back])
            width = np.where(facing < -np.cos(np.radians(sharp_deg)), width, np.inf)
        least = np.minimum(least, width)
    return least, along


def _met(caster: Caster, points: Floats, heading: Floats) -> tuple[Floats, Floats]:
    """The normals of the faces that rays meet, (k, 3), nothing where they meet none; how far their planes lie off, (k,) [mm]."""
    length, face = caster.first(points, heading)
    normals = np.where(face[:, None] >= 0, caster.mesh.normals[face], 0.0)
    return normals, np.where(face >= 0, length * np.einsum("ij,ij->i", normals, heading), np.inf)
