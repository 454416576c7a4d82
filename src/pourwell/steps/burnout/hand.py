"""Set-points by the clock, for a kiln without a controller or for legs that its controller does not take; and how it follows."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.inside import Corners, corners_of
from pourwell.steps.burnout.legs import Leg, course, mean_fall_c_per_h, total_min
from pourwell.steps.burnout.model import Reading, SetPoint
from pourwell.units import h_from_min, min_from_h

DIAL_STEP_C: Final = 5.0
"""What a kiln without a controller is set to on the way up."""
SLEEPS: Final = "no setting in the night"
"""What rules a hold that lasts through a night."""
LOOK: Final = "look before you sleep: "
"""How the words of the day's last look begin."""
LOOK_AFTER_MIN: Final = 10
"""That look comes so long after the kiln has climbed to its last setting: by then it stands. Own choice."""
BEFORE_BED_MIN: Final = 30
"""The last setting of a day comes so long before bedtime, so that its effect is still seen. Own choice."""
NEAR_K: Final = 10.0
"""A kiln that stands so near to what is set is right, as long as it shows no more than it may. Own choice."""


def set_points(legs: Sequence[Leg], *, kiln: Kiln, step_min: float, reading: Reading) -> tuple[SetPoint, ...]:
    """What to set, and when, for all legs after those that the controller takes, and what the kiln should show just before.

    A climb goes in steps: each setting is where the ramp will be one step later, rounded down to what a dial is set to, so that at
    every setting the kiln stands on the ramp or under it. A fall is one setting: the kiln falls by itself, its door shut. A hold
    through the night has a last look before it.
    """
    points: list[SetPoint] = []
    start = 0
    for number, leg in enumerate(legs, start=1):
        if number > kiln.segments_count:
            points += settings_of(leg, start, step_min)
            if SLEEPS in leg.ruled_by:
                says = _falling(reading) if leg.target_c < leg.start_c else _standing(points[-1].set_c, reading)
                points.append(_last_look(points, legs, kiln, says=says))
        start += leg.minutes
    return tuple(_seen(points, legs, kiln))


def _last_look(points: Sequence[SetPoint], legs: Sequence[Leg], kiln: Kiln, *, says: str) -> SetPoint:
    """The look after the last of these settings: when its climb is done, but not after bedtime."""
    last = points[-1]
    climb_k = last.set_c - level_at(followed(legs, points, kiln), last.at_min)
    climb_min = min_from_h(max(0.0, climb_k) / kiln.rise_c_per_h)
    after_min = min(BEFORE_BED_MIN, math.ceil(climb_min) + LOOK_AFTER_MIN)
    return SetPoint(at_min=last.at_min + after_min, set_c=last.set_c, why=LOOK + says)


def _standing(set_c: float, reading: Reading) -> str:
    """What a kiln must show that stands through the night: none that is too hot for the mould passes."""
    most_c = min(set_c + NEAR_K, reading.never_over_c, reading.off_c - 1)
    least_c = set_c - NEAR_K
    shows = f"{{t:{least_c:g}}} to {{m:{most_c:g}}}" if least_c < most_c else f"no more than {{m:{most_c:g}}}"
    return (
        f"it must show {shows} and no longer climb; if low, wait until it stands; if over {{m:{most_c:g}}}, turn it down and look "
        f"again; at {{m:{reading.off_c}}} switch off"
    )


def _falling(reading: Reading) -> str:
    """What a kiln must do that is set lower for the night."""
    return f"it must be falling; if it is not, or at {{m:{reading.off_c}}}, switch off"


def looks(point: SetPoint) -> bool:
    """Is it the last look of a day: nothing is set."""
    return point.why.startswith(LOOK)


def settings_of(leg: Leg, start_min: int, step_min: float) -> Iterator[SetPoint]:
    """The settings of one leg that begins so many minutes after the start."""
    if leg.target_c <= leg.start_c:
        yield SetPoint(at_min=start_min, set_c=leg.target_c, why=leg.why)
        return
    level_c = leg.start_c
    steps = max(1, math.ceil(round(leg.ramp_min / step_min, 6)))
    for i in range(steps):
        last = i == steps - 1
        ramp_c = leg.start_c + (leg.target_c - leg.start_c) * (i + 1) / steps
        level = leg.target_c if last else math.floor(round(ramp_c / DIAL_STEP_C, 6)) * DIAL_STEP_C
        if level > level_c:
            at_min = start_min + math.ceil(leg.ramp_min * i / steps)
            yield SetPoint(at_min=at_min, set_c=float(level), why=leg.why if last else "climb slowly")
        level_c = max(level, level_c)


def followed(legs: Sequence[Leg], points: Sequence[SetPoint], kiln: Kiln) -> Corners:
    """The kiln's course: as typed until the first setting by hand, then towards each set-point as fast as it climbs or falls."""
    end = float(total_min(legs))
    if not points:
        return corners_of(*course(legs))
    times, levels = course(legs)
    first = float(points[0].at_min)
    out = [(t, c) for t, c in zip(times, levels, strict=True) if t < first]
    level = out[-1][1] if out else legs[0].start_c
    out.append((first, level))
    for point, until in zip(points, [*(float(p.at_min) for p in points[1:]), end], strict=True):
        falls = mean_fall_c_per_h(level, point.set_c, fall_c_per_h=kiln.fall_c_per_h)
        rate = kiln.rise_c_per_h if point.set_c > level else falls
        takes = min_from_h(abs(point.set_c - level) / rate)
        moment = out[-1][0]
        if takes >= until - moment:
            level += math.copysign(rate * h_from_min(until - moment), point.set_c - level)
            out.append((until, level))
        else:
            level = point.set_c
            out += [(moment + takes, level), (until, level)]
    return corners_of(*zip(*out, strict=True))


def _seen(points: Sequence[SetPoint], legs: Sequence[Leg], kiln: Kiln) -> Iterator[SetPoint]:
    """The set-points, each with what the kiln shows just before it."""
    corners = followed(legs, points, kiln)
    for point in points:
        yield replace(point, seen_c=float(round(level_at(corners, point.at_min))))


def level_at(corners: Corners, at_min: float) -> float:
    """The kiln's level at a moment, by straight lines."""
    for (t0, c0), (t1, c1) in pairwise(corners):
        if t0 <= at_min <= t1:
            return c0 if t1 == t0 else c0 + (c1 - c0) * (at_min - t0) / (t1 - t0)
    return corners[-1][1]
