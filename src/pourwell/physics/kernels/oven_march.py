"""Compiled: a flask's whole way through a programme, step after step, from one corner of it to the next. SI.

The scheme and its source stand in `burnout/march.py`. All of it is written once more, for reading, in `_reference_oven_march.py`.
"""

from math import inf, isfinite, sqrt
from typing import Final, NamedTuple

from pourwell.physics.kernels import compiled
from pourwell.physics.kernels.oven import Array, Asked, Fixed, Turn, Work, step, turned

REFERENCE_CAPACITY: Final = 2.0e6
"""J/(m3 K): turns the error of heat into one of temperature; that of mould and steel within a factor of two."""
GROWTH: Final = 1.6
SHRINKAGE: Final = 0.3
SAFETY: Final = 0.9
REFUSED: Final = 3.0
"""Most that a step grows and shrinks by, margin, and the error over which it is done again: customary, under the 2.4 that the
formula bears (Grigorieff 1983)."""
HALVINGS: Final = 10
"""Most times that a step is made smaller."""
STILL: Final = 1e-3
"""Heat that moves at least [W]: what may be out of balance is a share of it, and a flask at rest moves none."""
SOON: Final = 1e-6
"""A corner this near [s] has been reached."""
WHOLE: Final = 0.999
"""A step that would end this near before a corner, as a share of the way there, ends at it."""

TIME, LAST, NEXT, TAKEN, TAKEN_BEFORE, MOVED = range(6)
"""Of `State.now`: time, last step and next one [s]; heat that has entered, that before the last step, and what has crossed [J]."""
RECORDED, AGAIN, SOLVED = range(3)
"""Of `State.counts`: moments in the trace, steps that were done again, linear solutions."""
DONE, FULL, LOST = range(3)
"""How `march` comes back: at the programme's end, with its trace full, or where no step converges."""


class Kiln(NamedTuple):
    """The programme's corners: times (m,) [s] that do not fall back, levels (m,) [K]; and which of the faces see it (3,) bool."""

    times: Array
    levels: Array
    seen: Array


class Bounds(NamedTuple):
    """How closely a step is solved: see `Care`; and the volume of all rings [m3]."""

    accuracy: float
    longest: float
    balance: float
    rounds: int
    whole: float


class State(NamedTuple):
    """Where a run is: heat now, before the last step, the most so far and the guess for the next (n,) [J/m3]; numbers."""

    heat: Array
    before: Array
    guess: Array
    turn: Turn
    now: Array
    counts: Array


class Trace(NamedTuple):
    """Room for m moments: time (m,) [s], temperature and most heat (m, n), heat taken (m,) [J], flow into the rim (m, layers) [W].

    rim, bare: faces of the net and outer ones through which the rim takes it.
    """

    time: Array
    temperature: Array
    hottest: Array
    taken: Array
    flow: Array
    rim: Array
    bare: Array


class Run(NamedTuple):
    """All that a run is made of."""

    fixed: Fixed
    work: Work
    state: State
    kiln: Kiln
    bounds: Bounds
    trace: Trace


@compiled()
def level_at(kiln: Kiln, time: float) -> float:
    """The programme's temperature at a moment [K], level before its beginning and after its end."""
    times, levels = kiln.times, kiln.levels
    last = times.size - 1
    if time >= times[last]:
        return float(levels[last])
    low = 0
    while low < last and times[low + 1] <= time:
        low += 1
    if time <= times[low]:
        return float(levels[low])
    slope = (levels[low + 1] - levels[low]) / (times[low + 1] - times[low])
    return float(levels[low] + slope * (time - times[low]))


@compiled()
def factors(length: float, last: float) -> tuple[float, float, float]:
    """Factors of the new, the present and the earlier heat in its derivative [1/s]; the first step has none before it (0)."""
    if last == 0.0:
        return 1 / length, -1 / length, 0.0
    ratio = length / last
    return (1 + 2 * ratio) / (1 + ratio) / length, -(1 + ratio) / length, ratio * ratio / (1 + ratio) / length


@compiled()
def crossing(work: Work) -> float:
    """Heat that crosses the outer faces, in whatever direction [W]."""
    total = 0.0
    for b in range(work.entering.size):
        total += abs(work.entering[b])
    return total


