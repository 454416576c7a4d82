"""The safest programme: the published one, its holds as long and its ramps as slow as the limits ask at every end of the inputs.

Holds only grow, ramps only slow down, and a drying hold is set lower where a core that has just dried would rush through the
inversion; so nothing is shorter than published, and each leg says what rules it. One run with a long hold tells how long that hold
must be, for the past of a course does not know how long its present lasts.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from pourwell.physics.mould import heat_to_dry
from pourwell.steps.burnout.hand import SLEEPS
from pourwell.steps.burnout.inside import LIKELY, SLOW, End, Traits, Which, all_traits, colder, corners_of, ends_of, traits
from pourwell.steps.burnout.legs import (
    RAMP_STEP_C_PER_H,
    Case,
    Leg,
    course,
    passes_min,
    ramp_limit_c_per_h,
    total_min,
    whole_hold_min,
)
from pourwell.steps.burnout.limits import NOISE, Kind, Limits, broken
from pourwell.units import min_from_s

ROUNDS: Final = 24
"""Most changes of a programme before it is taken as it is and its findings tell the rest. Own choice."""
SLOWER: Final = 0.85
"""By what factor a ramp is slowed at a time. Own choice."""
SLOWEST_C_PER_H: Final = 20.0
"""No ramp is made slower: a night would not do. Own choice."""
PUBLISHED: Final = "the published programme"
DRYING, CARBON, CHARS, DRAINS = "the core dries", "carbon burns off", "the pattern chars", "the pattern drains"
ITS, JOIN = "its ", "; "
"""How what rules a ramp or a level begins, and stands behind what rules the hold."""
ITS_LEVEL: Final = "its level by rim and core at 200 to 300 °C"
EVENNESS, YOURS, FEW = "the core comes to the flask temperature", "your hours", "the controller's segments"


def drying_index(legs: Sequence[Leg], case: Case) -> int | None:
    """Which leg holds the mould while it dries: the hottest hold between the rules' two levels that the kiln then climbs out of."""
    rule = case.library.rule
    before_c = rule("dry_before_c")
    below = [
        i for i, leg in enumerate(legs) if rule("drying_hold_from_c") <= leg.target_c <= before_c and leg.target_c > leg.start_c
    ]
    if not below or math.isinf(passes_min(legs, before_c)):
        return None
    return max(below, key=lambda i: legs[i].target_c)


def peak_index(legs: Sequence[Leg]) -> int:
    """Which leg holds at the hottest level."""
    return max(range(len(legs)), key=lambda i: (legs[i].target_c, -i))


def grown(
    legs: tuple[Leg, ...], case: Case, limits: Limits, *, sure: bool = True, slack: float = NOISE, quick: bool = False
) -> tuple[Leg, ...]:
    """The legs with what the limits ask at every end of the inputs, or, if not `sure`, as they are likely alone.

    `quick`: as short as may be; a core that lags behind the climb out of the drying hold is waited for there, where that helps,
    before the whole climb is slowed. Limits that they cannot be made to keep are left to the findings.
    """
    ends = ends_of(case)
    if not sure:
        ends = {LIKELY: ends[LIKELY]}
    legs = tuple(replace(leg, ruled_by=ruled(leg, PUBLISHED)) if _unruled(leg) else leg for leg in legs)
    for _ in range(ROUNDS):
        legs = _dried(legs, case, ends=ends, limits=limits)
        faults = broken(all_traits(ends, corners_of(*course(legs)), limits.look), limits, slack=slack)
        mended = (_mended(legs, kind, which, case=case, limits=limits, ends=ends, quick=quick) for kind, which in faults)
        changed = next((new for new in mended if new != legs), None)
        if changed is None:
            return legs
        legs = changed
    return legs


def safest(legs: tuple[Leg, ...], case: Case, limits: Limits) -> tuple[Leg, ...]:
    """The legs grown to keep the rules' own figures of the mould at every end; where none are found, the limits as they are."""
    narrow = limits.narrow()
    found = grown(legs, case, narrow, quick=True)
    if not broken(all_traits(ends_of(case), corners_of(*course(found)), limits.look), narrow, slack=NOISE):
        return found
    return grown(legs, case, limits)


