"""The legs of a burnout: what a programme's row means for one flask, kiln and flask temperature."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from pourwell.errors import BadDataError
from pourwell.materials.calibration import Known, calibrated
from pourwell.materials.library import Library
from pourwell.materials.model import Investment, PatternMaterial, ProgrammeStep
from pourwell.materials.model import Programme as Row
from pourwell.materials.studio import Kiln
from pourwell.physics.lag import ramp_limit
from pourwell.steps.burnout.model import Factor, Measured, Programme, Reading
from pourwell.steps.flask.model import Flask
from pourwell.steps.melt.plan import mould_side
from pourwell.units import m_from_mm, min_from_h, s_from_h

RAMP_STEP_C_PER_H: Final = 5.0
"""What a controller's ramp is typed to."""
HOLD_STEP_MIN: Final = 5.0
"""What a controller's hold is typed to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One ramp and hold."""

    start_c: float
    target_c: float
    ramp_c_per_h: float
    """Without sign."""
    hold_min: int
    why: str
    ruled_by: str = ""

    @property
    def ramp_min(self) -> int:
        """Minutes from start to target, rounded up."""
        return math.ceil(round(min_from_h(abs(self.target_c - self.start_c) / self.ramp_c_per_h), 6))

    @property
    def minutes(self) -> int:
        """Ramp and hold."""
        return self.ramp_min + self.hold_min


