"""What a bore looks like about its axis, by rays [mm]: how round, flat or curved inside, how wide the band, where it is open."""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from pourwell.geometry.bore import Cylinder
from pourwell.geometry.mesh import Floats
from pourwell.geometry.rays import Caster

AROUND_COUNT: Final = 240
"""Directions in which the bore is looked at: every 1.5 degrees, so that a saw cut of a quarter millimetre is seen. Even: each has
its opposite."""

LEVEL_COUNT: Final = 33
"""Levels across the band, from edge to edge."""

EDGE_SHARE: Final = 0.97
"""The outermost levels, as a share of the half width: just inside the edge, or a ray would slip by."""

REACH: Final = 0.35
"""Metal farther out than this share of the radius does not bound the bore: it is seen through an opening."""

DEPTHS: Final = (0.015, 0.05, 0.09, 0.13, 0.2, 0.3)
"""Shares of the radius outside the bore at which the band's width is taken; the widest counts. An oval bore is wider by as
much, a comfort curve may open as far."""

MIDDLE_SHARE: Final = 0.8
"""The curve inside is fitted over this share of the width: rounded edges are no comfort curve."""

LEAST_RISE_MM: Final = 0.05
"""A curve inside rises by more than this, else the bore is flat: about what a file takes off."""

LEAST_TAPER_MM: Final = 0.1
"""A bore whose radius differs by more than this between its ends, and by more than it curves, is tapered."""

MOSTLY: Final = 0.25
"""The band's width is the one that this share of the way round falls short of: a signet's head does not make a wide band."""

