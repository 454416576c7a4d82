"""A flask's way through a programme: heat of all rings, implicit, second order, with error control and a closed ledger. SI.

Equation: volume dH/dt = sum of weight (T_neighbour - T) + what enters, T = T(H). The derivative is the second-order backward
difference over unequal steps; the first step is of first order and short. A step is judged by how far its end lies from the
straight continuation of the two before it, and done again smaller where that is too far. Steps end at the programme's corners.
Source: Hairer, Norsett & Wanner, Solving Ordinary Differential Equations I, section III.5.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pourwell.errors import BadRequestError, UnsoundResultError
from pourwell.physics.burnout.setting import Flask, Place, Rings, cut, fill_films
from pourwell.physics.burnout.substance import Mould, curves_of, stages_of, turn_of, water_left
from pourwell.physics.kernels.oven import Fixed, Work, states
from pourwell.physics.kernels.oven_march import (
    AGAIN,
    DONE,
    LOST,
    MOVED,
    NEXT,
    RECORDED,
    REFERENCE_CAPACITY,
    SOLVED,
    TAKEN,
    TIME,
    Bounds,
    Kiln,
    Run,
    State,
    Trace,
    march,
    record,
)

Floats = NDArray[np.float64]

LEAST_MOVED: Final = 0.01
"""Less than this of all rings [K] is no heat that has moved: a flask at the temperature of its room keeps no ledger."""
ROOM: Final = 256
"""Moments that the trace has room for at first; it is doubled as it fills."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Care:
    """How finely a run is cut and how closely it is solved."""

    rings: int = 18
    layers: int = 24
    accuracy: float = 2.5
    """Distance from the straight continuation, root of the mean square over the volume [K]."""
    first: float = 5.0
    """First step after a start [s]."""
    longest: float = 900.0
    """[s]."""
    balance: float = 1e-4
    """Sum of what may be out of balance in a step, over the heat that moves in it."""
    rounds: int = 25
    """Most rounds of Newton's method in a step."""
    ledger: float = 1e-3
    """Most that the ledger may be off, over the heat that has moved."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Programme:
    """Temperature of the surroundings, straight between corners: times (m,) [s] that rise, and temperatures (m,) [K].

    Raises BadRequestError for what is no such course.
    """

    times: Floats
    temperatures: Floats

    def __post_init__(self) -> None:
        """Refuse what is no course, and close the arrays to writing."""
        for name in ("times", "temperatures"):
            values = np.array(getattr(self, name), dtype=np.float64)
            values.setflags(write=False)
            object.__setattr__(self, name, values)
        t, level = self.times, self.temperatures
        sound = (
            t.ndim == 1 and t.shape == level.shape and t.size > 1 and bool(np.all(np.isfinite(t)) and np.all(np.isfinite(level)))
        )
        if not sound or bool(np.any(np.diff(t) < 0)) or t[-1] <= t[0] or level.min() <= 0:
            raise BadRequestError(
                "A programme has no proper course.",
                why="Its times must not fall back, its temperatures be in kelvin, as many of the one as of the other.",
                try_this="Give corners such as 0 s 293 K, 1800 s 423 K.",
            )

    def at(self, time: ArrayLike) -> Floats:
        """Temperatures [K] at times [s], of the same shape."""
        return np.asarray(np.interp(np.asarray(time), self.times, self.temperatures), dtype=np.float64)


def _close(*arrays: Floats) -> None:
    """Close arrays to writing."""
    for values in arrays:
        values.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Condition:
    """Heat of all rings (n,) [J/m3], and the most that each has held (n,) [J/m3]: what one run hands to the next."""

    heat: Floats
    hottest: Floats

    def __post_init__(self) -> None:
        """Close the arrays to writing."""
        _close(self.heat, self.hottest)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """What came of a run, at the end of every step: m moments, layers from the lower end, rings from the axis."""

    flask: Flask
    mould: Mould
    programme: Programme
    rings: Rings
    time: Floats
    """(m,) [s]."""
    temperature: Floats
    """(m, layers, rings) of the mould [K]."""
    wall: Floats
    """(m, layers) of the steel [K]; of the mould's rim for a bare mould."""
    water: Floats
    """(m, layers, rings) free water left, over that at the start [-]."""
    taken: Floats
    """(m,) heat that has entered the flask [J]."""
    rim_flow: Floats
    """(m, layers) heat into the mould through its side [W/m2]."""
    end: Condition
    missing: float
    """What the ledger lacks at the end, over the heat that has moved [-]."""
    steps: int
    refused: int
    """Steps that were done again."""
    solved: int
    """Linear solutions."""

    def __post_init__(self) -> None:
        """Close the arrays to writing."""
        _close(self.time, self.temperature, self.wall, self.water, self.taken, self.rim_flow)

    @property
    def kiln(self) -> Floats:
        """(m,) [K]."""
        return self.programme.at(self.time)

    @property
    def volume(self) -> Floats:
        """(layers, rings) of the mould [m3]."""
        return np.asarray(self.rings.net.volume.reshape(self.rings.shape)[:, : self.rings.mould], dtype=np.float64)


def _heat_at(rings: Rings, fixed: Fixed, temperature: float) -> Floats:
    """Heat of all rings at one temperature [K], at which no water has boiled."""
    curves = fixed.curves
    heats = [np.interp(temperature, curves.temperature[r, :k], curves.heat[r, :k]) for r, k in enumerate(curves.knots)]
    return np.array(heats, dtype=np.float64)[np.where(rings.net.steel, 2, 0)]


