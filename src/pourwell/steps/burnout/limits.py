"""What a programme must keep, and how it is judged: at every end of the inputs, against what the published one does at that end.

Why so: docs/decisions/0006. A published cycle is known not to crack flasks of its size, whatever their true conductivity, film and
water are; so it sets the limit at each of their ends, or the rule's figure does where that is wider.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from pourwell.materials.model import Grade
from pourwell.materials.model import Programme as Row
from pourwell.steps.burnout.hand import followed, set_points
from pourwell.steps.burnout.inside import Corners, Traits, Which, Windows, all_traits, corners_of, ends_of, in_words, windows
from pourwell.steps.burnout.legs import Case, course, legs_of
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
    """What is allowed at each end of the inputs, by the keys of `KINDS`; and what the published programme does there."""

    allowed: Mapping[Which, Mapping[str, float]]
    published: Mapping[Which, Mapping[str, float]]
    kinds: tuple[Kind, ...]
    sources: Mapping[str, str]
    look: Windows

    def by(self, kind: Kind, which: Which) -> str:
        """What sets a limit for the pattern, in words."""
        return OWN if self.allowed[which][kind.key] < self.published[which][kind.key] and not kind.at_most else PUBLISHED


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
    wax = library.programme(case.investment.programme_wax)
    harsh = [] if wax.grade is Grade.ESTIMATE else [_as_published(anchor_case(case), wax)]
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
    sources = {kind.key: library.rules[kind.rule].source for kind in kinds}
    return Limits(allowed=allowed, published=published, kinds=kinds, sources=sources, look=look)


def _applies(kind: Kind, published: Mapping[Which, Traits]) -> bool:
    """A low cycle for stones never burns carbon off as others do: what the published one never reaches is no measure."""
    return kind.at_most or any(getattr(t, kind.key) > 0 for t in published.values())


def _corners(case: Case, row: Row) -> Corners:
    return corners_of(*course(legs_of(row, case, own=False)))


def _as_published(case: Case, row: Row) -> dict[Which, Traits]:
    """What a row does as it stands, at all ends."""
    return all_traits(ends_of(case), _corners(case, row), windows(case))


def _as_followed(case: Case, own: Row) -> dict[Which, Traits]:
    """What the user's own programme does in his kiln, set by hand where it is."""
    legs = legs_of(own, case, own=True)
    points = set_points(legs, kiln=case.kiln, step_min=case.library.rule("by_hand_step_min"))
    return all_traits(ends_of(case), followed(legs, points, case.kiln), windows(case))


def judge(found: Mapping[Which, Traits], limits: Limits) -> tuple[Verdict, ...]:
    """Every measure against its limit, at the end of the inputs where its margin is least."""
    return tuple(_worst(kind, found, limits) for kind in limits.kinds)


def _worst(kind: Kind, found: Mapping[Which, Traits], limits: Limits) -> Verdict:
    over = _over(kind, found, limits)
    which = max(over, key=lambda w: over[w])
    return Verdict(
        key=kind.key,
        what=kind.what,
        measure=float(getattr(found[which], kind.key)),
        limit=limits.allowed[which][kind.key],
        unit=kind.unit,
        at_most=kind.at_most,
        published=limits.published[which][kind.key],
        at_end=in_words(which),
        source=limits.sources[kind.key],
        by=limits.by(kind, which),
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
