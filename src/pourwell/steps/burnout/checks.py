"""Findings of the burnout step."""

import math
from collections.abc import Callable, Iterator
from typing import Final

from pourwell.findings import Code, Finding, Severity
from pourwell.steps.burnout import inside_checks
from pourwell.steps.burnout.facts import Facts as Facts
from pourwell.steps.burnout.hand import looks
from pourwell.steps.burnout.legs import ceilings, ramp_limit_c_per_h, top_level_c

PRACTICE: Final = "common practice, no source"

CEILINGS: Final = {
    "gypsum": (
        "ceiling_warn_c",
        "Where carbon is left, gypsum breaks down and gives off sulphur dioxide: rough, black castings, a weak mould.",
    ),
    "phosphate": ("ceiling_phosphate_c", "That is more than this investment is said to stand."),
    "stones": ("ceiling_stones_c", "That is more than stones in place are said to stand: they cloud, burn or crack."),
}
"""What lies over a ceiling, and the rule that holds its source."""


def stones_scheduled(facts: Facts) -> Iterator[Finding]:
    """Stones in place without a schedule made for them."""
    if not facts.stones:
        return
    if facts.pattern_material.family == "resin":
        if not (facts.own and facts.row.stones and facts.programme.id != facts.investment.programme_wax):
            yield Finding(
                code="stones-without-schedule",
                severity=Severity.STOP,
                where="burnout",
                says="Printed resin does not burn out at the low peak that stones in place stand; at the peak that resin needs, "
                "the stones are lost. No schedule for both is published.",
                do="Set the stones after casting, use wax, or enter the maker's own schedule (a programme with stones = true) and "
                "name it.",
                measure=facts.programme.id,
                limit="the maker's schedule",
                source="gemstone-wax-pages",
            )
    elif not facts.row.stones:
        yield Finding(
            code="stones-without-schedule",
            severity=Severity.WARN,
            where="burnout",
            says=f'The programme "{facts.row.name}" is not made for stones in place; it goes to {{t:{facts.programme.peak_c:g}}}.',
            do="Use the programme for stones, or mark the maker's own with stones = true.",
            measure=f"{{t:{facts.programme.peak_c:g}}}",
            source="gemstone-wax-pages",
        )


def stones_said(facts: Facts) -> Iterator[Finding]:
    """A programme made for stones in place, where nobody said that there are any: too low for all else, quenched as if without."""
    if facts.row.stones and not facts.stones:
        yield Finding(
            code="stones-unsaid",
            severity=Severity.STOP,
            where="burnout",
            says=f'Are stones in place? "{facts.row.name}" is made for them: it goes to {{t:{facts.programme.peak_c:g}}} only, too '
            "low to burn a common mould clean, and this plan would quench the stones wet.",
            do="Say --stones (stones = true in a job); without stones take another investment or programme.",
            measure=facts.programme.id,
            limit="stones said, or a programme without them",
            source=facts.row.source,
        )


def resin_scheduled(facts: Facts) -> Iterator[Finding]:
    """Resin in a grade for which no programme, or none that is published, burns resin out."""
    if facts.pattern_material.family == "resin" and facts.row.advisory and not facts.own:
        yield Finding(
            code="resin-without-schedule",
            severity=Severity.WARN,
            where="burnout",
            says=f"{facts.row.advisory} Resin that swells faster than the mould bears cracks it; char that stays blocks the metal.",
            do="Ask the makers of resin and investment for a schedule, enter it and name it; it wins. Cast one piece first.",
            measure=facts.programme.id,
            limit="a schedule for resin",
            source=facts.row.source,
        )
    elif facts.pattern_material.family == "resin" and not (facts.stones or facts.own or facts.investment.programme_resin):
        peak_c = max(step.target_c for step in facts.row.steps if not isinstance(step.target_c, str))
        yield Finding(
            code="resin-without-schedule",
            severity=Severity.STOP,
            where="burnout",
            says=f"No programme for printed resin is published for {facts.investment.name}; the one for wax goes to "
            f"{{t:{peak_c:g}}}, where char of resin stays in the mould and blocks the metal.",
            do="Take an investment meant for resin, or enter the maker's own schedule and name it.",
            measure=facts.programme.id,
            limit="a schedule for resin",
            source="binnion-2016",
        )


