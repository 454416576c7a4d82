"""The best rota of a week: the last pour as early as can be, then the fewest odd hours, then the fewest flasks bagged damp.

Each goal is proven before the next is asked, or its gap is told. What is then still open is tidied: pours early, the work before
them close to them. Pure and repeatable: one worker, a fixed seed, the solver's own count of work for a clock.
"""

import itertools
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from pourwell.errors import UnsoundResultError
from pourwell.steps.day.week import build
from pourwell.steps.day.week_model import KEYS, Goal, LoadTimes, Rota, RunTimes, Week, WeekRun
from pourwell.steps.day.week_vars import WeekModel

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

SEED: Final = 7
EFFORT: Final = 20.0
"""How much work one goal may take, in the solver's own units, about seconds. Own choice."""
TIDY_EFFORT: Final = 0.5
LOOK_EFFORT: Final = 4.0
"""... and one look whether something fits at all."""
POUR_WEIGHT: Final = 50
"""In tidying, an earlier pour outweighs the waits of so many lines. Own choice."""
FINISHED: Final = ("OPTIMAL", "FEASIBLE")


def solve(week: Week, *, effort: float = EFFORT, tidy: bool = True, first_goal_only: bool = False) -> Rota:
    """The best rota of a week; `effort` bounds the work on each goal, in the solver's own units.

    Without `tidy` what the goals leave open lies anyhow; with `first_goal_only` only the last pour is made early.

    A week in which nothing fits raises nothing: its rota says so. Raises UnsoundResultError for a model that the solver refuses.
    """
    if any(all(firing is None for firing in run.firings) for run in week.runs):
        return Rota(status="nothing")
    made = build(week)
    bounds: dict[Any, int] = {}
    rota: Rota | None = None
    for key, objective in _goals(made)[: 1 if first_goal_only else None]:
        made.model.minimize(objective)
        solver, status = _solved(made.model, effort)
        if status in FINISHED:
            rota, bounds[key] = _read(made, solver), round(solver.best_objective_bound)
            _hint(made, solver)
        elif rota is None:
            return Rota(status="nothing" if status == "INFEASIBLE" else "unknown")
        elif status == "INFEASIBLE":
            raise UnsoundResultError("The rota's own rules refuse a rota that they let through before.")
        else:
            bounds[key] = 0
        made.model.add(objective <= measured(week, rota)[key])
    assert rota is not None
    if tidy:
        rota = _tidied(made, rota)
    values = measured(week, rota)
    goals = tuple(Goal(key=key, value=values[key], bound=bound) for key, bound in bounds.items())
    return replace(rota, status="proven" if all(g.proven for g in goals) else "found", goals=goals)


def measured(week: Week, rota: Rota) -> dict[str, int]:
    """What the goals come to in a rota, by its moments: the solver may lift a mark of its own that need not be lifted."""
    odd = 0
    for run, times in zip(week.runs, rota.runs, strict=True):
        hot_min = run.next_set_out_min + run.melt_min + run.tail_min
        minutes = {key: hot_min if key == "hot" else run.lines[key].hands_min for key in times.starts}
        odd += sum(
            minutes[key] for key, at in times.starts.items() if not any(a <= at <= b - minutes[key] for a, b in week.calendar.easy)
        )
    return {
        "last_pour": max(times.pour_min for times in rota.runs),
        "odd": odd,
        "bagged": sum(times.bagged for times in rota.runs),
    }


def _goals(made: WeekModel) -> list[tuple[Any, Any]]:
    """What is made small, in this order."""
    goals = [("last_pour", made.last_pour)]
    if made.odd:
        goals.append(("odd", sum(lit * minutes for lit, minutes in made.odd)))
    bagged = [run.bagged for run in made.runs if run.bagged is not False]
    if bagged:
        goals.append(("bagged", sum(bagged)))
    return goals


def _solved(model: "cp_model.CpModel", effort: float) -> "tuple[cp_model.CpSolver, str]":
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1  # alone, without linear programs, it proved weeks of six runs 10 times sooner than two did
    solver.parameters.linearization_level = 0
    solver.parameters.random_seed = SEED
    solver.parameters.max_deterministic_time = effort
    status = solver.status_name(solver.solve(model))
    if status == "MODEL_INVALID":
        raise UnsoundResultError("The rota's own rules contradict their form.", why=model.validate())
    return solver, status


def _hint(made: WeekModel, solver: "cp_model.CpSolver") -> None:
    """The next goal begins from what was found for the last."""
    made.model.clear_hints()  # type: ignore[no-untyped-call]
    for index, value in enumerate(solver.response_proto.solution):
        made.model.add_hint(made.model.get_int_var_from_proto_index(index), value)


def _read(made: WeekModel, solver: "cp_model.CpSolver") -> Rota:
    """The solution as moments."""
    runs = tuple(
        RunTimes(
            starts={key: int(solver.value(own.starts[key])) for key in KEYS if key in own.starts},
            pour_min=int(solver.value(own.pour)),
            set_out_min=int(solver.value(own.set_out)),
            bagged=own.bagged is not False and int(solver.value(own.on - own.starts["invest"])) > _stands_max_min(run),
        )
        for own, run in zip(made.runs, made.week.runs, strict=True)
    )
    loads = []
    for (ruler, kiln), here in made.places.items():
        if solver.value(here):
            members = [i for (r, i), lit in made.loads.items() if r == ruler and solver.value(lit)]
            members.sort(key=lambda i: runs[i].pour_min)
            loads.append(LoadTimes(kiln=kiln, runs=tuple(members), ruling=ruler, on_min=int(solver.value(made.ons[ruler]))))
    return Rota(status="found", runs=runs, loads=tuple(sorted(loads, key=lambda load: (load.on_min, load.kiln))))


def _stands_max_min(run: WeekRun) -> int:
    """From the beginning of investing to the kiln, without a damp bag."""
    return run.lines["invest"].whole_min + run.stand_max_min + run.lines["strip"].whole_min


def _tidied(made: WeekModel, rota: Rota) -> Rota:
    """The same loads in the same order, with each pour as early and the work before and after it as close as can be."""
    model = made.model
    led = {i: load for load in rota.loads for i in load.runs}
    for (ruler, i), lit in made.loads.items():
        model.add(lit == int(led[i].ruling == ruler))
    for (ruler, kiln), lit in made.places.items():
        model.add(lit == int(any(load.ruling == ruler and load.kiln == kiln for load in rota.loads)))
    _same_order(made, rota)
    pours = sum(own.pour for own in made.runs)
    close: Any = 0
    for own in made.runs:
        close += sum(own.starts[key] for key in ("quench", "cut") if key in own.starts)
        close -= own.on + sum(own.starts[key] for key in ("patterns", "tree", "wrap", "strip") if key in own.starts)
    model.minimize(POUR_WEIGHT * pours + close)
    solver, status = _solved(model, TIDY_EFFORT)
    return _read(made, solver) if status in FINISHED else rota


def _same_order(made: WeekModel, rota: Rota) -> None:
    """The pours stay in their order."""
    order: Sequence[int] = sorted(range(len(rota.runs)), key=lambda i: rota.runs[i].pour_min)
    for earlier, later in itertools.pairwise(order):
        made.model.add(made.runs[earlier].pour <= made.runs[later].pour)
