"""How a planned tree freezes, as the desk shows it: the solid with its times for the viewer, words, places and curves."""

from collections.abc import Callable
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

NEIGHBOURS: Final = 8
"""Cells that have a say in the value of a place: those of one corner of the grid, so that its steps are not seen. Own choice."""


class Kept(Display):
    """Workshop units, and marked quantities left marked: a page shows both in the units of its reader."""

    def text(self, sentence: str) -> str:
        """The sentence as it is."""
        return sentence


def freezing_view(plan: Plan) -> tuple[bytes, dict[str, Any]] | None:
    """The tree with the times at which it is solid, for the viewer; None where freezing was not computed."""
    if plan.fields is None or plan.freezing is None or plan.tree_cast is None:
        return None
    points, faces = refined(plan.tree_cast, CELLS_PER_EDGE * plan.freezing.edge_mm, most=MOST_TRIANGLES)
    tree = Mesh(vertices=points, faces=faces)
    view, head = solid_view([("tree", tree)], fields=_fields(plan.fields, tree.centres, edge_mm=plan.freezing.edge_mm))
    return view, head | {"flask": {"diameter_mm": plan.flask.diameter_mm, "height_mm": plan.flask.height_mm}}


def _fields(found: Fields, places: Floats, *, edge_mm: float) -> list[FieldGiven]:
    about = blend(found.centre_mm, places, edge_mm=edge_mm)
    return [
        FieldGiven(name="end", title="Solid after", unit="s", values=about(found.end_s), slide="Time"),
        FieldGiven(name="local", title="Takes to freeze", unit="s", values=about(found.end_s - found.begin_s)),
        FieldGiven(name="rate", title="Cooling rate", unit="K/s", values=about(found.rate_k_per_s)),
    ]


def blend(cells_mm: Floats, points_mm: Floats, *, edge_mm: float) -> Callable[[Singles], Floats]:
    """What gives values of cells at points: of the nearest few, the nearer the more; nan where none of them has one."""
    tree = cKDTree(cells_mm)
    away, which = tree.query(points_mm, k=min(NEIGHBOURS, tree.n))
    near = 1 / (away**2 + (edge_mm / 2) ** 2)

    def at_points(values: Singles) -> Floats:
        found = values[which].astype(np.float64)
        weight = np.where(np.isfinite(found), near, 0.0)
        total = weight.sum(axis=1)
        sums = (weight * np.nan_to_num(found)).sum(axis=1)
        blended: Floats = np.divide(sums, total, out=np.full(len(total), np.nan), where=total > 0)
        return blended

    return at_points


def freezing_page(plan: Plan) -> dict[str, Any] | None:
    """Words, places with what is to be said of each, and cooling curves; None where freezing was not computed."""
    poured = poured_of(plan)
    if plan.fields is None or plan.freezing is None or poured is None:
        return None
    show = Kept()
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
