"""The loops of the flask in the kiln once more, for reading: plain numpy. One test runs over both (conventions C19).

Names and arguments are those of the loops; what a loop writes into an array these write there too.
"""

import math

import numpy as np

from pourwell.physics.kernels.oven import (
    BEHIND,
    BURNT,
    FRESH,
    LEAST_ROOT,
    PICARD,
    STEEL,
    SURFACE_ROUNDS,
    Array,
    Asked,
    Curves,
    Fixed,
    Net,
    Stages,
    Turn,
    Work,
)


def along(curves: Curves, row: int, heat: float) -> tuple[float, float, float]:
    """Temperature, its slope and conductivity of a row of the curves at a heat."""
    n = int(curves.knots[row])
    h, t, k = (c[row, :n] for c in (curves.heat, curves.temperature, curves.conductivity))
    i = int(np.clip(np.searchsorted(h, heat, side="right") - 1, 0, n - 2))
    slope = float(curves.slope[row, i])
    return float(t[i]) + slope * (heat - float(h[i])), slope, float(np.interp(heat, h, k))


def turned(curves: Curves, stages: Stages, turn: Turn) -> None:
    """Fill in, from the most heat that cells have held, where they turn."""
    n = int(curves.knots[FRESH])
    turn.temperature[:] = np.interp(turn.heat, curves.heat[FRESH, :n], curves.temperature[FRESH, :n])
    gone = np.clip((turn.temperature - stages.loosens) / (stages.loose - stages.loosens), 0.0, 1.0)
    turn.solid[:] = stages.solid + stages.bound * (1 - gone)
    left = (stages.dry - turn.heat) / (stages.dry - stages.wet) if stages.dry > stages.wet else np.zeros_like(turn.heat)
    turn.water[:] = stages.water * np.clip(left, 0.0, 1.0)


def states(fixed: Fixed, turn: Turn, work: Work) -> None:
    """Temperature, slope and conductivity of all cells at their heat."""
    for i, heat in enumerate(work.heat):
        work.temperature[i], work.slope[i], work.conductivity[i] = _state(fixed, turn, i, heat=float(heat))


def _state(fixed: Fixed, turn: Turn, i: int, *, heat: float) -> tuple[float, float, float]:
    """One cell."""
    curves, stages = fixed.curves, fixed.stages
    if fixed.net.steel[i]:
        return along(curves, STEEL, heat)
    hottest = max(heat, float(turn.heat[i]))
    gone = (hottest - stages.wet) / (stages.dry - stages.wet) if stages.share else 1.0
    wetness = stages.share * float(np.clip(1 - gone / BEHIND, 0.0, 1.0))
    if heat >= turn.heat[i]:
        t, slope, k = along(curves, FRESH, heat)
    elif turn.heat[i] >= stages.burnt:
        t, slope, k = along(curves, BURNT, heat)
    else:
        k = along(curves, FRESH, hottest)[2]
        solid, water = float(turn.solid[i]), float(turn.water[i])
        at_turn = float(turn.temperature[i]) - stages.origin
        a, b = solid * stages.rise / 2, solid * stages.base + water
        c = a * at_turn**2 + b * at_turn + heat - float(turn.heat[i])  # a x^2 + b x = c, x = T - origin
        root = math.sqrt(max(b * b + 4 * a * c, LEAST_ROOT * b * b))
        t, slope = stages.origin + 2 * c / (b + root), 1 / root
    return t, slope, k + stages.extra * wetness


def weigh(net: Net, work: Work) -> None:
    """Weights of the faces [W/K]."""
    k = work.conductivity
    work.weight[:] = 1 / (net.near / k[net.first] + net.contact + net.far / k[net.second])


def balance(fixed: Fixed, work: Work, lead: float) -> float:
    """Fill the balance of all cells [W], gained less entering, and the matrix; returns the sum of what is out of balance."""
    net, outer, t = fixed.net, fixed.outer, work.temperature
    n = t.size
    full = np.diag(lead * net.volume / work.slope)
    work.balance[:] = net.volume * (lead * work.heat + work.past)
    for i, j, weight in zip(net.first, net.second, work.weight, strict=True):
        work.balance[i] -= weight * (t[j] - t[i])
        work.balance[j] -= weight * (t[i] - t[j])
        full[np.ix_([i, j], [i, j])] += weight * np.array([[1, -1], [-1, 1]])
    for b, i in enumerate(outer.cell):
        air, grey, outside = outer.film[outer.face[b]]
        inner = work.conductivity[i] / outer.depth[b]
        face = work.surface[b]
        for _ in range(SURFACE_ROUNDS):
            short = air * (outside - face) + grey * (outside**4 - face**4) - inner * (face - t[i])
            face += short / (air + 4 * grey * face**3 + inner)
        work.surface[b] = face
        work.entering[b] = outer.area[b] * inner * (face - t[i])
        work.balance[i] -= work.entering[b]
        full[i, i] += outer.area[b] / (1 / inner + 1 / (air + 4 * grey * face**3)) if air + grey else 0.0
    for d in range(work.band.shape[1]):
        work.band[:, d] = np.append(np.diagonal(full, d), np.zeros(d))[:n]
    return float(np.abs(work.balance).sum())


def solve_band(band: Array, x: Array) -> None:
    """Solve the symmetric positive banded system in place, and leave its factors L D L^T."""
    n, width = band.shape[0], band.shape[1] - 1
    full = sum(np.diag(band[: n - d, d], d) for d in range(min(width, n - 1) + 1))
    full = full + np.triu(full, 1).T
    x[:] = np.linalg.solve(full, x)
    lower = np.linalg.cholesky(full)
    for d in range(min(width, n - 1) + 1):
        pivots = np.diagonal(lower)[: n - d]
        band[: n - d, d] = np.diagonal(lower, -d) * pivots


def change(fixed: Fixed, turn: Turn, work: Work) -> None:
    """Carry the changes of temperature, which stand in the balance with the wrong sign, into heat."""
    stages, heat = fixed.stages, work.heat
    new = heat - work.balance / work.slope
    over = 0.005 * (stages.dry - stages.wet)
    boils = ~fixed.net.steel & (heat >= turn.heat) & (heat >= stages.wet) & (heat <= stages.dry) & (over > 0)
    heat[:] = np.where(boils, np.clip(new, stages.wet - over, stages.dry + over), new)


def step(fixed: Fixed, cells: tuple[Turn, Work], asked: Asked) -> int:
    """Newton's method on the heat at the end of a step, from the guess in `work.heat`."""
    turn, work = cells
    for done in range(asked.rounds):
        states(fixed, turn, work)
        if done < PICARD:
            weigh(fixed.net, work)
        left = balance(fixed, work, asked.lead)
        if not math.isfinite(left):
            return -1
        if done and left <= asked.allowed:
            return done
        solve_band(work.band, work.balance)
        change(fixed, turn, work)
    return -1
