"""Findings of the melt step: which fault a temperature invites, what must not be melted, what does not fit."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from pourwell.findings import Code, Finding, Severity
from pourwell.materials.checks import poisons, row_faults
from pourwell.materials.library import Library
from pourwell.materials.model import STUDIO_SOURCE, Alloy, Investment, Quantity
from pourwell.steps.melt.model import Charge, Temperatures
from pourwell.steps.melt.plan import flask_band, has_metal_row, superheat_s

PRACTICE: Final = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the checks of the melt look at."""

    alloy: Alloy
    investment: Investment
    temperatures: Temperatures
    charge: Charge
    library: Library
    mixed: bool = False
    """The charge is for a resin tree weighed with its sprue wax, and how much of it is wax was not said."""


def metal_right(facts: Facts) -> Iterator[Finding]:
    """A metal temperature outside its band, and the fault that it invites."""
    heat, alloy = facts.temperatures, facts.alloy
    limit = f"{heat.metal_low_c:g} to {heat.metal_high_c:g} °C"
    row = alloy.metal_medium_c
    source = row.source if row is not None else facts.library.rules["superheat_any_k"].source
    if heat.metal_c <= heat.liquidus_c:
        yield Finding(
            code="metal-not-liquid",
            severity=Severity.STOP,
            where="metal",
            says=f"At {{t:{heat.metal_c:g}}} {alloy.name} is not liquid: its last grains melt at {{t:{heat.liquidus_c:g}}}.",
            do=f"Pour between {{t:{heat.metal_low_c:g}}} and {{t:{heat.metal_high_c:g}}}.",
            measure=f"{heat.metal_c:g} °C",
            limit=f"over {heat.liquidus_c:g} °C",
            source=alloy.liquidus_c.source,
        )
        return
    least_k = facts.library.rule("superheat_least_k")
    if heat.metal_high_c < heat.metal_c <= facts.investment.metal_max_c.value:
        skin = "black, sulphided skin" if facts.investment.binder == "gypsum" else "rough, burnt-on skin"
        yield Finding(
            code="metal-hot",
            severity=Severity.WARN,
            where="metal",
            says=f"{{t:{heat.metal_c:g}}} is {{k:{heat.metal_c - heat.metal_high_c:.0f}}} over the published band, into a flask at "
            f"{{t:{heat.flask_c:g}}}. It invites gas porosity (the melt drinks gas, the mould gives off more) and {skin}; "
            "thick parts shrink and draw in.",
            do=f"Pour between {{t:{heat.metal_low_c:g}}} and {{t:{heat.metal_high_c:g}}}; if pieces do not fill, warm the flask "
            "rather than the metal.",
            measure=f"{heat.metal_c:g} °C",
            limit=limit,
            source=source,
        )
    elif heat.metal_c < max(heat.metal_low_c, heat.liquidus_c + least_k):
        yield Finding(
            code="metal-cold",
            severity=Severity.WARN,
            where="metal",
            says=f"{{t:{heat.metal_c:g}}} is {{k:{heat.metal_c - heat.liquidus_c:.0f}}} over the liquidus, under its published "
            f"band. It invites misruns and cold shuts.{_reserve(facts)}",
            do=f"Pour between {{t:{heat.metal_low_c:g}}} and {{t:{heat.metal_high_c:g}}}.",
            measure=f"{heat.metal_c:g} °C",
            limit=limit,
            source=source,
        )


