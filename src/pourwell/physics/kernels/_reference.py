"""The compiled loops once more, for reading: plain numpy, no threads. One test runs over both (conventions C19).

Names and arguments are those of the loops; what a loop writes into an array these write there too.
"""

import itertools
from typing import Any

import numpy as np

from pourwell.physics.kernels.linear import Groups, Rows
from pourwell.physics.kernels.state import Faces, Outside, Step, Tables
from pourwell.physics.kernels.tree import FINER, NOTHING, Array


def matrix(rows: Rows) -> Array:
    """The weights as a full matrix (n, n), float64."""
    n = rows.weight.shape[0]
    full = np.zeros((n, n))
    for a in range(n):
        for b, w in zip(rows.neighbour[a], rows.weight[a], strict=True):
            full[a, b] += w
        part = slice(rows.start[a], rows.start[a + 1])
        for b, w in zip(rows.listed[part], rows.listed_weight[part], strict=True):
            full[a, b] += w
    return full


def row_sums(rows: Rows, out: Array) -> None:
    """Sum of the weights of each row."""
    out[:] = matrix(rows).sum(axis=1)


def product(rows: Rows, x: Array, out: Array, *, diagonal: Array) -> float:
    """Out = A x; returns x . A x."""
    out[:] = diagonal * x - matrix(rows) @ x
    return float(x @ out)


def smooth(rows: Rows, x: Array, r: Array, *, diagonal: Array, relax: float, out: Array) -> None:
    """One damped Jacobi sweep for A x = r from x into out."""
    out[:] = x + relax * (r - diagonal * x + matrix(rows) @ x) / diagonal


def restrict(groups: Groups, r: Array, out: Array) -> None:
    """Sums over the children of each coarse cell."""
    out[:] = np.bincount(groups.parent, r, minlength=out.size)


def restrict_residual(rows: Rows, groups: Groups, r: Array, *, x: Array, diagonal: Array, out: Array) -> None:
    """Sums over the children of r - A x."""
    restrict(groups, r - diagonal * x + matrix(rows) @ x, out)


def prolong(groups: Groups, coarse: Array, x: Array) -> None:
    """X += the coarse correction of each cell's parent."""
    x += coarse[groups.parent]


def correct(groups: Groups, r: Array, coarse: Array, *, diagonal: Array, relax: float, out: Array) -> float:
    """Out = relax r / diagonal + the coarse correction; returns r . out."""
    out[:] = relax * r / diagonal + coarse[groups.parent]
    return float(r @ out)


def scale_by_diagonal(r: Array, diagonal: Array, out: Array, *, relax: float) -> None:
    """Out = relax r / diagonal."""
    out[:] = relax * r / diagonal


def add_scaled(target: Array, x: Array, factor: float) -> None:
    """Target becomes x + factor * target."""
    target[:] = x + factor * target


def advance(x: Array, r: Array, factor: float, *, p: Array, q: Array, diagonal: Array) -> float:
    """X += factor p, r -= factor q; returns the sum of r^2 / diagonal."""
    x += factor * p
    r -= factor * q
    return float((r**2 / diagonal).sum())


def sweep(rows: Rows, r: Array, x: Array, *, diagonal: Array, sweeps: int) -> None:
    """Symmetric Gauss-Seidel from zero."""
    full = matrix(rows)
    x[:] = 0
    for turn in range(2 * sweeps):
        for a in range(x.size) if turn % 2 == 0 else reversed(range(x.size)):
            x[a] = (r[a] + full[a] @ x) / diagonal[a]


def gather(rows: Rows, groups: Groups, factor: float) -> Array:
    """Weights between coarse cells as a full matrix, float64, without what stays inside a group."""
    m = groups.start.size - 1
    belongs = np.zeros((groups.parent.size, m))
    belongs[np.arange(groups.parent.size), groups.parent] = 1
    coarse: Array = factor * belongs.T @ matrix(rows) @ belongs
    np.fill_diagonal(coarse, 0)
    return coarse


def moved(volume: Array, heat: Array, other: Array) -> float:
    """Heat by which two states differ, cell by cell."""
    return float((volume * np.abs(heat - other)).sum())


def leaving(outside: Outside, temperature: Array) -> tuple[float, float]:
    """Heat that leaves to the outside, and the sum of its size cell by cell."""
    q = outside.conductance * temperature - outside.source
    return float(q.sum()), float(np.abs(q).sum())


def begin(residual: Array, *, r: Array, x: Array, diagonal: Array) -> float:
    """Take a residual over into r and begin at x = 0; returns the sum of r^2 / diagonal."""
    r[:], x[:] = residual, 0
    return float((residual**2 / diagonal).sum())


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


def morton(index: Array, level: Array, out: Array) -> None:
    """Bits of x, y and z of each cell's first corner, one after another."""
    for cell, (corner, up) in enumerate(zip(index, level, strict=True)):
        code = 0
        for bit, axis in itertools.product(range(21), range(3)):
            code |= ((int(corner[axis]) << int(up)) >> bit & 1) << (3 * bit + 2 - axis)
        out[cell] = code


def neighbours(codes: Array, index: Array, level: Array) -> Array:
    """Cell across each side, by a dictionary of all cells; `codes` is not needed."""
    known = {(int(up), *map(int, place)): cell for cell, (place, up) in enumerate(zip(index, level, strict=True))}
    out = np.full((codes.size, 6), NOTHING, dtype=np.int32)
    for (up, *place), cell in known.items():
        for side in range(6):
            beside = list(place)
            beside[side // 2] += 2 * (side % 2) - 1
            same, coarse = (up, *beside), (up + 1, *(p >> 1 for p in beside))
            within = (up - 1, *(2 * p for p in beside))
            if min(beside) >= 0:
                out[cell, side] = known.get(same, known.get(coarse, FINER if within in known else NOTHING))
    return out


def cut_fraction(distance: Array, slope: Array, out: Array) -> None:
    """Share of a unit cube below a plane, by counting 40 x 40 x 40 points in it: right to a hundredth."""
    grid = (np.arange(40) + 0.5) / 40 - 0.5
    points = np.stack(np.meshgrid(grid, grid, grid), axis=-1).reshape(-1, 3)
    out[:] = ((points @ slope.T + distance) < 0).mean(axis=0)
