"""What the desk has done for a pattern that is not kept yet: mended, made to a ring size, made from a shape. Plain data comes out.

Each gives `data` for the page and `files` by name: the solids for the viewer, before where there is one and after, and the pattern
file that is kept if somebody says so.
"""

import dataclasses
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np

from pourwell.app.desk_words import AFTER, BEFORE, MADE, STILL_AFTER, STILL_BEFORE, GivenPattern, for_desk
from pourwell.app.desk_work import findings_data, named, portrait
from pourwell.app.fitting import fit_file
from pourwell.app.mending import TO_MEND, Mending, mend_file, solid_of
from pourwell.app.shapes import build_shape, list_shapes, mesh_bytes
from pourwell.app.shop import open_shop
from pourwell.app.view_arrays import FieldGiven, pattern_view, solid_view
from pourwell.files.plan_json import plain
from pourwell.findings import spelt_out
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.picture import view_axes
from pourwell.geometry.solidity import weld
from pourwell.geometry.soup import Soup
from pourwell.geometry.surface import smooth
from pourwell.materials.library import load_library
from pourwell.sheets.scene import Scene, scene_of
from pourwell.sheets.viewpoint import broadside
from pourwell.steps.pattern.faults_told import faults_told
from pourwell.units import cm3_from_mm3

Tell = Callable[[str], None]
Row = tuple[str, str, str]
ENDING: Final = ".stl"
MM: Final = "mm"
SAME_MM: Final = 1e-3
"""A surface that lies off the old one by less is the old one: no figure that is shown has so small a part."""
MOST_FAULTS: Final = 24
"""Places of faults that bear a letter: more than anyone looks at."""
RING: Final = view_axes((0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
"""How our shapes lie: one looks along y, z is up."""


def mend_pattern(
    folder: Path, given: GivenPattern, front: Sequence[Sequence[float]] | None = None, *, tell: Tell
) -> dict[str, Any]:
    """A pattern mended: what was found and done, how far that moves it, both solids, seen from its `front` if that is known.

    Raises what reading and mending raise.
    """
    shop = open_shop(folder)
    with named([given]) as (path,):
        mending = mend_file(path, units=given.units or None, leave_out=given.leave_out, tell=tell, shop=shop)
    mesh = solid_of(mending)
    tell("Drawing it")
    original = weld(mending.original)
    axes = broadside(original) if front is None else np.array(front)
    before, before_head = solid_view([("piece", original)], axes=axes)
    away = Soup(mending.original).distances(mesh.centres)
    after, after_head = solid_view([("piece", mesh)], fields=_away(mending, away), axes=axes)
    places = [fault for fault in mending.before if fault.kind in TO_MEND][:MOST_FAULTS]
    data = {
        "needed": mending.needed,
        "rows": [_spoken(row) for row in mending.rows],
        "asks": for_desk(mending.how_much) if mending.asks else "",
        "places": [
            *(
                {"at_mm": list(fault.at_mm), "says": spelt_out(faults_told([fault])[0]), "what": "Fault", "on": 0}
                for fault in places
            ),
            *_farthest(mending, away),
        ],
        "heads": [before_head, after_head],
        "units": MM,
    }
    stills = {STILL_BEFORE: _still(original, axes), STILL_AFTER: _still(mesh, axes)}
    return {"data": plain(data), "files": {BEFORE: before, AFTER: after, MADE: mesh_bytes(mesh, ENDING)} | stills}


def _still(mesh: Mesh, axes: Floats) -> bytes:
    """A picture of a solid."""
    return portrait(Scene(id="", name="", surface=smooth(mesh), axes=axes))[0]


def _away(mending: Mending, away_mm: Floats) -> list[FieldGiven]:
    """How far the new surface lies from the old one, where it does; no field where it does nowhere."""
    if (away_mm < SAME_MM).all():
        return []
    values, limit = np.where(away_mm < SAME_MM, np.nan, away_mm), mending.moved_limit_mm
    return [FieldGiven(name="moved", title="Off the old surface", unit=MM, values=values, limit=limit, limit_says="may go unasked")]


def _farthest(mending: Mending, away_mm: Floats) -> Iterator[dict[str, Any]]:
    """The place where the new surface lies farthest from the old one, if it does anywhere."""
    worst = int(np.argmax(away_mm))
    if away_mm[worst] >= SAME_MM:
        at = solid_of(mending).centres[worst].tolist()
        yield _place(at, "here the new surface lies farthest from the old one", "Place", on=1)


def _place(at_mm: list[float], says: str, what: str, *, on: int) -> dict[str, Any]:
    """A place that bears a letter, on one of the two solids."""
    return {"at_mm": at_mm, "says": says, "what": what, "on": on}


def fit_pattern(folder: Path, given: GivenPattern, wanted: Mapping[str, Any], *, tell: Tell) -> dict[str, Any]:
    """A pattern made to the finished `size` that is wanted, scaled, or by `offset` of its bore; in an `alloy` and a `material`.

    Raises what fitting raises.
    """
    shop = open_shop(folder)
    with named([given]) as (path,):
        fitted = fit_file(
            str(path),
            size=wanted["size"],
            out=None,
            offset=wanted["offset"],
            alloy=wanted["alloy"],
            pattern=wanted["material"],
            units=given.units or None,
            leave_out=given.leave_out,
            tell=tell,
            shop=shop,
        )
    tell("Drawing it")
    old, new = fitted.before.pattern, fitted.after.pattern
    before, before_head = pattern_view(dataclasses.replace(old, as_read=None))
    after, after_head = pattern_view(new)
    for was, now in zip(before_head["fields"], after_head["fields"], strict=False):
        now |= {key: was[key] for key in ("low", "high", "ticks") if was["name"] == now["name"]}  # one scale for both
    data = {
        "needed": True,
        "rows": [_spoken(row) for row in fitted.rows],
        "asks": "",
        "places": [],
        "findings": findings_data(fitted.after.findings, shop.library),
        "heads": [before_head, after_head],
        "units": MM,
    }
    stills = {STILL_BEFORE: portrait(scene_of(old))[0], STILL_AFTER: portrait(scene_of(new))[0]}
    return {"data": plain(data), "files": {BEFORE: before, AFTER: after, MADE: mesh_bytes(new.mesh, ENDING)} | stills}


def shapes(*, tell: Tell) -> list[dict[str, Any]]:
    """Our own shapes with their dimensions."""
    return list_shapes()


def make_shape(folder: Path, asked: Mapping[str, Any], *, tell: Tell) -> dict[str, Any]:
    """A piece from one of our shapes, by its `shape` and `dimensions` (NAME=VALUE), as it would be kept.

    Raises BadRequestError for dimensions that no piece can have.
    """
    mesh = build_shape(asked["shape"], asked["dimensions"])
    alloy = load_library(folder).alloy(asked["alloy"])
    after, head = solid_view([("piece", mesh)], axes=RING)
    data = {
        "volume_mm3": mesh.volume_mm3,
        "metal_g": cm3_from_mm3(mesh.volume_mm3) * alloy.density_g_per_cm3.value,
        "alloy_name": alloy.name,
        "envelope_mm": mesh.envelope_mm,
        "heads": [head],
        "units": MM,
    }
    return {"data": plain(data), "files": {AFTER: after, MADE: mesh_bytes(mesh, ENDING), STILL_AFTER: _still(mesh, RING)}}


def _spoken(row: Row) -> Row:
    """A row without words of the command line."""
    name, figure, remark = row
    return name, figure, for_desk(remark)
