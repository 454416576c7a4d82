"""From a worked-out flask to whole minutes and room in a kiln, as the solver takes them."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Final

from pourwell.errors import BadRequestError
from pourwell.materials.library import Library
from pourwell.materials.studio import Kiln, no_kiln
from pourwell.steps.burnout.legs import fall_h, typed_fall_c_per_h
from pourwell.steps.burnout.room import flasks_in
from pourwell.steps.day.checks import span_words
from pourwell.steps.day.open_hours import Terms
from pourwell.steps.day.turns import tasks
from pourwell.steps.day.week import SAME_K
from pourwell.steps.day.week_model import ROOM, Firing, Line, WeekRun
from pourwell.steps.day.week_plan import Candidate
from pourwell.units import min_from_h

PLACED: Final = ("patterns", "tree", "wrap", "invest", "strip", "quench", "cut")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """When a run may or must be poured, and where."""

    pour_at: datetime | None = None
    pour_by: datetime | None = None
    ready_at: datetime | None = None
    kiln: str | None = None


def week_runs(
    candidates: Sequence[Candidate],
    wishes: Sequence[Wish],
    *,
    terms: Terms,
    kilns: Sequence[Kiln],
    wait_max_min: int | None,
    library: Library,
) -> tuple[WeekRun, ...]:
    """Every run as the solver takes it. Raises BadRequestError for a flask that no kiln holds, and a line longer than any day."""
    runs = []
    for i, (candidate, wish) in enumerate(zip(candidates, wishes, strict=True)):
        by_key = {t.key: t for part in tasks(candidate.work, library) for t in part}
        mix, quench = candidate.work.mix, candidate.work.quench
        held = wait_max_min if wait_max_min is not None else round(library.rule("hold_longer_max_min"))
        runs.append(
            WeekRun(
                name=candidate.name,
                alloy=candidate.alloy,
                flask_c=candidate.flask_c,
                soak_min=candidate.programmes[0].soak_min,
                lines={
                    key: Line(whole_min=math.ceil(by_key[key].whole_min), hands_min=math.ceil(by_key[key].hands_on_min))
                    for key in PLACED
                    if key in by_key
                },
                set_min=math.ceil(min_from_h(mix.set_h)),
                stand_max_min=int(min_from_h(mix.stand_max_h)),
                first_set_out_min=math.ceil(library.rule("set_out_min")),
                next_set_out_min=math.ceil(library.rule("set_out_next_min")),
                melt_min=math.ceil(library.rule("melt_min")),
                pour_min=math.ceil(library.rule("pour_min")),
                vacuum_min=math.ceil(candidate.work.vacuum_min),
                cool_min=math.ceil(by_key["stand"].whole_min),
                water=quench.way == "water",
                pickle_min=math.ceil(by_key["pickle"].whole_min),
                firings=firings(candidate, wish, kilns=kilns, library=library),
                wait_max_min=held if candidate.stretches else _turns_only(candidates, i, library),
                shares_with=frozenset(j for j, other in enumerate(candidates) if j != i and may_share(candidate, other)),
                ready_min=0 if wish.ready_at is None else max(0, terms.minute(wish.ready_at)),
                pour_at_min=None if wish.pour_at is None else terms.minute(wish.pour_at),
                pour_by_min=None if wish.pour_by is None else terms.minute(wish.pour_by),
            )
        )
    long_enough(terms, runs)
    return tuple(runs)


def _turns_only(candidates: Sequence[Candidate], i: int, library: Library) -> int:
    """How long a flask that is not to be held for the hours may wait for its turn.

    While others of its load are poured before it, and, after hotter ones, while the kiln falls to it and it soaks.
    """
    rule = library.rule
    each = rule("set_out_next_min") + rule("crucible_change_min") + rule("melt_min") + rule("pour_min") + rule("quench_min")
    mates = [c for j, c in enumerate(candidates) if j != i and may_share(candidates[i], c)]
    turns = sum(each + (c.work.quench.cool_min if c.work.quench.way == "water" else c.work.vacuum_min) for c in mates)
    return math.ceil(turns + _falls_min(candidates[i], mates))


def _falls_min(own: Candidate, mates: Sequence[Candidate]) -> float:
    """From the hottest soak of a load until its kiln has fallen to a flask's own temperature, by steps, each with its soak."""
    levels = sorted({own.flask_c, *(c.flask_c for c in mates if c.flask_c > own.flask_c + SAME_K)}, reverse=True)
    slowest = min(one.case.kiln.fall_c_per_h for one in own.fired)
    falls = (min_from_h((a - b) / typed_fall_c_per_h(a, b, fall_c_per_h=slowest)) for a, b in pairwise(levels))
    soaks = (max(c.programmes[0].soak_min for c in (own, *mates) if c.flask_c == level) for level in levels[1:])
    return sum(map(math.ceil, falls)) + sum(soaks)


