"""The check list, a page a day, with its gates; then the results; and the page of a run that is known by its weight alone."""

from typing import Any

from pourwell.plan import Plan
from pourwell.sheets.display import Display, day
from pourwell.steps.day.model import CheckStep
from pourwell.steps.tree.model import WeighedTree


def checklist_view(plan: Plan, show: Display) -> list[dict[str, Any]]:
    """Every line of the check list; steps and gates are numbered."""
    out: list[dict[str, Any]] = []
    numbers = {"step": 0, "gate": 0}
    for line in plan.checklist:
        if line.kind in numbers:
            numbers[line.kind] += 1
        out.append({"kind": line.kind, "no": str(numbers.get(line.kind, "")), "text": show.text(line.text), **_more(line, show)})
    return out


def _more(line: CheckStep, show: Display) -> dict[str, Any]:
    if line.kind == "phase" and line.starts_at is not None:
        return {"clock": show.clock(line.starts_at), "day": day(line.starts_at)}
    if line.kind == "gate":
        return {"checks": [show.text(c) for c in line.checks]}
    if line.kind == "step":
        value, unit = planned(line, show)
        return {
            "value": value,
            "unit": unit,
            "note": show.text(line.plan),
            "caution": show.text(line.caution),
            "prevents": show.text(line.prevents),
            "fill": line.fill,
        }
    return {}


def planned(line: CheckStep, show: Display) -> tuple[str, str]:
    """The figure of a step and its unit; both empty when it has none."""
    if line.quantity == "clock":
        return (show.clock(line.at), "") if line.at is not None else ("", "")
    if line.value is None:
        return "", ""
    return {
        "metal_g": lambda v: (show.metal(v), show.metal_unit),
        "bulk_g": lambda v: (show.bulk(v), show.bulk_unit),
        "temperature_c": lambda v: (show.temperature(v), show.temperature_unit),
        "": lambda v: (f"{v:g}", ""),
    }[line.quantity](line.value)


def results_view(plan: Plan, show: Display) -> list[dict[str, str]]:
    """A row for each piece on the tree, with its planned weight; empty for a tree known by its weight."""
    least_g = min((p.piece.metal_g for p in plan.patterns), default=0.0)
    cast = {p.piece.id: show.metal(p.piece.metal_g, beside_g=least_g) for p in plan.patterns}
    places = plan.tree.places if plan.tree else ()
    return [{"no": str(q.number), "letter": q.piece, "cast": cast[q.piece]} for q in places]


def weight_view(plan: Plan, weighed: WeighedTree, show: Display) -> dict[str, Any]:
    """What a weight gives, and what it cannot."""
    unit = show.metal_unit
    rows = [
        ("Tree on the scale, without its base", show.metal(weighed.pattern_g), ""),
        *([("of it sprue wax", show.metal(weighed.wax_g), "")] if weighed.wax_g else []),
        ("Pieces, sprues and stem in metal", show.metal(weighed.body_g), ""),
        ("Button", show.metal(weighed.button_g), "the dome of the base, filled"),
        ("Tree in metal", show.metal(weighed.metal_g), f"{show.metal(weighed.metal_low_g)} to {show.metal(weighed.metal_high_g)}"),
        ("Charge, with loss", show.metal(plan.charge.total_g), f"{show.metal(plan.charge.low_g)} to {show.metal(plan.charge.high_g)}"),
    ]
    return {
        "rows": [{"says": says, "value": f"{value} {unit}", "note": note} for says, value, note in rows],
        "unknown": [show.text(words) for words in plan.unknown],
    }
