"""Loops over the state: temperature from heat, the balance of a time step, weights that follow the state. Float64.

`Tables` holds the curves of all substances, padded to one length; `kind` says which curve a cell has.
"""

from typing import Any, NamedTuple

import numpy as np
from numba import prange

from pourwell.physics.kernels import compiled
from pourwell.physics.kernels.linear import STRETCH, Number, Rows, first_at

Array = np.ndarray[Any, np.dtype[Any]]


class Tables(NamedTuple):
    """Curves against heat [J/m3]: heat, temperature, conductivity, solid (kinds, most); knots (kinds,), how many.

    slope (kinds, most - 1): of the temperature after each knot [K m3/J].
    """

    heat: Array
    temperature: Array
    slope: Array
    conductivity: Array
    solid: Array
    knots: Array


class Faces(NamedTuple):
    """Pairs of cells whose weight follows the state.

    first, second (m,); place (m, 2) in the weights; area (m,) [m2]; near, far (m,) distances of the first and the second cell from
    the face [m]; law (m,): -1 where there is no film, else the row of `films`.
    """

    first: Array
    second: Array
    place: Array
    area: Array
    near: Array
    far: Array
    law: Array


@compiled()
def segment(tables: Tables, kind: int, heat: float) -> int:
    """Last knot at or below a heat, kept within the first and the last segment."""
    low, high = 0, tables.knots[kind] - 1
    while high - low > 1:
        middle = (low + high) // 2
        if tables.heat[kind, middle] <= heat:
            low = middle
        else:
            high = middle
    return low


@compiled()
def _at(curve: Array, tables: Tables, place: tuple[int, int, float]) -> Number:
    """Value of a curve at (kind, knot, heat), level beyond its ends."""
    kind, knot, heat = place
    low, high = tables.heat[kind, knot], tables.heat[kind, knot + 1]
    share = min(1.0, max(0.0, (heat - low) / (high - low)))
    return curve[kind, knot] + share * (curve[kind, knot + 1] - curve[kind, knot])


@compiled(parallel=True)
def temperatures(tables: Tables, kind: Array, heat: Array, *, out: Array, slope: Array) -> None:
    """Temperature [K] and its slope [K m3/J] at each cell's heat [J/m3]; straight on beyond the ends of a curve."""
    for a in prange(heat.size):
        k = kind[a]
        n = segment(tables, k, heat[a])
        s = tables.slope[k, n]
        out[a] = tables.temperature[k, n] + s * (heat[a] - tables.heat[k, n])
        slope[a] = s


@compiled(parallel=True)
def solid_fractions(tables: Tables, cells: Array, heat: Array, *, kind: Array, out: Array) -> None:
    """Solid fraction of some cells."""
    for q in prange(cells.size):
        a = cells[q]
        k = kind[a]
        out[q] = _at(tables.solid, tables, (k, segment(tables, k, heat[a]), heat[a]))


@compiled()
def film_resistance(films: Array, law: int, fraction: float) -> Number:
    """Resistance [m2 K/W] at a solid fraction; films (laws, 2, knots): fractions and coefficients; 0 at no film."""
    if law < 0:
        return 0.0
    x, y = films[law, 0], films[law, 1]
    n = 0
    while n < x.size - 2 and x[n + 1] <= fraction:
        n += 1
    share = min(1.0, max(0.0, (fraction - x[n]) / max(x[n + 1] - x[n], 1e-12)))
    return 1.0 / (y[n] + share * (y[n + 1] - y[n]))


