"""Findings of printing a pattern."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from pourwell.findings import Code, Finding, Severity
from pourwell.materials.library import Library
from pourwell.materials.studio import Printer
from pourwell.steps.pattern.faults_told import under
from pourwell.steps.pattern.model import Point
from pourwell.steps.pattern.print_model import Holds, PrintPlan, Steps
from pourwell.steps.pattern.ranges import ends
from pourwell.steps.pattern.soundness_checks import FILE_FAULT, digits, names_told

MOST_PLACES: Final = 3
"""Places that a sentence names before it says how many more there are: what a reader takes in at a glance."""

OWN_SHEET: Final = "the printer's own figures"
"""Source of a limit that the studio's file gives."""

CUP_WORDS: Final = {
    "suction": "is closed towards the plate and open towards the film, which seals it: every lift sucks at it, and it tears",
    "bowl": "hangs open side up like a bowl and comes out of the vat full; what is not drained hardens in it",
    "closed": "is closed all round: it keeps liquid resin for good, which bursts or smokes in the burnout",
}
"""What each kind of hollow does: common practice, no source."""

CUP_CURES: Final = {
    "suction": "Lean the piece so that its rim lets air in at one side, or give it a hole of {{l:{hole:g}}} near its floor.",
    "bowl": "Lean the piece until it runs out, or drill {{l:{hole:g}}} at its deepest place; rinse and blow it out before curing.",
    "closed": "Give it two holes of {{l:{hole:g}}} at opposite ends, or fill it in the drawing.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintFacts:
    """What the checks of printing look at."""

    plan: PrintPlan
    unsound: tuple[str, ...]
    """Bodies that are no solids."""
    stand_in: str
    """What the figures rest on where a body is unsound."""
    left_out: tuple[str, ...]
    """Bodies of the file that are not reckoned with."""
    side_mm: float
    """The longest, in the file's own frame."""
    units: str
    units_sure: bool
    """Did the user say the unit."""
    footprint_mm: tuple[float, float]
    """On the plate, turned as it fits best."""
    printer: Printer
    library: Library


def place(at: Point) -> str:
    """A place in the frame of the file."""
    x, y, z = (f"{round(value, 1) + 0.0:g}" for value in at)  # + 0: no minus zero
    return f"x {x}, y {y}, z {z}"


def sound(facts: PrintFacts) -> Iterator[Finding]:
    """A mesh that is no closed solid is never sliced in silence."""
    if facts.unsound:
        names = ", ".join(f'"{name}"' for name in facts.unsound[:MOST_PLACES])
        yield Finding(
            code="print-unsound",
            severity=Severity.STOP,
            where=facts.plan.file,
            says=f"The mesh of {names} does not enclose a volume: layers cannot be told inside from outside. "
            f"Every figure here rests on a stand-in, {facts.stand_in}.",
            do="See what `pourwell check` says of it, mend it and look again before you print.",
            measure=f"{len(facts.unsound)} not closed",
            source=FILE_FAULT,
        )


def all_reckoned(facts: PrintFacts) -> Iterator[Finding]:
    """What is left out lies in the file all the same, and a printer prints files."""
    if facts.left_out:
        one = len(facts.left_out) == 1
        yield Finding(
            code="print-left-out",
            severity=Severity.WARN,
            where=facts.plan.file,
            says=f"The file also holds {names_told(facts.left_out)}: not reckoned with here, but printed from this file, "
            f"{'it is' if one else 'they are'} cast in metal too, and the metal weighed for the piece falls short.",
            do=f"Take {'it' if one else 'them'} out of the file, in the drawing or in the print program, before you print.",
            measure=f"{len(facts.left_out)} left out",
            source=FILE_FAULT,
        )


def units_right(facts: PrintFacts) -> Iterator[Finding]:
    """A size that no piece of jewellery has, in a unit that the user has not said."""
    rule = facts.library.rules["jewellery_side_mm"]
    low, high = ends(rule)
    if not facts.units_sure and not low <= facts.side_mm <= high:
        yield Finding(
            code="print-units",
            severity=Severity.STOP,
            where=facts.plan.file,
            says=f"Its longest side is {{l:{digits(facts.side_mm)}}} with the numbers taken as {facts.units}: no piece of "
            "jewellery has that size, so time and resin are in doubt.",
            do="Say the unit of the file with --units; `pourwell check` names those that fit.",
            measure=f"{{l:{digits(facts.side_mm)}}}",
            limit=f"{{l:{low:g}}} to {{l:{high:g}}}",
            source=rule.source,
        )


def nothing_in_mid_air(facts: PrintFacts) -> Iterator[Finding]:
    """Material that begins with nothing beneath it."""
    islands = facts.plan.islands
    if not islands:
        return
    rule = facts.library.rules["print_island_layers_count"]
    alone, cleaner = len(islands) == 1, _cleaner(facts)
    told = "; ".join(
        f"{{l:{i.height_mm:.2f}}} up, near {place(i.at_mm)}, grows to {i.largest_mm2:.1f} mm² in {i.layers_count} layers"
        for i in islands[:MOST_PLACES]
    )
    more = f"; and {len(islands) - MOST_PLACES} more" if len(islands) > MOST_PLACES else ""
    yield Finding(
        code="print-island",
        severity=Severity.WARN,
        where=f"near {place(islands[0].at_mm)}",
        says=f"{'One part begins' if alone else f'{len(islands)} parts begin'} in mid-air: {told}{more}. Without a support "
        f"{'it stays on the film, is' if alone else 'they stay on the film, are'} missing on the piece, and may hole later layers.",
        do=f"Put a support under {'this place' if alone else 'each of these places'}"
        + (f", or take another way to stand: {cleaner}." if cleaner else "."),
        measure=f"{len(islands)}",
        limit=f"under {rule.value:g} layers by itself",
        source=rule.source,
        at_mm=islands[0].at_mm,
    )


def _cleaner(facts: PrintFacts) -> str:
    """The best other way without islands, cups and supports that stay inside, in words."""
    least = facts.library.rule("print_hidden_mm2")
    for way in facts.plan.others:
        if not way.islands_count and not way.cups_count and way.hidden_mm2 < least:
            turned = ",".join(f"{round(value, 3) + 0.0:.3f}" for value in way.direction)
            return f"{way.words} (--direction {turned})"
    return ""


def nothing_holds_resin(facts: PrintFacts) -> Iterator[Finding]:
    """Hollows that hold resin, or that the film seals."""
    rule, hole = facts.library.rules["print_cup_mm3"], facts.library.rule("drain_hole_mm")
    for kind in CUP_WORDS:
        cups = [cup for cup in facts.plan.cups if cup.kind == kind]
        if not cups:
            continue
        told = "; ".join(_held(cup) for cup in cups[:MOST_PLACES])
        more = f"; and {len(cups) - MOST_PLACES} more" if len(cups) > MOST_PLACES else ""
        yield Finding(
            code="print-cup",
            severity=Severity.WARN,
            where=f"near {place(cups[0].at_mm)}",
            says=f"A hollow {CUP_WORDS[kind]}. It holds {told}{more}.",
            do=CUP_CURES[kind].format(hole=hole),
            measure=f"{cups[0].volume_mm3:.1f} mm³",
            limit=f"{rule.value:g} mm³",
            source=rule.source,
            at_mm=cups[0].at_mm,
        )


def _held(cup: Holds) -> str:
    return f"{cup.volume_mm3:.1f} mm³, {{l:{cup.low_mm:.1f}}} to {{l:{cup.high_mm:.1f}}} up, near {place(cup.at_mm)}"


def supports_come_out(facts: PrintFacts) -> Iterator[Finding]:
    """Undersides inside a hollow, from where nobody takes supports out."""
    plan, rule = facts.plan, facts.library.rules["print_hidden_mm2"]
    if plan.hidden_at_mm is None or plan.hidden_mm2 < rule.value:
        return
    cleaner = _cleaner(facts)
    yield Finding(
        code="print-supports-inside",
        severity=Severity.WARN,
        where=f"near {place(plan.hidden_at_mm)}",
        says=f"Undersides of {plan.hidden_mm2:.0f} mm² lie inside a hollow that no tool reaches into: supports there cannot be "
        "taken out and are cast, and without them the ceiling sags or tears off.",
        do=(f"Take another way to stand: {cleaner}." if cleaner else "Print it in two halves and join them in wax or metal")
        + ("" if cleaner else ", open the hollow until cutters get in, or draw its ceiling as a steep vault."),
        measure=f"{plan.hidden_mm2:.1f} mm²",
        limit=f"{rule.value:g} mm²",
        source=rule.source,
        at_mm=plan.hidden_at_mm,
    )


def steps_come_off(facts: PrintFacts) -> Iterator[Finding]:
    """Steps that no tool reaches, or that stand deeper than finishing takes off."""
    plan, library = facts.plan, facts.library
    seen, told = library.rules["print_step_seen_mm"], library.rule("print_steps_told_mm2")
    finish = library.rules["finishing_bore_mm"]
    for steps in plan.steps:
        deep = steps.reach != "recess" and steps.proud_mm > finish.value / 2
        hidden = steps.reach == "recess" and steps.stepped_mm2 >= told
        if steps.at_mm is None or not (deep or hidden) or steps.stepped_mm2 < told:
            continue
        limit, source = (finish.value / 2, finish.source) if deep else (seen.value, seen.source)
        yield Finding(
            code="print-steps",
            severity=Severity.NOTE,
            where=f"near {place(steps.at_mm)}",
            says=_stepped(steps, plan.time.layer_mm, finish.value / 2 if deep else None),
            do="Take thinner layers, or turn the piece so that these faces stand upright or lie level.",
            measure=f"{{l:{steps.proud_mm:.3f}}} proud",
            limit=f"{{l:{limit:g}}}",
            source=source,
            at_mm=steps.at_mm,
        )


def _stepped(steps: Steps, layer_mm: float, off_mm: float | None) -> str:
    where = {"open": "Open faces", "bore": "The bore", "recess": "Faces where no point or brush gets in"}[steps.reach]
    verb = "shows" if steps.reach == "bore" else "show"
    why = (
        "the casting keeps them"
        if off_mm is None
        else f"finishing takes off about {{l:{off_mm:g}}}, so they stay or the faces lose shape"
    )
    return (
        f"{where} {verb} the steps of {{l:{layer_mm:g}}} layers over {steps.stepped_mm2:.0f} mm², up to {{l:{steps.proud_mm:.3f}}} "
        f"proud and {{l:{steps.wide_mm:.2f}}} wide: {why}."
    )


def fits(facts: PrintFacts) -> Iterator[Finding]:
    """A piece that the printer cannot build."""
    printer = facts.printer
    needs = (*facts.footprint_mm, facts.plan.way.height_mm + printer.stand_mm)
    has = (printer.width_mm, printer.depth_mm, printer.height_mm)
    named = zip(("wide", "deep", "high with its supports"), needs, has, strict=True)
    short = [(what, need, room) for what, need, room in named if room is not None and under(room, need)]
    if short:
        yield Finding(
            code="print-too-large",
            severity=Severity.WARN,
            where=facts.plan.file,
            says="As it stands it is "
            + ", ".join(f"{{l:{need:.2f}}} {what} of {{l:{room:g}}}" for what, need, room in short)
            + " that the printer has.",
            do="Take another way to stand, print it in parts, or check the printer's figures in studio.toml.",
            measure=", ".join(f"{{l:{need:.2f}}}" for _, need, _ in short),
            limit=", ".join(f"{{l:{room:g}}}" for _, _, room in short),
            source=OWN_SHEET,
        )


CHECKS: tuple[Callable[[PrintFacts], Iterator[Finding]], ...] = (
    sound,
    all_reckoned,
    units_right,
    nothing_in_mid_air,
    nothing_holds_resin,
    supports_come_out,
    steps_come_off,
    fits,
)

CODES: tuple[Code, ...] = (
    Code(code="print-unsound", severities=(Severity.STOP,), about="To be printed: the mesh does not enclose a volume"),
    Code(code="print-units", severities=(Severity.STOP,), about="To be printed: no piece of jewellery has that size: which unit"),
    Code(code="print-left-out", severities=(Severity.WARN,), about="To be printed: the file holds bodies that are not to be cast"),
    Code(code="print-island", severities=(Severity.WARN,), about="Material begins in mid-air as the piece stands in the printer"),
    Code(code="print-cup", severities=(Severity.WARN,), about="A hollow holds resin, or the film seals it, as the piece stands"),
    Code(
        code="print-supports-inside",
        severities=(Severity.WARN,),
        about="Undersides inside a hollow need supports that cannot be taken out",
    ),
    Code(
        code="print-steps",
        severities=(Severity.NOTE,),
        about="Steps of the layers stay: no tool gets in, or they stand deeper than finishing takes off",
    ),
    Code(code="print-too-large", severities=(Severity.WARN,), about="As it stands the piece is larger than the printer builds"),
)


def print_findings(facts: PrintFacts) -> tuple[Finding, ...]:
    """All findings of printing a pattern."""
    return tuple(finding for check in CHECKS for finding in check(facts))
