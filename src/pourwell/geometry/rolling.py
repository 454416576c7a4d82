"""A ball that rolls over a surface: where it lies over the recesses that it does not get into, and how wide these are [mm]."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from pourwell.geometry.mesh import Floats, Ints
from pourwell.geometry.rays import Caster
from pourwell.geometry.touching import Touch, Touching

Flags = NDArray[np.bool_]

AXES_COUNT: Final = 8
"""Directions across the way out in which a recess is measured, each both ways."""

STEEP: Final = 0.75
"""A side of a recess falls away at more than 41 degrees from its mouth (its normal's cosine with the way out is less)."""

FLUSH: Final = 0.9
"""A recess is let into a surface if its way out lies within 26 degrees of that surface's own."""

OPPOSED: Final = -0.8
"""Seen along the way out, the sides of a recess face each other within 37 degrees: a side and the end wall of a groove do not."""

ROUND: Final = 2.0
"""Ways across that are longer than so many widths run along a groove; the middle is that of the longest other one."""

TRIES: Final = 48
"""So many of the nearest balls are tried where the nearest of all lies behind a wall."""

EXIT_STEPS: Final = 24
"""Steps along a hole in which its other end is sought."""

LONGEST: Final = 8.0
LONGEST_BALLS: Final = 2.0
"""A hole is followed over so many of its widths, a narrow one over so many of the rolling ball's, and never into the metal."""

NEARLY: Final = 0.02
"""The rolling ball is known at some places only: within this share of its radius it is there."""

SINKS: Final = 12
SINK: Final = 0.25
"""A rolling ball sinks into the mouth of a recess in so many steps of this share of its radius, and is pushed back each time."""

APART: Final = 10.0
"""Recesses are kept apart by so many diagonals of the piece, along a fourth axis."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """Points of a surface with the balls that touch there, on the side of the air or of the metal.

    Attributes
    ----------
    points : (k, 3) float array [mm]
    face : (k,) int array
    area_mm2 : (k,) float array [mm2]
    touch : the balls
    ball_mm : diameter of the ball that rolls [mm]
    outside : whether the balls lie in the air
    owner : (m,) int array, for every triangle the one whose places speak for it; None where each has places of its own
    rays_mm : (k,) float array [mm], what rays straight from the face find there, nan where none were cast; None where nowhere
    """

    points: Floats
    face: Ints
    area_mm2: Floats
    touch: Touch
    ball_mm: float
    outside: bool = True
    owner: Ints | None = None
    rays_mm: Floats | None = None

    @property
    def narrow(self) -> Flags:
        """Where the rolling ball does not touch, (k,) bool array."""
        return self.touch.diameter_mm < self.ball_mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stands:
    """Places with where a recess is measured from: in its middle, about half-way down.

    `out` leads to the ball in the mouth, `above` and `below` are how far it is to where that ball ends, and to the floor; `through`
    says that there is none near enough.
    """

    which: Ints
    area_mm2: Floats
    start: Floats
    out: Floats
    above: Floats
    below: Floats
    through: Flags
    flush: Flags

    def only(self, chosen: Flags) -> "Stands":
        """Those chosen, (k,) bool array."""
        return Stands(**{name: getattr(self, name)[chosen] for name in self.__dataclass_fields__})


class Rolling:
    """The middles of the balls that roll over each recess: every recess knows only those at its own rim."""

    def __init__(self, places: Places, touching: Touching) -> None:
        mesh, self._touching, self._places = touching.mesh, touching, places
        self._radius = places.ball_mm / 2
        narrow, owner = places.narrow, np.arange(len(mesh.faces)) if places.owner is None else places.owner
        lies_in = np.zeros(len(mesh.faces), dtype=bool)
        lies_in[places.face[narrow]] = True
        corners = mesh.faces[lies_in[owner]]
        size = len(mesh.vertices)
        rows, columns = corners[:, [0, 1]].reshape(-1), corners[:, [1, 2]].reshape(-1)
        part = connected_components(coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(size, size)), directed=False)[1]
        label = np.full(size, -1)
        label[corners] = part[corners]
        self._label: Ints = label[mesh.faces[places.face, 0]]
        rows, of = _rims(label[mesh.faces], owner, np.flatnonzero(~narrow), face=places.face)
        self.there = len(rows) > 0
        low, high = mesh.bounds
        self._apart = APART * (float(np.linalg.norm(high - low)) + places.ball_mm)
        self._rims, self._ways = places.points[rows], places.touch.way[rows]
        self.centres: Floats = self._rims + self._ways * self._radius
        self._tree = cKDTree(np.column_stack((self.centres, of * self._apart)))

    def _nearest(self, points: Floats, which: Ints, count: int = 1) -> tuple[Floats, Ints]:
        """Distance [mm] from points to the nearest middles over the recess that some places belong to, and which these are.

        Both (k, count), nearest first; infinite and 0 where there are no more.
        """
        asked = np.column_stack((points, self._label[which] * self._apart))
        away, found = self._tree.query(asked, k=np.arange(1, count + 1), distance_upper_bound=self._apart / 2)
        return away, np.where(np.isfinite(away), found, 0)

    def seen(self, which: Ints, caster: Caster) -> tuple[Ints, Ints]:
        """Of some places those that see a ball over their recess, past no metal, and the nearest such ball of each."""
        places = self._places
        middle = places.points[which] + places.touch.way[which] * (places.touch.diameter_mm[which] / 2)[:, None]

        def clear(here: Floats, away: Floats, ball: Ints) -> Flags:
            way = self.centres[ball] - here
            hit = caster.first(here, way / np.maximum(np.linalg.norm(way, axis=1), np.finfo(float).tiny)[:, None])[0]
            free: Flags = np.isfinite(away) & (hit >= away - self._radius * (1 + NEARLY))
            return free

        far, tries = self._nearest(middle, which)
        away, ball = far[:, 0], tries[:, 0]
        good = clear(middle, away, ball)
        hidden = np.flatnonzero(~good & np.isfinite(away))
        if len(hidden):  # the nearest lies behind a wall of the recess
            far, tries = self._nearest(middle[hidden], which[hidden], TRIES)
            size = tries.shape[1]
            free = clear(np.repeat(middle[hidden], size, axis=0), far.reshape(-1), tries.reshape(-1)).reshape(-1, size)
            first = np.argmax(free, axis=1)
            ball[hidden], good[hidden] = tries[np.arange(len(hidden)), first], free.any(axis=1)
        return which[good], ball[good]

    def sunk(self, centres: Floats, *, towards: Floats) -> Floats:
        """The middles of balls that have sunk as near to some points as the surface lets them, (k, 3) [mm]."""
        here, radius = centres.copy(), self._radius
        for _ in range(SINKS):
            way = towards - here
            length = np.linalg.norm(way, axis=1)
            here += way * (np.minimum(SINK * radius, length) / np.maximum(length, np.finfo(float).tiny))[:, None]
            for _ in range(2):
                away, foot = self._touching.feet(here)
                push = np.maximum(radius - away, 0.0) / np.maximum(away, np.finfo(float).tiny)
                here += (here - foot) * push[:, None]
        return here

    def way_out(self, here: Floats, ball: Floats, rolled: Ints) -> tuple[Floats, Floats, Flags]:
        """Unit ways from places in recesses to the balls in their mouths, how far it is to the mouth, and whether that is flush.

        Of a mouth that lies flush in the surface about it, the way out is that surface's own, where the ball last rolled on it.
        """
        way = ball - here
        away = np.linalg.norm(way, axis=1)
        way /= np.maximum(away, np.finfo(float).tiny)[:, None]
        own = self._ways[rolled]
        flush = np.einsum("ij,ij->i", own, way) > FLUSH
        above = np.where(flush, np.einsum("ij,ij->i", self._rims[rolled] - here, own), away - self._radius)
        return np.where(flush[:, None], own, way), np.maximum(above, 0.0), flush

    def other_end(self, stand: Stands, *, width: Floats) -> Floats:
        """How far it is from within a hole, against the way out, to where the ball rolls over its other end, (k,) [mm]."""
        length, still = np.full(len(width), np.inf), np.flatnonzero(stand.through)
        before, left = np.zeros(len(width)), np.full(len(width), np.inf)
        for step in np.arange(1, EXIT_STEPS + 1) / EXIT_STEPS:
            reach = np.minimum(step * np.maximum(LONGEST * width[still], 2 * LONGEST_BALLS * self._radius), stand.below[still])
            away = self._nearest(stand.start[still] - stand.out[still] * reach[:, None], stand.which[still])[0][:, 0]
            there = away <= self._radius * (1 + NEARLY)
            done = still[there]
            length[done] = before[done] + np.minimum(left[done], reach[there] - before[done])
            before[still], left[still] = reach, np.maximum(away - self._radius, 0.0)
            still = still[~there]
        return length


def _rims(at: Ints, owner: Ints, reached: Ints, *, face: Ints) -> tuple[Ints, Ints]:
    """Of some places those whose triangles touch a recess, and which one: `at` tells that of the corners of each, -1 for none."""
    triangle, corner = np.nonzero(at >= 0)
    asked, of = np.divmod(np.unique(owner[triangle] * (at.max(initial=0) + 1) + at[triangle, corner]), at.max(initial=0) + 1)
    reached = reached[np.argsort(face[reached], kind="stable")]
    first, past = (np.searchsorted(face[reached], asked, side) for side in ("left", "right"))
    count = past - first
    return reached[np.arange(count.sum()) + np.repeat(first - np.cumsum(count) + count, count)], np.repeat(of, count)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Across:
    """The least and the longest way across [mm], (k,) each; of the sides of the least whether they are steep, and the cosine.

    `opposed` says whether these sides face each other, seen along the way out, however they are slanted.
    """

    width_mm: Floats
    long_mm: Floats
    steep: Flags
    facing: Floats
    opposed: Flags
    heading: Floats
    """(k, 3), unit vectors along the least way across."""
    aside: Floats
    """(k, 3) [mm], from the place to the middle of the recess: of the longest way across that is not along it."""


def ways_across(caster: Caster, places: Places, *, start: Floats, out: Floats) -> Across:
    """Measure recesses square to the way out."""
    normals = caster.mesh.normals if places.outside else -caster.mesh.normals
    one = np.cross(out, np.eye(3)[np.argmin(np.abs(out), axis=1)])
    one /= np.maximum(np.linalg.norm(one, axis=1, keepdims=True), np.finfo(float).tiny)
    two = np.cross(out, one)
    width, long, facing = np.full(len(out), np.inf), np.zeros(len(out)), np.ones(len(out))
    steep, opposed, sides, least = np.zeros(len(out), dtype=bool), np.zeros(len(out), dtype=bool), [], one
    for turn in np.arange(AXES_COUNT) * (np.pi / AXES_COUNT):
        heading = np.cos(turn) * one + np.sin(turn) * two
        (ahead, met), (behind, other) = caster.first(start, heading), caster.first(start, -heading)
        chord, less = ahead + behind, ahead + behind < width
        falls = np.maximum(np.einsum("ij,ij->i", normals[met], out), np.einsum("ij,ij->i", normals[other], out))
        width, steep = np.where(less, chord, width), np.where(less, falls < STEEP, steep)
        opposed = np.where(less, _turn(normals[met], normals[other], out) < OPPOSED, opposed)
        least = np.where(less[:, None], heading, least)
        facing = np.where(less, np.einsum("ij,ij->i", normals[met], normals[other]), facing)
        long = np.maximum(long, chord)
        closed = np.isfinite(chord)
        sides.append((chord, ((np.where(closed, ahead, 0.0) - np.where(closed, behind, 0.0)) / 2)[:, None] * heading))
    most, aside = np.zeros(len(out)), np.zeros((len(out), 3))
    for chord, shift in sides:
        more = (chord > most) & (chord <= ROUND * width)
        most, aside = np.where(more, chord, most), np.where(more[:, None], shift, aside)
    return Across(width_mm=width, long_mm=long, steep=steep, facing=facing, opposed=opposed, heading=least, aside=aside)


def _turn(one: Floats, two: Floats, out: Floats) -> Floats:
    """The cosine between unit vectors seen along a way, (k,) each; 1 where one of them lies along it."""
    flat = [v - np.einsum("ij,ij->i", v, out)[:, None] * out for v in (one, two)]
    length = np.linalg.norm(flat[0], axis=1) * np.linalg.norm(flat[1], axis=1)
    dots = np.einsum("ij,ij->i", *flat)
    turn: Floats = np.where(length > NEARLY**2, dots / np.maximum(length, np.finfo(float).tiny), 1.0)
    return turn