def _set_up(
    flask: Flask, mould: Mould, programme: Programme, *, place: Place, start: Condition | float, care: Care
) -> tuple[Run, Rings]:
    """A run at its first moment, and its rings."""
    rings, film = cut(flask, rings=care.rings, layers=care.layers), np.zeros((3, 3))
    fill_films(film, place, math.nan)
    kiln = Kiln(times=programme.times, levels=programme.temperatures, seen=np.isnan(film[:, 2]))
    fixed = Fixed(curves_of(mould, flask.steel), stages_of(mould), rings.net, rings.outer._replace(film=film))
    heat = start.heat.copy() if isinstance(start, Condition) else _heat_at(rings, fixed, start)
    n, outer = rings.net.volume.size, rings.outer.cell.size
    if heat.shape != (n,):
        raise BadRequestError("A run cannot go on from another grid.", try_this="Cut both runs alike.")
    hottest = start.hottest if isinstance(start, Condition) else heat
    work = Work(
        heat=heat.copy(),
        past=np.zeros(n),
        temperature=np.zeros(n),
        slope=np.zeros(n),
        conductivity=np.zeros(n),
        balance=np.zeros(n),
        surface=np.zeros(outer),
        entering=np.zeros(outer),
        weight=np.zeros(rings.net.first.size),
        band=np.zeros((n, rings.shape[1] + 1)),
    )
    turn = turn_of(hottest, stages=fixed.stages, curves=fixed.curves)
    states(fixed, turn, work)
    work.surface[:] = work.temperature[rings.outer.cell]
    now = np.zeros(MOVED + 1)
    now[TIME], now[NEXT] = programme.times[0], care.first
    state = State(heat, heat.copy(), np.zeros(n), turn, now, np.zeros(SOLVED + 1, dtype=np.int64))
    bounds = Bounds(care.accuracy, care.longest, care.balance, care.rounds, float(rings.net.volume.sum()))
    run = Run(fixed, work, state, kiln, bounds, _room(rings, ROOM))
    record(run)
    return run, rings


def _room(rings: Rings, many: int, known: Trace | None = None) -> Trace:
    """A trace with room for so many moments, those known among them."""
    n, layers = rings.net.volume.size, rings.shape[0]
    made = Trace(
        time=np.empty(many),
        temperature=np.empty((many, n)),
        hottest=np.empty((many, n)),
        taken=np.empty(many),
        flow=np.empty((many, layers)),
        rim=rings.rim,
        bare=rings.bare,
    )
    for there, array in zip(known[:5] if known else (), made[:5], strict=False):
        array[: len(there)] = there
    return made


def burn(
    flask: Flask,
    mould: Mould,
    programme: Programme,
    *,
    place: Place,
    start: Condition | float,
    care: Care | None = None,
) -> Course:
    """Take a flask through a programme.

    Parameters
    ----------
    flask, mould, place
        The flask, what is in it, and what it sees.
    programme
        Of the kiln, or of the room it cools in.
    start
        One temperature [K] below 100 degC, or the end of an earlier course on the same grid.
    care
        How finely and closely.

    Raises
    ------
    BadRequestError
        If the start is no such thing.
    UnsoundResultError
        If a step does not converge, or the ledger is off by more than `care.ledger`.
    """
    chosen = care or Care()
    run, rings = _set_up(flask, mould, programme, place=place, start=start, care=chosen)
    state, volume = run.state, rings.net.volume
    begun = float(state.heat @ volume)
    while (came := march(run)) != DONE:
        if came == LOST:
            raise UnsoundResultError(
                f"The burnout did not converge at {state.now[TIME]:.0f} s.",
                why=f"A step of {state.now[NEXT]:.2g} s was still out of balance after {chosen.rounds} rounds.",
                try_this="Look whether conductivities, films and temperatures are what they should be.",
            )
        run = run._replace(trace=_room(rings, 2 * run.trace.time.size, run.trace))
    taken, moved = float(state.now[TAKEN]), float(state.now[MOVED])
    least = LEAST_MOVED * REFERENCE_CAPACITY * run.bounds.whole
    missing = abs(float(state.heat @ volume) - begun - taken) / max(moved, abs(taken), least)
    if not missing <= chosen.ledger:
        raise UnsoundResultError(
            f"The burnout's ledger is off by {100 * missing:.2g} %.",
            why="Heat went missing on its way from the kiln into the flask.",
            try_this="Look whether conductivities, films and temperatures are what they should be.",
        )
    return _course(run, rings, missing=missing, flask=flask, mould=mould, programme=programme)


def _course(run: Run, rings: Rings, *, missing: float, flask: Flask, mould: Mould, programme: Programme) -> Course:
    """The trace, cut to what was recorded."""
    trace, state = run.trace, run.state
    layers, across = rings.shape
    m = int(state.counts[RECORDED])
    temperature = trace.temperature[:m].reshape(m, layers, across)
    hottest = trace.hottest[:m].reshape(m, layers, across)[:, :, : rings.mould]
    side = 2 * math.pi * flask.radius * flask.height / layers
    return Course(
        flask=flask,
        mould=mould,
        programme=programme,
        rings=rings,
        time=trace.time[:m].copy(),
        temperature=temperature[:, :, : rings.mould].copy(),
        wall=temperature[:, :, -1].copy(),
        water=water_left(run.fixed.stages, hottest),
        taken=trace.taken[:m].copy(),
        rim_flow=trace.flow[:m] / side,
        end=Condition(heat=state.heat, hottest=state.turn.heat),
        missing=missing,
        steps=m - 1,
        refused=int(state.counts[AGAIN]),
        solved=int(state.counts[SOLVED]),
    )
