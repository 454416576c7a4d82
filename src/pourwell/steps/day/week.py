"""Several days as constraints: one pair of hands, kilns with room, open hours. Built for a solver of such constraints (CP-SAT).

All moments are whole elapsed minutes from the first one of the week, so a clock change cannot bend a duration. Work begins at full
five minutes. What is tied touches: wrap and investing; set-out, melt, pour and, into water, the quench.
"""

from collections.abc import Iterable, Iterator
from itertools import combinations, permutations
from typing import Any, Final

from pourwell.steps.burnout.legs import typed_fall_c_per_h
from pourwell.steps.day.week_loads import kilns_free, loads, never_overnight, set_points
from pourwell.steps.day.week_model import STEP_MIN, Line, Span, Week, WeekRun
from pourwell.steps.day.week_vars import WeekModel, fits, hold_within, variable
from pourwell.units import min_from_h

SAME_K: Final = 1.0
"""Flask temperatures closer than this are poured at one. Under what any kiln holds; own choice."""


def build(week: Week) -> WeekModel:
    """The model of a week, without an objective."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    made = WeekModel(model, week)
    hands: list[Any] = []
    loads(made)
    for i, run in enumerate(week.runs):
        hands += _cold_work(made, i, run)
        hands += _hot_work(made, i, run)
    hands += list(set_points(made))
    model.add_no_overlap(hands)
    _turns(made)
    kilns_free(made)
    if not week.overnight:
        never_overnight(made)
    _alike(made)
    made.last_pour = model.new_int_var(0, week.horizon_min, "last pour")
    model.add_max_equality(made.last_pour, [run.pour for run in made.runs])
    if week.first_pour_min is not None:
        first = model.new_int_var(0, week.horizon_min, "first pour")
        model.add_min_equality(first, [run.pour for run in made.runs])
        model.add(first == week.first_pour_min)
    return made


def _steps(made: WeekModel, windows: Iterable[Span], *, minutes: int, after_min: int, name: str) -> Any:
    """A start at a full step inside windows, as minutes."""
    return STEP_MIN * variable(made, fits(windows, minutes, after_min=after_min), name)


def _task(made: WeekModel, i: int, key: str, *, line: Line, tied_min: int = 0) -> Iterator[Any]:
    """A hands-on line of a run inside the open hours: its interval of hands; `tied_min` follows it in the same hours."""
    run, week = week_run(made, i), made.week
    start = _steps(made, week.calendar.work, minutes=line.whole_min + tied_min, after_min=run.ready_min, name=f"{key} {i}")
    made.runs[i].starts[key] = start
    _odd(made, start, line.hands_min, name=f"{key} {i}")
    if line.hands_min:
        yield made.model.new_fixed_size_interval_var(start, line.hands_min, f"{key} {i}")


def week_run(made: WeekModel, i: int) -> WeekRun:
    """The run with this place in the week."""
    return made.week.runs[i]


def _odd(made: WeekModel, start: Any, minutes: int, *, name: str) -> None:
    """Whether a line lies outside the comfortable hours; not asked where these are the open hours."""
    calendar = made.week.calendar
    if calendar.easy == calendar.work or not minutes:
        return
    odd = made.model.new_bool_var(f"odd {name}")
    easy = [(a, b - minutes) for a, b in calendar.easy if a <= b - minutes]
    hold_within(made, start, easy, where=~odd)
    made.odd.append((odd, minutes))


def _cold_work(made: WeekModel, i: int, run: WeekRun) -> Iterator[Any]:
    """Patterns, tree, wrap and investing, strip, into the kiln: the intervals of hands."""
    model, own, lines = made.model, made.runs[i], run.lines
    before: Any = None
    for key in ("patterns", "tree"):
        if key in lines:
            yield from _task(made, i, key, line=lines[key])
            if before is not None:
                model.add(own.starts[key] >= before)
            before = own.starts[key] + lines[key].whole_min
    wrap, invest, strip = lines["wrap"], lines["invest"], lines["strip"]
    yield from _task(made, i, "wrap", line=wrap, tied_min=invest.whole_min)
    if before is not None:
        model.add(own.starts["wrap"] >= before)
    own.starts["invest"] = own.starts["wrap"] + wrap.whole_min
    _odd(made, own.starts["invest"], invest.hands_min, name=f"invest {i}")
    yield model.new_fixed_size_interval_var(own.starts["invest"], invest.hands_min, f"invest {i}")
    invested = own.starts["invest"] + invest.whole_min
    yield from _task(made, i, "strip", line=strip)
    model.add(own.starts["strip"] >= invested + run.set_min)
    model.add(own.on >= own.starts["strip"] + strip.whole_min)
    longest = run.stand_max_min + strip.whole_min
    if made.week.bag_damp and made.week.bag_max_min > run.stand_max_min:
        own.bagged = model.new_bool_var(f"bagged {i}")
        model.add(own.on - invested <= longest + (made.week.bag_max_min - run.stand_max_min) * own.bagged)
    else:
        model.add(own.on - invested <= longest)


def _hot_work(made: WeekModel, i: int, run: WeekRun) -> Iterator[Any]:
    """Set-out, melt, pour and what cannot wait after it; knock-out and cutting: the intervals of hands."""
    model, own, week = made.model, made.runs[i], made.week
    least = run.next_set_out_min + run.melt_min + run.tail_min
    if run.pour_at_min is not None:
        own.pour = run.pour_at_min
    elif week.first_pour_min is not None:  # it may lie off the steps
        own.pour = model.new_int_var(0, week.horizon_min, f"pour {i}")
        offset = week.first_pour_min % STEP_MIN
        model.add_modulo_equality(offset, own.pour, STEP_MIN)
    else:
        own.pour = _steps(made, [(0, week.horizon_min)], minutes=run.tail_min, after_min=run.ready_min, name=f"pour {i}")
    if run.pour_by_min is not None:
        model.add(own.pour <= run.pour_by_min)
    outs = sorted({run.first_set_out_min, run.next_set_out_min, run.next_set_out_min + week.crucible_change_min})
    own.set_out = variable(made, [(m, m) for m in outs], f"set out {i}")
    begins = variable(made, [(a, b - least) for a, b in week.calendar.work if a <= b - least], f"hot {i}")
    ends = variable(made, week.calendar.work, f"hot end {i}")
    model.add(begins + own.set_out + run.melt_min == own.pour)
    model.add(ends == own.pour + run.tail_min)
    size = own.set_out + run.melt_min + run.tail_min
    own.starts["hot"] = begins
    if max(outs) + run.melt_min + run.tail_min:
        yield model.new_interval_var(begins, size, ends, f"hot {i}")
    _odd(made, begins, least, name=f"hot {i}")
    quench, cut = run.lines["quench"], run.lines["cut"]
    cooled = own.pour + run.pour_min + run.cool_min
    if run.water:
        opened = cooled + quench.whole_min
    else:
        yield from _task(made, i, "quench", line=quench)
        model.add(own.starts["quench"] >= cooled)
        opened = own.starts["quench"] + quench.whole_min
    yield from _task(made, i, "cut", line=cut)
    model.add(own.starts["cut"] >= opened + run.pickle_min)


def _turns(made: WeekModel) -> None:
    """Pours from one load: after the programme, in turn, hotter flasks first; what each set-out takes."""
    model, week, runs = made.model, made.week, made.runs
    for i, run in enumerate(week.runs):
        model.add(runs[i].pour - runs[i].on >= min(f.total_min for f in run.firings if f is not None))
    for (ruler, i), lit in made.loads.items():
        for k in range(len(week.kilns)):
            here, firing = made.places.get((ruler, k)), week.runs[ruler].firings[k]
            if here is not None and firing is not None:
                span = runs[i].pour - runs[i].on
                model.add(span >= firing.total_min).only_enforce_if(lit, here)
                model.add(span <= firing.total_min + week.runs[i].wait_max_min).only_enforce_if(lit, here)
    same = {pair: _together(made, *pair) for pair in combinations(range(len(runs)), 2)}
    same = {pair: lit for pair, lit in same.items() if lit is not None}
    _hottest_first(made, same)
    _set_outs(made, same)


def _together(made: WeekModel, i: int, j: int) -> Any:
    """Are two runs in one load; None if they may not be."""
    both = [(a, made.loads[r, j]) for (r, k), a in made.loads.items() if k == i and (r, j) in made.loads]
    if not both or j not in made.week.runs[i].shares_with:
        return None
    model = made.model
    same = model.new_bool_var(f"{i} with {j}")
    for a, b in both:
        model.add_bool_or(~a, ~b, same)
        model.add_implication(a, b).only_enforce_if(same)
        model.add_implication(b, a).only_enforce_if(same)
    for (r, k), lit in made.loads.items():
        if k in (i, j) and (r, i if k == j else j) not in made.loads:
            model.add_implication(lit, ~same)
    return same


def _hottest_first(made: WeekModel, same: dict[tuple[int, int], Any]) -> None:
    """A load is poured from the hottest flask temperature down, each after the fall and its own soak."""
    week = made.week
    for (i, j), lit in same.items():
        hot, cool = (i, j) if week.runs[i].flask_c >= week.runs[j].flask_c else (j, i)
        hot_c, cool_c = week.runs[hot].flask_c, week.runs[cool].flask_c
        if hot_c - cool_c > SAME_K:
            wait = week.runs[hot].pour_min + fall_min(week, hot, cool_c) + week.runs[cool].soak_min
            made.model.add(made.runs[cool].pour >= made.runs[hot].pour + wait).only_enforce_if(lit)


def fall_min(week: Week, i: int, to_c: float) -> int:
    """How long the slowest kiln that takes the run falls from its flask temperature to a lower one, whole minutes."""
    slowest, from_c = min(f.fall_c_per_h for f in week.runs[i].firings if f is not None), week.runs[i].flask_c
    rate = typed_fall_c_per_h(from_c, to_c, fall_c_per_h=slowest)
    return int(-(-min_from_h((from_c - to_c) / rate) // 1))


def _set_outs(made: WeekModel, same: dict[tuple[int, int], Any]) -> None:
    """The first flask of a load takes a whole set-out, each next one less, and more again after another alloy."""
    model, week, runs = made.model, made.week, made.runs
    after: dict[int, list[Any]] = {i: [] for i in range(len(runs))}
    before: dict[int, list[Any]] = {i: [] for i in range(len(runs))}
    longer: dict[int, list[Any]] = {i: [] for i in range(len(runs))}
    for i, j in permutations(range(len(runs)), 2):
        together = same.get((min(i, j), max(i, j)))
        if together is None or week.runs[i].flask_c < week.runs[j].flask_c - SAME_K:
            continue
        nexts = made.nexts[i, j] = model.new_bool_var(f"{j} after {i}")
        model.add_implication(nexts, together)
        model.add(runs[j].pour >= runs[i].pour + 1).only_enforce_if(nexts)
        before[j].append(nexts)
        after[i].append(nexts)
        if week.runs[i].alloy != week.runs[j].alloy:
            longer[j].append(nexts)
    for i, run in enumerate(week.runs):
        runs[i].first = model.new_bool_var(f"{i} first")
        model.add_exactly_one([runs[i].first, *before[i]])
        model.add_at_most_one(after[i])
        extra = run.first_set_out_min - run.next_set_out_min
        model.add(runs[i].set_out == run.next_set_out_min + extra * runs[i].first + week.crucible_change_min * sum(longer[i], 0))
    rulers = [made.loads[i, i] for i in range(len(runs))]
    model.add(sum(run.first for run in runs) == sum(rulers))


def _alike(made: WeekModel) -> None:
    """Of runs that are the same in all but name the earlier one in the list is poured first: their exchange is no other answer."""
    runs = made.week.runs
    for i, j in combinations(range(len(runs)), 2):
        if alike(runs[i], runs[j], i=i, j=j):
            made.model.add(made.runs[i].pour + 1 <= made.runs[j].pour)


def alike(one: WeekRun, other: WeekRun, *, i: int, j: int) -> bool:
    """Could two runs change places without anybody noticing."""
    mates = (one.shares_with - {j}) == (other.shares_with - {i})
    return mates and all(
        getattr(one, name) == getattr(other, name) for name in WeekRun.__dataclass_fields__ if name not in ("name", "shares_with")
    )
