"""Findings about the bodies of a file: which are cast, and which were perhaps not meant to be."""

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Final

from pourwell.findings import Code, Finding, Severity
from pourwell.steps.pattern.soundness_checks import names_told

if TYPE_CHECKING:
    from pourwell.steps.pattern.checks import Facts

RENAME: Final = "If one of them is metal, give it another name in the drawing."
WHICH: Final = "If one is not, name it under leave_out in a job file."
AGAIN: Final = "If one of them is metal, leave it out no longer."


def bodies_nested(facts: "Facts") -> Iterator[Finding]:
    """A body within a body, turned outward: the metal is counted once, and no hollow is left."""
    pairs, rule = facts.solid.nested, facts.library.rules["void_warn_fraction"]
    volume = sum(pair.volume_mm3 for pair in pairs)
    if pairs and volume > rule.value * facts.piece.volume_mm3:
        inner, outer = pairs[0].inner, pairs[0].outer
        more = f", and {len(pairs) - 1} more in theirs" if len(pairs) > 1 else ""
        yield Finding(
            code="pattern-nested",
            severity=Severity.NOTE,
            **facts.seen("nested"),
            says=f'"{inner}" lies wholly within "{outer}"{more}, with its surface outward: the piece is taken as solid there, '
            f"{volume:.1f} mm³ of it.",
            do="Nothing, if it is meant to be solid. If it is meant as a hollow, cut it out of the outer body in the drawing, "
            f"and open it with two holes of at least {{l:{facts.library.rule('drain_hole_mm'):g}}}.",
            measure=f"{volume:.1f} mm³",
            limit=f"{rule.value:.1%} of the volume",
            source=rule.source,
        )


def bodies_joined(facts: "Facts") -> Iterator[Finding]:
    """Bodies that only touch are one piece of metal, whatever they were drawn as."""
    piece = facts.piece
    sizes = sorted((body.volume_mm3 for body in piece.bodies if body.kept and body.volume_mm3 > 0), reverse=True)
    if len(sizes) < 2 or not facts.stones or facts.overlap or facts.solid.unsound or piece.doubt:
        return
    yield Finding(
        code="bodies-joined",
        severity=Severity.NOTE,
        where=facts.where,
        says=f"It is of {len(sizes):,} bodies that touch, and all of them are weighed and cast: the second largest is "
        f"{sizes[1]:.1f} mm³, {sizes[1] / piece.volume_mm3:.0%} of the metal.",
        do=f"Nothing, if all of it is metal.{facts.stones}",
        measure=f"{len(sizes):,} bodies",
    )


def bodies_left_out(facts: "Facts") -> Iterator[Finding]:
    """Stones and supports are not cast, and which bodies were taken for such is told."""
    solid = facts.solid
    if not solid.left_out and not solid.all_named:
        return
    out = [(body.name, abs(body.volume_mm3)) for body in facts.piece.bodies if not body.kept]
    asked = [one for one in out if one[0] in solid.as_asked]
    by_name = [one for one in out if one not in asked]
    said = [
        f"{names_told([name for name, _ in some])} ({sum(mm3 for _, mm3 in some):.1f} mm³) {_is(some)} not cast: {why}."
        for some, why in ((by_name, "left out by name"), (asked, "you left it out" if len(asked) == 1 else "you left them out"))
        if some
    ]
    every = ["Every body is named as a stone or a support, so all are cast."] if solid.all_named else []
    still = "The file still holds what is left out: take it out of the file before that is printed. " if out else ""
    yield Finding(
        code="bodies-left-out",
        severity=Severity.NOTE,
        where=facts.where,
        says=" ".join([*said, *every]),
        do=still + (RENAME if by_name else WHICH if solid.all_named else AGAIN),
        measure=f"{sum(mm3 for _, mm3 in out):.1f} mm³",
    )


def _is(some: Sequence[object]) -> str:
    return "is" if len(some) == 1 else "are"


BODY_CODES: Final[tuple[Code, ...]] = (
    Code(code="pattern-nested", severities=(Severity.NOTE,), about="A body lies within another and counts as metal"),
    Code(code="bodies-joined", severities=(Severity.NOTE,), about="Bodies touch, and all of them are cast"),
    Code(code="bodies-left-out", severities=(Severity.NOTE,), about="Stones and supports are not cast"),
)
BODY_CHECKS: Final[tuple[Callable[["Facts"], Iterator[Finding]], ...]] = (bodies_nested, bodies_joined, bodies_left_out)
