"""Findings of the pattern step."""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from pourwell.findings import Code, Finding, Severity
from pourwell.geometry.hollows import Hollow
from pourwell.geometry.places import Fault
from pourwell.geometry.thickness import MOST_FACES, Samples
from pourwell.geometry.thin import Thinnest
from pourwell.materials.library import Library
from pourwell.materials.model import OWN_CHOICE, Alloy, PatternMaterial
from pourwell.steps.pattern.bodies import HULLED, United
from pourwell.steps.pattern.body_checks import BODY_CHECKS, BODY_CODES
from pourwell.steps.pattern.bore_checks import BORE_CODES, bore_findings
from pourwell.steps.pattern.edge_checks import EDGE_CHECKS, EDGE_CODES
from pourwell.steps.pattern.faults_told import near, under
from pourwell.steps.pattern.hollow_checks import HOLLOW_CHECKS, HOLLOW_CODES
from pourwell.steps.pattern.model import Piece, Point
from pourwell.steps.pattern.ranges import ends
from pourwell.steps.pattern.soundness_checks import FILE_FAULT, SOUNDNESS_CHECKS, SOUNDNESS_CODES, digits, names_told
from pourwell.steps.pattern.units_offered import Guess, offered, sized

THINNED: Final = "own choice: time and memory on a small computer"  # source of how many triangles are measured one by one

A_PERCENT: Final = 0.01  # shares under it are not told as a number: by definition
SMALL_MM: Final = 6.0
"""A piece smaller than this with many warnings is suspected of a wrong unit: own choice, below all but studs and links."""

MANY_WARNINGS: Final = 2
"""So many kinds of warning on a small piece are more than bad luck: own choice."""

