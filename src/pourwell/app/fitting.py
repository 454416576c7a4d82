"""A pattern made to a wanted ring size: scaled, or with its bore alone moved; as a new file, if one is asked for."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pourwell.app.checking import Checked, measure_pieces, unit_of_files
from pourwell.app.pictures import write_before_and_after
from pourwell.app.shapes import can_be_written, write_pattern
from pourwell.app.shop import Shop, open_shop
from pourwell.errors import BadRequestError, OutputError
from pourwell.geometry.bore import Cylinder
from pourwell.geometry.bore_offset import MOST_SHARE, scaled_about, wall_behind, with_bore_moved
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.rays import Caster
from pourwell.materials.model import Alloy, PatternMaterial
from pourwell.request import PieceRequest
from pourwell.sheets.scene import scene_of
from pourwell.steps.pattern.model import Bore, Pattern
from pourwell.steps.pattern.plan import PatternSource, measure
from pourwell.steps.pattern.ranges import ends

Way = Literal["scale", "offset"]
Telling = Callable[[str], None]

SCALED_SHARE = 0.02
"""A piece that is scaled by more than this is told so first: own choice; a stone of 5 mm rattles in its seat, or is too big."""

SEAT_MM = 5.0
"""The seat of a round stone of half a carat, by which a scale is shown."""

SAME_MM = 0.005
"""A wall that changes by less is the same wall: half of what is shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A pattern before and after."""

    before: Checked
    after: Checked
    way: Way
    scale_ratio: float | None
    """The factor of a scale."""
    offset_mm: float | None
    """How far the bore's surface moves outward."""
    file: str
    """The file written; empty if none was asked for."""

    @property
    def rows(self) -> list[tuple[str, str, str]]:
        """What changes: name, before and after, remark."""
        old, new = self.before.pattern.piece, self.after.pattern.piece
        bore, fitted = _bore(self.before.pattern), _bore(self.after.pattern)
        how = f"scaled by {self.scale_ratio:.4f}" if self.scale_ratio else f"bore moved by {self.offset_mm:+.3f} mm all round"

        rows = [
            ("way", self.way, how),
            ("bore", _both(bore.diameter_mm, fitted.diameter_mm, ".2f") + " mm", f"US {bore.sizes.us} -> {fitted.sizes.us}"),
            (
                "finished bore",
                _both(bore.finished_mm, fitted.finished_mm, ".2f") + " mm",
                f"US {fitted.finished_sizes.us}, UK {fitted.finished_sizes.uk}, ISO {fitted.finished_sizes.iso}; "
                f"{fitted.finished_low_mm:.2f} to {fitted.finished_high_mm:.2f} mm",
            ),
            ("drawn to finished", f"{fitted.finished_mm - fitted.diameter_mm:+.2f} mm", _parts(fitted)),
            ("thinnest wall", _both(old.wall.thinnest_mm, new.wall.thinnest_mm, ".2f") + " mm", f"least {new.wall.limit_mm:g}"),
            ("volume", _both(old.volume_mm3, new.volume_mm3, ".1f") + " mm³", ""),
            ("pattern", _both(old.pattern_g, new.pattern_g, ".2f") + " g", ""),
            ("cast", _both(old.metal_g, new.metal_g, ".2f") + " g", self.after.alloy_name),
        ]
        if self.scale_ratio is None:
            return rows
        loud = abs(self.scale_ratio - 1) > SCALED_SHARE
        return [_all_else(self.scale_ratio), *rows] if loud else [*rows, _all_else(self.scale_ratio)]


def _all_else(ratio: float) -> tuple[str, str, str]:
    """What a scale does to everything but the bore, shown on a stone's seat."""
    seat = f"a seat of {SEAT_MM:.1f} mm becomes {SEAT_MM * ratio:.2f} mm"
    return (
        f"all else {'grows' if ratio > 1 else 'shrinks'}",
        f"{ratio - 1:+.1%}".replace("%", " %"),
        f"{seat}, walls and shank in step; where stones are set use --offset or bend the shank in the drawing",
    )


def _both(old: float, new: float, form: str) -> str:
    return f"{old:{form}} -> {new:{form}}"


def _parts(bore: Bore) -> str:
    return ", ".join(f"{part.what} {part.by_mm:+.2f}" for part in bore.parts)


def _bore(pattern: Pattern) -> Bore:
    """The bore of a pattern that has one."""
    bore = pattern.piece.bore
    assert bore is not None
    return bore


