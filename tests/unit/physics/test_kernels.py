"""Every compiled loop of the freezing solver does what its readable twin does, whatever the sizes and numbers: rows and levels.

The same for the state in `test_kernels_state.py` and for the cells in `test_kernels_cells.py`.
"""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from pourwell.physics.kernels import _reference, compiled, groups, ladder, linear
from pourwell.physics.kernels.linear import Rows
from tests.unit.physics.kernel_samples import SHARED, blank, fathers, levels_of, network, same, singles, sizes


@sizes(0, 1, SHARED)
def test_products_and_sums_of_rows_are_those_of_the_full_matrix(n, rng):
    rows, _ = network(rng, n)
    x, diagonal = singles(rng, n), 20 * singles(rng, n)
    same("row_sums", rows, blank(n, np.float32))
    same("product", rows, x, blank(n, np.float32), diagonal=diagonal)
    low, high = sorted(rng.integers(0, n + 1, 2).tolist())
    same("inflow", rows, (x, blank(n, np.float32)), (low, high))


@sizes(0, 1, SHARED)
def test_transfers_between_levels_are_sums_and_copies(n, rng):
    grouped = fathers(rng, n)
    m = grouped.start.size - 1
    r, diagonal, coarse = singles(rng, n), 20 * singles(rng, n), singles(rng, m)
    same("restrict", grouped, r, blank(m, np.float32))
    factors = (np.float32(0.9), np.float32(0.3))
    same("direct", grouped, r, coarse, inverse=1 / diagonal, factors=factors, p=singles(rng, n))


@sizes(0, 1, SHARED)
def test_steps_of_the_conjugate_gradients_are_those_of_the_formula(n, rng):
    x, r, p, q, inverse = (singles(rng, n) for _ in range(5))
    same("advance", x, r, np.float32(0.3), p=p, q=q, inverse=inverse)
    same("begin", rng.normal(size=n), r=r, x=x, inverse=inverse)
    same("renew", r, q, diagonal=blank(n, np.float32), inverse=blank(n, np.float32))


@sizes(1)
def test_the_coarsest_level_is_swept_forth_and_back(n, rng):
    """With little capacity the sweeps are far from their end: a wrong turn would be seen."""
    one = levels_of(rng, n, capacity=0.01)._ladder
    assert one.bounds.size == 2, "there is but one level"
    same("sweep", one, rel=1e-3)
    same("cycle", one, rel=1e-3)
    same("follow", one, rel=1e-5)


@sizes(40_000, least=200, most=400)
def test_a_round_over_the_coarser_levels_is_that_of_the_full_matrices(n, rng):
    levels = levels_of(rng, n)._ladder
    assert levels.bounds.size > 2, "there is a level to go down to"
    assert n < SHARED or levels.bounds[1] > SHARED, "the first is shared, if the cells are many"
    same("cycle", levels, rel=1e-3)
    levels.capacity[levels.bounds[1] :] = 0
    same("follow", levels, rel=1e-5)


@sizes(least=200, most=300)
def test_the_round_is_symmetric_and_positive_so_that_conjugate_gradients_may_use_it(n, rng):
    levels = levels_of(rng, n)._ladder
    m = int(levels.bounds[1])
    answers = []
    for _ in range(2):
        right = rng.normal(size=m).astype(np.float32)
        levels.r[:m] = right
        assert ladder.cycle(levels) > 0
        answers.append((right.astype(float), levels.y[:m].astype(float)))
    (a, ma), (b, mb) = answers
    assert a @ mb == pytest.approx(b @ ma, rel=1e-3, abs=1e-3 * np.linalg.norm(a) * np.linalg.norm(mb))


@sizes(1)
def test_coarse_weights_are_the_sums_between_groups(n, rng):
    rows, _ = network(rng, n)
    grouped = fathers(rng, n)
    neighbour, weight, begin, listed, listed_weight = groups.split(*groups.gather(rows, grouped, np.float32(0.6)))
    more = np.flatnonzero(np.diff(begin)).astype(np.int32)
    made = _reference.matrix(Rows(neighbour, weight, more, begin, listed, listed_weight)).toarray()
    assert made == pytest.approx(_reference.gather(rows, grouped, 0.6), rel=1e-4, abs=1e-6)


@sizes(0, 1)
def test_children_stand_in_the_order_of_cells_and_a_parent_may_have_none(n, rng):
    same("children_of", rng.integers(0, n + 2, n).astype(np.int32), n + 3)


@sizes(0, 1)
def test_of_the_entries_of_a_row_six_stand_in_it_and_the_rest_in_the_list(n, rng):
    many = rng.integers(0, 10, n)
    start = np.concatenate([[0], np.cumsum(many)]).astype(np.int32)
    same("split", start, rng.integers(0, max(n, 1), many.sum()).astype(np.int32), singles(rng, many.sum()))


def test_a_loop_gives_the_same_alone_and_shared_among_threads():
    """Above the size from which a loop is shared, the other machine code runs."""
    a = np.arange(1, SHARED + 1, dtype=np.float32)
    diagonal, inverse = np.empty((2, SHARED), dtype=np.float32)
    for size in (SHARED, 9):
        linear.renew(a[:size], a[:size], diagonal=diagonal[:size], inverse=inverse[:size])
        assert np.array_equal(diagonal[:size], 2 * a[:size])
        assert inverse[:size] == pytest.approx(0.5 / a[:size], rel=1e-6)
        diagonal[:], inverse[:] = 0, 0


def test_a_loop_is_compiled_even_where_no_folder_can_be_written(monkeypatch):
    """The compiler says RuntimeError when it finds no place for its cache; then there is none."""
    import numba

    real, asked = numba.njit, []

    def no_folder(*args, **kwargs):
        asked.append(kwargs)
        if kwargs.get("cache"):
            raise RuntimeError("no locator available")
        return real(*args, **kwargs)

    monkeypatch.setattr(numba, "njit", no_folder)

    @compiled()
    def double(x):
        return 2 * x

    assert double(21) == 42
    assert len(asked) == 2


def test_several_threads_may_march_at_once():
    """Of the layers under numba one ends the program where two callers meet in it: by that one shared loops must take turns."""
    run = subprocess.run(
        [sys.executable, "-c", "from tests.unit.physics.kernel_samples import crowd; crowd()"],
        cwd=Path(__file__).resolve().parents[3],
        env={**os.environ, "NUMBA_THREADING_LAYER": "workqueue", "NUMBA_NUM_THREADS": "2"},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    assert run.stdout.split() == ["workqueue"]
