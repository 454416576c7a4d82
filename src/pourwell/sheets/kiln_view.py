"""The kiln page: its line, the segments as typed or the set-points by the clock, the hour of dryness with its band."""

import math
from datetime import datetime
from typing import Any, Final

from pourwell.plan import Plan
from pourwell.sheets.day_view import KILN_STEPS_H, Axis, clock_change
from pourwell.sheets.display import MINUS, Display, day, span
from pourwell.steps.burnout.hand import followed
from pourwell.steps.burnout.legs import legs_as_typed
from pourwell.steps.burnout.model import (
    BAG_WINS,
    KILN_WRONG,
    NOT_PUBLISHED,
    Programme,
    Reading,
    SetPoint,
    TimedSegment,
    published_word,
    ruled_words,
)
from pourwell.steps.burnout.telling import row_words
from pourwell.steps.day.clock import after, to_five
from pourwell.units import c_from_f, f_from_c, h_from_min

KEEP_ABOVE_C: Final = 300.0
"""A flask that has been hotter is not let below this and heated again: cristobalite jumps between 180 and 270 degC
(published range of its inversion), and bench schools say never below 250 to 300 degC."""
PASSES_C: Final = 400.0
"""The level that `Programme.passes_400_min` speaks of."""
NEVER_OVER_C: Final = 180.0
"""A mould that was nowhere hotter has not passed the inversion of cristobalite (180 to 270 degC, its published range)."""
CHART_STEP_C: Final = 100
CHART_STEP_F: Final = 200
CHART_ROOM_C: Final = 30.0
"""Over the ceiling, for its words."""
DIAL_STEP_F: Final = 5
"""What a kiln in Fahrenheit is set to on the way up."""


def kiln_view(plan: Plan, show: Display) -> dict[str, Any]:
    """All that the kiln page sets; x in elapsed hours from the start, y in degC."""
    programme, segments = plan.programme, plan.segments
    start, end = segments[0].starts_at, segments[-1].ends_at
    axis = Axis(starts_at=start, length_h=h_from_min(programme.total_min), zone=plan.studio.zone, steps=KILN_STEPS_H)
    reading_c = float(reading_of(plan).never_over_c)
    top_c = CHART_STEP_C * math.ceil(max(reading_c + CHART_ROOM_C, programme.peak_c) / CHART_STEP_C)
    typed = segments[: plan.studio.kiln.segments_count] if programme.by_hand else segments
    unit = show.temperature_unit
    return {
        "facts": _facts(plan, show, start=start, end=end),
        "hours": axis.length_h,
        "top": top_c,
        "levels": levels(top_c, show),
        "marks": axis.marks(show, minutes=True),
        "start_day": day(start),
        "line": _line(plan, axis),
        "core": _core(plan, axis),
        "numbers": [_number(s, axis) for s in segments],
        "ceiling": {
            "y": reading_c,
            "says": f"reading never above {show.at_most(reading_c)} {unit}",
            "why": _why_never(plan, show),
        },
        "dry": _dry(plan, axis, show=show),
        "computed": _computed(programme),
        "table": show.text(row_words(programme)),
        "ruled": _ruled_by_hand(plan, show) if programme.by_hand else "",
        "passes": _passes(plan, show),
        "end": {"value": show.temperature(segments[-1].target_c), "y": segments[-1].target_c, "clock": show.clock(end)},
        "typed": [_typed(s, plan, show) for s in typed],
        "by_hand": [_set_point(p, plan, show) for p in programme.by_hand],
        "unit": unit,
        "stops": _if_it_stops(show, by_hand=not typed),
        "change": clock_change(start, end),
        "programme": _named(plan),
        "kiln": plan.studio.kiln.name if plan.studio.kilns else "",
        "bag": BAG_WINS,
        "load": kiln_load_words(plan, show),
    }


def kiln_load_words(plan: Plan, show: Display) -> list[str]:
    """Who shares the kiln and when this flask comes out; why the last hold is longer than the programme's own."""
    load, out = plan.kiln_load, []
    others = [str(number) for number in load.runs if number != plan.number]
    if others:
        after_it = "" if load.runs[-1] == plan.number else "; those after it stay in"
        out.append(
            f"One programme for runs {', '.join(map(str, load.runs))}: all go in together. This flask, run {plan.number}, comes "
            f"out at {show.clock(load.comes_out_at)}{after_it or ', the last'}. The last hold is longer by "
            f"{span(load.longer_for_turns_min)} so that they are poured in turn."
        )
    if load.longer_for_hours_min:
        out.append(
            f"The holds are longer by {span(load.longer_for_hours_min)} in all so that the work at hand falls in your hours."
        )
    return out


def reading_of(plan: Plan) -> Reading:
    """What the kiln's own thermocouple may show: what is warned of, and what is lost, less its error and the hot spot."""
    return plan.programme.reading(plan.studio.kiln.unseen_k)


