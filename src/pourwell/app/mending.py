"""Mend a pattern file on request: what is wrong, what is done, how far that moves the surface; the original stays as it is."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pourwell.app.checking import unit_of_files
from pourwell.app.pictures import write_before_and_after
from pourwell.app.shapes import mesh_bytes
from pourwell.app.shop import Shop, open_shop
from pourwell.errors import BadRequestError, OutputError, shown
from pourwell.files.one_file import check_new, write_file
from pourwell.files.patterns import shown_name
from pourwell.files.worker import read_safely
from pourwell.findings import Severity, spelt_out
from pourwell.geometry.asunder import Asunder, asunder
from pourwell.geometry.holes import fanned_mm3
from pourwell.geometry.mending import ALL_STEPS, Change, Deed, Step, mend
from pourwell.geometry.mesh import Mesh, joined
from pourwell.geometry.moved import Moved, moved
from pourwell.geometry.places import GRAVE, Fault, FaultKind, find_faults, flakes
from pourwell.geometry.solidity import bodies, faults, repeats, turned_out, unite, weld
from pourwell.geometry.surface import smooth
from pourwell.geometry.turning import agreeing
from pourwell.sheets.close_up import Spot
from pourwell.sheets.scene import Scene
from pourwell.sheets.viewpoint import broadside
from pourwell.steps.pattern.bodies import cast_of
from pourwell.steps.pattern.faults_told import changes_told, faults_told, near

ENDING = ".stl"
FEWEST_FACES = 4
"""Fewer triangles enclose nothing: by geometry, a tetrahedron has four."""
TO_MEND = GRAVE | {FaultKind.FLAKE, FaultKind.INVERTED}
"""Faults that mending is for; slivers and pinched corners do no harm by themselves."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mending:
    """A file mended, not yet written."""

    file: Path
    before: tuple[Fault, ...]
    after: tuple[Fault, ...]
    changes: tuple[Change, ...]
    left_out: tuple[str, ...]
    """Bodies that are not cast, by their names, and so not in the mended file."""
    body_count: int
    triangle_count: int
    volume_before_mm3: float
    """Closed bodies united, so that what they share counts once; of an open or crossing surface only a rough figure."""
    volume_mm3: float
    moved: Moved | None
    original: Mesh
    """The triangles of the bodies that are cast, as the file has them."""
    mesh: Mesh | None
    apart: Asunder | None
    """Solids of the mended piece that do not touch."""
    moved_limit_mm: float
    volume_limit_fraction: float

    @property
    def overlapping(self) -> str:
        """Bodies that lie in one another, in words; empty where none do."""
        count = sum(change.count for change in self.changes if change.deed is Deed.UNITED)
        return f"{count:,} bodies overlap" if count else ""

    @property
    def asunder(self) -> str:
        """Solids that do not touch, which mending leaves so, in words; empty where there is but one."""
        if self.apart is None:
            return ""
        nearest = f"{self.apart.gap_mm:.2f} mm, {near(self.apart.at_mm)}"
        return f"{self.apart.count:,} solids apart ({nearest}): mending cannot join them"

    @property
    def needed(self) -> bool:
        """Is there anything to mend."""
        return bool(self.changes)

    @property
    def volume_change_fraction(self) -> float:
        """Change of volume as a share of the old one; all of it where there was none."""
        if not self.volume_before_mm3:
            return 1.0 if self.volume_mm3 else 0.0
        return (self.volume_mm3 - self.volume_before_mm3) / self.volume_before_mm3

    @property
    def asks(self) -> bool:
        """Does it change so much that the user must say yes: a cover that stands far from its rim is a part that was lost."""
        return self.moved is not None and (
            max(self.moved.moved_mm, self.moved.new_mm) > self.moved_limit_mm
            or abs(self.volume_change_fraction) > self.volume_limit_fraction
        )

    @property
    def how_much(self) -> str:
        """By how much the surface moves and the volume changes, against what may go unasked."""
        if self.moved is None:
            return ""
        moved, allowed = self.moved, self.moved_limit_mm
        said = []
        if moved.new_mm > max(allowed, moved.moved_mm):
            said.append(f"It makes a new surface that stands up to {moved.new_mm:.2f} mm from the old.")
        if moved.moved_mm > allowed:
            place = f"{near(moved.at_mm)}; {allowed:g} mm may go unasked"
            said.append(f"The old surface moves by up to {moved.moved_mm:.3f} mm ({place}).")
        else:
            said.append("The old surface stays where it is.")
        volume = f"The volume changes by {self.volume_change_fraction:+.2%} of the old"
        return " ".join([*said, f"{volume} ({self.volume_limit_fraction:.1%} may go unasked)."])

    @property
    def rows(self) -> list[tuple[str, str, str]]:
        """What was found, what is done, what that changes: name, figure, remark."""
        found = [*map(spelt_out, faults_told(self.before)), *filter(None, (self.overlapping, self.asunder))]
        rows = [("found", "", told) for told in found or ["nothing wrong"]]
        rows += [("done", "", told) for told in changes_told(self.changes)]
        if self.left_out:
            rows.append(("left out", "", f"not cast: {', '.join(self.left_out)}"))
        if self.mesh is not None:
            left = [*map(spelt_out, faults_told(self.after)), self.asunder]
            rows.append(("left", "", "; ".join(filter(None, left)) or "nothing wrong"))
            before = f"{self.volume_before_mm3:.2f} mm³ before, {self.volume_change_fraction:+.2%} of that"
            rows.append(("volume", f"{self.volume_mm3:.2f} mm³", before))
        if self.moved is not None:
            rows += [
                ("moved", f"{self.moved.moved_mm:.3f} mm", f"at most, by points every {self.moved.spacing_mm:.2f} mm"),
                ("new surface", f"{self.moved.new_mm:.3f} mm", "at most from the old"),
            ]
        return rows

    @property
    def data(self) -> dict[str, Any]:
        """What was found and done, as plain data."""
        return {
            "file": shown(str(self.file)),
            "faults_before": [_plain(fault) for fault in self.before],
            "faults_after": [_plain(fault) for fault in self.after],
            "changes": {change.deed.value: change.count for change in self.changes},
            "left_out": list(self.left_out),
            "volume_before_mm3": self.volume_before_mm3,
            "volume_mm3": self.volume_mm3,
            "volume_change_fraction": self.volume_change_fraction,
            "moved_mm": self.moved.moved_mm if self.moved else 0.0,
            "new_surface_mm": self.moved.new_mm if self.moved else 0.0,
            "sampled_every_mm": self.moved.spacing_mm if self.moved else 0.0,
            "overlapping": self.overlapping,
            "apart": self.apart.count if self.apart else 1,
            "apart_mm": self.apart.gap_mm if self.apart else 0.0,
            "asks": self.asks,
        }


