"""Set-points by the clock, for a kiln without a controller or for the legs that its controller does not take."""

import math
from collections.abc import Iterator, Sequence
from typing import Final

from pourwell.steps.burnout.legs import Leg
from pourwell.steps.burnout.model import SetPoint

DIAL_STEP_C: Final = 5.0
"""What a kiln without a controller is set to on the way up."""


def set_points(legs: Sequence[Leg], *, controller_takes: int, step_min: float) -> tuple[SetPoint, ...]:
    """What to set, and when, for all legs after those that the controller takes.

    A climb goes in steps: each setting is where the ramp will be one step later, rounded down to what a dial is set to, so that at
    every setting the kiln stands on the ramp or under it. A fall is one setting: the kiln falls by itself, its door shut.
    """
    points: list[SetPoint] = []
    start = 0
    for number, leg in enumerate(legs, start=1):
        if number > controller_takes:
            points += _of(leg, start, step_min)
        start += leg.minutes
    return tuple(points)


def _of(leg: Leg, start_min: int, step_min: float) -> Iterator[SetPoint]:
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
