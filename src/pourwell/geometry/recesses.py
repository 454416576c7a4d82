"""Narrow recesses of a surface, grooves, holes, gaps, and, turned inside out, what stands up from it: lettering, texture [mm].

A ball that rolls over the outside does not get into a recess narrower than itself. How far a place lies under where the ball rolls
is its depth; rays square to the way out tell how wide and how long the recess is there. From inside the metal the same finds
ridges.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from pourwell.geometry.kernels.touch import SETTLED
from pourwell.geometry.mesh import Floats, Ints
from pourwell.geometry.rays import Caster
from pourwell.geometry.recess_sides import beside, open_fraction, walled
from pourwell.geometry.rolling import Flags, Places, Rolling, Stands, ways_across
from pourwell.geometry.stretches import least_stretch
from pourwell.geometry.touching import Touching
from pourwell.geometry.tunnels import along_tunnels

HALF_WAY: Final = (0.25, 0.75)
"""A recess is measured about half-way down: at its bottom a groove with slanted sides has no width."""

NEAR_MOUTH: Final = 0.8
"""... and again at this share of the way from there to its mouth."""

FACING: Final = -0.5
"""Cosine between the sides of a slit (their normals): they lie within 60 degrees of parallel."""

OPEN: Final = 0.2
"""... and of a groove with slanted sides, cut by a graver of up to 100 degrees."""

SHOULDER_OUT_MM: Final = 0.08
SHOULDER_UP_MM: Final = 0.3
SHOULDER_SHARE: Final = 0.15
"""The shoulders of a recess are sought so far beside its mouth, from so far above; level within this share of its depth."""

PARALLEL: Final = 0.7
"""Sides are parallel if the recess is no narrower half-way down than this share of its mouth, and the mouth than this of it."""

MOST_PLACES: Final = 8_000
"""Places measured at most; of more, every so many."""

DIPS: Final = 16.0
"""Half-way down a slanted side it is half the depth, and the ball sinks into a wide mouth: places count from this share on."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recesses:
    """Recesses measured about half-way down, at places on their sides and floors.

    Attributes
    ----------
    at_mm : (k, 3) float array [mm], on the surface
    area_mm2 : (k,) float array [mm2], of the surface that each place stands for
    width_mm : (k,) float array [mm], the least way across
    mouth_mm : (k,) float array [mm], the same near the mouth
    long_mm : (k,) float array [mm], the longest way across, infinite where it runs out of the piece: a groove, not a hole
    depth_mm : (k,) float array [mm], from the mouth to the floor; through a hole, from mouth to mouth
    through : (k,) bool array, whether it has no floor
    flush : (k,) bool array, whether it is let into the surface about its mouth, rather than lying where two parts meet
    parallel : (k,) bool array, whether its sides face each other all the way
    walled_mm : (k,) float array [mm], how much of the depth both sides stand on; all, where it is no deeper than wide
    open_fraction : (k,) float array [-], of all directions, those that lead out of the piece; 1 where the mouth is not narrower
    beside_mm : (k,) float array [mm], of what stands up, the free ground beside it; infinite for what is sunk
    ball_mm : (k,) float array [mm], the largest ball that touches there: the way across without a ray
    between : (k,) bool array, whether that ball is stopped by a side that faces the place's own, not by the floor
    rays_mm : (k,) float array [mm], the gap by rays straight from the place's own face, without a ball; nan where none were cast
    """

    at_mm: Floats
    area_mm2: Floats
    width_mm: Floats
    mouth_mm: Floats
    long_mm: Floats
    depth_mm: Floats
    through: Flags
    flush: Flags
    parallel: Flags
    walled_mm: Floats
    open_fraction: Floats
    beside_mm: Floats
    ball_mm: Floats
    between: Flags
    rays_mm: Floats

    def only(self, chosen: Flags) -> "Recesses":
        """Those chosen, (k,) bool array."""
        return Recesses(**{name: getattr(self, name)[chosen] for name in self.__dataclass_fields__})

    def worst(self, values: Floats, enough_mm2: float) -> int | None:
        """Where a stretch of one recess is worst: the one whose values, (k,), have the least median; a place in its middle.

        Stretches of no more than so much surface [mm2] are specks, values that are not finite and positive say nothing; None where
        nothing is left.
        """
        return least_stretch(self.at_mm, self.area_mm2, values, enough_mm2=enough_mm2)

    @property
    def reach_mm(self) -> Floats:
        """How far the same recess may go on about each place: as far as it is deep or wide, but not far beside a shallow one."""
        reach: Floats = np.maximum(self.depth_mm, np.minimum(self.mouth_mm, self.depth_mm + self.width_mm))
        return reach

    def __len__(self) -> int:
        """How many places."""
        return len(self.at_mm)