def under_the_ceiling(facts: Facts) -> Iterator[Finding]:
    """Set-point plus kiln error over the ceiling."""
    warn_c, stop_c = ceilings(facts.case)
    hottest = facts.programme.peak_c + facts.kiln.wrong_k
    if hottest > warn_c:
        kind = "stones" if facts.stones else facts.investment.binder
        rule, harm = CEILINGS[kind]
        yield Finding(
            code="kiln-over-ceiling",
            severity=Severity.STOP if hottest > stop_c else Severity.WARN,
            where="burnout",
            says=f"{{t:{facts.programme.peak_c:g}}} set, and a kiln that may be {{k:{facts.kiln.wrong_k:g}}} hotter, make "
            f"{{t:{hottest:g}}}. " + harm,
            do=f"Set no more than {{t:{math.floor(warn_c - facts.kiln.wrong_k):g}}}"
            + (", for the flask at the pour too" if facts.stones or facts.flask_c >= facts.programme.peak_c else "")
            + ", and check the thermocouple.",
            measure=f"{{t:{hottest:g}}}",
            limit=f"{{t:{warn_c:g}}}, stop over {{t:{stop_c:g}}}",
            source=facts.library.rules[rule].source,
        )


def flask_under_peak(facts: Facts) -> Iterator[Finding]:
    """A flask temperature over the peak of its own mould."""
    peak = facts.investment.peak_c
    if facts.flask_c > peak.value:
        yield Finding(
            code="flask-over-peak",
            severity=Severity.STOP,
            where="flask",
            says=f"A flask at {{t:{facts.flask_c:g}}} would be hotter than the peak of its own burnout ({{t:{peak.value:g}}}): "
            "the mould breaks down, cracks, and can let the metal through.",
            do=f"Set the flask no hotter than {{t:{peak.value:g}}}; its alloy has a band for such sections.",
            measure=f"{{t:{facts.flask_c:g}}}",
            limit=f"{{t:{peak.value:g}}}",
            source=peak.source,
        )


def hot_enough(facts: Facts) -> Iterator[Finding]:
    """A peak at which carbon may stay in the mould."""
    least = facts.library.rules["peak_least_c"]
    if facts.programme.peak_c < least.value and not facts.row.stones:
        lowered = max((s.target_c for s in facts.row.steps if s.target_c != "flask"), default=least.value) >= least.value
        never = facts.programme.inside is not None and not facts.programme.inside.carbon_min.likely
        carbon = f" It is never over {{t:{facts.library.rule('carbon_from_c'):g}}}, where carbon burns off." if never else ""
        because = f" It was lowered because the kiln may be {{k:{facts.kiln.wrong_k:g}}} wrong." if lowered else ""
        yield Finding(
            code="peak-low",
            severity=Severity.STOP if never else Severity.WARN,
            where="burnout",
            says=f"The peak is {{t:{facts.programme.peak_c:g}}}; under {{t:{least.value:g}}} carbon may stay in the mould: gas "
            f"porosity and misruns.{carbon}{because}",
            do="Check the thermocouple against a known one and write its error into studio.toml; hold longer, with plenty of air."
            if lowered
            else f"Go to {{t:{top_level_c(facts.case):g}}}, with plenty of air.",
            measure=f"{{t:{facts.programme.peak_c:g}}}",
            limit=f"{{t:{least.value:g}}}",
            source=least.source,
        )


