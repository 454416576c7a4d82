"""Loops over the state, and those that note what befalls the metal, beside their readable twins (see `test_kernels.py`)."""

import numpy as np
import pytest

from pourwell.physics.boundary import film_rows
from pourwell.physics.kernels import linear, record, state
from pourwell.physics.kernels.linear import Rows
from pourwell.physics.kernels.record import Marks
from pourwell.physics.kernels.state import Faces, Outside, Step
from pourwell.physics.properties import tables
from tests.unit.physics.kernel_samples import KINDS, SHARED, blank, both, heats, network, same, singles, sizes

MOST_FACES = 500
"""Of those that follow the state, where a loop is shared: its twin is slow, and the size of the other arrays is what counts."""


@sizes(0, 1, SHARED)
def test_the_state_follows_the_curves(n, rng):
    kind = rng.integers(0, 3, n).astype(np.int8)
    heat, curves = heats(rng, kind), tables(KINDS)
    same("temperatures", curves, kind, heat, rel=1e-9, out=blank(n), slope=blank(n))
    cells = np.arange(0, n, 2, dtype=np.int32)
    same("solid_fractions", curves, cells, heat, rel=1e-9, kind=kind, out=blank(cells.size))


@sizes(0, 1, SHARED)
def test_weights_that_follow_the_state_are_those_of_the_formula(n, rng):
    _, (first, second, place, weights) = network(rng, n)
    first, second, place = (a[:MOST_FACES] for a in (first, second, place))
    kind = rng.integers(0, 2, n).astype(np.int8)
    law = np.where(kind[first] != kind[second], rng.integers(-1, 2, first.size), -1).astype(np.int8)
    lengths = [rng.uniform(1e-4, 1e-3, first.size) for _ in range(3)]
    films = np.array([[[0.0, 0.5, 2.0], [1500.0, 600.0, 600.0]], [[0.2, 0.3, 0.9], [900.0, 400.0, 100.0]]])
    faces = Faces(first, second, place, *lengths, law)
    same("weigh", tables(KINDS), faces, heats(rng, kind), rel=1e-6, kind=kind, films=films, weights=weights)


@sizes(0, 1, SHARED)
def test_the_balance_and_its_sums_are_those_of_the_formula(n, rng):
    rows, _ = network(rng, n)
    step = Step(rng.uniform(1, 2, n), rng.uniform(-1, 1, n), 0.7)
    outside = Outside(rng.uniform(0, 1, n), rng.uniform(0, 1, n))
    heat, temperature, kind = rng.uniform(0, 9, n), rng.uniform(0, 9, n), rng.integers(0, 3, n).astype(np.int8)
    same("residual", rows, step, outside, rel=1e-9, heat=heat, temperature=temperature, out=blank(n))
    same("moved", step.volume, heat, temperature, rel=1e-9)
    same("worst", step.past, step.volume, kind, rel=1e-9)
    same("gained", step.volume, heat, temperature, rel=1e-9, kind=kind)
    same("leaving", outside, heat, rel=1e-9)


@sizes(0, 1, SHARED)
def test_capacities_and_what_was_before_are_those_of_the_formula(n, rng):
    """Where metal melts at one temperature the slope is nothing, or less by rounding."""
    slope = rng.choice([0.0, -1e-20, 1e-9, 1e-8, 4e-7], n)
    same("capacities", Step(rng.uniform(1e-12, 1e-9, n), rng.normal(size=n), 0.7), slope, blank(n, np.float32), least=2e-9)
    same("history", rng.normal(size=n), rng.normal(size=n), blank(n), rel=1e-12, factors=(1.7, -0.7))


def test_what_is_no_number_is_not_lost_in_a_sum():
    """The compiler may reorder sums, but must not reckon as if there were neither NaN nor infinity."""
    rng = np.random.default_rng(3)
    rows, _ = network(rng, 9)
    ones, bad = np.ones(9), np.ones(9)
    for value in (np.nan, np.inf):
        bad[4] = value
        same("residual", rows, Step(ones, ones, 0.7), Outside(ones, ones), heat=bad, temperature=ones, out=blank(9))
        same("history", bad, ones, blank(9), factors=(2.0, -1.0))
        same("product", rows, bad.astype(np.float32), blank(9, np.float32), diagonal=singles(rng, 9))
        assert not np.isfinite(same("moved", ones, bad, ones))
        assert not np.isfinite(same("gained", ones, bad, ones, kind=np.ones(9, np.int8))).any()
        assert not np.isfinite(same("leaving", Outside(ones, ones), bad)).any()


