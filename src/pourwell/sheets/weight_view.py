"""The page of a tree that is known by its weight alone: what follows from it, what cannot, and the room that it must stay in."""

from typing import Any

from pourwell.plan import Plan
from pourwell.sheets.display import Display
from pourwell.sheets.paper import Paper, scale_alone
from pourwell.sheets.tree_view import cap, flask_view
from pourwell.steps.tree.model import WeighedTree

BESIDE_MM = 62.0
"""Room for words at the side of the drawing."""


def weight_view(plan: Plan, weighed: WeighedTree, show: Display, *, paper: Paper) -> dict[str, Any]:
    """All that the page sets."""
    unit, charge = show.metal_unit, plan.charge
    share = "a usual share: how much it is was not said" if weighed.mixed else ""
    rows = [
        ("Tree on the scale, without its base", show.metal(weighed.pattern_g), ""),
        *([("of it sprue wax", show.metal(weighed.wax_g), share)] if weighed.wax_g else []),
        ("Pieces, sprues and stem in metal", show.metal(weighed.body_g), ""),
        ("Button", show.metal(weighed.button_g), "the dome of the base, filled"),
        ("Tree in metal", show.metal(weighed.metal_g), show.metals(weighed.metal_low_g, weighed.metal_high_g)),
        ("Charge, with loss", show.metal(charge.total_g), show.metals(charge.low_g, charge.high_g)),
    ]
    return {
        "rows": [{"says": says, "value": f"{value} {unit}", "note": note} for says, value, note in rows],
        "unknown": [show.text(words) for words in plan.unknown],
        "room": _room(plan, show, paper=paper),
    }


def _room(plan: Plan, show: Display, *, paper: Paper) -> dict[str, Any]:
    """The empty flask, to hold the tree against."""
    flask = plan.flask
    highest = flask.height_mm - flask.headspace_mm - flask.cover_mm
    named = [
        ("tip max.", highest),
        ("button", flask.base_depth_mm + flask.dome_height_mm),
        ("base", flask.base_depth_mm),
    ]
    button = cap(flask.dome_diameter_mm, foot_mm=flask.base_depth_mm, height_mm=flask.dome_height_mm)
    scale = scale_alone(flask, beside_mm=BESIDE_MM, paper=paper, stopped=plan.stopped)
    return {
        **flask_view(flask, show, button=button, named=named, scale=scale),
        "stem": None,
        "top": highest,
        "limit": highest,
        "places": [],
        "tip": None,
    }