Profile = Literal["flat", "comfort", "hollow", "tapered"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoreShape:
    """The inside of a band."""

    widest_mm: float
    """Longest straight line across the bore with the axis in its middle: a recess on one side only does not count."""
    widest_along: tuple[float, float, float]
    """Unit vector of it."""
    narrowest_along: tuple[float, float, float]
    """Unit vector along the shortest such line, whose length is the bore's diameter."""
    out_of_round_mm: float
    """The longest less the shortest."""
    mean_mm: float
    """Girth over the circle's number: what the bore becomes when it is hammered round."""
    open_deg: float
    """Angle over which there is no metal at any level."""
    open_along: tuple[float, float, float] | None
    """Unit vector from the axis to the middle of the widest such opening."""
    pierced_deg: float
    """Angle over which the band is split in rails or pierced: metal on both sides of an opening."""
    width_mm: float
    """Of the band, along the axis: three quarters of the way round it is at least that wide."""
    width_least_mm: float
    width_most_mm: float
    profile: Profile
    rise_mm: float
    """By how much the curve inside opens the radius from the middle to the edge; negative if the bore is widest in the middle."""
    curve_mm: float | None
    """Radius of that curve; None if the bore is flat or tapered."""
    taper_mm: float
    """By how much the radius differs between the two ends."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unrolled:
    """The inside of a bore: directions by levels.

    Attributes
    ----------
    ways : (a, 3) float array [-], unit vectors from the axis
    low, high : (a,) float array [mm] along the axis from the bore's middle, NaN where there is no band
    free : (a, l) float array [mm], from the axis to the metal, infinite where there is none near
    levels : (l,) float array [-], share of the half width
    """

    ways: Floats
    low: Floats
    high: Floats
    free: Floats
    levels: Floats

    @property
    def near(self) -> NDArray[np.bool_]:
        """(a, l): where there is metal at the bore."""
        return np.isfinite(self.free)

    @property
    def closed(self) -> NDArray[np.bool_]:
        """(a,): directions with metal at some level."""
        return np.asarray(self.near.any(axis=1))


def bore_shape(rays: Caster, bore: Cylinder) -> BoreShape | None:
    """What a bore looks like, or None if rays find no band around it.

    Parameters
    ----------
    rays : of the piece [mm]
    bore : as `find_bore` finds it
    """
    seen = unroll(rays, bore)
    if not seen.closed.any():
        return None
    width = seen.high - seen.low
    width_mm = float(np.nanquantile(width, MOSTLY))
    radius = seen.free.min(axis=1)
    centred = np.minimum(radius, np.roll(radius, AROUND_COUNT // 2))
    centred[~np.isfinite(centred)] = np.nan
    if np.isnan(centred).all():
        return None
    wide, narrow = int(np.nanargmax(centred)), int(np.nanargmin(centred))
    pierced = seen.closed & _pierced(seen.near)
    whole = seen.closed & ~pierced
    profile, rise, curve, taper = _profile(seen, whole if whole.any() else seen.closed, width_mm / 2)
    turn = 360 / AROUND_COUNT
    return BoreShape(
        widest_mm=2 * float(centred[wide]),
        widest_along=_vector(seen.ways[wide]),
        narrowest_along=_vector(seen.ways[narrow]),
        out_of_round_mm=2 * float(centred[wide] - centred[narrow]),
        mean_mm=_girth(seen.ways * centred[:, None]) / np.pi,
        open_deg=turn * float((~seen.closed).sum()),
        open_along=_opening(seen),
        pierced_deg=turn * float(pierced.sum()),
        width_mm=width_mm,
        width_least_mm=float(np.nanmin(width)),
        width_most_mm=float(np.nanmax(width)),
        profile=profile,
        rise_mm=rise,
        curve_mm=curve,
        taper_mm=taper,
    )


def _girth(points: Floats) -> float:
    """Length of a closed line through (a, 3) points [mm]; over gaps, where they are NaN, as everywhere else on the average."""
    sides = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1)
    return float(np.nanmean(sides)) * len(points)


def across(axis: Floats) -> Floats:
    """(a, 3) float array [-]: unit vectors all round an axis, in even steps."""
    u = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    u /= np.linalg.norm(u)
    turns = np.arange(AROUND_COUNT) * (2 * np.pi / AROUND_COUNT)
    return np.asarray(np.cos(turns)[:, None] * u + np.sin(turns)[:, None] * np.cross(axis, u))


def unroll(rays: Caster, bore: Cylinder) -> Unrolled:
    """Look along the axis for the band's edges, then from the axis outward between them.

    Parameters
    ----------
    rays : of the piece [mm]
    bore : as `find_bore` finds it
    """
    centre, axis = np.asarray(bore.centre), np.asarray(bore.axis)
    ways, radius = across(axis), bore.diameter_mm / 2
    low, high = _edges(rays, bore, ways)
    levels = np.linspace(-EDGE_SHARE, EDGE_SHARE, LEVEL_COUNT)
    free = np.full((len(ways), LEVEL_COUNT), np.inf)
    there = np.flatnonzero(np.isfinite(low))
    if len(there):
        height = (low + high)[there, None] / 2 + (high - low)[there, None] / 2 * levels
        starts = centre + height.reshape(-1, 1) * axis
        distance = rays.first(starts, np.repeat(ways[there], LEVEL_COUNT, axis=0))[0].reshape(len(there), LEVEL_COUNT)
        free[there] = np.where(distance < radius * (1 + REACH), distance, np.inf)
    return Unrolled(ways=ways, low=low, high=high, free=free, levels=levels)


def _edges(rays: Caster, bore: Cylinder, ways: Floats) -> tuple[Floats, Floats]:
    """Lowest and highest metal close around the bore in every direction, (a,) and (a,) [mm] from its middle; NaN for none."""
    centre, axis = np.asarray(bore.centre), np.asarray(bore.axis)
    lowest, highest = rays.mesh.bounds
    far = 2 * float(np.linalg.norm(highest - lowest) + np.linalg.norm((lowest + highest) / 2 - centre))
    out = [centre + ways * (bore.diameter_mm / 2 * (1 + depth)) for depth in DEPTHS]
    starts = np.concatenate(out)
    ends = []
    for side in (-1, 1):
        distance = rays.first(starts + side * far * axis, -side * axis)[0].reshape(len(DEPTHS), len(ways))
        ends.append(side * (far - distance))  # -inf below, +inf above turned round where nothing is met
    low = np.where(np.isfinite(ends[0]), ends[0], np.inf).min(axis=0)
    high = np.where(np.isfinite(ends[1]), ends[1], -np.inf).max(axis=0)
    none = ~(np.isfinite(low) & np.isfinite(high))
    low[none] = high[none] = np.nan
    return low, high


def _pierced(near: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Directions in which an opening lies between metal, of (a, l)."""
    before = np.maximum.accumulate(near, axis=1)
    after = np.maximum.accumulate(near[:, ::-1], axis=1)[:, ::-1]
    return np.asarray((~near & before & after).any(axis=1))


def _profile(seen: Unrolled, chosen: NDArray[np.bool_], half_mm: float) -> tuple[Profile, float, float | None, float]:
    """Flat, curved or tapered along the axis; rise, radius of the curve and taper [mm].

    The middle of all directions is taken at each level, so that a head or a setting on one side has no say.
    """
    free = np.where(seen.near, seen.free, np.nan)[chosen]
    middle = np.abs(seen.levels) <= MIDDLE_SHARE
    told = middle & (np.isfinite(free).sum(axis=0) > len(free) / 2)
    if told.sum() < LEVEL_COUNT // 3:
        return "flat", 0.0, None, 0.0
    along, radius = seen.levels[told] * half_mm, np.nanmedian(free[:, told], axis=0)
    bend, slope, _ = np.polyfit(along, radius, 2)
    rise, taper = float(bend * half_mm**2), float(abs(slope) * 2 * half_mm)
    if taper > max(LEAST_TAPER_MM, abs(rise)):
        return "tapered", rise, None, taper
    if abs(rise) < LEAST_RISE_MM:
        return "flat", rise, None, taper
    curve = _circle(along, radius)
    if curve > half_mm:
        rise = float(np.sign(rise) * (curve - np.sqrt(curve**2 - half_mm**2)))
    return ("comfort" if rise > 0 else "hollow"), rise, curve, taper


def _circle(x: Floats, y: Floats) -> float:
    """Radius of the circle nearest to points in the plane, by its linear equation x² + y² = 2 a x + 2 b y + c."""
    y = y - y.mean()
    a, b, c = np.linalg.lstsq(np.column_stack((2 * x, 2 * y, np.ones_like(x))), x**2 + y**2, rcond=None)[0]
    return float(np.sqrt(c + a**2 + b**2))


def _opening(seen: Unrolled) -> tuple[float, float, float] | None:
    """The way to the middle of the widest opening, or None."""
    shut = seen.closed
    if shut.all():
        return None
    first = int(np.argmax(shut))  # start at metal, so that no opening lies over the seam
    turned = np.roll(shut, -first)
    best, begin, length = (0, 0), 0, 0
    for k, metal in enumerate([*turned.tolist(), True]):
        if metal:
            best, length = max(best, (length, begin)), 0
        else:
            begin, length = (k, 1) if length == 0 else (begin, length + 1)
    turn = (first + best[1] + (best[0] - 1) / 2) * (2 * np.pi / AROUND_COUNT)
    across_u, across_v = seen.ways[0], seen.ways[AROUND_COUNT // 4]
    return _vector(np.cos(turn) * across_u + np.sin(turn) * across_v)


def _vector(unit: Floats) -> tuple[float, float, float]:
    x, y, z = (unit + 0.0).tolist()
    return x, y, z
