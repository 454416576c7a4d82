"""Least squares as a generator: steps, ends, whole errors taken out, and what the answer is worth."""

from itertools import pairwise

import numpy as np
import pytest

from pourwell.physics.descent import ROUNDS, Question, autocovariance, descend, slopes

X = np.linspace(0, 4, 120)
TRUE = np.array([2.0, 0.7])


def decay(b):
    return b[0] * np.exp(-b[1] * X)


def question(seen, **more):
    given = {
        "model": decay,
        "weights": lambda _: np.ones(X.size),
        "low": np.array([0.0, 0.0]),
        "high": np.array([9.0, 9.0]),
        "scale": np.ones(2),
        "reach": 1e-3,
        "enough": 1e-6,
    }
    return Question(seen=seen, **(given | more))


def last_of(asked, start=(1.0, 1.0)):
    *_, last = descend(asked, np.array(start))
    return last


def test_exact_data_give_their_parameters_back():
    last = last_of(question(decay(TRUE)))
    assert last.ended
    assert last.parameters == pytest.approx(TRUE, abs=1e-4)
    assert np.sqrt(np.diag(last.covariance)).max() < 1e-4


def test_each_round_is_no_worse_than_the_one_before():
    rng = np.random.default_rng(1)
    seen = decay(TRUE) + rng.normal(0, 0.05, X.size)
    costs = [float(((seen - r.given) ** 2).sum()) for r in descend(question(seen), np.array([8.0, 4.0]))]
    assert len(costs) > 2
    assert all(b <= a * (1 + 1e-9) for a, b in pairwise(costs))


def test_rounds_are_numbered_and_only_the_last_has_ended():
    rounds = list(descend(question(decay(TRUE)), np.array([8.0, 4.0])))
    assert [r.number for r in rounds] == list(range(1, len(rounds) + 1))
    assert [r.ended for r in rounds] == [False] * (len(rounds) - 1) + [True]


def test_the_caller_may_stop_after_any_round():
    calls = []

    def counted(b):
        calls.append(1)
        return decay(b)

    rounds = descend(question(decay(TRUE), model=counted), np.array([8.0, 4.0]))
    next(rounds)
    before = len(calls)
    rounds.close()
    assert len(calls) == before


def test_parameters_stay_between_their_ends_and_the_others_go_on():
    last = last_of(question(decay(TRUE), high=np.array([1.5, 9.0])), start=(1.0, 1.0))
    assert last.parameters[0] == 1.5
    assert 0 < last.parameters[1] < 0.7
    assert last.ended


def test_a_start_outside_is_brought_in():
    first = next(descend(question(decay(TRUE)), np.array([99.0, -5.0])))
    assert first.parameters.tolist() == [9.0, 0.0]


def test_derivatives_step_away_from_the_nearer_end():
    asked = question(decay(TRUE), high=np.array([2.0, 9.0]))
    got = slopes(asked, TRUE, decay(TRUE))
    assert got[:, 0] == pytest.approx(np.exp(-0.7 * X), rel=1e-6)
    assert got[:, 1] == pytest.approx(-2 * X * np.exp(-0.7 * X), rel=5e-3, abs=1e-6)


def test_weights_decide_whom_to_believe():
    seen = decay(TRUE)
    seen[60:] += 0.5
    deaf = last_of(question(seen, weights=lambda _: np.where(np.arange(X.size) < 60, 1.0, 1e-6)))
    assert deaf.parameters == pytest.approx(TRUE, abs=1e-3)


def test_an_error_that_holds_for_the_whole_is_taken_out():
    """A scale that is off by 3 % where 2 % are usual: the rate keeps, and only the size is uncertain by it."""
    rng = np.random.default_rng(4)
    seen = 1.03 * decay(TRUE) + rng.normal(0, 0.002, X.size)
    shaped = last_of(question(seen, shapes=lambda b: 0.02 * decay(b)[:, None]))
    off = np.sqrt(np.diag(shaped.covariance))
    assert shaped.parameters[1] == pytest.approx(0.7, abs=4 * off[1])
    assert off[0] == pytest.approx(0.02 * 2.0, rel=0.25), "the scale cannot be told from the size"
    assert off[1] < 0.01
    assert abs(shaped.parameters[0] - 2.0) < 2 * off[0]


def test_an_offset_that_the_data_bear_out_no_longer_spoils_the_rate():
    rng = np.random.default_rng(5)
    seen = decay(TRUE) + 0.2 + rng.normal(0, 0.005, X.size)
    plain = last_of(question(seen))
    shaped = last_of(question(seen, shapes=lambda _: np.full((X.size, 1), 0.2)))
    assert abs(plain.parameters[1] - 0.7) > 0.1
    assert abs(shaped.parameters[1] - 0.7) < 0.02


def test_scatter_that_hangs_together_costs_more():
    rng = np.random.default_rng(6)
    white = rng.normal(0, 0.05, X.size)
    red = np.convolve(rng.normal(0, 0.05, X.size + 20), np.full(16, 0.25), mode="valid")[: X.size]
    offs = [np.sqrt(last_of(question(decay(TRUE) + e)).covariance[1, 1]) for e in (white, red)]
    assert offs[1] > 1.5 * offs[0]
    assert last_of(question(decay(TRUE) + red)).together > 3 * last_of(question(decay(TRUE) + white)).together


def test_records_do_not_run_into_one_another():
    rng = np.random.default_rng(8)
    seen = decay(TRUE) + rng.normal(0, 0.05, X.size)
    halves = last_of(question(seen, records=[slice(0, 60), slice(60, 120)]))
    assert halves.parameters == pytest.approx(last_of(question(seen)).parameters, abs=0.02)


def test_autocovariance_of_what_does_not_hang_together_is_its_variance():
    e = np.random.default_rng(9).normal(0, 2, 4000)
    got = autocovariance(e)
    assert got[0] == pytest.approx(4, rel=0.1)
    assert abs(got[1:]).sum() < 0.4


@pytest.mark.parametrize("size", [1, 2, 3, 7])
def test_a_short_record_has_an_autocovariance_too(size):
    got = autocovariance(np.arange(1.0, size + 1))
    assert got.size >= 1
    assert got[0] > 0


def test_a_descent_that_finds_no_end_stops_after_its_rounds():
    flip = iter(range(10_000))

    def restless(b):
        return decay(b) + 0.3 * np.sin(50 * b[0]) + 1e-3 * next(flip)

    rounds = list(descend(question(decay(TRUE), model=restless, reach=0.5), np.array([8.0, 4.0])))
    assert len(rounds) <= ROUNDS
