"""What a programme must keep, and how it is judged: at every end of the inputs, against what the published one does at that end.

Why so: docs/decisions/0006. A published cycle is known not to crack flasks of its size, whatever their true conductivity, film and
water are; so it sets the mould's limit at each of their ends, or the rule's figure does where that is wider; a table from memory
widens nothing, nor does a programme of the studio's own that an investment names. What the pattern needs has the rules' least
times as its limit; that no programme undercuts its table is told apart.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from pourwell.materials.model import WEAK_GRADES
from pourwell.materials.model import Programme as Row
from pourwell.materials.published import published_for
from pourwell.steps.burnout.hand import followed, set_points
from pourwell.steps.burnout.inside import Corners, Traits, Which, Windows, all_traits, corners_of, ends_of, in_words, windows
from pourwell.steps.burnout.legs import Case, course, legs_of, reading_of
from pourwell.steps.burnout.model import SLACK, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One measure: the field of `Traits`, in words, the rule that holds its figure, and which way it must go."""

    key: str
    what: str
    unit: str
    rule: str
    at_most: bool
    mould: bool
    """Is it the mould's, so that the wax cycle sets it; else the pattern's, and the cycle for this pattern does."""


KINDS: Final = (
    Kind(key="steam", what="steam", unit="kW/m²", rule="steam_most_kw_per_m2", at_most=True, mould=True),
    Kind(key="cristobalite", what="rim and core, 200 to 300 °C", unit="K", rule="cristobalite_lag_k", at_most=True, mould=True),
    Kind(key="quartz", what="rim and core, 560 to 590 °C", unit="K", rule="inversion_lag_k", at_most=True, mould=True),
    Kind(key="draining", what="draining", unit="min", rule="drain_least_min", at_most=False, mould=False),
    Kind(key="charring", what="charring, 300 to 550 °C", unit="min", rule="char_least_min", at_most=False, mould=False),
    Kind(key="carbon", what="carbon, over 650 °C", unit="min", rule="carbon_least_min", at_most=False, mould=False),
    Kind(key="uneven", what="evenness at the pour", unit="K", rule="uneven_most_k", at_most=True, mould=False),
)
"""What is judged; that the core is dry in time is told by findings of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What is allowed at each end of the inputs, by the keys of `KINDS`; and what the published programme does there.

    `rules` are their figures, `sources` those of the rules, `tables` those of the rows that the others come from.
    """

    allowed: Mapping[Which, Mapping[str, float]]
    published: Mapping[Which, Mapping[str, float]]
    kinds: tuple[Kind, ...]
    sources: Mapping[str, str]
    look: Windows
    rules: Mapping[str, float] = field(default_factory=dict)
    tables: Mapping[str, str] = field(default_factory=dict)
    own_source: str = ""
    unjudged: tuple[Kind, ...] = ()
    """What the table never reaches at any end: told, and held against nothing."""

    def narrow(self, kinds: Iterable[Kind] = KINDS) -> "Limits":
        """The same with the rules' own figures for what these kinds ask of the mould, at every end: nothing widens them."""
        keys = [kind.key for kind in kinds if kind.mould and kind.key in self.rules]
        allowed = {which: {**each, **{key: self.rules[key] for key in keys if key in each}} for which, each in self.allowed.items()}
        return replace(self, allowed=allowed)

    def by(self, kind: Kind, which: Which) -> str:
        """What sets a limit for the pattern, in words."""
        return OWN if self._is_own(kind, which) else PUBLISHED

    def limit(self, kind: Kind, which: Which) -> float:
        """The limit itself: for the pattern's times the rule's, or the table's course where even that is shorter."""
        allowed = self.allowed[which][kind.key]
        return allowed if kind.at_most else min(allowed, self.rules.get(kind.key, allowed))

    def source(self, kind: Kind, figure: float, which: Which) -> str:
        """Where such a figure comes from: the rule, one's own proven programme, or the table."""
        if figure == self.rules.get(kind.key, figure):
            return self.sources[kind.key]
        return self.own_source if self._is_own(kind, which) else self.tables[kind.key]

    def _is_own(self, kind: Kind, which: Which) -> bool:
        """Does one's own proven programme set what is allowed: more of the mould, less time for the pattern than published."""
        allowed, published = self.allowed[which][kind.key], self.published[which][kind.key]
        return allowed > max(published, self.rules.get(kind.key, allowed)) if kind.at_most else allowed < published


