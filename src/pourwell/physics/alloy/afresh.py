"""Equilibrium at a temperature without any guess: a linear programme over the net of compositions, then Newton. SI, mole fractions.

It is what a path falls back on beside the point where two solids become one and steps of Newton lead nowhere; a few hundredths of a
second, where a step takes a thousandth.
"""

from collections.abc import Iterator
from itertools import product
from typing import Final

import numpy as np

from pourwell.physics.alloy.gibbs import GAS_CONSTANT, Assessment, Floats
from pourwell.physics.alloy.phases import TRACE, WANTED, Balance, NoEquilibriumError, State, net_of, newcomer, settle

SAME: Final = (0.04, 0.1, 0.25)
"""Points of the net that share out the metal and lie closer than this are one phase; the later where the first lead nowhere."""
FINE: Final = 0.006
REACH: Final = 5
"""Around each composition that is given the net is made as fine as this, so many steps each way."""


def equilibrium(assessment: Assessment, moles: Floats, temperature: float, *, near: Floats) -> State:
    """Liquid and fcc of an alloy (n,) at a temperature [K]: the liquid first, each solid after it.

    `near` (k, n): compositions about which to look closely; they are no guess. Of what is found, that is taken in which no other
    solid wants to appear, if there is one.

    Raises NoEquilibriumError where there is not liquid and solid both, or Newton does not end.
    """
    from scipy.optimize import linprog  # a quarter of a second to load, and most commands need none

    points = np.vstack([net_of(assessment.fcc).compositions, *(_finely(x) for x in near)])
    rt = GAS_CONSTANT * temperature
    ideal = (points * np.log(points)).sum(axis=1)
    phases = (assessment.liquid, assessment.fcc)
    energies = np.concatenate([p.features(points) @ p.coefficients(temperature) / rt + ideal for p in phases])
    found = linprog(energies, A_eq=np.vstack([points, points]).T, b_eq=moles, bounds=(0.0, None), method="highs")
    if found.status != 0:
        raise NoEquilibriumError("The metal of this alloy was not shared out.", why=f"at {temperature:.1f} K")
    states = list(_settled(assessment, moles, temperature, points=points, shares=np.split(found.x, 2)))
    if not states:
        raise NoEquilibriumError("The phases of this alloy were not found to balance.", why=f"at {temperature:.1f} K, from nothing")
    return next((state for state in states if not _wanting(assessment, state)), states[0])


def _finely(x: Floats) -> Floats:
    """(points, n) compositions close around one, none of them nought."""
    n = len(x)
    steps = np.array(list(product(range(-REACH, REACH + 1), repeat=n - 1))) * FINE
    around = np.column_stack([x[:-1] + steps, x[-1] - steps.sum(axis=1)])
    return np.asarray(around[(around > TRACE).all(axis=1)])


def _settled(assessment: Assessment, moles: Floats, temperature: float, *, points: Floats, shares: list[Floats]) -> Iterator[State]:
    """The balances that Newton finds from what the programme shared out, gathered more and more coarsely."""
    for same in SAME:
        liquids, solids = (_gather(points[share > 0.0], share[share > 0.0], same) for share in shares)
        if len(liquids) != 1 or not solids:
            continue
        parts = [*liquids, *solids]
        guess = State(
            temperature=temperature, compositions=np.array([x for x, _ in parts]), amounts=np.array([a for _, a in parts])
        )
        try:
            state = settle(
                (assessment.liquid, *[assessment.fcc] * len(solids)), guess, Balance(moles=moles, temperature=temperature)
            )
        except NoEquilibriumError:
            continue
        if state.amounts.min() > 0.0:
            yield state


def _wanting(assessment: Assessment, state: State) -> bool:
    """Whether another solid wants to appear."""
    potentials = assessment.liquid.potentials(state.compositions[0], state.temperature)
    found = newcomer(assessment.fcc, potentials, temperature=state.temperature, there=state.compositions[1:])
    return found is not None and found.height < -WANTED


def _gather(points: Floats, shares: Floats, same: float) -> list[tuple[Floats, float]]:
    """Points (k, n) with their shares (k,), those close together made one: compositions and amounts, the largest first."""
    gathered: list[tuple[Floats, float]] = []
    for i in np.argsort(-shares):
        for place, (x, amount) in enumerate(gathered):
            if float(np.abs(points[i] - x).max()) < same:
                whole = amount + float(shares[i])
                gathered[place] = (amount / whole * x + shares[i] / whole * points[i], whole)
                break
        else:
            gathered.append((points[i], float(shares[i])))
    return gathered
