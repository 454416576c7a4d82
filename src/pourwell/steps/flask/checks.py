"""Findings of the flask step."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from pourwell.findings import Code, Finding, Severity
from pourwell.materials.library import Library
from pourwell.materials.model import Investment, PatternMaterial
from pourwell.materials.studio import Studio
from pourwell.steps.flask.model import Flask, Mix
from pourwell.steps.flask.plan import tree_room_cm3
from pourwell.units import min_from_s

PRACTICE = "common practice, no source"
PUBLISHED_RATIOS = {
    "gypsum": ("water_ratio_low_g_per_100_g", "water_ratio_high_g_per_100_g"),
    "phosphate": ("water_ratio_phosphate_low_g_per_100_g", "water_ratio_phosphate_high_g_per_100_g"),
}
"""The rules that hold the ends of the published ratios, by binder."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the checks of the flask look at."""

    flask: Flask
    mix: Mix
    investment: Investment
    pattern_material: PatternMaterial
    stones: bool
    studio: Studio
    library: Library
    guessed: bool = False
    """Was the flask taken because none was named and no shape tells which is needed."""
    tree_cm3: float | None = None
    """Volume of a tree that is known only by its weight: pieces, sprues and stem."""


def flask_known(facts: Facts) -> Iterator[Finding]:
    """A flask that is in no list: its wall is assumed."""
    flask = facts.flask
    listed = {row.id for row in (*facts.studio.flasks, *facts.library.flasks.values())}
    if flask.id not in listed:
        yield Finding(
            code="flask-unknown",
            severity=Severity.NOTE,
            where="flask",
            says=f"No list has a flask of {{l:{flask.diameter_mm:g}}} by {{l:{flask.height_mm:g}}}; "
            f"a solid one with a wall of {{l:{flask.wall_mm:g}}} is assumed.",
            do="Measure it inside, and list it in studio.toml with its wall.",
            measure=f"{flask.diameter_mm:g} x {flask.height_mm:g} mm",
            source=PRACTICE,
        )


def tree_goes_in(facts: Facts) -> Iterator[Finding]:
    """A weighed tree that fills more of the flask than any tree does, or can."""
    if facts.tree_cm3 is None:
        return
    rule = facts.library.rules["tree_fill_fraction"]
    room_cm3 = tree_room_cm3(facts.flask, facts.library)
    share, most = facts.tree_cm3 / room_cm3, rule.high or 1.0
    if share > rule.value:
        yield Finding(
            code="flask-overfull",
            severity=Severity.STOP if share > most else Severity.WARN,
            where="flask",
            says=f"The tree takes {facts.tree_cm3:.0f} cm³ of the {room_cm3:.0f} cm³ that base, cover and wall leave in the flask; "
            "planned trees take 3 to 8 %. " + ("It cannot stand in it." if share > most else "It hardly stands in it."),
            do="Read the scale once more, say --base if the base stood on it too, or take a larger flask.",
            measure=f"{share:.0%}".replace("%", " %"),
            limit=f"{rule.value:.0%}, stop over {most:.0%}".replace("%", " %"),
            source=rule.source,
        )


def flask_named(facts: Facts) -> Iterator[Finding]:
    """A flask that was only guessed: nothing tells whether the tree fits it."""
    if facts.guessed:
        flask = facts.flask
        yield Finding(
            code="flask-guessed",
            severity=Severity.WARN,
            where="flask",
            says=f"No flask was named, so a common one is taken: {{l:{flask.diameter_mm:g}}} by {{l:{flask.height_mm:g}}}. "
            "Powder, water and burnout are for that one.",
            do="Name yours with --flask, and plan again before anything is weighed.",
            measure=flask.id,
            source=PRACTICE,
        )


def size_checked(facts: Facts) -> Iterator[Finding]:
    """A flask outside the sizes for which the rules were checked."""
    library, flask = facts.library, facts.flask
    least, most = library.rule("flask_checked_from_mm"), library.rule("flask_checked_to_mm")
    if not least <= flask.diameter_mm <= most:
        yield Finding(
            code="flask-size-unchecked",
            severity=Severity.WARN,
            where="flask",
            says=f"The rules for mix and burnout were checked for flasks of {{l:{least:g}}} to {{l:{most:g}}}; this one is "
            f"{{l:{flask.diameter_mm:g}}} wide.",
            do="Take a flask inside that range, or trust the maker's table over this sheet.",
            measure=f"{flask.diameter_mm:g} mm",
            limit=f"{least:g} to {most:g} mm",
            source=library.rules["flask_checked_from_mm"].source,
        )


def no_room(facts: Facts) -> Iterator[Finding]:
    """A flask so low that base and cover leave nothing for a tree."""
    flask = facts.flask
    left = flask.usable_mm - flask.dome_height_mm
    if left <= 0:
        yield Finding(
            code="flask-no-room",
            severity=Severity.STOP,
            where="flask",
            says=f"Base, dome, cover and headspace take {{l:{flask.height_mm - left:g}}} of the {{l:{flask.height_mm:g}}} of this "
            "flask: nothing is left for a tree, and metal would break through a thinner cover.",
            do="Take a higher flask.",
            measure=f"{left:g} mm",
            limit="over 0 mm",
            source=facts.library.rules["cover_mm"].source,
        )


