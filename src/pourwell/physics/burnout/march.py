"""A flask's way through a programme: heat of all rings, implicit, second order, with error control and a closed ledger. SI.

Equation: volume dH/dt = sum of weight (T_neighbour - T) + what enters, T = T(H). The derivative is the second-order backward
difference over unequal steps; the first step is of first order and short. A step is judged by how far its end lies from the
straight continuation of the two before it, and done again smaller where that is too far. Steps end at the programme's corners.
Source: Hairer, Norsett & Wanner, Solving Ordinary Differential Equations I, section III.5.
"""

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pourwell.errors import BadRequestError, UnsoundResultError
from pourwell.physics.burnout.setting import Flask, Place, Rings, cut, fill_films
from pourwell.physics.burnout.substance import Mould, curves_of, stages_of, turning, water_left
from pourwell.physics.kernels.oven import Fixed, Work, states, step

Floats = NDArray[np.float64]

REFERENCE_CAPACITY: Final = 2.0e6
"""J/(m3 K): turns the error of heat into one of temperature; that of mould and steel within a factor of two."""
LEAST_MOVED: Final = 0.01
"""Less than this of all rings [K] is no heat that has moved: a flask at the temperature of its room keeps no ledger."""
GROWTH, SHRINKAGE, SAFETY, REFUSED = 1.6, 0.3, 0.9, 3.0
"""Most that a step grows and shrinks by, margin, and the error over which it is done again: customary, under the 2.4 that the
formula bears (Grigorieff 1983)."""
HALVINGS: Final = 10
"""Most times that a step is made smaller."""


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


@dataclass(slots=True, eq=False)
class _Trace:
    """Copies of the state, step by step."""

    time: list[float] = field(default_factory=list)
    heat: list[Floats] = field(default_factory=list)
    temperature: list[Floats] = field(default_factory=list)
    hottest: list[Floats] = field(default_factory=list)
    taken: list[float] = field(default_factory=list)
    rim: list[Floats] = field(default_factory=list)


