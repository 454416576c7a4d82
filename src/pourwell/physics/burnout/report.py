"""What a course through the kiln says: temperatures at depths, water, heat, and how long which part was how hot. SI."""

import math

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadRequestError
from pourwell.physics.burnout.march import Course
from pourwell.physics.burnout.substance import PLATEAU

Floats = NDArray[np.float64]


def at_radius(course: Course, share: float, *, height: float = 0.5) -> Floats:
    """Temperature of the mould (m,) [K] at a share of its radius, from the axis (0) to the rim (1), and of its height from below.

    Straight between the middles of rings and layers, level towards the axis, and straight on to rim and ends.
    Raises BadRequestError for shares outside 0 to 1.
    """
    if not (0 <= share <= 1 and 0 <= height <= 1):
        raise BadRequestError(
            f"{share:g} of the radius at {height:g} of the height lies outside.", try_this="Give shares from 0 to 1."
        )
    layer = _weights(course.rings.level, height * course.flask.height)
    across = course.rings.middle[: course.rings.mould]
    profile = layer[0] * course.temperature[:, layer[2]] + layer[1] * course.temperature[:, layer[2] + 1]
    r = share * course.flask.radius
    if r <= across[0]:
        return np.asarray(profile[:, 0], dtype=np.float64)
    low, high, ring = _weights(across, r)
    return np.asarray(low * profile[:, ring] + high * profile[:, ring + 1], dtype=np.float64)


def _weights(middles: Floats, place: float) -> tuple[float, float, int]:
    """Weights of two neighbours and the first of them, for a place between their middles or beyond the ends."""
    first = int(np.clip(np.searchsorted(middles, place) - 1, 0, middles.size - 2))
    high = (place - float(middles[first])) / float(middles[first + 1] - middles[first])
    return 1 - high, high, first


def at_depth(course: Course, depth: float, *, height: float = 0.5) -> Floats:
    """Temperature of the mould (m,) [K] at a depth [m] inside the wall; see `at_radius`."""
    return at_radius(course, 1 - depth / course.flask.radius, height=height)


def wall_at(course: Course, *, height: float = 0.5) -> Floats:
    """Temperature of the steel (m,) [K] at a share of the height."""
    low, high, layer = _weights(course.rings.level, height * course.flask.height)
    return np.asarray(low * course.wall[:, layer] + high * course.wall[:, layer + 1], dtype=np.float64)


def water_mass(course: Course) -> Floats:
    """Free water left (m,) [kg]."""
    return np.asarray((course.water * course.volume).sum(axis=(1, 2)) * course.mould.free_water, dtype=np.float64)


def steam_rate(course: Course) -> Floats:
    """Free water that boils off (m - 1,) [kg/s], the mean of each step."""
    return np.asarray(-np.diff(water_mass(course)) / np.diff(course.time), dtype=np.float64)


def heat_drawn(course: Course) -> float:
    """Heat that the kiln gave the flask [J]: what came back as it cooled is not taken off, for no kiln has use for it."""
    return float(np.clip(np.diff(course.taken), 0.0, None).sum())


def first_above(course: Course, trace: Floats, level: float) -> float:
    """When a trace (m,) is first over a level [s], by straight lines between the steps; inf if never."""
    over = np.flatnonzero(trace > level)
    if not over.size:
        return math.inf
    i = int(over[0])
    if not i:
        return float(course.time[0])
    part = (level - trace[i - 1]) / (trace[i] - trace[i - 1])
    return float(course.time[i - 1] + part * (course.time[i] - course.time[i - 1]))


def dry_time(course: Course) -> float:
    """When the last free water is gone [s]; inf if some is left, the beginning if there was none."""
    wet = np.flatnonzero(course.water.max(axis=(1, 2)) > 0)
    if not wet.size:
        return float(course.time[0])
    i = int(wet[-1])
    if i + 1 >= course.time.size:
        return math.inf
    return float(0.5 * (course.time[i] + course.time[i + 1]))


def release_time(course: Course, *, inside: float = 0.0) -> float:
    """When the mould at a share of its radius, at half height, leaves the boiling point [s]; inf if it never does."""
    return first_above(course, at_radius(course, inside), course.mould.boiling + PLATEAU / 2)


