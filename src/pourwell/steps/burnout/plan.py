"""The burnout: which programme, for this flask and kiln, and its clock times."""

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta, timezone, tzinfo
from typing import Final

from pourwell.errors import BadRequestError
from pourwell.materials.library import Library
from pourwell.materials.model import Investment, PatternMaterial
from pourwell.materials.model import Programme as Row
from pourwell.materials.published import published_for
from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.energy import energy_kwh
from pourwell.steps.burnout.hand import followed, set_points
from pourwell.steps.burnout.inside import all_traits, ends_of
from pourwell.steps.burnout.legs import (
    Case,
    Leg,
    as_it_stands,
    ceilings,
    legs_as_typed,
    legs_of,
    passes_min,
    reading_of,
    top_level_c,
    total_min,
    whole_hold_min,
)
from pourwell.steps.burnout.limits import NOISE, Limits, broken, judge, limits_of, proven_for
from pourwell.steps.burnout.model import SLACK, Measured, Programme, Segment, TimedSegment
from pourwell.steps.burnout.nights import nights_of, through_the_night
from pourwell.steps.burnout.synthesis import (
    bare,
    fitted,
    grown,
    held_for,
    least_drying_min,
    peak_index,
    safest,
    slower,
    with_last,
    with_spare,
)
from pourwell.steps.burnout.telling import inside
from pourwell.steps.flask.model import Flask

STONE_PROGRAMME: Final = "stone-wax"
"""The published low cycle, for stones in place where the investment's own programme is too hot."""


def row_for(investment: Investment, *, pattern_material: PatternMaterial, stones: bool, own: str | None, library: Library) -> Row:
    """The programme's row: the user's own, else the investment's for this pattern family, else the low one for stones.

    Raises UnknownNameError for an id that no programme has.
    """
    if own is not None:
        return library.programme(own)
    resin = pattern_material.family == "resin" and investment.programme_resin
    row = library.programme(investment.programme_resin if resin else investment.programme_wax)
    return library.programme(STONE_PROGRAMME) if stones and not row.stones else row


def case_of(
    investment: Investment,
    *,
    pattern_material: PatternMaterial,
    flask: Flask,
    flask_c: float,
    kiln: Kiln,
    stones: bool,
    library: Library,
    measured: Measured | None = None,
    flasks_count: int = 1,
) -> Case:
    """What a burnout is worked out for: the flask, what stands with it, and what was measured of mould and kiln."""
    return Case(
        investment=investment,
        flask=flask,
        flask_c=flask_c,
        kiln=kiln,
        library=library,
        stones=stones,
        pattern_material=pattern_material,
        measured=measured,
        flasks_count=flasks_count,
    )


def programme(case: Case, *, own: str | None = None, shorter: bool = False) -> Programme:
    """The burnout of one flask, ending at the flask temperature.

    A shipped programme is held within the limits of ramp and level, and grows until it keeps every limit at every end of the
    inputs; the user's `own` (the maker's schedule) is taken as it stands and judged. `shorter`: no longer than the limits ask,
    which the user must ask for and what he measured, or his own proven programme, must cover; it leaves the pattern no less time to
    drain, char and burn off than that one, and holds peak and flask as the rules ask. Raises UnknownNameError for an own
    programme that does not exist, BadRequestError for a shorter one that nothing covers.
    """
    row, beside = usual_row(case, own=own), row_beside(case)
    covered = proven_for(case, row)
    published, stands = legs_of(beside, case, own=False), as_it_stands(beside, case)
    first = legs_of(usual_row(case, own=None), case, own=False)
    limits = limits_of(case, beside, own=covered)
    loose = limits_of(case, beside, own=covered, bare=True)
    shortest = shortest_of(first, case, loose)
    if shorter:
        _covered(case, covered)
        legs = fitted(shortest_of(first, case, loose, sure=True), case, loose)
    elif own is not None:
        legs = legs_of(row, case, own=True)
    else:
        legs = fitted(safest(first, case, limits), case, limits, grow=safest)
    frame = Frame(
        row=row,
        name=f"as short as {row.name if covered else 'your logs'} will cover" if shorter else row.name,
        limits=limits,
        published_min=total_min(published),
        published=() if _alike(stands, published) else tuple(_segment(number, leg) for number, leg in enumerate(stands, start=1)),
        shortest_min=min(total_min(shortest), total_min(legs) if own is None or shorter else total_min(shortest)),
        soak_min=legs[-1].hold_min,
    )
    if own is None or shorter:
        legs = by_hand_kept(legs, case, loose if shorter else limits)
    return built(legs, case, frame)


def shortest_of(published: tuple[Leg, ...], case: Case, loose: Limits, *, sure: bool = False) -> tuple[Leg, ...]:
    """The shortest found that keeps these limits with all inputs at their likely values; `sure`: at every end of them."""
    return grown(_least_held(bare(published, case), case), case, loose, sure=sure, slack=SLACK, quick=True)


