"""How wide the gap is before a face, by rays outward [mm]: a second opinion on the balls that touch there from outside.

The same cone as through a wall, turned outward; no ball is asked. It is cast where the balls find it narrow, and at a bounded
number of the other places, which shows whether they overlook a gap. Beside an inner corner a ball is small whatever the rays say:
there is no gap, only a corner.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from pourwell.geometry.mesh import Floats
from pourwell.geometry.rays import Caster
from pourwell.geometry.rolling import Flags
from pourwell.geometry.stretches import least_stretch
from pourwell.geometry.thickness import PARALLEL, Samples, by_cone
from pourwell.geometry.thin import agreeing
from pourwell.geometry.touching import Touch

NEAR: Final = 2.0
"""Where a ball of so many least gaps is stopped, rays are cast: the two methods differ by some percent, not by half."""

MOST_NARROW: Final = 4_000
"""... at so many places at most; of more, at every so many."""

MOST_WIDE: Final = 500
"""Of the places that the balls find wide or open, so many."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gaps:
    """Gaps at places of the surface, both ways.

    Attributes
    ----------
    at_mm : (k, 3) float array [mm], on the surface
    area_mm2 : (k,) float array [mm2], of the surface that each place stands for
    rays_mm : (k,) float array [mm], by rays; infinite where they leave the piece, or meet no face that faces the place
    square_mm : (k,) float array [mm], straight out to a face that is all but parallel to the place's own, else infinite
    ball_mm : (k,) float array [mm], the largest ball that touches there, infinite where it is open
    """

    at_mm: Floats
    area_mm2: Floats
    rays_mm: Floats
    square_mm: Floats
    ball_mm: Floats

    def only(self, chosen: Flags) -> "Gaps":
        """Those chosen, (k,) bool array."""
        return Gaps(**{name: getattr(self, name)[chosen] for name in self.__dataclass_fields__})

    @property
    def width_mm(self) -> Floats:
        """The lesser of both between sides that face each other, (k,) [mm]; infinite where a ball is stopped by a corner before."""
        lesser = np.minimum(self.rays_mm, self.ball_mm)
        between = np.isfinite(self.square_mm) & (agreeing(self.rays_mm, self.ball_mm) | (self.ball_mm > self.rays_mm))
        return np.where(between, lesser, np.inf)

    def worst(self, enough_mm2: float) -> int | None:
        """The place that shows the narrowest stretch of more than so much surface [mm2]; None where there is none."""
        return least_stretch(self.at_mm, self.area_mm2, self.width_mm, enough_mm2=enough_mm2)


def gaps_outside(samples: Samples, outer: Touch, caster: Caster, *, least_mm: float) -> tuple[Gaps, Floats]:
    """Measure gaps by rays at places where a ball measured them.

    Parameters
    ----------
    samples : places of a closed solid
    outer : the balls that touch there from outside
    caster : rays of the same mesh
    least_mm : the least width of a gap [mm]

    Returns
    -------
    gaps : at the places where rays were cast
    rays_mm : (k,) float array [mm], by rays at every sample; nan where none were cast
    """
    asked, area = [], []
    narrow = outer.diameter_mm < NEAR * least_mm
    for group, most in ((np.flatnonzero(narrow), MOST_NARROW), (np.flatnonzero(~narrow), MOST_WIDE)):
        spare = max(1, -(-len(group) // most))
        asked.append(group[::spare])
        area.append(samples.area_mm2[asked[-1]] * spare)
    which = np.concatenate(asked)
    cast = by_cone(caster, samples.points[which], samples.face[which], outward=True)
    rays = np.full(len(samples.points), np.nan)
    rays[which] = cast.least_mm
    return (
        Gaps(
            at_mm=samples.points[which],
            area_mm2=np.concatenate(area),
            rays_mm=cast.least_mm,
            square_mm=np.where(cast.square >= PARALLEL, cast.straight_mm, np.inf),
            ball_mm=outer.diameter_mm[which],
        ),
        rays,
    )
