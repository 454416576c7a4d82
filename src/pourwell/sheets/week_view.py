"""The days of a week as a reader's eye takes them: one strip a day, with the kilns' lines and the work on it."""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, time, timedelta, tzinfo
from typing import Final

from pourwell.steps.day.clock import at, minutes_between
from pourwell.steps.day.week_jobs import Job, work_of
from pourwell.steps.day.week_plan import PlannedLoad, WeekPlan

TOLD: Final = {
    "patterns": "patterns",
    "tree": "tree",
    "wrap": "invest",
    "invest": "invest",
    "strip": "into kiln",
    "setout": "melt, pour",
    "melt": "melt, pour",
    "pour": "melt, pour",
    "quench": "quench",
    "cut": "cut",
}
"""The lines in one word; those of one word that touch are one block."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """One day of the week, from midnight to midnight on the clock of the place."""

    starts_at: datetime
    ends_at: datetime

    @property
    def minutes(self) -> float:
        """Its length: longer or shorter where the clocks change."""
        return minutes_between(self.starts_at, self.ends_at)

    def minute(self, moment: datetime) -> float:
        """Elapsed minutes since its midnight."""
        return minutes_between(self.starts_at, moment)


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Work of one kind at one run without a break."""

    run: int
    word: str
    from_min: float
    to_min: float


def days_of(plan: WeekPlan, zone: tzinfo | None) -> list[Day]:
    """Every day from the first to the last on which something is done or a kiln is on."""
    moments = [m for run in plan.runs for e in run.timeline for m in (e.starts_at, e.ends_at)]
    moments += [m for load in plan.loads for m in (load.on_at, load.off_at)]
    first = min(moments, key=lambda m: m.timestamp()).astimezone(zone).date()
    last = max(moments, key=lambda m: m.timestamp()).astimezone(zone).date()
    midnights = [at(first + timedelta(days=n), time(0), zone=zone) for n in range((last - first).days + 2)]
    return [Day(starts_at=a, ends_at=b) for a, b in itertools.pairwise(midnights)]


def blocks(plan: WeekPlan, day: Day) -> list[Block]:
    """The hands-on work of a day, what touches and has one word as one block."""
    out: list[Block] = []
    for job in sorted((j for j in work_of(plan) if j.run is not None), key=lambda j: (j.run or 0, j.at.timestamp())):
        start, run = day.minute(job.at), job.run or 0
        if not 0 <= start < day.minutes:
            continue
        word, end = TOLD[job.key], start + job.minutes
        if out and out[-1].run == run and out[-1].word == word and abs(out[-1].to_min - start) < 1:
            out[-1] = Block(run=run, word=word, from_min=out[-1].from_min, to_min=end)
        else:
            out.append(Block(run=run, word=word, from_min=start, to_min=end))
    return sorted(out, key=lambda block: block.from_min)


def lines(load: PlannedLoad, day: Day) -> list[tuple[float, float]]:
    """The part of a kiln's line on one day: minutes since midnight, and degC; cut at the midnights."""
    points = [(day.minute(p.at), p.set_c) for p in load.curve]
    out: list[tuple[float, float]] = []
    for (t, c), (later, next_c) in itertools.pairwise(points):
        low, high = max(t, 0.0), min(later, day.minutes)
        if low < high:
            slope = (next_c - c) / (later - t)
            for m in (low, high):
                point = (m, c + slope * (m - t))
                if not out or out[-1] != point:
                    out.append(point)
    return out


def kiln_moments(plan: WeekPlan, day: Day) -> Iterator[tuple[float, str]]:
    """What happens at the kilns on a day: kiln on, each setting, each pour; minutes and a word."""
    for load in plan.loads:
        yield from ((day.minute(load.on_at), "on"),)
        yield from ((day.minute(s.at), f"{s.set_c:.0f}") for s in load.settings if s.at != load.on_at and not s.looks)
    for run in plan.runs:
        yield day.minute(run.pour_at), f"pour {run.number}"


def of_day(plan: WeekPlan, day: Day) -> list[tuple[float, str]]:
    """The moments at the kilns that fall on this day, in order."""
    return sorted((m, word) for m, word in kiln_moments(plan, day) if 0 <= m < day.minutes)


def jobs_by_day(plan: WeekPlan) -> list[tuple[datetime, list[Job]]]:
    """All work, by days."""
    out: list[tuple[datetime, list[Job]]] = []
    for job in work_of(plan):
        if not out or out[-1][0].date() != job.at.date():
            out.append((job.at, []))
        out[-1][1].append(job)
    return out


def shades(day: Day, hours: tuple[time, time] | None, zone: tzinfo | None) -> list[tuple[float, float]]:
    """What of a day lies outside the hours, as minutes; the hours may end after midnight; None: all of it lies outside."""
    if hours is None:
        return [(0.0, day.minutes)]
    date = day.starts_at.astimezone(zone).date()
    opens, closes = (day.minute(at(date, hour, zone=zone)) for hour in hours)
    if closes <= opens:
        return [(closes, opens)] if closes < opens else []
    return [(a, b) for a, b in ((0.0, opens), (closes, day.minutes)) if a < b]