def _why_never(plan: Plan, show: Display) -> str:
    """The limit behind the highest reading, and the reading at which the kiln goes off."""
    programme, kiln, unit = plan.programme, plan.studio.kiln, show.temperature_unit
    spot = " and hot spot" if kiln.hot_spot_k else ""
    off = show.at_most(reading_of(plan).off_c)
    return (
        f"{show.temperature(programme.warn_c)} {unit} less thermocouple error{spot}, {show.difference(kiln.unseen_k)} {unit}; "
        f"at {off} {unit} switch off: the run is lost"
    )


def _named(plan: Plan) -> str:
    """The programme's name, with what stands behind it where its table is weak, and a peak lowered for the kiln."""
    word = NOT_PUBLISHED.get(plan.programme.grade)
    behind = f" ({word})" if word else ""
    lowered = f"; its peak is lowered by {KILN_WRONG}" if plan.programme.lowered_to_c is not None else ""
    return f"{plan.programme.name}{behind}{lowered}"


def _facts(plan: Plan, show: Display, *, start: datetime, end: datetime) -> list[tuple[str, str, str, str]]:
    programme = plan.programme
    low, high = programme.energy_low_kwh, programme.energy_high_kwh
    return [
        ("Kiln on", *_clock(start, show), day(start)),
        ("End", *_clock(end, show), day(end)),
        ("Length", span(programme.total_min), "h:min", _over_published(programme)),
        (
            "Peak",
            show.temperature(programme.peak_c),
            show.temperature_unit,
            f"reading never above {show.at_most(reading_of(plan).never_over_c)}",
        ),
        ("Energy", f"{programme.energy_kwh:.0f}", "kWh", f"{low:.0f} to {high:.0f}" if round(low) < round(high) else "about"),
    ]


def _over_published(programme: Programme) -> str:
    """The margin over the published programme."""
    if not programme.published_min:
        return ""
    over = programme.total_min - programme.published_min
    if not over:
        word = published_word(programme.published_grade)
        return "as published" if word == "published" else f"as its table, {word}"
    word = published_word(programme.published_grade)
    return f"{word} {span(programme.published_min)}, {span(abs(over))} {'longer' if over > 0 else 'SHORTER'}"


def _clock(moment: datetime, show: Display) -> tuple[str, str]:
    clock, _, half = show.clock(moment).partition(" ")
    return clock, half


def levels(top_c: float, show: Display) -> list[dict[str, Any]]:
    """The rules of the chart, at full hundreds of the reader's degrees."""
    if not show.fahrenheit:
        return [{"y": c, "label": str(c)} for c in range(0, round(top_c) + 1, CHART_STEP_C)]
    top_f = int(f_from_c(top_c))
    return [{"y": round(c_from_f(f), 2), "label": str(f)} for f in range(CHART_STEP_F, top_f + 1, CHART_STEP_F)]


def _line(plan: Plan, axis: Axis) -> list[list[float]]:
    """The kiln as it goes: the typed segments, or by the settings as it follows them."""
    programme = plan.programme
    if programme.by_hand:
        corners = followed(legs_as_typed(programme), programme.by_hand, plan.studio.kiln)
        return [[round(min(h_from_min(t), axis.length_h), 4), round(c, 1)] for t, c in corners]
    points = [[0.0, programme.start_c]]
    for segment in plan.segments:
        points.append([axis.at(segment.reached_at), segment.target_c])
        if segment.hold_min:
            points.append([axis.at(segment.ends_at), segment.target_c])
    return points


def _core(plan: Plan, axis: Axis) -> list[list[float]]:
    """The computed core, as is likely; empty where it was not computed."""
    inside = plan.programme.inside
    if inside is None:
        return []
    curves = inside.curves
    return [[min(h_from_min(t), axis.length_h), c] for t, c in zip(curves.times_min, curves.core_c, strict=True)]


def _computed(programme: Programme) -> str:
    """What core and dryness rest on, the least that drying can take, and the shortest that the limits would let it be."""
    measured = programme.inside.measured if programme.inside else ()
    how = f"computed from what you measured ({'; '.join(measured)})" if measured else "computed, not measured"
    least = programme.least_drying_min
    floor = f" By heat and steam alone drying takes {span(math.ceil(least))} at the least." if least else ""
    shortest = programme.shortest_min
    short = f" Shortest found that keeps the limits, were all as is likely: about {span(shortest)}, no advice." if shortest else ""
    return f"Core and dryness are {how}: an upper estimate.{floor}{short}"


def _number(segment: TimedSegment, axis: Axis) -> dict[str, Any]:
    """Where a segment's number stands: over the middle of its hold, or beside its end when it has none."""
    return {
        "n": str(segment.number),
        "x": (axis.at(segment.reached_at) + axis.at(segment.ends_at)) / 2,
        "y": segment.target_c,
        "hold": segment.hold_min > 0,
    }


