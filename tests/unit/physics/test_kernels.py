"""Every compiled loop of the freezing solver does what its readable twin does, whatever the sizes and numbers."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.physics.boundary import film_rows
from pourwell.physics.hierarchy import Hierarchy
from pourwell.physics.kernels import WORTH_SHARING, _reference, compiled, feeding, groups, ladder, linear, record, state, tree
from pourwell.physics.kernels.linear import Groups, Rows
from pourwell.physics.kernels.state import Faces, Outside, Step
from pourwell.physics.properties import Melt, inert, pure, ranged, tables

FEW = settings(max_examples=12)
MELT = Melt(
    density=9700, solid_heat_capacity=300, liquid_heat_capacity=280, latent=105e3, solid_conductivity=300, liquid_conductivity=170
)
KINDS = (
    inert(density=1150, heat_capacity=1050, conductivity=0.5),
    pure(MELT, at=1166.0),
    ranged(MELT, solidus=1075.0, liquidus=1166.0),
)


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


def singles(rng, n):
    return rng.uniform(0.5, 2.0, n).astype(np.float32)


def fathers(rng, n):
    parent = np.sort(rng.integers(0, max(1, n // 3), n)).astype(np.int32)
    _, parent = np.unique(parent, return_inverse=True)
    parent = parent.astype(np.int32)
    return Groups(parent, *groups.children_of(parent, int(parent.max()) + 1))


def both(name, *given_arrays, module=linear, **named):
    """Results of a loop and of its twin on copies of the same arrays: what each returned, and what each wrote."""
    results = []
    for where in (module, _reference):
        args = [np.copy(a) if isinstance(a, np.ndarray) else a for a in given_arrays]
        kept = {key: np.copy(a) if isinstance(a, np.ndarray) else a for key, a in named.items()}
        returned = getattr(where, name)(*args, **kept)
        written = [a for a in (*args, *kept.values()) if isinstance(a, np.ndarray)]
        results.append((returned, written))
    return results


def same(results, rel=1e-4):
    (one, written), (two, expected) = results
    if two is not None:
        assert one == pytest.approx(two, rel=rel, abs=1e-5)
    for a, b in zip(written, expected, strict=True):
        assert a == pytest.approx(b, rel=rel, abs=1e-5)


SEEDS = st.tuples(st.integers(2, 30), st.integers(0, 2**32 - 1))


@FEW
@given(SEEDS)
def test_products_and_sums_of_rows_are_those_of_the_full_matrix(seed):
    n, rng = seed[0], np.random.default_rng(seed[1])
    rows, _ = network(rng, n)
    x, diagonal = singles(rng, n), 20 * singles(rng, n)
    same(both("row_sums", rows, np.empty(n, np.float32)))
    same(both("product", rows, x, np.empty(n, np.float32), diagonal=diagonal))
    low, high = sorted(rng.integers(0, n + 1, 2).tolist())
    made = [np.zeros(n, np.float32), np.zeros(n, np.float32)]
    linear.inflow(rows, (x, made[0]), (low, high))
    _reference.inflow(rows, (x, made[1]), (low, high))
    assert made[0] == pytest.approx(made[1], rel=1e-4)
    assert not made[0][:low].any()
    assert not made[0][high:].any()


@FEW
@given(SEEDS)
def test_transfers_between_levels_are_sums_and_copies(seed):
    n, rng = seed[0], np.random.default_rng(seed[1])
    grouped = fathers(rng, n)
    m = grouped.start.size - 1
    r, diagonal, coarse = singles(rng, n), 20 * singles(rng, n), singles(rng, m)
    out = np.empty(m, np.float32)
    same(both("restrict", grouped, r, out))
    factors = (np.float32(0.9), np.float32(0.3))
    same(both("direct", grouped, r, coarse, inverse=1 / diagonal, factors=factors, p=singles(rng, n)))


@FEW
@given(SEEDS)
def test_steps_of_the_conjugate_gradients_are_those_of_the_formula(seed):
    n, rng = seed[0], np.random.default_rng(seed[1])
    x, r, p, q, inverse = (singles(rng, n) for _ in range(5))
    same(both("advance", x, r, np.float32(0.3), p=p, q=q, inverse=inverse))
    same(both("begin", r.astype(float), r=r, x=x, inverse=inverse))
    same(both("renew", r, q, diagonal=np.empty(n, np.float32), inverse=np.empty(n, np.float32)))


def ladder_of(rng, n):
    """Levels over a net of n cells, as the solver makes them, with capacities and a right side."""
    rows, _ = network(rng, n)
    place = np.stack([np.arange(n), np.zeros(n), np.zeros(n)], axis=1).astype(np.int32)
    made = Hierarchy(rows, np.zeros(n, np.int8), index=place, kind=rng.integers(0, 2, n).astype(np.int8))
    made.renew(singles(rng, n))
    return made


@FEW
@given(st.tuples(st.integers(200, 400), st.integers(0, 2**32 - 1)))
def test_a_round_over_the_coarser_levels_is_that_of_the_full_matrices(seed):
    rng = np.random.default_rng(seed[1])
    one = ladder_of(rng, seed[0])._ladder
    two = ladder.Ladder(one.rows, one.bounds, one.groups, *(np.copy(a) for a in one[3:]))
    assert one.bounds.size > 2, "there is a level to go down to"
    for each in (one, two):
        each.capacity[each.bounds[1] :] = 0
    ladder.follow(one)
    _reference.follow(two)
    assert one.diagonal == pytest.approx(two.diagonal, rel=1e-5)
    assert one.inverse == pytest.approx(two.inverse, rel=1e-5)
    right = rng.normal(size=int(one.bounds[1])).astype(np.float32)
    one.r[: right.size], two.r[: right.size] = right, right
    assert ladder.cycle(one) == pytest.approx(_reference.cycle(two), rel=1e-3)
    top = slice(0, right.size)
    assert one.y[top] == pytest.approx(two.y[top], rel=1e-3, abs=1e-4)


@FEW
@given(st.tuples(st.integers(200, 300), st.integers(0, 2**32 - 1)))
def test_the_round_is_symmetric_and_positive_so_that_conjugate_gradients_may_use_it(seed):
    rng = np.random.default_rng(seed[1])
    levels = ladder_of(rng, seed[0])._ladder
    m = int(levels.bounds[1])
    answers = []
    for _ in range(2):
        right = rng.normal(size=m).astype(np.float32)
        levels.r[:m] = right
        assert ladder.cycle(levels) > 0
        answers.append((right.astype(float), levels.y[:m].astype(float)))
    (a, ma), (b, mb) = answers
    assert a @ mb == pytest.approx(b @ ma, rel=1e-3, abs=1e-3 * np.linalg.norm(a) * np.linalg.norm(mb))


@FEW
@given(SEEDS)
def test_the_passing_of_levels_is_noted_like_the_twin_does(seed):
    n, rng = seed[0], np.random.default_rng(seed[1])
    cells, heats_at = np.arange(0, n, 2, dtype=np.int32), np.array([0.8, 0.5, 0.2])
    passed = np.full((cells.size, 3), np.nan)
    now, then, fall = rng.uniform(0, 1, n), rng.uniform(0, 1, n), rng.uniform(-1, 3, cells.size)
    made = []
    for where in (feeding, _reference):
        out = passed.copy()
        where.mark_levels(out, cells, now, before=then, fall=fall, span=(2.0, 0.5), heats=heats_at)
        made.append(out)
    assert made[0] == pytest.approx(made[1], nan_ok=True)
    assert np.all((made[0][np.isfinite(made[0])] >= 2.0) & (made[0][np.isfinite(made[0])] <= 2.5))


@pytest.mark.parametrize(
    ("then", "fall", "end"),
    [
        (1.0, 0.0, 10.0 + 2.0 * 1.0 / 1.5),  # nothing is known of the step before: straight
        (1.0, 0.6, 10.0 + 2.0 * 1.0 / 1.5),  # it fell slower before: straight
        (1.0, 1.0, 11.0),  # it fell faster while it froze: at that pace it is solid after 1 s, and slower afterwards
        (0.0, 1.0, 10.0),
    ],
)
def test_the_end_of_freezing_is_reached_at_the_pace_before_it(then, fall, end):
    assert record.solid_at((then, then - 1.5, 0.0), fall, (10.0, 2.0)) == pytest.approx(end)


@FEW
@given(SEEDS)
def test_coarse_weights_are_the_sums_between_groups(seed):
    n, rng = seed[0], np.random.default_rng(seed[1])
    rows, _ = network(rng, n)
    grouped = fathers(rng, n)
    neighbour, weight, begin, listed, listed_weight = groups.split(*groups.gather(rows, grouped, np.float32(0.6)))
    more = np.flatnonzero(np.diff(begin)).astype(np.int32)
    made = _reference.matrix(Rows(neighbour, weight, more, begin, listed, listed_weight))
    assert made == pytest.approx(_reference.gather(rows, grouped, 0.6), rel=1e-4, abs=1e-6)


def heats(rng, kind):
    low = np.array([s.heat[0] for s in KINDS])[kind]
    high = np.array([s.heat[-1] for s in KINDS])[kind]
    return low + rng.uniform(-0.2, 1.2, kind.size) * (high - low)


@FEW
@given(SEEDS)
def test_the_state_follows_the_curves(seed):
    n, rng = seed[0], np.random.default_rng(seed[1])
    kind = rng.integers(0, 3, n).astype(np.int8)
    heat, curves = heats(rng, kind), tables(KINDS)
    same(both("temperatures", curves, kind, heat, module=state, out=np.empty(n), slope=np.empty(n)), rel=1e-9)
    cells = np.arange(0, n, 2, dtype=np.int32)
    same(both("solid_fractions", curves, cells, heat, module=state, kind=kind, out=np.empty(cells.size)), rel=1e-9)


@FEW
@given(SEEDS)
def test_weights_and_balance_are_those_of_the_formula(seed):
    n, rng = seed[0], np.random.default_rng(seed[1])
    rows, (first, second, place, weights) = network(rng, n)
    kind = rng.integers(0, 2, n).astype(np.int8)
    heat, curves = heats(rng, kind), tables(KINDS)
    law = np.where(kind[first] != kind[second], 0, -1).astype(np.int8)
    lengths = [rng.uniform(1e-4, 1e-3, first.size) for _ in range(3)]
    films = np.array([[[0.0, 0.5, 2.0], [1500.0, 600.0, 600.0]]])
    same(
        both(
            "weigh", curves, Faces(first, second, place, *lengths, law), heat, module=state, kind=kind, films=films, weights=weights
        )
    )
    step = Step(rng.uniform(1, 2, n), rng.uniform(-1, 1, n), 0.7)
    outside = Outside(rng.uniform(0, 1, n), rng.uniform(0, 1, n))
    values = {"heat": rng.uniform(0, 9, n), "temperature": rng.uniform(0, 9, n), "out": np.empty(n)}
    same(both("moved", step.volume, values["heat"], values["temperature"], module=state), rel=1e-9)
    kind = np.arange(step.volume.size, dtype=np.int8) % 3
    pair = values["heat"], step.volume, kind
    assert state.worst(*pair) == pytest.approx(_reference.worst(*pair))
    three = step.volume, values["heat"], values["temperature"]
    assert state.gained(*three, kind=kind) == pytest.approx(_reference.gained(*three, kind=kind))
    assert state.leaving(outside, values["heat"]) == pytest.approx(_reference.leaving(outside, values["heat"]))
    same(both("residual", rows, step, outside, module=state, **values), rel=1e-6)


@FEW
@given(SEEDS)
def test_a_change_of_heat_stops_where_the_twin_stops(seed):
    n, rng = seed[0], np.random.default_rng(seed[1])
    kind = rng.integers(0, 3, n).astype(np.int8)
    heat, curves = heats(rng, kind), tables(KINDS)
    slope = np.empty(n)
    state.temperatures(curves, kind, heat, out=np.empty(n), slope=slope)
    change = rng.normal(0, 200, n).astype(np.float32)
    how = {"kind": kind, "slope": slope, "least": 1e-13, "share": 0.5, "bend": 20.0, "out": np.empty(n)}
    same(both("move", curves, heat, change, module=state, **how), rel=1e-9)


def test_a_change_stops_just_inside_the_plateau_that_it_would_jump():
    """From the liquid of a pure metal far into the solid: the heat stops at the beginning of freezing."""
    metal, out = KINDS[1], np.empty(1)
    heat = np.array([metal.liquid_heat + 1e6])
    slope = np.array([1 / (9700 * 280)])
    kind = np.array([1], dtype=np.int8)
    change = np.array([-2000.0], dtype=np.float32)
    state.move(tables(KINDS), heat, change, kind=kind, slope=slope, least=1e-13, share=1.0, bend=20.0, out=out)
    assert metal.solid_heat < out[0] < metal.liquid_heat
    assert out[0] == pytest.approx(metal.liquid_heat, rel=1e-5)


def test_losses_through_film_and_radiation_balance_at_the_surface():
    rng = np.random.default_rng(5)
    kind = np.array([0, 1, 0], dtype=np.int8)
    heat, curves = heats(rng, kind), tables(KINDS)
    film = np.array(
        [[1e-4, 1e-3, 10.0, 4e-8, 300.0, 700.0], [2e-4, 0.0, 60.0, 0.0, 290.0, 700.0], [1e-4, 1e-3, 0.0, 5e-8, 300.0, 500.0]]
    )
    cells, temperature, made = np.array([0, 1, 0], dtype=np.int32), np.array([700.0, 900.0, 500.0]), []
    for where in (state, _reference):
        outside = Outside(np.ones(3), np.ones(3))
        where.losses(curves, cells, film.copy(), kind=kind, heat=heat, temperature=temperature, outside=outside)
        made.append(outside)
    assert made[0].conductance == pytest.approx(made[1].conductance, rel=1e-9)
    assert made[0].source == pytest.approx(made[1].source, rel=1e-9)
    assert made[0].conductance[1] == pytest.approx(2e-4 * 60)
    assert made[0].conductance[2] == 0


def split_cells(rng):
    """A cube of eight, some of them split: index and level, in any order."""
    index, level = [], []
    for corner in np.ndindex(2, 2, 2):
        if rng.uniform() < 0.5:
            index += [[2 * c + d for c, d in zip(corner, kid, strict=True)] for kid in np.ndindex(2, 2, 2)]
            level += [0] * 8
        else:
            index.append(list(corner))
            level.append(1)
    return np.array(index, dtype=np.int32), np.array(level, dtype=np.int8)


@FEW
@given(st.integers(0, 2**32 - 1))
def test_neighbours_are_those_that_a_dictionary_finds(seed):
    index, level = split_cells(np.random.default_rng(seed))
    codes, expected = np.empty(level.size, dtype=np.int64), np.empty(level.size, dtype=np.int64)
    tree.morton(index, level, codes)
    _reference.morton(index, level, expected)
    assert np.array_equal(codes, expected)
    assert np.array_equal(tree.neighbours(codes, index, level), _reference.neighbours(codes, index, level))


@FEW
@given(st.integers(0, 2**32 - 1))
def test_the_share_of_a_cut_cube_is_that_of_its_points(seed):
    rng = np.random.default_rng(seed)
    slope = rng.normal(size=(5, 3))
    slope /= np.linalg.norm(slope, axis=1)[:, None]
    distance, out, expected = rng.uniform(-1, 1, 5), np.empty(5), np.empty(5)
    tree.cut_fraction(distance, slope, out)
    _reference.cut_fraction(distance, slope, expected)
    assert out == pytest.approx(expected, abs=0.02)


def test_a_cube_cut_in_half_is_half_full():
    out = np.empty(3)
    tree.cut_fraction(np.zeros(3), np.array([[1.0, 0, 0], [1, 1, 0], [1, 1, 1]]), out)
    assert out == pytest.approx([0.5] * 3, abs=1e-6)


def test_a_loop_gives_the_same_alone_and_shared_among_threads():
    """Above the size from which a loop is shared, the other machine code runs."""
    n = WORTH_SHARING + 7
    a = np.arange(1, n + 1, dtype=np.float32)
    diagonal, inverse = np.empty((2, n), dtype=np.float32)
    for size in (n, 9):
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


def test_a_film_that_is_not_there_has_a_row_that_is_never_read():
    assert film_rows(None, None).shape[:2] == (2, 2)
    assert state.film_resistance(film_rows(None, None), -1, 0.5) == 0.0


def test_several_threads_may_march_at_once():
    """Not every layer under numba bears two callers; shared loops take turns, and all come to the same answer."""
    n = 2 * WORTH_SHARING
    asked = [np.full(n, float(k)) for k in range(4)]

    def added(values):
        out = np.empty(n)
        for _ in range(20):
            state.history(values, values, out, factors=(2.0, -1.0))
        return out

    with ThreadPoolExecutor(4) as pool:
        got = list(pool.map(added, asked))
    assert all(np.array_equal(a, b) for a, b in zip(got, asked, strict=True))
