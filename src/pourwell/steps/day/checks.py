"""Findings of the day."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime

from pourwell.findings import Code, Finding, Severity
from pourwell.materials.studio import Studio
from pourwell.steps.day.clock import changes
from pourwell.steps.day.model import Entry
from pourwell.steps.day.plan import Hours, outside

PRACTICE = "common practice, no source"

ASSUMED = {
    "casting.way": "cast with {casting.way} assist",
    "melting.way": "melted by {melting.way}",
    "melting.crucible_cm3": "crucible not known, so the charge is not checked against it",
    "investing_vacuum": "bowl and flask under vacuum",
    "kiln.segments_count": "controller with {kiln.segments_count} segments",
    "kiln.fall_c_per_h": "kiln falls {kiln.fall_c_per_h:g} °C an hour with its door shut",
    "kiln.error_k": "its thermocouple right to {kiln.error_k:g} °C",
    "altitude_m": "sea level",
    "work_from": "hands-on hours {work_from:%H:%M} to {work_to:%H:%M}",
    "flasks": "common flask sizes",
}
"""What is assumed of a studio that does not say, in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the checks of the day look at."""

    entries: tuple[Entry, ...]
    hours: Hours
    studio: Studio
    base_assumed: bool
    calmer: datetime | None
    """The nearest pour that keeps everything inside the hours, if this one does not and one exists."""
    now: datetime


def hours_kept(facts: Facts) -> Iterator[Finding]:
    """A hands-on step outside the working hours."""
    late = list(outside(facts.entries, facts.hours))
    if late:
        when = "; ".join(f"{e.says} at {e.starts_at:%a %H:%M}" for e in late)
        better = "No pour within a day keeps all of it inside: make the hours longer, or take a helper."
        if facts.calmer:
            better = f"Pour at {facts.calmer:%H:%M on %A} instead, or change the hours in studio.toml."
        yield Finding(
            code="day-outside-hours",
            severity=Severity.WARN,
            where="day",
            says=f"{len(late)} hands-on step{'s fall' if len(late) > 1 else ' falls'} outside your hours: {when}.",
            do=better,
            measure=when,
            limit=f"{facts.hours.work_from:%H:%M} to {facts.hours.work_to:%H:%M}",
            source="the studio's hours" if facts.studio.is_given("work_from") else "assumed",
        )


def begun_late(facts: Facts) -> Iterator[Finding]:
    """The day would have had to begin before now."""
    late = [e for e in facts.entries if e.starts_at < facts.now]
    if late:
        yield Finding(
            code="day-begun",
            severity=Severity.WARN,
            where="day",
            says=f"{late[0].says} would have had to begin at {late[0].starts_at:%H:%M on %A}, which has passed.",
            do="Go on only if patterns and tree are ready; otherwise leave the pour time out, and take the earliest.",
            measure=f"{late[0].starts_at:%a %H:%M}",
            limit=f"now, {facts.now:%a %H:%M}",
            source="the clock",
        )


def clock_changed(facts: Facts) -> Iterator[Finding]:
    """The clocks are changed during the run."""
    by = changes(facts.entries[0].starts_at, facts.entries[-1].ends_at)
    if by:
        way = "forward" if by > 0 else "back"
        yield Finding(
            code="day-clock-change",
            severity=Severity.NOTE,
            where="day",
            says=f"The clocks go {way} by {abs(by)} min during this run. All durations here are elapsed time.",
            do="Trust the hours of the programme, not the kiln room's wall clock.",
            measure=f"{by:+d} min",
            source="time zone data",
        )


def studio_known(facts: Facts) -> Iterator[Finding]:
    """What was assumed about the studio, in one note."""
    said = facts.studio
    values = {name: getattr(said, name) for name in ("casting", "melting", "kiln", "work_from", "work_to")}
    missing = [words.format(**values) for name, words in ASSUMED.items() if not said.is_given(name)]
    if facts.base_assumed:
        missing.append("size of the rubber base and its dome")
    if missing:
        yield Finding(
            code="studio-assumed",
            severity=Severity.NOTE,
            where="studio",
            says="Assumed, because the studio's file does not say: " + "; ".join(missing) + ".",
            do="Write studio.toml once (docs/studio.md), and the plan fits your bench.",
            source=PRACTICE,
        )


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (begun_late, hours_kept, clock_changed, studio_known)

CODES = (
    Code(code="day-begun", severities=(Severity.WARN,), about="Patterns or tree would have had to be begun before now."),
    Code(code="day-outside-hours", severities=(Severity.WARN,), about="A hands-on step falls outside the working hours."),
    Code(code="day-clock-change", severities=(Severity.NOTE,), about="The clocks are put forward or back during the run."),
    Code(code="studio-assumed", severities=(Severity.NOTE,), about="What the plan assumed about the studio."),
)


def findings(facts: Facts) -> tuple[Finding, ...]:
    """All findings of the day."""
    return tuple(f for check in CHECKS for f in check(facts))