def _plain(fault: Fault) -> dict[str, Any]:
    return {
        "kind": fault.kind.value,
        "at_mm": list(fault.at_mm),
        "count": fault.count,
        "measure_mm": fault.measure_mm,
        "extent_mm": fault.extent_mm,
    }


def check_mending(file: Path, out: Path, *, replace: bool) -> None:
    """Raise OutputError if the mended file could not be written there: another form, the original, or a file that stays."""
    if out.suffix.lower() != ENDING:
        raise OutputError(
            f"{out} does not end in {ENDING}.", try_this=f"A mended pattern is written as binary STL: {out.stem}{ENDING}."
        )
    if file.exists() and out.exists() and out.samefile(file):
        raise OutputError(
            f"{out} is the original.", why="It is never replaced, even with --replace.", try_this="Name another file with --out."
        )
    check_new(out, replace=replace)


def metal_mm3(mesh: Mesh) -> float:
    """The volume of a surface as it is [mm3]: flakes and copies left away, its closed bodies turned outward and united.

    What is not closed counts as if every hole were covered by a fan about its middle, which is a rough figure.
    """
    parts = list(bodies(mesh))
    specks = set(flakes(parts))
    closed: list[Mesh] = []
    rest: list[Mesh] = []
    for k, part in enumerate(parts):
        if k not in specks:
            (closed if len(part.faces) >= FEWEST_FACES and faults(part).sound else rest).append(part)
    copies = set(repeats(closed))
    closed = list(turned_out([part for k, part in enumerate(closed) if k not in copies])[0])
    if len(closed) > 1:
        closed = [unite(closed)[0]]
    rough = abs(sum(fanned_mm3(agreeing(part)[0]) for part in rest))
    return sum(part.volume_mm3 for part in closed) + rough