def _held(legs: tuple[Leg, ...], index: int, minutes: float, *, most: float, why: str) -> tuple[Leg, ...]:
    """The legs with one hold of at least so many minutes, and what rules it."""
    leg = legs[index]
    hold = min(max(leg.hold_min, whole_hold_min(most)), whole_hold_min(minutes))
    if hold <= leg.hold_min:
        return legs
    return (*legs[:index], replace(leg, hold_min=hold, ruled_by=ruled(leg, why)), *legs[index + 1 :])


def ruled(leg: Leg, why: str) -> str:
    """What rules a leg now: the hold's reason, then what holds its ramp or its level as before."""
    return JOIN.join((why, *(part for part in leg.ruled_by.split(JOIN) if part.startswith(ITS))))


def _unruled(leg: Leg) -> bool:
    """Is nothing said of its hold yet."""
    return not leg.ruled_by or leg.ruled_by.startswith(ITS)


def _begins_min(legs: Sequence[Leg], index: int) -> int:
    """When the hold of a leg begins, minutes from the start."""
    return total_min(legs[:index]) + legs[index].ramp_min


def _dried(legs: tuple[Leg, ...], case: Case, *, ends: Mapping[Which, End], limits: Limits) -> tuple[Leg, ...]:
    """The drying hold so long that the last water is gone when the kiln passes the rules' level.

    That is at the slow end of the inputs, in a kiln that is colder than it shows by the error of its thermocouple.
    """
    index, rule = drying_index(legs, case), case.library.rule
    if index is None:
        return legs
    passed = passes_min(legs, rule("dry_before_c"))
    slow = ends.get(SLOW, ends[LIKELY])
    if traits(slow, colder(corners_of(*course(legs)), case.kiln.error_k), limits.look).dry <= passed:
        return legs
    most = max(legs[index].hold_min, whole_hold_min(rule("drying_hold_longest_min")))
    long = (*legs[:index], replace(legs[index], hold_min=most))
    dry = traits(slow, colder(corners_of(*course(long)), case.kiln.error_k), limits.look).dry
    after = passed - _begins_min(legs, index) - legs[index].hold_min
    return _held(legs, index, min(most, dry - _begins_min(legs, index) - after), most=most, why=DRYING)


def _mended(
    legs: tuple[Leg, ...], kind: Kind, which: Which, *, case: Case, limits: Limits, ends: Mapping[Which, End], quick: bool
) -> tuple[Leg, ...]:
    """The legs with a change that a broken limit asks for; the same legs if there is none."""
    found: Traits = traits(ends[which], corners_of(*course(legs)), limits.look)
    if kind.mould:
        at_min = getattr(found, f"{kind.key}_at")
        if kind.key == "cristobalite":
            cooler = _cooler(legs, at_min, case)
            if cooler == legs and quick:
                cooler = _waited(legs, at_min, found, case=case, end=ends[which], limits=limits, why=kind.what)
            if cooler != legs:
                return cooler
        return _slowed(legs, at_min, why=kind.what)
    if kind.key == "uneven":
        return evened(legs, case, limits, ends=ends)
    return held_for(legs, kind, limits.allowed[which][kind.key] - getattr(found, kind.key), case=case)


def held_for(legs: tuple[Leg, ...], kind: Kind, short: float, *, case: Case) -> tuple[Leg, ...]:
    """The legs with the hold longer that gives the pattern more of what it is short of [min]."""
    rule = case.library.rule
    drains = [i for i, leg in enumerate(legs) if leg.target_c <= rule("drain_to_c")]
    index, most, why = {
        "carbon": (peak_index(legs), rule("peak_hold_longest_min"), CARBON),
        "charring": (drying_index(legs, case), rule("drying_hold_longest_min"), CHARS),
        "draining": (drains[-1] if drains else None, rule("drying_hold_longest_min"), DRAINS),
    }[kind.key]
    return legs if index is None else _held(legs, index, legs[index].hold_min + short, most=most, why=why)


def _cooler(legs: tuple[Leg, ...], at_min: float, case: Case) -> tuple[Leg, ...]:
    """The legs with the drying hold one step lower, where that moment lies in it; else as they are.

    As the last water goes the core rushes up to a rim that stands near the hold's level: no ramp helps there. Never so low that the
    next ramp would begin where the slower one holds, nor where the hold cannot grow any more.
    """
    index, rule = drying_index(legs, case), case.library.rule
    if index is None or not _begins_min(legs, index) <= at_min <= total_min(legs[: index + 1]):
        return legs
    leg = legs[index]
    level_c = leg.target_c - COOLER_K
    if level_c < rule("ramp_cold_to_c") or leg.hold_min >= whole_hold_min(rule("drying_hold_longest_min")):
        return legs
    cooler, after = replace(leg, target_c=level_c, ruled_by=_with_level(leg)), replace(legs[index + 1], start_c=level_c)
    return (*legs[:index], cooler, after, *legs[index + 2 :])


