"""Programmes of a week that are safe for every flask that may be fired with them, not only for the one they are made for."""

from collections.abc import Sequence
from dataclasses import replace

from pourwell.steps.burnout.legs import Case, legs_as_typed
from pourwell.steps.burnout.plan import built, frame_of
from pourwell.steps.burnout.sizes import ROUNDS, safe_for, sizes_of
from pourwell.steps.day.week_plan import Candidate, Fired
from pourwell.steps.day.week_runs import may_share


def safe_with_mates(candidates: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """The candidates, each programme grown until it is safe for all that it may rule: a load takes its longest.

    Programmes of the user's own stand as they are: the findings tell what they do.
    """
    now = tuple(candidates)
    for _ in range(ROUNDS):
        known: dict[tuple[object, ...], Fired] = {}
        grown = tuple(_with_mates(i, now, known=known) for i in range(len(now)))
        if grown == now:
            break
        now = grown
    return now


def _with_mates(i: int, candidates: Sequence[Candidate], *, known: dict[tuple[object, ...], Fired]) -> Candidate:
    """One candidate with a programme in each kiln that is safe for those whose own is no longer."""
    own = candidates[i]
    if own.own_programme:
        return own
    mates = [other for j, other in enumerate(candidates) if j != i and may_share(own, other)]
    fired = []
    for kiln, one in enumerate(own.fired):
        shorter = [mate.fired[kiln] for mate in mates if mate.fired[kiln].programme.total_min <= one.programme.total_min]
        cases = sizes_of(replace(f.case, flask_c=one.case.flask_c, flasks_count=one.case.flasks_count) for f in shorter)
        others = tuple(case for case in cases if case.flask != one.case.flask)
        case = one.case
        key = (
            (case.investment.id, case.flask, case.flask_c, kiln, one.programme.id, one.programme.total_min),
            tuple(other.flask for other in others),
        )
        if key not in known:
            known[key] = _grown(one, others)
        fired.append(known[key])
    return replace(own, fired=tuple(fired), work=replace(own.work, programme=fired[0].programme))


def _grown(one: Fired, others: Sequence[Case]) -> Fired:
    """A burnout whose programme keeps the limits of other flasks too."""
    before = legs_as_typed(one.programme)
    legs = safe_for(before, (one.case, *others), like=one.programme)
    if legs == before:
        return one
    frame = replace(frame_of(one.programme, one.case), soak_min=legs[-1].hold_min)
    return replace(one, programme=built(legs, one.case, frame))
