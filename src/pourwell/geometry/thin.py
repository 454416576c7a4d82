"""The thinnest wall of a piece, by two methods that share no query [mm]: rays across the metal, and balls that fit into it.

Neither is silently believed. Where both tell one feature, the lesser figure is told; where they differ much, both are.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from pourwell.geometry.kernels.compiled import thread_count
from pourwell.geometry.mesh import Floats, Ints
from pourwell.geometry.rays import Caster
from pourwell.geometry.thickness import PARALLEL, Samples, directions
from pourwell.geometry.touching import Touch, Touching

Flags = NDArray[np.bool_]

AGREED: Final = 0.2
"""Two figures within this share of the lesser one tell one wall: own choice. Balls are rounded off by the facets about them, cones
of rays by their half angle, each by some percent; a wall that tapers is told from a little higher or lower."""

BETWEEN: Final = 0.05
"""A ball lies between two sides if its far pole is no farther from the surface than this share of its diameter: by so much the wall
may be thicker than the ball. The sides of a wedge of 26 degrees are as near to the pole, by geometry; of a blunter one it says
nothing."""

ALIKE: Final = 0.02
"""Of two places whose walls agree within this share, the one on a sheet is told before the one on a rim or an edge."""

STEEP: Final = 1.5
"""Metal this many times thicker, no farther away than the wall is thick, carries the wall: a lip, not a sheet."""

SAME_MM: Final = 1e-9
"""Points nearer to each other than this are one: a place is looked up among the samples that it was taken from."""

SHEET_BIN: Final = 1.15
"""Walls within this ratio of each other are looked at together."""

CELLS_A_REACH: Final = 3
"""Cells of the grid that the surface is thinned out with, along the reach within which thicker metal carries."""

SIDEWAYS_COUNT: Final = 4
SIDEWAYS_SLACK: Final = 0.9
"""Directions across the wall's own in which, both ways together, the metal at half the limit's depth is measured; less than this
share of the limit is the rim of a sheet. One face alone beside the place is the corner of something thick."""

SMALL_SHARE: Final = 0.02
"""A thin patch need not be larger than this share of the surface."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ThinPlace:
    """The thinnest wall that is no mere edge, and how much of the surface is thinner than a limit."""

    wall_mm: float
    at_mm: tuple[float, float, float]
    """Where the metal that counts is so thick: beside an edge, the metal that carries it."""
    under_mm2: float
    """Surface under the limit, edges that something thicker carries left out."""
    sample: int
    """Which of the samples lies there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thinnest:
    """The thinnest wall by both methods."""

    rays: ThinPlace
    balls: ThinPlace | None
    """None where no ball lies between two sides."""
    agree: bool
    """Whether both tell one wall, or there is but one to tell it."""

    @property
    def told_by(self) -> Literal["rays", "balls"]:
        """The method whose figure is told: the lesser one."""
        return "balls" if self.balls is not None and self.balls.wall_mm < self.rays.wall_mm else "rays"

    @property
    def place(self) -> ThinPlace:
        """The lesser figure with its place, and the larger of both surfaces."""
        if self.balls is None:
            return self.rays
        told = self.balls if self.told_by == "balls" else self.rays
        return replace(told, under_mm2=max(self.rays.under_mm2, self.balls.under_mm2))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walls:
    """The wall at the same points by both methods.

    Attributes
    ----------
    rays : by rays
    balls : with the diameters of the largest balls as walls, and as ways across where these lie between all but parallel sides
    told : (k,) bool array, where the ball lies between two sides: in the corner of something thick it is small, not the wall
    """

    rays: Samples
    balls: Samples
    told: Flags

    def only(self, keep: Flags) -> "Walls":
        """At some of the points, (k,) bool array."""
        return Walls(rays=self.rays.only(keep), balls=self.balls.only(keep), told=self.told[keep])


def by_both(samples: Samples, balls: Touch, touching: Touching) -> Walls:
    """The walls by rays, and by balls that touch at the same points of the same mesh.

    A ball lies between two sides if its far pole lies on the surface or nearly so.
    """
    diameter = np.minimum(balls.diameter_mm, samples.wall_mm.max(initial=0.0))
    off = touching.feet(samples.points + balls.way * diameter[:, None])[0] / np.maximum(diameter, np.finfo(float).tiny)
    across = np.where(off <= (1 - PARALLEL) / 2, diameter, np.inf)
    return Walls(rays=samples, balls=replace(samples, wall_mm=diameter, across_mm=across), told=off <= BETWEEN)


def thinnest(walls: Walls, caster: Caster, *, limit_mm: float, reach_mm: float, patch_mm2: float) -> Thinnest:
    """The thinnest wall that something thicker does not carry, over at least a patch of the surface, by both methods.

    A knife edge or a bevel tapers to nothing, but the metal beside it carries and fills it: there the thickest wall within reach
    counts, and the tip of a corner is too small to count. Between all but parallel faces, a sheet, a wire, the wall of a cup,
    only metal no farther away than the wall is thick carries.

    Parameters
    ----------
    walls : of one closed solid
    caster : its rays
    limit_mm, reach_mm : [mm]
    patch_mm2 : [mm2]; of a small piece, at most a fiftieth of its surface
    """
    samples = walls.rays
    enough = min(patch_mm2, SMALL_SHARE * float(samples.area_mm2.sum()))
    rules = _Rules(limit_mm=limit_mm, reach_mm=reach_mm, enough_mm2=enough)
    picked, which = _thickest_of_cells(samples, reach_mm / CELLS_A_REACH)
    area = np.bincount(which, weights=samples.area_mm2).astype(np.float64)
    thick = _Thick(picked=picked, area_mm2=area, wall_mm=_broad(samples, picked, caster, limit_mm=limit_mm))
    rays = _thinnest(samples, thick, rules, deep=_RoundMiddles(samples).at_least)
    picked, which = _thickest_of_cells(walls.balls, reach_mm / CELLS_A_REACH)
    told = walls.told[picked]  # a ball in a corner says that the metal is no thinner there, not how thick it is
    if not told.any():
        return Thinnest(rays=rays, balls=None, agree=True)
    area = np.bincount(which, weights=samples.area_mm2).astype(np.float64) * told
    thick = _Thick(picked=picked, area_mm2=area, wall_mm=walls.balls.wall_mm[picked])
    balls = _thinnest(walls.balls, thick, rules, deep=lambda least_mm: walls.balls.wall_mm >= least_mm)
    return Thinnest(rays=rays, balls=balls, agree=_agree(walls, rays, balls))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Webs:
    """The metal between holes and the outside, at samples on the sides of the holes.

    Attributes
    ----------
    sample : (k,) int array
    at_mm : (k, 3) float array [mm], where along the hole it is measured
    rays_mm, balls_mm : (k,) float arrays [mm], how thick it is there by both methods
    """

    sample: Ints
    at_mm: Floats
    rays_mm: Floats
    balls_mm: Floats


def thinnest_web(samples: Samples, webs: Webs, *, limit_mm: float, patch_mm2: float) -> Thinnest | None:
    """The thinnest wall between a hole and the outside, both ways, if so much of the hole's side is under a limit.

    The web beside a small hole is too small a patch to be a wall, and thick metal lies near it all round: it breaks all the same,
    and with it the hole is open.

    Parameters
    ----------
    samples : of one closed solid
    webs : behind which the outside lies and no other hole: seats of stones side by side stand on the metal under them
    limit_mm : [mm]
    patch_mm2 : [mm2]
    """
    thin = np.flatnonzero(webs.balls_mm < limit_mm)
    area = samples.area_mm2[webs.sample[thin]]
    if not len(thin) or float(area.sum()) < patch_mm2:
        return None
    rules = _Rules(limit_mm=limit_mm, reach_mm=0.0, enough_mm2=patch_mm2 / 2)
    place, under = _least_patch(webs.balls_mm[thin], area, rules)
    worst = thin[place]
    x, y, z = webs.at_mm[worst].tolist()
    rays, balls = (
        ThinPlace(wall_mm=float(wall[worst]), at_mm=(x, y, z), under_mm2=under, sample=int(webs.sample[worst]))
        for wall in (webs.rays_mm, webs.balls_mm)
    )
    return Thinnest(rays=rays, balls=balls, agree=agreed(rays.wall_mm, balls.wall_mm))


def samples_at(samples: Samples, points: Floats) -> Ints:
    """Which samples, without repeats, some places, (k, 3) [mm], were taken from."""
    away, near = cKDTree(samples.points).query(points.reshape(-1, 3))
    return np.unique(near[away <= SAME_MM])


def _agree(walls: Walls, rays: ThinPlace, balls: ThinPlace) -> bool:
    """Whether the method that tells more says the same of the whole piece, or of the place that the other one tells of."""
    least, other = sorted((rays, balls), key=lambda place: place.wall_mm)
    there = (walls.rays if least is balls else walls.balls).wall_mm[least.sample]
    return agreed(least.wall_mm, other.wall_mm) or agreed(least.wall_mm, float(there))


def agreed(one_mm: float, other_mm: float) -> bool:
    """Whether two figures tell one measure."""
    return bool(agreeing(np.array(one_mm), np.array(other_mm)))


def agreeing(one_mm: Floats, other_mm: Floats) -> Flags:
    """Which figures tell one measure, (k,) bool array."""
    alike: Flags = np.maximum(one_mm, other_mm) <= (1 + AGREED) * np.minimum(one_mm, other_mm)
    return alike


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rules:
    limit_mm: float
    reach_mm: float
    enough_mm2: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Thick:
    """Of every cell of a grid the sample with the thickest wall, the surface in the cell (0: it is not told of), and that wall."""

    picked: Ints
    area_mm2: Floats
    wall_mm: Floats


class _RoundMiddles:
    """How large a ball fits about the middle of every wall, where it is asked: the rim of a sheet is deep, not thick."""

    def __init__(self, samples: Samples) -> None:
        self._samples = samples

    @cached_property
    def _tree(self) -> cKDTree:
        return cKDTree(self._samples.points)

    def at_least(self, least_mm: float) -> Flags:
        """Where no sample lies within half of this of the middle, (k,) bool array.

        The nearest one is not sought: from the middle of something round all of them are, and each would be held against every
        other.
        """
        samples = self._samples
        out: Flags = samples.wall_mm >= least_mm
        thick = np.flatnonzero(out)
        middles = samples.points[thick] + samples.inward[thick] * (samples.wall_mm[thick] / 2)[:, None]
        away, _ = self._tree.query(middles, distance_upper_bound=least_mm / 2, workers=thread_count())
        out[thick] = np.isinf(away)
        return out


def _thinnest(samples: Samples, thick: _Thick, rules: _Rules, *, deep: Callable[[float], Flags]) -> ThinPlace:
    """The thinnest place by one method; `deep` tells at which samples, (k,), the metal is at least so thick [mm]."""
    points, wall = samples.points[thick.picked], thick.wall_mm
    near = cKDTree(points).query_pairs(rules.reach_mm, output_type="ndarray")
    carried = wall.copy()
    np.maximum.at(carried, near[:, 0], wall[near[:, 1]])
    np.maximum.at(carried, near[:, 1], wall[near[:, 0]])
    least, under = _least_patch(carried, thick.area_mm2, rules)
    beside = np.append(near[near[:, 0] == least, 1], near[near[:, 1] == least, 0])
    carrier = beside[int(np.argmax(wall[beside]))] if len(beside) and wall[least] < carried[least] else least
    edge = _place(samples, int(thick.picked[carrier]), wall_mm=float(carried[least]), under_mm2=under)
    alone = _uncarried(samples, deep, below_mm=max(edge.wall_mm, rules.limit_mm))
    if float(samples.area_mm2[alone].sum()) < rules.enough_mm2:
        return edge
    across = samples.across_mm[alone]
    least, under = _least_patch(across, samples.area_mm2[alone], rules)
    sheet = _place(samples, int(alone[least]), wall_mm=float(across[least]), under_mm2=under)
    told = sheet if sheet.wall_mm <= edge.wall_mm * (1 + ALIKE) else edge
    return replace(told, under_mm2=max(edge.under_mm2, sheet.under_mm2))


def _place(samples: Samples, sample: int, *, wall_mm: float, under_mm2: float) -> ThinPlace:
    x, y, z = samples.points[sample].tolist()
    return ThinPlace(wall_mm=wall_mm, at_mm=(x, y, z), under_mm2=under_mm2, sample=sample)


def _least_patch(wall: Floats, area: Floats, rules: _Rules) -> tuple[int, float]:
    """Which wall so much of the surface does not exceed, and how much of it is under the limit [mm2]."""
    rising = np.flatnonzero(area > 0)[np.argsort(wall[area > 0])]
    least = rising[min(int(np.searchsorted(np.cumsum(area[rising]), rules.enough_mm2)), len(rising) - 1)]
    return int(least), float(area[wall < rules.limit_mm].sum())


def _uncarried(samples: Samples, deep: Callable[[float], Flags], *, below_mm: float) -> Ints:
    """Samples of sheets thinner than this, with nothing much thicker as near as the sheet is thick."""
    sheets = np.flatnonzero((samples.across_mm < below_mm / SHEET_BIN) & (samples.across_mm > 0))
    if not len(sheets):
        return sheets
    wall = samples.across_mm[sheets]
    bins = np.floor(np.log(wall) / np.log(SHEET_BIN)).astype(np.int64)
    alone = np.ones(len(sheets), dtype=bool)
    for each in np.unique(bins):
        mine = np.flatnonzero(bins == each)
        thick = samples.points[deep(STEEP * float(wall[mine].max()))]
        if len(thick):
            alone[mine] = cKDTree(thick).query(samples.points[sheets[mine]])[0] > wall[mine]
    return sheets[alone]


def _thickest_of_cells(samples: Samples, cell_mm: float) -> tuple[Ints, Ints]:
    """Of every cell of a grid the sample with the thickest wall, and to which of these cells each sample belongs."""
    cell = np.floor(samples.points / cell_mm).astype(np.int64)
    cell -= cell.min(axis=0)
    span = cell.max(axis=0) + 1
    key = (cell[:, 0] * span[1] + cell[:, 1]) * span[2] + cell[:, 2]
    order = np.lexsort((samples.wall_mm, key))
    last = np.append(np.flatnonzero(np.diff(key[order])), len(order) - 1)
    which = np.empty(len(key), dtype=np.int64)
    which[order] = np.repeat(np.arange(len(last)), np.diff(last, prepend=-1))
    return order[last], which


def _broad(samples: Samples, picked: Ints, caster: Caster, *, limit_mm: float) -> Floats:
    """The wall at samples, but where a ball of the limit does not fit sideways, what fits: the rim of a sheet is no thick wall."""
    wall, inward = samples.wall_mm[picked], samples.inward[picked]
    deep = np.flatnonzero(wall >= limit_mm)
    centres = samples.points[picked][deep] + inward[deep] * (limit_mm / 2)
    beside = np.full(len(deep), np.inf)
    for turn in np.arange(SIDEWAYS_COUNT) * (np.pi / SIDEWAYS_COUNT):
        heading = directions(inward[deep], np.pi / 2, turn)
        beside = np.minimum(beside, caster.first(centres, heading)[0] + caster.first(centres, -heading)[0])
    tight = beside < limit_mm * SIDEWAYS_SLACK
    out = wall.copy()
    out[deep[tight]] = beside[tight]
    return out