def _waited(
    legs: tuple[Leg, ...], at_min: float, found: Traits, *, case: Case, end: End, limits: Limits, why: str
) -> tuple[Leg, ...]:
    """The legs with the drying hold one step longer, where that moment lies in the climb out of it and the core lags less for it.

    Else as they are. A core that has just dried stands at 100 degC while the rim climbs away from it; soon after it has followed.
    """
    index = drying_index(legs, case)
    if index is None or at_min < total_min(legs[: index + 1]):
        return legs
    hold, most = legs[index].hold_min + WAIT_STEP_MIN, case.library.rule("drying_hold_longest_min")
    longer = _held(legs, index, hold, most=most, why=why)
    if longer == legs:
        return legs
    less = found.cristobalite - traits(end, corners_of(*course(longer)), limits.look).cristobalite
    return longer if less > WAIT_GAINS_K else legs


WAIT_STEP_MIN: Final = 10
WAIT_GAINS_K: Final = 1.0
"""How long a core is waited for at a time, and what that must gain. Own choice."""


def _with_level(leg: Leg) -> str:
    return leg.ruled_by if ITS_LEVEL in leg.ruled_by else f"{leg.ruled_by}{JOIN}{ITS_LEVEL}"


COOLER_K: Final = 5.0
"""By what the drying hold is set lower at a time: what a controller's level is typed to. Own choice."""


def slower(legs: tuple[Leg, ...]) -> tuple[Leg, ...]:
    """All climbs slowed by one step."""
    return tuple(replace(leg, ramp_c_per_h=_less(leg.ramp_c_per_h)) if leg.target_c > leg.start_c else leg for leg in legs)


def _less(ramp_c_per_h: float) -> float:
    """A ramp one step slower, as typed; never under the slowest."""
    less = math.floor(ramp_c_per_h * SLOWER / RAMP_STEP_C_PER_H) * RAMP_STEP_C_PER_H
    return min(ramp_c_per_h, max(SLOWEST_C_PER_H, less))


def _slowed(legs: tuple[Leg, ...], at_min: float, *, why: str) -> tuple[Leg, ...]:
    """The legs with the ramp slower that a moment follows."""
    starts = [total_min(legs[:i]) for i in range(len(legs))]
    later = [i for i, start in enumerate(starts) if start <= at_min and legs[i].target_c > legs[i].start_c]
    for i in reversed(later):
        less = _less(legs[i].ramp_c_per_h)
        if less < legs[i].ramp_c_per_h:
            return (*legs[:i], replace(legs[i], ramp_c_per_h=less, ruled_by=why), *legs[i + 1 :])
    return legs


def evened(legs: tuple[Leg, ...], case: Case, limits: Limits, *, ends: Mapping[Which, End] | None = None) -> tuple[Leg, ...]:
    """The last hold so long that the mould is even at every end."""
    ends = ends or ends_of(case)
    hold = legs[-1].hold_min
    most = hold + case.library.rule("hold_longer_max_min")

    def even(minutes: int) -> bool:
        tried = corners_of(*course((*legs[:-1], replace(legs[-1], hold_min=minutes))))
        return all(traits(ends[w], tried, limits.look).uneven <= limits.allowed[w]["uneven"] for w in ends)

    while hold < most and not even(hold):
        hold = whole_hold_min(hold + EVEN_STEP_MIN)
    return _held(legs, len(legs) - 1, hold, most=most, why=EVENNESS)


EVEN_STEP_MIN: Final = 15
"""By what the last hold grows at a time. Own choice."""