Doubt = Literal["", "unit", "hull"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facts:
    """What the checks of the pattern look at."""

    piece: Piece
    solid: United
    samples: Samples
    """Where its walls were measured."""
    thin: Thinnest | None
    """The thinnest wall but for wires and raised lines; None where all is these."""
    guesses: tuple[Guess, ...]
    units_from: str
    own_units: str
    remarks: tuple[str, ...]
    step_mm: float
    wanted_mm: float | None
    crossing_mm3: float
    crossed: tuple[Fault, ...]
    """Where a sound solid crosses itself, the deepest first."""
    hollows: tuple[Hollow, ...]
    """Those that open outward only through narrow necks, the largest first."""
    alloy: Alloy
    material: PatternMaterial
    library: Library

    @property
    def units_sure(self) -> bool:
        """Is it as large as jewellery is, or did the user say the unit."""
        return self.piece.doubt != "unit"

    @property
    def stones(self) -> str:
        """What to do if one of several bodies is a stone; empty where that is told already, or there is but one."""
        names = [body.name for body in self.piece.bodies if body.kept]
        if self.solid.stand_in == HULLED:  # loose triangles of one mesh are no bodies
            names = sorted({re.sub(r" \(\d+\)$", "", name) for name in names})
        apart = len(self.solid.apart_mm3) == len(names)  # a stone stands in its setting: links and gears touch nothing
        by_name = len(self.solid.left_out) > len(self.solid.as_asked)  # who names stones has named them all
        if len(names) < 2 or by_name or self.solid.all_named or apart:
            return ""
        return " A stone or a support may be among its bodies: name it so in the drawing, and it is not cast."

    @property
    def overlap(self) -> bool:
        """Do its bodies share more than a trace of their volume."""
        share = self.library.rule("overlap_note_fraction")
        return not self.solid.stand_in and self.piece.overlap_mm3 > share * self.piece.volume_mm3

    @property
    def where(self) -> str:
        """The piece, as the reader finds it."""
        return f"piece {self.piece.id}"

    def near(self, at: Point) -> str:
        """A place on the piece in the frame of its file."""
        return f"{self.where}, {near(at)}"

    def seen(self, what: str) -> dict[str, Any]:
        """Where a finding about a body is to be looked at; without a place where none is known."""
        at = self.solid.at_mm.get(what)
        return {"where": self.near(at) if at else self.where, "at_mm": at}


def doubt_of(size_mm: Point, solid: United, *, units_from: str, library: Library) -> Doubt:
    """Why the figures of a piece are not to be worked by."""
    low, high = ends(library.rules["jewellery_side_mm"])
    if units_from != "user" and not low <= max(size_mm) <= high:
        return "unit"
    return "hull" if solid.stand_in == HULLED else ""


def _number(count: int, one: str, many: str = "") -> str:
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def units_sure(facts: Facts) -> Iterator[Finding]:
    """A size that no jewellery has: the unit is asked for, never guessed."""
    rule = facts.library.rules["jewellery_side_mm"]
    largest = max(facts.piece.envelope_mm)
    low, high = ends(rule)
    if low <= largest <= high:
        return
    bounds: dict[str, Any] = {"measure": f"{digits(largest)} mm", "limit": f"{low:g} to {high:g} mm", "source": rule.source}
    if facts.units_from == "user":
        small = largest < low
        yield Finding(
            code="pattern-tiny" if small else "pattern-large",
            severity=Severity.NOTE,
            where=facts.where,
            says=f"In {facts.piece.units}, as you said, it measures {sized(facts.piece.envelope_mm)}: "
            f"{'smaller' if small else 'larger'} than a piece of jewellery usually is.",
            do="Check the unit once more against a dimension that you know.",
            **bounds,
        )
        return
    taken = f"as the file says ({facts.own_units})" if facts.own_units else "taken as mm, for the file does not say"
    yield Finding(
        code="units-doubtful",
        severity=Severity.STOP,
        where=facts.where,
        says=f"It measures {sized(facts.piece.envelope_mm)}, {taken}: no piece of jewellery has that size. Walls and bore are not "
        "judged, and every figure is in doubt, until the unit is sure.",
        do=f"{offered(facts.guesses)} If {facts.piece.units} is right, say that.{'' if facts.solid.unsound else facts.stones}",
        **bounds,
    )


def units_suspect(facts: Facts, told: Sequence[Finding]) -> Iterator[Finding]:
    """Very small, and many warnings: most likely all of them come from a wrong unit.

    Parameters
    ----------
    told : everything else that is told about the piece
    """
    kinds = {finding.code for finding in told if finding.severity is Severity.WARN}
    largest = max(facts.piece.envelope_mm)
    if facts.units_from == "user" or not facts.units_sure or largest >= SMALL_MM or len(kinds) < MANY_WARNINGS:
        return
    yield Finding(
        code="units-suspect",
        severity=Severity.WARN,
        where=facts.where,
        says=f"It is only {{l:{digits(largest)}}} large, and there are {len(kinds)} kinds of warning about it: most likely its "
        "unit is wrong, and with it every other line here.",
        do=f"Measure one dimension that you know. {offered(facts.guesses)} If {facts.piece.units} is right, say that.",
        measure=f"{digits(largest)} mm",
        limit=f"{SMALL_MM:g} mm",
        source=OWN_CHOICE,
    )


def units_told(facts: Facts) -> Iterator[Finding]:
    """The user's unit beats the file's, and that is said."""
    if facts.units_from == "user" and facts.own_units and facts.own_units != facts.piece.units:
        yield Finding(
            code="units-overruled",
            severity=Severity.NOTE,
            where=facts.where,
            says=f"The file says {facts.own_units}; it was taken in {facts.piece.units}, as you said: "
            f"{sized(facts.piece.envelope_mm)}.",
            do="Check one dimension that you know.",
        )


def file_odd(facts: Facts) -> Iterator[Finding]:
    """What the reader found odd."""
    for remark in facts.remarks:
        yield Finding(
            code="pattern-file-odd",
            severity=Severity.NOTE,
            where=facts.where,
            says=remark,
            do="Nothing, if volume and picture are as you expect; else export it again.",
        )


def mesh_thinned(facts: Facts) -> Iterator[Finding]:
    """Of a very fine mesh not every triangle is measured, and that is said."""
    count, spared = len(facts.samples.owner), facts.samples.spared_count
    if spared:
        yield Finding(
            code="mesh-very-fine",
            severity=Severity.NOTE,
            where=facts.where,
            says=f"Its surface has {count:,} triangles, more than are measured one by one: walls, gaps and details were measured "
            f"on {count - spared:,} of them, about {{l:{facts.samples.apart_mm:.2f}}} apart, and each speaks for the neighbours "
            "that look its way. Volume and weight are of all.",
            do="Nothing, as a rule: only what is finer than that may be missed. To have each triangle measured, export it coarser.",
            measure=f"{count:,} triangles",
            limit=f"{MOST_FACES:,} triangles",
            source=THINNED,
        )


def bodies_apart(facts: Facts) -> Iterator[Finding]:
    """Solids that do not touch: one sprue reaches only one of them."""
    apart = facts.solid.apart_mm3
    if len(apart) > 1 and not facts.solid.unsound:
        least = apart[-1]
        yield Finding(
            code="pattern-apart",
            severity=Severity.STOP,
            **facts.seen("apart"),
            says=f"It consists of {_number(len(apart), 'solid')} that do not touch, of {digits(apart[0])} to {digits(least)} "
            "mm³: a sprue feeds only the one that it stands on, and the others stay empty.",
            do="Save each as a file of its own and give counts; or join them in the drawing, if they were meant to touch; "
            "or leave out those that are not cast, under leave_out in a job file.",
            measure=_number(len(apart), "solid"),
            source=FILE_FAULT,
        )


def bodies_overlap(facts: Facts) -> Iterator[Finding]:
    """Bodies that overlap are counted once."""
    piece, rule = facts.piece, facts.library.rules["overlap_note_fraction"]
    if facts.overlap:
        separate = piece.volume_mm3 + piece.overlap_mm3
        yield Finding(
            code="pattern-overlap",
            severity=Severity.NOTE,
            **facts.seen("overlap"),
            says=f"Its bodies overlap: one by one they add to {separate:.1f} mm³, united they are {piece.volume_mm3:.1f} mm³. "
            "The united solid is what is weighed and cast.",
            do=f"Nothing, if all of it is metal. Programs that add up the bodies show a larger weight.{facts.stones}",
            measure=f"{piece.overlap_mm3:.1f} mm³",
            limit=f"{rule.value:.1%} of the volume",
            source=rule.source,
        )


def bodies_doubled(facts: Facts) -> Iterator[Finding]:
    """A body that is there twice, in the same place, counts once."""
    if facts.solid.doubled:
        yield Finding(
            code="pattern-doubled",
            severity=Severity.NOTE,
            **facts.seen("doubled"),
            says=f"The same body stands twice in the same place: {names_told(facts.solid.doubled)}. It is counted once.",
            do="Delete the copy in the drawing when you are at it.",
            measure=_number(len(facts.solid.doubled), "copy", "copies"),
        )


def bodies_turned(facts: Facts) -> Iterator[Finding]:
    """A closed body wound inside out encloses its volume all the same."""
    if facts.solid.turned:
        yield Finding(
            code="pattern-inside-out",
            severity=Severity.NOTE,
            **facts.seen("turned"),
            says=f"Its surface is inside out and was turned: {names_told(facts.solid.turned)}. Its volume is not in doubt.",
            do="Look at the picture: if it shows a hollow that you drew, the outer shell is missing from the file.",
        )


def _thick(found: Thinnest) -> str:
    """How thick the wall is, by the lesser figure; by both, where they do not tell one wall."""
    if found.agree or found.balls is None:
        return f"The wall is {{l:{found.place.wall_mm:.2f}}} thick"
    rays, balls = f"{{l:{found.rays.wall_mm:.2f}}}", f"{{l:{found.balls.wall_mm:.2f}}}"
    return f"Rays across the metal find it {rays} thick, the largest ball that fits in finds {balls}: look there yourself"


def walls_thick(facts: Facts) -> Iterator[Finding]:
    """A wall thinner than this alloy usually fills."""
    found, limit = facts.thin, facts.alloy.min_wall_mm
    if found is None or facts.piece.doubt:
        return
    thin = found.place
    share = min(thin.under_mm2 / facts.piece.area_mm2, 1.0)
    if under(thin.wall_mm, limit.value):
        yield Finding(
            code="wall-thin",
            severity=Severity.WARN,
            where=facts.near(thin.at_mm),
            at_mm=thin.at_mm,
            says=f"{_thick(found)}; {facts.alloy.name} fills {{l:{limit.value:g}}} safely. "
            f"{'Less than 1%' if share < A_PERCENT else f'{share:.0%}'} of the surface, {thin.under_mm2:.0f} mm², is under that.",
            do=f"Thicken it to {{l:{limit.value:g}}} in the drawing; else cast with a hotter flask, feed close to it, and expect "
            "some not to fill.",
            measure=f"{thin.wall_mm:.2f} mm",
            limit=f"{limit.value:g} mm",
            source=limit.source,
        )


def bores_told(facts: Facts) -> Iterator[Finding]:
    """What is to be known about the bores."""
    if facts.units_sure:
        yield from bore_findings(facts.piece, facts.wanted_mm, facts.library)


CODES: tuple[Code, ...] = (
    *SOUNDNESS_CODES,
    Code(code="units-doubtful", severities=(Severity.STOP,), about="No piece of jewellery has that size: which unit"),
    Code(code="pattern-tiny", severities=(Severity.NOTE,), about="Smaller than jewellery is, in the unit that the user said"),
    Code(code="pattern-large", severities=(Severity.NOTE,), about="Larger than jewellery is, in the unit that the user said"),
    Code(code="units-overruled", severities=(Severity.NOTE,), about="The user's unit was taken, not the file's"),
    Code(code="units-suspect", severities=(Severity.WARN,), about="Very small with many warnings: most likely the wrong unit"),
    Code(code="pattern-file-odd", severities=(Severity.NOTE,), about="The reader found something odd"),
    Code(code="mesh-very-fine", severities=(Severity.NOTE,), about="Not every triangle of a very fine mesh was measured"),
    Code(code="pattern-apart", severities=(Severity.STOP,), about="Solids that do not touch: no sprue feeds them all"),
    Code(code="pattern-overlap", severities=(Severity.NOTE,), about="Bodies overlap and were united"),
    *BODY_CODES,
    Code(code="pattern-doubled", severities=(Severity.NOTE,), about="A body is there twice"),
    Code(code="pattern-inside-out", severities=(Severity.NOTE,), about="A body was inside out"),
    *HOLLOW_CODES,
    Code(code="wall-thin", severities=(Severity.WARN,), about="A wall thinner than the alloy fills"),
    *EDGE_CODES,
    *BORE_CODES,
)

CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (
    units_sure,
    *SOUNDNESS_CHECKS,
    units_told,
    file_odd,
    mesh_thinned,
    bodies_apart,
    bodies_overlap,
    *BODY_CHECKS,
    bodies_doubled,
    bodies_turned,
    *HOLLOW_CHECKS,
    walls_thick,
    *EDGE_CHECKS,
    bores_told,
)


def findings(facts: Facts) -> tuple[Finding, ...]:
    """All findings of the pattern step, in the order of the checks."""
    return tuple(finding for check in CHECKS for finding in check(facts))
