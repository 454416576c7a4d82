"""Weeks for the tests, and a check of rotas that knows nothing of the solver: every rule read again from the words of the week."""

from collections.abc import Iterator
from itertools import combinations, pairwise

from pourwell.steps.day.week_model import STEP_MIN, Calendar, Firing, Line, Rota, Span, Week, WeekKiln, WeekRun

DAY = 1440
ROOM_PARTS = 27720


def hours(days: int, opens: int, closes: int, *, off: tuple[int, ...] = ()) -> tuple[Span, ...]:
    """The same hours every day, in minutes after its midnight."""
    return tuple((d * DAY + opens, d * DAY + closes) for d in range(days) if d not in off)


def line(minutes: int, *, waits: int = 0) -> Line:
    return Line(whole_min=minutes + waits, hands_min=minutes)


def run(**changes: object) -> WeekRun:
    """A usual flask of resin rings: patterns and tree done, water quench."""
    usual = {
        "name": "rings",
        "alloy": "silver",
        "flask_c": 540.0,
        "soak_min": 60,
        "lines": {"wrap": line(15), "invest": line(20), "strip": line(15), "quench": line(15), "cut": line(25)},
        "set_min": 120,
        "stand_max_min": 270,
        "first_set_out_min": 25,
        "next_set_out_min": 5,
        "melt_min": 15,
        "pour_min": 3,
        "cool_min": 12,
        "pickle_min": 15,
        "firings": (Firing(total_min=960, free_after_min=360, fall_c_per_h=120.0, room_parts=ROOM_PARTS // 4),),
        "wait_max_min": 360,
    }
    return WeekRun(**(usual | changes))  # type: ignore[arg-type]


def week(*runs: WeekRun, days: int = 6, share: bool = True, **changes: object) -> Week:
    """A week of runs in one kiln, eight to seven; with `share` all may be fired together."""
    if share:
        every = frozenset(range(len(runs)))
        runs = tuple(_sharing(r, every - {i}) for i, r in enumerate(runs))
    work = hours(days, 480, 1140)
    usual = {
        "runs": runs,
        "kilns": tuple(WeekKiln(name=f"kiln {k}") for k in range(len(runs[0].firings))),
        "calendar": Calendar(work=work, easy=work, awake=hours(days, 420, 1380)),
        "horizon_min": days * DAY,
        "crucible_change_min": 10,
        "set_point_min": 2,
    }
    return Week(**(usual | changes))  # type: ignore[arg-type]


def _sharing(one: WeekRun, others: frozenset[int]) -> WeekRun:
    from dataclasses import replace

    return replace(one, shares_with=others)


def hands(given: Week, rota: Rota) -> list[tuple[int, int, str]]:
    """All hands-on work: from, to, what. A flask that goes into water keeps the hands from its set-out to its quench."""
    out = []
    for i, (own, times) in enumerate(zip(given.runs, rota.runs, strict=True)):
        for key, start in times.starts.items():
            if key == "hot":
                out.append((start, times.pour_min + own.tail_min, f"hot {i}"))
            elif own.lines[key].hands_min:
                out.append((start, start + own.lines[key].hands_min, f"{key} {i}"))
    for load in rota.loads:
        firing = given.runs[load.ruling].firings[load.kiln]
        out += [(load.on_min + m, load.on_min + m + given.set_point_min, f"set {load.kiln}") for m in firing.set_at_min]
    return sorted(out)


def faults(given: Week, rota: Rota) -> list[str]:
    """Everything that a rota breaks, in words; nothing for a good one."""
    return [*_hands_faults(given, rota), *_cold_faults(given, rota), *_load_faults(given, rota), *_hot_faults(given, rota)]


def _inside(windows: tuple[Span, ...], start: int, end: int) -> bool:
    return any(a <= start and end <= b for a, b in windows)


def _hands_faults(given: Week, rota: Rota) -> Iterator[str]:
    busy = hands(given, rota)
    for (_, end, one), (start, _, other) in pairwise(busy):
        if start < end:
            yield f"{one} and {other} at once"
    for start, end, what in busy:
        if what.startswith("set "):
            if not any(a <= start <= b for a, b in given.calendar.awake):
                yield f"{what} at {start}, when nobody is awake"
        elif not _inside(given.calendar.work, start, end):
            yield f"{what} at {start} to {end}, outside the hours"


def _cold_faults(given: Week, rota: Rota) -> Iterator[str]:
    for i, (own, times) in enumerate(zip(given.runs, rota.runs, strict=True)):
        starts, lines = times.starts, own.lines
        for before, after in (("patterns", "tree"), ("tree", "wrap"), ("wrap", "invest")):
            if before in starts and starts[after] < starts[before] + lines[before].whole_min:
                yield f"{after} of {i} before its {before} is done"
        if starts["invest"] != starts["wrap"] + lines["wrap"].whole_min:
            yield f"investing of {i} does not follow its wrap"
        if starts["strip"] - starts["invest"] - lines["invest"].whole_min < own.set_min:
            yield f"{i} is stripped before it is set"
        if min(starts.values()) < own.ready_min:
            yield f"{i} is begun before it is there"
        on = next(load.on_min for load in rota.loads if i in load.runs)
        stands = on - lines["strip"].whole_min - starts["invest"] - lines["invest"].whole_min
        if starts["strip"] + lines["strip"].whole_min > on:
            yield f"the kiln of {i} is on before it is in"
        if stands > (given.bag_max_min if times.bagged else own.stand_max_min):
            yield f"{i} stands {stands} min"
        if times.bagged and not given.bag_damp:
            yield f"{i} is bagged, which was not allowed"
        off_step = [k for k, at in starts.items() if k not in ("invest", "hot") and at % STEP_MIN]
        if off_step:
            yield f"{off_step} of {i} off the steps of the clock"


def _load_faults(given: Week, rota: Rota) -> Iterator[str]:
    if sorted(i for load in rota.loads for i in load.runs) != list(range(len(given.runs))):
        yield "a run is in no load, or in two"
    for load in rota.loads:
        kiln, firings = given.kilns[load.kiln], [given.runs[i].firings[load.kiln] for i in load.runs]
        if any(firing is None for firing in firings):
            yield "a run is in a kiln that does not take it"
            continue
        if sum(f.room_parts for f in firings) > ROOM_PARTS:
            yield f"{len(load.runs)} flasks are too many for {kiln.name}"
        if any(j not in given.runs[i].shares_with for i, j in combinations(load.runs, 2)):
            yield "two runs share a load that may not"
        by_hand = bool(given.runs[load.ruling].firings[load.kiln].set_at_min)
        if not kiln.delayed_start and not by_hand and not any(a <= load.on_min <= b for a, b in given.calendar.work):
            yield f"{kiln.name} is begun at {load.on_min}, when nobody is there"
        out = max(rota.runs[i].pour_min for i in load.runs)
        if not given.overnight and not _inside(given.calendar.awake, load.on_min, out):
            yield f"{kiln.name} fires overnight"
    for one, other in combinations(sorted(rota.loads, key=lambda load: load.on_min), 2):
        if one.kiln == other.kiln:
            free = max(
                rota.runs[i].pour_min + given.runs[i].pour_min + given.runs[i].firings[one.kiln].free_after_min for i in one.runs
            )
            if other.on_min < free:
                yield f"kiln {one.kiln} is loaded before it has cooled"


def _hot_faults(given: Week, rota: Rota) -> Iterator[str]:
    for load in rota.loads:
        order = sorted(load.runs, key=lambda i: rota.runs[i].pour_min)
        total = max(given.runs[i].firings[load.kiln].total_min for i in order)
        for place, i in enumerate(order):
            own, times = given.runs[i], rota.runs[i]
            wait = times.pour_min - load.on_min - total
            if not 0 <= wait <= own.wait_max_min:
                yield f"{i} waits {wait} min at temperature"
            before = given.runs[order[place - 1]] if place else None
            wanted = own.first_set_out_min if before is None else own.next_set_out_min
            wanted += given.crucible_change_min if before is not None and before.alloy != own.alloy else 0
            if times.set_out_min != wanted or times.starts["hot"] != times.pour_min - own.melt_min - wanted:
                yield f"the set-out of {i} takes {times.set_out_min}, not {wanted} min"
            for other in order[:place]:
                gap_k = given.runs[other].flask_c - own.flask_c
                if gap_k < -1:
                    yield f"{i} is poured after a cooler flask"
                firing = given.runs[other].firings[load.kiln]
                soaked = given.runs[other].pour_min + gap_k / firing.fall_c_per_h * 60 + own.soak_min
                if gap_k > 1 and times.pour_min - rota.runs[other].pour_min < soaked:
                    yield f"{i} had no time to come to its flask temperature"
    yield from _after_faults(given, rota)


def _after_faults(given: Week, rota: Rota) -> Iterator[str]:
    for i, (own, times) in enumerate(zip(given.runs, rota.runs, strict=True)):
        cooled = times.pour_min + own.pour_min + own.cool_min
        opened = cooled if own.water else times.starts["quench"]
        if opened < cooled:
            yield f"{i} is knocked out hot"
        if times.starts["cut"] < opened + own.lines["quench"].whole_min + own.pickle_min:
            yield f"{i} is cut off before it is pickled"
        if own.pour_at_min is not None and times.pour_min != own.pour_at_min:
            yield f"{i} is not poured when it was asked for"
        if own.pour_by_min is not None and times.pour_min > own.pour_by_min:
            yield f"{i} is poured too late"
    first = min(times.pour_min for times in rota.runs)
    if given.first_pour_min is not None and first != given.first_pour_min:
        yield f"the first pour is at {first}"


def odd_min(given: Week, rota: Rota) -> int:
    """Hands-on minutes of lines that do not lie wholly in the comfortable hours; of hot work without a longer set-out."""
    odd = 0
    for i, (own, times) in enumerate(zip(given.runs, rota.runs, strict=True)):
        del i
        for key, start in times.starts.items():
            minutes = own.next_set_out_min + own.melt_min + own.tail_min if key == "hot" else own.lines[key].hands_min
            if minutes and not _inside(given.calendar.easy, start, start + minutes):
                odd += minutes
    return odd
