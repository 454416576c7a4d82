"""Flasks of several sizes in one kiln: a programme that keeps the limits of each, and what it does in each until its own pour."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from pourwell.findings import Finding
from pourwell.steps.burnout import checks
from pourwell.steps.burnout.inside import SLOW, corners_of, ends_of, traits, windows
from pourwell.steps.burnout.legs import Case, Leg, course, legs_as_typed
from pourwell.steps.burnout.limits import limits_of, proven_for
from pourwell.steps.burnout.model import Programme
from pourwell.steps.burnout.plan import Frame, built, by_hand_kept, frame_of, programme, row_beside
from pourwell.steps.burnout.synthesis import evened, grown, safest
from pourwell.steps.flask.model import Flask

ROUNDS: Final = 3
"""How often the legs are grown for each size in turn; what one asks for seldom changes what another does. Own choice."""


def sizes_of(cases: Iterable[Case]) -> tuple[Case, ...]:
    """Each different flask once, the widest first and of these the tallest."""
    ranked = sorted(cases, key=lambda case: (case.flask.diameter_mm, case.flask.height_mm), reverse=True)
    out: list[Case] = []
    for case in ranked:
        if case not in out:
            out.append(case)
    return tuple(out)


def last_to_dry(cases: Sequence[Case], legs: Sequence[Leg]) -> Case:
    """The flask whose last water goes last, at the slow end of the inputs; the first of those alike."""
    corners = corners_of(*course(legs))
    return max(cases, key=lambda case: traits(ends_of(case)[SLOW], corners, windows(case)).dry)


def for_all(cases: Sequence[Case], *, own: str | None = None, shorter: bool = False) -> tuple[Programme, Case]:
    """The programme of a load, safe for each of its sizes, and the flask that dries last, which it is told for.

    It begins with that of the widest flask, whose published holds are the longest and whose ramps the slowest, and grows until each
    other size keeps its own limits too. The user's `own` programme is taken as it stands. Raises as `programme`.
    """
    cases = sizes_of(cases)
    made = programme(cases[0], own=own, shorter=shorter)
    legs = legs_as_typed(made)
    if own is None or shorter:
        legs = safe_for(legs, cases, like=made, shorter=shorter)
    worst = last_to_dry(cases, legs)
    if worst == cases[0] and legs == legs_as_typed(made):
        return made, worst
    frame = replace(frame_of(made, worst), soak_min=legs[-1].hold_min)
    return built(legs, worst, frame), worst


def safe_for(legs: tuple[Leg, ...], cases: Sequence[Case], *, like: Programme, shorter: bool = False) -> tuple[Leg, ...]:
    """The legs grown until every one of the flasks keeps its limits; what cannot be kept is left to the findings.

    like: a programme of the same row, which says whether it is a proven one of the user's own.
    """
    for _ in range(ROUNDS if len(cases) > 1 else 0):
        before = legs
        for case in cases:
            row = case.library.programme(like.id)
            limits = limits_of(case, row_beside(case), own=proven_for(case, row), bare=shorter)
            legs = by_hand_kept((grown if shorter else safest)(legs, case, limits), case, limits)
        if legs == before:
            break
    return legs


def all_even(legs: tuple[Leg, ...], cases: Sequence[Case], *, like: Programme) -> tuple[Leg, ...]:
    """The last hold so long that each of the flasks is even at every end of its inputs."""
    for case in sizes_of(cases):
        legs = evened(legs, case, frame_of(like, case).limits)
    return legs


def until_legs(legs: Sequence[Leg], minutes: int) -> tuple[Leg, ...]:
    """The legs until a moment of one of their holds; a moment after their end leaves them as they are."""
    out: list[Leg] = []
    left = minutes
    for leg in legs:
        out.append(replace(leg, hold_min=min(leg.hold_min, max(0, left - leg.ramp_min))))
        left -= leg.minutes
        if left <= 0:
            break
    return tuple(out)


def as_seen_by(case: Case, fired: Programme, *, until_min: int) -> Programme:
    """What a programme is for one flask that comes out at some moment: cut there, run and judged for that flask."""
    legs = until_legs(legs_as_typed(fired), until_min)
    frame: Frame = frame_of(fired, case)
    return built(legs, replace(case, flask_c=legs[-1].target_c), frame)


def told_for(flask: Flask, fired: Programme, *, like: Case, until_min: int) -> Programme:
    """A whole programme with what it does in one flask of its load until that comes out; as it is for a flask like its own."""
    if flask == like.flask:
        return fired
    seen = as_seen_by(replace(like, flask=flask), fired, until_min=min(until_min, fired.total_min))
    return replace(
        fired,
        inside=seen.inside,
        verdicts=seen.verdicts,
        core_dry_min=seen.core_dry_min,
        core_dry_early_min=seen.core_dry_early_min,
        core_dry_late_min=seen.core_dry_late_min,
        least_drying_min=seen.least_drying_min,
    )


def findings_for(case: Case, fired: Programme, *, own: bool) -> tuple[Finding, ...]:
    """All findings of the burnout for one flask and a programme that was judged for it."""
    assert case.pattern_material is not None
    return checks.findings(
        checks.Facts(
            programme=fired,
            investment=case.investment,
            pattern_material=case.pattern_material,
            flask=case.flask,
            flask_c=case.flask_c,
            kiln=case.kiln,
            stones=case.stones,
            own=own,
            library=case.library,
        )
    )
