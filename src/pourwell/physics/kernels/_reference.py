"""The compiled loops once more, for reading: plain numpy, no threads. One test runs over both (conventions C19).

Names and arguments are those of the loops; what a loop writes into an array these write there too. Here are the rows of the linear
system and its coarser levels; `_reference_state.py` has the state and what is noted of it, `_reference_cells.py` the cells and
which touch.

What only other compiled loops call has its job done by the twin of the caller: `first_at` by that of `inflow`; `_sum_up`,
`_go_down` and `_go_up` by `cycle`; `segment` and `_at` by all that read curves; `film_resistance` by `weigh`; `_balance` by
`residual`; `_stop` by `move`; `_spread` by `morton`; `_slot`, `_fill`, `_find` and `_look` by `neighbours`; `_root` by `join` and
`widest`.
"""

import itertools
from typing import Any

import numpy as np
from scipy.sparse import csr_array

from pourwell.physics.kernels.ladder import RELAX, SWEEPS, Ladder
from pourwell.physics.kernels.linear import Array, Groups, Rows


def matrix(rows: Rows) -> Any:
    """The weights as a sparse matrix (n, n), float64; entries at the same place are added."""
    n = rows.weight.shape[1]
    cells = np.concatenate([np.tile(np.arange(n), 6), np.repeat(np.arange(n), np.diff(rows.start))])
    others = np.concatenate([rows.neighbour.ravel(), rows.listed])
    weights = np.concatenate([rows.weight.ravel(), rows.listed_weight]).astype(np.float64)
    return csr_array((weights, (cells, others)), shape=(n, n))


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


def begin(residual: Array, *, r: Array, x: Array, inverse: Array) -> float:
    """Take a residual over into r and begin at x = 0; returns the sum of r^2 times the inverse of the diagonal."""
    r[:], x[:] = residual, 0
    return float((residual**2 * inverse).sum())


def _part(ladder: Ladder, k: int) -> tuple[slice, slice]:
    """The cells of a level, and of the next coarser."""
    low, high, far = (int(b) for b in ladder.bounds[k : k + 3])
    return slice(low, high), slice(high, far)


def _left(ladder: Ladder, weights: Any, here: slice) -> Array:
    """What x leaves of the right side of a level, r - A x."""
    x = ladder.x[here]
    left: Array = ladder.r[here] - (ladder.diagonal[here] * x - weights[here, here] @ x)
    return left


def sweep(ladder: Ladder) -> None:
    """Gauss-Seidel from zero on the coarsest level, forth and back."""
    here = slice(*(int(b) for b in ladder.bounds[-2:]))
    full = np.diag(ladder.diagonal[here].astype(np.float64)) - matrix(ladder.rows)[here, here].toarray()
    r, y = ladder.r[here], np.zeros(len(full))
    for turn in range(2 * SWEEPS):
        for a in range(y.size) if turn % 2 == 0 else reversed(range(y.size)):
            y[a] += (r[a] - full[a] @ y) / full[a, a]
    ladder.y[here] = y


def cycle(ladder: Ladder) -> float:
    """One V-cycle: on the way down a damped Jacobi step from zero, on the way up one more; the coarsest level by Gauss-Seidel."""
    weights, parent, levels = matrix(ladder.rows), ladder.groups.parent, ladder.bounds.size - 1
    fine = ladder._replace(**{name: getattr(ladder, name).astype(np.float64) for name in ("diagonal", "r", "x", "y")})
    for k in range(levels - 1):
        here, above = _part(ladder, k)
        fine.x[here] = RELAX * fine.r[here] / fine.diagonal[here]
        left = _left(fine, weights, here)
        fine.r[above] = np.bincount(parent[here] - above.start, left, minlength=above.stop - above.start)
    sweep(fine)
    for k in reversed(range(levels - 1)):
        here, _ = _part(ladder, k)
        fine.x[here] += fine.y[parent[here]]
        fine.y[here] = fine.x[here] + RELAX * _left(fine, weights, here) / fine.diagonal[here]
    ladder.r[:], ladder.x[:], ladder.y[:] = fine.r, fine.x, fine.y
    top = slice(0, int(ladder.bounds[1]))
    return float(fine.r[top] @ fine.y[top])


def follow(ladder: Ladder) -> None:
    """Take the capacities of the finest level to the coarser ones, and the diagonals with them."""
    for k in range(ladder.bounds.size - 2):
        here, above = _part(ladder, k)
        children = ladder.groups.parent[here] - above.start
        ladder.capacity[above] = np.bincount(children, ladder.capacity[here], minlength=above.stop - above.start)
    ladder.diagonal[:] = ladder.capacity + ladder.sums
    ladder.inverse[:] = 1 / ladder.diagonal


def children_of(parent: Array, count: int) -> tuple[Array, Array]:
    """Children of each parent, in the order of the cells, and where those of each begin."""
    start = np.concatenate([[0], np.cumsum(np.bincount(parent, minlength=count))])
    return start.astype(np.int32), np.argsort(parent, kind="stable").astype(np.int32)


def gather(rows: Rows, groups: Groups, factor: float) -> Array:
    """Weights between coarse cells as a full matrix, float64, without what stays inside a group."""
    n, m = groups.parent.size, groups.start.size - 1
    belongs = np.zeros((n, m))
    belongs[np.arange(n), groups.parent] = 1
    coarse: Array = factor * (belongs.T @ (matrix(rows) @ belongs))
    np.fill_diagonal(coarse, 0)
    return coarse


def split(start: Array, other: Array, weight: Array) -> tuple[Array, Array, Array, Array, Array]:
    """Of the entries of each row the first six, filled up with the cell itself and no weight, and the list of what is over."""
    count = start.size - 1
    rows = [list(zip(other[a:b], weight[a:b], strict=True)) for a, b in itertools.pairwise(start)]
    six = [(row + 6 * [(a, 0.0)])[:6] for a, row in enumerate(rows)]
    over = [entry for row in rows for entry in row[6:]]
    begin = np.cumsum([0, *(len(row[6:]) for row in rows)], dtype=np.int32)
    first, rest = np.array(six).reshape(count, 6, 2), np.array(over).reshape(-1, 2)
    return (
        first[:, :, 0].T.astype(np.int32),
        first[:, :, 1].T.astype(np.float32),
        begin,
        rest[:, 0].astype(np.int32),
        rest[:, 1].astype(np.float32),
    )
