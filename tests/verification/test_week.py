"""The rota against answers that come from elsewhere: a published instance of one machine, and every possibility tried by hand."""

import random
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import pairwise, permutations, product

import pytest

from pourwell.steps.day.rota import solve
from pourwell.steps.day.week_model import STEP_MIN, Calendar, Firing, Line, Span, Week, WeekRun
from tests.unit.day.week_case import ROOM_PARTS, faults, line, odd_min, run, week

HEADS = (10, 13, 11, 20, 30, 0, 30)
WORK = (5, 6, 7, 4, 3, 6, 2)
TAILS = (7, 26, 24, 21, 8, 17, 0)
BEST = 50
"""Seven jobs on one machine with heads and tails (Carlier, The one-machine sequencing problem, European Journal of Operational
Research 11, 1982, pp. 42-47): the rule of the longest tail first gives 53, the best there is 50."""


def makespan(order: tuple[int, ...]) -> int:
    """The end of the last tail when the jobs take the machine in this order."""
    at = ends = 0
    for job in order:
        at = max(at, HEADS[job]) + WORK[job]
        ends = max(ends, at + TAILS[job])
    return ends


def longest_tail_first() -> int:
    """Of the jobs that are there the one with the longest tail (the rule of Schrage)."""
    left, at, ends = set(range(len(WORK))), 0, 0
    while left:
        at = max(at, min(HEADS[j] for j in left))
        job = max((j for j in left if HEADS[j] <= at), key=lambda j: TAILS[j])
        left.remove(job)
        at += WORK[job]
        ends = max(ends, at + TAILS[job])
    return ends


def one_machine() -> Week:
    """The instance as a week: investing is the machine, the set is the tail, the pour ends it."""
    nothing = Line()
    free = Firing(total_min=0, free_after_min=0, fall_c_per_h=120.0, room_parts=ROOM_PARTS)
    runs = [
        run(
            name=f"job {j}",
            lines={"wrap": nothing, "invest": line(STEP_MIN * WORK[j]), "strip": nothing, "quench": nothing, "cut": nothing},
            ready_min=STEP_MIN * HEADS[j],
            set_min=STEP_MIN * TAILS[j],
            stand_max_min=10_000,
            first_set_out_min=0,
            next_set_out_min=0,
            melt_min=0,
            pour_min=0,
            cool_min=0,
            pickle_min=0,
            firings=(free,),
            wait_max_min=0,
        )
        for j in range(len(WORK))
    ]
    window = ((0, 2000),)
    return week(
        *runs, share=False, calendar=Calendar(work=window, easy=window, awake=window), horizon_min=2000, crucible_change_min=0
    )


def test_the_published_best_of_one_machine_is_found_and_proven():
    """Carlier 1982; all 5040 orders are tried here too, so that our memory of the figures is no part of the claim."""
    assert min(makespan(order) for order in permutations(range(len(WORK)))) == BEST
    assert longest_tail_first() == 53
    rota = solve(one_machine())
    assert rota.status == "proven"
    assert rota.goals[0].value == STEP_MIN * BEST


# ---- every possibility of a small week

OPEN: tuple[Span, ...] = ((0, 50), (90, 140), (180, 230), (270, 600))
"""Short days, so that all can be tried; the last is long, so that cutting off always finds its place there."""
EASY: tuple[Span, ...] = ((10, 45), (100, 135), (185, 225), (270, 600))


def small(rng: random.Random) -> WeekRun:
    """A flask whose lines are so short that every possibility can be tried."""
    set_min = rng.choice((20, 30, 45))
    return run(
        alloy=rng.choice(("silver", "gold")),
        lines={"wrap": line(5), "invest": line(rng.choice((5, 10))), "strip": line(5), "quench": line(5), "cut": line(5)},
        set_min=set_min,
        stand_max_min=set_min + rng.choice((5, 20, 60)),
        first_set_out_min=10,
        next_set_out_min=5,
        melt_min=5,
        pour_min=2,
        cool_min=rng.choice((3, 8)),
        pickle_min=0,
        firings=(
            Firing(
                total_min=rng.choice((40, 62, 85)),
                free_after_min=rng.choice((0, 25)),
                fall_c_per_h=120.0,
                room_parts=ROOM_PARTS // rng.choice((1, 2)),
            ),
        ),
        wait_max_min=rng.choice((10, 60)),
        ready_min=rng.choice((0, 0, 90)),
        pour_by_min=rng.choice((None, None, 150, 220)),
    )