def _dry(plan: Plan, axis: Axis, *, show: Display) -> dict[str, Any]:
    """The computed hour of dryness, with its band; what lies behind the end is said in words."""
    programme = plan.programme

    def clock(minutes: float) -> str:
        return show.clock(after(axis.starts_at, minutes, zone=axis.zone))

    end = programme.total_min
    early, middle, late = programme.core_dry_early_min, programme.core_dry_min, programme.core_dry_late_min
    if late <= end:
        words = ("core dry about ", clock(middle), f", {clock(early)} to {clock(late)}")
    elif middle <= end:
        words = ("core dry about ", clock(middle), f", {clock(early)} at the earliest, not surely before the end")
    elif early <= end:
        words = ("core hardly dry before the end, ", clock(early), " at the earliest")
    else:
        words = ("", "core not dry before the end", "")
    return {
        "from": min(h_from_min(early), axis.length_h),
        "at": h_from_min(middle) if middle <= end else None,
        "to": min(h_from_min(late), axis.length_h),
        "words": words,
    }


def _passes(plan: Plan, show: Display) -> dict[str, Any] | None:
    """Where the kiln passes 400 degC, by when the core should be dry."""
    minutes = plan.programme.passes_400_min
    if not math.isfinite(minutes):
        return None
    clock = show.clock(after(plan.kiln_on_at, minutes, zone=plan.studio.zone))
    level = f"{show.temperature(PASSES_C)} {show.temperature_unit}"
    return {"x": h_from_min(minutes), "y": PASSES_C, "says": f"passes {level} at {clock}"}


def _typed(segment: TimedSegment, plan: Plan, show: Display) -> dict[str, str]:
    ramp = show.difference(abs(segment.ramp_c_per_h))
    return {
        "no": str(segment.number),
        "ramp": MINUS + ramp if segment.ramp_c_per_h < 0 else ramp,
        "ramp_time": span(segment.ramp_min),
        "target": show.temperature(segment.target_c),
        "hold": span(segment.hold_min),
        "hold_min": f"{segment.hold_min} min",
        "ends": show.clock(segment.ends_at),
        "why": show.text(segment.why),
        "ruled_by": ruled_words(
            segment.ruled_by,
            grade=plan.programme.published_grade,
            target_c=segment.target_c,
            lowered_to_c=plan.programme.lowered_to_c,
        ),
    }


def _ruled_by_hand(plan: Plan, show: Display) -> str:
    """What rules each level that is set by hand: the settings themselves have no room for it."""
    programme = plan.programme
    told = (
        f"{show.temperature(s.target_c)}: "
        + ruled_words(s.ruled_by, grade=programme.published_grade, target_c=s.target_c, lowered_to_c=programme.lowered_to_c)
        for s in plan.segments[plan.studio.kiln.segments_count :]
        if s.ruled_by
    )
    words = "; ".join(told)
    return f"Holds ruled by, at {show.temperature_unit}: {words}." if words else ""


def _set_point(point: SetPoint, plan: Plan, show: Display) -> dict[str, str]:
    moment = to_five(after(plan.kiln_on_at, point.at_min, zone=plan.studio.zone), first=not point.at_min)
    return {
        "clock": show.clock(moment),
        "day": day(moment),
        "since": span(point.at_min),
        "set": _dialled(point.set_c, plan, show),
        "shows": "" if point.seen_c is None else show.temperature(point.seen_c),
        "why": show.text(point.why),
    }


def _dialled(c: float, plan: Plan, show: Display) -> str:
    """A set-point; on the way to a level in full steps of the reader's degrees, downward."""
    if not show.fahrenheit or c in {s.target_c for s in plan.segments}:
        return show.temperature(c)
    return str(math.floor(round(f_from_c(c) / DIAL_STEP_F, 6)) * DIAL_STEP_F)


def _if_it_stops(show: Display, *, by_hand: bool) -> list[str]:
    begin = "the first set-point" if by_hand else "segment 1"
    begun_again = "" if by_hand else ", by hand if the programme began again"
    keep = f"{show.temperature(KEEP_ABOVE_C)} {show.temperature_unit}"
    safe = f"{show.temperature(NEVER_OVER_C)} {show.temperature_unit}"
    return [
        f"Still above {keep} when the power comes back: go on where it stopped{begun_again}, and pour later by as much.",
        f"Once hotter, then fallen below {keep}: never heat it again, the mould cracks and lets metal out. The run is lost.",
        f"Never yet above {safe}: let it stand with the door shut, then begin again with {begin}.",
        f"Highest between {safe} and {keep}, and fallen since: in doubt, the mould may be cracked unseen. Do not pour.",
    ]