def mend_file(
    file: Path,
    *,
    units: str | None,
    steps: Collection[Step] = (),
    leave_out: Sequence[str] = (),
    tell: Callable[[str], None],
    shop: Shop | None = None,
) -> Mending:
    """Find what is wrong with a pattern file and mend it, in memory.

    Parameters
    ----------
    steps : what may be done; all if none is named
    leave_out : bodies that are not cast, besides those that their names tell
    shop : the studio; the usual one if it is left out

    Raises
    ------
    BadFileError, BadRequestError for a file that cannot be read or holds nothing to cast.
    """
    library = (shop or open_shop()).library
    tell(f"Reading {file.name}")
    found = read_safely(file, units=unit_of_files(units))
    meshes, out = cast_of([(body.name, body.mesh) for body in found.bodies], leave_out)
    tell("Looking for faults")
    whole = joined(meshes)
    before = find_faults(whole)
    tell("Mending")
    done = mend(meshes, steps or ALL_STEPS)
    tell("Comparing before and after")
    return Mending(
        file=file,
        before=before,
        after=find_faults(done.mesh) if done.mesh else (),
        changes=done.changes,
        left_out=out,
        body_count=len(found.bodies),
        triangle_count=len(done.mesh.faces) if done.mesh else 0,
        volume_before_mm3=metal_mm3(whole),
        volume_mm3=metal_mm3(done.mesh) if done.mesh else 0.0,
        moved=moved(done.kept, done.mesh) if done.mesh and done.changes else None,
        original=whole,
        mesh=done.mesh,
        apart=asunder(done.mesh) if done.mesh else None,
        moved_limit_mm=library.rule("mend_moved_mm"),
        volume_limit_fraction=library.rule("mend_volume_fraction"),
    )


def draw_mending(mending: Mending, folder: Path, *, replace: bool) -> tuple[Path, ...]:
    """Write pictures of the piece before and after, each by one camera, and close-ups of the places, into a folder.

    None where nothing was or can be mended.

    Raises OutputError if they cannot be written.
    """
    if mending.mesh is None or not mending.needed:
        return ()
    was = weld(mending.original)
    scene = Scene(id="", name=shown_name(mending.file.stem), surface=smooth(was), axes=broadside(was))
    spots = [_spot(fault) for fault in mending.before if fault.kind in TO_MEND]
    return write_before_and_after(scene, mending.mesh, folder, says=("as read", "mended"), spots=spots, replace=replace)


def _spot(fault: Fault) -> Spot:
    """A place that is mended, for its picture."""
    (says,) = faults_told([fault])
    code = fault.kind.value.replace(" ", "-")
    return Spot(code=code, severity=Severity.NOTE, at_mm=fault.at_mm, says=f"As read: {spelt_out(says)}.")


def write_mended(mending: Mending, out: Path, *, replace: bool) -> None:
    """Write the mended pattern as binary STL in mm, whole or not at all.

    Raises OutputError if it cannot be written, BadRequestError if there is no sound pattern to write.
    """
    mesh = solid_of(mending)
    check_mending(mending.file, out, replace=replace)
    write_file(out, mesh_bytes(mesh, ENDING), replace=replace)


def solid_of(mending: Mending) -> Mesh:
    """The mended solid. Raises BadRequestError if there is none."""
    if mending.mesh is None:
        raise BadRequestError(
            f"{mending.file.name} cannot be mended so.",
            why="What is left encloses no volume for certain.",
            try_this="Allow every step, or export the piece again as a closed solid.",
        )
    return mending.mesh
