"""How many flasks a kiln takes at once, and whether a load is more than that."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import Final

from pourwell.findings import Code, Finding, Severity
from pourwell.materials.library import Library
from pourwell.materials.studio import Kiln
from pourwell.steps.flask.model import Flask

MANY: Final = 12
"""No studio kiln holds more flasks: what has room for more takes so many. Own choice, as in a job."""
UNBOUNDED: Final = 10_000
"""For what a studio's own file says, which no choice of ours makes less: more than any kiln holds."""
STUDIO: Final = "the studio's file"


def flasks_in(kiln: Kiln, outside_mm: float, *, height_mm: float, library: Library, most: int = MANY) -> int:
    """How many flasks of this size a kiln takes side by side, and never more than `most`; 0: not one."""
    if kiln.height_mm is not None and height_mm + library.rule("kiln_gap_above_mm") > kiln.height_mm:
        return 0
    gap_mm = library.rule("kiln_gap_mm")
    each = outside_mm + gap_mm
    count, width, depth = kiln.flasks_count, kiln.width_mm, kiln.depth_mm
    if count is None and (width is None or depth is None):
        count = round(library.rule("kiln_flasks_count"))
    across, deep = (most if side is None else int((side - gap_mm) // each) for side in (width, depth))
    return max(0, min(count or most, across * deep, most))


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """A kiln and what is to be fired in it together."""

    kiln: Kiln
    flasks: tuple[Flask, ...]
    library: Library

    def takes(self, kiln: Kiln) -> list[int]:
        """For each flask, how many of its size a kiln takes, by what is said of it alone."""
        return [
            flasks_in(kiln, one.diameter_mm + 2 * one.wall_mm, height_mm=one.height_mm, library=self.library, most=UNBOUNDED)
            for one in self.flasks
        ]

    @property
    def called(self) -> str:
        """The kiln in words."""
        return f'the kiln "{self.kiln.name}"' if self.kiln.name else "the kiln"


HARM: Final = (
    "Crowded flasks get less air and heat than computed: a mould that stays damp can throw the metal out, and carbon left in it "
    "makes holes."
)


def roomy(facts: Facts) -> Iterator[Finding]:
    """More flasks than the kiln takes: a stop by what the studio says of it, a warning by what we assume of it."""
    kiln, count = facts.kiln, len(facts.flasks)
    said = kiln if kiln.flasks_count else kiln.model_copy(update={"flasks_count": UNBOUNDED})
    by_itself = facts.takes(said)
    if count > max(by_itself) or not min(by_itself):
        yield _over(facts, by_itself)
        return
    parts = sum((Fraction(1, takes) for takes in facts.takes(kiln)), start=Fraction(0))
    if parts > 1:
        yield _perhaps_over(facts, parts)


def _over(facts: Facts, takes: Sequence[int]) -> Finding:
    """More than the count or the room that the studio's file gives."""
    rules, kiln, count, most = facts.library.rules, facts.kiln, len(facts.flasks), max(takes)
    air = f"with {{l:{rules['kiln_gap_mm'].value:g}}} of air at each side and {{l:{rules['kiln_gap_above_mm'].value:g}}} above"
    room = "mend the kiln's width_mm, depth_mm and height_mm in studio.toml"
    if not min(takes):
        flask = facts.flasks[takes.index(0)]
        across_mm, high_mm = flask.diameter_mm + 2 * flask.wall_mm, flask.height_mm
        says = f"A flask {{l:{across_mm:g}}} across and {{l:{high_mm:g}}} high does not fit {facts.called} {air}. {HARM}"
        do = f"Take a smaller flask or a larger kiln; if it does fit so, {room}."
        return _finding(Severity.STOP, says, do, measure="1 flask", limit="0 flasks", source=rules["kiln_gap_mm"].source)
    told = kiln.flasks_count is not None and count > kiln.flasks_count
    why = "by the count that you gave it" if told else f"by its room, {air}"
    mend = "mend flasks_count of the kiln in studio.toml" if told else room
    return _finding(
        Severity.STOP,
        f"{count} flasks are to be fired together, and {facts.called} takes {most} at once, {why}. {HARM}",
        f"Fire them in {ceil(count / most)} loads, or choose a kiln that takes them; if it does take more, {mend}.",
        measure=f"{count} flasks",
        limit=f"{most} flask{'s' * (most != 1)}",
        source=STUDIO if told else rules["kiln_gap_mm"].source,
    )


def _perhaps_over(facts: Facts, parts: Fraction) -> Finding:
    """More than we assume that it takes, or sizes that together may be more than its room."""
    rules, kiln, count = facts.library.rules, facts.kiln, len(facts.flasks)
    air = f"{{l:{rules['kiln_gap_mm'].value:g}}} of air between them"
    says = f"{count} flasks are to be fired together."
    if kiln.flasks_count is None and (kiln.width_mm is None or kiln.depth_mm is None):
        rule = rules["kiln_flasks_count"]
        says += f" Your studio.toml does not say how many {facts.called} takes; {rule.value:g} are assumed."
        mend = "; if they do, write flasks_count of the kiln into studio.toml"
        limit, source = f"{rule.value:g} flasks", rule.source
    else:
        says += f" Each counted by its own size, they are more than {facts.called} takes."
        mend, limit, source = "", "1 load", rules["kiln_gap_mm"].source
    return _finding(
        Severity.WARN,
        f"{says} {HARM}",
        f"Look in the cold kiln whether they stand with {air}{mend}. Else fire them in {ceil(parts)} loads, or in a larger kiln.",
        measure=f"{count} flasks",
        limit=limit,
        source=source,
    )


def _finding(severity: Severity, says: str, do: str, *, measure: str, limit: str, source: str) -> Finding:
    return Finding(
        code="kiln-crowded", severity=severity, where="burnout", says=says, do=do, measure=measure, limit=limit, source=source
    )


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (roomy,)

CODES = (
    Code(
        code="kiln-crowded",
        severities=(Severity.STOP, Severity.WARN),
        about="More flasks are fired together than the kiln takes; a warning where how many it takes is assumed.",
    ),
)


def findings(facts: Facts) -> tuple[Finding, ...]:
    """All findings on the room in the kiln."""
    return tuple(f for check in CHECKS for f in check(facts))
