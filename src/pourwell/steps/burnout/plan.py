"""The burnout: which programme, for this flask and kiln, and its clock times."""

from datetime import UTC, datetime, timedelta, timezone, tzinfo
from typing import Final

from pourwell.materials.library import Library
from pourwell.materials.model import Investment, PatternMaterial
from pourwell.materials.model import Programme as Row
from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.dryness import dried, dry_min, inputs, passes_min
from pourwell.steps.burnout.energy import energy_kwh
from pourwell.steps.burnout.hand import set_points
from pourwell.steps.burnout.legs import Case, Leg, ceilings, legs_of
from pourwell.steps.burnout.model import Programme, Segment, TimedSegment
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


def programme(
    investment: Investment,
    *,
    pattern_material: PatternMaterial,
    flask: Flask,
    flask_c: float,
    kiln: Kiln,
    stones: bool,
    own: str | None,
    library: Library,
) -> Programme:
    """The burnout of one flask, ending at the flask temperature.

    A shipped programme is held within the limits of ramp and level, and its drying hold grows until the core is dry; the user's
    `own` (the maker's schedule) is taken as it stands. Raises UnknownNameError for an own programme that does not exist.
    """
    row = row_for(investment, pattern_material=pattern_material, stones=stones, own=own, library=library)
    case = Case(investment=investment, flask=flask, flask_c=flask_c, kiln=kiln, library=library, stones=stones)
    legs = legs_of(row, case, own=own is not None)
    if own is None:
        legs = dried(legs, case)
    band = inputs(case)
    low_kwh, kwh, high_kwh = energy_kwh(legs, case)
    return Programme(
        id=row.id,
        name=row.name,
        grade=row.grade.value,
        segments=tuple(_segment(number, leg) for number, leg in enumerate(legs, start=1)),
        by_hand=set_points(legs, controller_takes=kiln.segments_count, step_min=library.rule("by_hand_step_min")),
        total_min=sum(leg.minutes for leg in legs),
        start_c=legs[0].start_c,
        peak_c=max(leg.target_c for leg in legs),
        ceiling_c=ceilings(case)[0 if stones else 1],
        energy_kwh=kwh,
        energy_low_kwh=low_kwh,
        energy_high_kwh=high_kwh,
        core_dry_min=dry_min(legs, band.likely),
        core_dry_early_min=dry_min(legs, band.early),
        core_dry_late_min=dry_min(legs, band.late),
        passes_400_min=passes_min(legs, library.rule("dry_before_c")),
        stones=stones,
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
    )


def _shown(moment: datetime, zone: tzinfo | None) -> datetime:
    local = moment.astimezone(zone)
    return local.replace(tzinfo=timezone(local.utcoffset() or timedelta(0)))