def with_spare(legs: tuple[Leg, ...], case: Case, spare_min: int) -> tuple[Leg, ...]:
    """The legs with time to spare in the drying and the peak hold, half each, and what these cannot take in the last hold."""
    rule, left = case.library.rule, spare_min
    drying, peak = drying_index(legs, case), peak_index(legs)
    places = [(i, most) for i, most in ((drying, "drying_hold_longest_min"), (peak, "peak_hold_longest_min")) if i is not None]
    for number, (place, most) in enumerate(places):
        index = place
        room = max(0, whole_hold_min(rule(most)) - legs[index].hold_min)
        more = min(room, left if number == len(places) - 1 else left // 2)
        if more:
            legs = (*legs[:index], _yours(legs[index], more), *legs[index + 1 :])
            left -= more
    return with_last(legs, left)


def most_spare_min(legs: tuple[Leg, ...], case: Case, *, fixed: bool) -> int:
    """How much time to spare a programme takes: in drying and peak hold, and no more than a flask may be held longer at its end.

    `fixed`: a programme of the user's own takes it at its end alone.
    """
    rule = case.library.rule
    at_end = round(rule("hold_longer_max_min"))
    if fixed:
        return at_end
    places = ((drying_index(legs, case), "drying_hold_longest_min"), (peak_index(legs), "peak_hold_longest_min"))
    return at_end + sum(max(0, whole_hold_min(rule(most)) - legs[i].hold_min) for i, most in places if i is not None)


def with_last(legs: tuple[Leg, ...], minutes: int) -> tuple[Leg, ...]:
    """The legs with a longer last hold."""
    return (*legs[:-1], _yours(legs[-1], minutes)) if minutes else legs


def _yours(leg: Leg, more_min: int) -> Leg:
    """A leg held longer for the user's hours; one that lasts through a night still says so."""
    return replace(leg, hold_min=leg.hold_min + more_min, ruled_by=leg.ruled_by if SLEEPS in leg.ruled_by else YOURS)


Grow = Callable[[tuple[Leg, ...], Case, Limits], tuple[Leg, ...]]
"""How legs are grown to keep limits."""


def bare(legs: Sequence[Leg], case: Case) -> tuple[Leg, ...]:
    """The same levels without holds, climbed as fast as the rules let: from which the shortest possible grows."""
    out = []
    for leg in legs:
        climbs = leg.target_c > leg.start_c
        most = ramp_limit_c_per_h(case, leg.start_c, leg.target_c) if climbs else leg.ramp_c_per_h
        out.append(replace(leg, ramp_c_per_h=max(leg.ramp_c_per_h, min(most, case.kiln.rise_c_per_h)), hold_min=0, ruled_by=""))
    return tuple(out)


def fitted(legs: tuple[Leg, ...], case: Case, limits: Limits, *, grow: Grow = grown) -> tuple[Leg, ...]:
    """The legs in no more segments than the controller takes, if that can be had and still keeps the limits; each try grows anew.

    A level on the way is left out: the ramp through it is the slower of the two, and its hold goes to the next. Never the drying
    hold, the peak, the first or the last.
    """
    takes = case.kiln.segments_count
    while takes and len(legs) > takes:
        tried = [grow(_without(legs, i), case, limits) for i in _spare_levels(legs, case)]
        ends = ends_of(case)
        tried = [o for o in tried if not broken(all_traits(ends, corners_of(*course(o)), limits.look), limits, slack=NOISE)]
        if not tried:
            return legs
        legs = min(tried, key=total_min)
    return legs


def _spare_levels(legs: Sequence[Leg], case: Case) -> list[int]:
    """Levels on the way up that may be left out."""
    keep = {drying_index(legs, case), peak_index(legs), len(legs) - 1, 0}
    return [i for i in range(len(legs) - 1) if i not in keep and legs[i + 1].target_c > legs[i].target_c]


def _without(legs: tuple[Leg, ...], index: int) -> tuple[Leg, ...]:
    gone, after = legs[index], legs[index + 1]
    joined = replace(
        after,
        start_c=gone.start_c,
        ramp_c_per_h=min(gone.ramp_c_per_h, after.ramp_c_per_h),
        hold_min=after.hold_min + gone.hold_min,
        ruled_by=FEW,
    )
    return (*legs[:index], joined, *legs[index + 2 :])


def least_drying_min(case: Case) -> float:
    """No drying takes less: heat to dry x volume over outer face, at the steam that the rules allow in any case.

    Source: a balance of heat; the face is side and both ends, so a real flask needs more.
    """
    end = ends_of(case)[LIKELY]
    radius, height = end.flask.radius, end.flask.height
    depth = radius * height / (2 * (radius + height))
    most = case.library.rule("steam_most_kw_per_m2") * 1000
    return min_from_s(heat_to_dry(end.mould.composition) * end.mould.water_share * depth / most)