def ramps_gentle(facts: Facts) -> Iterator[Finding]:
    """A climb faster than published."""
    for number, leg in enumerate(facts.legs, start=1):
        limit = ramp_limit_c_per_h(facts.case, leg.start_c, leg.target_c)
        if leg.target_c > leg.start_c and leg.ramp_c_per_h > limit:
            yield Finding(
                code="ramp-fast",
                severity=Severity.WARN,
                where=f"burnout, segment {number}",
                says=f"{{k:{leg.ramp_c_per_h:g}}} an hour to {{t:{leg.target_c:g}}} is faster than {{k:{limit:.0f}}} an hour, "
                f"which a flask of {{l:{facts.flask.diameter_mm:g}}} is said to stand: it invites cracks, so fins and sand.",
                do="Climb more slowly, unless the maker says so.",
                measure=f"{{k:{leg.ramp_c_per_h:g}}}/h",
                limit=f"{{k:{limit:.0f}}}/h",
                source=facts.library.rules["ramp_cold_c_per_h"].source,
            )


def flask_held(facts: Facts) -> Iterator[Finding]:
    """A hold at the flask temperature too short for the core to follow."""
    least = facts.library.rules["flask_hold_least_min"]
    last = facts.programme.segments[-1]
    if last.hold_min < least.value:
        yield Finding(
            code="flask-hold-short",
            severity=Severity.WARN,
            where="burnout",
            says=f"{last.hold_min} min at the flask temperature leave the core hotter than the kiln says: porosity, brittle metal.",
            do=f"Hold {least.value:g} min at the least, 2 h for a large flask.",
            measure=f"{last.hold_min} min",
            limit=f"{least.value:g} min",
            source=least.source,
        )


def kept_hot(facts: Facts) -> Iterator[Finding]:
    """A flask that, once hot, cools through the inversion of its cristobalite before its pour; worse if it is heated again."""
    floor = facts.library.rules["inversion_floor_c"]
    hot_c = floor.value if floor.high is None else floor.high
    least_c = hot_c + facts.kiln.error_k
    hot = next((i for i, leg in enumerate(facts.legs) if leg.target_c > hot_c), None)
    later = facts.legs[hot + 1 :] if hot is not None else ()
    fallen = [i for i, leg in enumerate(later) if leg.target_c < least_c]
    if not fallen:
        return
    lowest_c = min(later[i].target_c for i in fallen)
    again = next((leg.target_c for leg in later[fallen[0] :] if leg.target_c > max(leg.start_c, least_c)), None)
    reheated = f" and heating it again to {{t:{again:g}}}" if again else ""
    yield Finding(
        code="flask-under-inversion",
        severity=Severity.STOP if again else Severity.WARN,
        where="burnout",
        says=f"Cooling to {{t:{lowest_c:g}}}{reheated} takes the mould through the inversion of its cristobalite: it shrinks at "
        "once, cracks and sheds" + ("; a cracked mould lets metal out." if again else "."),
        do=f"Keep the flask over {{t:{least_c:g}}} once it has been hot, the kiln's error counted; never heat it again after it "
        "has cooled.",
        measure=f"{{t:{lowest_c:g}}}",
        limit=f"{{t:{least_c:g}}}",
        source=floor.source,
    )


def kiln_follows(facts: Facts) -> Iterator[Finding]:
    """A kiln set by hand, or one whose controller takes fewer segments than there are."""
    takes, needs = facts.kiln.segments_count, len(facts.programme.segments)
    settings = sum(not looks(point) for point in facts.programme.by_hand)
    if takes == 0:
        yield Finding(
            code="kiln-by-hand",
            severity=Severity.NOTE,
            where="burnout",
            says=f"The kiln has no controller: {settings} settings by the clock. After each it climbs "
            "faster than a ramp; the steps keep the mean within the limits.",
            do="Set an alarm for each, and write down what the kiln showed.",
            measure=f"{settings} settings",
            source=PRACTICE,
        )
    elif takes < needs:
        yield Finding(
            code="kiln-few-segments",
            severity=Severity.NOTE,
            where="burnout",
            says=f"The controller takes {takes} segments, the programme has {needs}: the first {takes} are typed, the last "
            + ("one is" if needs - takes == 1 else f"{needs - takes} are")
            + f" set by hand, {settings} setting{'s' * (settings != 1)} by the clock.",
            do="Make the last hold of the controller endless, so that the kiln does not go off.",
            measure=f"{needs} segments",
            limit=f"{takes} segments",
            source=PRACTICE,
        )


