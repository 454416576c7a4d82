"""What the kiln's own record says: its course in few corners, how it falls with the door shut, rises and holds. SI."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadRequestError
from pourwell.physics.burnout.march import Programme
from pourwell.physics.descent import autocovariance

Floats = NDArray[np.float64]

SPACING: Final = 300.0
"""A kiln's course is read as means over this long [s]: a flask's wall takes longer to follow."""
OFF: Final = 1.0
"""A corner is left out if the course strays no farther without it [K]: under what a thermocouple tells."""
REACH: Final = 600.0
"""The pace of a moment is that of the readings so far about it [s]."""
LEVEL: Final = 15.0 / 3600
"""Slower than this the kiln holds [K/s]; a slow published ramp is 150 K/h."""
DOOR: Final = 900.0 / 3600
"""Faster than this it falls only with its door open [K/s]: two to ten times what a shut kiln does; own estimate."""
SHORTEST_HOLD: Final = 1200.0
SHORTEST_FALL: Final = 600.0
"""What is shorter is none [s]."""
NEAR: Final = 60.0
"""The fall is read so far about the level [K]."""
ROUNDED: Final = 300.0
"""Begin and end of a fall are left out for so long [s]: there the controller still, or again, heats."""
CYCLES: Final = 25.0
"""A kiln that is switched on and off, or overshoots, goes so far off its level and still holds it [K]."""
SMOOTHED: Final = 5
"""Readings that an overshoot is the mean of: a single one is scatter."""
LEAST_FALL: Final = 15.0
"""[K]"""
FULL: Final = 1800.0
"""The fastest rise is the mean over so long [s]."""
ROOM: Final = 293.15
BENT: Final = 1.15
"""A free fall slows as the kiln cools. One that should slow by this or more, and does by less than a third of it, is straight."""


def programme_of(times: Floats, temperatures: Floats, *, spacing: float = SPACING, off: float = OFF) -> Programme:
    """The kiln's course (n,) [s], [K] with few corners: means over `spacing`, and of these only what a straight line would miss.

    Raises BadRequestError for a record shorter than two such spans.
    """
    begin, end = float(times[0]), float(times[-1])
    count = int((end - begin) // spacing)
    if count < 2:
        raise BadRequestError(
            f"The record is {(end - begin) / 60:.0f} min long.", why="A firing takes hours.", try_this="Give the whole of it."
        )
    t, level = means(times, temperatures, count=count)
    first, last = temperatures[times <= begin + spacing / 5].mean(), temperatures[times >= end - spacing / 5].mean()
    inside = (t > begin) & (t < end)
    t, level = np.concatenate([[begin], t[inside], [end]]), np.concatenate([[first], level[inside], [last]])
    corners = _corners(t, level, off)
    return Programme(times=t[corners], temperatures=level[corners])


def means(times: Floats, values: Floats, *, count: int) -> tuple[Floats, Floats]:
    """A record (n,) as means over so many even spans of time, those without a reading left out; itself if it is no longer."""
    if times.size <= count:
        return times, values
    place = np.minimum(((times - times[0]) / (times[-1] - times[0]) * count).astype(np.int64), count - 1)
    filled = np.bincount(place, minlength=count)
    kept = filled > 0
    t, level = (np.bincount(place, weights=v, minlength=count)[kept] / filled[kept] for v in (times, values))
    return t, level


def _corners(x: Floats, y: Floats, off: float) -> NDArray[np.int64]:
    """The points that a line with few corners needs to stay within `off` of all. Source: Ramer 1972; Douglas & Peucker 1973."""
    keep, waiting = {0, x.size - 1}, [(0, x.size - 1)]
    while waiting:
        a, b = waiting.pop()
        if b - a < 2:
            continue
        strayed = np.abs(y[a : b + 1] - np.interp(x[a : b + 1], [x[a], x[b]], [y[a], y[b]]))
        worst = a + int(np.argmax(strayed))
        if strayed.max() > off:
            keep.add(worst)
            waiting += [(a, worst), (worst, b)]
    return np.array(sorted(keep))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """How the kiln falls at a level with its door shut."""

    rate: float
    """At the level [K/s], above zero."""
    uncertainty: float
    """Standard uncertainty of the rate [K/s]."""
    begins: float
    ends: float
    """Of the stretch that was read [s]."""
    middle: float
    """Its mean temperature [K]; the rate was carried from there to the level in proportion to the distance from the room."""
    straight: bool
    """It did not slow as a free fall does: the controller may have held it back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A level that the kiln held."""

    begins: float
    ends: float
    level: float
    """Median of its second half [K]."""
    overshoot: float
    """Most over the level in its first half, if it came from below; else zero [K]."""
    swing: float
    """Half of what nine tenths of the readings of its second half span [K]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rise:
    """The fastest half hour of rise; the kiln may do more."""

    rate: float
    uncertainty: float
    """[K/s]; the second of a straight line through that half hour."""
    begins: float
    low: float
    high: float
    """Between these temperatures [K]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnTold:
    """What a kiln's record told; None for what did not happen in it."""

    fall: Fall | None
    rise: Rise | None
    holds: tuple[Hold, ...]
    doors_count: int
    """Times that it fell so fast that its door was open."""


