"""Readable twins of the loops over the state, and of those that note what befalls the metal (see `_reference.py`)."""

from typing import Any

import numpy as np

from pourwell.physics.kernels._reference import matrix
from pourwell.physics.kernels.linear import Array, Rows
from pourwell.physics.kernels.record import Marks
from pourwell.physics.kernels.state import Faces, Outside, Step, Tables


def moved(volume: Array, heat: Array, other: Array) -> float:
    """Heat by which two states differ, cell by cell."""
    return float((volume * np.abs(heat - other)).sum())


def worst(values: Array, volume: Array, kind: Array) -> float:
    """Most of |values| / volume in a cell of metal."""
    return float((np.abs(values) / volume)[kind == 1].max(initial=0.0))


def gained(volume: Array, heat: Array, start: Array, *, kind: Array) -> tuple[float, float]:
    """Heat that all cells have gained since the start, and that of the metal."""
    q = volume * (heat - start)
    return float(q.sum()), float(q[kind == 1].sum())


def leaving(outside: Outside, temperature: Array) -> tuple[float, float]:
    """Heat that leaves to the outside, and the sum of its size cell by cell."""
    q = outside.conductance * temperature - outside.source
    return float(q.sum()), float(np.abs(q).sum())


def temperatures(tables: Tables, kind: Array, heat: Array, *, out: Array, slope: Array) -> None:
    """Temperature and slope at each cell's heat."""
    for a, (k, h) in enumerate(zip(kind, heat, strict=True)):
        x, y = tables.heat[k, : tables.knots[k]], tables.temperature[k, : tables.knots[k]]
        n = int(np.clip(np.searchsorted(x, h, side="right") - 1, 0, x.size - 2))
        slope[a] = (y[n + 1] - y[n]) / (x[n + 1] - x[n])
        out[a] = y[n] + slope[a] * (h - x[n])


def _level(curve: Array, tables: Tables, kind: int, *, heat: float) -> float:
    """Value of a curve, level beyond its ends."""
    n = tables.knots[kind]
    return float(np.interp(heat, tables.heat[kind, :n], curve[kind, :n]))


def solid_fractions(tables: Tables, cells: Array, heat: Array, *, kind: Array, out: Array) -> None:
    """Solid fraction of some cells."""
    out[:] = [_level(tables.solid, tables, kind[a], heat=heat[a]) for a in cells]


def weigh(tables: Tables, faces: Faces, heat: Array, *, kind: Array, films: Array, weights: Array) -> None:
    """Conductance of the faces that follow the state."""
    for f, (a, b) in enumerate(zip(faces.first, faces.second, strict=True)):
        ka, kb = (_level(tables.conductivity, tables, kind[c], heat=heat[c]) for c in (a, b))
        resistance = faces.near[f] / ka + faces.far[f] / kb
        if faces.law[f] >= 0:
            cast = a if kind[a] == 1 else b
            fraction = _level(tables.solid, tables, kind[cast], heat=heat[cast])
            resistance += 1 / np.interp(fraction, *films[faces.law[f]])
        weights[faces.place[f]] = faces.area[f] / resistance


def residual(rows: Rows, step: Step, outside: Outside, *, heat: Array, temperature: Array, out: Array) -> float:
    """Balance of each cell; returns the sum of its size."""
    full = matrix(rows)
    inflow = full @ temperature - full.sum(axis=1) * temperature
    out[:] = inflow + outside.source - outside.conductance * temperature - step.volume * (step.lead * heat + step.past)
    return float(np.abs(out).sum())


def move(tables: Tables, heat: Array, change: Array, **how: Any) -> None:
    """Heat after a share of a change of temperature, but not past a sharp bend: by following the knots one after another."""
    kind, slope, out = how["kind"], how["slope"], how["out"]
    for a in range(out.size):
        k, here = kind[a], heat[a]
        goal = here + how["share"] * change[a] / max(slope[a], how["least"])
        x = tables.heat[k, : tables.knots[k]]
        steep = np.diff(tables.temperature[k, : x.size]) / np.diff(x)
        n = int(np.clip(np.searchsorted(x, here, side="right") - 1, 0, x.size - 2))
        up = goal > here
        while (0 if not up else -1) < (n if not up else x.size - 2 - n) and (goal > x[n + 1] if up else goal < x[n]):
            after = n + 1 if up else n - 1
            if not 0 <= after <= x.size - 2:
                break
            edge, sharp = x[n + 1] if up else x[n], max(steep[n], steep[after]) > how["bend"] * min(steep[n], steep[after])
            n = after
            if sharp:
                reach = min(1e-6 * (x[n + 1] - x[n]), abs(goal - edge))
                goal = edge + reach if up else edge - reach
                break
        out[a] = goal