def small_week(seed: int, count: int) -> Week:
    rng = random.Random(seed)
    made = [small(rng) for _ in range(count)]
    return week(
        *made,
        calendar=Calendar(work=OPEN, easy=EASY, awake=OPEN),
        horizon_min=600,
        crucible_change_min=5,
        overnight=rng.random() < 0.8,
    )


def starts(minutes: int, after: int = 0) -> Iterator[int]:
    """Every full step at which so many minutes fit into the open hours."""
    for opens, closes in OPEN:
        yield from range(-(-max(opens, after) // STEP_MIN) * STEP_MIN, closes - minutes + 1, STEP_MIN)


@cache
def cold_ways(own_key: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    """Wrap and strip of a run, each pair that its set and its standing limit leave."""
    tied, wrap_invest, set_min, longest, strip, ready = own_key
    return tuple(
        (wrap, at)
        for wrap in starts(tied, ready)
        for at in starts(strip, ready)
        if wrap + wrap_invest + set_min <= at <= wrap + wrap_invest + longest
    )


def cold_of(own: WeekRun) -> tuple[tuple[int, int], ...]:
    lines = own.lines
    tied = lines["wrap"].whole_min + lines["invest"].whole_min
    return cold_ways((tied, tied, own.set_min, own.stand_max_min, lines["strip"].whole_min, own.ready_min))


def cold_near(own: WeekRun, hot: list[Span], on_by: int) -> list[tuple[int, int]]:
    """The ways of a run's cold work that clash with no hot work, end before the kiln must be on, and do not stand too long then."""
    lines, out = own.lines, []
    tied, strip_min = lines["wrap"].whole_min + lines["invest"].whole_min, lines["strip"].whole_min
    for wrap, strip in cold_of(own):
        earliest = on_by - own.wait_max_min
        in_time = strip + strip_min <= on_by and earliest <= wrap + tied + own.stand_max_min + strip_min
        if in_time and not clash([*hot, (wrap, wrap + tied), (strip, strip + strip_min)]):
            out.append((wrap, strip))
    return out


def clash(spans: list[Span]) -> bool:
    ordered = sorted(spans)
    return any(a[1] > b[0] for a, b in pairwise(ordered))


def hot_spans(given: Week, pours: tuple[int, ...], together: bool) -> list[Span] | None:
    """The hands-on spans of set-out to quench, or None if one leaves the hours or two clash."""
    order = sorted(range(len(pours)), key=lambda i: pours[i])
    spans = []
    for place, i in enumerate(order):
        own = given.runs[i]
        set_out = own.first_set_out_min
        if together and place:
            change = given.runs[order[place - 1]].alloy != own.alloy
            set_out = own.next_set_out_min + given.crucible_change_min * change
        span = (pours[i] - own.melt_min - set_out, pours[i] + own.tail_min)
        if not any(a <= span[0] and span[1] <= b for a, b in OPEN):
            return None
        spans.append(span)
    return None if clash(spans) else spans


def kiln_on(given: Week, load: tuple[int, ...], pours: tuple[int, ...], cold: dict[int, tuple[int, int]]) -> list[Span]:
    """From when to when a load may be begun."""
    total = max(given.runs[i].firings[0].total_min for i in load)
    low, high = 0, given.horizon_min
    for i in load:
        own, (wrap, strip) = given.runs[i], cold[i]
        invested = wrap + own.lines["wrap"].whole_min + own.lines["invest"].whole_min
        stripped = own.lines["strip"].whole_min
        low = max(low, strip + stripped, pours[i] - total - own.wait_max_min)
        high = min(high, invested + own.stand_max_min + stripped, pours[i] - total)
    out = max(pours[i] for i in load)
    ways = [(max(low, a), min(high, b)) for a, b in OPEN if max(low, a) <= min(high, b)]
    if given.overnight:
        return ways
    return [(max(a, c), b) for a, b in ways for c, d in OPEN if out <= d and max(a, c) <= b]


def possible(given: Week, pours: tuple[int, ...]) -> Iterator[dict[int, tuple[int, int]]]:
    """Every way of the cold work with which these pours can be had, in one load or one each."""
    n = len(given.runs)
    partitions = [[(0,)]] if n == 1 else [[(0, 1)], [(0,), (1,)]]
    for loads in partitions:
        together = len(loads) < n
        if together and sum(run.firings[0].room_parts for run in given.runs) > ROOM_PARTS:
            continue
        hot = hot_spans(given, pours, together)
        if hot is None:
            continue
        total = [max(given.runs[i].firings[0].total_min for i in load) for own in range(n) for load in loads if own in load]
        for ways in product(*(cold_near(own, hot, pour - t) for own, pour, t in zip(given.runs, pours, total, strict=True))):
            cold = dict(enumerate(ways))
            spans = list(hot)
            for i, (wrap, strip) in cold.items():
                lines = given.runs[i].lines
                spans += [
                    (wrap, wrap + lines["wrap"].whole_min + lines["invest"].whole_min),
                    (strip, strip + lines["strip"].whole_min),
                ]
            if clash(spans):
                continue
            ons = [kiln_on(given, load, pours, cold) for load in loads]
            if not all(ons):
                continue
            if len(loads) == 2:
                early, late = (0, 1) if pours[0] < pours[1] else (1, 0)
                own = given.runs[early]
                free = pours[early] + own.pour_min + own.firings[0].free_after_min
                if max(b for _, b in ons[late]) < free:
                    continue
            yield cold


def by_hand(given: Week) -> int | None:
    """The earliest last pour of all possibilities; None: there is none."""
    grid = range(0, given.horizon_min, STEP_MIN)
    for last in grid:
        first = [(last,)] if len(given.runs) == 1 else [p for q in grid if q < last for p in ((q, last), (last, q))]
        for pours in first:
            if any(p < own.ready_min or p > (own.pour_by_min or p) for p, own in zip(pours, given.runs, strict=True)):
                continue
            if next(possible(given, pours), None) is not None:
                return last
    return None


@pytest.mark.parametrize("seed", range(40))
def test_one_flask_is_poured_as_early_as_the_best_of_all_possibilities(seed):
    """Exhaustive enumeration on the five-minute grid, by code that shares nothing with the solver."""
    given = small_week(seed, 1)
    rota = solve(given)
    found = rota.goals[0].value if rota.fits else None
    assert rota.status in ("proven", "nothing")
    assert found == by_hand(given)
    assert not rota.fits or faults(given, rota) == []


@pytest.mark.parametrize("seed", range(100, 108))
def test_two_flasks_are_poured_as_early_as_the_best_of_all_possibilities(seed):
    """As above, in one load or in two: which is better is part of what is enumerated."""
    given = small_week(seed, 2)
    rota = solve(given)
    assert rota.status in ("proven", "nothing")
    assert (rota.goals[0].value if rota.fits else None) == by_hand(given)
    assert not rota.fits or faults(given, rota) == []


def odd_of(given: Week, pour: int, cold: tuple[int, int]) -> int:
    """Odd minutes of the best place for the quench's follower: cutting off is always found a comfortable one."""
    own = given.runs[0]
    wrap, strip = cold
    lines = own.lines
    spans = [
        (wrap, lines["wrap"].hands_min),
        (wrap + lines["wrap"].whole_min, lines["invest"].hands_min),
        (strip, lines["strip"].hands_min),
        (pour - own.melt_min - own.first_set_out_min, own.next_set_out_min + own.melt_min + own.tail_min),
    ]
    return sum(long for at, long in spans if not any(a <= at and at + long <= b for a, b in EASY))


@pytest.mark.parametrize("seed", range(200, 212))
def test_of_all_with_the_earliest_pour_the_one_with_the_fewest_odd_minutes_is_taken(seed):
    """Exhaustive enumeration of the second goal under the first."""
    given = small_week(seed, 1)
    rota = solve(given)
    last = by_hand(given)
    if last is None:
        assert not rota.fits
        return
    fewest = min(odd_of(given, last, ways[0]) for ways in possible(given, (last,)))
    assert {g.key: g.value for g in rota.goals} == {"last_pour": last, "odd": fewest}
    assert odd_min(given, rota) == fewest


def test_a_flask_more_never_helps_and_a_kiln_more_never_hurts():
    """Monotony: adding a constraint cannot make the best earlier, taking one away cannot make it later."""
    one, two = week(run()), week(run(), run(alloy="gold"))
    small_kiln = week(*(replace(r, firings=(replace(r.firings[0], room_parts=ROOM_PARTS),)) for r in two.runs))
    more_kilns = week(*(replace(r, firings=r.firings * 2) for r in small_kiln.runs))
    last = [solve(w).goals[0].value for w in (one, two, small_kiln, more_kilns)]
    assert last[0] <= last[1] <= last[2]
    assert last[3] <= last[2]
