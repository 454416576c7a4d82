"""Compiled loops of the flask in the kiln: curves of the cells, their balance, and Newton's method on a banded matrix. SI.

Cells are rings, numbered along the radius first, so that the matrix is a narrow band; row i of a band holds the entries (i, i) to
(i, i + width). Each loop has a readable twin in `_reference_oven.py`.
"""

from typing import Any, Final, NamedTuple

import numpy as np

from pourwell.physics.kernels import compiled

Array = np.ndarray[Any, np.dtype[Any]]
FRESH, BURNT, STEEL = 0, 1, 2
"""Rows of the curves: mould as it heats up for the first time, mould that was hot enough to hold no water, and the flask's wall."""
SURFACE_ROUNDS: Final = 4
"""Rounds for the temperature of a face, from its last one: the fourth changes less than 1e-9 K."""
PICARD: Final = 3
"""Rounds of a step in which conductivities follow the state; later they stand, so that the rest converges like Newton's method."""
BEHIND: Final = 0.2
"""Share of its water after which a ring conducts as a dry one: the front stands in it, its dry part lies on the side of the heat,
and what comes to the front crosses that part alone; not at once, so that conductivity has no jump."""
LEAST_ROOT: Final = 1e-6
"""Least discriminant of the curve of a cooling cell, as a share of its linear part squared: reached only by a wild first guess."""


class Curves(NamedTuple):
    """Rows FRESH, BURNT, STEEL: heat, temperature, conductivity (3, n), slope (3, n - 1) [K m3/J], knots (3,)."""

    heat: Array
    temperature: Array
    slope: Array
    conductivity: Array
    knots: Array


class Stages(NamedTuple):
    """Heats [J/m3] of the fresh curve where water begins to boil, is gone, and the mould is burnt; and what the laws below need."""

    wet: float
    dry: float
    burnt: float
    share: float
    """Water at the beginning over that of a saturated mould [-]."""
    extra: float
    """What saturation adds to the conductivity [W/(m K)]."""
    base: float
    rise: float
    origin: float
    """Heat capacity of the solid: base + rise (T - origin) [J/(kg K)]."""
    water: float
    """Heat capacity of the free water at the beginning [J/(m3 K)]."""
    solid: float
    """What is left of the mould when it is burnt [kg/m3]."""
    bound: float
    """Bound water at the beginning [kg/m3]."""
    loosens: float
    loose: float
    """Between these temperatures the bound water goes [K]."""


class Turn(NamedTuple):
    """Where each cell has been hottest (n,): heat [J/m3], temperature [K], solid [kg/m3], heat capacity of its water [J/(m3 K)]."""

    heat: Array
    temperature: Array
    solid: Array
    water: Array


class Net(NamedTuple):
    """Faces between cells: first < second (f,), depths over area to each side and resistance of contact (f,) [1/m, 1/m, K/W].

    volume (n,) [m3]; steel (n,) bool.
    """

    first: Array
    second: Array
    near: Array
    far: Array
    contact: Array
    volume: Array
    steel: Array


class Outer(NamedTuple):
    """Faces to the kiln (b,): cell, area [m2], depth of its middle [m], face; film (3, 3): convection, radiation, outside."""

    cell: Array
    area: Array
    depth: Array
    face: Array
    film: Array


class Fixed(NamedTuple):
    """What stays the same from step to step."""

    curves: Curves
    stages: Stages
    net: Net
    outer: Outer


class Work(NamedTuple):
    """What a step reads and writes, for n cells, b faces to the kiln, f faces between cells, a band of width w.

    heat and past, whose derivative is lead heat + past, temperature, slope, conductivity and balance (n,); surface and entering
    (b,); weight (f,); band (n, w + 1).
    """

    heat: Array
    past: Array
    temperature: Array
    slope: Array
    conductivity: Array
    balance: Array
    surface: Array
    entering: Array
    weight: Array
    band: Array