def losses(tables: Tables, cells: Array, film: Array, *, kind: Array, heat: Array, temperature: Array, outside: Outside) -> None:
    """Conductance and source of boundary faces."""
    outside.conductance[:], outside.source[:] = 0, 0
    for a, row in zip(cells, film, strict=True):
        area, depth, convection, radiation, away, surface = row
        k = _level(tables.conductivity, tables, kind[a], heat=heat[a])
        for _ in range(4):
            h = convection + radiation * (surface**2 + away**2) * (surface + away)
            g = area / (depth / k + 1 / max(h, 1e-12))
            surface = temperature[a] - g * (temperature[a] - away) * depth / (k * area)
        row[5] = surface
        outside.conductance[a] += g
        outside.source[a] += g * away


def capacities(step: Step, slope: Array, out: Array, *, least: float) -> None:
    """Heat taken per kelvin and second; the slope is kept above `least`."""
    out[:] = step.lead * step.volume / np.maximum(slope, least)


def history(now: Array, before: Array, out: Array, *, factors: tuple[float, float]) -> None:
    """Out = factors . (now, before)."""
    out[:] = factors[0] * now + factors[1] * before


def solid_at(heats: tuple[float, float, float], fall: float, span: tuple[float, float]) -> float:
    """When a cell's heat passes that of the solid: at the faster of its paces in this step and in the one before."""
    then, now, solid = heats
    pace = max((then - now) / span[1], fall)
    if pace <= 0:
        return span[0] if then <= solid else span[0] + span[1]
    return span[0] + float(np.clip((then - solid) / pace, 0, span[1]))


def slope_at(cell: int, rows: Rows, state: tuple[Array, Array, Array]) -> float:
    """Size of the gradient by least squares: along the way to each neighbour of its kind the temperature rises as it does.

    Three weak rows that want no gradient at all keep it solvable when all ways lie in a plane.
    """
    temperature, centre, kind = state
    others = [b for b in rows.neighbour[:, cell] if kind[b] == kind[cell] and not np.array_equal(centre[b], centre[cell])]
    ways = centre[others] - centre[cell]
    length = np.linalg.norm(ways, axis=1)
    rise = (temperature[others] - temperature[cell]) / length
    gradient = np.linalg.lstsq(np.vstack([ways / length[:, None], 1e-9**0.5 * np.eye(3)]), np.concatenate([rise, np.zeros(3)]))[0]
    return float(np.linalg.norm(gradient))


def slopes(marks: Marks, places: Array, cells: Array, *, rows: Rows, temperature: Array, centre: Array, kind: Array) -> None:
    """Set the gradient at some places of the marks."""
    marks.gradient[places] = [slope_at(cell, rows, (temperature, centre, kind)) for cell in cells]


def mark(marks: Marks, cells: Array, heat: Array, *, before: Array, span: tuple[float, float], ends: tuple[float, float]) -> int:
    """Set begin and end of freezing in a step; returns how many cells are not yet solid."""
    liquid, solid = ends
    for q, (now, then) in enumerate(zip(heat[cells], before[cells], strict=True)):
        if now < liquid and (then >= liquid or np.isnan(marks.begin[q])):
            straight = np.interp(-liquid, [-then, -now], [0, span[1]]) if now < then else 0.0
            marks.begin[q] = span[0] + straight
        if now <= solid and np.isnan(marks.end[q]):
            marks.end[q] = solid_at((then, now, solid), marks.fall[q], span)
        marks.fall[q] = (then - now) / span[1]
    return int((heat[cells] > solid).sum())
