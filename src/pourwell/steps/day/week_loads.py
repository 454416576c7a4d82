"""Which runs of a week share a load, in which kiln, from when: as constraints."""

from collections.abc import Iterator
from typing import Any

from pourwell.steps.day.week_model import ROOM, Week
from pourwell.steps.day.week_vars import WeekModel, hold_within, inside


def loads(made: WeekModel) -> None:
    """Which runs share a load, which kiln takes it, when it begins.

    The run with the longest programme rules a load; so each load has one name, and none is counted twice.
    """
    model, week = made.model, made.week
    for ruler, run in enumerate(week.runs):
        for i in range(len(week.runs)):
            if i == ruler or (i in run.shares_with and any(rules(week, ruler, i, kiln=k) for k in range(len(week.kilns)))):
                made.loads[ruler, i] = model.new_bool_var(f"run {i} in load {ruler}")
    for i in range(len(week.runs)):
        model.add_exactly_one(lit for (_, j), lit in made.loads.items() if j == i)
    for (ruler, i), lit in made.loads.items():
        if ruler != i:
            model.add_implication(lit, made.loads[ruler, ruler])
            for other in range(i):
                if (ruler, other) in made.loads and other not in (ruler, i) and other not in week.runs[i].shares_with:
                    model.add_at_most_one(lit, made.loads[ruler, other])
    for ruler, run in enumerate(week.runs):
        made.ons.append(model.new_int_var(0, week.horizon_min, f"on {ruler}"))
        for k in range(len(week.kilns)):
            if run.firings[k] is not None:
                made.places[ruler, k] = model.new_bool_var(f"load {ruler} in kiln {k}")
        model.add(sum(lit for (r, _), lit in made.places.items() if r == ruler) == made.loads[ruler, ruler])
    _rooms(made)
    for i in range(len(week.runs)):
        _fired(made, i)


def rules(week: Week, ruler: int, i: int, *, kiln: int) -> bool:
    """Is the programme of the first the longer one in this kiln; of two alike, that of the earlier in the list."""
    one, other = week.runs[ruler].firings[kiln], week.runs[i].firings[kiln]
    return one is not None and other is not None and (one.total_min, -ruler) >= (other.total_min, -i)


def _rooms(made: WeekModel) -> None:
    """No load is larger than its kiln, and no run is in a kiln that does not take it."""
    model, week = made.model, made.week
    for (ruler, k), here in made.places.items():
        inside_it = [(i, lit, week.runs[i].firings[k]) for (r, i), lit in made.loads.items() if r == ruler]
        takes = sum(lit * firing.room_parts for _, lit, firing in inside_it if firing is not None)
        model.add(takes <= ROOM).only_enforce_if(here)
        for i, lit, _ in inside_it:
            if not rules(week, ruler, i, kiln=k):
                model.add_bool_or(~here, ~lit)


def _fired(made: WeekModel, i: int) -> None:
    """Kiln on of a run's load, and its pour: not before its programme ends, not later than it may be held."""
    model, week, own = made.model, made.week, made.runs[i]
    own.on = model.new_int_var(0, week.horizon_min, f"on of {i}")
    for (ruler, j), lit in made.loads.items():
        if j == i:
            model.add(own.on == made.ons[ruler]).only_enforce_if(lit)


def kilns_free(made: WeekModel) -> None:
    """One load at a time in a kiln, which has cooled before the next goes in; begun when somebody is there, if it must be."""
    model, week = made.model, made.week
    by_kiln: dict[int, list[Any]] = {k: [] for k in range(len(week.kilns))}
    for (ruler, k), here in made.places.items():
        on, free = made.ons[ruler], model.new_int_var(0, 2 * week.horizon_min, f"free {ruler} {k}")
        for (r, i), lit in made.loads.items():
            firing = week.runs[i].firings[k]
            if r == ruler and firing is not None:
                run = week.runs[i]
                model.add(free >= made.runs[i].pour + run.pour_min + firing.free_after_min).only_enforce_if(lit, here)
        size = model.new_int_var(0, 2 * week.horizon_min, f"fired {ruler} {k}")
        by_kiln[k].append(model.new_optional_interval_var(on, size, free, here, f"load {ruler} in {k}"))
        firing = week.runs[ruler].firings[k]
        assert firing is not None
        begins = [(0, week.horizon_min)] if week.kilns[k].delayed_start else list(week.calendar.work)
        if firing.set_at_min:
            begins = inside(week.calendar.awake, firing.set_at_min, week.horizon_min)
        hold_within(made, on, begins, where=here)
    for loads in by_kiln.values():
        model.add_no_overlap(loads)
    for ruler in range(len(week.runs)):
        model.add(made.ons[ruler] == 0).only_enforce_if(~made.loads[ruler, ruler])


def set_points(made: WeekModel) -> Iterator[Any]:
    """The hands at a kiln that is set by the clock."""
    for (ruler, k), here in made.places.items():
        firing = made.week.runs[ruler].firings[k]
        for at_min in firing.set_at_min if firing else ():
            start = made.ons[ruler] + at_min
            yield made.model.new_optional_fixed_size_interval_var(start, made.week.set_point_min, here, f"set {ruler} {k} {at_min}")


def never_overnight(made: WeekModel) -> None:
    """Every load begins and is poured out while somebody is awake, in one stretch."""
    model, week = made.model, made.week
    for ruler in range(len(week.runs)):
        days = [(model.new_bool_var(f"load {ruler} on day {d}"), span) for d, span in enumerate(week.calendar.awake)]
        model.add(sum(lit for lit, _ in days) == made.loads[ruler, ruler])
        for lit, (opens, closes) in days:
            model.add(made.ons[ruler] >= opens).only_enforce_if(lit)
            for (r, i), within in made.loads.items():
                if r == ruler:
                    model.add(made.runs[i].pour <= closes).only_enforce_if(lit, within)
