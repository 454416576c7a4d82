"""Check and measure pattern files without planning a run."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from pourwell.app.letters import letter
from pourwell.app.shop import Shop, open_shop
from pourwell.app.work import side_by_side
from pourwell.errors import BadRequestError
from pourwell.files.patterns import shown_name
from pourwell.files.worker import read_safely
from pourwell.findings import Finding, Severity
from pourwell.materials.model import Alloy, PatternMaterial
from pourwell.request import PieceRequest, Unit
from pourwell.steps.pattern.bodies import united
from pourwell.steps.pattern.model import MM_PER_UNIT, Bore, BoreInside, Pattern, Piece, Sizes
from pourwell.steps.pattern.plan import PatternSource, measure
from pourwell.steps.pattern.ranges import ends
from pourwell.steps.pattern.sizes import diameter_of
from pourwell.steps.pattern.soundness_checks import digits

A_TENTH_MM = 0.1  # widths are shown to a tenth
FINER_G = 0.2  # under it a hundredth of a gram would hide more than a fine scale shows
DASH = "\u2014"
STOPPED = "A finding below stops this pattern."
UNIT_FIRST = "No figure here is to be worked by: the unit is in doubt."
SKIN_FIRST = "Every figure here is that of a stand-in, a skin stretched over the file's surface: none is to be worked by."
NO_UNIT = "not told: the unit is in doubt"
NO_SOLID = "not told: only a skin stretched over loose triangles could be measured"
UNITS: tuple[Unit, ...] = ("mm", "cm", "m", "um", "inch", "foot")


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """One file, measured."""

    pattern: Pattern
    findings: tuple[Finding, ...]
    alloy_name: str
    finger_mm: float = math.inf
    """The widest opening that is told as a ring size."""

    @property
    def stopped(self) -> bool:
        """Does this file stop a run."""
        return any(f.severity is Severity.STOP for f in self.findings)

    @property
    def lead(self) -> str:
        """What is to be known before any figure is read: that it is stopped, and what its figures are; else empty."""
        figures = {"": "", "unit": UNIT_FIRST, "hull": SKIN_FIRST}[self.pattern.piece.doubt]
        return " ".join(words for words in (STOPPED if self.stopped else "", figures) if words)

    @property
    def doubtful(self) -> str:
        """Why the figures are not to be worked by; empty if nothing is against them."""
        return {"": "", "unit": NO_UNIT, "hull": NO_SOLID}[self.pattern.piece.doubt]

    @property
    def rows(self) -> list[tuple[str, str, str]]:
        """What was measured: name, figure, remark."""
        piece = self.pattern.piece
        if self.doubtful:
            return _doubtful_rows(piece, self.doubtful)
        wall, bore = piece.wall, piece.bore
        x, y, z = piece.envelope_mm
        rows = [
            ("size", f"{x:.1f} x {y:.1f} x {z:.1f} mm", f"{piece.triangle_count} triangles, numbers taken as {piece.units}"),
            ("volume", f"{piece.volume_mm3:.1f} mm³", f"surface {piece.area_mm2:.0f} mm²"),
            (
                "pattern",
                f"{_grams(piece.pattern_g)[0]} g",
                f"{' to '.join(_grams(piece.pattern_low_g, piece.pattern_high_g))} on the scale",
            ),
            (
                "cast",
                f"{_grams(piece.metal_g)[0]} g",
                f"{self.alloy_name}; {' to '.join(_grams(piece.metal_low_g, piece.metal_high_g))}",
            ),
            (
                "finished",
                f"{' to '.join(_grams(piece.finished_low_g, piece.finished_high_g))} g",
                "after cutting off, filing, polishing",
            ),
            (
                "wall, edges left out",
                f"{wall.thinnest_mm:.2f} to {wall.thickest_mm:.2f} mm",
                f"mostly {wall.typical_mm:.2f}; least for this alloy {wall.limit_mm:g}",
            ),
        ]
        if wall.edge_mm is not None:
            rows.append(("edge", f"{wall.edge_mm:.2f} mm", f"over {wall.edge_length_mm:.0f} mm; thicker metal carries it"))
        if bore:
            rows += bore_rows(bore) if bore.diameter_mm <= self.finger_mm else opening_rows(bore)
        rows += [(f"bore {k}", f"{b.diameter_mm:.2f} mm", _sizes_words(b.sizes)) for k, b in enumerate(piece.other_bores, start=2)]
        return rows


def _doubtful_rows(piece: Piece, reason: str) -> list[tuple[str, str, str]]:
    """What can be said of a piece whose figures are not to be worked by: name, figure or dash, remark."""
    x, y, z = piece.envelope_mm
    counted = f"{piece.triangle_count} triangles"
    if piece.doubt == "unit":
        per = MM_PER_UNIT[piece.units]
        known = [
            (
                "size",
                DASH,
                f"{counted}; {reason}: the file's own numbers span {' x '.join(digits(side / per) for side in (x, y, z))}",
            ),
            ("volume", DASH, reason),
            ("cast", DASH, reason),
        ]
    else:
        known = [
            ("size", f"{x:.1f} x {y:.1f} x {z:.1f} mm", f"{counted}, numbers taken as {piece.units}"),
            ("volume", f"at most {piece.volume_mm3:.1f} mm³", "of a skin stretched over it"),
            ("cast", f"at most {piece.metal_high_g:.2f} g", "of that skin"),
        ]
    return known + [(name, DASH, reason) for name in ("wall", *(["bore"] if piece.bore else []))]


def _grams(*weights_g: float) -> list[str]:
    """Weights side by side, with a third decimal where the least is so small that two would hide the difference [g]."""
    return [f"{weight:.{3 if min(weights_g) < FINER_G else 2}f}" for weight in weights_g]


def opening_rows(bore: Bore) -> list[tuple[str, str, str]]:
    """The opening of a bangle, as drawn and as it will be: no finger's, so neither a ring size nor a finger's allowance."""
    rows = [("opening", f"{bore.diameter_mm:.2f} mm", "no finger's: no ring size")]
    if bore.inside:
        rows.append(("band", f"{bore.inside.width_mm:.1f} mm wide", _inside_words(bore.inside)))
    rows.append(("finished opening", f"{bore.finished_mm:.2f} mm", f"{bore.finished_low_mm:.2f} to {bore.finished_high_mm:.2f}"))
    return rows


def bore_rows(bore: Bore) -> list[tuple[str, str, str]]:
    """A bore as it is drawn, what it will be, what makes the difference, and what gives the wanted size: name, figure, remark."""
    low, high = bore.finished_low_sizes, bore.finished_high_sizes
    rows = [("bore", f"{bore.diameter_mm:.2f} mm", _sizes_words(bore.sizes))]
    if bore.inside:
        rows.append(("band", f"{bore.inside.width_mm:.1f} mm wide", _inside_words(bore.inside)))
    rows += [
        (
            "finished bore",
            f"{bore.finished_mm:.2f} mm",
            f"{_sizes_words(bore.finished_sizes)}; ISO {low.iso} to {high.iso}, US {low.us} to {high.us}",
        ),
        (
            "drawn to finished",
            f"{bore.finished_mm - bore.diameter_mm:+.2f} mm",
            ", ".join(f"{part.what} {part.by_mm:+.2f}" for part in bore.parts),
        ),
    ]
    if bore.wide_around_mm >= A_TENTH_MM:
        band = f"{bore.wide_around_low_mm:.1f} to {bore.wide_around_high_mm:.1f}"
        remark = f"around ({band}) for a finger measured with a narrow gauge; not added"
        rows.append(("for a wide band", f"{bore.wide_around_mm:+.1f} mm", remark))
    if bore.scale_ratio and bore.scale_low_ratio and bore.scale_high_ratio:
        rows.append(("scale for the size", f"{bore.scale_ratio:.4f}", f"{bore.scale_low_ratio:.4f} to {bore.scale_high_ratio:.4f}"))
    if bore.offset_mm is not None and bore.offset_low_mm is not None and bore.offset_high_mm is not None:
        remark = f"all round; {bore.offset_low_mm:+.2f} to {bore.offset_high_mm:+.2f}"
        rows.append(("or offset of the bore", f"{bore.offset_mm:+.2f} mm", remark))
    return rows


def _inside_words(inside: BoreInside) -> str:
    """What a band is inside, in a line."""
    curve = f", rises {abs(inside.rise_mm):.2f}, radius {inside.curve_mm:.1f}" if inside.curve_mm else ""
    words = {
        "flat": "flat inside",
        "comfort": f"comfort curve inside{curve}",
        "hollow": f"hollow inside{curve}",
        "tapered": f"tapered inside by {inside.taper_mm:.2f}",
    }
    said = [words[inside.profile], f"round within {inside.out_of_round_mm:.2f}"]
    if inside.width_most_mm - inside.width_least_mm > A_TENTH_MM:
        said.append(f"{inside.width_least_mm:.1f} to {inside.width_most_mm:.1f} wide")
    if inside.open_deg:
        said.append(f"open over {inside.open_deg:.0f}°")
    if inside.pierced_deg:
        said.append(f"split or pierced over {inside.pierced_deg:.0f}°")
    return "; ".join(said)


def _sizes_words(sizes: Sizes) -> str:
    return f"ISO {sizes.iso}, US {sizes.us}, UK {sizes.uk}"


def unit_of_files(text: str | None) -> Unit | None:
    """The unit that a user names. Raises BadRequestError with those there are."""
    if text is None:
        return None
    for unit in UNITS:
        if text.strip().lower() in (unit, {"inch": "in", "foot": "ft"}.get(unit, unit)):
            return unit
    raise BadRequestError(f'"{text}" is no unit of pattern files.', try_this=f"Take one of {', '.join(UNITS)}.")


def measure_pieces(
    pieces: Sequence[PieceRequest], *, alloy: Alloy, material: PatternMaterial, shop: Shop, tell: Callable[[str], None]
) -> list[tuple[Pattern, tuple[Finding, ...]]]:
    """Read and measure each kind of piece."""
    wanted = [diameter_of(p.size) if p.size else None for p in pieces]

    def read_and_measure(number: int) -> tuple[Pattern, tuple[Finding, ...]]:
        asked = pieces[number]
        tell(f"Reading and measuring {asked.file.name}")
        file = read_safely(asked.file, units=asked.units)
        solid = united([(body.name, body.mesh) for body in file.bodies], asked.leave_out)
        source = PatternSource(
            name=asked.name or shown_name(asked.file.stem),
            file=shown_name(asked.file.name),
            count=asked.count,
            bodies=(),
            units=file.units,
            units_from=file.units_from,
            own_units=file.own_units,
            remarks=file.remarks,
            step_mm=file.step_mm,
            leave_out=asked.leave_out,
            wanted_mm=wanted[number],
            sprue_at_mm=asked.sprue_at_mm,
        )
        del file  # two million triangles as the file has them take 200 MB
        return measure(source, piece_id=letter(number), alloy=alloy, pattern_material=material, library=shop.library, solid=solid)

    return side_by_side(read_and_measure, range(len(pieces)))


def check_files(
    files: Sequence[str], *, alloy: str, pattern: str, units: str | None, size: str | None, tell: Callable[[str], None]
) -> list[Checked]:
    """Check and measure files. Raises BadFileError, BadRequestError, UnknownNameError."""
    shop = open_shop()
    row, material = shop.library.alloy(alloy), shop.library.pattern(pattern)
    unit = unit_of_files(units)
    pieces = [PieceRequest(file=Path(f), units=unit, size=size) for f in files]
    measured = measure_pieces(pieces, alloy=row, material=material, shop=shop, tell=tell)
    finger_mm = ends(shop.library.rules["finger_bore_mm"])[1]
    return [Checked(pattern=p, findings=found, alloy_name=row.name, finger_mm=finger_mm) for p, found in measured]
