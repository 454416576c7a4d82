"""Findings about the surface itself: does it enclose a volume, does it cross itself, what is loose; and what mending does."""

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Final

from pourwell.findings import Code, Finding, Severity
from pourwell.geometry.crossing import MOST_PAIRS
from pourwell.geometry.mending import Deed
from pourwell.geometry.places import GRAVE, FaultKind
from pourwell.steps.pattern.bodies import MENDED
from pourwell.steps.pattern.faults_told import MOST_PLACES, changes_told, faults_told, place_told

if TYPE_CHECKING:
    from pourwell.steps.pattern.checks import Facts

FILE_FAULT: Final = "the file itself"
"""Source of a limit that is no trade figure: a closed surface is closed by definition."""

MOST_NAMES: Final = 6
"""Names that a sentence lists before it says how many more there are: what a reader takes in at a glance."""


MISSING_MM: Final = 10.0
"""Round a hole longer than this is hardly a nick: own choice, as far as round a hole 3 mm wide."""


def names_told(names: Sequence[str]) -> str:
    """Names in a sentence, the first few of many."""
    listed = ", ".join(f'"{name}"' for name in names[:MOST_NAMES])
    rest = len(names) - MOST_NAMES
    return f"{listed} and {rest} more" if rest > 0 else listed


def digits(value: float) -> str:
    """Four significant digits, never as a power of ten."""
    return f"{float(f'{value:.4g}'):f}".rstrip("0").rstrip(".")


def _command(facts: "Facts") -> str:
    """The command that mends this file, as it is typed."""
    name = facts.piece.file
    return f"`pourwell mend {name}`" if " " not in name else f'`pourwell mend "{name}"`'


def mesh_sound(facts: "Facts") -> Iterator[Finding]:
    """A mesh that is no closed solid is never weighed in silence."""
    if not facts.solid.unsound:
        return
    told = [fault for _, fault in facts.solid.unsound]
    counts = (
        (sum(f.open_edge_count for f in told), "open edge (rim of a hole)", "open edges (rims of holes)"),
        (sum(f.nonmanifold_edge_count for f in told), "edge of more than two triangles", "edges of more than two triangles"),
        (sum(f.inconsistent_edge_count for f in told), "edge whose sides disagree", "edges whose sides disagree which way is out"),
        (sum(f.degenerate_count for f in told), "triangle without area", "triangles without area"),
    )
    listed = ", ".join(f"{count:,} {many if count > 1 else one}" for count, one, many in counts if count)
    grave = [place for place in facts.solid.places if place.kind in GRAVE]
    at = grave[0].at_mm if grave else next((fault.at_mm for fault in told if fault.at_mm), None)
    drawing = "in the drawing program (close holes, unify normals, delete inner faces), export it again, and plan anew."
    changes = changes_told(facts.solid.changes)
    yield Finding(
        code="pattern-unsound",
        severity=Severity.STOP,
        where=facts.near(at) if at else facts.where,
        at_mm=at,
        says=f"The mesh of {names_told([name for name, _ in facts.solid.unsound])} does not enclose a volume: "
        f"{'; '.join(faults_told(grave, most=MOST_PLACES if facts.units_sure else 1)) or listed}. "
        f"Every figure of this piece rests on a stand-in, {facts.solid.stand_in}.",
        do=(
            f"Try {_command(facts)}: it {', '.join(changes)}, and writes a copy; look at the places, and check that copy. "
            f"{_missing(facts)}Or mend it {drawing}"
            if changes and facts.solid.stand_in == MENDED
            else f"Mend it {drawing}"
        )
        + facts.stones,
        measure=listed,
        source=FILE_FAULT,
    )


def _missing(facts: "Facts") -> str:
    """A warning where mending would cover a hole so large that a part of the piece must be missing."""
    rims = [place.measure_mm for place in facts.solid.places if place.kind is FaultKind.OPEN]
    if max(rims, default=0.0) <= MISSING_MM or not any(change.deed is Deed.FILLED for change in facts.solid.changes):
        return ""
    return (
        f"But a hole {{l:{max(rims):.2f}}} round may well be a missing part, not a nick: the cover only spans its rim, and nothing "
        "of the part's form comes back. "
    )


