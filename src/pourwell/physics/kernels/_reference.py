"""The compiled loops once more, for reading: plain numpy, no threads. One test runs over both (conventions C19).

Names and arguments are those of the loops; what a loop writes into an array these write there too.
"""

import itertools
from typing import Any

import numpy as np

from pourwell.physics.kernels.ladder import RELAX, SWEEPS, Ladder
from pourwell.physics.kernels.linear import Groups, Rows
from pourwell.physics.kernels.state import Faces, Outside, Step, Tables
from pourwell.physics.kernels.tree import FINER, NOTHING, Array


def matrix(rows: Rows) -> Array:
    """The weights as a full matrix (n, n), float64."""
    n = rows.weight.shape[1]
    full = np.zeros((n, n))
    for a in range(n):
        for b, w in zip(rows.neighbour[:, a], rows.weight[:, a], strict=True):
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


def inflow(rows: Rows, vectors: tuple[Array, Array], ends: tuple[int, int]) -> None:
    """Out[low:high] = the weights times x."""
    x, out = vectors
    out[slice(*ends)] = (matrix(rows) @ x)[slice(*ends)]


def restrict(groups: Groups, r: Array, out: Array) -> None:
    """Sums over the children of each coarse cell."""
    out[:] = np.bincount(groups.parent, r, minlength=out.size)


def direct(groups: Groups, r: Array, coarse: Array, *, inverse: Array, factors: tuple[float, float], p: Array) -> None:
    """P = factor r / diagonal + the coarse correction of each cell's parent + other factor * p."""
    p[:] = factors[0] * r * inverse + coarse[groups.parent] + factors[1] * p


def advance(x: Array, r: Array, factor: float, *, p: Array, q: Array, inverse: Array) -> float:
    """X += factor p, r -= factor q; returns the sum of r^2 times the inverse of the diagonal."""
    x += factor * p
    r -= factor * q
    return float((r**2 * inverse).sum())


def renew(capacity: Array, sums: Array, *, diagonal: Array, inverse: Array) -> None:
    """Diagonal = capacity + sums, and its inverse."""
    diagonal[:] = capacity + sums
    inverse[:] = 1 / diagonal


def _part(ladder: Ladder, k: int) -> tuple[slice, slice]:
    """The cells of a level, and of the next coarser."""
    low, high, far = (int(b) for b in ladder.bounds[k : k + 3])
    return slice(low, high), slice(high, far)


def cycle(ladder: Ladder) -> float:
    """One V-cycle: on the way down a damped Jacobi step from zero, on the way up one more; the coarsest level by Gauss-Seidel."""
    levels = ladder.bounds.size - 1
    full = np.diag(ladder.diagonal.astype(np.float64)) - matrix(ladder.rows)
    r, x, y = (a.astype(np.float64) for a in (ladder.r, ladder.x, ladder.y))
    for k in range(levels - 1):
        here, above = _part(ladder, k)
        x[here] = RELAX * r[here] / ladder.diagonal[here]
        left = r[here] - full[here, here] @ x[here]
        r[above] = np.bincount(ladder.groups.parent[here] - above.start, left, minlength=above.stop - above.start)
    low, high = int(ladder.bounds[-2]), int(ladder.bounds[-1])
    y[low:high] = 0
    for turn in range(2 * SWEEPS):
        for a in range(low, high) if turn % 2 == 0 else reversed(range(low, high)):
            y[a] += (r[a] - full[a, low:high] @ y[low:high]) / full[a, a]
    for k in range(levels - 2, -1, -1):
        here, _ = _part(ladder, k)
        x[here] += y[ladder.groups.parent[here]]
        y[here] = x[here] + RELAX * (r[here] - full[here, here] @ x[here]) / ladder.diagonal[here]
    ladder.r[:], ladder.x[:], ladder.y[:] = r, x, y
    top = slice(0, int(ladder.bounds[1]))
    return float(r[top] @ y[top])


def follow(ladder: Ladder) -> None:
    """Take the capacities of the finest level to the coarser ones, and the diagonals with them."""
    for k in range(ladder.bounds.size - 2):
        here, above = _part(ladder, k)
        children = ladder.groups.parent[here] - above.start
        ladder.capacity[above] = np.bincount(children, ladder.capacity[here], minlength=above.stop - above.start)
    ladder.diagonal[:] = ladder.capacity + ladder.sums
    ladder.inverse[:] = 1 / ladder.diagonal


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


def begin(residual: Array, *, r: Array, x: Array, inverse: Array) -> float:
    """Take a residual over into r and begin at x = 0; returns the sum of r^2 times the inverse of the diagonal."""
    r[:], x[:] = residual, 0
    return float((residual**2 * inverse).sum())


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


def mark_levels(
    passed: Array, cells: Array, heat: Array, *, before: Array, fall: Array, span: tuple[float, float], heats: Array
) -> None:
    """Set when cells fall below heats in a step; the last time holds. The last heat falls as fast as in the step before."""
    now, then = heat[cells][:, None], before[cells][:, None]
    crossed = (now < heats) & (heats <= then)
    drop = np.repeat(np.where(then > now, then - now, 1.0), heats.size, axis=1)
    drop[:, -1] = np.maximum(drop[:, -1], fall * span[1])
    share = (then - heats) / drop
    passed[crossed] = (span[0] + span[1] * share)[crossed]
