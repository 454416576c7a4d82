"""Findings about thin edges, which the metal beside them carries but which print and fill badly."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Final

from pourwell.findings import Code, Finding, Severity

if TYPE_CHECKING:
    from pourwell.steps.pattern.checks import Facts


def edges_thick(facts: "Facts") -> Iterator[Finding]:
    """An edge that tapers to nothing, or nearly so, over some length."""
    wall, rule = facts.piece.wall, facts.library.rules["edge_least_mm"]
    if wall.edge_mm is None or wall.edge_at_mm is None or facts.piece.doubt or facts.solid.unsound:
        return
    if wall.edge_mm < (rule.value if rule.low is None else rule.low):
        nothing = "nothing" if round(wall.edge_mm, 2) == 0 else f"{{l:{wall.edge_mm:.2f}}}"
        yield Finding(
            code="edge-feather",
            severity=Severity.NOTE,
            where=facts.near(wall.edge_at_mm),
            at_mm=wall.edge_at_mm,
            says=f"The edge tapers to {nothing} over {{l:{wall.edge_length_mm:.0f}}}. It prints ragged, does not fill to the end, "
            "and cuts until it is filed back.",
            do=f"Draw it {{l:{rule.value:g}}} thick or more, or leave metal to file it back.",
            measure=f"{wall.edge_mm:.2f} mm",
            limit=f"{rule.value:g} mm",
            source=rule.source,
        )


EDGE_CODES: Final[tuple[Code, ...]] = (
    Code(code="edge-feather", severities=(Severity.NOTE,), about="An edge that tapers to nothing over some length"),
)
EDGE_CHECKS: Final[tuple[Callable[["Facts"], Iterator[Finding]], ...]] = (edges_thick,)
