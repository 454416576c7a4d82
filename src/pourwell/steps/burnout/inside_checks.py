"""Findings on what a programme does inside the flask, by the computed course and its band."""

import math
from collections.abc import Callable, Iterator
from typing import Final

import numpy as np

from pourwell.findings import Code, Finding, Severity
from pourwell.materials.model import WEAK_GRADES
from pourwell.materials.published import is_published, published_for
from pourwell.steps.burnout.facts import Facts
from pourwell.steps.burnout.legs import HOLD_STEP_MIN
from pourwell.steps.burnout.limits import proven_for
from pourwell.steps.burnout.model import Verdict, ruled_words

OWN: Final = "own estimate"
TOO_MUCH: Final = {
    "steam": ("steam-fast", "The mould is let give off steam faster than moulds are known to bear: it can crack or burst."),
    "cristobalite": (
        "rim-ahead",
        "Rim and core differ by more than moulds are known to bear as cristobalite inverts: cracks, fins.",
    ),
    "quartz": ("rim-ahead", "Rim and core differ by more than moulds are known to bear as quartz inverts: cracks, fins."),
    "uneven": ("flask-uneven", "At the pour the mould is not of one temperature: some pieces fill worse than others."),
}
TOO_LITTLE: Final = {
    "draining": "to drain before the kiln climbs on",
    "charring": "to break down in air",
    "carbon": "to burn off where the mould is coldest",
}
"""What a measure of the pattern is about, in words."""
REMEDY: Final = {
    "steam": "Hold longer under {t:180}, or climb more slowly until the core is dry.",
    "cristobalite": "Climb more slowly, or hold until the core has followed.",
    "quartz": "Climb more slowly between {t:482} and {t:732}.",
    "uneven": "Hold longer at the flask temperature.",
    "draining": "Hold longer under {t:180}.",
    "charring": "Hold longer near {t:370}, with plenty of air.",
    "carbon": "Hold longer at the peak, with plenty of air, until the face is white.",
}


def clock_words(minutes: float) -> str:
    """Hours and minutes after the start, in words."""
    if math.isinf(minutes):
        return "not before the end"
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02d} min"


def core_dry(facts: Facts) -> Iterator[Finding]:
    """A mould that is still wet when the kiln passes 400 degC, or at the end: likely so, or at the slow end of all inputs.

    Likely so is a stop, but for the user's own programme that has proven itself in such flasks.
    """
    plan = facts.programme
    before = facts.library.rules["dry_before_c"]
    band = f"between {clock_words(plan.core_dry_early_min)} and {clock_words(plan.core_dry_late_min)}"
    measure = f"{clock_words(plan.core_dry_min)} ({band})"
    severity = Severity.WARN if proven_for(facts.case, facts.row) else Severity.STOP
    if math.isinf(plan.core_dry_min) and math.isinf(plan.passes_400_min):
        yield Finding(
            code="core-wet",
            severity=severity,
            where="burnout",
            says="By computation the mould is never dry in this programme: at the pour steam can crack it and throw metal out.",
            do=f"Hold longer between {{t:{facts.library.rule('drying_hold_from_c'):g}}} and {{t:{before.value:g}}}.",
            measure=measure,
            limit=clock_words(plan.total_min),
            source=before.source,
        )
    elif plan.core_dry_min > plan.passes_400_min and plan.inside is not None:
        curves = plan.inside.curves
        wet, slow = (
            float(np.interp(plan.passes_400_min, curves.times_min, water))
            for water in (curves.water_fraction, curves.water_high_fraction)
        )
        yield Finding(
            code="core-wet",
            severity=severity,
            where="burnout",
            says=f"By computation {wet:.0%} of the free water, at the slow end {slow:.0%}, is still in the mould when the kiln "
            f"passes {{t:{before.value:g}}}, {clock_words(plan.passes_400_min)} after the start: steam can crack it, and "
            "what is wet does not burn clean.",
            do=f"Hold longer between {{t:{facts.library.rule('drying_hold_from_c'):g}}} and {{t:{before.value:g}}}, or dry the "
            "flask before the kiln.",
            measure=measure,
            limit=clock_words(plan.passes_400_min),
            source=before.source,
        )
    elif not math.isinf(plan.core_dry_min) and plan.core_dry_late_min > min(plan.passes_400_min, plan.total_min) + HOLD_STEP_MIN:
        yield Finding(
            code="core-dry",
            severity=Severity.NOTE,
            where="burnout",
            says=f"The core is dry about {clock_words(plan.core_dry_min)} after the start ({band}): at the slow end too late.",
            do="Weigh a flask of this size before the kiln, and cold after a burnout without metal: its water must all be gone, "
            "else hold longer.",
            measure=measure,
            limit=clock_words(plan.passes_400_min) if not math.isinf(plan.passes_400_min) else "",
            source=OWN,
        )


