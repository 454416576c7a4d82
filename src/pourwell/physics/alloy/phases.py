"""Phases in equilibrium by Newton on equal potentials, and the search for one that wants to appear. SI, mole fractions."""

from dataclasses import dataclass
from functools import cache
from itertools import permutations, product
from typing import Final

import numpy as np

from pourwell.errors import PourwellError
from pourwell.physics.alloy.gibbs import GAS_CONSTANT, Assessment, Floats, Ints, Solution

CLOSE: Final = 1e-11
"""Newton ends when no equation is further off than this: mole fractions, and potentials over RT."""
ROUNDS: Final = 40
LONGEST_STEP: Final = 1.0
"""A Newton step changes no mole fraction by more than a factor of e..."""
LONGEST_STEP_K: Final = 40.0
"""...and the temperature by no more than this."""
APART: Final = 0.02
"""Two fcc solutions closer than this in every mole fraction are taken as one: what so narrow a gap is worth is under 1 J/mol."""
SHADE: Final = 0.03
"""A low place of the net so close to a phase that is there is that phase."""
FINENESS: Final = {1: 1, 2: 120, 3: 36}
"""Steps along an edge of the net of compositions, by the number of elements."""
TRACE: Final = 1e-4
"""Stands for nought in the net."""
WANTED: Final = 1e-9
"""A phase wants to appear when it would lower the Gibbs energy by this much of RT."""