def _least_held(legs: tuple[Leg, ...], case: Case) -> tuple[Leg, ...]:
    """The legs with the rules' holds at the peak and at the flask temperature: no measure of the pattern asks for these."""
    rule, peak = case.library.rule, peak_index(legs)
    least = {peak: rule("carbon_least_min"), len(legs) - 1: rule("flask_hold_least_min")}
    return tuple(replace(leg, hold_min=max(leg.hold_min, whole_hold_min(least.get(i, 0.0)))) for i, leg in enumerate(legs))


def usual_row(case: Case, *, own: str | None) -> Row:
    """The row of `row_for` for a case."""
    assert case.pattern_material is not None
    return row_for(case.investment, pattern_material=case.pattern_material, stones=case.stones, own=own, library=case.library)


def row_beside(case: Case) -> Row:
    """The published row that a burnout is held against: that of `row_for` where it is published, else what stands in for it."""
    assert case.pattern_material is not None
    found = published_for(case.investment, case.library)
    return found.row(resin=case.pattern_material.family == "resin", stones=case.stones, stone_programme=STONE_PROGRAMME)


def _covered(case: Case, own: Row | None) -> None:
    """Refuse a shorter programme that rests on estimates alone."""
    measured = case.known
    if own is None and not (measured.conductivity and measured.film and measured.water):
        raise BadRequestError(
            "A programme shorter than published needs a log of your own flask.",
            why="Conductivity, film and water are estimates here, and a flask that is still wet can crack and let metal out.",
            try_this="Log a burnout with a thermocouple in a flask, or name your own programme that has proven itself in flasks as "
            f"wide, with such patterns ({_proof(case)} in its file).",
        )


def _proof(case: Case) -> str:
    """How the file of one's own programme says that it has proven itself for such a flask and pattern."""
    assert case.pattern_material is not None
    return f'proven = {{ to_mm = {math.ceil(case.flask.diameter_mm)}, pattern = "{case.pattern_material.family}" }}'


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What stays the same while the holds of a programme grow."""

    row: Row
    name: str
    """In words: a programme that is only covered by the row does not bear its name."""
    limits: Limits
    published_min: int
    published: tuple[Segment, ...]
    shortest_min: int
    soak_min: int


def built(legs: tuple[Leg, ...], case: Case, frame: Frame) -> Programme:
    """The programme of these legs: run at every end of the inputs, judged, and what it draws."""
    rule = case.library.rule
    points = set_points(legs, kiln=case.kiln, step_min=rule("by_hand_step_min"), reading=reading_of(case))
    corners = followed(legs, points, case.kiln)
    ends = ends_of(case)
    found = all_traits(ends, corners, frame.limits.look)
    told = inside(ends, found, corners, case=case)
    verdicts = judge(found, frame.limits)
    kept_min = total_min(legs) if all(v.keeps for v in verdicts) and told.dry_min.likely <= total_min(legs) else math.inf
    low_kwh, kwh, high_kwh = energy_kwh(corners, case, told.heat_kwh)
    return Programme(
        id=frame.row.id,
        name=frame.name,
        grade=frame.row.grade.value,
        segments=tuple(_segment(number, leg) for number, leg in enumerate(legs, start=1)),
        by_hand=points,
        total_min=total_min(legs),
        start_c=legs[0].start_c,
        peak_c=max(leg.target_c for leg in legs),
        ceiling_c=ceilings(case)[0 if case.stones else 1],
        warn_c=ceilings(case)[0],
        stop_c=ceilings(case)[1],
        energy_kwh=kwh,
        energy_low_kwh=low_kwh,
        energy_high_kwh=high_kwh,
        core_dry_min=told.dry_min.likely,
        core_dry_early_min=told.dry_min.low,
        core_dry_late_min=told.dry_min.high,
        passes_400_min=passes_min(legs, rule("dry_before_c")),
        stones=case.stones,
        inside=told,
        verdicts=verdicts,
        published_grade=row_beside(case).grade.value,
        published_min=frame.published_min,
        published=frame.published,
        lowered_to_c=_lowered_to_c(legs, case, frame.row),
        shortest_min=round(min(frame.shortest_min, kept_min)),
        soak_min=frame.soak_min,
        least_drying_min=least_drying_min(case),
    )


def _alike(some: tuple[Leg, ...], others: tuple[Leg, ...]) -> bool:
    """Are legs typed alike, whatever rules them."""
    return [replace(leg, ruled_by="") for leg in some] == [replace(leg, ruled_by="") for leg in others]


def _lowered_to_c(legs: tuple[Leg, ...], case: Case, row: Row) -> float | None:
    """The peak, where a table's own is lowered for what the kiln may be wrong; else None."""
    peak_c, top_c = max(leg.target_c for leg in legs), top_level_c(case)
    hottest_c = max((step.target_c for step in row.steps if not isinstance(step.target_c, str)), default=peak_c)
    return peak_c if peak_c == top_c < min(case.investment.peak_c.value, hottest_c) else None


