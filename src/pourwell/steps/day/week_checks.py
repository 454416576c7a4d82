"""Findings of several days."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from pourwell.findings import Code, Finding, Severity
from pourwell.steps.day.clock import changes
from pourwell.steps.day.night import OVERNIGHT
from pourwell.steps.day.week_model import Goal
from pourwell.steps.day.week_plan import PlannedLoad, PlannedRun

PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the checks of a week look at."""

    runs: tuple[PlannedRun, ...]
    loads: tuple[PlannedLoad, ...]
    goals: tuple[Goal, ...]
    assumed: tuple[str, ...]
    """What was assumed for this week, in words."""


def fires_overnight(facts: Facts) -> Iterator[Finding]:
    """A kiln that is on while nobody is awake, with its cautions."""
    loads = [load for load in facts.loads if load.overnight]
    if loads:
        when = "; ".join(f"{load.kiln}, {load.on_at:%a %H:%M} to {load.off_at:%a %H:%M}" for load in loads)
        yield Finding(
            code="week-overnight",
            severity=Severity.NOTE,
            where="day",
            says=f"Fires while nobody is awake: {when}.",
            do=OVERNIGHT + " To forbid it, write overnight_firing = false in studio.toml.",
            measure=f"{len(loads)} firing{'s' if len(loads) > 1 else ''}",
            source=PRACTICE,
        )


def bagged(facts: Facts) -> Iterator[Finding]:
    """A flask that stands longer than its investment allows."""
    for run in facts.runs:
        if run.bagged:
            yield Finding(
                code="week-bagged",
                severity=Severity.WARN,
                where=f"run {run.number}",
                says=f"This flask stands {run.stands_h:.1f} h between investing and kiln. Without a damp bag its kiln must "
                f"be on by {run.kiln_by_at:%H:%M on %A}; with it the kiln starts at {run.kiln_on_at:%H:%M on %A}.",
                do="Once set, wrap it in a damp cloth, then a closed bag, away from draughts; into the kiln straight from the bag. "
                "If its face looks dry and pale, let it drink a little water first.",
                measure=f"{run.stands_h:.1f} h",
                limit=f"{run.stand_max_h:g} h",
                source="the investment's row",
            )


def not_proven(facts: Facts) -> Iterator[Finding]:
    """A goal whose best was not proven."""
    for goal in facts.goals:
        if not goal.proven:
            gap = goal.value - goal.bound
            what = {"last_pour": "The last pour", "odd": "Work at odd hours", "bagged": "The count of bagged flasks"}[goal.key]
            by = "earlier" if goal.key == "last_pour" else "less"
            unit = " flasks" if goal.key == "bagged" else " min"
            yield Finding(
                code="week-not-proven",
                severity=Severity.NOTE,
                where="day",
                says=f"{what} may not be the best that can be had: by {gap:.0f}{unit} {by} at the most.",
                do="Take it as it is, or plan fewer runs at once.",
                measure=f"{gap:.0f}{unit}",
                source="the search's own bound",
            )


def clock_changed(facts: Facts) -> Iterator[Finding]:
    """The clocks are changed while a kiln is on."""
    for load in facts.loads:
        by = changes(load.on_at, load.off_at)
        if by:
            yield Finding(
                code="week-clock-change",
                severity=Severity.NOTE,
                where=load.kiln,
                says=f"The clocks go {'forward' if by > 0 else 'back'} by {abs(by)} min during this firing. All durations here are "
                "elapsed time.",
                do="Trust the hours of the programme, not the kiln room's wall clock.",
                measure=f"{by:+d} min",
                source="time zone data",
            )


def assumed(facts: Facts) -> Iterator[Finding]:
    """What was assumed, in one note."""
    if facts.assumed:
        yield Finding(
            code="week-assumed",
            severity=Severity.NOTE,
            where="studio",
            says="Assumed, because nothing says it: " + "; ".join(facts.assumed) + ".",
            do="Write it into studio.toml or into the week's file (docs/day.md).",
            source=PRACTICE,
        )


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (
    bagged,
    fires_overnight,
    not_proven,
    clock_changed,
    assumed,
)

CODES = (
    Code(
        code="week-bagged", severities=(Severity.WARN,), about="A flask of a week stands longer than its investment allows, bagged."
    ),
    Code(code="week-overnight", severities=(Severity.NOTE,), about="A kiln of a week is on while nobody is awake."),
    Code(code="week-not-proven", severities=(Severity.NOTE,), about="A goal of a week is not proven to be at its best."),
    Code(
        code="week-clock-change", severities=(Severity.NOTE,), about="The clocks are put forward or back during a firing of a week."
    ),
    Code(code="week-assumed", severities=(Severity.NOTE,), about="What the plan of a week assumed."),
)


def findings(facts: Facts) -> tuple[Finding, ...]:
    """All findings of a week."""
    return tuple(f for check in CHECKS for f in check(facts))