def kiln_told(times: Floats, temperatures: Floats, *, level: float) -> KilnTold:
    """What the kiln's record (n,) [s], [K] says; its fall at a level [K], about the flask temperature."""
    pace = paces(times, temperatures)
    open_door = _stretches(times, pace < -DOOR, 0.0)
    falls = _stretches(times, (pace < -LEVEL) & (pace >= -DOOR), SHORTEST_FALL)
    holds = _level_parts(times, temperatures)
    return KilnTold(
        fall=_best_fall(times, temperatures, falls=falls, level=level),
        rise=_rise(times, temperatures),
        holds=tuple(_hold(times, temperatures, part) for part in holds),
        doors_count=len(open_door),
    )


def paces(times: Floats, temperatures: Floats, *, reach: float = REACH) -> Floats:
    """Slope of a straight line through the readings about each moment (n,) [K/s]."""
    low, high = np.searchsorted(times, times - reach), np.searchsorted(times, times + reach, side="right")
    t = times - times[0]

    def total(values: Floats) -> Floats:
        summed = np.concatenate([[0.0], np.cumsum(values)])
        return np.asarray(summed[high] - summed[low], dtype=np.float64)

    n, base = (high - low).astype(np.float64), temperatures - temperatures.mean()
    mean_t, mean_y = total(t) / n, total(base) / n
    spread = total(t * t) / n - mean_t**2
    joint = total(t * base) / n - mean_t * mean_y
    return np.asarray(np.where(spread > 1e-6, joint / np.where(spread > 1e-6, spread, 1.0), 0.0), dtype=np.float64)


