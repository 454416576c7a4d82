"""Findings on the hours of a burnout: set while he sleeps, fired while nobody is awake, poured out of hours."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, time
from typing import Final

from pourwell.findings import Code, Finding, Severity

PRACTICE: Final = "common practice, no source"
STUDIO: Final = "the studio's file"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """When the kiln is on and when somebody must be there."""

    on_at: datetime
    off_at: datetime
    settings: tuple[datetime, ...]
    pours: tuple[datetime, ...]
    sleeps: tuple[time, time]
    asleep: tuple[datetime, ...]
    """Settings that fall into the night."""
    outside: tuple[datetime, ...]
    """Pours out of working hours."""
    works: tuple[time, time]
    overnight: bool
    """Is it on while nobody is awake."""
    allowed: bool
    """May it be, by the studio's file."""
    cautions: str


def set_awake(hours: Hours) -> Iterator[Finding]:
    """A kiln that would have to be set while he sleeps."""
    if hours.asleep:
        yield Finding(
            code="set-while-asleep",
            severity=Severity.STOP,
            where="burnout",
            says="The kiln is to be set while you sleep, at " + ", ".join(f"{m:%a %H:%M}" for m in hours.asleep) + ". Missed, the "
            "flask stays wet or is never burnt clean, and the kiln stands unwatched at the wrong level.",
            do="Pour at another hour, or change the holds so that one lasts through the night; or use a kiln with a controller.",
            measure=f"{len(hours.asleep)} of {len(hours.settings)} settings",
            limit=f"none from {hours.sleeps[0]:%H:%M} to {hours.sleeps[1]:%H:%M}",
            source=STUDIO,
        )


def watched(hours: Hours) -> Iterator[Finding]:
    """A kiln that is on while nobody is awake, with its cautions; a warning where the studio forbids it."""
    if hours.overnight:
        forbids = "" if hours.allowed else " Your studio.toml forbids firing overnight."
        yield Finding(
            code="burnout-overnight",
            severity=Severity.NOTE if hours.allowed else Severity.WARN,
            where="burnout",
            says=f"The kiln is on from {hours.on_at:%a %H:%M} to {hours.off_at:%a %H:%M}, while nobody is awake.{forbids}",
            do=hours.cautions
            + (" To forbid it, write overnight_firing = false in studio.toml." if hours.allowed else " Or fire it by day."),
            measure=f"{hours.on_at:%a %H:%M} to {hours.off_at:%a %H:%M}",
            source=PRACTICE if hours.allowed else STUDIO,
        )


def poured_in_hours(hours: Hours) -> Iterator[Finding]:
    """A pour when nobody works."""
    if hours.outside:
        yield Finding(
            code="burnout-pour-late",
            severity=Severity.NOTE,
            where="burnout",
            says="Poured out of working hours: " + ", ".join(f"{m:%a %H:%M}" for m in hours.outside) + ".",
            do="Give --ready with an hour at which you work; with --start too, the time between goes into drying and carbon.",
            measure=f"{len(hours.outside)} of {len(hours.pours)} pours",
            limit=f"{hours.works[0]:%H:%M} to {hours.works[1]:%H:%M}",
            source=STUDIO,
        )


CHECKS: tuple[Callable[[Hours], Iterator[Finding]], ...] = (set_awake, watched, poured_in_hours)

CODES = (
    Code(code="set-while-asleep", severities=(Severity.STOP,), about="A kiln set by hand would have to be set in the night."),
    Code(code="burnout-overnight", severities=(Severity.WARN, Severity.NOTE), about="The kiln of a burnout is on overnight."),
    Code(code="burnout-pour-late", severities=(Severity.NOTE,), about="A burnout ends out of working hours."),
)


def findings(hours: Hours) -> tuple[Finding, ...]:
    """All findings on the hours."""
    return tuple(f for check in CHECKS for f in check(hours))
