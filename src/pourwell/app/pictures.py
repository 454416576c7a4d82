"""Pictures of checked patterns as files: each side, each field, each finding at its place, and a sheet of several pieces."""

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from pourwell.app.checking import Checked
from pourwell.app.work import side_by_side
from pourwell.files.folder import LIST, write_folder
from pourwell.files.plan_json import SCHEMA_VERSION, to_bytes
from pourwell.findings import Finding, Severity, in_order, spelt_out
from pourwell.geometry.rays import Caster
from pourwell.sheets.close_up import PrintedCloseUp, Spot, close_up, printed_close_up
from pourwell.sheets.contact_sheet import Entry, contact_sheet
from pourwell.sheets.display import TIMES
from pourwell.sheets.drawing import Drawing
from pourwell.sheets.field_map import Field, field_map, wall_field
from pourwell.sheets.scene import cameras, scene_of
from pourwell.sheets.stills import still
from pourwell.steps.pattern.model import Pattern

SCHEMA = "pourwell.pictures"
CONTACT_SHEET = "contact-sheet"
MOST_SPOTS = 24
"""Findings of one piece that get a picture: more than anyone looks at, and a file with a thousand faults does not fill the disk."""

MOST_PRINTED = 8
"""... and on the run sheet: two lines of them."""


def write_pictures_of(
    checked: Sequence[Checked], folder: Path, *, replace: bool = False, tell: Callable[[str], None] = lambda _: None
) -> tuple[Path, ...]:
    """Draw checked patterns, and write PNG and SVG into a folder, whole or not at all. Raises OutputError."""
    works: list[Callable[[], tuple[str, Drawing]]] = []
    entries = []
    for one in checked:
        tell(f"Drawing {one.pattern.piece.file}")
        more, entry = _works(one)
        works += more
        entries.append(entry)
    if len(entries) > 1:
        title = f"{len(entries)} patterns, in {checked[0].alloy_name}"
        works.append(lambda: (CONTACT_SHEET, contact_sheet(entries, title=title)))

    def made(work: Callable[[], tuple[str, Drawing]]) -> dict[str, bytes]:
        name, drawing = work()
        return {f"{name}.png": drawing.png, f"{name}.svg": drawing.svg}

    files: dict[str, bytes] = {}
    for drawn in side_by_side(made, works):
        files |= drawn
    files[LIST] = to_bytes({"schema": SCHEMA, "schema_version": SCHEMA_VERSION, "files": sorted([*files, LIST])})
    return tuple(path for path in write_folder(folder, files, replace=replace) if path.name != LIST)


def _works(one: Checked) -> tuple[list[Callable[[], tuple[str, Drawing]]], Entry]:
    """What is to be drawn of one pattern, each by a call; and its place on the contact sheet."""
    pattern, piece = one.pattern, one.pattern.piece
    scene, caster = scene_of(pattern), Caster(pattern.mesh)
    fields = [wall_field(pattern, scene.surface, caster)]
    name = f"pattern-{piece.id}"
    works: list[Callable[[], tuple[str, Drawing]]] = [
        lambda view=view, camera=camera: (f"{name}-{view}", still(scene, camera, view=view))  # type: ignore[misc]
        for view, camera in cameras(scene).items()
    ]
    works += [lambda field=field: (f"{name}-{field.name}", field_map(scene, field)) for field in fields]  # type: ignore[misc]
    placed = [found for found in in_order(one.findings) if found.at_mm is not None][:MOST_SPOTS]
    for number, found in enumerate(placed, start=1):
        spot, shows = spot_of(found), field_of(found, fields)
        works.append(
            lambda spot=spot, shows=shows, number=number: (  # type: ignore[misc]
                f"{name}-finding-{number}-{spot.code}",
                close_up(scene, spot, caster=caster, field=shows, letter=f"{piece.id}{number}"),
            )
        )
    size = (
        f"ISO {piece.bore.finished_sizes.iso}" if piece.bore else f" {TIMES} ".join(f"{mm:.1f}" for mm in piece.envelope_mm) + " mm"
    )
    worst = in_order(one.findings)[0].severity if one.findings else None
    return works, Entry(scene=scene, figures=f"{piece.metal_g:.2f} g, {size}", worst=worst)


def spot_of(found: Finding, *, spelt: bool = True) -> Spot:
    """What a picture tells of a finding that has a place; its measure spelt out in workshop units, or left to a sheet.

    Raises ValueError for a finding without a place.
    """
    if found.at_mm is None:
        raise ValueError(f"The finding {found.code} has no place.")
    measure, limit = (spelt_out(found.measure), spelt_out(found.limit)) if spelt else (found.measure, found.limit)
    return Spot(
        code=found.code, severity=found.severity, at_mm=found.at_mm, says=spelt_out(found.says), measure=measure, limit=limit
    )


def field_of(found: Finding, fields: Sequence[Field]) -> Field | None:
    """The field that shows a finding's reason: the one that its code begins with; none for what light and shade show best."""
    return next((field for field in fields if found.code.split("-")[0] == field.name), None)


def printed_close_ups(pattern: Pattern, findings: Iterable[Finding]) -> tuple[PrintedCloseUp, ...]:
    """The worst findings on a pattern that have a place, for its row on the run sheet; notes have none there."""
    mine = [
        found
        for found in in_order(findings)
        if found.at_mm is not None
        and found.severity is not Severity.NOTE
        and found.where.split(",")[0] == f"piece {pattern.piece.id}"
    ]
    if not mine:
        return ()
    scene, caster = scene_of(pattern), Caster(pattern.mesh)
    fields = [wall_field(pattern, scene.surface, caster)]
    return tuple(
        printed_close_up(
            scene, spot_of(found, spelt=False), caster=caster, field=field_of(found, fields), letter=f"{pattern.piece.id}{number}"
        )
        for number, found in enumerate(mine[:MOST_PRINTED], start=1)
    )
