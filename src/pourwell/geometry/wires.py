"""Wires and prongs: where a solid is thin in two directions, and how thick a round wire would be there [mm].

A sheet is thin one way and wide the other; a wire is thin both ways and long the third, and stands free: all round its section
there is air. The thin edge of a band is no wire, for behind it the section goes on. Its gauge is the diameter between its two
thicknesses, the root of their product: of a round wire its diameter, of a strip twice as wide as thick 1.4 times its thickness.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

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

FREE: Final = 1.0
"""From its middle no side of a wire's section is farther away than its gauge: of a strip twice as wide as thick, the corners are
0.8 of it away, of a square one 0.7, of a round one a half."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wires:
    """Places on wires.

    Attributes
    ----------
    at_mm : (k, 3) float array [mm]
    area_mm2 : (k,) float array [mm2], of the surface that each place stands for
    gauge_mm : (k,) float array [mm]
    ball_mm : (k,) float array [mm], the largest ball that fits there: of a strip, its thickness
    """

    at_mm: Floats
    area_mm2: Floats
    gauge_mm: Floats
    ball_mm: Floats

    def only(self, chosen: NDArray[np.bool_]) -> "Wires":
        """Those chosen, (k,) bool array."""
        return Wires(**{name: getattr(self, name)[chosen] for name in self.__dataclass_fields__})

    def __len__(self) -> int:
        """How many places."""
        return len(self.at_mm)

    def thinnest(self) -> tuple[float, Floats] | None:
        """The gauge that a stretch of wire as long as it is thick does not exceed, and where, (3,) [mm]; None if there is none."""
        place = self.worst()
        return None if place is None else (float(self.gauge_mm[place]), self.at_mm[place])

    def worst(self) -> int | None:
        """Which place that is."""
        order = np.argsort(self.gauge_mm, kind="stable")
        summed = np.cumsum(self.area_mm2[order])
        long_enough = np.flatnonzero(summed >= np.pi * self.gauge_mm[order] ** 2)
        if not len(long_enough):
            return None
        return int(order[long_enough[0]])


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
    centre = points[thin] + way * (along / 2)[:, None]
    across, long, axis = _calipers(centre, way, caster)
    gauge = np.sqrt(along * across)
    wire = (np.maximum(along, across) <= STRIP * np.minimum(along, across)) & (gauge < limit_mm)
    wire &= long >= SLENDER * np.maximum(along, across)
    wire[wire] = _farthest(centre[wire], (way[wire], np.cross(way, axis)[wire]), caster) <= FREE * gauge[wire]
    chosen = thin[wire]
    return Wires(at_mm=points[chosen], area_mm2=area_mm2[chosen], gauge_mm=gauge[wire], ball_mm=balls.diameter_mm[chosen])


def _calipers(centre: Floats, way: Floats, caster: Caster) -> tuple[Floats, Floats, Floats]:
    """The least and the greatest thickness through places, square to a way, (k,) each [mm], and where the greatest lies, (k, 3)."""
    one = np.cross(way, np.eye(3)[np.argmin(np.abs(way), axis=1)])
    one /= np.maximum(np.linalg.norm(one, axis=1, keepdims=True), np.finfo(float).tiny)
    two = np.cross(way, one)
    least, most, axis = np.full(len(centre), np.inf), np.zeros(len(centre)), one.copy()
    for turn in np.arange(AXES_COUNT) * (np.pi / AXES_COUNT):
        heading = np.cos(turn) * one + np.sin(turn) * two
        whole = caster.first(centre, heading)[0] + caster.first(centre, -heading)[0]
        axis = np.where((whole > most)[:, None], heading, axis)
        least, most = np.minimum(least, whole), np.maximum(most, whole)
    return least, most, axis


def _farthest(centre: Floats, plane: tuple[Floats, Floats], caster: Caster) -> Floats:
    """How far away the side of a section is that is farthest from places in it, (k,) [mm]; `plane` are two ways square in it."""
    far = np.zeros(len(centre))
    for turn in np.arange(2 * AXES_COUNT) * (np.pi / AXES_COUNT):
        far = np.maximum(far, caster.first(centre, np.cos(turn) * plane[0] + np.sin(turn) * plane[1])[0])
    return far
