"""Pictures of checked patterns as files: each side, each field, each finding at its place, and a sheet of several pieces."""

import dataclasses
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from pourwell.app.checking import Checked
from pourwell.app.work import side_by_side
from pourwell.files.folder import LIST, write_folder
from pourwell.files.plan_json import SCHEMA_VERSION, to_bytes
from pourwell.findings import Finding, Severity, in_order, spelt_out
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.picture import Picture, seen_by
from pourwell.geometry.rays import Caster
from pourwell.sheets.close_up import PrintedCloseUp, Spot, close_up, printed_close_up
from pourwell.sheets.contact_sheet import Entry, contact_sheet
from pourwell.sheets.display import TIMES
from pourwell.sheets.drawing import Drawing
from pourwell.sheets.field_map import Field, field_map, halves, more_fields, wall_field
from pourwell.sheets.scene import SIDES, Scene, cameras, crossed, scene_of
from pourwell.sheets.stills import before_and_after, still
from pourwell.steps.pattern.model import Pattern

if TYPE_CHECKING:
    from pourwell.steps.freeze.model import Fields

Work = tuple[str, Callable[[], Drawing]]
"""A file's name without its ending, and what draws it."""

SCHEMA = "pourwell.pictures"
CONTACT_SHEET = "contact-sheet"
DOUBTFUL = "units-doubtful"
"""The code of a finding that leaves walls unjudged."""
MAY_CROSS = {"pattern-crosses-itself", "pattern-unsound"}
"""Findings with which the lines are drawn along which the surface crosses itself."""
FIELD_OF = {"wire": "ball", "gap": "gap"}
"""Which field shows the reason of a finding on every pattern; that of a wall is shown by what measured it."""
STAND_IN = "the solid that stands in for the file's"
MOST_SPOTS = 24
"""Findings of one piece that get a picture: more than anyone looks at, and a file with a thousand faults does not fill the disk."""

MOST_PRINTED = 8
"""... and on the run sheet: two lines of them."""


def write_pictures_of(
    checked: Sequence[Checked], folder: Path, *, replace: bool = False, tell: Callable[[str], None] = lambda _: None
) -> tuple[Path, ...]:
    """Draw checked patterns, and write PNG and SVG into a folder, whole or not at all. Raises OutputError."""
    files: dict[str, bytes] = {}
    entries = []
    for one in checked:
        tell(f"Drawing {one.pattern.piece.file}")
        works, entry = _works(one)
        files |= _drawn(works)
        entries.append(entry)
    if len(entries) > 1:
        title = f"{len(entries)} patterns, in {checked[0].alloy_name}"
        files |= _drawn([(CONTACT_SHEET, partial(contact_sheet, entries, title=title))])
    return _written(files, folder, replace=replace)


def write_before_and_after(
    scene: Scene, after: Mesh, folder: Path, *, says: tuple[str, str], spots: Sequence[Spot] = (), replace: bool = False
) -> tuple[Path, ...]:
    """Draw a piece and what became of it from each side, both by one camera, as PNG and SVG in a folder, whole or not at all.

    Of each of some places, no more than of a piece's findings, there is a close-up as it was.

    Raises OutputError.
    """
    works: list[Work] = [(f"before-after-{view}", partial(before_and_after, scene, after, says=says, view=view)) for view in SIDES]
    if spots:
        seen, rays = crossed(scene), Caster(scene.mesh)
        works += [
            (f"place-{number}-{spot.code}", partial(close_up, seen, spot, caster=rays, letter=str(number)))
            for number, spot in enumerate(spots[:MOST_SPOTS], start=1)
        ]
    return _written(_drawn(works), folder, replace=replace)


def write_freezing_map(metal: Mesh, found: "Fields", folder: Path, *, title: str, replace: bool = False) -> tuple[Path, ...]:
    """Draw when a tree is solid, as PNG and SVG in a folder, whole or not at all. Raises OutputError."""
    from pourwell.sheets.freeze_map import freezing_map  # most pictures need nothing of how metal freezes

    return _written(_drawn([("freezing-time", partial(freezing_map, metal, found, title=title))]), folder, replace=replace)


def _drawn(works: Sequence[Work]) -> dict[str, bytes]:
    """The files of drawings, by name."""

    def made(work: Work) -> dict[str, bytes]:
        name, drawing = work[0], work[1]()
        return {f"{name}.png": drawing.png, f"{name}.svg": drawing.svg}

    return {name: data for files in side_by_side(made, works) for name, data in files.items()}