PUBLISHED, OWN = "the published programme", "your own proven programme"


def anchor_case(case: Case) -> Case:
    """The flask whose published cycle sets the mould's limits: this one, or the largest that one was published for."""
    most = case.library.rule("published_to_mm")
    if case.flask.diameter_mm <= most:
        return replace(case, flasks_count=1)
    return replace(case, flask=replace(case.flask, diameter_mm=most), flasks_count=1)


def proven_for(case: Case, row: Row) -> Row | None:
    """The row, where it is the user's own and has proven itself in flasks as wide as this one, with patterns such as these."""
    proof, material = row.proven, case.pattern_material
    fits = proof and material and case.flask.diameter_mm <= proof.to_mm and material.family == proof.pattern
    return row if fits else None


def limits_of(case: Case, row: Row, *, own: Row | None = None, bare: bool = False) -> Limits:
    """The limits for a programme made from, or judged beside, this published row.

    `own`: the user's own proven programme as his kiln follows it: its maxima are limits too, and where its times for the pattern
    are shorter than the published ones they do instead. `bare`: the rules alone for what the pattern needs, for the shortest
    possible; with a proven programme what is allowed beside it, for no log tells what a pattern needs.
    """
    look, library = windows(case), case.library
    ends = ends_of(case)
    wax = published_for(case.investment, library).wax
    harsh = [] if wax.grade in WEAK_GRADES else [_as_published(anchor_case(case), wax)]
    alone = ends_of(replace(case, flasks_count=1))  # a cycle is published for a flask that sees the kiln all around
    thorough = all_traits(alone, _corners(case, row), look)
    mine = _as_followed(case, own) if own else None
    kinds = tuple(kind for kind in KINDS if _applies(kind, thorough))
    allowed: dict[Which, dict[str, float]] = {}
    published: dict[Which, dict[str, float]] = {}
    for which in ends:
        allowed[which], published[which] = {}, {}
        for kind in kinds:
            figure = library.rule(kind.rule)
            if kind.mould:
                done = [float(getattr(t[which], kind.key)) for t in harsh]
                allowed[which][kind.key] = max([figure, *done])
                published[which][kind.key] = max(done, default=figure)
            else:
                done_here = float(getattr(thorough[which], kind.key))
                published[which][kind.key] = done_here
                allowed[which][kind.key] = figure if kind.at_most else min(figure, done_here) if bare else done_here
            if mine is not None:
                his = float(getattr(mine[which], kind.key))
                if kind.at_most:
                    allowed[which][kind.key] = max(allowed[which][kind.key], his) if kind.mould else figure
                else:
                    allowed[which][kind.key] = min(done_here, his)
    return Limits(
        allowed=allowed,
        published=published,
        kinds=kinds,
        sources={kind.key: library.rules[kind.rule].source for kind in KINDS},
        look=look,
        rules={kind.key: library.rule(kind.rule) for kind in KINDS},
        tables={kind.key: wax.source if kind.mould else row.source for kind in KINDS},
        own_source=own.source if own else "",
        unjudged=tuple(kind for kind in KINDS if kind not in kinds),
    )


def _applies(kind: Kind, published: Mapping[Which, Traits]) -> bool:
    """A low cycle for stones never burns carbon off as others do: what the published one never reaches is told, not judged."""
    return kind.at_most or any(getattr(t, kind.key) > 0 for t in published.values())


def _corners(case: Case, row: Row) -> Corners:
    return corners_of(*course(legs_of(row, case, own=False)))


def _as_published(case: Case, row: Row) -> dict[Which, Traits]:
    """What a row does as it stands, at all ends."""
    return all_traits(ends_of(case), _corners(case, row), windows(case))


def _as_followed(case: Case, own: Row) -> dict[Which, Traits]:
    """What the user's own programme does in his kiln, set by hand where it is."""
    legs = legs_of(own, case, own=True)
    points = set_points(legs, kiln=case.kiln, step_min=case.library.rule("by_hand_step_min"), reading=reading_of(case))
    return all_traits(ends_of(case), followed(legs, points, case.kiln), windows(case))