def crosses_itself(facts: "Facts") -> Iterator[Finding]:
    """A closed surface that crosses itself counts some of its volume twice, whatever formula is used."""
    piece, rule = facts.piece, facts.library.rules["crossing_stop_fraction"]
    share = facts.crossing_mm3 / piece.volume_mm3
    deep = [place for place in facts.crossed if place.extent_mm >= facts.library.rule("mend_moved_mm")]
    if facts.solid.unsound or not (facts.crossing_mm3 > 0 or deep):
        return
    grave = share > rule.value
    shown = facts.crossed[:1]
    least = "at least " if sum(place.count for place in facts.crossed) >= MOST_PAIRS else ""
    place = f" The largest of {least}{len(facts.crossed)} such places: {place_told(shown[0])}." if len(facts.crossed) > 1 else ""
    yield Finding(
        code="pattern-crosses-itself",
        severity=Severity.STOP if grave else Severity.NOTE,
        where=facts.near(shown[0].at_mm) if shown else facts.where,
        at_mm=shown[0].at_mm if shown else None,
        says=f"Its surface crosses itself: about {digits(facts.crossing_mm3)} mm³ of {digits(piece.volume_mm3)} mm³ "
        f"lie twice in the same place and would be weighed twice, or lie inside out.{place}",
        do=f"Unite the parts in the drawing program and export again; or try {_command(facts)}, which unites the piece with "
        "itself and writes a copy."
        if grave
        else "Look at the place: the weight is hardly touched, but where one side has come through the other the metal has a hole.",
        measure=f"{share:.1%} of the volume",
        limit=f"{rule.value:.1%}",
        source=rule.source,
    )


def flakes_loose(facts: "Facts") -> Iterator[Finding]:
    """Specks that touch nothing are no part of the piece."""
    found = facts.solid.flakes
    if found:
        they, fall, them = ("they touch", "they fall", "them") if len(found) > 1 else ("it touches", "it falls", "it")
        yield Finding(
            code="pattern-flake",
            severity=Severity.NOTE,
            where=facts.near(found[0].at_mm),
            at_mm=found[0].at_mm,
            says=f"{'; '.join(faults_told(found))}: {they} nothing, and no figure counts {them}.",
            do=f"Nothing: {fall} off in the wash. {_command(facts)} leaves {them} away.",
            measure=f"{{l:{found[0].measure_mm:.3f}}}",
        )


def slivers_told(facts: "Facts") -> Iterator[Finding]:
    """Triangles without height: they touch no figure, but nobody can tell which way they face."""
    found = facts.solid.slivers
    if found:
        count = sum(fault.count for fault in found)
        where = f": {'; '.join(faults_told(found))}" if facts.units_sure else ""  # no length before the unit is sure
        yield Finding(
            code="pattern-sliver",
            severity=Severity.NOTE,
            where=facts.near(found[0].at_mm),
            at_mm=found[0].at_mm,
            says=f"{count:,} {'triangles have' if count > 1 else 'triangle has'} no height{where}.",
            do="Nothing for the casting: volume and walls are not touched. A printer's program may stumble over them: export it "
            "again with another fineness if it does.",
            measure=f"{count:,} {'slivers' if count > 1 else 'sliver'}",
        )


def numbers_fine(facts: "Facts") -> Iterator[Finding]:
    """Numbers of single precision step far from the origin, and every corner lies off by half a step."""
    rule, step = facts.library.rules["file_step_mm"], facts.step_mm
    if step > rule.value:
        yield Finding(
            code="pattern-far-off",
            severity=Severity.WARN,
            where=facts.where,
            says=f"It is drawn far from the origin, where the numbers of its file step by {{l:{digits(step)}}}: every corner may "
            "lie off by half of that, and bore, walls and weight with it.",
            do="Move the piece to the origin in the drawing program, and export it again; moving the file that is here brings "
            "nothing back.",
            measure=f"{digits(step)} mm",
            limit=f"{rule.value:g} mm",
            source=rule.source,
        )


SOUNDNESS_CODES: tuple[Code, ...] = (
    Code(code="pattern-unsound", severities=(Severity.STOP,), about="The mesh does not enclose a volume"),
    Code(
        code="pattern-crosses-itself",
        severities=(Severity.STOP, Severity.NOTE),
        about="The surface crosses itself, and counts volume twice",
    ),
    Code(code="pattern-sliver", severities=(Severity.NOTE,), about="Triangles without height in a sound mesh"),
    Code(code="pattern-flake", severities=(Severity.NOTE,), about="A speck that touches nothing and is not counted"),
    Code(
        code="pattern-far-off", severities=(Severity.WARN,), about="Drawn so far from the origin that the file's numbers are coarse"
    ),
)

SOUNDNESS_CHECKS: "tuple[Callable[[Facts], Iterator[Finding]], ...]" = (
    mesh_sound,
    numbers_fine,
    crosses_itself,
    slivers_told,
    flakes_loose,
)
