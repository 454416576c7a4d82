"""How a run's pieces freeze, each as its pattern lies: so that the page of a pattern shows it beside walls and gaps."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

import numpy as np

from pourwell.app.desk_words import frozen_names
from pourwell.app.freezing_view import CELLS_PER_EDGE, blend
from pourwell.app.view_arrays import FieldGiven, solid_view
from pourwell.files.fields import refined
from pourwell.files.plan_json import plain, to_bytes
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.plan import Plan
from pourwell.sheets.viewpoint import front_axes

MOST_TRIANGLES: Final = 60_000
"""Of one piece: its long edges are halved so far."""


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
    for pattern in plan.patterns:
        place = next((place for place in plan.tree.places if place.piece == pattern.piece.id), None)
        if place is None:
            continue
        points, faces = refined(pattern.mesh, CELLS_PER_EDGE * plan.freezing.edge_mm, most=MOST_TRIANGLES)
        mesh = Mesh(vertices=points, faces=faces)
        hung = _on_the_tree(mesh.centres, np.array(place.transform))
        times = blend(plan.fields.centre_mm, hung, edge_mm=plan.freezing.edge_mm)(plan.fields.end_s)
        field = FieldGiven(name="solid", title="Solid after", unit="s", values=times, slide="Still liquid at")
        yield pattern.piece.id, *solid_view([("piece", mesh)], fields=[field], axes=front_axes(pattern))


def _on_the_tree(points_mm: Floats, transform: Floats) -> Floats:
    """Points of a pattern where its piece hangs; a transform is three rows of a turn and a shift."""
    placed: Floats = points_mm @ transform[:, :3].T + transform[:, 3]
    return placed