def judge(found: Mapping[Which, Traits], limits: Limits) -> tuple[Verdict, ...]:
    """Every measure against its limit, at the end of the inputs where its margin is least; what is not judged says so.

    What keeps the rule's own figure at every end is held against that, and no table is spoken of.
    """
    limits = limits.narrow([kind for kind in limits.kinds if kind.mould and _keeps_rule(kind, found, limits)])
    told = [kind for kind in KINDS if kind in limits.kinds or kind in limits.unjudged]
    return tuple(_unjudged(kind, found, limits) if kind in limits.unjudged else _worst(kind, found, limits) for kind in told)


def _keeps_rule(kind: Kind, found: Mapping[Which, Traits], limits: Limits) -> bool:
    """Does a measure stay under the rule's own figure at every end."""
    figure = limits.rules.get(kind.key, 0.0)
    return all(getattr(traits, kind.key) <= (1 + NOISE) * figure for traits in found.values())


NEVER: Final = "not judged: the table's cycle never gets there"


def _unjudged(kind: Kind, found: Mapping[Which, Traits], limits: Limits) -> Verdict:
    """What the table never reaches: the least that there is of it, beside the rule."""
    return Verdict(
        key=kind.key,
        what=kind.what,
        measure=min(float(getattr(traits, kind.key)) for traits in found.values()),
        limit=limits.rules[kind.key],
        unit=kind.unit,
        at_most=kind.at_most,
        published=0.0,
        at_end=NEVER,
        source=limits.sources[kind.key],
        judged=False,
    )


def _worst(kind: Kind, found: Mapping[Which, Traits], limits: Limits) -> Verdict:
    over = _over(kind, found, limits)
    which = max(over, key=lambda w: over[w])
    if over[which] <= SLACK and not kind.at_most:  # all are kept: then the end where least is over the limit itself
        which = min(found, key=lambda w: getattr(found[w], kind.key) / (limits.limit(kind, w) or math.inf))
    allowed, limit = limits.allowed[which][kind.key], limits.limit(kind, which)
    every = [limits.limit(kind, end) for end in found]
    widest = max(every) if kind.at_most else min(every)
    reached, rule = max(float(getattr(traits, kind.key)) for traits in found.values()), limits.rules.get(kind.key, math.inf)
    leans = kind.mould and min(widest, reached) > (1 + NOISE) * rule
    return Verdict(
        key=kind.key,
        what=kind.what,
        measure=float(getattr(found[which], kind.key)),
        limit=limit,
        unit=kind.unit,
        at_most=kind.at_most,
        published=limits.published[which][kind.key],
        at_end=in_words(which),
        source=limits.source(kind, limit, which),
        by=limits.by(kind, which),
        held_to=None if allowed == limit else allowed,
        held_source="" if allowed == limit else limits.source(kind, allowed, which),
        widest=None if widest == limit else widest,
        reached=reached if leans else None,
        rule=rule if leans else None,
    )


def _over(kind: Kind, found: Mapping[Which, Traits], limits: Limits) -> dict[Which, float]:
    """By what share of its own limit each end misses it; under zero: it has so much to spare."""
    out = {}
    for which, traits in found.items():
        limit = limits.allowed[which][kind.key]
        miss = (getattr(traits, kind.key) - limit) * (1 if kind.at_most else -1)
        out[which] = float(miss / abs(limit)) if limit else math.copysign(math.inf, miss) if miss else 0.0
    return out


NOISE: Final = 0.002
"""Share of a limit within which two runs of one course differ by their time steps alone: a search stops there. By runs."""


def broken(found: Mapping[Which, Traits], limits: Limits, *, slack: float = SLACK) -> list[tuple[Kind, Which]]:
    """Which limits are missed by more than the slack, and at which end most: each end is held against its own limit."""
    out = []
    for kind in limits.kinds:
        over = _over(kind, found, limits)
        which = max(over, key=lambda w: over[w])
        if over[which] > slack:
            out.append((kind, which))
    return out