def mould_stands_metal(facts: Facts) -> Iterator[Finding]:
    """Metal hotter than the investment stands, or in a mould of the wrong kind."""
    heat, investment, alloy = facts.temperatures, facts.investment, facts.alloy
    most = investment.metal_max_c
    if alloy.mould == "phosphate" and investment.binder == "gypsum":
        yield Finding(
            code="mould-wrong",
            severity=Severity.STOP,
            where="investment",
            says=f"{alloy.name} cannot be cast into a gypsum-bonded mould: at its heat gypsum breaks down and gives off sulphur "
            "dioxide, which poisons and may throw metal back.",
            do="Plan it in a phosphate-bonded investment.",
            measure=investment.binder,
            limit=alloy.mould,
            source=most.source,
        )
    elif heat.metal_c > most.value:
        gas = (
            "Gypsum breaks down and gives off sulphur dioxide, which poisons; the castings come out rough, pitted and black."
            if investment.binder == "gypsum"
            else "The mould breaks down and burns onto the metal."
        )
        yield Finding(
            code="metal-over-mould",
            severity=Severity.STOP,
            where="metal",
            says=f"{{t:{heat.metal_c:g}}} is more than {investment.name} stands ({{t:{most.value:g}}}). {gas}",
            do=f"Pour under {{t:{most.value:g}}}, or take an investment that stands it.",
            measure=f"{heat.metal_c:g} °C",
            limit=f"{most.value:g} °C",
            source=most.source,
        )


def flask_right(facts: Facts) -> Iterator[Finding]:
    """A flask temperature outside its band; one over the burnout's peak is the burnout's business."""
    heat = facts.temperatures
    source = facts.alloy.flask_medium_c.source
    limit = f"{heat.flask_low_c:g} to {heat.flask_high_c:g} °C"
    if heat.flask_high_c < heat.flask_c <= facts.investment.peak_c.value:
        yield Finding(
            code="flask-hot",
            severity=Severity.WARN,
            where="flask",
            says=f"A flask at {{t:{heat.flask_c:g}}} is over the published band for {heat.section} sections. It invites shrinkage "
            "porosity at the sprues, gas porosity and a rough skin.",
            do=f"Set the flask between {{t:{heat.flask_low_c:g}}} and {{t:{heat.flask_high_c:g}}}.",
            measure=f"{heat.flask_c:g} °C",
            limit=limit,
            source=source,
        )
    elif heat.flask_c < heat.flask_low_c:
        yield Finding(
            code="flask-cold",
            severity=Severity.WARN,
            where="flask",
            says=f"A flask at {{t:{heat.flask_c:g}}} is under the published band for {heat.section} sections. It invites misruns: "
            f"rounded edges, missing wires and prongs.{_reserve(facts)}",
            do=f"Set the flask between {{t:{heat.flask_low_c:g}}} and {{t:{heat.flask_high_c:g}}}.",
            measure=f"{heat.flask_c:g} °C",
            limit=limit,
            source=source,
        )


def flask_limited(facts: Facts) -> Iterator[Finding]:
    """A flask kept cooler than the section wants, for the sake of stones in place or of the investment."""
    heat, peak = facts.temperatures, facts.investment.peak_c
    low_c, _, high_c = flask_band(facts.alloy, heat.section_mm, facts.library)
    if heat.flask_from == "user" or heat.flask_c >= low_c:
        return
    stones = heat.flask_c < peak.value
    limit = facts.library.rules["stones_flask_c"] if stones else peak
    yield Finding(
        code="flask-limited",
        severity=Severity.NOTE,
        where="flask",
        says=f"The flask is kept at {{t:{heat.flask_c:g}}}, the most that this mould{' with stones' if stones else ''} stands; "
        f"{heat.section} sections are published with {{t:{low_c:g}}} to {{t:{high_c:g}}}. Thin parts may not fill.",
        do="Make thin parts thicker, and short of sprue; do not make up for it with hotter metal.",
        measure=f"{heat.flask_c:g} °C",
        limit=f"{limit.value:g} °C",
        source=limit.source,
    )


