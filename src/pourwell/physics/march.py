"""Steps through time: heat of all cells, implicit, second order, with the balance of each step checked. SI.

Equation: volume dH/dt = sum of conductance (T_neighbour - T) - what leaves, T = T(H). The derivative is the second-order backward
difference with steps that grow with time; the first step is of first order. Each step is solved for H by Newton's method, which
also holds where T stands still while H falls: a change of temperature is carried into heat along the slope that it was reckoned
with, and where that does not bring the balance nearer the change is halved.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import UnsoundResultError
from pourwell.physics.conduction import Balance, Setting
from pourwell.physics.kernels.state import Step, capacities, gained, history, leaving, move, moved, residual, temperatures, worst
from pourwell.physics.mesh import METAL, Mesh

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How time is stepped and how closely each step is solved."""

    first: float = 0.075
    """First step [s]."""
    growth: float = 0.095
    """Later steps as a share of the time gone by."""
    longest: float = math.inf
    """[s]."""
    balance: float = 1e-3
    """Sum of what is out of balance in a step, as a share of the heat that moves in it; none of it is lost, see `Marcher`."""
    worst: float = 0.02
    """The same for the worst cell of metal, as a share of the heat of its freezing: without it slivers go their own ways."""
    linear: float = 0.01
    """Least share of its residual that a linear solution must leave: it goes no farther than the step asks."""
    newton: int = 40
    """Most solutions in a step, before it is halved."""
    ledger: float = 1e-3
    """Most that the ledger may be off, as a share of the heat that the metal has given."""