def by_hand_kept(legs: tuple[Leg, ...], case: Case, limits: Limits) -> tuple[Leg, ...]:
    """The legs climbed more slowly, or held longer for the pattern, where the steps of a kiln set by hand would break a limit."""
    step_min = case.library.rule("by_hand_step_min")
    if len(legs) <= case.kiln.segments_count:
        return legs
    for _ in range(HAND_ROUNDS):
        points = set_points(legs, kiln=case.kiln, step_min=step_min, reading=reading_of(case))
        found = all_traits(ends_of(case), followed(legs, points, case.kiln), limits.look)
        faults = broken(found, limits, slack=NOISE)
        short = [(kind, which) for kind, which in faults if kind.key in HELD]
        for kind, which in short:
            legs = held_for(legs, kind, limits.allowed[which][kind.key] - getattr(found[which], kind.key), case=case)
        if not faults:
            break
        legs = legs if short else slower(legs)
    return legs


HELD: Final = frozenset({"draining", "charring", "carbon"})
"""What a longer hold mends; the rest a slower climb does."""


HAND_ROUNDS: Final = 10
"""Most times that the course of a kiln set by hand is changed. Own choice."""


def stretched(programme: Programme, case: Case, *, spare_min: int, turns_min: int, own: bool) -> Programme:
    """The same programme with time to spare in its drying and peak holds, and a last hold long enough for flasks poured in turn.

    The user's own programme is only held longer at its end. Run and judged anew: what is printed is what was simulated.
    """
    if not spare_min and not turns_min:
        return programme
    legs = legs_as_typed(programme)
    legs = with_last(legs, spare_min) if own else with_spare(legs, case, spare_min)
    return built(with_last(legs, turns_min), case, frame_of(programme, case))


def slept(
    programme: Programme, case: Case, *, pour_at: datetime, sleeps: tuple[time, time], zone: tzinfo | None, judged: bool = True
) -> Programme:
    """The same programme for a kiln set by hand, with no set-point between bedtime and rising before a pour then (aware).

    As it was where no longer holds serve that: its settings in the night are then a finding. Not `judged`, only hours are right.
    """
    legs = legs_as_typed(programme)
    through = through_the_night(legs, nights_of(case, sleeps, zone), end_at=pour_at)
    if through is None:
        return programme
    return relegged(programme, case, through) if judged else unjudged(programme, case, through)


def unjudged(programme: Programme, case: Case, legs: tuple[Leg, ...]) -> Programme:
    """The programme with other legs and their settings, but not run: for a look whether its hours fit, in no time."""
    return replace(
        programme,
        segments=tuple(_segment(number, leg) for number, leg in enumerate(legs, start=1)),
        by_hand=set_points(legs, kiln=case.kiln, step_min=case.library.rule("by_hand_step_min"), reading=reading_of(case)),
        total_min=total_min(legs),
    )


def relegged(programme: Programme, case: Case, legs: tuple[Leg, ...]) -> Programme:
    """The programme with other legs, run and judged anew."""
    return programme if legs == legs_as_typed(programme) else built(legs, case, frame_of(programme, case))


def frame_of(programme: Programme, case: Case) -> Frame:
    """What a programme was judged by."""
    row = case.library.programme(programme.id)
    limits = limits_of(case, row_beside(case), own=proven_for(case, row))
    return Frame(
        row=row,
        name=programme.name,
        limits=limits,
        published_min=programme.published_min,
        published=programme.published,
        shortest_min=programme.shortest_min,
        soak_min=programme.soak_min,
    )


def timed(programme: Programme, pour_at: datetime, *, zone: tzinfo | None = None) -> tuple[TimedSegment, ...]:
    """The segments with their clock times, so that the last hold ends at `pour_at` (aware).

    Durations are elapsed time; each moment is shown on the zone's clock with the offset then in force; None is the machine's own.
    """
    clock = pour_at.astimezone(UTC) - timedelta(minutes=programme.total_min)
    out = []
    for segment in programme.segments:
        reached = clock + timedelta(minutes=segment.ramp_min)
        ends = reached + timedelta(minutes=segment.hold_min)
        out.append(
            TimedSegment(
                number=segment.number,
                ramp_c_per_h=segment.ramp_c_per_h,
                target_c=segment.target_c,
                hold_min=segment.hold_min,
                ramp_min=segment.ramp_min,
                why=segment.why,
                starts_at=_shown(clock, zone),
                reached_at=_shown(reached, zone),
                ends_at=_shown(ends, zone),
                ruled_by=segment.ruled_by,
            )
        )
        clock = ends
    return tuple(out)


def _segment(number: int, leg: Leg) -> Segment:
    falls = leg.target_c < leg.start_c
    return Segment(
        number=number,
        ramp_c_per_h=-leg.ramp_c_per_h if falls else leg.ramp_c_per_h,
        target_c=leg.target_c,
        hold_min=leg.hold_min,
        ramp_min=leg.ramp_min,
        why=leg.why,
        ruled_by=leg.ruled_by,
    )


def _shown(moment: datetime, zone: tzinfo | None) -> datetime:
    local = moment.astimezone(zone)
    return local.replace(tzinfo=timezone(local.utcoffset() or timedelta(0)))
