"""The run sheet: a plan becomes a view (strings, made here), the view is set by a template (places, never quantities)."""

import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import typst

from pourwell.plan import Plan
from pourwell.sheets import fonts
from pourwell.sheets.bench_view import checklist_view, results_view
from pourwell.sheets.day_view import day_view
from pourwell.sheets.display import Display, Shown, as_display, day, localised
from pourwell.sheets.freeze_view import freeze_view, poured_of
from pourwell.sheets.front_view import assumed, counts, figures, findings_view, flask_words, headed, leaned, run_facts
from pourwell.sheets.kiln_view import kiln_view
from pourwell.sheets.paper import Paper
from pourwell.sheets.pattern_view import NONE, CloseUps, Picture, patterns_view
from pourwell.sheets.tree_view import tree_view
from pourwell.sheets.weight_view import weight_view
from pourwell.steps.day.night import IN_A_LINE
from pourwell.steps.flask.model import who_wins

TEMPLATES = Path(__file__).parent
"""Folder of `main.typ` and what it imports."""


def run_sheet(
    plan: Plan,
    *,
    paper: Paper = "a4",
    display: Shown | Display = "metric",
    pictures: Mapping[str, Picture],
    close_ups: CloseUps = NONE,
) -> bytes:
    """The printed plan as a PDF; the same plan gives the same bytes.

    `pictures` holds a picture for each kind of piece by its id, a piece without one is told in words; `close_ups` what was found
    on it, each at its place.
    """
    text = json.dumps(view(plan, paper=paper, display=display, pictures=pictures, close_ups=close_ups), ensure_ascii=False)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        fonts.gather(folder)
        return typst.compile(
            TEMPLATES / "main.typ",
            root=TEMPLATES,
            format="pdf",
            font_paths=fonts.load(folder, machine=bool(fonts.beyond_family(text))),
            sys_inputs={"view": text},
            timestamp=int(plan.made_at.timestamp()),
        )


def boxes(plan: Plan) -> str:
    """The characters of a plan that no font on this machine has; they print as boxes on its sheet."""
    return fonts.boxes(json.dumps(view(plan, paper="a4", display="metric", pictures={}), ensure_ascii=False))


def view(
    plan: Plan, *, paper: Paper, display: Shown | Display, pictures: Mapping[str, Picture], close_ups: CloseUps = NONE
) -> dict[str, Any]:
    """Everything the template sets, page by page, as text and as places in millimetres."""
    show = as_display(display)
    page = {
        "paper": paper,
        "run": _run(plan, show),
        "figures": figures(plan, show),
        "facts": run_facts(plan, show),
        "wins": who_wins(plan.mix.binder),
        "night": IN_A_LINE if plan.fires_overnight else "",
        "day": day_view(plan, show),
        "findings": findings_view(plan, show),
        "counts": counts(plan),
        "leaned": leaned(plan),
        "assumed": assumed(plan, show),
        "kiln": kiln_view(plan, show),
        "check": checklist_view(plan, show),
        "results": results_view(plan, show),
        "tree": tree_view(plan, plan.tree, show, paper=paper) if plan.tree else None,
        "freeze": _freeze(plan, show),
        "weight": weight_view(plan, plan.weighed, show, paper=paper) if plan.weighed else None,
        "patterns": patterns_view(plan, pictures, show=show, paper=paper, close_ups=close_ups) if plan.patterns else None,
        "units": {"metal": show.metal_unit, "length": show.length_unit},
    }
    kept = ("paper", "run")  # what the studio and its files are called stays as it is written
    return {key: part if key in kept else localised(part, show) for key, part in page.items()}


def _freeze(plan: Plan, show: Display) -> dict[str, Any] | None:
    poured = poured_of(plan)
    if plan.freezing is None or plan.fields is None or poured is None:
        return None
    return freeze_view(plan.freezing, plan.fields, poured=poured, show=show)


def _run(plan: Plan, show: Display) -> dict[str, str]:
    return {
        "number": str(plan.number),
        "title": plan.title,
        "studio": plan.studio.name,
        "alloy": headed(plan.alloy.name),
        "mark": plan.flask.mark,
        "flask": flask_words(plan, show),
        "made": f"planned {day(plan.made_at)} {plan.made_at.year}, {show.clock(plan.made_at)}",
        "version": f"Pourwell {plan.package_version}, materials {plan.library_digest}",
    }
