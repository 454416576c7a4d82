"""Findings about hollows: closed ones, those that no slurry enters, and those whose mould hangs by one neck."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Final

from pourwell.findings import Code, Finding, Severity
from pourwell.geometry.hollows import Hollow, hollows
from pourwell.geometry.mesh import Mesh
from pourwell.materials.library import Library
from pourwell.materials.model import Alloy
from pourwell.units import cm3_from_mm3

if TYPE_CHECKING:
    from pourwell.steps.pattern.checks import Facts

MOST_WIDTHS: Final = 4
"""Openings whose widths a sentence lists: what a reader takes in at a glance."""

DRAINS_COUNT: Final = 2
"""Openings that drain a hollow: one lets the air in while the other lets the resin out. By reason."""

FACETS: Final = 0.02
"""How much narrower a hole of facets is than the one that was drawn, as a share: 16 sides, the coarsest in use, by geometry."""


def looked_for(mesh: Mesh, library: Library) -> tuple[Hollow, ...]:
    """The hollows of a sound piece that open outward only through necks narrower than the rule's, the largest first."""
    return hollows(mesh, neck_mm=library.rule("hollow_neck_mm"), least_mm3=library.rule("hollow_least_mm3"))


def sealed(found: tuple[Hollow, ...], library: Library) -> tuple[Hollow, ...]:
    """Those that no slurry enters."""
    return tuple(hollow for hollow in found if hollow.neck_mm < library.rule("hollow_sealed_mm") * (1 - FACETS))


def necked(found: tuple[Hollow, ...], library: Library) -> tuple[Hollow, ...]:
    """Those that slurry enters, but that are not opened by two holes as wide as a drain must be."""
    drain, shut = library.rule("drain_hole_mm") * (1 - FACETS), sealed(found, library)
    return tuple(h for h in found if h not in shut and sum(o.width_mm >= drain for o in h.openings) < DRAINS_COUNT)


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
        worst = min(hanging, key=lambda hollow: hollow.neck_mm)
        total = sum(hollow.volume_mm3 for hollow in hanging)
        at = worst.openings[0].at_mm
        yield Finding(
            code="pattern-hollow-neck",
            severity=Severity.WARN,
            where=facts.near(at),
            at_mm=at,
            says=f"Hollow of {worst.volume_mm3:.0f} mm³ with {_openings(worst)}: the ball of mould in it hangs by a neck of "
            f"{{l:{worst.neck_mm:.1f}}} and breaks off, or air stays in it; then metal fills it, up to "
            f"{_more(total, facts.alloy)} more a piece.",
            do=f"Two holes of {{l:{facts.library.rule('drain_hole_mm'):g}}} or more at opposite ends, or one {{l:{rule.value:g}}}"
            " wide or wider. If it stays, rinse and blow it out, fill it under vacuum, and have metal for the heavier weight.",
            measure=f"{worst.neck_mm:.2f} mm",
            limit=f"{rule.value:g} mm",
            source=rule.source,
        )


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