def may_share(one: Candidate, other: Candidate) -> bool:
    """May two flasks be fired together: they take the same published programme, for the same reasons, and neither is kept apart."""
    return one.apart == other.apart and all(
        (a.id, a.stones, a.ceiling_c) == (b.id, b.stones, b.ceiling_c)
        for a, b in zip(one.programmes, other.programmes, strict=True)
    )


def firings(candidate: Candidate, wish: Wish, *, kilns: Sequence[Kiln], library: Library) -> tuple[Firing | None, ...]:
    """What a run needs of each kiln; None where it does not fit or may not go in.

    Raises BadRequestError if no kiln takes it, or none has the name that was asked for.
    """
    if wish.kiln is not None and wish.kiln not in [kiln.name for kiln in kilns]:
        raise no_kiln(wish.kiln, kilns)
    out: list[Firing | None] = []
    for kiln, programme in zip(kilns, candidate.programmes, strict=True):
        takes = flasks_in(kiln, candidate.outside_mm, height_mm=candidate.height_mm, library=library)
        if takes == 0 or (wish.kiln is not None and kiln.name != wish.kiln):
            out.append(None)
            continue
        out.append(
            Firing(
                total_min=math.ceil(programme.total_min),
                set_at_min=tuple(round(point.at_min) for point in programme.by_hand),
                free_after_min=cooling_min(candidate.flask_c, kiln=kiln, library=library),
                fall_c_per_h=kiln.fall_c_per_h,
                room_parts=ROOM // takes,
            )
        )
    if not any(out):
        raise BadRequestError(
            f"The flask of {candidate.name} fits no kiln.",
            why=f"It is {candidate.outside_mm:.0f} mm wide and {candidate.height_mm:.0f} mm high, and needs "
            f"{library.rule('kiln_gap_mm'):g} mm of air at each side and {library.rule('kiln_gap_above_mm'):g} mm above.",
            try_this="Take a smaller flask, or mend the kiln's width_mm, depth_mm and height_mm in studio.toml.",
        )
    return tuple(out)


def cooling_min(from_c: float, *, kiln: Kiln, library: Library) -> int:
    """How long a kiln takes from a flask temperature until a damp flask may go in, with its door shut, whole minutes."""
    reload_c = library.rule("kiln_reload_c")
    if from_c <= reload_c:
        return 0
    return math.ceil(min_from_h(fall_h(from_c, reload_c, fall_c_per_h=kiln.fall_c_per_h)))


NEEDS: Final[Mapping[str, str]] = {
    "patterns": "looking over the patterns",
    "tree": "building the tree",
    "wrap": "wrapping and investing",
    "strip": "base off and into the kiln",
    "quench": "the quench",
    "cut": "cutting off",
}


def long_enough(terms: Terms, runs: Sequence[WeekRun]) -> None:
    """Raise BadRequestError if a line is longer than the hours of a day: no rota can serve it."""
    opens, closes = terms.work
    day_min = min_from_h(closes.hour - opens.hour) + closes.minute - opens.minute
    for run in runs:
        hot = run.next_set_out_min + run.melt_min + run.tail_min
        longest = {key: line.whole_min for key, line in run.lines.items() if key in NEEDS}
        longest["wrap"] += run.lines["invest"].whole_min
        for needs, minutes in (*((NEEDS[key], m) for key, m in longest.items()), ("melt, pour and quench", hot)):
            if minutes > day_min:
                raise BadRequestError(
                    f"{run.name}: {needs} takes {span_words(minutes)} in one go.",
                    why=f"The hours from {opens:%H:%M} to {closes:%H:%M} are shorter.",
                    try_this="Make the hours longer, or plan smaller trees.",
                )
