"""From the first solid to the last liquid: the lever rule, and Scheil and Gulliver's rule without diffusion in the solid. SI.

The path is followed over the amount of liquid, not over temperature: a pure metal and a eutectic, where all happens at one
temperature, are then points like any other.
"""

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from pourwell.physics.alloy.afresh import equilibrium
from pourwell.physics.alloy.gibbs import Assessment, Floats
from pourwell.physics.alloy.phases import WANTED, Balance, NoEquilibriumError, State, first_solid, newcomer, settle

Way = Literal["lever", "scheil"]
"""lever: solid and liquid are each even throughout at all times. scheil: what is solid stays as it froze, the liquid is even."""

BELOW_ALL_MELTING: Final = 900.0
ABOVE_ALL_MELTING: Final = 1400.0
"""[K]; the lowest liquid of the three metals ends near 1045 K, the highest melting point is that of copper, 1357.77 K."""
LAST_LIQUID: Final = 1e-3
"""Moles of liquid in a mole at which Scheil's path ends where no eutectic ends it: it would run on for ever."""
LONGEST: Final = 0.08
"""Of the liquid that is left (scheil) or of the whole (lever), a step takes at most this."""
MOST_STILL: Final = 60
"""A step is shortened some 25 times at most before the path leaps; more tries than this at one place are a circle."""
MOST_STEPS: Final = 1500
"""A path takes 20 to 150."""
LEAST: Final = 1e-8
RESUMED: Final = 0.01
"""The first step, and that after a solid came or went."""
TURNING: Final = 0.005
"""Where steps of liquid get shorter than this, temperature leads."""
SHORT: Final = 1e-3
"""A step of liquid longer than this is tried again, shorter, before the path leaps."""
LEAST_K: Final = 1e-3
LEAPS_K: Final = (0.2, 0.4, 0.8, 1.5, 1.5, 1.5, 1.5)
"""So far a path leaps where its steps lead nowhere, the first time, the second time, and so on [K]."""
NEAR: Final = 0.03
"""Of RT: a solid further from appearing than this is not looked at closely; the net misses a lowest point by a tenth of it."""
DROP_K: Final = 4.0
"""A step longer than this is halved [K]."""
AT_ONCE: Final = 1e-7
"""Two solids whose heights over the liquid differ by less begin together."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Point:
    """One point of a freezing path, for a mole of alloy.

    Attributes
    ----------
    temperature : [K]
    liquid_moles : of a mole
    liquid : (n,) composition of the liquid that is left
    forming : (n,) composition of the solid at the front (scheil), or of all solid together (lever)
    solids : (p, n) the fcc solutions that touch the liquid
    features : (n + m,) the sums of moles times features of all solid: what its enthalpy needs
    """

    temperature: float
    liquid_moles: float
    liquid: Floats
    forming: Floats
    solids: Floats
    features: Floats


def liquidus(assessment: Assessment, moles: Floats) -> State:
    """Where the first solid appears in a liquid (n,): the liquid, and the fcc that appears, none of it yet."""
    from scipy.optimize import brentq  # a quarter of a second to load, and most commands need none

    def height(temperature: float) -> float:
        return first_solid(assessment, moles, temperature).height

    try:
        temperature = float(brentq(height, BELOW_ALL_MELTING, ABOVE_ALL_MELTING, xtol=1e-9, rtol=1e-14))
    except ValueError as err:
        raise NoEquilibriumError("No liquidus was found for this alloy.") from err
    solid = first_solid(assessment, moles, temperature).composition
    guess = State(temperature=temperature, compositions=np.array([moles, solid]), amounts=np.array([1.0, 0.0]))
    return settle((assessment.liquid, assessment.fcc), guess, Balance(moles=moles, first_amount=1.0))


def freeze(assessment: Assessment, moles: Floats, way: Way) -> list[Point]:
    """The path of an alloy (n,), none of it zero, from the liquidus to its end; see `Way`.

    Raises NoEquilibriumError where a step does not converge however short it is.
    """
    return list(_Path(assessment, moles, way).points())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Aim:
    """Where a step goes: to an amount of liquid [mol], or to a temperature [K]."""

    amount: float | None = None
    temperature: float | None = None


class _Path:
    """The walk along one path: scratch paper of `freeze`."""

    def __init__(self, assessment: Assessment, moles: Floats, way: Way) -> None:
        self.assessment, self.moles, self.lever = assessment, moles, way == "lever"
        self.state = liquidus(assessment, moles)
        self.last: State | None = None  # the state before, for a straight guess at the next
        self.features = np.zeros(len(moles) + len(assessment.fcc.pairs))
        self.step = RESUMED
        self.fall = DROP_K
        self.leaps = 0

    def points(self) -> Iterator[Point]:
        if (other := self._newcomer(self.state)) is not None and other[0] < AT_ONCE:
            self._add(other[1])
        yield self._point()
        still = 0
        for _ in range(MOST_STEPS):
            if self._left <= (0.0 if self.lever else LAST_LIQUID):
                return
            here = self.state.temperature, self._left
            try:
                yield from self._go_on()
                still = still + 1 if here == (self.state.temperature, self._left) else 0
                if still > MOST_STILL:  # a solid comes and goes
                    self._leap()
                    yield self._point()
                    still = 0
            except NoEquilibriumError:
                if self.step > SHORT and not self._by_temperature:
                    self.step /= 4.0
                    continue
                self._leap()
                yield self._point()
        raise NoEquilibriumError("The freezing of this alloy did not come to an end.", why=f"near {self.state.temperature:.1f} K")

    @property
    def _left(self) -> float:
        return float(self.state.amounts[0])

    def _go_on(self) -> Iterator[Point]:
        """One step, or two where a solid appears or is used up within it."""
        before, aim = self.state, self._aim()
        try:
            after = self._solve(aim)
        except NoEquilibriumError:
            return self._shorten()
        if self._invariant:
            after = replace(after, temperature=before.temperature)
        elif aim.amount is not None:
            drop = before.temperature - after.temperature
            if drop > DROP_K and self._left - aim.amount > LEAST:
                return self._shorten()
            self.step = min(LONGEST, self.step * (1.5 if drop < DROP_K / 2.0 else 1.0))
        if aim.amount is None:
            self.step = min(max(self._left - float(after.amounts[0]), LEAST), LONGEST)
            self.fall = min(DROP_K, 2.0 * self.fall)
            if after.amounts[0] < 0.0:
                after = self._solve(_Aim(amount=0.0), guess=after)
        gone = np.flatnonzero(after.amounts[1:] < -WANTED)
        if gone.size:
            yield from self._lose(int(gone[0]) + 1, aim)
            return
        found = self._newcomer(after)
        if found is not None and found[0] < -WANTED:
            yield from self._meet(aim)
            return
        self._accept(after)
        yield self._point()

    @property
    def _invariant(self) -> bool:
        """Whether there are so many phases that all the rest freezes at one temperature."""
        return len(self.state.compositions) == len(self.moles) + 1

    def _leap(self) -> None:
        """Begin afresh a little colder, where steps lead nowhere: beside the point where two solids become one."""
        if self.leaps == len(LEAPS_K):
            raise NoEquilibriumError("The freezing of this alloy was not found.", why=f"near {self.state.temperature:.1f} K")
        left, whole = (1.0, self.moles) if self.lever else (self._left, self.state.compositions[0])
        temperature = self.state.temperature - LEAPS_K[self.leaps]
        self.leaps += 1
        try:
            found = equilibrium(self.assessment, whole, temperature, near=self.state.compositions)
        except NoEquilibriumError:
            return self._leap()
        self.state, self.last = replace(found, amounts=left * found.amounts), None
        new = self.state.amounts[1:] @ self.assessment.fcc.features(found.compositions[1:])
        self.features = new if self.lever else self.features + new
        self.step, self.fall = RESUMED, DROP_K
        return None

    def _shorten(self) -> None:
        if self._by_temperature:
            self.fall /= 2.0
        else:
            self.step /= 2.0
        if self.step < LEAST or self.fall < LEAST_K:
            raise NoEquilibriumError("The freezing of this alloy was not found.", why=f"near {self.state.temperature:.1f} K")

    @property
    def _by_temperature(self) -> bool:
        """Whether so little freezes in a kelvin that temperature leads: towards a solidus that may even turn back (retrograde)."""
        return self.lever and self.step < TURNING and not self._invariant

    def _aim(self) -> "_Aim":
        """Where to go: all the way at an invariant, else a step of liquid, or of temperature where liquid will not go on."""
        if self._invariant:
            return _Aim(amount=0.0)
        if self._by_temperature:
            return _Aim(temperature=self.state.temperature - self.fall)
        if self.lever:
            return _Aim(amount=max(0.0, self._left - self.step))
        return _Aim(amount=max(LAST_LIQUID, self._left * (1.0 - self.step)))

    def _solve(self, aim: "_Aim", guess: State | None = None) -> State:
        """The state that is aimed at."""
        state = self.state
        phases = (self.assessment.liquid, *[self.assessment.fcc] * (len(state.amounts) - 1))
        guess = guess or self._guess(aim)
        if self.lever:
            balance = Balance(moles=self.moles, first_amount=aim.amount, temperature=aim.temperature)
        else:
            balance = Balance(moles=self._left * state.compositions[0], first_amount=aim.amount, before=state.compositions)
        return settle(phases, guess, balance)

    def _guess(self, aim: "_Aim") -> State:
        """Straight on from the last two states."""
        state, last, solids = self.state, self.last, len(self.state.amounts) - 1
        if aim.amount is None:
            return replace(state, temperature=aim.temperature or state.temperature)
        frozen = self._left - aim.amount
        temperature, compositions = state.temperature, state.compositions
        if last is not None and last.compositions.shape == compositions.shape and last.amounts[0] > state.amounts[0]:
            reach = min(2.0, frozen / (last.amounts[0] - state.amounts[0]))
            temperature += reach * (temperature - last.temperature)
            compositions = compositions * np.clip(compositions / last.compositions, 0.5, 2.0) ** reach
        grown = state.amounts[1:] if self.lever else np.zeros(solids)
        return State(temperature=temperature, compositions=compositions, amounts=np.array([aim.amount, *(grown + frozen / solids)]))

    def _newcomer(self, state: State) -> tuple[float, Floats] | None:
        """Height and composition of the fcc that is nearest to appear beside those that are there."""
        potentials = self.assessment.liquid.potentials(state.compositions[0], state.temperature)
        found = newcomer(self.assessment.fcc, potentials, temperature=state.temperature, there=state.compositions[1:], within=NEAR)
        return None if found is None else (found.height, found.composition)

    def _event(self, off: Callable[[State], float], aim: "_Aim") -> State:
        """The state between here and an aim at which something passes through nought. Raises ValueError where nothing does."""
        from scipy.optimize import brentq  # as above

        def part(share: float) -> _Aim:
            if aim.amount is not None:
                return _Aim(amount=self._left + share * (aim.amount - self._left))
            here = self.state.temperature
            return _Aim(temperature=here + share * ((aim.temperature or here) - here))

        share = brentq(lambda share: off(self._solve(part(share))), 1e-9, 1.0, xtol=1e-11, rtol=1e-11, maxiter=200)
        return self._solve(part(float(share)))

    def _meet(self, aim: "_Aim") -> Iterator[Point]:
        """Go to where another solid appears, and take it in."""

        def height(state: State) -> float:
            found = self._newcomer(state)
            return 1e-3 if found is None else found[0]

        with suppress(ValueError):  # it wanted to appear from the begin of the step
            self._accept(self._event(height, aim))
            yield self._point()
        found = self._newcomer(self.state)
        if found is None:  # it fell out of sight between the last two trials: look a little further on
            self._accept(self._solve(aim))
            yield self._point()
            found = self._newcomer(self.state)
        if found is not None:
            self._add(found[1])
            self.step = min(self.step, RESUMED)

    def _lose(self, which: int, aim: "_Aim") -> Iterator[Point]:
        """Go to where a solid is used up (lever) or no longer forms (scheil), and go on without it."""
        if self.lever:
            with suppress(ValueError):
                self._accept(self._event(lambda state: float(state.amounts[which]), aim))
                yield self._point()
        self.state = replace(
            self.state,
            compositions=np.delete(self.state.compositions, which, axis=0),
            amounts=np.delete(self.state.amounts, which),
        )
        self.last = None
        self.step = min(self.step, RESUMED)

    def _add(self, composition: Floats) -> None:
        self.state = replace(
            self.state, compositions=np.vstack([self.state.compositions, composition]), amounts=np.append(self.state.amounts, 0.0)
        )
        self.last = None

    def _accept(self, after: State) -> None:
        now = self.assessment.fcc.features(after.compositions[1:])
        if self.lever:
            self.features = after.amounts[1:] @ now
        else:
            before = self.assessment.fcc.features(self.state.compositions[1:])
            self.features = self.features + after.amounts[1:] @ ((before + now) / 2.0)
        self.last, self.state = self.state, after

    def _point(self) -> Point:
        state, solids = self.state, self.state.compositions[1:]
        shares = np.maximum(state.amounts[1:], 0.0)
        shares = shares / shares.sum() if shares.sum() > 0.0 else np.full(len(solids), 1.0 / len(solids))
        return Point(
            temperature=state.temperature,
            liquid_moles=float(state.amounts[0]),
            liquid=state.compositions[0],
            forming=shares @ solids,
            solids=solids,
            features=self.features,
        )