@compiled()
def attempt(run: Run, length: float) -> float:
    """Solve a step; its error over what is allowed, infinite if it did not converge."""
    fixed, work, state, kiln, bounds = run.fixed, run.work, run.state, run.kiln, run.bounds
    last, volume = state.now[LAST], fixed.net.volume
    lead, now, earlier = factors(length, last)
    ratio = length / last if last > 0.0 else 0.0
    moving = 0.0
    for i in range(volume.size):
        risen = state.heat[i] - state.before[i]
        work.past[i] = now * state.heat[i] + earlier * state.before[i]
        state.guess[i] = state.heat[i] + ratio * risen
        work.heat[i] = state.guess[i]
        moving += abs(risen) * volume[i]
    level = level_at(kiln, state.now[TIME] + length)
    for face in range(kiln.seen.size):
        if kiln.seen[face]:
            fixed.outer.film[face, 2] = level
    moving = max(moving / (last if last > 0.0 else 1.0), max(crossing(work), STILL))
    rounds = step(fixed, (state.turn, work), Asked(lead, bounds.balance * moving, bounds.rounds))
    state.counts[SOLVED] += bounds.rounds if rounds < 0 else rounds
    if rounds < 0:
        return inf
    if last == 0.0:
        return 0.0
    strayed = 0.0
    for i in range(volume.size):
        off = (work.heat[i] - state.guess[i]) / REFERENCE_CAPACITY
        strayed += off * off * volume[i]
    return sqrt(strayed / bounds.whole) / bounds.accuracy


@compiled()
def accept(run: Run, length: float, error: float) -> None:
    """Move the state to the end of a solved step."""
    fixed, work, state, now = run.fixed, run.work, run.state, run.state.now
    lead, mine, earlier = factors(length, now[LAST])
    into = 0.0
    for b in range(work.entering.size):
        into += work.entering[b]
    taken = (into - mine * now[TAKEN] - earlier * now[TAKEN_BEFORE]) / lead
    now[TAKEN], now[TAKEN_BEFORE] = taken, now[TAKEN]
    now[MOVED] += crossing(work) * length
    hotter = False
    for i in range(state.heat.size):
        state.before[i] = state.heat[i]
        state.heat[i] = work.heat[i]
        if state.heat[i] > state.turn.heat[i]:
            state.turn.heat[i] = state.heat[i]
            hotter = True
    if hotter:
        turned(fixed.curves, fixed.stages, state.turn)
    now[TIME] += length
    now[LAST] = length
    now[NEXT] = length * min(GROWTH, max(SHRINKAGE, SAFETY / sqrt(max(error, 1e-6))))


@compiled()
def record(run: Run) -> None:
    """Copy the state into the trace."""
    net, work, state, trace = run.fixed.net, run.work, run.state, run.trace
    m, t = state.counts[RECORDED], work.temperature
    trace.time[m], trace.taken[m] = state.now[TIME], state.now[TAKEN]
    for i in range(t.size):
        trace.temperature[m, i], trace.hottest[m, i] = t[i], state.turn.heat[i]
    for layer in range(trace.flow.shape[1]):
        flow = 0.0
        if trace.rim.size:
            f = trace.rim[layer]
            flow += work.weight[f] * (t[net.second[f]] - t[net.first[f]])
        if trace.bare.size:
            flow += work.entering[trace.bare[layer]]
        trace.flow[m, layer] = flow
    state.counts[RECORDED] += 1


@compiled()
def stride(left: float, wanted: float) -> float:
    """The length of a step that is wanted so long, with so much left to the next corner [s]: to it, half-way, or as it is."""
    if wanted >= WHOLE * left:
        return left
    return left / 2 if wanted > 0.5 * left else wanted


@compiled()
def advance(run: Run) -> bool:
    """One step; whether one converged. If not, its length stands where that of the next one does."""
    left, now, kiln = 0.0, run.state.now, run.kiln
    for i in range(kiln.times.size):
        if kiln.times[i] > now[TIME] + SOON:
            left = kiln.times[i] - now[TIME]
            break
    length = stride(left, min(now[NEXT], run.bounds.longest))
    for _ in range(HALVINGS):
        error = attempt(run, length)
        if error <= REFUSED:
            accept(run, length, error)
            return True
        run.state.counts[AGAIN] += 1
        length *= max(SHRINKAGE, SAFETY / sqrt(error)) if isfinite(error) else SHRINKAGE
    now[NEXT] = length
    return False


@compiled()
def march(run: Run) -> int:
    """Go on until the programme ends, the trace is full, or no step converges: DONE, FULL or LOST."""
    while run.state.now[TIME] < run.kiln.times[-1] - SOON:
        if run.state.counts[RECORDED] == run.trace.time.size:
            return FULL
        if not advance(run):
            return LOST
        record(run)
    return DONE
