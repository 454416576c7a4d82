"""A flask's way through a programme once more, for reading: plain numpy. One test runs over both (conventions C19).

By the twin of `march` are done: `advance`, `stride`, `attempt`, `crossing`, `accept` and `factors`.
"""

import math

import numpy as np

from pourwell.physics.kernels._reference_oven import step, turned
from pourwell.physics.kernels.oven import Asked
from pourwell.physics.kernels.oven_march import (
    AGAIN,
    DONE,
    FULL,
    GROWTH,
    HALVINGS,
    LAST,
    LOST,
    MOVED,
    NEXT,
    RECORDED,
    REFERENCE_CAPACITY,
    REFUSED,
    SAFETY,
    SHRINKAGE,
    SOLVED,
    SOON,
    STILL,
    TAKEN,
    TAKEN_BEFORE,
    TIME,
    WHOLE,
    Kiln,
    Run,
)


def level_at(kiln: Kiln, time: float) -> float:
    """The programme's temperature at a moment [K]."""
    return float(np.interp(time, kiln.times, kiln.levels))


def record(run: Run) -> None:
    """Copy the state into the trace."""
    m, net, trace, t = int(run.state.counts[RECORDED]), run.fixed.net, run.trace, run.work.temperature
    trace.time[m], trace.taken[m] = run.state.now[TIME], run.state.now[TAKEN]
    trace.temperature[m], trace.hottest[m] = t, run.state.turn.heat
    trace.flow[m] = 0.0
    if trace.rim.size:
        trace.flow[m] += run.work.weight[trace.rim] * (t[net.second[trace.rim]] - t[net.first[trace.rim]])
    if trace.bare.size:
        trace.flow[m] += run.work.entering[trace.bare]
    run.state.counts[RECORDED] += 1


def march(run: Run) -> int:
    """Go on until the programme ends, the trace is full, or no step converges: DONE, FULL or LOST."""
    while run.state.now[TIME] < run.kiln.times[-1] - SOON:
        if run.state.counts[RECORDED] == run.trace.time.size:
            return FULL
        left = next(float(t) for t in run.kiln.times if t > run.state.now[TIME] + SOON) - float(run.state.now[TIME])
        wanted = min(float(run.state.now[NEXT]), run.bounds.longest)
        length = left if wanted >= WHOLE * left else left / 2 if wanted > left / 2 else wanted
        for _ in range(HALVINGS):
            error = _solved(run, length)
            if error <= REFUSED:
                _moved(run, length, error)
                record(run)
                break
            run.state.counts[AGAIN] += 1
            length *= max(SHRINKAGE, SAFETY / math.sqrt(error)) if math.isfinite(error) else SHRINKAGE
        else:
            run.state.now[NEXT] = length
            return LOST
    return DONE


def _weights(length: float, last: float) -> tuple[float, float, float]:
    """Of the new, the present and the earlier heat in the derivative at the end of a step [1/s]."""
    if not last:
        return 1 / length, -1 / length, 0.0
    times = np.array([0.0, -length, -length - last])  # of the parabola through three heats: how steep it is at the first
    rows = np.vander(times, 3, increasing=True).T
    lead, now, earlier = np.linalg.solve(rows, [0.0, 1.0, 0.0]).tolist()
    return lead, now, earlier


def _solved(run: Run, length: float) -> float:
    """Solve a step; its error over what is allowed."""
    state, work, volume, last = run.state, run.work, run.fixed.net.volume, float(run.state.now[LAST])
    lead, now, earlier = _weights(length, last)
    risen = state.heat - state.before
    work.past[:] = now * state.heat + earlier * state.before
    work.heat[:] = state.guess[:] = state.heat + (length / last * risen if last else 0.0)
    run.fixed.outer.film[run.kiln.seen, 2] = level_at(run.kiln, float(state.now[TIME]) + length)
    moving = max(float(np.abs(risen) @ volume) / (last or 1.0), float(np.abs(work.entering).sum()), STILL)
    rounds = step(run.fixed, (state.turn, work), Asked(lead, run.bounds.balance * moving, run.bounds.rounds))
    state.counts[SOLVED] += run.bounds.rounds if rounds < 0 else rounds
    if rounds < 0:
        return math.inf
    off = (work.heat - state.guess) / REFERENCE_CAPACITY
    return math.sqrt(float(off**2 @ volume) / run.bounds.whole) / run.bounds.accuracy if last else 0.0


def _moved(run: Run, length: float, error: float) -> None:
    """Move the state to the end of a solved step."""
    state, entering = run.state, run.work.entering
    lead, now, earlier = _weights(length, float(state.now[LAST]))
    taken = (float(entering.sum()) - now * state.now[TAKEN] - earlier * state.now[TAKEN_BEFORE]) / lead
    state.now[TAKEN], state.now[TAKEN_BEFORE] = taken, state.now[TAKEN]
    state.now[MOVED] += float(np.abs(entering).sum()) * length
    state.before[:], state.heat[:] = state.heat, run.work.heat
    state.turn.heat[:] = np.maximum(state.turn.heat, state.heat)
    turned(run.fixed.curves, run.fixed.stages, state.turn)
    state.now[TIME] += length
    state.now[LAST] = length
    state.now[NEXT] = length * min(GROWTH, max(SHRINKAGE, SAFETY / math.sqrt(max(error, 1e-6))))
