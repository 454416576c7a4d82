"""Findings about the bores of a piece."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from pourwell.findings import Code, Finding, Severity
from pourwell.materials.library import Library
from pourwell.materials.model import OWN_CHOICE
from pourwell.steps.pattern.faults_told import near
from pourwell.steps.pattern.model import Bore, Piece, Point, Sizes
from pourwell.steps.pattern.sizes import sizes

MOST_PIERCED_DEG: Final = 60.0
"""A band that is split or pierced over more of its way round is not hammered round, for its rails give way: own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoreFacts:
    """What the checks of the bores look at; the unit of the file is sure."""

    piece: Piece
    wanted_mm: float | None
    library: Library

    @property
    def where(self) -> str:
        """The piece, as the reader finds it."""
        return f"piece {self.piece.id}"

    @property
    def ring(self) -> Bore | None:
        """The bore of a finger ring: none in a bangle."""
        rule = self.library.rules["finger_bore_mm"]
        bore = self.piece.bore
        return None if bore is None or bore.diameter_mm > (rule.high or rule.value) else bore

    def near(self, at: Point) -> str:
        """A place on the piece in the frame of its file."""
        return f"{self.where}, {near(at)}"


def there_is_a_bore(facts: BoreFacts) -> Iterator[Finding]:
    """A size is wanted of what no finger goes through, or more than a finger."""
    if facts.wanted_mm is None or facts.ring is not None:
        return
    bore = facts.piece.bore
    what = "no finger goes through this piece" if bore is None else f"its opening of {{l:{bore.diameter_mm:.1f}}} is no finger's"
    yield Finding(
        code="bore-missing",
        severity=Severity.NOTE,
        where=facts.where,
        says=f"A ring size is wanted, but {what}.",
        do="Leave the size away, or check that the right file and the right unit were named.",
    )


def bore_on_size(facts: BoreFacts) -> Iterator[Finding]:
    """The finished bore against the wanted one, with the scale and the offset that hit it."""
    bore, rule = facts.ring, facts.library.rules["bore_tolerance_mm"]
    if bore is None or facts.wanted_mm is None or bore.scale_ratio is None or bore.offset_mm is None:
        return
    if abs(bore.finished_mm - facts.wanted_mm) > rule.value:
        way = "widen" if bore.offset_mm > 0 else "narrow"
        reached = bore.finished_low_mm <= facts.wanted_mm <= bore.finished_high_mm
        yield Finding(
            code="bore-off-size",
            severity=Severity.NOTE if reached else Severity.WARN,
            where=facts.where,
            says=f"Drawn {{l:{bore.diameter_mm:.2f}}}, the finished bore will be about {{l:{bore.finished_mm:.2f}}} "
            f"({_systems(bore.finished_sizes)}), between {{l:{bore.finished_low_mm:.2f}}} and "
            f"{{l:{bore.finished_high_mm:.2f}}}; wanted is {{l:{facts.wanted_mm:.2f}}} ({_systems(sizes(facts.wanted_mm))}).",
            do=f"Scale the pattern by {bore.scale_ratio:.4f} ({bore.scale_low_ratio:.4f} to {bore.scale_high_ratio:.4f}), "
            f"or {way} the bore alone by {{l:{abs(bore.offset_mm):.2f}}} all round: seats and head then stay as drawn. "
            "Or bend the shank to size afterwards.",
            measure=f"{bore.finished_mm:.2f} mm",
            limit=f"{facts.wanted_mm:.2f} mm within {rule.value:g} mm",
            source=rule.source,
        )


def _systems(of: Sizes) -> str:
    return f"ISO {of.iso}, US {of.us}, UK {of.uk}"


