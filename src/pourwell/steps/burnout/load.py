"""Several flasks in one kiln: one programme that is safe for the worst, and at which temperature and when each comes out."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from pourwell.errors import BadRequestError
from pourwell.steps.burnout.hand import followed, level_at
from pourwell.steps.burnout.inside import Corners, Which, all_traits, ends_of, in_words, windows
from pourwell.steps.burnout.legs import Case, Leg, fall, legs_as_typed
from pourwell.steps.burnout.model import Programme
from pourwell.steps.burnout.plan import built, frame_of
from pourwell.steps.burnout.sizes import all_even, for_all
from pourwell.steps.burnout.synthesis import PUBLISHED, with_last


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A flask of the load."""

    case: Case
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """When a flask of the load comes out."""

    label: str
    flask_c: float
    segment: int
    """Number of the segment that brings it to its temperature."""
    soak_min: int
    """How long it stands there before its pour, others poured before it at the same temperature not counted."""
    out_min: int
    """Minutes from the start until it comes out."""
    case: Case


def served(
    load: Sequence[Wanted], *, turn_min: int, pour_min: int = 0, own: str | None = None, shorter: bool = False
) -> tuple[Programme, tuple[Served, ...], Case]:
    """One programme that is safe for each of them, their order, the hottest first, and the flask that dries last.

    `turn_min`: from one pour to the next at the same temperature; `pour_min`: the kiln falls no sooner after one. Each lower
    temperature is one more fall, at the kiln's own rate, and a soak until each flask left is even. Raises BadRequestError for an
    empty load.
    """
    if not load:
        raise BadRequestError("No flask stands in the kiln.", try_this="Name at least one, as 76x100.")
    steps = sorted({one.case.flask_c for one in load}, reverse=True)
    cases = [replace(one.case, flask_c=steps[0], flasks_count=len(load)) for one in load]
    made, worst = for_all(cases, own=own, shorter=shorter)
    frame = frame_of(made, worst)
    legs, out = legs_as_typed(made), []
    for level in steps:
        group = [one for one in load if one.case.flask_c == level]
        if level != steps[0]:
            left = [replace(one.case, flask_c=level, flasks_count=len(load)) for one in load if one.case.flask_c <= level]
            legs = _lower(legs, left, like=made)
        soak = legs[-1].hold_min
        begins = sum(leg.minutes for leg in legs)
        order = sorted(group, key=lambda one: one.case.flask.diameter_mm)
        out += [
            Served(
                label=one.label, flask_c=level, segment=len(legs), soak_min=soak, out_min=begins + number * turn_min, case=one.case
            )
            for number, one in enumerate(order)
        ]
        legs = with_last(legs, (len(group) - 1) * turn_min + (pour_min if level != steps[-1] else 0))
    whole = made if legs == legs_as_typed(made) else built(legs, replace(worst, flask_c=steps[-1]), frame)
    return whole, tuple(out), worst


def evenly(programme: Programme, out: Sequence[Served], *, flasks_count: int) -> Programme:
    """The programme with the evenness of the flask that is least even as it comes out: one that is poured cools elsewhere."""
    if len(out) < TWO:
        return programme
    legs = legs_as_typed(programme)
    most_k = out[0].case.library.rule("uneven_most_k")
    spread: dict[Which, float] = {}
    for one in out:
        case = replace(one.case, flasks_count=flasks_count)
        corners = until(followed(legs, programme.by_hand, case.kiln), float(one.out_min))
        for which, found in all_traits(ends_of(case), corners, windows(case)).items():
            spread[which] = max(spread.get(which, 0.0), found.uneven)
    which = max(spread, key=lambda w: spread[w])
    verdicts = tuple(
        replace(v, measure=spread[which], limit=most_k, at_end=in_words(which)) if v.key == "uneven" else v
        for v in programme.verdicts
    )
    return replace(programme, verdicts=verdicts)


def until(corners: Corners, end_min: float) -> Corners:
    """A course up to a moment."""
    return (*((t, c) for t, c in corners if t < end_min), (end_min, level_at(corners, end_min)))


TWO: Final = 2
"""By definition: of one flask the programme itself tells."""


def _lower(legs: tuple[Leg, ...], left: Sequence[Case], *, like: Programme) -> tuple[Leg, ...]:
    """One more fall and its soak, until each flask left is even at every end of the inputs."""
    least = left[0].library.rule("flask_hold_least_min")
    last = fall(legs[-1].target_c, left[0], why="the next flasks come to their temperature")
    return all_even((*legs, replace(last, hold_min=round(least), ruled_by=PUBLISHED)), left, like=like)