def _reserve(facts: Facts) -> str:
    """How much sooner the wall falls to its liquidus than at the low ends of the bands; a sentence, or nothing."""
    heat = facts.temperatures
    wall_mm = facts.library.rule("section_medium_mm") if heat.section_mm is None else heat.section_mm

    def lasts(metal_c: float, flask_c: float) -> float:
        return superheat_s(wall_mm, metal_c=metal_c, flask_c=flask_c, alloy=facts.alloy, investment=facts.investment)

    now, best = lasts(heat.metal_c, heat.flask_c), lasts(heat.metal_low_c, heat.flask_low_c)
    if now >= best:
        return ""
    return f" A wall of {{l:{wall_mm:.1f}}} keeps its superheat {now / best:.0%} as long as at the low ends of the bands."


def alloy_known(facts: Facts) -> Iterator[Finding]:
    """An alloy of which this library gives only advice, or no metal temperature."""
    alloy, heat = facts.alloy, facts.temperatures
    if alloy.advisory:
        yield Finding(
            code="alloy-advisory",
            severity=Severity.WARN,
            where="alloy",
            says=f"{alloy.name}: {alloy.advisory}",
            do="Follow the refiner's sheet; enter its figures in the studio's alloy file.",
            source=alloy.liquidus_c.source,
        )
    if not has_metal_row(alloy) and heat.metal_from != "user":
        rule = facts.library.rules["superheat_any_k"]
        yield Finding(
            code="metal-by-rule",
            severity=Severity.WARN,
            where="metal",
            says=f"No metal temperature is known for {alloy.name}; {{t:{heat.metal_c:g}}} is its liquidus and "
            f"{{k:{rule.value:g}}}, a rule for any alloy.",
            do="Take the metal temperature from the refiner's sheet.",
            measure=f"{heat.metal_c:g} °C",
            limit=f"liquidus + {{k:{rule.low:g}}} to {{k:{rule.high:g}}}",
            source=rule.source,
        )


def no_poison(facts: Facts) -> Iterator[Finding]:
    """Lead or cadmium in the recipe."""
    for sentence in poisons(facts.alloy, facts.library):
        yield Finding(
            code="alloy-poison",
            severity=Severity.STOP,
            where="alloy",
            says=f"{sentence}. Its fume poisons whoever melts it, and it may not be worn or sold.",
            do="Do not melt it. Take an alloy without it, and keep the old metal apart for the refiner.",
            measure=sentence,
            limit=f"lead {facts.library.rule('lead_limit_percent'):g} %, cadmium {facts.library.rule('cadmium_limit_percent'):g} %",
            source="reach-17",
        )


def own_rows_sound(facts: Facts) -> Iterator[Finding]:
    """A figure of the studio's own that cannot be, or does not go with the others of its row."""
    for row in (facts.alloy, facts.investment):
        figures = (getattr(row, key) for key in type(row).model_fields)
        if not any(isinstance(value, Quantity) and value.source == STUDIO_SOURCE for value in figures):
            continue
        faults = "; ".join(row_faults(row, facts.library))
        if faults:
            yield Finding(
                code="own-row-doubtful",
                severity=Severity.WARN,
                where=row.id,
                says=f"Your own figures in {row.id} do not go together: {faults}.",
                do="Read the bag or the refiner's sheet again, and mend the file in the studio's folder.",
                source=PRACTICE,
            )


def returns_share(facts: Facts) -> Iterator[Finding]:
    """More returns than the alloy bears."""
    charge, limit = facts.charge, facts.alloy.returns_limit_fraction
    share = charge.returns_g / charge.total_g
    if share > limit.value:
        yield Finding(
            code="returns-share",
            severity=Severity.WARN,
            where="charge",
            says=f"Returns are {share:.0%} of the charge; at most {limit.value:.0%} is published. Every melt takes up gas and "
            f"oxide{' and burns off zinc' if 'Zn' in facts.alloy.composition_percent else ''}: expect gas porosity, inclusions, "
            "brittle metal.",
            do=f"Weigh {charge.total_g * limit.value:.1f} g of clean returns at most, the rest fresh; nothing that was soldered.",
            measure=f"{share:.0%}",
            limit=f"{limit.value:.0%}",
            source=limit.source,
        )


