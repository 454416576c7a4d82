"""Loops over the metal after a step: when each cell begins and ends to freeze, how fast it cools then, and how steeply."""

from typing import Any, NamedTuple

import numpy as np

from pourwell.physics.kernels import compiled
from pourwell.physics.kernels.linear import Number, Rows

Array = np.ndarray[Any, np.dtype[Any]]


class Marks(NamedTuple):
    """For each metal cell (q,): begin and end of freezing [s], cooling rate [K/s] and gradient [K/m] at the end; NaN until then.

    fall: how fast its heat fell in the step before [W/m3].
    """

    begin: Array
    end: Array
    rate: Array
    gradient: Array
    fall: Array


@compiled()
def solid_at(heats: tuple[float, float, float], fall: float, span: tuple[float, float]) -> Number:
    """When a cell's heat passes that of the solid in a step [s]; heats: before and after the step, and the solid's [J/m3].

    A cell gives its last latent heat at a steady pace, and once solid has less to give: the straight line between the step's ends
    is late by up to half a step. So the pace of the step before, `fall` [W/m3], holds where it is the faster. span: the step's
    beginning and length [s].
    """
    then, now, solid = heats
    share = (then - solid) / max(then - now, fall * span[1], 1e-300)
    return span[0] + span[1] * min(1.0, max(0.0, share))


@compiled()
def slope_at(cell: int, rows: Rows, state: tuple[Array, Array, Array]) -> Number:
    """Size of the temperature's gradient [K/m] in a cell, from its neighbours of the same kind, by least squares.

    state: temperature (n,) [K], middles (n, 3) [m] and kind (n,) of the cells.
    """
    temperature, centre, kind = state
    m = np.zeros((3, 3))
    v = np.zeros(3)
    d = np.empty(3)
    for side in range(6):
        other = rows.neighbour[side, cell]
        if other == cell or kind[other] != kind[cell]:
            continue
        square = 0.0
        for i in range(3):
            d[i] = centre[other, i] - centre[cell, i]
            square += d[i] * d[i]
        if square <= 0.0:
            continue
        rise = temperature[other] - temperature[cell]
        for i in range(3):
            v[i] += d[i] * rise / square
            for j in range(3):
                m[i, j] += d[i] * d[j] / square
    for i in range(3):
        m[i, i] += 1e-9
    g = np.linalg.solve(m, v)
    return (g[0] * g[0] + g[1] * g[1] + g[2] * g[2]) ** 0.5


@compiled()
def slopes(marks: Marks, places: Array, cells: Array, *, rows: Rows, temperature: Array, centre: Array, kind: Array) -> None:
    """Set the gradient at some places of the marks, from a state's temperature (n,) [K] round their cells."""
    for q in range(places.size):
        marks.gradient[places[q]] = slope_at(cells[q], rows, (temperature, centre, kind))


@compiled()
def mark(marks: Marks, cells: Array, heat: Array, *, before: Array, span: tuple[float, float], ends: tuple[float, float]) -> int:
    """Set begin and end of the cells that pass the liquid's and the solid's heat in a step; returns how many are not yet solid.

    heat, before (n,): after and before the step; span: its beginning [s] and length [s]; ends: heat of the liquid and the solid
    [J/m3].
    """
    left = 0
    for q in range(cells.size):
        a = cells[q]
        fall = max(before[a] - heat[a], 1e-300)
        if heat[a] < ends[0] and (before[a] >= ends[0] or np.isnan(marks.begin[q])):
            marks.begin[q] = span[0] + span[1] * min(1.0, max(0.0, (before[a] - ends[0]) / fall))
        if heat[a] > ends[1]:
            left += 1
        elif np.isnan(marks.end[q]):
            marks.end[q] = solid_at((before[a], heat[a], ends[1]), marks.fall[q], span)
        marks.fall[q] = (before[a] - heat[a]) / span[1]
    return left
