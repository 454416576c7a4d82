"""What the tests of the compiled loops share: random nets, levels and states, and a loop and its twin side by side."""

from threading import Barrier, Thread

import numba
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pourwell.physics.hierarchy import Hierarchy
from pourwell.physics.kernels import (
    WORTH_SHARING,
    _reference,
    _reference_cells,
    _reference_state,
    feeding,
    groups,
    ladder,
    linear,
    record,
    state,
    tree,
)
from pourwell.physics.kernels.linear import Groups, Rows
from pourwell.physics.properties import Melt, inert, pure, ranged

LOOPS = (feeding, groups, ladder, linear, record, state, tree)
TWINS = (_reference, _reference_cells, _reference_state)
FEW = settings(max_examples=12)
SHARED = WORTH_SHARING + 7
"""Cells for which a loop is shared among threads, in stretches of which the last is short."""
MELT = Melt(
    density=9700, solid_heat_capacity=300, liquid_heat_capacity=280, latent=105e3, solid_conductivity=300, liquid_conductivity=170
)
KINDS = (
    inert(density=1150, heat_capacity=1050, conductivity=0.5),
    pure(MELT, at=1166.0),
    ranged(MELT, solidus=1075.0, liquidus=1166.0),
)


def sizes(*certain, least=2, most=30):
    """Run a test of a size and a random generator on a dozen sizes between two, and on some that are certain to come."""

    def wrap(test):
        def run(n, seed):
            test(n, np.random.default_rng(seed))

        run.__name__, run.__qualname__, run.__module__, run.__doc__ = (
            test.__name__,
            test.__qualname__,
            test.__module__,
            test.__doc__,
        )
        drawn = given(n=st.integers(least, most), seed=st.integers(0, 2**32 - 1))(run)
        for n in certain:
            drawn = example(n=n, seed=n)(drawn)
        return FEW(drawn)

    return wrap


def fresh(value):
    """A copy of all arrays in a value, within tuples too."""
    if isinstance(value, np.ndarray):
        return value.copy()
    if isinstance(value, tuple):
        return type(value)(*map(fresh, value)) if hasattr(value, "_fields") else tuple(map(fresh, value))
    return value


def parts(value):
    """The numbers and arrays in a value, one after another."""
    if isinstance(value, tuple | list):
        for each in value:
            yield from parts(each)
    elif value is not None:
        yield value


def alike(one, two, rel):
    """Equal, for whole numbers; for others to a relative error, of each or a tenth of that of the largest."""
    one, two = np.asarray(one), np.asarray(two)
    assert one.dtype.kind == two.dtype.kind
    assert one.shape == two.shape
    if one.dtype.kind in "iub":
        assert np.array_equal(one, two)
    else:
        largest = float(np.abs(two[np.isfinite(two)]).max(initial=0.0))
        np.testing.assert_allclose(one, two, rtol=rel, atol=0.1 * rel * largest)


def both(name, *given_values, **named):
    """What a loop, and then its twin, returned and left in its arguments, on copies of the same values."""
    for rooms in (LOOPS, TWINS):
        work = next(getattr(room, name) for room in rooms if hasattr(room, name))
        args, kept = fresh(given_values), {key: fresh(value) for key, value in named.items()}
        returned = work(*args, **kept)
        yield returned, (*args, *kept.values())


def same(name, *given_values, rel=1e-4, **named):
    """A loop and its twin return and write the same; gives what the loop returned."""
    one, two = both(name, *given_values, **named)
    pairs = list(zip(parts(one), parts(two), strict=True))
    assert pairs
    for a, b in pairs:
        alike(a, b, rel)
    return one[0]


def singles(rng, n):
    return rng.uniform(0.5, 2.0, n).astype(np.float32)


def blank(n, dtype=np.float64):
    """Room for what a loop writes: what it leaves out stays as it is."""
    return np.full(n, -7.5, dtype=dtype)


def network(rng, n):
    """Rows of a connected net of n cells in which the first meets all the others: it has more than six neighbours."""
    pairs = {(0, b) for b in range(1, n)} | {(a, a + 1) for a in range(n - 1)} | {(a, (a * 7 + 3) % n) for a in range(n)}
    pairs = sorted({(min(p), max(p)) for p in pairs if p[0] != p[1]})
    first, second = (np.array([p[i] for p in pairs], dtype=np.int32) for i in (0, 1))
    neighbour, start, listed, place = tree.pack(first, second, n)
    weights = np.zeros(6 * n + listed.size, dtype=np.float32)
    weights[place] = rng.uniform(0.1, 2.0, len(pairs)).astype(np.float32)[:, None]
    more = np.flatnonzero(np.diff(start)).astype(np.int32)
    return Rows(neighbour, weights[: 6 * n].reshape(6, n), more, start, listed, weights[6 * n :]), (first, second, place, weights)


def fathers(rng, n):
    """Groups of n cells, of about three each."""
    _, parent = np.unique(rng.integers(0, max(1, n // 3), n), return_inverse=True)
    parent = parent.astype(np.int32)
    return Groups(parent, *groups.children_of(parent, int(parent.max(initial=-1)) + 1))


def levels_of(rng, n, capacity=1.0):
    """Levels over a net of n cells, as the solver makes them, with capacities and a right side."""
    rows, _ = network(rng, n)
    place = np.stack([np.arange(n), np.zeros(n), np.zeros(n)], axis=1).astype(np.int32)
    made = Hierarchy(rows, np.zeros(n, np.int8), index=place, kind=rng.integers(0, 2, n).astype(np.int8))
    made.renew(np.float32(capacity) * singles(rng, n))
    top = int(made._ladder.bounds[1])
    made._ladder.r[:top] = rng.normal(size=top)
    return made


def heats(rng, kind):
    """Heat of cells of some kinds, from below the beginning of their curves to beyond the end."""
    low = np.array([s.heat[0] for s in KINDS])[kind]
    high = np.array([s.heat[-1] for s in KINDS])[kind]
    return low + rng.uniform(-0.2, 1.2, kind.size) * (high - low)


def crowd():
    """Four threads in shared loops at once, one of them in those of the coarser levels; says by what layer they were shared."""
    rng, faults, gate = np.random.default_rng(1), [], Barrier(4)
    levels, right = levels_of(rng, 40_000), rng.normal(size=40_000).astype(np.float32)
    wanted = levels.correct(right)

    def add(number):
        values = np.full(16 * WORTH_SHARING, float(number))
        out = np.empty_like(values)
        gate.wait()
        for _ in range(100):
            out[:] = 0
            state.history(values, values, out, factors=(2.0, -1.0))
            if not np.array_equal(out, values):
                faults.append(number)

    def correct():
        gate.wait()
        faults.extend("levels" for _ in range(50) if levels.correct(right) != pytest.approx(wanted, rel=1e-3))

    threads = [Thread(target=correct), *(Thread(target=add, args=(k,)) for k in range(3))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    print(numba.threading_layer(), *faults)
