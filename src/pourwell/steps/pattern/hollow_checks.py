"""Findings about hollows: closed ones, those that no slurry enters, and those whose mould hangs by one neck."""

import math
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Final

from pourwell.findings import Code, Finding, Severity
from pourwell.geometry.hollows import Hollow, hollows
from pourwell.geometry.mesh import Mesh
from pourwell.materials.library import Library
from pourwell.materials.model import Alloy
from pourwell.steps.pattern.faults_told import HUNDREDTHS
from pourwell.units import cm3_from_mm3

if TYPE_CHECKING:
    from pourwell.steps.pattern.checks import Facts

MOST_WIDTHS: Final = 4
"""Openings whose widths a sentence lists: what a reader takes in at a glance."""

OPPOSITE_DEG: Final = 120.0
"""Two openings so far apart about the middle of a hollow lie on opposite sides of it: own choice. They hold its core from both
ends, and when one is below the other is above, and lets the air out."""

DISTANT: Final = 0.55
"""Two openings so far apart, as a share of the hollow's length, do the same: own choice, a little over half of it."""

TENTH_MM: Final = 0.1
"""Widths to draw are told to the next tenth."""

FACETS: Final = 0.02
"""How much narrower a hole of facets is than the one that was drawn, as a share: 16 sides, the coarsest in use, by geometry."""


def looked_for(mesh: Mesh, library: Library) -> tuple[Hollow, ...]:
    """The hollows of a sound piece that open outward only through necks narrower than the rule's, the largest first."""
    return hollows(
        mesh,
        neck_mm=library.rule("hollow_neck_mm"),
        least_mm3=library.rule("hollow_least_mm3"),
        core_ratio=library.rule("hollow_core_ratio"),
    )


def sealed(found: tuple[Hollow, ...], library: Library) -> tuple[Hollow, ...]:
    """Those that no slurry enters."""
    return tuple(hollow for hollow in found if hollow.neck_mm < library.rule("hollow_sealed_mm") * (1 - FACETS))


def neck_wanted_mm(hollow: Hollow, library: Library) -> float:
    """How wide a single neck must be to hold the mould in a hollow: the rule's width, and more for a large core."""
    return max(library.rule("hollow_neck_mm"), hollow.core_mm / library.rule("hollow_core_ratio"))


def necked(found: tuple[Hollow, ...], library: Library) -> tuple[Hollow, ...]:
    """Those that slurry enters, but that are opened neither by two drains that lie apart nor by one neck that holds their core."""
    drain, shut = library.rule("drain_hole_mm") * (1 - FACETS), sealed(found, library)
    return tuple(
        hollow
        for hollow in found
        if hollow not in shut
        and hollow.neck_mm < neck_wanted_mm(hollow, library) * (1 - FACETS)
        and not hollow.apart(width_mm=drain, share=DISTANT, angle_deg=OPPOSITE_DEG)
    )


def filled_mm3(closed_mm3: float, found: tuple[Hollow, ...], library: Library) -> tuple[float, float]:
    """What metal fills besides the walls: as a rule (closed and sealed hollows) and at most (necked ones too) [mm3]."""
    usual = closed_mm3 + sum(hollow.volume_mm3 for hollow in sealed(found, library))
    return usual, usual + sum(hollow.volume_mm3 for hollow in necked(found, library))


def _severity(facts: "Facts") -> Severity:
    """Resin shut up in a pattern cracks the mould for certain; a wax pattern only comes out heavier."""
    return Severity.STOP if facts.material.family == "resin" else Severity.WARN


def _more(volume_mm3: float, alloy: Alloy) -> str:
    return f"{{g:{cm3_from_mm3(volume_mm3) * alloy.density_g_per_cm3.value:.2f}}}"


def _stays(facts: "Facts") -> str:
    resin = facts.material.family == "resin"
    return "Liquid resin stays in it and cracks the mould in the kiln, and the" if resin else "The"


def _openings(hollow: Hollow) -> str:
    """Its openings, in words."""
    widths = [f"{{l:{opening.width_mm:.1f}}}" for opening in hollow.openings[:MOST_WIDTHS]]
    if not widths:
        return f"an opening of less than {{l:{hollow.least_mm:.1f}}}"
    if len(hollow.openings) == 1:
        return f"one opening of {widths[0]}"
    return f"{len(hollow.openings)} openings or more, the widest {widths[0]}"