class Asked(NamedTuple):
    """What a step is to reach: factor of the new heat in its derivative [1/s], most out of balance in sum [W], most rounds."""

    lead: float
    allowed: float
    rounds: int


@compiled()
def along(curves: Curves, row: int, heat: float) -> tuple[float, float, float]:
    """Temperature, its slope and conductivity of a row of the curves at a heat; temperature goes straight on beyond the ends."""
    low, high = 0, curves.knots[row] - 1
    while high - low > 1:
        middle = (low + high) // 2
        if curves.heat[row, middle] <= heat:
            low = middle
        else:
            high = middle
    slope = curves.slope[row, low]
    temperature = curves.temperature[row, low] + slope * (heat - curves.heat[row, low])
    part = (heat - curves.heat[row, low]) / (curves.heat[row, high] - curves.heat[row, low])
    part = min(1.0, max(0.0, part))
    conductivity = curves.conductivity[row, low] + part * (curves.conductivity[row, high] - curves.conductivity[row, low])
    return temperature, slope, conductivity


@compiled()
def turned(curves: Curves, stages: Stages, turn: Turn) -> None:
    """Fill in, from the most heat that cells have held, where they turn: temperature, solid and heat capacity of their water."""
    knots = curves.knots[FRESH]
    for i in range(turn.heat.size):
        hottest = min(max(turn.heat[i], curves.heat[FRESH, 0]), curves.heat[FRESH, knots - 1])
        turn.temperature[i], _, _ = along(curves, FRESH, hottest)
        gone = min(max((turn.temperature[i] - stages.loosens) / (stages.loose - stages.loosens), 0.0), 1.0)
        turn.solid[i] = stages.solid + stages.bound * (1 - gone)
        left = (stages.dry - turn.heat[i]) / (stages.dry - stages.wet) if stages.dry > stages.wet else 0.0
        turn.water[i] = stages.water * min(max(left, 0.0), 1.0)


@compiled()
def states(fixed: Fixed, turn: Turn, work: Work) -> None:
    """Temperature, slope and conductivity of all cells at their heat.

    A cell at its hottest follows the fresh curve. One that has been hotter keeps what it lost: it cools and warms along the heat
    capacity of what was left of it then.
    """
    curves, stages, steel, heat = fixed.curves, fixed.stages, fixed.net.steel, work.heat
    for i in range(heat.size):
        if steel[i]:
            work.temperature[i], work.slope[i], work.conductivity[i] = along(curves, STEEL, heat[i])
            continue
        hottest = max(heat[i], turn.heat[i])
        if heat[i] >= turn.heat[i]:
            t, slope, k = along(curves, FRESH, heat[i])
        elif turn.heat[i] >= stages.burnt:
            t, slope, k = along(curves, BURNT, heat[i])
        else:
            square = 0.5 * turn.solid[i] * stages.rise
            linear = turn.solid[i] * stages.base + turn.water[i]
            x = turn.temperature[i] - stages.origin
            gained = square * x * x + linear * x + heat[i] - turn.heat[i]
            root = np.sqrt(max(linear * linear + 4 * square * gained, LEAST_ROOT * linear * linear))
            t, slope = stages.origin + 2 * gained / (linear + root), 1 / root
            _, _, k = along(curves, FRESH, hottest)
        if stages.share > 0 and hottest < stages.dry:
            left = (stages.dry - hottest) / (stages.dry - stages.wet)
            k += stages.extra * stages.share * min(1.0, max(0.0, 1 - (1 - left) / BEHIND))
        work.temperature[i], work.slope[i], work.conductivity[i] = t, slope, k


@compiled()
def weigh(net: Net, work: Work) -> None:
    """Weights of the faces [W/K]: resistances of both halves and of the contact in series."""
    for f in range(net.first.size):
        halves = net.near[f] / work.conductivity[net.first[f]] + net.far[f] / work.conductivity[net.second[f]]
        work.weight[f] = 1 / (halves + net.contact[f])


