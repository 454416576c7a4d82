"""What solid alloy does on cooling: it may part into a silver-rich and a copper-rich solution. SI, mole fractions.

Below `FROZEN_IN` nothing diffuses in the minutes that a casting takes, and what is there stays as it is. Order of the atoms (AuCu
and its kin, below about 683 K) is not in the Gibbs energies used.
"""

from typing import Final

import numpy as np

from pourwell.physics.alloy.gibbs import Assessment, Floats, Solution
from pourwell.physics.alloy.phases import APART, WANTED, Balance, NoEquilibriumError, State, newcomer, settle

FROZEN_IN: Final = 723.15
"""[K]: below it compositions stay; our choice, above the order that is not modelled."""
STEP_K: Final = 15.0
SHARES: Final = (0.02, 0.1, 0.25, 0.5, 0.75)
"""Of the solution that parts from the rest: with these the search for its amount begins, one after the other."""


def cool(assessment: Assessment, moles: Floats, *, temperature: float, solids: Floats) -> tuple[Floats, Floats]:
    """Cool solid in equilibrium (lever rule) from where it has just frozen down to `FROZEN_IN`.

    Parameters
    ----------
    moles : (n,) the alloy, none of it zero
    temperature : where it is all solid [K]
    solids : (p, n) compositions of the solids there

    Returns
    -------
    (k,) temperatures, falling; (k, n + m) sums of moles times features at each. Raises NoEquilibriumError.
    """
    fcc = assessment.fcc
    amounts, *_ = np.linalg.lstsq(solids.T, moles, rcond=None)
    state = State(temperature=temperature, compositions=solids, amounts=np.asarray(amounts, dtype=float))
    if len(solids) == 1:
        state = _whole(moles, temperature)
    steps = max(1, int(np.ceil((temperature - FROZEN_IN) / STEP_K)))
    temperatures = np.linspace(temperature, FROZEN_IN, steps + 1)
    features = [state.amounts @ fcc.features(state.compositions)]
    for target in temperatures[1:]:
        state = _at(fcc, moles, state, target=float(target))
        features.append(state.amounts @ fcc.features(state.compositions))
    return temperatures, np.array(features)


def _whole(moles: Floats, temperature: float) -> State:
    return State(temperature=temperature, compositions=moles[None, :], amounts=np.ones(1))


def _at(fcc: Solution, moles: Floats, before: State, *, target: float) -> State:
    """The solids at a target temperature: those of before, else what the tangent plane of the undivided solid asks for."""
    if len(before.amounts) > 1 and (after := _parted(fcc, moles, before, target=target)) is not None:
        return after
    found = newcomer(fcc, fcc.potentials(moles, target), temperature=target, there=moles[None, :])
    if found is None or found.height > -WANTED:
        return _whole(moles, target)
    for share in SHARES:
        rest = np.maximum((moles - share * found.composition) / (1.0 - share), 0.1 * moles)
        both = np.vstack([rest / rest.sum(), found.composition])
        guess = State(temperature=target, compositions=both, amounts=np.array([1.0 - share, share]))
        if (after := _parted(fcc, moles, guess, target=target)) is not None:
            return after
    return _whole(moles, target)


def _parted(fcc: Solution, moles: Floats, guess: State, *, target: float) -> State | None:
    """Solids side by side, or None where they are not found, one is of less than nought, or they are the same."""
    try:
        after = settle((fcc,) * len(guess.amounts), guess, Balance(moles=moles, temperature=target))
    except NoEquilibriumError:
        return None
    spread = float(np.ptp(after.compositions, axis=0).max())
    return after if after.amounts.min() > 0.0 and spread > 0.5 * APART else None