def hollows_closed(facts: "Facts") -> Iterator[Finding]:
    """A closed hollow: no investment gets in, so the metal fills it, and what is in it cannot get out."""
    void, rule = facts.solid.void_mm3, facts.library.rules["void_warn_fraction"]
    if void > rule.value * facts.piece.volume_mm3:
        yield Finding(
            code="pattern-void",
            severity=_severity(facts),
            **facts.seen("void"),
            says=f"It has a closed hollow of {void:.1f} mm³. {_stays(facts)} metal fills it, for no investment gets in: "
            f"{_more(void, facts.alloy)} more a piece, which the charge counts.",
            do=f"Open it with two holes of at least {{l:{facts.library.rule('drain_hole_mm'):g}}} at opposite ends, "
            "or draw it solid.",
            measure=f"{void:.1f} mm³",
            limit=f"{rule.value:.1%} of the volume",
            source=rule.source,
        )


def hollows_entered(facts: "Facts") -> Iterator[Finding]:
    """A hollow behind holes so small that no slurry enters: it is cast solid."""
    shut, rule = sealed(facts.hollows, facts.library), facts.library.rules["hollow_sealed_mm"]
    if shut:
        worst, total = shut[0], sum(hollow.volume_mm3 for hollow in shut)
        at = worst.openings[0].at_mm if worst.openings else worst.at_mm
        others = f" and {len(shut) - 1} more such, {total:.0f} mm³ in all" if len(shut) > 1 else ""
        yield Finding(
            code="pattern-hollow-sealed",
            severity=_severity(facts),
            where=facts.near(at),
            at_mm=at,
            says=f"Hollow of {worst.volume_mm3:.0f} mm³ with {_openings(worst)}{others}: what is in it cannot get out, and slurry "
            f"does not get in. {_stays(facts)} metal fills it, {_more(total, facts.alloy)} more a piece, which the charge counts.",
            do=f"Two holes of {{l:{facts.library.rule('drain_hole_mm'):g}}} or more at opposite ends; or draw it solid.",
            measure=f"{'' if worst.openings else 'under '}{worst.neck_mm:.2f} mm",
            limit=f"{rule.value:g} mm",
            source=rule.source,
        )


def necks_wide(facts: "Facts") -> Iterator[Finding]:
    """A hollow whose filling of mould hangs by a neck that breaks."""
    hanging, rule = necked(facts.hollows, facts.library), facts.library.rules["hollow_neck_mm"]
    if hanging:
        worst = min(hanging, key=lambda hollow: hollow.neck_mm / neck_wanted_mm(hollow, facts.library))
        total = sum(hollow.volume_mm3 for hollow in hanging)
        wanted, at = neck_wanted_mm(worst, facts.library), worst.openings[0].at_mm
        drain = facts.library.rule("drain_hole_mm")
        beside = sum(opening.width_mm >= drain * (1 - FACETS) for opening in worst.openings) > 1
        neck = "necks on one side only, the widest" if beside else "a neck"
        yield Finding(
            code="pattern-hollow-neck",
            severity=Severity.WARN,
            where=facts.near(at),
            at_mm=at,
            says=f"Hollow of {worst.volume_mm3:.0f} mm³ with {_openings(worst)}: the mould in it, as much as a ball of "
            f"{{l:{worst.core_mm:.0f}}}, hangs by {neck} of {{l:{worst.neck_mm:.1f}}} and breaks off, or air stays in it; then "
            f"metal fills it, up to {_more(total, facts.alloy)} more a piece.",
            do=f"Two holes of {{l:{drain:g}}} or more at opposite ends{', not side by side' if beside else ''}, or one "
            f"{{l:{_rounded_up(wanted):g}}} wide or wider. If it stays, rinse and blow it out, fill it under vacuum, and have "
            "metal for the heavier weight.",
            measure=f"{worst.neck_mm:.2f} mm",
            limit=f"{_rounded_up(wanted):g} mm",
            source=rule.source,
        )


def _rounded_up(width_mm: float) -> float:
    """A width to draw, to the next tenth."""
    return math.ceil(round(width_mm / TENTH_MM, HUNDREDTHS)) * TENTH_MM


HOLLOW_CODES: Final[tuple[Code, ...]] = (
    Code(code="pattern-void", severities=(Severity.STOP, Severity.WARN), about="A closed hollow that the metal fills"),
    Code(
        code="pattern-hollow-sealed",
        severities=(Severity.STOP, Severity.WARN),
        about="A hollow whose holes are too small for slurry: the metal fills it",
    ),
    Code(code="pattern-hollow-neck", severities=(Severity.WARN,), about="A hollow whose mould hangs by a neck that breaks"),
)
HOLLOW_CHECKS: Final[tuple[Callable[["Facts"], Iterator[Finding]], ...]] = (hollows_closed, hollows_entered, necks_wide)
