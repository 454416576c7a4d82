"""The check list, a page a day, with its gates; then the results."""

from typing import Any

from pourwell.plan import Plan
from pourwell.sheets.display import Display, day
from pourwell.steps.day.model import CheckStep


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
    if line.quantity == "metal_g":
        return show.metal(line.value), show.metal_unit
    if line.quantity == "bulk_g":
        return show.bulk(line.value), show.bulk_unit
    if line.quantity == "temperature_c":
        return show.temperature(line.value), show.temperature_unit
    return f"{line.value:g}", ""


def results_view(plan: Plan, show: Display) -> list[dict[str, str]]:
    """A row for each piece on the tree, with its planned weight; empty for a tree known by its weight."""
    least_g = min((p.piece.metal_g for p in plan.patterns), default=0.0)
    cast = {p.piece.id: show.metal(p.piece.metal_g, beside_g=least_g) for p in plan.patterns}
    places = plan.tree.places if plan.tree else ()
    return [{"no": str(q.number), "letter": q.piece, "cast": cast[q.piece]} for q in places]
