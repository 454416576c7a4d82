"""Findings on the hours of a burnout: set while he sleeps, fired while nobody is awake, poured out of hours."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, time, timedelta
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
    better_by_min: int | None = None
    """With a pour so much later no setting falls into the night; None: no pour in working hours avoids it."""
    better_takes_min: int | None = None
    """From kiln on to that pour; None: as long as now."""
    wakes_at: datetime | None = None
    """The kiln goes on while he sleeps and has no delayed start: when he rises after that."""


def later_by_min(fits: Callable[[int], bool], *, pour_at: datetime, works: Callable[[datetime], bool]) -> int | None:
    """By how little later a pour must be to fit in working hours [min]; None if none within a day does."""
    tried = range(0, DAY_MIN, LATER_STEP_MIN)
    return next((by for by in tried if works(pour_at + timedelta(minutes=by)) and fits(by)), None)


LATER_STEP_MIN: Final = 15
"""In what steps a later course is looked for. Own choice."""
DAY_MIN: Final = 24 * 60
"""By definition."""


def set_awake(hours: Hours) -> Iterator[Finding]:
    """A kiln that would have to be set while he sleeps."""
    if hours.asleep:
        yield Finding(
            code="set-while-asleep",
            severity=Severity.STOP,
            where="burnout",
            says="The kiln is to be set while you sleep, at " + ", ".join(f"{m:%a %H:%M}" for m in hours.asleep) + ". Missed, the "
            "flask stays wet or is never burnt clean, and the kiln stands unwatched at the wrong level.",
            do=_awake(hours),
            measure=f"{len(hours.asleep)} of {len(hours.settings)} settings",
            limit=f"none from {hours.sleeps[0]:%H:%M} to {hours.sleeps[1]:%H:%M}",
            source=STUDIO,
        )


def _awake(hours: Hours) -> str:
    """What brings the settings out of the night."""
    other = "change the holds so that one lasts through the night, or use a kiln with a controller."
    if hours.better_by_min is None:
        return f"No pour in your working hours avoids it: {other}"
    now_min = round((hours.pours[0] - hours.on_at).total_seconds() / MINUTE_S)
    takes = takes_words(now_min if hours.better_takes_min is None else hours.better_takes_min, now_min)
    pour = f"{hours.pours[0] + timedelta(minutes=hours.better_by_min):%a at %H:%M}"
    return f"Pour on {pour}: then none falls into the night{takes}. Or {other}"


def takes_words(then_min: int, now_min: int) -> str:
    """How long a burnout takes for another pour, beside how long now [min]; empty where that is the same."""
    then, now = (f"{m // 60} h {m % 60:02d} min" for m in (then_min, now_min))
    return f" (the burnout then takes {then}, now {now})" if then_min != now_min else ""


MINUTE_S: Final = 60
"""By definition."""


def begun_awake(hours: Hours) -> Iterator[Finding]:
    """A kiln that would have to be switched on while he sleeps."""
    if hours.wakes_at is not None:
        pour_at = hours.pours[0] + (hours.wakes_at - hours.on_at)
        yield Finding(
            code="kiln-on-asleep",
            severity=Severity.WARN,
            where="burnout",
            says=f"The kiln is to go on at {hours.on_at:%H:%M on %A}, while you sleep, and it has no delayed start.",
            do=f"Pour on {pour_at:%a at %H:%M} or later: then it goes on at {hours.wakes_at:%H:%M}. If its controller can begin by "
            "itself, write delayed_start = true under [kiln] in studio.toml.",
            measure=f"{hours.on_at:%a %H:%M}",
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


CHECKS: tuple[Callable[[Hours], Iterator[Finding]], ...] = (set_awake, begun_awake, watched, poured_in_hours)

CODES = (
    Code(code="set-while-asleep", severities=(Severity.STOP,), about="A kiln set by hand would have to be set in the night."),
    Code(code="kiln-on-asleep", severities=(Severity.WARN,), about="A kiln without a delayed start goes on in the night."),
    Code(code="burnout-overnight", severities=(Severity.WARN, Severity.NOTE), about="The kiln of a burnout is on overnight."),
    Code(code="burnout-pour-late", severities=(Severity.NOTE,), about="A burnout ends out of working hours."),
)


def findings(hours: Hours) -> tuple[Finding, ...]:
    """All findings on the hours."""
    return tuple(f for check in CHECKS for f in check(hours))