def ratio_published(facts: Facts) -> Iterator[Finding]:
    """More or less water than anybody publishes."""
    low, high = (facts.library.rules[name] for name in PUBLISHED_RATIOS[facts.investment.binder])
    ratio = facts.mix.ratio_g_per_100_g
    if not low.value <= ratio <= high.value:
        thin = ratio > high.value
        fault = "a weak mould that cracks: fins, sand in the metal" if thin else "a thick slurry that traps bubbles and sets early"
        yield Finding(
            code="water-ratio-outside",
            severity=Severity.WARN,
            where="investment",
            says=f"{ratio:g} of water to 100 of powder is outside the published {low.value:g} to {high.value:g}; "
            f"it invites {fault}.",
            do="Read the bag again; put its figure into the studio's investment file.",
            measure=f"{ratio:g} per 100",
            limit=f"{low.value:g} to {high.value:g} per 100",
            source=(high if thin else low).source,
        )


def time_enough(facts: Facts) -> Iterator[Finding]:
    """A gloss-off so early that the stages do not fit."""
    least = facts.library.rules["clock_shortest_min"]
    finish = facts.mix.finish_min
    if finish < least.value:
        yield Finding(
            code="work-time-short",
            severity=Severity.WARN,
            where="investment",
            says=f"The gloss goes after {facts.mix.gloss_off_min:g} min, so all must be done in {finish:g} min; mixing, vacuum and "
            f"pouring take {least.value:g} min when they are done well. Hurried, they leave bubbles and water marks.",
            do="Use cooler water inside its band, a fresh bag, or two smaller mixes.",
            measure=f"{finish:g} min",
            limit=f"{least.value:g} min",
            source=least.source,
        )


def vacuum_used(facts: Facts) -> Iterator[Finding]:
    """Investing without vacuum, in whole or in part, and what to expect of it."""
    has = facts.studio.investing_vacuum
    if has.bowl and has.flask:
        return
    none = not has.bowl and not has.flask
    missing = "neither bowl nor flask goes" if none else "the flask does not go" if has.bowl else "the bowl does not go"
    dip = f"Dip the tree in wetting agent and dry it wholly, {facts.mix.wetting_min:g} min"
    hand_min = min_from_s(next(s.at_s for s in facts.mix.clock if s.key == "pour"))
    yield Finding(
        code="investing-no-vacuum",
        severity=Severity.WARN if none else Severity.NOTE,
        where="investment",
        says=f"As {missing} under vacuum, air stays in the slurry: expect beads of metal in bores, settings and engraving"
        + (", some on every piece." if none else ", fewer than without any vacuum."),
        do=f"{dip}, brush the first coat on, pour down the tilted wall, vibrate. "
        f"Be ready to pour {hand_min:.1f} min after the first powder."
        if none
        else f"{dip}; tap where the pump does not help.",
        source=PRACTICE,
    )


def grade_fits(facts: Facts) -> Iterator[Finding]:
    """A pattern, or stones, in a grade of investment not meant for it."""
    investment, family = facts.investment, facts.pattern_material.family
    if family not in investment.for_patterns:
        yield Finding(
            code="investment-not-for-pattern",
            severity=Severity.WARN,
            where="investment",
            says=f"{investment.name} is not meant for {family} patterns, which swell before they burn and can crack it: "
            "expect fins, lost corners and rough patches.",
            do=f"Take a grade meant for {family}, or raise its burnout more slowly.",
            measure=family,
            limit=", ".join(investment.for_patterns),
            source=PRACTICE,
        )
    if facts.stones and not investment.stones:
        yield Finding(
            code="investment-not-for-stones",
            severity=Severity.WARN,
            where="investment",
            says=f"{investment.name} is not a grade for stones in place: nothing in it shields them, and they may cloud or burn.",
            do="Take a grade for stones in place, or set the stones after casting.",
            source=PRACTICE,
        )


def only_advice(facts: Facts) -> Iterator[Finding]:
    """An investment of which this library gives only advice."""
    if facts.investment.advisory:
        yield Finding(
            code="investment-advisory",
            severity=Severity.WARN,
            where="investment",
            says=f"{facts.investment.name}: {facts.investment.advisory}",
            do="Follow the maker's sheet for powder, liquid, set and burnout; enter its figures in the studio's investment file.",
            source=facts.investment.water_g_per_100_g.source,
        )


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (
    flask_known,
    flask_named,
    tree_goes_in,
    size_checked,
    no_room,
    ratio_published,
    time_enough,
    vacuum_used,
    grade_fits,
    only_advice,
)

CODES = (
    Code(code="flask-guessed", severities=(Severity.WARN,), about="A weight without a flask: a common one is taken."),
    Code(code="flask-overfull", severities=(Severity.STOP, Severity.WARN), about="A weighed tree that does not go into the flask."),
    Code(code="flask-unknown", severities=(Severity.NOTE,), about="The flask is in no list; its wall is assumed."),
    Code(code="flask-size-unchecked", severities=(Severity.WARN,), about="A size that the rules were not checked for."),
    Code(code="flask-no-room", severities=(Severity.STOP,), about="Base, dome and cover leave no height for a tree."),
    Code(code="water-ratio-outside", severities=(Severity.WARN,), about="More or less water than is published."),
    Code(code="work-time-short", severities=(Severity.WARN,), about="The stages of investing do not fit before gloss-off."),
    Code(code="investing-no-vacuum", severities=(Severity.WARN, Severity.NOTE), about="Bowl or flask is not put under vacuum."),
    Code(code="investment-not-for-pattern", severities=(Severity.WARN,), about="The grade is not meant for this pattern material."),
    Code(code="investment-not-for-stones", severities=(Severity.WARN,), about="The grade is not meant for stones in place."),
    Code(code="investment-advisory", severities=(Severity.WARN,), about="The library gives only advice on this investment."),
)


def findings(facts: Facts) -> tuple[Finding, ...]:
    """All findings of the flask step."""
    return tuple(f for check in CHECKS for f in check(facts))
