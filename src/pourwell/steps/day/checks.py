"""Findings of the day."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from pourwell.findings import Code, Finding, Severity
from pourwell.materials.studio import Studio
from pourwell.steps.burnout import hour_checks
from pourwell.steps.day.clock import after, changes, minutes_between
from pourwell.steps.day.model import Entry, Hours
from pourwell.steps.day.night import fires_overnight
from pourwell.steps.day.plan import Found, outside, settings_outside

MINUTES_AN_HOUR = 60
PRACTICE = "common practice, no source"

ASSUMED = {
    "casting.way": "cast with {casting.way} assist",
    "melting.way": "melted by {melting.way}",
    "melting.crucible_cm3": "crucible not known, so the charge is not checked against it",
    "investing_vacuum": "bowl and flask under vacuum",
    "kiln.segments_count": "controller with {kiln.segments_count} segments",
    "kiln.fall_c_per_h": "kiln falls {{k:{kiln.fall_c_per_h:g}}} an hour with its door shut",
    "kiln.error_k": "its thermocouple right to {{k:{kiln.error_k:g}}}",
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
    calmer: Found | None
    """The nearest pour that keeps everything inside the hours, if the one asked for does not and one exists."""
    now: datetime
    stand_max_h: float = math.inf
    """How long the investment may stand between set and kiln."""
    takes: Callable[[int], int | None] | None = None
    """How long the burnout takes before a pour so much later [min] with no setting in the night, None where there is none, where
    holds may grow; itself None: they may not."""


def stands_briefly(facts: Facts) -> Iterator[Finding]:
    """A flask that waits too long for its turn between set and kiln."""
    for entry in facts.entries:
        stands_h = minutes_between(entry.starts_at, entry.ends_at) / MINUTES_AN_HOUR
        if entry.key == "set" and stands_h > facts.stand_max_h:
            yield Finding(
                code="stands-long",
                severity=Severity.WARN,
                where="day",
                says=f"This flask stands {stands_h:.1f} h before the kiln, while the others of the load are invested: a mould that "
                "dries out cracks.",
                do="Wrap it in a damp cloth and a bag until its turn, or invest fewer flasks for one kiln load.",
                measure=f"{stands_h:.1f} h",
                limit=f"{facts.stand_max_h:g} h",
                source="the investment's row",
            )


def hours_kept(facts: Facts) -> Iterator[Finding]:
    """A hands-on step outside the working hours."""
    late = list(outside(facts.entries, facts.hours))
    if not late:
        return
    when = "; ".join(f"{e.says} at {e.starts_at:%a %H:%M}" for e in late)
    yield Finding(
        code="day-outside-hours",
        severity=Severity.WARN,
        where="day",
        says=f"{len(late)} hands-on step{'s fall' if len(late) > 1 else ' falls'} outside your hours: {when}.",
        do=_better(facts),
        measure=f"{len(late)} outside",
        limit=f"{facts.hours.work_from:%H:%M} to {facts.hours.work_to:%H:%M}",
        source="the studio's hours" if facts.studio.is_given("work_from") else "assumed",
    )


def _better(facts: Facts) -> str:
    """What brings the steps inside the hours."""
    if facts.calmer is None:
        return "No pour within a day keeps all of it inside, nor does a longer last hold: make the hours longer, or take a helper."
    at = f"{facts.calmer.pour_at:%H:%M on %A}"
    if not facts.calmer.longer_min:
        return f"Pour at {at} instead{_takes(facts)}, or change the hours in studio.toml."
    return (
        f"With holds {span_words(facts.calmer.longer_min)} longer, a pour at {at} keeps all inside: leave the "
        "pour time out, and the plan looks for such a pour."
    )


def _takes(facts: Facts) -> str:
    """How long the burnout before that pour takes, where that is another time than now: its holds are fitted to the nights anew."""
    lines = {entry.key: entry for entry in facts.entries}
    if facts.calmer is None or facts.calmer.burnout_min is None or not {"kiln", "pour"} <= lines.keys():
        return ""
    now_min = round(minutes_between(lines["kiln"].starts_at, lines["pour"].starts_at))
    return hour_checks.takes_words(facts.calmer.burnout_min, now_min)


def span_words(minutes: int) -> str:
    """So many hours and minutes in words, such as 2 h 30 min."""
    hours, rest = divmod(minutes, MINUTES_AN_HOUR)
    return " ".join(part for part in (f"{hours} h" if hours else "", f"{rest} min" if rest else "") if part)


def set_awake(facts: Facts) -> Iterator[Finding]:
    """A kiln that would have to be set by hand while everybody sleeps: the same as of a burnout by itself."""
    late = tuple(settings_outside(facts.entries, facts.hours, awake=facts.studio.awake))
    if not late:
        return
    lines, (rises, sleeps) = {entry.key: entry for entry in facts.entries}, facts.studio.awake
    settings = lines["kiln"].moments or ()

    def fits(by_min: int) -> bool:
        if facts.takes:
            return facts.takes(by_min) is not None
        later = replace(lines["kiln"], moments=tuple(after(m, by_min, zone=facts.hours.zone) for m in settings))
        return not any(True for _ in settings_outside((later,), facts.hours, awake=facts.studio.awake))

    def works(moment: datetime) -> bool:
        return not any(True for _ in outside((replace(lines["pour"], starts_at=moment),), facts.hours))

    by_min = hour_checks.later_by_min(fits, pour_at=lines["pour"].starts_at, works=works)
    yield from hour_checks.set_awake(
        hour_checks.Hours(
            on_at=lines["kiln"].starts_at,
            off_at=lines["pour"].starts_at,
            settings=settings,
            pours=(lines["pour"].starts_at,),
            sleeps=(sleeps, rises),
            asleep=late,
            outside=(),
            works=(facts.hours.work_from, facts.hours.work_to),
            overnight=True,
            allowed=facts.studio.overnight_firing,
            cautions="",
            better_by_min=by_min,
            better_takes_min=facts.takes(by_min) if facts.takes and by_min is not None else None,
        )
    )


def night_kept(facts: Facts) -> Iterator[Finding]:
    """A kiln that is on while nobody is awake, where the studio forbids it."""
    lines = {entry.key: entry for entry in facts.entries}
    if facts.studio.overnight_firing or "kiln" not in lines:
        return
    on_at, off_at = lines["kiln"].starts_at, lines["pour"].starts_at
    awake = facts.studio.awake
    if fires_overnight(on_at, off_at, awake=awake, zone=facts.hours.zone):
        yield Finding(
            code="fires-overnight",
            severity=Severity.WARN,
            where="day",
            says=f"The kiln is on from {on_at:%a %H:%M} to {off_at:%a %H:%M}, and your studio.toml forbids firing overnight.",
            do="Ask `pourwell day` what to give up, or fire it on a day when somebody stays awake.",
            measure=f"{on_at:%a %H:%M} to {off_at:%a %H:%M}",
            limit=f"{awake[0]:%H:%M} to {awake[1]:%H:%M}",
            source="the studio's file",
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


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (
    begun_late,
    hours_kept,
    set_awake,
    night_kept,
    stands_briefly,
    clock_changed,
    studio_known,
)

CODES = (
    Code(code="day-begun", severities=(Severity.WARN,), about="Patterns or tree would have had to be begun before now."),
    Code(
        code="day-outside-hours",
        severities=(Severity.WARN,),
        about="A hands-on step falls outside the working hours.",
    ),
    Code(
        code="fires-overnight",
        severities=(Severity.WARN,),
        about="The kiln is on while nobody is awake, and the studio forbids it.",
    ),
    Code(code="stands-long", severities=(Severity.WARN,), about="A flask waits too long between set and kiln."),
    Code(code="day-clock-change", severities=(Severity.NOTE,), about="The clocks are put forward or back during the run."),
    Code(code="studio-assumed", severities=(Severity.NOTE,), about="What the plan assumed about the studio."),
)


def findings(facts: Facts) -> tuple[Finding, ...]:
    """All findings of the day."""
    return tuple(f for check in CHECKS for f in check(facts))
