"""From the first solid to the last liquid: the lever rule, and Scheil and Gulliver's rule without diffusion in the solid. SI.

The path is followed over the amount of liquid, not over temperature: a pure metal and a eutectic, where all happens at one
temperature, are then points like any other.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from scipy.optimize import brentq

from pourwell.physics.alloy.gibbs import Assessment, Floats
from pourwell.physics.alloy.phases import WANTED, Balance, NoEquilibriumError, State, first_solid, newcomer, settle

Way = Literal["lever", "scheil"]
"""lever: solid and liquid are each even throughout at all times. scheil: what is solid stays as it froze, the liquid is even."""

BELOW_ALL_MELTING: Final = 900.0
ABOVE_ALL_MELTING: Final = 1400.0
"""[K]; the lowest liquid of the three metals ends near 1045 K, the highest melting point is that of copper, 1357.77 K."""
LAST_LIQUID: Final = 1e-3
"""Moles of liquid in a mole at which Scheil's path ends where no eutectic ends it: it would run on for ever."""
LONGEST: Final = 0.06
"""Of the liquid that is left (scheil) or of the whole (lever), a step takes at most this."""
LEAST: Final = 1e-8
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


class _Path:
    """The walk along one path: scratch paper of `freeze`."""

    def __init__(self, assessment: Assessment, moles: Floats, way: Way) -> None:
        self.assessment, self.moles, self.lever = assessment, moles, way == "lever"
        self.state = liquidus(assessment, moles)
        self.last: State | None = None  # the state before, for a straight guess at the next
        self.features = np.zeros(len(moles) + len(assessment.fcc.pairs))
        self.step = 0.01

    def points(self) -> Iterator[Point]:
        if (other := self._newcomer(self.state)) is not None and other[0] < AT_ONCE:
            self._add(other[1])
        yield self._point()
        while self._left > (0.0 if self.lever else LAST_LIQUID):
            yield from self._go_on()

    @property
    def _left(self) -> float:
        return float(self.state.amounts[0])

    def _go_on(self) -> Iterator[Point]:
        """One step, or two where a solid appears or is used up within it."""
        before, target = self.state, self._next_amount()
        try:
            after = self._solve(target)
        except NoEquilibriumError:
            return self._shorten()
        invariant = len(before.compositions) == len(self.moles) + 1
        if before.temperature - after.temperature > DROP_K and not invariant and before.amounts[0] - target > LEAST:
            return self._shorten()
        if not invariant:
            gentle = before.temperature - after.temperature < DROP_K / 2.0
            self.step = min(LONGEST, self.step * (1.5 if gentle else 1.0))
        gone = np.flatnonzero(after.amounts[1:] < -WANTED)
        if gone.size:
            yield from self._lose(int(gone[0]) + 1, target)
            return
        found = self._newcomer(after)
        if found is not None and found[0] < -WANTED:
            yield from self._meet(target)
            return
        self._accept(after)
        yield self._point()

    def _shorten(self) -> None:
        self.step /= 2.0
        if self.step < LEAST:
            raise NoEquilibriumError("The freezing of this alloy was not found.", why=f"near {self.state.temperature:.1f} K")

    def _next_amount(self) -> float:
        """Moles of liquid to go to: all the way at an invariant, else a step."""
        if len(self.state.compositions) == len(self.moles) + 1:
            return 0.0
        if self.lever:
            return max(0.0, self._left - self.step)
        return max(LAST_LIQUID, self._left * (1.0 - self.step))

    def _solve(self, amount: float) -> State:
        """The state with this much liquid left."""
        state, last = self.state, self.last
        frozen = state.amounts[0] - amount
        phases = (self.assessment.liquid, *[self.assessment.fcc] * (len(state.amounts) - 1))
        temperature, compositions = state.temperature, state.compositions
        if last is not None and last.compositions.shape == compositions.shape and last.amounts[0] > state.amounts[0]:
            reach = min(2.0, frozen / (last.amounts[0] - state.amounts[0]))
            temperature += reach * (temperature - last.temperature)
            compositions = compositions * np.clip(compositions / last.compositions, 0.5, 2.0) ** reach
        solid_count = len(state.amounts) - 1
        if self.lever:
            amounts = np.array([amount, *(state.amounts[1:] + frozen / solid_count)])
            balance = Balance(moles=self.moles, first_amount=amount)
        else:
            amounts = np.array([amount, *[frozen / solid_count] * solid_count])
            balance = Balance(moles=state.amounts[0] * state.compositions[0], first_amount=amount, before=state.compositions)
        return settle(phases, State(temperature=temperature, compositions=compositions, amounts=amounts), balance)

    def _newcomer(self, state: State) -> tuple[float, Floats] | None:
        """Height and composition of the fcc that is nearest to appear beside those that are there."""
        potentials = self.assessment.liquid.potentials(state.compositions[0], state.temperature)
        found = newcomer(self.assessment.fcc, potentials, temperature=state.temperature, there=state.compositions[1:])
        return None if found is None else (found.height, found.composition)

    def _event(self, off: Callable[[State], float], target: float) -> State:
        """The state between here and a target amount of liquid at which something passes through nought."""
        here = self._left
        root = brentq(lambda amount: off(self._solve(amount)), target, here - 1e-9 * here, xtol=1e-12, rtol=1e-12, maxiter=60)
        return self._solve(float(root))

    def _meet(self, target: float) -> Iterator[Point]:
        """Go to where another solid appears, and take it in."""

        def height(state: State) -> float:
            found = self._newcomer(state)
            return 1e-3 if found is None else found[0]

        try:
            self._accept(self._event(height, target))
        except ValueError:  # it was there from the begin of the step
            found = self._newcomer(self.state)
        else:
            yield self._point()
            found = self._newcomer(self.state)
        if found is None:  # between the last two trials it fell out of sight: look a little further on
            self._accept(self._solve(target))
            yield self._point()
            found = self._newcomer(self.state)
        if found is not None:
            self._add(found[1])
            self.step = min(self.step, 0.01)

    def _lose(self, which: int, target: float) -> Iterator[Point]:
        """Go to where a solid is used up (lever) or no longer forms (scheil), and go on without it."""
        if self.lever:
            try:
                self._accept(self._event(lambda state: float(state.amounts[which]), target))
            except ValueError:
                pass
            else:
                yield self._point()
        self.state = replace(
            self.state,
            compositions=np.delete(self.state.compositions, which, axis=0),
            amounts=np.delete(self.state.amounts, which),
        )
        self.last = None
        self.step = min(self.step, 0.01)

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