class NoEquilibriumError(PourwellError):
    """Newton found no equilibrium of the phases asked for."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class State:
    """Phases side by side at one temperature [K].

    `compositions` (p, n): mole fractions, the liquid first if there is one; `amounts` (p,): moles in a mole of the whole.
    """

    temperature: float
    compositions: Floats
    amounts: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Balance:
    """What is shared out among the phases.

    Attributes
    ----------
    moles : (n,) array: of each element
    first_amount : moles of the first phase, or None where the temperature is given
    temperature : [K], or None where the amount of the first phase is given
    before : (p, n) array: compositions at the begin of a step, or None. Given, each phase but the first is laid down evenly from
        there to where it ends (the trapezium rule for a solid without diffusion); None: each is one throughout (lever rule).
    """

    moles: Floats
    first_amount: float | None = None
    temperature: float | None = None
    before: Floats | None = None


def settle(phases: tuple[Solution, ...], guess: State, balance: Balance) -> State:
    """The equilibrium of these phases nearest to a guess.

    Unknown are ln x of each phase, the amounts and the temperature; equations are equal potentials, sums of one, the elements'
    balance, and the one thing given. Raises NoEquilibriumError when Newton does not end.
    """
    p, n = guess.compositions.shape
    logs, amounts, temperature = np.log(guess.compositions), guess.amounts.astype(float), guess.temperature
    for _ in range(ROUNDS):
        residual, jacobian = _equations(phases, logs, amounts, temperature=temperature, balance=balance)
        off = float(np.abs(residual).max())
        if off < CLOSE:
            return State(temperature=temperature, compositions=np.exp(logs), amounts=amounts)
        try:
            step = np.linalg.solve(jacobian, -residual)
        except np.linalg.LinAlgError:
            break
        largest = max(float(np.abs(step[: p * n]).max()) / LONGEST_STEP, abs(float(step[-1])) / LONGEST_STEP_K, 1.0)
        step /= largest
        logs = logs + step[: p * n].reshape(p, n)
        amounts = amounts + step[p * n : -1]
        temperature += float(step[-1])
        if not np.isfinite(temperature) or temperature < 1.0 or float(logs.max()) > LONGEST_STEP:
            break
    raise NoEquilibriumError(
        "The phases of this alloy were not found to balance.", why=f"{p} phases near {guess.temperature:.1f} K"
    )


def _equations(
    phases: tuple[Solution, ...], logs: Floats, amounts: Floats, *, temperature: float, balance: Balance
) -> tuple[Floats, Floats]:
    """Residuals and their Jacobian over (ln x of all phases, amounts, temperature)."""
    p, n = logs.shape
    rt = GAS_CONSTANT * temperature
    x = np.exp(logs)
    size = p * n + p + 1
    residual, jacobian = np.zeros(size), np.zeros((size, size))
    potentials: list[tuple[Floats, Floats, Floats]] = []
    for phase, xs, ls in zip(phases, x, logs, strict=True):
        values, slopes = phase.coefficients(temperature), phase.coefficients(temperature, "slope")
        added, second = phase.partials(xs)
        mu = values[:n] + values[n:] @ added + rt * ls
        by_temperature = slopes[:n] + slopes[n:] @ added + GAS_CONSTANT * ls
        curvature = (values[n:] @ second.reshape(-1, n * n)).reshape(n, n)
        by_log = (curvature - xs @ curvature) * xs + rt * np.eye(n)
        potentials.append((mu / rt, by_log / rt, (by_temperature - mu / temperature) / rt))
    row = 0
    for k in range(1, p):
        rows = slice(row, row + n)
        residual[rows] = potentials[k][0] - potentials[0][0]
        jacobian[rows, k * n : (k + 1) * n] = potentials[k][1]
        jacobian[rows, :n] = -potentials[0][1]
        jacobian[rows, -1] = potentials[k][2] - potentials[0][2]
        row += n
    for k in range(p):
        residual[row] = x[k].sum() - 1.0
        jacobian[row, k * n : (k + 1) * n] = x[k]
        row += 1
    rows = slice(row, row + n)
    residual[rows] = -balance.moles
    for k in range(p):
        end = 1.0 if balance.before is None or k == 0 else 0.5
        mean = x[k] if balance.before is None or k == 0 else 0.5 * (x[k] + balance.before[k])
        residual[rows] += amounts[k] * mean
        jacobian[rows, k * n : (k + 1) * n] = np.diag(end * amounts[k] * x[k])
        jacobian[rows, p * n + k] = mean
    if balance.temperature is not None:
        residual[-1], jacobian[-1, -1] = (temperature - balance.temperature) / balance.temperature, 1.0 / balance.temperature
    else:
        residual[-1], jacobian[-1, p * n] = amounts[0] - float(balance.first_amount or 0.0), 1.0
    return residual, jacobian


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Net:
    """Compositions all over the simplex (points, n), nought replaced by a trace, their features, sums of x ln x, and neighbours.

    `neighbours` (points, n (n - 1)): places in the net; at an edge a point stands in for a neighbour that is missing.
    """

    compositions: Floats
    features: Floats
    ideal: Floats
    neighbours: Ints


@cache
def _net(n: int, pairs: tuple[tuple[int, int, int], ...]) -> Net:
    """The net for a solution of n elements with these pairs."""
    steps = FINENESS[n]
    ways = [part for part in product(range(steps + 1), repeat=n) if sum(part) == steps]
    x = np.maximum(np.array(ways) / steps, TRACE)
    x /= x.sum(axis=1, keepdims=True)
    shape = Solution(pure=(), pairs=np.array(pairs, dtype=int).reshape(-1, 3), terms=np.empty((0, 3)))
    place = {way: i for i, way in enumerate(ways)}
    moves = [tuple(int(e == i) - int(e == j) for e in range(n)) for i, j in permutations(range(n), 2)]
    beside = [[place.get(tuple(a + b for a, b in zip(way, move, strict=True)), i) for move in moves] for i, way in enumerate(ways)]
    net = Net(
        compositions=x,
        features=shape.features(x),
        ideal=(x * np.log(x)).sum(axis=1),
        neighbours=np.array(beside, dtype=int).reshape(len(ways), -1),
    )
    for array in (net.compositions, net.features, net.ideal, net.neighbours):
        array.setflags(write=False)
    return net


def net_of(phase: Solution) -> Net:
    """The net for a phase, made once for all phases of as many elements and such pairs."""
    return _net(len(phase.pure), tuple((int(i), int(j), int(k)) for i, j, k in phase.pairs))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Newcomer:
    """A phase that is not there: its composition (n,), and how much of RT it lies above the tangent plane (below: it appears)."""

    composition: Floats
    height: float


def newcomer(phase: Solution, potentials: Floats, *, temperature: float, there: Floats, within: float = np.inf) -> Newcomer | None:
    """The composition at which a phase lies lowest over a plane of potentials, away from the compositions that are there.

    Parameters
    ----------
    potentials : (n,) array: of the plane [J/mol]
    temperature : [K]
    there : (p, n) array: compositions of the same phase that touch the plane already; may be empty
    within : do not look closer where no point of the net lies lower than this

    Returns
    -------
    None where the only low place is one that is there.

    Source: Michelsen 1982, the tangent-plane test in unnormalised mole numbers W: ln W_i + ln(gamma_i) = d_i, height -ln(sum W).
    """
    n = len(potentials)
    values, rt = phase.coefficients(temperature), GAS_CONSTANT * temperature
    net = net_of(phase)
    heights = net.ideal + (net.features @ values - net.compositions @ potentials) / rt
    low = heights < within
    if n > 1:
        low &= heights <= heights[net.neighbours].min(axis=1)
    for present in there:
        low &= np.abs(net.compositions - present).max(axis=1) > SHADE
    wanted = (potentials - values[:n]) / rt
    found = [_lowest(phase, values / rt, wanted, start=net.compositions[i]) for i in np.flatnonzero(low)]
    new = [f for f in found if f and all(float(np.abs(f.composition - present).max()) > APART for present in there)]
    return min(new, key=lambda f: f.height, default=None)


def _lowest(phase: Solution, values: Floats, wanted: Floats, *, start: Floats) -> Newcomer | None:
    """Newton on ln W from a start; None where it does not end."""
    n = len(start)
    logs = np.log(start)
    for _ in range(ROUNDS):
        moles = np.exp(logs)
        whole = moles.sum()
        x = moles / whole
        added, second = phase.partials(x)
        residual = logs + values[n:] @ added - wanted
        if float(np.abs(residual).max()) < CLOSE:
            return Newcomer(composition=x, height=-float(np.log(whole)))
        curvature = (values[n:] @ second.reshape(-1, n * n)).reshape(n, n)
        by_log = (curvature - x @ curvature) @ (np.diag(x) - np.outer(x, x))
        try:
            step = np.linalg.solve(np.eye(n) + by_log, -residual)
        except np.linalg.LinAlgError:
            return None
        logs = logs + step / max(1.0, float(np.abs(step).max()) / LONGEST_STEP)
    return None


def first_solid(assessment: Assessment, liquid: Floats, temperature: float) -> Newcomer:
    """The fcc that lies lowest over the plane of a liquid (n,) at a temperature [K]; its height is nought at the liquidus.

    Raises NoEquilibriumError when the search does not end.
    """
    found = newcomer(
        assessment.fcc, assessment.liquid.potentials(liquid, temperature), temperature=temperature, there=np.empty((0, len(liquid)))
    )
    if found is None:
        raise NoEquilibriumError("No solid was found for this alloy.", why=f"at {temperature:.1f} K")
    return found
