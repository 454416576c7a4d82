"""Findings of the pour step."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from pourwell.findings import Code, Finding, Severity
from pourwell.materials.library import Library
from pourwell.materials.model import Alloy
from pourwell.materials.studio import Studio
from pourwell.physics.water import atmosphere
from pourwell.steps.pour.model import Pour, Quench
from pourwell.units import kpa_from_pa

PRACTICE: Final = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the checks of the pour look at."""

    alloy: Alloy
    pour: Pour
    quench: Quench
    thinnest_mm: float | None
    """The thinnest section of any piece; None when no shape is known."""
    studio: Studio
    library: Library


def metal_enters(facts: Facts) -> Iterator[Finding]:
    """A section so thin that what drives the metal does not push it in."""
    needed, drive, thinnest = facts.pour.entry_kpa, facts.pour.head_kpa, facts.thinnest_mm
    if needed is None or drive is None or thinnest is None or needed <= drive:
        return
    way = facts.studio.casting.way
    by = {"gravity": "the metal's own weight gives", "vacuum": "metal and vacuum give", "centrifuge": "the centrifuge gives"}[way]
    least_mm = thinnest * needed / drive
    yield Finding(
        code="entry-short",
        severity=Severity.WARN,
        where="pour",
        says=f"A wire of {{l:{thinnest:g}}} needs {{p:{needed:.1f}}} before the metal goes in; {by} {{p:{drive:.1f}}}. It invites "
        "misruns at the thinnest sections.",
        do=f"Thicken them to {{l:{least_mm:.1f}}}, "
        + ("or cast with vacuum or a centrifuge." if way == "gravity" else "or drive the metal harder."),
        measure=f"{drive:.1f} kPa",
        limit=f"{needed:.1f} kPa",
        source="washburn-1921",
    )


def vacuum_possible(facts: Facts) -> Iterator[Finding]:
    """More vacuum than there is air, or less than was found to do."""
    if facts.pour.vacuum_kpa is None:
        return
    air_kpa = kpa_from_pa(atmosphere(facts.studio.altitude_m))
    said_kpa, least = facts.studio.casting.vacuum_kpa, facts.library.rules["vacuum_least_kpa"]
    if facts.studio.is_given("casting.vacuum_kpa") and said_kpa > air_kpa:
        yield Finding(
            code="vacuum-over-air",
            severity=Severity.WARN,
            where="studio",
            says=f"studio.toml says {{p:{said_kpa:g}}} of vacuum; at {facts.studio.altitude_m:g} m the whole air presses with "
            f"{{p:{air_kpa:.1f}}}.",
            do="Read the gauge with a blank on the table, and write that into studio.toml; check the altitude.",
            measure=f"{said_kpa:g} kPa",
            limit=f"{air_kpa:.1f} kPa",
            source="icao-1993",
        )
    elif facts.pour.vacuum_kpa < least.value:
        yield Finding(
            code="vacuum-weak",
            severity=Severity.NOTE,
            where="pour",
            says=f"{{p:{facts.pour.vacuum_kpa:.1f}}} of vacuum is less than the {{p:{least.value:g}}} that was found to do: thin "
            "pieces may not fill.",
            do="Set the flask to the hot end of its band, and keep the vacuum on longer.",
            measure=f"{facts.pour.vacuum_kpa:.1f} kPa",
            limit=f"{least.value:g} kPa",
            source=least.source,
        )


def quench_allowed(facts: Facts) -> Iterator[Finding]:
    """An alloy, or stones, that must not go into water; an alloy that must not wait too long."""
    rule = facts.alloy.quench
    if facts.quench.way == "air":
        quench = facts.quench
        moved, opened = (quench.low_min, quench.high_min), (quench.cool_low_min, quench.cool_high_min)
        first = "" if moved == opened else f"{moved[0]} to {moved[1]} min before it is moved with tongs, and "
        yield Finding(
            code="never-quench",
            severity=Severity.NOTE,
            where="quench",
            says=f"Do not quench this flask. {facts.quench.about}",
            do=f"Leave it {first}{opened[0]} to {opened[1]} min in air before it is opened by hand.",
            source=rule.about.source if rule.way == "air" else PRACTICE,
        )
    elif rule.latest_c is not None:
        yield Finding(
            code="quench-window",
            severity=Severity.NOTE,
            where="quench",
            says=f"{facts.alloy.name} turns brittle when it cools slowly through {{t:{rule.latest_c.value:g}}}: "
            "the quench has a latest hour too.",
            do=f"Quench {facts.quench.low_min} to {facts.quench.high_min} min after the pour, when no red is left on the button.",
            limit=f"over {rule.latest_c.value:g} °C",
            source=rule.latest_c.source,
        )


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (metal_enters, vacuum_possible, quench_allowed)

CODES = (
    Code(code="entry-short", severities=(Severity.WARN,), about="The metal is not pushed into the thinnest section."),
    Code(code="vacuum-over-air", severities=(Severity.WARN,), about="The studio claims more vacuum than there is air."),
    Code(code="vacuum-weak", severities=(Severity.NOTE,), about="Less vacuum at the pour than was found to do."),
    Code(code="never-quench", severities=(Severity.NOTE,), about="The alloy, or stones in place, must not go into water."),
    Code(code="quench-window", severities=(Severity.NOTE,), about="The alloy must not cool too far before the quench."),
)


def findings(facts: Facts) -> tuple[Finding, ...]:
    """All findings of the pour step."""
    return tuple(f for check in CHECKS for f in check(facts))