STRETCH = 1.5
"""Most that a step may be longer than the one before; the second-order formula bears 2.4 (Grigorieff 1983)."""
HALVINGS = 8
"""Most halvings of a step that does not converge."""
SHARES = (1.0, 0.5, 0.25, 0.125)
"""Shares of a change that are tried."""
LOOSEST, MARGIN = 0.1, 0.6
"""Share of its residual that a linear solution may leave: at most, and of what would bring the step to its limit."""
FIRST, TRUST = 0.03, 0.3
"""The same for the first of a step, and times the square of what the one before it gained: where the curve bends, a solution that
goes far is wasted (Eisenstat & Walker 1996, choice 2)."""
BEND = 10.0
"""Bend of the curve of temperature at which a change stops: beyond it the linear system no longer holds."""
ROUNDING = 1e-14
"""Share of all heat that rounding alone may leave out of balance."""
PLATEAU = 0.03
"""Temperature over which a standing temperature is taken to fall, in the linear system only [K]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """Heat since the beginning [J]: what the metal has given, what has left to the outside, and what is missing."""

    given: float
    lost: float
    missing: float

    @property
    def share(self) -> float:
        """What is missing as a share of what has moved."""
        return abs(self.missing) / max(abs(self.given), abs(self.lost), 1e-30)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moment:
    """The state after a step; the arrays are those of the march and change with its next step."""

    time: float
    step: float
    heat: Floats
    """(n,) [J/m3]."""
    temperature: Floats
    """(n,) [K]."""
    heat_before: Floats
    temperature_before: Floats
    ledger: Ledger
    newton: int
    """Linear solutions so far."""
    products: int
    """Products with the matrix so far."""


class Marcher:
    """A mesh on its way through time.

    What is left out of balance at the end of a step's iteration is added to each cell's heat, so that it is carried into the next
    step and no heat is lost.
    """

    def __init__(self, mesh: Mesh, setting: Setting, start: Floats, *, pace: Pace) -> None:
        """Start (n,): temperatures at the beginning [K]."""
        self.balance, self.pace = Balance(mesh, setting, start), pace
        self.volume, self.kind = np.array(mesh.volume), np.array(mesh.kind)
        n = self.volume.size
        self.heat = self.balance.start.copy()
        self.before = self.heat.copy()
        self.trial, self.other, self.past, self.r = (np.zeros(n) for _ in range(4))
        self.temperature, self.temperature_before, self.slope = start.astype(np.float64), start.astype(np.float64), np.ones(n)
        self.spare_temperature, self.spare_slope, self.spare_r = np.zeros(n), np.ones(n), np.zeros(n)
        self.time, self.last = 0.0, 0.0
        self.lost, self.lost_before = 0.0, 0.0
        self.newton = self.products = 0
        self.none = np.zeros(n)
        self.freezing = setting.substances[METAL].liquid_heat - setting.substances[METAL].solid_heat
        flat = [np.diff(s.heat)[np.diff(s.temperature) <= 0].max(initial=0.0) for s in setting.substances]
        self.least = PLATEAU / max(flat) if max(flat) > 0 else 0.0

    def step(self, longest: float) -> Moment:
        """One step, of the length that the pace gives, at most `longest` [s].

        Raises
        ------
        UnsoundResultError
            If it does not converge even when halved several times, or its ledger is off.
        """
        pace = self.pace
        length = min(max(pace.first, pace.growth * self.time), pace.longest, longest)
        if self.last:
            length = min(length, STRETCH * self.last)
        for _ in range(HALVINGS + 1):
            factors = self._factors(length)
            if self._solve(length, factors):
                return self._accept(length, factors)
            length *= 0.5
        raise UnsoundResultError(
            f"The freezing did not converge at {self.time:.3g} s.",
            why=f"A step of {2 * length:.2g} s was still out of balance after {pace.newton} rounds.",
            try_this="Look whether conductivities, films and temperatures are what they should be, or take smaller steps.",
        )

    def _factors(self, length: float) -> tuple[float, float, float]:
        """Factors of the new, the present and the earlier heat in its derivative [1/s]."""
        if not self.last:
            return 1 / length, -1 / length, 0.0
        ratio = length / self.last
        return (1 + 2 * ratio) / (1 + ratio) / length, -(1 + ratio) / length, ratio**2 / (1 + ratio) / length

    def _look(self, step: Step, heat: Floats, *, into: tuple[Floats, Floats, Floats]) -> float:
        """Temperature, slope and balance at a state; returns the sum of what is out of balance [W]."""
        temperature, slope, r = into
        balance = self.balance
        temperatures(balance.tables, self.kind, heat, out=temperature, slope=slope)
        balance.vent(heat, temperature)
        return float(residual(balance.rows, step, balance.outside, heat=heat, temperature=temperature, out=r))

    def _solve(self, length: float, factors: tuple[float, float, float]) -> bool:
        """Find the heat at the end of a step, in `trial`; whether it converged."""
        lead, now, before = factors
        balance, pace = self.balance, self.pace
        history(self.heat, self.before, self.past, factors=(now, before))
        ratio = length / self.last if self.last else 0.0
        history(self.heat, self.before, self.trial, factors=(1 + ratio, -ratio))
        balance.follow(self.trial)
        step = Step(self.volume, self.past, lead)
        left = self._look(step, self.trial, into=(self.temperature, self.slope, self.r))
        whole = moved(self.volume, self.trial, self.none)
        earlier = math.inf
        for turn in range(pace.newton):
            allowed = pace.balance * self._moving(length) + ROUNDING * lead * whole
            excess = max(left / max(allowed, 1e-300), self._worst(lead) / pace.worst)
            if turn and excess <= 1:
                return True
            if not math.isfinite(left):
                return False
            capacities(step, self.slope, balance.capacity, least=self.least)
            sought = FIRST if not turn else TRUST * (excess / earlier) ** 2
            tolerance = min(LOOSEST, max(pace.linear, MARGIN / max(excess, 1e-300), sought))
            earlier = excess
            self.products += balance.solve(self.r, tolerance=tolerance, most=60)
            self.newton += 1
            left = self._move(step, left)
        return False

    def _worst(self, lead: float) -> float:
        """What is out of balance in the worst cell of metal, as a share of the heat between liquid and solid."""
        if not math.isfinite(self.freezing):
            return 0.0
        return float(worst(self.r, self.volume, self.kind)) / (lead * self.freezing)

    def _moving(self, length: float) -> float:
        """Heat that moves in a step [W]: half of all changes, or what crosses the boundary if that is more."""
        changed = 0.5 * moved(self.volume, self.trial, self.heat) / length
        return float(max(changed, 0.5 * leaving(self.balance.outside, self.temperature)[1]))

    def _move(self, step: Step, left: float) -> float:
        """Go along the change that was solved for, as far as it helps; returns what is out of balance then."""
        state = (self.spare_temperature, self.spare_slope, self.spare_r)
        best, best_share = math.inf, 0.0
        for share in SHARES:
            self._go(share)
            found = self._look(step, self.other, into=state)
            if found < best:
                best, best_share = found, share
            if found < left or not found < best * 1.0001:
                break
        if best_share != share:
            self._go(best_share)
            best = self._look(step, self.other, into=state)
        self.trial, self.other = self.other, self.trial
        self.temperature, self.spare_temperature = self.spare_temperature, self.temperature
        self.slope, self.spare_slope = self.spare_slope, self.slope
        self.r, self.spare_r = self.spare_r, self.r
        return best

    def _go(self, share: float) -> None:
        """Heat after a share of the change, in `other`."""
        move(
            self.balance.tables,
            self.trial,
            self.balance.change,
            kind=self.kind,
            slope=self.slope,
            least=self.least,
            share=share,
            bend=BEND,
            out=self.other,
        )

    def _accept(self, length: float, factors: tuple[float, float, float]) -> Moment:
        """Take the trial for the new state and check the ledger."""
        lead, now, before = factors
        leaves = self.balance.lost(self.temperature)
        lost = (leaves - now * self.lost - before * self.lost_before) / lead
        self.lost_before, self.lost = self.lost, lost
        self.trial += self.r / (lead * self.volume)
        self.before, self.heat, self.trial = self.heat, self.trial, self.before
        earlier = self.temperature_before
        temperatures(self.balance.tables, self.kind, self.before, out=earlier, slope=self.spare_slope)
        temperatures(self.balance.tables, self.kind, self.heat, out=self.temperature, slope=self.slope)
        self.time += length
        self.last = length
        ledger = self._ledger()
        return Moment(
            time=self.time,
            step=length,
            heat=self.heat,
            temperature=self.temperature,
            heat_before=self.before,
            temperature_before=earlier,
            ledger=ledger,
            newton=self.newton,
            products=self.products,
        )

    def _ledger(self) -> Ledger:
        """Where the heat has gone; raises if it is not all there."""
        whole, metal = gained(self.volume, self.heat, self.balance.start, kind=self.kind)
        ledger = Ledger(given=-float(metal), lost=self.lost, missing=float(whole) + self.lost)
        if not ledger.share <= self.pace.ledger:
            raise UnsoundResultError(
                f"Heat went missing: {100 * ledger.share:.3g} % of what has moved by {self.time:.3g} s.",
                why=f"The ledger may be off by {100 * self.pace.ledger:g} % at most.",
                try_this="This is a fault of the program: send the plan to us.",
            )
        return ledger


def march(mesh: Mesh, setting: Setting, start: Floats, *, pace: Pace | None = None, until: float = math.inf) -> Iterator[Moment]:
    """The state after each step, from temperatures `start` (n,) [K] until a time [s]; the last step ends there.

    Raises
    ------
    UnsoundResultError
        If a step does not converge, or heat goes missing.
    """
    marcher = Marcher(mesh, setting, start, pace=pace or Pace())
    while marcher.time < until * (1 - 1e-12):
        yield marcher.step(until - marcher.time)