@compiled()
def balance(fixed: Fixed, work: Work, lead: float) -> float:
    """Fill the balance of all cells [W], gained less entering, and the matrix; returns the sum of what is out of balance."""
    net, outer, band, heat = fixed.net, fixed.outer, work.band, work.heat
    band[:] = 0.0
    for i in range(heat.size):
        work.balance[i] = net.volume[i] * (lead * heat[i] + work.past[i])
        band[i, 0] = lead * net.volume[i] / work.slope[i]
    for f in range(net.first.size):
        i, j = net.first[f], net.second[f]
        weight = work.weight[f]
        flow = weight * (work.temperature[j] - work.temperature[i])
        work.balance[i] -= flow
        work.balance[j] += flow
        band[i, 0] += weight
        band[j, 0] += weight
        band[i, j - i] -= weight
    for b in range(outer.cell.size):
        i = outer.cell[b]
        air, grey, outside = outer.film[outer.face[b]]
        inner = work.conductivity[i] / outer.depth[b]
        t = work.surface[b]
        for _ in range(SURFACE_ROUNDS):
            short = air * (outside - t) + grey * (outside**4 - t**4) - inner * (t - work.temperature[i])
            t += short / (air + 4 * grey * t**3 + inner)
        work.surface[b] = t
        through = air + 4 * grey * t**3
        work.entering[b] = outer.area[b] * inner * (t - work.temperature[i])
        work.balance[i] -= work.entering[b]
        band[i, 0] += outer.area[b] * inner * through / (inner + through)
    total = 0.0
    for i in range(heat.size):
        total += abs(work.balance[i])
    return total


@compiled()
def solve_band(band: Array, x: Array) -> None:
    """Solve the symmetric positive banded system in place: x (n,) comes in as the right side and leaves as the solution.

    Band (n, w + 1) leaves as its factors L D L^T. Source: Golub & Van Loan, Matrix Computations, section 4.3.
    """
    n, width = band.shape[0], band.shape[1] - 1
    for j in range(n):
        pivot = 1 / band[j, 0]
        for d in range(1, min(width, n - 1 - j) + 1):
            factor = band[j, d] * pivot
            if factor != 0.0:
                for e in range(width - d + 1):
                    band[j + d, e] -= factor * band[j, d + e]
                x[j + d] -= factor * x[j]
    for j in range(n - 1, -1, -1):
        total = x[j]
        for d in range(1, min(width, n - 1 - j) + 1):
            total -= band[j, d] * x[j + d]
        x[j] = total / band[j, 0]


@compiled()
def change(fixed: Fixed, turn: Turn, work: Work) -> None:
    """Carry the changes of temperature, which stand in the balance with the wrong sign, into heat.

    A cell that boils stops just beyond either end of its boiling: the slope there is not the one the change was reckoned with.
    """
    stages, steel, heat = fixed.stages, fixed.net.steel, work.heat
    over = 0.005 * (stages.dry - stages.wet)
    for i in range(heat.size):
        new = heat[i] - work.balance[i] / work.slope[i]
        boils = not steel[i] and heat[i] >= turn.heat[i] and stages.wet <= heat[i] <= stages.dry
        if boils and stages.dry > stages.wet:
            new = min(max(new, stages.wet - over), stages.dry + over)
        heat[i] = new


@compiled()
def step(fixed: Fixed, cells: tuple[Turn, Work], asked: Asked) -> int:
    """Newton's method on the heat at the end of a step, from the guess in `work.heat`, which it overwrites.

    Returns the rounds it took, or -1 if it did not converge.
    """
    turn, work = cells
    for done in range(asked.rounds):
        states(fixed, turn, work)
        if done < PICARD:
            weigh(fixed.net, work)
        left = balance(fixed, work, asked.lead)
        if not np.isfinite(left):
            return -1
        if done and left <= asked.allowed:
            return done
        solve_band(work.band, work.balance)
        change(fixed, turn, work)
    return -1