def bores_round(facts: BoreFacts) -> Iterator[Finding]:
    """A bore that is longer one way than the other."""
    rule = facts.library.rules["bore_round_mm"]
    for bore in (facts.ring, *facts.piece.other_bores):
        inside = bore.inside if bore else None
        if bore is None or inside is None or inside.out_of_round_mm <= rule.value:
            continue
        whole = inside.pierced_deg <= MOST_PIERCED_DEG
        hammered = f"; hammered round it becomes {{l:{inside.mean_mm:.2f}}}" if whole else ""
        yield Finding(
            code="bore-not-round",
            severity=Severity.NOTE,
            where=facts.near(inside.widest_at_mm),
            at_mm=inside.widest_at_mm,
            says=f"The bore is not round: {{l:{inside.widest_mm:.2f}}} across at its widest, {{l:{bore.diameter_mm:.2f}}} at its "
            f"narrowest. The size told here is that of the narrowest, which a finger and a stick meet first{hammered}.",
            do="Leave it if it is meant; else draw the bore as a circle, or export it with finer facets if it is one in the "
            f"drawing.{' Or round the casting up on the mandrel.' if whole else ''}",
            measure=f"{inside.out_of_round_mm:.2f} mm out of round",
            limit=f"{rule.value:g} mm",
            source=rule.source,
        )
        return


def band_wide(facts: BoreFacts) -> Iterator[Finding]:
    """A wide band sits tighter: the wanted size may be the finger's, taken with a narrow gauge."""
    bore, rule = facts.ring, facts.library.rules["wide_band_ratio"]
    quarter = facts.library.rule("bore_tolerance_mm")
    if bore is None or bore.inside is None or facts.wanted_mm is None or bore.wide_around_mm <= quarter * math.pi:
        return
    curve = " with a comfort curve" if bore.inside.profile == "comfort" else ""
    yield Finding(
        code="bore-band-wide",
        severity=Severity.NOTE,
        where=facts.where,
        says=f"The band is {{l:{bore.inside.width_mm:.1f}}} wide{curve}: a finger that was measured with a narrow gauge wants it "
        f"about {{l:{bore.wide_around_mm:.1f}}} larger around ({{l:{bore.wide_around_low_mm:.1f}}} to "
        f"{{l:{bore.wide_around_high_mm:.1f}}}). The wanted size is taken as the ring's own, and nothing was added.",
        do="Ask which gauge the finger was measured with; best is one as wide as the band. If it was a narrow one, ask for a "
        "larger size.",
        measure=f"{bore.inside.width_mm:.1f} mm",
        limit=f"{facts.library.rule('wide_from_mm'):g} mm",
        source=rule.source,
    )


def bores_one(facts: BoreFacts) -> Iterator[Finding]:
    """A wanted size is meant of one bore only."""
    others = facts.piece.other_bores
    if facts.wanted_mm is not None and others and facts.ring is not None:
        listed = ", ".join(f"{{l:{bore.diameter_mm:.2f}}}" for bore in others)
        yield Finding(
            code="bore-several",
            severity=Severity.NOTE,
            where=facts.where,
            says=f"More than one finger goes through it: besides the bore of {{l:{facts.ring.diameter_mm:.2f}}} there is {listed}. "
            "The wanted size is taken for the largest.",
            do="Scaling changes them all in proportion; an offset moves the largest alone. Draw each to its own size if that is "
            "not meant.",
            measure=f"{len(others) + 1} bores",
            source=OWN_CHOICE,
        )


BORE_CODES: tuple[Code, ...] = (
    Code(
        code="bore-off-size",
        severities=(Severity.NOTE, Severity.WARN),
        about="The finished bore misses the wanted size; a warn where even the end of its band does",
    ),
    Code(code="bore-missing", severities=(Severity.NOTE,), about="A size is wanted of a piece without a finger bore"),
    Code(code="bore-not-round", severities=(Severity.NOTE,), about="The bore is longer one way than the other"),
    Code(code="bore-band-wide", severities=(Severity.NOTE,), about="A size is wanted of a band so wide that it sits tighter"),
    Code(code="bore-several", severities=(Severity.NOTE,), about="A size is wanted of a piece with several finger bores"),
)

BORE_CHECKS: tuple[Callable[[BoreFacts], Iterator[Finding]], ...] = (
    there_is_a_bore,
    bore_on_size,
    bores_round,
    band_wide,
    bores_one,
)


def bore_findings(piece: Piece, wanted_mm: float | None, library: Library) -> tuple[Finding, ...]:
    """All findings about the bores of a piece [mm], in the order of the checks."""
    facts = BoreFacts(piece=piece, wanted_mm=wanted_mm, library=library)
    return tuple(finding for check in BORE_CHECKS for finding in check(facts))
