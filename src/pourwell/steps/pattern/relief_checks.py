"""Findings about raised lines: lettering and texture."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Final

from pourwell.findings import Code, Finding, Severity
from pourwell.steps.pattern.faults_told import under

if TYPE_CHECKING:
    from pourwell.steps.pattern.feature_checks import FeatureFacts


def relief_wide(facts: "FeatureFacts") -> Iterator[Finding]:
    """A raised line thinner than what casts and polishes."""
    lines, limit = facts.lettered, facts.detail(facts.rule("relief_width_mm"))
    place = facts.worst(lines, lines.width_mm)
    if place is not None and under(lines.width_mm[place], limit.value):
        finish = facts.rule("finishing_face_mm")
        width = float(lines.width_mm[place])
        yield Finding(
            code="relief-fine",
            severity=Severity.WARN,
            **facts.seen(lines.at_mm[place]),
            says=f"The raised line there is {{l:{width:.2f}}} wide. It fills badly, and polishing, which rounds each edge by about "
            f"{{l:{finish.value:g}}}, leaves {{l:{max(width - 2 * finish.value, 0.0):.2f}}} of its face.",
            do=f"Draw raised lines {{l:{limit.value:g}}} wide or more.",
            measure=f"{width:.2f} mm",
            limit=f"{limit.value:g} mm",
            source=limit.source,
        )


def relief_high(facts: "FeatureFacts") -> Iterator[Finding]:
    """Raised lines so low that filing and polishing take them off."""
    lines, rule = facts.lettered, facts.rule("relief_height_mm")
    place = facts.worst(lines, lines.depth_mm)
    if place is not None and under(lines.depth_mm[place], rule.value):
        height, finish = float(lines.depth_mm[place]), facts.rule("finishing_face_mm")
        yield Finding(
            code="relief-low",
            severity=Severity.NOTE,
            **facts.seen(lines.at_mm[place]),
            says=f"The raised line there stands {{l:{height:.2f}}} high; finishing takes about {{l:{finish.value:g}}} off it, and "
            f"{{l:{max(height - finish.value, 0.0):.2f}}} is left.",
            do=f"Raise it to {{l:{rule.value:g}}} or more.",
            measure=f"{height:.2f} mm",
            limit=f"{rule.value:g} mm",
            source=rule.source,
        )


RELIEF_CODES: Final[tuple[Code, ...]] = (
    Code(code="relief-fine", severities=(Severity.WARN,), about="A raised line too thin to fill and polish"),
    Code(code="relief-low", severities=(Severity.NOTE,), about="A raised line that finishing takes off, or nearly so"),
)
RELIEF_CHECKS: Final[tuple[Callable[["FeatureFacts"], Iterator[Finding]], ...]] = (relief_wide, relief_high)