def _stretches(times: Floats, true: NDArray[np.bool_], least: float) -> list[slice]:
    """Where something holds in a row for at least so long [s]."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], true, [False]]).astype(np.int8)))
    parts = [slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return [part for part in parts if times[part.stop - 1] - times[part.start] >= least]


def _level_parts(times: Floats, temperatures: Floats) -> list[slice]:
    """Where the kiln holds: of its course in a few straight lines the level ones, neighbours joined."""
    t, level = means(times, temperatures, count=max(2, int((times[-1] - times[0]) // SPACING)))
    corners = _corners(t, level, CYCLES)
    begins, ends = t[corners[:-1]], t[corners[1:]]
    slope = np.diff(level[corners]) / (ends - begins)
    inside = np.zeros(times.size, dtype=np.bool_)
    for begin, end, pace in zip(begins, ends, slope, strict=True):
        if abs(pace) <= 2 * LEVEL:
            inside |= (times >= begin) & (times <= end)
    return _stretches(times, inside, SHORTEST_HOLD)


def _hold(times: Floats, temperatures: Floats, part: slice) -> Hold:
    t, level = times[part], temperatures[part]
    half = t >= (t[0] + t[-1]) / 2
    middle = float(np.median(level[half]))
    before = temperatures[(times < t[0]) & (times >= t[0] - 3 * REACH)]
    early = np.concatenate([before[-10:], level[~half]])
    from_below = before.size > 0 and float(before[0]) < middle - CYCLES
    smooth = np.convolve(early, np.full(SMOOTHED, 1 / SMOOTHED), mode="valid") if early.size >= SMOOTHED else early
    low, high = np.percentile(level[half], [5, 95])
    return Hold(
        begins=float(t[0]),
        ends=float(t[-1]),
        level=middle,
        overshoot=max(0.0, float(smooth.max()) - middle) if from_below else 0.0,
        swing=float(high - low) / 2,
    )


def _rise(times: Floats, temperatures: Floats) -> Rise | None:
    """The fastest mean rise over half an hour."""
    pace = paces(times, temperatures, reach=FULL / 2)
    inside = (times >= times[0] + FULL / 2) & (times <= times[-1] - FULL / 2)
    if not inside.any() or pace[inside].max() <= LEVEL:
        return None
    i = int(np.flatnonzero(inside)[np.argmax(pace[inside])])
    ends = np.interp([times[i] - FULL / 2, times[i] + FULL / 2], times, temperatures)
    near = np.abs(times - times[i]) <= FULL / 2
    _, off = _line(times[near], temperatures[near])
    return Rise(rate=float(pace[i]), uncertainty=off, begins=float(times[i] - FULL / 2), low=float(ends[0]), high=float(ends[1]))


def _best_fall(times: Floats, temperatures: Floats, *, falls: list[slice], level: float) -> Fall | None:
    """The fall that was read nearest to the level; None if there was none that says anything."""
    read = [fall for part in falls if (fall := _fall(times[part], temperatures[part], level=level)) is not None]
    return min(read, key=lambda fall: abs(fall.middle - level), default=None)


def _fall(t: Floats, temperature: Floats, *, level: float) -> Fall | None:
    """A fall's rate at the level, by a straight line through what is near it; None if too little is left of it."""
    inner = (t >= t[0] + ROUNDED) & (t <= t[-1] - ROUNDED)
    t, temperature = t[inner], temperature[inner]
    if not t.size:
        return None
    nearest = float(np.clip(level, temperature.min(), temperature.max()))
    near = np.abs(temperature - nearest) <= NEAR
    x, y = t[near], temperature[near]
    if x.size < 8 or float(y.max() - y.min()) < LEAST_FALL:
        return None
    slope, off = _line(x, y)
    middle = float(y.mean())
    carried = (level - ROOM) / (middle - ROOM)
    return Fall(
        rate=-slope * carried,
        uncertainty=off * carried,
        begins=float(x[0]),
        ends=float(x[-1]),
        middle=middle,
        straight=_straight(t, temperature),
    )


def _line(x: Floats, y: Floats) -> tuple[float, float]:
    """Slope of a straight line and its standard uncertainty, the scatter hanging together as its autocovariance says."""
    t = x - x.mean()
    slope = float(t @ y / (t @ t))
    lags = autocovariance(y - y.mean() - slope * t) * x.size / max(1, x.size - 2)
    meat = sum(value * float(t[: t.size - k] @ t[k:]) * (1 if k == 0 else 2) for k, value in enumerate(lags))
    return slope, float(np.sqrt(max(meat, 0.0)) / (t @ t))


def _straight(t: Floats, temperature: Floats) -> bool:
    """Does a fall hardly slow though it should: its first third against its last."""
    third = max(2, t.size // 3)
    early, late = (
        -float(np.polyfit(t[part] - t[part][0], temperature[part], 1)[0]) for part in (slice(third), slice(-third, None))
    )
    wanted = (float(temperature[:third].mean()) - ROOM) / (float(temperature[-third:].mean()) - ROOM)
    return wanted >= BENT and late > 0 and early / late - 1 < (wanted - 1) / 3