def recesses(places: Places, touching: Touching, *, caster: Caster, least_mm: float) -> Recesses:
    """The recesses into which a ball does not roll.

    Parameters
    ----------
    places : spread over a mesh wound outward, with balls from outside; with balls from inside, what stands up is found instead
    touching, caster : balls and rays of the same mesh
    least_mm : depth that counts [mm]
    """
    rolling = Rolling(places, touching)
    stand = _stands(places, rolling, caster, least_mm=least_mm) if rolling.there else None
    if stand is None:
        return _nothing()
    at_half = ways_across(caster, places, start=stand.start, out=stand.out)
    narrow = (at_half.width_mm <= places.ball_mm) & at_half.steep
    slit = at_half.facing < FACING
    narrow &= at_half.opposed  # not across the corner at an end
    narrow &= slit | (stand.flush & (at_half.facing < OPEN))
    stand, width, long, slit = stand.only(narrow), at_half.width_mm[narrow], at_half.long_mm[narrow], slit[narrow]
    near_mouth = stand.start + stand.out * (NEAR_MOUTH * stand.above)[:, None]
    mouth = ways_across(caster, places, start=near_mouth, out=stand.out).width_mm
    mouth = np.where(np.isfinite(mouth), mouth, width)
    mouth += np.maximum(mouth - width, 0.0) * (1 / NEAR_MOUTH - 1)  # on to where the sides end
    radius = places.ball_mm / 2
    sag = radius - np.sqrt(np.maximum(radius**2 - np.minimum(mouth, long) ** 2 / 4, 0.0))  # by which a ball sinks into the mouth
    sag = np.where(stand.flush, 0.0, sag)
    end = rolling.other_end(stand, width=width)
    through = np.isfinite(end)
    below = np.where(through, sag + np.where(through, end, 0.0), stand.below)
    parallel = slit & (width > PARALLEL * mouth) & (mouth > PARALLEL * width)
    depth = sag + stand.above + below
    heading = at_half.heading[narrow]
    above, known = sag + stand.above, np.isfinite(below)
    stood, seen, free = depth.copy(), np.ones(len(depth)), np.full(len(depth), np.inf)
    if places.outside:
        slim, pocket = known & parallel & (depth > mouth), _pockets(places, stand, caster, may=known & ~through & (mouth < width))
        some, sizes = stand.only(slim), {"width_mm": width[slim], "above_mm": above[slim], "below_mm": below[slim]}
        stood[slim] = walled(caster, some.start, out=some.out, heading=heading[slim], **sizes)
        seen[pocket] = open_fraction(caster, stand.start[pocket])
    else:
        free = beside(caster, stand.start, heading)
    return Recesses(
        at_mm=places.points[stand.which],
        area_mm2=stand.area_mm2,
        width_mm=width,
        mouth_mm=mouth,
        long_mm=long,
        depth_mm=depth,
        through=through,
        flush=stand.flush & _shouldered(stand, heading, mouth=mouth, caster=caster),
        parallel=parallel,
        walled_mm=stood,
        open_fraction=seen,
        beside_mm=free,
        ball_mm=places.touch.diameter_mm[stand.which],
        between=between(places, stand.which, caster),
        rays_mm=np.full(len(width), np.nan) if places.rays_mm is None else places.rays_mm[stand.which],
    ).only(np.isfinite(below))