def limits_kept(facts: Facts) -> Iterator[Finding]:
    """A measure of mould or flask over its limit at some end of the inputs."""
    for verdict in facts.programme.verdicts:
        if verdict.keeps or verdict.key not in TOO_MUCH:
            continue
        code, harm = TOO_MUCH[verdict.key]
        yield Finding(
            code=code,
            severity=Severity.WARN,
            where="burnout",
            says=f"{harm} Computed where it is worst: {verdict.at_end}.",
            do=REMEDY[verdict.key],
            measure=_figure(verdict, verdict.measure),
            limit=_figure(verdict, verdict.limit),
            source=verdict.source,
        )


def limits_widened(facts: Facts) -> Iterator[Finding]:
    """A measure of the mould that is kept, but at some end of the inputs only by a limit wider than the rule's own figure."""
    rules, wax = facts.library.rules, published_for(facts.investment, facts.library).wax
    over = [
        (verdict, verdict.reached, rules[RULES[verdict.key]])
        for verdict in facts.programme.verdicts
        if verdict.keeps and verdict.reached is not None
    ]
    if not over:
        return
    told = []
    for verdict, high, rule in over:
        widest = max(verdict.limit, verdict.widest or 0.0)
        band = (
            f", over even that rule's own band, {_bare(verdict, rule.low)} to {_bare(verdict, rule.high)}"
            if rule.high is not None and widest > rule.high
            else ""
        )
        told.append(
            f"{WORDS[verdict.key]} reaches {_figure(verdict, high)}, where moulds bear "
            f"{_bare(verdict, rule.value)} in any case; the limit there is as wide as {_figure(verdict, widest)}{band}"
        )
    yield Finding(
        code="limit-widened",
        severity=Severity.NOTE,
        where="burnout",
        says="At the worst end of what nobody knows well of mould, kiln and water, " + "; and ".join(told) + ". It is widened to "
        f"what the suppliers' cycle for wax does at the same end ({wax.source}), out of which flasks come sound.",
        do="Hold some {k:20} lower than {t:370} until the core has followed, and climb more slowly after it. A burnout logged "
        "with a thermocouple in a flask narrows these ends.",
        measure="; ".join(_figure(verdict, high) for verdict, high, _ in over),
        limit="; ".join(_figure(verdict, rule.value) for verdict, _, rule in over),
        source=OWN,
    )


def limits_not_own(facts: Facts) -> Iterator[Finding]:
    """An investment that names a programme of the studio's own: a burnout begins with it, and is held against a published one."""
    names = (facts.investment.programme_wax, facts.investment.programme_resin)
    own = [row for row in (facts.library.programme(name) for name in dict.fromkeys(names) if name) if not is_published(row)]
    if not own or proven_for(facts.case, facts.row):
        return
    wax = published_for(facts.investment, facts.library).wax
    by = (
        "the rules' own figures"
        if wax.grade in WEAK_GRADES
        else f'the published "{wax.name}", or by the rules where they are wider'
    )
    named = " and ".join(row.name for row in own)
    yield Finding(
        code="limits-not-own",
        severity=Severity.NOTE,
        where="burnout",
        says=f"{facts.investment.name} names a burnout of your own, {named}, as its programme. It sets no limit, for it would be "
        f"held against itself: what the mould bears is told by {by}.",
        do="Nothing, if that is what you want. Where sound castings came out of it time and again, say so in its file: "
        'proven = { to_mm = 76, pattern = "wax" }, with the widest such flask and what the patterns were of.',
        measure=", ".join(row.id for row in own),
        limit="a published programme",
        source=wax.source,
    )