@sizes(0, 1, SHARED)
def test_a_change_of_heat_stops_where_the_twin_stops(n, rng):
    kind = rng.integers(0, 3, n).astype(np.int8)
    heat, curves, slope = heats(rng, kind), tables(KINDS), blank(n)
    state.temperatures(curves, kind, heat, out=blank(n), slope=slope)
    change = rng.normal(0, 200, n).astype(np.float32)
    how = {"kind": kind, "slope": slope, "least": 1e-13, "share": 0.5, "bend": 20.0, "out": blank(n)}
    same("move", curves, heat, change, rel=1e-9, **how)


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
    film = np.array(
        [[1e-4, 1e-3, 10.0, 4e-8, 300.0, 700.0], [2e-4, 0.0, 60.0, 0.0, 290.0, 700.0], [1e-4, 1e-3, 0.0, 5e-8, 300.0, 500.0]]
    )
    cells, temperature = np.array([0, 1, 0], dtype=np.int32), np.array([700.0, 900.0, 500.0])
    outside = Outside(np.ones(3), np.ones(3))
    given = {"kind": kind, "heat": heats(rng, kind), "temperature": temperature, "outside": outside}
    same("losses", tables(KINDS), cells, film, rel=1e-9, **given)
    state.losses(tables(KINDS), cells, film, **given)
    assert outside.conductance[1] == pytest.approx(2e-4 * 60)
    assert outside.conductance[2] == 0
    same("losses", tables(KINDS), cells[:0], film[:0], rel=1e-9, **given)


def test_a_film_that_is_not_there_has_a_row_that_is_never_read():
    assert film_rows(None, None).shape[:2] == (2, 2)
    assert state.film_resistance(film_rows(None, None), -1, 0.5) == 0.0


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


@pytest.mark.parametrize("fall", [-1.0, 0.0, 0.3, 2.0])
@pytest.mark.parametrize("now", [-1.0, 0.0, 0.5, 1.0])
@pytest.mark.parametrize("then", [-1.0, 0.0, 0.5, 1.0])
def test_the_end_of_freezing_is_that_of_the_twin_where_heat_stands_still_or_rises_too(then, now, fall):
    assert 10.0 <= same("solid_at", (then, now, 0.0), fall, (10.0, 2.0), rel=1e-12) <= 12.0


@sizes(0, 1)
def test_begin_and_end_of_freezing_are_noted_like_the_twin_does(n, rng):
    """Some cells stand still, some grow warmer, some have melted again; some were noted before, some not yet."""
    cells = rng.permutation(n)[: (n + 1) // 2].astype(np.int32)
    before = rng.choice([-0.2, 0.0, 0.4, 1.0, 1.3], n)
    heat = np.where(rng.uniform(size=n) < 0.3, before, rng.choice([-0.5, 0.0, 0.3, 1.0, 1.2], n))
    begin, end, rate, gradient = (np.where(rng.uniform(size=cells.size) < 0.5, np.nan, 1.5) for _ in range(4))
    marks = Marks(begin, end, rate, gradient, rng.uniform(-1, 3, cells.size))
    same("mark", marks, cells, heat, rel=1e-12, before=before, span=(2.0, 0.5), ends=(1.0, 0.0))


def gradients(rows, cells, centre, *, temperature, kind):
    """Gradients in some cells by loop and twin, held together; written from behind, so that places are seen to count."""
    unset = (np.full(cells.size, np.nan) for _ in range(5))
    places = np.arange(cells.size)[::-1].copy()
    given = {"temperature": temperature, "centre": centre, "kind": kind, "rows": rows}
    (_, (marks, *_)), (_, (twin, *_)) = both("slopes", Marks(*unset), places, cells, **given)
    assert marks.gradient == pytest.approx(twin.gradient, rel=1e-5)
    return marks.gradient[::-1]


@sizes(0, 1)
def test_gradients_are_those_of_least_squares(n, rng):
    """In space, in a plane and on a line; next to cells of another kind, and to one at the same place."""
    rows, _ = network(rng, n)
    kind, cells = rng.integers(0, 2, n).astype(np.int8), rng.permutation(n).astype(np.int32)
    centre, temperature = rng.uniform(0, 1e-2, (n, 3)), rng.uniform(900, 1200, n)
    for flat in range(3):
        centre[:, :flat] = 0.004
        centre[n // 2 :][:1] = centre[:1]
        gradients(rows, cells, centre, temperature=temperature, kind=kind)
    for q, cell in enumerate(cells[:3]):
        alone = same("slope_at", cell, rows, (temperature, centre, kind), rel=1e-5)
        assert alone == pytest.approx(gradients(rows, cells, centre, temperature=temperature, kind=kind)[q])


def test_the_gradient_of_an_even_slope_is_that_slope():
    beside = np.array([[1, 0], [2, 1], [3, 2], [0, 3], [0, 3], [0, 3]], dtype=np.int32)
    neighbour = np.concatenate([beside, np.zeros((6, 2), dtype=np.int32)], axis=1)
    none = np.zeros(0, dtype=np.int32)
    rows = Rows(neighbour, np.ones((6, 4), np.float32), none, np.zeros(5, np.int32), none, np.zeros(0, np.float32))
    centre = np.array([[0, 0, 0], [1e-3, 0, 0], [0, 1e-3, 0], [0, 0, 2e-3]])
    temperature = 1000 + centre @ np.array([3e4, 0, 4e4])
    state_of = temperature, centre, np.ones(4, np.int8)
    assert record.slope_at(0, rows, state_of) == pytest.approx(5e4, rel=1e-6)
    assert linear.first_at(np.array([2, 5, 9], np.int32), 5) == 1
