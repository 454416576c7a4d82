"""Wires and prongs: where a solid is thin in two directions, and how thick a round wire would be there [mm].

A sheet is thin one way and wide the other; a wire is thin both ways and long the third. Its gauge is the diameter between its two
thicknesses, the root of their product: of a round wire its diameter, of a strip twice as wide as thick 1.4 times its thickness.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from pourwell.geometry.mesh import Floats, Ints
from pourwell.geometry.rays import Caster
from pourwell.geometry.touching import Touch

AXES_COUNT: Final = 8
"""Directions square to the ball's way in which a section is measured, each both ways."""

STRIP: Final = 2.0
"""What is more than twice as wide as thick is a strip, judged as a wall."""

AGREED: Final = 0.7
"""The ball is at least this share of what the ray along its way measures, where both measure one section."""

SLENDER: Final = 2.0
"""A wire is at least twice as long as it is thick."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wires:
    """Places on wires.

    Attributes
    ----------
    at_mm : (k, 3) float array [mm]
    area_mm2 : (k,) float array [mm2], of the surface that each place stands for
    gauge_mm : (k,) float array [mm]
    """

    at_mm: Floats
    area_mm2: Floats
    gauge_mm: Floats

    def __len__(self) -> int:
        """How many places."""
        return len(self.at_mm)

    def thinnest(self) -> tuple[float, Floats] | None:
        """The gauge that a stretch of wire as long as it is thick does not exceed, and where, (3,) [mm]; None if there is none."""
        order = np.argsort(self.gauge_mm, kind="stable")
        summed = np.cumsum(self.area_mm2[order])
        long_enough = np.flatnonzero(summed >= np.pi * self.gauge_mm[order] ** 2)
        if not len(long_enough):
            return None
        place = int(order[long_enough[0]])
        return float(self.gauge_mm[place]), self.at_mm[place]


def wires(points: Floats, area_mm2: Floats, *, balls: Touch, caster: Caster, limit_mm: float) -> Wires:
    """Places on wires thinner than a limit.

    Parameters
    ----------
    points, area_mm2 : (k, 3), (k,) float arrays [mm], [mm2], spread over its surface
    balls : largest balls that touch there from inside
    caster : rays of the closed solid
    limit_mm : gauge that is thick enough [mm]
    """
    thin: Ints = np.flatnonzero(balls.diameter_mm < limit_mm)
    way = balls.way[thin]
    along = caster.first(points[thin] + way * (balls.diameter_mm[thin] / 2)[:, None], way)[0] + balls.diameter_mm[thin] / 2
    slim = np.flatnonzero(balls.diameter_mm[thin] >= AGREED * along)  # in a corner the ball is small, not the section
    thin, way, along = thin[slim], way[slim], along[slim]
    across, long = _calipers(points[thin] + way * (along / 2)[:, None], way, caster)
    gauge = np.sqrt(along * across)
    wire = (np.maximum(along, across) <= STRIP * np.minimum(along, across)) & (gauge < limit_mm)
    wire &= long >= SLENDER * np.maximum(along, across)
    return Wires(at_mm=points[thin][wire], area_mm2=area_mm2[thin][wire], gauge_mm=gauge[wire])


def _calipers(centre: Floats, way: Floats, caster: Caster) -> tuple[Floats, Floats]:
    """The least and the greatest thickness through places, square to a way, (k,) each [mm]."""
    one = np.cross(way, np.eye(3)[np.argmin(np.abs(way), axis=1)])
    one /= np.maximum(np.linalg.norm(one, axis=1, keepdims=True), np.finfo(float).tiny)
    two = np.cross(way, one)
    least, most = np.full(len(centre), np.inf), np.zeros(len(centre))
    for turn in np.arange(AXES_COUNT) * (np.pi / AXES_COUNT):
        heading = np.cos(turn) * one + np.sin(turn) * two
        whole = caster.first(centre, heading)[0] + caster.first(centre, -heading)[0]
        least, most = np.minimum(least, whole), np.maximum(most, whole)
    return least, most