def settled_time(course: Course, level: float, *, within: float) -> float:
    """From when on every ring stays within some kelvin of a level [K] to the end [s]; inf if one is outside it at the end."""
    off = np.abs(course.temperature - level).max(axis=(1, 2)) > within
    if off[-1]:
        return math.inf
    last = np.flatnonzero(off)
    return float(course.time[int(last[-1]) + 1]) if last.size else float(course.time[0])


def flux_while_wet(course: Course) -> Floats:
    """Heat into the mould through the wall at half height (m,) [W/m2] while a layer holds water, else zero."""
    low, high, layer = _weights(course.rings.level, course.flask.height / 2)
    flow = low * course.rim_flow[:, layer] + high * course.rim_flow[:, layer + 1]
    wet = course.water[:, layer : layer + 2].max(axis=(1, 2)) > 0
    return np.asarray(np.where(wet, flow, 0.0), dtype=np.float64)


def running_mean(course: Course, trace: Floats, *, over: float) -> Floats:
    """Mean of a trace (m,) over a window of time [s] about each moment, cut off at start and end; the trace straight between steps.

    Rings dry one after the other, so a flux jumps with each of them; its mean over longer than a ring takes does not.
    """
    time = course.time
    whole = np.concatenate([[0.0], np.cumsum(0.5 * (trace[1:] + trace[:-1]) * np.diff(time))])

    def until(moment: Floats) -> Floats:
        i = np.clip(np.searchsorted(time, moment, side="right") - 1, 0, time.size - 2)
        here = np.interp(moment, time, trace)
        return np.asarray(whole[i] + 0.5 * (trace[i] + here) * (moment - time[i]), dtype=np.float64)

    begin, end = np.maximum(time - over / 2, time[0]), np.minimum(time + over / 2, time[-1])
    return np.asarray((until(end) - until(begin)) / (end - begin), dtype=np.float64)


def lag_in(course: Course, low: float, high: float, *, inside: float = 0.0) -> float:
    """Greatest difference between rim and core [K] at half height while the core crosses a window [K]; zero if it never does.

    inside: share of the radius that counts as the core. On the axis itself the figure is sharp only in time: when its last water is
    gone it warms by 2 K/s. The ends of the window are read between the steps.
    """
    core, rim = at_radius(course, inside), at_radius(course, 1.0)
    within = (core >= low) & (core <= high)
    lags = [float(np.abs(rim - core)[within].max(initial=0.0))]
    for level in (low, high):
        for i in np.flatnonzero((core[:-1] - level) * (core[1:] - level) < 0):
            part = (level - core[i]) / (core[i + 1] - core[i])
            lags.append(abs(float(rim[i] + part * (rim[i + 1] - rim[i]) - level)))
    return max(lags)


def lag_while_wet(course: Course) -> float:
    """Greatest difference between rim and core [K] at half height while the core holds water."""
    core = course.water[:, course.water.shape[1] // 2, 0] > 0
    return float((at_radius(course, 1.0) - at_radius(course, 0.0))[core].max(initial=0.0))


def time_between(course: Course, low: float, high: float) -> Floats:
    """How long each ring of mould was between two temperatures [K]: (layers, rings) [s]; straight between the steps."""
    before, after = course.temperature[:-1], course.temperature[1:]
    least, most = np.minimum(before, after), np.maximum(before, after)
    span = most - least
    overlap = np.clip(np.minimum(most, high) - np.maximum(least, low), 0.0, None)
    level = (least >= low) & (most <= high)
    part = np.where(span > 0, overlap / np.where(span > 0, span, 1.0), level)
    return np.asarray(np.tensordot(np.diff(course.time), part, axes=1), dtype=np.float64)


def spread(course: Course) -> Floats:
    """Hottest less coldest ring of the mould (m,) [K]."""
    t = course.temperature
    return np.asarray(t.max(axis=(1, 2)) - t.min(axis=(1, 2)), dtype=np.float64)


def coldest(course: Course) -> Floats:
    """Temperature of the coldest ring (m,) [K]."""
    return np.asarray(course.temperature.min(axis=(1, 2)), dtype=np.float64)