def fit_file(
    file: str,
    *,
    size: str,
    out: Path | None,
    offset: bool,
    alloy: str,
    pattern: str,
    units: str | None,
    leave_out: tuple[str, ...] = (),
    tell: Telling,
    shop: Shop | None = None,
) -> Fitted:
    """Fit a pattern file to a finished ring size; write it as a new file if `out` names one.

    What is written is the metal of the piece as one solid, in millimetres; the file itself is left as it is. `leave_out` names
    bodies that are not cast. The studio is the usual one if no `shop` is given.

    Raises
    ------
    BadFileError, BadRequestError, UnknownNameError; OutputError if `out` exists. BadRequestError also where the piece has no
    finger bore, where a stop must be set right first, or where an offset leaves a wall too thin.
    """
    if out is not None:
        can_be_written(out, replace=False)
        if out.resolve() == Path(file).resolve():
            raise OutputError(f"{out} is the file itself.", try_this="Name another with --out.")
    shop = shop or open_shop()
    row, material, unit = shop.library.alloy(alloy), shop.library.pattern(pattern), unit_of_files(units)
    asked = PieceRequest(file=Path(file), units=unit, size=size, leave_out=leave_out)
    ((drawn, found),) = measure_pieces([asked], alloy=row, material=material, shop=shop, tell=tell)
    before = Checked(pattern=drawn, findings=found, alloy_name=row.name)
    bore = _ring(before, shop)
    tell("Fitting it")
    way: Way = "offset" if offset else "scale"
    mesh = _moved(drawn.mesh, bore) if offset else _scaled(drawn.mesh, bore)
    after = _again(mesh, before, shop, alloy=row, material=material)
    if offset:
        _refuse_thin(before, after)
    if out is not None:
        write_pattern(mesh, out)
    return Fitted(
        before=before,
        after=after,
        way=way,
        scale_ratio=None if offset else bore.scale_ratio,
        offset_mm=bore.offset_mm if offset else None,
        file=str(out) if out else "",
    )


def draw_fitting(fitted: Fitted, folder: Path, *, replace: bool) -> tuple[Path, ...]:
    """Write pictures of the pattern before and after, each by one camera, into a folder. Raises OutputError."""
    scene, says = scene_of(fitted.before.pattern), ("as read", "scaled" if fitted.way == "scale" else "with its bore moved")
    return write_before_and_after(scene, fitted.after.pattern.mesh, folder, says=says, replace=replace)


def _ring(before: Checked, shop: Shop) -> Bore:
    """The finger bore of a piece that nothing speaks against."""
    bore = before.pattern.piece.bore
    if before.stopped:
        stop = next(f for f in before.findings if f.severity == "stop")
        raise BadRequestError(
            f"{before.pattern.piece.file} cannot be fitted as it is.",
            why=f"It has a stop: {stop.code}.",
            try_this="See `pourwell check`, and set that right first.",
        )
    if bore is None or bore.diameter_mm > ends(shop.library.rules["finger_bore_mm"])[1]:
        raise BadRequestError(
            f"{before.pattern.piece.file} has no finger bore.",
            why="" if bore is None else f"Its opening is {bore.diameter_mm:.1f} mm wide.",
            try_this="Check that the right file and the right unit were named.",
        )
    return bore


def _scaled(mesh: Mesh, bore: Bore) -> Mesh:
    assert bore.scale_ratio is not None
    return scaled_about(mesh, bore.centre_mm, bore.scale_ratio)


def _moved(mesh: Mesh, bore: Bore) -> Mesh:
    assert bore.offset_mm is not None
    cylinder = Cylinder(centre=bore.centre_mm, axis=bore.axis, diameter_mm=bore.diameter_mm)
    wall = wall_behind(Caster(mesh), cylinder)
    try:
        return with_bore_moved(mesh, cylinder, by_mm=bore.offset_mm, wall_mm=wall)
    except ValueError:
        raise BadRequestError(
            f"The bore cannot be widened by {bore.offset_mm:.2f} mm all round.",
            why=f"The band is {wall:.2f} mm thick at its thinnest, of which at most {MOST_SHARE:.0%} can be taken.",
            try_this="Scale it (leave --offset away), or thicken the band in the drawing.",
        ) from None


def _again(mesh: Mesh, before: Checked, shop: Shop, *, alloy: Alloy, material: PatternMaterial) -> Checked:
    """The fitted solid, measured as if it had been read."""
    piece, bore = before.pattern.piece, _bore(before.pattern)
    source = PatternSource(
        name=piece.name,
        file=piece.file,
        count=1,
        bodies=((piece.name, mesh),),
        units="mm",
        units_from="file",
        wanted_mm=bore.wanted_mm,
    )
    pattern, found = measure(source, piece_id=piece.id, alloy=alloy, pattern_material=material, library=shop.library)
    if pattern.piece.bore is None:
        raise BadRequestError("Fitted to that size, no finger goes through it.", try_this="Ask for a larger size.")
    return Checked(pattern=pattern, findings=found, alloy_name=alloy.name)


def _refuse_thin(before: Checked, after: Checked) -> None:
    """An offset takes from the wall behind the bore: what it leaves must fill."""
    old, new = before.pattern.piece.wall, after.pattern.piece.wall
    if new.thinnest_mm < min(new.limit_mm, old.thinnest_mm - SAME_MM):
        raise BadRequestError(
            f"With its bore moved, the wall would be {new.thinnest_mm:.2f} mm thick.",
            why=f"{after.alloy_name} fills {new.limit_mm:g} mm safely; it was {old.thinnest_mm:.2f} mm.",
            try_this="Scale it (leave --offset away), or thicken the band in the drawing.",
        )