def _written(files: dict[str, bytes], folder: Path, *, replace: bool) -> tuple[Path, ...]:
    """The files in a folder, with their list; their paths. Raises OutputError."""
    listed = {LIST: to_bytes({"schema": SCHEMA, "schema_version": SCHEMA_VERSION, "files": sorted([*files, LIST])})}
    return tuple(path for path in write_folder(folder, files | listed, replace=replace) if path.name != LIST)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Drawable:
    """A pattern ready to be drawn: as its file has it, and the solid that was measured with its fields."""

    shown: Scene
    rays: Caster
    solid: Scene
    solid_rays: Caster
    fields: tuple[Field, ...]
    of_code: Mapping[str, str]
    """Which field shows the reason of a finding, by how its code begins; the others are shown best by light and shade."""

    def field_for(self, found: Finding) -> Field | None:
        """The field that shows a finding's reason; none for what light and shade show best."""
        wanted = self.of_code.get(found.code.split("-")[0])
        return next((field for field in self.fields if field.name == wanted), None)

    def close_up(self, found: Finding, letter: str) -> Drawing:
        """A finding at its place: on the solid in a field's colours, else on what the file has."""
        field = self.field_for(found)
        scene, rays = (self.shown, self.rays) if field is None else (self.solid, self.solid_rays)
        return close_up(scene, spot_of(found), caster=rays, field=field, letter=letter)

    def printed(self, found: Finding, letter: str) -> PrintedCloseUp:
        """The same for the run sheet."""
        field = self.field_for(found)
        scene, rays = (self.shown, self.rays) if field is None else (self.solid, self.solid_rays)
        return printed_close_up(scene, spot_of(found, spelt=False), caster=rays, field=field, letter=letter)


def _drawable(pattern: Pattern, findings: Iterable[Finding]) -> _Drawable:
    """A pattern made ready; where its walls are not judged, for its unit is not sure, nothing is held against a limit."""
    codes = {found.code for found in findings}
    judged, crossing = DOUBTFUL not in codes, bool(codes & MAY_CROSS)
    solid, solid_rays = scene_of(pattern), Caster(pattern.mesh)
    wall = wall_field(pattern, solid.surface, solid_rays)
    remark = "" if pattern.as_read is None else STAND_IN
    fields = [dataclasses.replace(wall, limit=wall.limit if judged else None, remark=remark)]
    told = judged and any(code.startswith("gap") for code in codes)  # else inner corners alone would be hatched
    more = more_fields(pattern, solid.surface)
    fields += [dataclasses.replace(field, limit=field.limit if told else None, remark=remark) for field in more]
    shown = solid if pattern.as_read is None else scene_of(pattern, as_read=True)
    shown = crossed(shown) if crossing else shown
    rays = solid_rays if pattern.as_read is None else Caster(pattern.as_read)
    of_code = FIELD_OF | {"wall": pattern.thin_by}
    return _Drawable(shown=shown, rays=rays, solid=solid, solid_rays=solid_rays, fields=tuple(fields), of_code=of_code)


class _Halves:
    """Both halves of a piece, looked at once, by the first of the threads that draw a field on them."""

    def __init__(self, scene: Scene) -> None:
        self._scene, self._lock = scene, Lock()
        self._seen: tuple[Picture, ...] = ()

    def field_map(self, field: Field) -> Drawing:
        """A field on them."""
        with self._lock:
            if not self._seen:
                self._seen = tuple(seen_by(camera, self._scene.surface) for camera in halves(self._scene))
        return field_map(self._scene, field, both=self._seen)


def _works(one: Checked) -> tuple[list[Work], Entry]:
    """What is to be drawn of one pattern, each by a call; and its place on the contact sheet."""
    piece = one.pattern.piece
    ready = _drawable(one.pattern, one.findings)
    name = f"pattern-{piece.id}"
    both = _Halves(ready.solid)
    fields = [(f"{name}-{field.name}", partial(both.field_map, field)) for field in ready.fields]
    sides = [(f"{name}-{view}", partial(still, ready.shown, camera, view=view)) for view, camera in cameras(ready.shown).items()]
    works: list[Work] = [*fields[:1], *sides, *fields[1:]]  # the first field takes longest, and the others wait for it
    placed = [found for found in in_order(one.findings) if found.at_mm is not None][:MOST_SPOTS]
    works += [
        (f"{name}-finding-{number}-{found.code}", partial(ready.close_up, found, f"{piece.id}{number}"))
        for number, found in enumerate(placed, start=1)
    ]
    extent = f" {TIMES} ".join(f"{mm:.1f}" for mm in piece.envelope_mm)
    size = f"finished ISO {piece.bore.finished_sizes.iso}" if piece.bore else f"{extent} mm"
    worst = in_order(one.findings)[0].severity if one.findings else None
    return works, Entry(scene=ready.shown, figures=f"{piece.metal_g:.2f} g, {size}", worst=worst)


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
    ready = _drawable(pattern, mine)
    return tuple(ready.printed(found, f"{pattern.piece.id}{number}") for number, found in enumerate(mine[:MOST_PRINTED], start=1))