@compiled(parallel=True)
def weigh(tables: Tables, faces: Faces, heat: Array, *, kind: Array, films: Array, weights: Array) -> None:
    """Conductance [W/K] of the faces that follow the state: both half ways and the film in series."""
    for f in prange(faces.first.size):
        a, b = faces.first[f], faces.second[f]
        ka = _at(tables.conductivity, tables, (kind[a], segment(tables, kind[a], heat[a]), heat[a]))
        kb = _at(tables.conductivity, tables, (kind[b], segment(tables, kind[b], heat[b]), heat[b]))
        resistance = faces.near[f] / ka + faces.far[f] / kb
        if faces.law[f] >= 0:
            cast = a if kind[a] == 1 else b
            place = (kind[cast], segment(tables, kind[cast], heat[cast]), heat[cast])
            resistance += film_resistance(films, faces.law[f], _at(tables.solid, tables, place))
        value = np.float32(faces.area[f] / resistance)
        weights[faces.place[f, 0]] = value
        weights[faces.place[f, 1]] = value


class Step(NamedTuple):
    """A time step: volume (n,) [m3]; past (n,) [J/m3 s], what earlier heats bring; lead [1/s], the factor of the new heat."""

    volume: Array
    past: Array
    lead: float


class Outside(NamedTuple):
    """What leaves through the boundary: conductance (n,) [W/K] and conductance times outside temperature (n,) [W]."""

    conductance: Array
    source: Array


@compiled()
def _balance(system: tuple[Rows, Step, Outside], state: tuple[Array, Array, Array], ends: tuple[int, int]) -> Number:
    """`residual` for the cells between two ends; state is heat, temperature and what is written."""
    rows, step, outside = system
    low, high = ends
    n, w, temperature, out = rows.neighbour, rows.weight, state[1], state[2]
    n0, n1, n2, n3, n4, n5 = n[0, low:high], n[1, low:high], n[2, low:high], n[3, low:high], n[4, low:high], n[5, low:high]
    w0, w1, w2, w3, w4, w5 = w[0, low:high], w[1, low:high], w[2, low:high], w[3, low:high], w[4, low:high], w[5, low:high]
    heat, mine, volume, past, t = (
        state[0][low:high],
        out[low:high],
        step.volume[low:high],
        step.past[low:high],
        temperature[low:high],
    )
    conductance, source, lead = outside.conductance[low:high], outside.source[low:high], step.lead
    for i in range(mine.size):
        here = t[i]
        v = source[i] - conductance[i] * here - volume[i] * (lead * heat[i] + past[i])
        v += w0[i] * (temperature[n0[i]] - here) + w1[i] * (temperature[n1[i]] - here) + w2[i] * (temperature[n2[i]] - here)
        mine[i] = v + (
            w3[i] * (temperature[n3[i]] - here) + w4[i] * (temperature[n4[i]] - here) + w5[i] * (temperature[n5[i]] - here)
        )
    more, start, listed, lw = rows.more, rows.start, rows.listed, rows.listed_weight
    for q in range(first_at(more, low), more.size):
        a = more[q]
        if a >= high:
            break
        v = 0.0
        for e in range(start[a], start[a + 1]):
            v += lw[e] * (temperature[listed[e]] - temperature[a])
        out[a] += v
    total = 0.0
    for i in range(mine.size):
        total += abs(mine[i])
    return total