RULES: Final = {"steam": "steam_most_kw_per_m2", "cristobalite": "cristobalite_lag_k", "quartz": "inversion_lag_k"}
WORDS: Final = {
    "steam": "the heat that makes steam",
    "cristobalite": "the difference of rim and core from {t:200} to {t:300}",
    "quartz": "the difference of rim and core from {t:560} to {t:590}",
}


def pattern_served(facts: Facts) -> Iterator[Finding]:
    """A pattern that has less time than the published programme gives it."""
    for verdict in facts.programme.verdicts:
        if verdict.keeps or verdict.key not in TOO_LITTLE:
            continue
        yield Finding(
            code="pattern-hurried",
            severity=Severity.WARN,
            where="burnout",
            says=f"The pattern has {_time(verdict)} {TOO_LITTLE[verdict.key]}; "
            f"{ruled_words(verdict.by, grade=facts.programme.published_grade)} gives it "
            f"{_figure(verdict, verdict.asked)} in a flask of this size.{_least(verdict)}",
            do=REMEDY[verdict.key],
            measure=_figure(verdict, verdict.measure),
            limit=_figure(verdict, verdict.asked),
            source=verdict.held_source or verdict.source,
        )


def _time(verdict: Verdict) -> str:
    """How long it has, in words."""
    return "no time" if round(verdict.measure) == 0 else _figure(verdict, verdict.measure)


def _least(verdict: Verdict) -> str:
    """Whether it is the least that is asked of any programme, or only less than the table's, in words."""
    if verdict.held_to is None:
        return ""
    said = "That is less than" if verdict.measure < verdict.limit else "That is still no less than"
    return f" {said} the shortest published, {_figure(verdict, verdict.limit)}."


def kiln_reaches(facts: Facts) -> Iterator[Finding]:
    """A level that the kiln does not reach."""
    if facts.programme.peak_c > facts.kiln.hottest_c:
        yield Finding(
            code="kiln-cannot-reach",
            severity=Severity.STOP,
            where="burnout",
            says=f"The programme goes to {{t:{facts.programme.peak_c:g}}}, the kiln to {{t:{facts.kiln.hottest_c:g}}}: carbon "
            "would stay in the mould and block the metal.",
            do="Burn out in a kiln that reaches it, or set hottest_c in studio.toml right.",
            measure=f"{{t:{facts.programme.peak_c:g}}}",
            limit=f"{{t:{facts.kiln.hottest_c:g}}}",
            source="the studio's kiln",
        )


def _figure(verdict: Verdict, value: float) -> str:
    """A value of a measure with its unit; a difference of temperature is marked as one."""
    digits = 1 if abs(value) < TEN else 0
    return f"{{k:{value:.{digits}f}}}" if verdict.unit == "K" else f"{value:.{digits}f} {verdict.unit}"


def _bare(verdict: Verdict, value: float | None) -> str:
    """A rule's own figure beside one with its unit; a difference of temperature has its own, which may be another than here."""
    return f"{{k:{value:g}}}" if verdict.unit == "K" else f"{value:g}"


TEN: Final = 10.0
"""Under ten one digit more is shown. Own choice."""

CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (
    kiln_reaches,
    core_dry,
    limits_kept,
    limits_widened,
    limits_not_own,
    pattern_served,
)

_STOP, _WARN, _NOTE = Severity.STOP, Severity.WARN, Severity.NOTE
CODES = (
    Code(code="kiln-cannot-reach", severities=(_STOP,), about="The programme goes higher than the kiln."),
    Code(code="core-wet", severities=(_STOP, _WARN), about="The core is still wet when the kiln passes 400 °C, or at the end."),
    Code(code="core-dry", severities=(_NOTE,), about="At the slow end the core dries too late."),
    Code(code="steam-fast", severities=(_WARN,), about="Steam comes off faster than published programmes let it."),
    Code(code="rim-ahead", severities=(_WARN,), about="Rim and core differ too much while the mould inverts."),
    Code(
        code="limit-widened",
        severities=(_NOTE,),
        about="A limit of the mould is kept only as wide as the published cycle for wax goes.",
    ),
    Code(
        code="limits-not-own",
        severities=(_NOTE,),
        about="An investment names a programme of the studio's own, which sets no limit of the mould.",
    ),
    Code(code="flask-uneven", severities=(_WARN,), about="The mould is not of one temperature at the pour."),
    Code(code="pattern-hurried", severities=(_WARN,), about="The pattern has less time than published to drain, char or burn off."),
)
