"""What is to be done in a week, by the clock: all hands-on work, each start, setting and last look of a kiln."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from pourwell.steps.day import mains
from pourwell.steps.day.night import OVERNIGHT
from pourwell.steps.day.week_plan import SET_IT, PlannedLoad, WeekPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Something to do, by the clock."""

    at: datetime
    minutes: int
    key: str
    says: str
    where: str
    """The run or the kiln, in words."""
    run: int | None = None
    why: str = ""
    """Of a setting of the kiln: what happens from then on; where it goes on for a night, and before bed, the cautions of that."""


def work_of(plan: WeekPlan) -> list[Job]:
    """All hands-on work of a week and all that is done at a kiln, in the order of time."""
    jobs = [
        Job(at=e.starts_at, minutes=e.hands_on_min, key=e.key, says=e.says, where=f"run {run.number}, {run.name}", run=run.number)
        for run in plan.runs
        for e in run.timeline
        if e.hands_on_min and e.moments is None
    ]
    for load in plan.loads:
        runs = ", ".join(map(str, load.runs))
        night = OVERNIGHT if load.overnight else ""
        where = f"{load.kiln}, run{'s' if len(load.runs) > 1 else ''} {runs}"
        if not load.programme.by_hand:
            jobs.append(Job(at=load.on_at, minutes=0, key="on", says="Kiln on: start the programme", where=where, why=night))
        jobs += _set_by_hand(load, where=where, night=night)
        jobs += _reached_into(plan, load, where=where)
    return sorted(jobs, key=lambda job: (job.at.timestamp(), job.minutes))


def _set_by_hand(load: PlannedLoad, *, where: str, night: str) -> Iterator[Job]:
    """Each setting and last look; the one that switches the kiln on says so, with the cautions of a start."""
    for point in load.settings:
        key, says, why = "set", point.says, point.why
        if point.looks:
            key, why = "look", night
        elif point.at == load.on_at:
            key, says = "on", says.replace(SET_IT, "Kiln on: set it to", 1)
            why = f"{why[0].upper()}{why[1:]}. {night}" if night else why
        yield Job(at=point.at, minutes=0, key=key, says=says, where=where, why=why)


def _reached_into(plan: WeekPlan, load: PlannedLoad, *, where: str) -> Iterator[Job]:
    """At each pour the kiln is off at the mains; for the flasks that stay it is set by hand to the next one's temperature."""
    runs = {run.number: run for run in plan.runs}
    off = f"{mains.OFF[0].upper()}{mains.OFF[1:]}"
    for number, following in pairwise((*load.runs, None)):
        says, why = f"{off}; it stays off: run {number} is the last", ""
        if following is not None:
            says, why = f"{off}; run {number} out, {mains.on_again(runs[following].flask_c)}", f"{mains.LOST}."
        yield Job(at=runs[number or 0].pour_at, minutes=0, key="mains", says=says, where=where, why=why)