def legs_as_typed(programme: Programme) -> tuple[Leg, ...]:
    """The segments of a programme with the level that each starts from."""
    starts = [programme.start_c, *(s.target_c for s in programme.segments)]
    return tuple(
        Leg(
            start_c=start,
            target_c=s.target_c,
            ramp_c_per_h=abs(s.ramp_c_per_h),
            hold_min=s.hold_min,
            why=s.why,
            ruled_by=s.ruled_by,
        )
        for s, start in zip(programme.segments, starts, strict=False)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What the legs are worked out for."""

    investment: Investment
    flask: Flask
    flask_c: float
    kiln: Kiln
    library: Library
    stones: bool = False
    pattern_material: PatternMaterial | None = None
    measured: Measured | None = None
    """None: what the studio's calibrations say."""
    flasks_count: int = 1
    """How many stand in the kiln."""

    @property
    def known(self) -> Measured:
        """What was measured: as given, else what the studio's calibrations say of this flask, investment and kiln."""
        if self.measured is not None:
            return self.measured
        found = calibrated(self.library.calibrations, flask=self.flask.id, investment=self.investment)
        return Measured(
            conductivity=_factor(found.conductivity_ratio), film=_factor(found.film_ratio), water=_factor(found.water_ratio)
        )


def _factor(known: Known | None) -> Factor | None:
    """A measured value as the burnout takes it; None for one whose uncertainty leaves nothing of it."""
    if known is None or known.low <= 0:
        return None
    return Factor(value=known.value, low=known.low, high=known.high, source=known.source)


def course(legs: Sequence[Leg]) -> tuple[list[float], list[float]]:
    """Corners of the kiln's course: minutes from the start, and degC."""
    times, levels = [0.0], [legs[0].start_c]
    for leg in legs:
        times += [times[-1] + leg.ramp_min, times[-1] + leg.minutes]
        levels += [leg.target_c, leg.target_c]
    return times, levels


def passes_min(legs: Sequence[Leg], level_c: float) -> float:
    """Minutes from the start until the kiln first passes a level; inf if it never does."""
    start = 0.0
    for leg in legs:
        if leg.target_c > level_c:
            climb = max(0.0, level_c - leg.start_c) / (leg.target_c - leg.start_c) if leg.target_c > leg.start_c else 0.0
            return start + climb * leg.ramp_min
        start += leg.minutes
    return math.inf


def total_min(legs: Sequence[Leg]) -> int:
    """How long all of them take."""
    return sum(leg.minutes for leg in legs)


def ceilings(case: Case) -> tuple[float, float]:
    """Set-point plus what the kiln may be hotter [degC]: a warning over the first, a stop over the second; lower with stones."""
    investment, library = case.investment, case.library
    if case.stones:
        limit = library.rules["ceiling_stones_c"]
        level, high_c = investment.peak_c, limit.high or limit.value
        return (level.value, max(level.ends[1], high_c)) if investment.stones else (limit.value, high_c)
    margin_k = library.rule("ceiling_margin_k")
    own_c = investment.peak_c.ends[1] + margin_k
    if investment.binder == "gypsum":
        return min(library.rule("ceiling_warn_c"), own_c), library.rule("ceiling_stop_c")
    stop_c = library.rule("ceiling_phosphate_c")
    return min(stop_c, own_c), stop_c


def reading_of(case: Case) -> Reading:
    """What the kiln of a case may show."""
    warn_c, stop_c = ceilings(case)
    return Reading.of(warn_c=warn_c, stop_c=stop_c, unseen_k=case.kiln.unseen_k)


def top_level_c(case: Case) -> float:
    """The highest set-point: the investment's peak, lower for a kiln that may be so far wrong that it would pass the ceiling."""
    warn_c, _ = ceilings(case)
    return math.floor(min(case.investment.peak_c.value, warn_c - case.kiln.wrong_k))


def ramp_limit_c_per_h(case: Case, start_c: float, target_c: float) -> float:
    """The fastest ramp between two levels.

    Slow while the mould is cold and damp; where quartz inverts, no faster than keeps rim and core together in a flask of this size.
    """
    rules = case.library.rule
    rising = target_c > start_c
    limit = rules("ramp_cold_c_per_h") if rising and start_c < rules("ramp_cold_to_c") else rules("ramp_hot_c_per_h")
    low_c, high_c = min(start_c, target_c), max(start_c, target_c)
    if low_c < rules("inversion_to_c") and high_c > rules("inversion_from_c"):
        lag_limit = ramp_limit(
            rules("inversion_lag_k"),
            radius=m_from_mm(case.flask.diameter_mm / 2),
            diffusivity=mould_side(case.investment, case.flask_c).diffusivity,
        )
        limit = min(limit, s_from_h(lag_limit))
    return limit


def legs_of(row: Row, case: Case, *, own: bool) -> tuple[Leg, ...]:
    """The legs of a programme for one flask.

    A shipped row is held to the limits of ramp and level; an `own` one, such as the maker's schedule, is taken as it stands, but no
    kiln falls faster than it falls. One that does not end at the flask temperature is led there.
    Raises BadDataError for a step without a ramp.
    """
    legs: list[Leg] = []
    level_c = case.library.rule("kiln_start_c")
    for number, step in enumerate(row.steps, start=1):
        if not step.ramp_c_per_h.at(case.flask.diameter_mm) or step.hold_min.at(case.flask.diameter_mm) < 0:
            raise BadDataError(
                f"programmes/{row.id}: step {number} has no ramp, or a hold under 0.",
                try_this="Give each step a ramp in degrees an hour and a hold in minutes.",
            )
        legs.append(_leg(step, level_c, case, own=own))
        level_c = legs[-1].target_c
    if level_c != case.flask_c:
        legs.append(fall(level_c, case))
    return _merged(legs)


def as_it_stands(row: Row, case: Case) -> tuple[Leg, ...]:
    """The legs of a table as nobody held it to anything: for a kiln that follows every ramp. Raises as `legs_of`."""
    follows = case.kiln.model_copy(update={"rise_c_per_h": FOLLOWS_C_PER_H, "fall_c_per_h": FOLLOWS_C_PER_H})
    return legs_of(row, replace(case, kiln=follows), own=True)


FOLLOWS_C_PER_H: Final = 1e5
"""Faster than any table asks. By definition."""


def _leg(step: ProgrammeStep, start_c: float, case: Case, *, own: bool) -> Leg:
    diameter_mm = case.flask.diameter_mm
    target_c = case.flask_c if step.target_c == "flask" else float(step.target_c)
    if step.target_c != "flask" and not own:
        target_c = min(target_c, top_level_c(case))
    wanted = abs(step.ramp_c_per_h.at(diameter_mm))
    ramp = wanted if own else min(wanted, ramp_limit_c_per_h(case, start_c, target_c))
    typed = _typed(ramp, case.kiln, start_c=start_c, target_c=target_c)
    by_kiln = "" if _rounded(ramp) <= typed else RAMP_BY_FALL if own and target_c < start_c else RAMP_BY_KILN
    rules = RAMP_BY_MOULD if ramp < wanted else by_kiln
    return Leg(
        start_c=start_c,
        target_c=target_c,
        ramp_c_per_h=typed,
        hold_min=whole_hold_min(step.hold_min.at(diameter_mm)),
        why=step.why,
        ruled_by=rules,
    )


RAMP_BY_MOULD, RAMP_BY_KILN = "its ramp by what the mould bears", "its ramp by your kiln"
"""What makes a ramp slower than its table's; a part of what rules a leg, behind what rules its hold."""
RAMP_BY_FALL = f"{RAMP_BY_KILN}, which falls no faster"
"""The same of a fall that the user's own programme asks for."""


def fall_h(from_c: float, to_c: float, *, fall_c_per_h: float) -> float:
    """Hours in which a kiln falls from one level to a lower with its door shut: Newton's law of cooling towards the room.

    `fall_c_per_h`: its fall at 500 degC. None if it need not fall; to the room itself it is followed to its last degrees only.
    """
    if from_c <= to_c:
        return 0.0
    over = [max(level - ROOM_C, NEAR_ROOM_K) for level in (from_c, to_c)]
    return (FALL_AT_C - ROOM_C) / fall_c_per_h * math.log(over[0] / over[1])


def mean_fall_c_per_h(from_c: float, to_c: float, *, fall_c_per_h: float) -> float:
    """The mean rate of such a fall; the rate itself where there is none."""
    hours = fall_h(from_c, to_c, fall_c_per_h=fall_c_per_h)
    return (from_c - to_c) / hours if hours else fall_c_per_h


def typed_fall_c_per_h(from_c: float, to_c: float, *, fall_c_per_h: float) -> float:
    """A fall as typed: no faster than the kiln falls at 500 degC, nor than it falls in the mean over the whole way."""
    wanted = min(fall_c_per_h, mean_fall_c_per_h(from_c, to_c, fall_c_per_h=fall_c_per_h))
    return _rounded(wanted)


FALL_AT_C: Final = 500.0
"""Where a kiln's fall is told: near the usual flask temperatures. Own choice."""
ROOM_C: Final = 20.0
"""What a kiln falls towards, as the rule `kiln_start_c` says."""
NEAR_ROOM_K: Final = 5.0
"""Nearer to the room a fall is not followed: it would never end. Own choice."""


def fall(start_c: float, case: Case, *, why: str = "the core comes to the flask temperature") -> Leg:
    """To the flask temperature, where a programme does not say it."""
    return Leg(
        start_c=start_c,
        target_c=case.flask_c,
        ramp_c_per_h=_typed(ramp_limit_c_per_h(case, start_c, case.flask_c), case.kiln, start_c=start_c, target_c=case.flask_c),
        hold_min=whole_hold_min(case.library.rule("flask_hold_least_min")),
        why=why,
    )


def _typed(ramp: float, kiln: Kiln, *, start_c: float, target_c: float) -> float:
    """The ramp as typed: rounded down, and never one that the kiln cannot follow."""
    if target_c < start_c:
        return _rounded(min(ramp, typed_fall_c_per_h(start_c, target_c, fall_c_per_h=kiln.fall_c_per_h)))
    return _rounded(min(ramp, kiln.rise_c_per_h))


def _rounded(ramp: float) -> float:
    """A ramp rounded down to what is typed; one that is slower than a step as it is."""
    whole = math.floor(round(ramp / RAMP_STEP_C_PER_H, 6)) * RAMP_STEP_C_PER_H
    return whole or ramp


def whole_hold_min(minutes: float) -> int:
    """A hold as typed: rounded up."""
    return round(math.ceil(round(minutes / HOLD_STEP_MIN, 6)) * HOLD_STEP_MIN)


def _merged(legs: list[Leg]) -> tuple[Leg, ...]:
    """The legs, without a stop on the way that has no hold and no change of ramp."""
    out: list[Leg] = []
    for leg in legs:
        last = out[-1] if out else None
        if last and not last.hold_min and last.ramp_c_per_h == leg.ramp_c_per_h and _climbs(last) == _climbs(leg):
            out[-1] = replace(leg, start_c=last.start_c)
        else:
            out.append(leg)
    return tuple(out)


def _climbs(leg: Leg) -> bool:
    return leg.target_c >= leg.start_c