@compiled(parallel=True)
def residual(rows: Rows, step: Step, outside: Outside, *, heat: Array, temperature: Array, out: Array) -> Number:
    """Balance of each cell [W], what comes in less what is stored, float64; returns the sum of its size."""
    total = 0.0
    for part in prange((out.size + STRETCH - 1) // STRETCH):
        low = part * STRETCH
        ends = (low, min(low + STRETCH, out.size))
        total += _balance((rows, step, outside), (heat, temperature, out), ends)
    return total


@compiled(parallel=True)
def moved(volume: Array, heat: Array, other: Array) -> Number:
    """Heat by which two states differ, cell by cell: the sum of volume |heat - other|.

    Not a dot product of numpy, whose threads spin while they wait.
    """
    total = 0.0
    for a in prange(volume.size):
        total += volume[a] * abs(heat[a] - other[a])
    return total


@compiled(parallel=True)
def worst(values: Array, volume: Array, kind: Array) -> Number:
    """Most of |values| / volume in a cell of metal."""
    most = 0.0
    for a in prange(values.size):
        if kind[a] == 1:
            most = max(most, abs(values[a]) / volume[a])
    return most


@compiled(parallel=True)
def gained(volume: Array, heat: Array, start: Array, *, kind: Array) -> tuple[Number, Number]:
    """Heat that all cells have gained since the start [J], and that of the metal."""
    total, metal = 0.0, 0.0
    for a in prange(volume.size):
        q = volume[a] * (heat[a] - start[a])
        total += q
        if kind[a] == 1:
            metal += q
    return total, metal


@compiled(parallel=True)
def leaving(outside: Outside, temperature: Array) -> tuple[Number, Number]:
    """Heat that leaves to the outside [W], and the sum of its size cell by cell."""
    conductance, source = outside.conductance, outside.source
    total, size = 0.0, 0.0
    for a in prange(temperature.size):
        q = conductance[a] * temperature[a] - source[a]
        total += q
        size += abs(q)
    return total, size


@compiled(parallel=True)
def capacities(step: Step, slope: Array, out: Array, *, least: float) -> None:
    """Heat taken per kelvin and second [W/K], float32; the slope is kept above `least`, for what melts at one temperature."""
    volume, lead = step.volume, step.lead
    for a in prange(out.size):
        out[a] = lead * volume[a] / max(slope[a], least)


@compiled()
def _stop(tables: Tables, place: tuple[int, float, float], bend: float) -> Number:
    """Where a move of heat ends: just beyond the first knot on its way at which the curve bends by more than a factor.

    place: kind, heat before and after.
    """
    kind, before, after = place
    knots, slopes, last = tables.heat[kind], tables.slope[kind], tables.knots[kind] - 2
    if last == 0:
        return after
    n = segment(tables, kind, before)
    step = 1 if after > before else -1
    while True:
        edge = knots[n + 1] if step > 0 else knots[n]
        if n + step < 0 or n + step > last or (after - edge) * step <= 0.0:
            return after
        here = slopes[n]
        n += step
        there = slopes[n]
        if max(here, there) > bend * min(here, there):
            return edge + step * min(1e-6 * (knots[n + 1] - knots[n]), (after - edge) * step)


@compiled(parallel=True)
def move(
    tables: Tables, heat: Array, change: Array, *, kind: Array, slope: Array, least: float, share: float, bend: float, out: Array
) -> None:
    """Heat after a share of a change of temperature, along the slope that it was reckoned with, but not past a sharp bend."""
    for a in prange(out.size):
        out[a] = _stop(tables, (kind[a], heat[a], heat[a] + share * change[a] / max(slope[a], least)), bend)


@compiled(parallel=True)
def history(now: Array, before: Array, out: Array, *, factors: tuple[float, float]) -> None:
    """Out = factors . (now, before)."""
    for a in prange(out.size):
        out[a] = factors[0] * now[a] + factors[1] * before[a]


@compiled()
def losses(tables: Tables, cells: Array, film: Array, *, kind: Array, heat: Array, temperature: Array, outside: Outside) -> None:
    """Conductance and source of boundary faces at the present state.

    cells (b,); film (b, 6): area [m2], depth of the cell below the face [m], convection [W/(m2 K)], emissivity times the
    Stefan-Boltzmann constant [W/(m2 K4)], outside temperature [K], and the face's surface temperature, kept from last time [K].
    """
    outside.conductance[:] = 0.0
    outside.source[:] = 0.0
    for f in range(cells.size):
        a = cells[f]
        k = _at(tables.conductivity, tables, (kind[a], segment(tables, kind[a], heat[a]), heat[a]))
        area, depth, convection, radiation, away = film[f, 0], film[f, 1], film[f, 2], film[f, 3], film[f, 4]
        surface = film[f, 5]
        g = 0.0
        for _ in range(4):
            h = convection + radiation * (surface * surface + away * away) * (surface + away)
            g = area / (depth / k + 1.0 / max(h, 1e-12))
            surface = temperature[a] - g * (temperature[a] - away) * depth / (k * area)
        film[f, 5] = surface
        outside.conductance[a] += g
        outside.source[a] += g * away