def row_trusted(facts: Facts) -> Iterator[Finding]:
    """A programme of which the library gives only advice."""
    row = facts.row
    if row.advisory and (facts.pattern_material.family != "resin" or facts.own):
        yield Finding(
            code="programme-advisory",
            severity=Severity.NOTE,
            where="burnout",
            says=f'The programme "{row.name}" is only advice: {row.advisory}',
            do="If the maker of your investment gives a schedule, enter it and name it; it wins.",
            measure=str(row.grade),
            source=row.source,
        )


def size_known(facts: Facts) -> Iterator[Finding]:
    """A flask outside the sizes that the programmes were made for."""
    rules = facts.library.rules
    least, most = rules["burnout_from_mm"], rules["burnout_to_mm"]
    if not (least.value <= facts.flask.diameter_mm <= most.value or facts.own):
        yield Finding(
            code="burnout-size-unchecked",
            severity=Severity.WARN,
            where="burnout",
            says=f"The programmes are made for flasks of {{l:{least.value:g}}} to {{l:{most.value:g}}}; for one of "
            f"{{l:{facts.flask.diameter_mm:g}}} the holds of the nearest stand.",
            do="Hold longer for a larger flask, and watch the first one: the mould must be white.",
            measure=f"{{l:{facts.flask.diameter_mm:g}}}",
            limit=f"{least.value:g} to {most.value:g} mm",
            source=most.source,
        )


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (
    stones_scheduled,
    stones_said,
    resin_scheduled,
    under_the_ceiling,
    flask_under_peak,
    hot_enough,
    *(check for check in inside_checks.CHECKS),
    ramps_gentle,
    flask_held,
    kept_hot,
    kiln_follows,
    row_trusted,
    size_known,
)

_STOP, _WARN, _NOTE = Severity.STOP, Severity.WARN, Severity.NOTE
CODES = (
    Code(code="stones-without-schedule", severities=(_STOP, _WARN), about="Stones in place without a schedule made for them."),
    Code(code="stones-unsaid", severities=(_STOP,), about="A programme for stones in place, and no stones said."),
    Code(code="resin-without-schedule", severities=(_STOP, _WARN), about="No published programme burns resin out in this grade."),
    Code(code="kiln-over-ceiling", severities=(_STOP, _WARN), about="Set-point plus kiln error over the ceiling."),
    Code(code="flask-over-peak", severities=(_STOP,), about="The flask is hotter than the peak of its burnout."),
    Code(code="peak-low", severities=(_STOP, _WARN), about="A peak at which carbon may stay in the mould."),
    Code(code="ramp-fast", severities=(_WARN,), about="A climb faster than published."),
    Code(code="flask-hold-short", severities=(_WARN,), about="Too short a hold at the flask temperature."),
    Code(
        code="flask-under-inversion",
        severities=(_STOP, _WARN),
        about="The flask cools through the inversion of cristobalite; a stop if it is heated again.",
    ),
    Code(code="kiln-by-hand", severities=(_NOTE,), about="The kiln is set by hand, by the clock."),
    Code(code="kiln-few-segments", severities=(_NOTE,), about="The controller takes fewer segments than the programme has."),
    Code(code="programme-advisory", severities=(_NOTE,), about="The library gives only advice on this programme."),
    Code(code="burnout-size-unchecked", severities=(_WARN,), about="A flask outside the sizes that the programmes were made for."),
)


def findings(facts: Facts) -> tuple[Finding, ...]:
    """All findings of the burnout step."""
    return tuple(f for check in CHECKS for f in check(facts))