def _pockets(places: Places, stand: Stands, caster: Caster, *, may: Flags) -> Flags:
    """Of recesses that may be pockets, (k,) bool array, those that no hole goes on from, whatever its slanting mouths look like."""
    which, out = stand.which[may], may.copy()
    bore = places.touch.diameter_mm[which]
    normals = caster.mesh.normals[places.face[which]]
    out[may] = ~along_tunnels(caster, places.points[which], normals, ball_mm=bore).any(axis=1)
    return out


def between(places: Places, which: Ints, caster: Caster) -> Flags:
    """Whether the balls at some places, (k,), are stopped by faces that look back at the places' own."""
    normals, stop = caster.mesh.normals, places.touch.stop[which]
    facing = np.einsum("ij,ij->i", normals[places.face[which]], normals[stop])
    back: Flags = (stop >= 0) & (facing < FACING)
    return back


def _shouldered(stand: Stands, across: Floats, *, mouth: Floats, caster: Caster) -> Flags:
    """Whether the surface beside a mouth lies as high as the mouth, on both sides: a step has it on one side only."""
    over = stand.start + stand.out * (stand.above + SHOULDER_UP_MM)[:, None]
    least = np.maximum(SHOULDER_SHARE * (stand.above + stand.below), SHOULDER_OUT_MM / 3)
    level = np.ones(len(mouth), dtype=bool)
    for side in (1.0, -1.0):
        beside = over + across * (side * (mouth / 2 + SHOULDER_OUT_MM))[:, None]
        level &= np.abs(caster.first(beside, -stand.out)[0] - SHOULDER_UP_MM) <= least
    return level


def _stands(places: Places, rolling: Rolling, caster: Caster, *, least_mm: float) -> Stands | None:
    """From where the recesses are measured; None where there is none."""
    which = np.flatnonzero(places.narrow)
    spare = max(1, -(-len(which) // MOST_PLACES))
    which, rolled = rolling.seen(which[::spare], caster)
    depth = np.linalg.norm(rolling.centres[rolled] - places.points[which], axis=1) - places.ball_mm / 2
    deep = depth > least_mm / DIPS
    if not deep.any():
        return None
    which, rolled = which[deep], rolled[deep]
    lift = np.minimum(places.touch.diameter_mm[which], depth[deep]) / 2
    start = places.points[which] + places.touch.way[which] * lift[:, None]
    ball = rolling.sunk(rolling.centres[rolled], towards=start)
    start = start + ways_across(caster, places, start=start, out=rolling.way_out(start, ball, rolled)[0]).aside
    out, above, flush = rolling.way_out(start, ball, rolled)
    below = caster.first(start, -out)[0]
    through = below > places.ball_mm
    share = np.where(through, HALF_WAY[0], below / np.maximum(above + np.where(through, 0.0, below), places.ball_mm * SETTLED))
    half_way = (share >= HALF_WAY[0]) & (share <= HALF_WAY[1]) & (above + below > least_mm) & (above > least_mm / 4)
    return Stands(
        which=which,
        area_mm2=places.area_mm2[which] * spare,
        start=start,
        out=out,
        above=above,
        below=below,
        through=through,
        flush=flush,
    ).only(half_way)


def _nothing() -> Recesses:
    none, flags = np.empty(0), np.empty(0, dtype=bool)
    return Recesses(
        at_mm=np.empty((0, 3)),
        area_mm2=none,
        width_mm=none,
        mouth_mm=none,
        long_mm=none,
        depth_mm=none,
        through=flags,
        flush=flags,
        parallel=flags,
        walled_mm=none,
        open_fraction=none,
        beside_mm=none,
        ball_mm=none,
        between=flags,
        rays_mm=none,
    )


def within(points: Floats, others: Floats, reach_mm: Floats) -> Flags:
    """Which points, (k, 3) [mm], lie within the reach, (n,) [mm], of one of some others, (n, 3) [mm]."""
    found = np.zeros(len(points), dtype=bool)
    if len(points) and len(others):
        for hits in cKDTree(points).query_ball_point(others, reach_mm):
            found[hits] = True
    return found