def crucible_holds(facts: Facts) -> Iterator[Finding]:
    """A charge that the crucible does not hold, or holds to the brim."""
    charge, fill = facts.charge, facts.library.rules["crucible_fill_fraction"]
    if charge.crucible_cm3 is None or charge.liquid_cm3 <= fill.value * charge.crucible_cm3:
        return
    over = charge.liquid_cm3 > charge.crucible_cm3
    yield Finding(
        code="crucible-small",
        severity=Severity.STOP if over else Severity.WARN,
        where="charge",
        says=f"The molten charge takes {charge.liquid_cm3:.1f} cm³; the crucible holds {charge.crucible_cm3:g} cm³"
        + (": molten metal would run over." if over else ", so it stands near the brim and spills when it is moved."),
        do="Take a larger crucible, or split the tree into two runs.",
        measure=f"{charge.liquid_cm3:.1f} cm³",
        limit=f"{fill.value:.0%} of {charge.crucible_cm3:g} cm³",
        source=fill.source,
    )


def wax_said(facts: Facts) -> Iterator[Finding]:
    """A resin tree on the scale of which nobody said how much is wax."""
    charge, share = facts.charge, facts.library.rules["wax_share_fraction"]
    if facts.mixed:
        yield Finding(
            code="weight-mixed",
            severity=Severity.NOTE,
            where="charge",
            says=f"How much of the resin tree is sprue wax was not said: {share.value:.0%} is taken. Wax is lighter than resin; "
            "what the charge is short or over shows in the button.".replace("%", " %"),
            do="Weigh stem and sprues before the pieces go on, and say --wax.",
            measure=f"{{g:{charge.total_g:.1f}}}, with other shares {{g:{charge.low_g:.1f}}} to {{g:{charge.high_g:.1f}}}",
            source=share.source,
        )


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (
    no_poison,
    own_rows_sound,
    alloy_known,
    mould_stands_metal,
    metal_right,
    flask_right,
    flask_limited,
    returns_share,
    crucible_holds,
    wax_said,
)

CODES = (
    Code(code="own-row-doubtful", severities=(Severity.WARN,), about="A figure of the studio's own does not go with its row."),
    Code(code="alloy-poison", severities=(Severity.STOP,), about="The recipe holds lead or cadmium."),
    Code(code="alloy-advisory", severities=(Severity.WARN,), about="The library gives only advice on this alloy."),
    Code(code="metal-by-rule", severities=(Severity.WARN,), about="No metal temperature is known; a general rule stands in."),
    Code(code="mould-wrong", severities=(Severity.STOP,), about="The alloy cannot be cast into this kind of mould."),
    Code(code="metal-over-mould", severities=(Severity.STOP,), about="The metal is hotter than the investment stands."),
    Code(code="metal-not-liquid", severities=(Severity.STOP,), about="The metal is not over its liquidus."),
    Code(code="metal-hot", severities=(Severity.WARN,), about="The metal is over its published band."),
    Code(code="metal-cold", severities=(Severity.WARN,), about="The metal is under its published band."),
    Code(code="flask-hot", severities=(Severity.WARN,), about="The flask is over its published band."),
    Code(code="flask-cold", severities=(Severity.WARN,), about="The flask is under its published band."),
    Code(code="flask-limited", severities=(Severity.NOTE,), about="Stones or mould keep the flask cooler than the section wants."),
    Code(code="returns-share", severities=(Severity.WARN,), about="More returns than the alloy bears."),
    Code(code="crucible-small", severities=(Severity.STOP, Severity.WARN), about="The crucible is too small, or brimful."),
    Code(code="weight-mixed", severities=(Severity.NOTE,), about="How much of a weighed resin tree is wax was not said."),
)


def findings(facts: Facts) -> tuple[Finding, ...]:
    """All findings of the melt step."""
    return tuple(f for check in CHECKS for f in check(facts))
