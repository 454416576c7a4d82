"""Findings about a body that lies within another: is it metal, or was it meant as a hollow."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Final

from pourwell.findings import Code, Finding, Severity

if TYPE_CHECKING:
    from pourwell.steps.pattern.checks import Facts


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


NESTED_CODES: Final[tuple[Code, ...]] = (
    Code(code="pattern-nested", severities=(Severity.NOTE,), about="A body lies within another and counts as metal"),
)
NESTED_CHECKS: Final[tuple[Callable[["Facts"], Iterator[Finding]], ...]] = (bodies_nested,)
