"""How a planned tree freezes, as the desk shows it: the solid with its times for the viewer, words, places and curves."""

from typing import Any, Final

import numpy as np
from scipy.spatial import cKDTree

from pourwell.app.view_arrays import FieldGiven, solid_view
from pourwell.files.fields import refined
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.plan import Plan
from pourwell.sheets.display import Display
from pourwell.sheets.freeze_curves import curves_view
from pourwell.sheets.freeze_view import alike, freeze_words, poured_of, rows_of
from pourwell.steps.freeze.model import Fields, Singles

MOST_TRIANGLES: Final = 120_000
"""Of the tree as it is coloured: its long edges are halved so far. The viewer draws as many in a blink."""
CELLS_PER_EDGE: Final = 2.0
"""An edge so many cells long bends a field no further than the grid does. Own choice."""

ABOUT_COUNT: Final = 6
"""So many cells are blended: those that share a side with one."""
TOUCHING_MM: Final = 0.05
"""Nearer than this a cell counts no more. Own choice: far under any edge of a cell."""


def freezing_view(plan: Plan) -> tuple[bytes, dict[str, Any]] | None:
    """The tree with the times at which it is solid, for the viewer; None where freezing was not computed."""
    if plan.fields is None or plan.freezing is None or plan.tree_cast is None:
        return None
    points, faces = refined(plan.tree_cast, CELLS_PER_EDGE * plan.freezing.edge_mm, most=MOST_TRIANGLES)
    tree = Mesh(vertices=points, faces=faces)
    view, head = solid_view([("tree", tree)], fields=_fields(plan.fields, tree.centres))
    return view, head | {"flask": {"diameter_mm": plan.flask.diameter_mm, "height_mm": plan.flask.height_mm}}


def _fields(found: Fields, places: Floats) -> list[FieldGiven]:
    """Each triangle as the cells about its middle have it, the nearer the more."""
    away, near = cKDTree(found.centre_mm).query(places, k=min(ABOUT_COUNT, len(found.centre_mm)))
    weight = 1 / np.maximum(away, TOUCHING_MM)

    def given(name: str, title: str, values: Singles, *, unit: str, **more: Any) -> FieldGiven:
        there = values[near].astype(np.float64)
        known = np.where(np.isfinite(there), weight, 0.0)
        with np.errstate(invalid="ignore"):  # none of the cells about it has one: there is no value
            blended = (np.nan_to_num(there) * known).sum(axis=1) / known.sum(axis=1)
        return FieldGiven(name=name, title=title, unit=unit, values=blended, **more)

    return [
        given("end", "Solid after", found.end_s, unit="s", slide="Time"),
        given("local", "Takes to freeze", found.end_s - found.begin_s, unit="s"),
        given("rate", "Cooling rate", found.rate_k_per_s, unit="K/s"),
    ]


def freezing_page(plan: Plan) -> dict[str, Any] | None:
    """Words, places with what is to be said of each, and cooling curves; None where freezing was not computed."""
    poured = poured_of(plan)
    if plan.fields is None or plan.freezing is None or poured is None:
        return None
    show = Display(plan.studio.display)
    words = freeze_words(plan.freezing, poured=poured, show=show)
    lost = [kin[0] for kin in alike(plan.freezing)]
    rows = rows_of(plan.freezing)
    words["pools"] = [{**told, "at_mm": list(pool.at_mm)} for told, pool in zip(words["pools"], lost, strict=False)]
    words["rows"] = [{**told, "at_mm": list(clocks[0].section_at_mm)} for told, clocks in zip(words["rows"], rows, strict=True)]
    return words | {
        "curves": curves_view(plan.freezing, plan.fields, show=show),
        "fine": plan.freezing.fine,
        "not_modelled": list(plan.freezing.not_modelled),
    }
