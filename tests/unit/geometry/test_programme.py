"""Small linear programmes against a large solver, and at their edges."""

import numpy as np
import pytest
from scipy.optimize import linprog

from pourwell.geometry.programme import lifted


def by_a_large_solver(slopes, heights, *, low, high, cost):
    """The height less the cost at the best way."""
    found = linprog(
        np.append(cost, -1.0),
        A_ub=np.column_stack([-slopes, np.ones(len(slopes))]),
        b_ub=heights,
        bounds=[*zip(low, high, strict=True), (None, None)],
    )
    assert found.status == 0
    return -found.fun


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize(("count", "size"), [(3, 5), (3, 300), (6, 40), (6, 400), (1, 2)])
def test_it_lifts_as_high_as_a_large_solver(seed, count, size):
    rng = np.random.default_rng([seed, count, size])
    slopes, heights = rng.normal(size=(size, count)), rng.uniform(1, 2, size)
    low, high, cost = -rng.uniform(0, 0.5, count), rng.uniform(0, 0.5, count), rng.choice([0.0, 0.1], count)
    found = lifted(slopes, heights, low=low, high=high, cost=cost)
    assert found is not None
    assert (found.way >= low - 1e-9).all()
    assert (found.way <= high + 1e-9).all()
    assert found.height <= (heights + slopes @ found.way).min() + 1e-9
    best = by_a_large_solver(slopes, heights, low=low, high=high, cost=cost)
    assert found.height - cost @ found.way == pytest.approx(best, abs=1e-8)


@pytest.mark.parametrize("sides", [4, 6, 64, 1000])
def test_alike_planes_all_round_hold_the_middle(sides):
    """A round hole of flat sides: exact ties all round, which the method must not go round and round in."""
    turn = np.arange(sides) * 2 * np.pi / sides
    slopes = np.column_stack([np.cos(turn), np.sin(turn)])
    found = lifted(slopes, np.ones(sides) - slopes @ [0.2, -0.1], low=np.full(2, -1.0), high=np.ones(2))
    assert found is not None
    assert found.way == pytest.approx([0.2, -0.1], abs=1e-9)
    assert found.height == pytest.approx(1)


def test_one_plane_is_climbed_to_the_corner_of_the_box():
    found = lifted(np.array([[1.0, -2.0]]), np.array([5.0]), low=np.array([-1.0, -1]), high=np.array([3.0, 3]))
    assert found is not None
    assert found.way == pytest.approx([3, -1])
    assert found.height == pytest.approx(10)


def test_a_way_that_costs_more_than_it_lifts_is_not_gone():
    slopes, box = np.array([[0.05], [0.05]]), {"low": np.array([0.0]), "high": np.array([1.0])}
    assert lifted(slopes, np.ones(2), **box, cost=np.array([0.1])).way == pytest.approx([0])
    assert lifted(slopes, np.ones(2), **box).way == pytest.approx([1])


def test_the_size_of_the_numbers_does_not_matter():
    rng = np.random.default_rng(5)
    slopes, heights, box = rng.normal(size=(50, 3)), rng.uniform(1, 2, 50), np.full(3, 0.3)
    one = lifted(slopes, heights, low=-box, high=box)
    for scale in (1e-6, 1e6):
        other = lifted(slopes, scale * heights, low=-scale * box, high=scale * box)
        assert other.height == pytest.approx(scale * one.height, rel=1e-7)
