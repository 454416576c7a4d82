"""How a run's pieces freeze, each as its pattern lies: so that the page of a pattern shows it beside walls and gaps."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

import numpy as np
from scipy.spatial import cKDTree

from pourwell.app.desk_words import frozen_names
from pourwell.app.view_arrays import FieldGiven, solid_view
from pourwell.files.fields import refined
from pourwell.files.plan_json import plain, to_bytes
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.plan import Plan
from pourwell.sheets.viewpoint import front_axes

MOST_TRIANGLES: Final = 60_000
"""Of one piece: its long edges are halved so far."""
CELLS_PER_EDGE: Final = 2.0
"""An edge so many cells long bends a field no further than the grid does. Own choice."""
NEIGHBOURS: Final = 8
"""Cells that have a say in the time of a place: those of one corner of the grid, so that its steps are not seen. Own choice."""


def frozen_patterns(plan: Plan) -> dict[str, bytes]:
    """The files of all kinds of pieces of a plan, by name; none where freezing was not computed."""
    files: dict[str, bytes] = {}
    for piece_id, view, head in _frozen(plan):
        numbers, said = frozen_names(piece_id)
        files |= {numbers: view, said: to_bytes(plain(head))}
    return files


def _frozen(plan: Plan) -> Iterator[tuple[str, bytes, Mapping[str, Any]]]:
    """Each kind of piece, by the first of its kind on the tree."""
    if plan.fields is None or plan.freezing is None or plan.tree is None:
        return
    cells, end_s = cKDTree(plan.fields.centre_mm), plan.fields.end_s.astype(np.float64)
    for pattern in plan.patterns:
        place = next((place for place in plan.tree.places if place.piece == pattern.piece.id), None)
        if place is None:
            continue
        points, faces = refined(pattern.mesh, CELLS_PER_EDGE * plan.freezing.edge_mm, most=MOST_TRIANGLES)
        mesh = Mesh(vertices=points, faces=faces)
        hung = _on_the_tree(mesh.centres, np.array(place.transform))
        times = _about(cells, end_s, hung, edge_mm=plan.freezing.edge_mm)
        field = FieldGiven(name="solid", title="Solid after", unit="s", values=times, slide="Still liquid at")
        yield pattern.piece.id, *solid_view([("piece", mesh)], fields=[field], axes=front_axes(pattern))


def _on_the_tree(points_mm: Floats, transform: Floats) -> Floats:
    """Points of a pattern where its piece hangs; a transform is three rows of a turn and a shift."""
    placed: Floats = points_mm @ transform[:, :3].T + transform[:, 3]
    return placed


def _about(cells: cKDTree, values: Floats, points_mm: Floats, *, edge_mm: float) -> Floats:
    """Values of cells at points: of the nearest few, the nearer the more; nan where none of them has one."""
    away, which = cells.query(points_mm, k=min(NEIGHBOURS, cells.n))
    found = values[which]
    weight = np.where(np.isfinite(found), 1 / (away**2 + (edge_mm / 2) ** 2), 0.0)
    total = weight.sum(axis=1)
    mean: Floats = np.where(total > 0, (weight * np.nan_to_num(found)).sum(axis=1) / np.where(total > 0, total, 1.0), np.nan)
    return mean
