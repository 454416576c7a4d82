"""The sheet of a week: the picture of its days, what to do by the clock, and what each kiln is told."""

import json
import tempfile
from collections.abc import Iterator
from datetime import tzinfo
from pathlib import Path
from typing import Any, Final

import typst

from pourwell.findings import in_order
from pourwell.sheets import fonts
from pourwell.sheets.display import MINUS, Display, Shown, as_display, day, span
from pourwell.sheets.paper import Paper
from pourwell.sheets.run_sheet import TEMPLATES
from pourwell.sheets.week_picture import week_picture
from pourwell.sheets.week_view import days_of, jobs_by_day
from pourwell.steps.burnout.model import BAG_WINS, Segment, ruled_words
from pourwell.steps.day import mains
from pourwell.steps.day.week_fired import as_typed
from pourwell.steps.day.week_plan import PlannedLoad, WeekPlan

STRIPS_A_PAGE: Final = 3
"""So many days on a page, so that their words stay legible."""


def week_sheet(plan: WeekPlan, *, zone: tzinfo | None, paper: Paper = "a4", display: Shown | Display = "metric") -> bytes:
    """The week as a PDF; the same week gives the same bytes."""
    text = json.dumps(week_page(plan, zone=zone, paper=paper, show=as_display(display)), ensure_ascii=False)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        fonts.gather(folder)
        return typst.compile(
            TEMPLATES / "week.typ",
            root=TEMPLATES,
            format="pdf",
            font_paths=fonts.load(folder, machine=bool(fonts.beyond_family(text))),
            sys_inputs={"view": text},
            timestamp=int(plan.made_at.timestamp()),
        )


def week_page(plan: WeekPlan, *, zone: tzinfo | None, paper: Paper, show: Display) -> dict[str, Any]:
    """Everything the template sets, as text."""
    days = days_of(plan, zone)
    parts = [days[k : k + STRIPS_A_PAGE] for k in range(0, len(days), STRIPS_A_PAGE)]
    return {
        "paper": paper,
        "title": plan.title,
        "studio": plan.studio,
        "made": f"placed {day(plan.made_at)} {plan.made_at.year}, {show.clock(plan.made_at)}",
        "goals": list(goals(plan, show)),
        "pictures": [week_picture(plan, zone=zone, days=part, titled=False).svg.decode() for part in parts],
        "runs": [
            {
                "number": str(run.number),
                "name": run.name,
                "alloy": run.alloy_name,
                "flask": run.mark or run.flask,
                "pour": f"{day(run.pour_at)} {show.clock(run.pour_at)}",
                "flask_t": f"{show.temperature(run.flask_c)} {show.temperature_unit}",
                "metal_t": f"{show.temperature(run.metal_c)} {show.temperature_unit}",
                "kiln": run.kiln,
            }
            for run in sorted(plan.runs, key=lambda run: run.pour_at.timestamp())
        ],
        "days": [
            {
                "day": day(moment),
                "jobs": [
                    {
                        "clock": show.clock(job.at),
                        "long": span(job.minutes) if job.minutes else "",
                        "says": show.text(job.says),
                        "where": job.where,
                    }
                    for job in jobs
                ],
            }
            for moment, jobs in jobs_by_day(plan)
        ],
        "loads": [_load(load, show, anew=as_typed(load, plan.loads)) for load in plan.loads],
        "findings": [
            {"severity": f.severity.value, "says": show.text(f.says), "do": show.text(f.do)} for f in in_order(plan.findings)
        ],
        "unit": show.temperature_unit,
        "bag": BAG_WINS,
        "mains": f"Whenever somebody reaches in, {mains.OFF}. {mains.LOST}: for flasks that stay set it by hand.",
    }


def goals(plan: WeekPlan, show: Display) -> Iterator[str]:
    """The goals in their order, with what came out and how sure that is."""
    for goal in plan.goals:
        sure = "proven: no less can be had" if goal.proven else f"not proven: {goal.bound:.0f} may be had"
        if goal.key == "last_pour":
            none = "proven: none sooner fits" if plan.tried_apart_min is None else "the soonest of those tried"
            sure = none if goal.proven else f"up to {goal.value - goal.bound:.0f} min sooner may fit"
            yield f"Last pour {day(plan.last_pour_at)}, {show.clock(plan.last_pour_at)} ({sure})."
        elif goal.key == "odd":
            yield f"Work outside the comfortable hours {span(goal.value)} ({sure})."
        else:
            yield f"Flasks bagged damp: {goal.value:.0f} ({sure})."


def _load(load: PlannedLoad, show: Display, *, anew: str) -> dict[str, Any]:
    """A firing with what is typed, and what is set by hand."""
    return {
        "kiln": load.kiln,
        "runs": ", ".join(map(str, load.runs)),
        "on": f"{day(load.on_at)} {show.clock(load.on_at)}",
        "off": f"{day(load.off_at)} {show.clock(load.off_at)}",
        "free": f"{day(load.free_at)} {show.clock(load.free_at)}",
        "number": str(load.number),
        "programme": "; ".join(words for words in (load.programme.name, anew) if words),
        "longer": span(load.longer_min) if load.longer_min > 0 else "",
        "overnight": load.overnight,
        "typed": how_typed(load),
        "segments": [_typed(segment, load, show) for segment in load.programme.segments],
        "settings": [
            {
                "clock": show.clock(s.at),
                "day": day(s.at),
                "set": show.temperature(s.set_c),
                "why": show.text(s.why),
                "shows": "" if s.seen_c is None else show.temperature(s.seen_c),
            }
            for s in load.settings
        ],
    }


def how_typed(load: PlannedLoad) -> str:
    """What is done with the segments: a kiln that is set by hand takes none of them."""
    if not load.settings:
        return "Type into the controller"
    by_hand = load.settings[0].at == load.on_at
    return "What the settings below come to; nothing is typed" if by_hand else "Type as far as the controller takes it"


def _typed(segment: Segment, load: PlannedLoad, show: Display) -> dict[str, str]:
    programme = load.programme
    ramp = show.difference(abs(segment.ramp_c_per_h))
    return {
        "no": str(segment.number),
        "ramp": MINUS + ramp if segment.ramp_c_per_h < 0 else ramp,
        "target": show.temperature(segment.target_c),
        "hold": span(segment.hold_min),
        "why": show.text(segment.why),
        "ruled_by": ruled_words(
            segment.ruled_by,
            grade=programme.published_grade,
            target_c=segment.target_c,
            lowered_to_c=programme.lowered_to_c,
        ),
    }