class _Run:
    """One run on its way."""

    def __init__(
        self, flask: Flask, mould: Mould, programme: Programme, *, place: Place, start: Condition | float, care: Care
    ) -> None:
        self.flask, self.programme, self.place, self.care = flask, programme, place, care
        self.mould = mould
        self.rings = cut(flask, rings=care.rings, layers=care.layers)
        self.curves, self.stages = curves_of(mould, flask.steel), stages_of(mould)
        n = self.rings.net.volume.size
        if isinstance(start, Condition):
            self.heat, self.hottest = start.heat.copy(), start.hottest.copy()
        else:
            self.heat = self._heat_at(start)
            self.hottest = self.heat.copy()
        if self.heat.shape != (n,):
            raise BadRequestError("A run cannot go on from another grid.", try_this="Cut both runs alike.")
        self.before = self.heat.copy()
        width = self.rings.shape[1]
        self.work = Work(
            heat=self.heat.copy(),
            past=np.zeros(n),
            temperature=np.zeros(n),
            slope=np.zeros(n),
            conductivity=np.zeros(n),
            balance=np.zeros(n),
            surface=np.zeros(self.rings.outer.cell.size),
            entering=np.zeros(self.rings.outer.cell.size),
            weight=np.zeros(self.rings.net.first.size),
            band=np.zeros((n, width + 1)),
        )
        self.turned = turning(mould, self.stages, self.curves)
        self.turn = self.turned(self.hottest)
        self.fixed = Fixed(self.curves, self.stages, self.rings.net, self.rings.outer)
        states(self.fixed, self.turn, self.work)
        self.work.surface[:] = self.work.temperature[self.rings.outer.cell]
        self.time, self.last, self.next = float(programme.times[0]), 0.0, care.first
        self.taken = self.taken_before = self.moved = 0.0
        self.refused = self.solved = 0
        self.whole = float(self.rings.net.volume.sum())
        self.trace = _Trace()

    def _heat_at(self, temperature: float) -> Floats:
        """Heat of all rings at one temperature [K], at which no water has boiled."""
        steel = self.rings.net.steel
        rows = np.where(steel, 2, 0)
        heats = [
            np.interp(temperature, self.curves.temperature[r, :k], self.curves.heat[r, :k]) for r, k in enumerate(self.curves.knots)
        ]
        return np.array(heats, dtype=np.float64)[rows]

    def _factors(self, length: float) -> tuple[float, float, float]:
        """Factors of the new, the present and the earlier heat in its derivative [1/s]."""
        if not self.last:
            return 1 / length, -1 / length, 0.0
        ratio = length / self.last
        return (1 + 2 * ratio) / (1 + ratio) / length, -(1 + ratio) / length, ratio**2 / (1 + ratio) / length

    def _corner(self) -> float:
        """Time to the programme's next corner [s]."""
        later = self.programme.times[self.programme.times > self.time + 1e-6]
        return float(later[0]) - self.time if later.size else 0.0

    def advance(self) -> None:
        """One step; raises UnsoundResultError if none converges."""
        left = self._corner()
        length = min(self.next, self.care.longest)
        length = left if length >= 0.999 * left else left / 2 if length > 0.5 * left else length
        for _ in range(HALVINGS):
            error = self._try(length)
            if error <= REFUSED:
                self._accept(length, error)
                return
            self.refused += 1
            length *= max(SHRINKAGE, SAFETY / math.sqrt(error)) if math.isfinite(error) else SHRINKAGE
        raise UnsoundResultError(
            f"The burnout did not converge at {self.time:.0f} s.",
            why=f"A step of {length:.2g} s was still out of balance after {self.care.rounds} rounds.",
            try_this="Look whether conductivities, films and temperatures are what they should be.",
        )

    def _try(self, length: float) -> float:
        """Solve a step; its error over what is allowed, infinite if it did not converge."""
        lead, now, earlier = self._factors(length)
        np.multiply(self.heat, now, out=self.work.past)
        self.work.past[:] += earlier * self.before
        ratio = length / self.last if self.last else 0.0
        guess = self.heat + ratio * (self.heat - self.before)
        self.work.heat[:] = guess
        fill_films(self.rings.outer.film, self.place, float(self.programme.at(self.time + length)))
        volume = self.rings.net.volume
        moving = max(float(np.abs(self.heat - self.before) @ volume) / (self.last or 1.0), self._entering(), 1e-3)
        allowed = self.care.balance * moving
        rounds = int(step(self.fixed, self.turn, self.work, lead=lead, allowed=allowed, rounds=self.care.rounds))
        self.solved += self.care.rounds if rounds < 0 else rounds
        if rounds < 0:
            return math.inf
        if not self.last:
            return 0.0
        strayed = (self.work.heat - guess) / REFERENCE_CAPACITY
        return math.sqrt(float(strayed**2 @ volume) / self.whole) / self.care.accuracy

    def _entering(self) -> float:
        """Heat that crosses the outer faces, in whatever direction [W]."""
        return float(np.abs(self.work.entering).sum())

    def _accept(self, length: float, error: float) -> None:
        """Move the state to the end of a solved step."""
        lead, now, earlier = self._factors(length)
        into = float(self.work.entering.sum())
        taken = (into - now * self.taken - earlier * self.taken_before) / lead
        self.taken, self.taken_before = taken, self.taken
        self.moved += self._entering() * length
        self.before[:] = self.heat
        self.heat[:] = self.work.heat
        hotter = self.heat > self.hottest
        if hotter.any():
            np.maximum(self.hottest, self.heat, out=self.hottest)
            self.turn = self.turned(self.hottest)
        self.time += length
        self.last = length
        self.next = length * min(GROWTH, max(SHRINKAGE, SAFETY / math.sqrt(max(error, 1e-6))))
        self.record()

    def record(self) -> None:
        """Copy the state into the trace."""
        trace, rings = self.trace, self.rings
        t = self.work.temperature
        trace.time.append(self.time)
        trace.heat.append(self.heat.copy())
        trace.temperature.append(t.copy())
        trace.hottest.append(self.hottest.copy())
        trace.taken.append(self.taken)
        net, layers = rings.net, rings.shape[0]
        flow = np.zeros(layers)
        if rings.rim.size:
            flow += self.work.weight[rings.rim] * (t[net.second[rings.rim]] - t[net.first[rings.rim]])
        if rings.bare.size:
            flow += self.work.entering[rings.bare]
        trace.rim.append(flow)


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
    run = _Run(flask, mould, programme, place=place, start=start, care=chosen)
    begun = float(run.heat @ run.rings.net.volume)
    run.record()
    while run.time < programme.times[-1] - 1e-6:
        run.advance()
    least = LEAST_MOVED * REFERENCE_CAPACITY * run.whole
    missing = abs(float(run.heat @ run.rings.net.volume) - begun - run.taken) / max(run.moved, abs(run.taken), least)
    if not missing <= chosen.ledger:
        raise UnsoundResultError(
            f"The burnout's ledger is off by {100 * missing:.2g} %.",
            why="Heat went missing on its way from the kiln into the flask.",
            try_this="Look whether conductivities, films and temperatures are what they should be.",
        )
    return _course(run, missing)


def _course(run: _Run, missing: float) -> Course:
    """The trace as arrays."""
    trace, rings = run.trace, run.rings
    layers, across = rings.shape
    m = len(trace.time)
    temperature = np.array(trace.temperature).reshape(m, layers, across)
    hottest = np.array(trace.hottest).reshape(m, layers, across)[:, :, : rings.mould]
    side = 2 * math.pi * run.flask.radius * run.flask.height / layers
    return Course(
        flask=run.flask,
        mould=run.mould,
        programme=run.programme,
        rings=rings,
        time=np.array(trace.time),
        temperature=temperature[:, :, : rings.mould],
        wall=temperature[:, :, -1],
        water=water_left(run.stages, hottest),
        taken=np.array(trace.taken),
        rim_flow=np.array(trace.rim) / side,
        end=Condition(heat=run.heat.copy(), hottest=run.hottest.copy()),
        missing=missing,
        steps=m - 1,
        refused=run.refused,
        solved=run.solved,
    )
