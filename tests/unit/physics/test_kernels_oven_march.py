"""The compiled way through a programme is the readable twin's, step by step, whatever the flask and the programme."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.errors import UnsoundResultError
from pourwell.physics.burnout import march as burnout
from pourwell.physics.burnout.march import Care, Programme, burn
from pourwell.physics.burnout.setting import Face, Flask, Place
from pourwell.physics.burnout.substance import Mould
from pourwell.physics.kernels import _reference_oven, _reference_oven_march, oven_march
from pourwell.physics.kernels.oven_march import DONE, FULL, LAST, LOST, MOVED, NEXT, RECORDED, SOLVED, TAKEN, TIME, Kiln
from pourwell.physics.mould import compose

FEW = settings(max_examples=6, deadline=None)
MOULD = Mould(composition=compose(water_ratio=0.40, hemihydrate=0.30, powder_density=2550))
FACE = Face(convection=10.0, emissivity=0.75)
PLACE = Place(side=FACE, upper=FACE, lower=Face(convection=3.0, emissivity=0.75, view=0.4, outside=350.0))
UP_AND_DOWN = Programme(times=[0.0, 600.0, 600.0, 2400.0, 3600.0], temperatures=[293.15, 420.0, 500.0, 800.0, 300.0])


def begun(*, programme=UP_AND_DOWN, wall=0.002, open_share=0.0, care=None):
    """A run at its first moment."""
    flask = Flask(radius=0.02, height=0.05, wall=wall, open_share=open_share)
    return burnout._set_up(flask, MOULD, programme, place=PLACE, start=293.15, care=care or Care(rings=3, layers=3))[0]


def with_room(run, many):
    """The same run with a trace for so many moments."""
    trace = run.trace
    return run._replace(trace=trace._replace(**{name: getattr(trace, name)[:many] for name in trace._fields[:5]}))


@FEW
@given(wall=st.sampled_from((0.0, 0.002)), open_share=st.sampled_from((0.0, 0.3)), layers=st.integers(2, 3))
def test_both_take_the_same_steps_to_the_same_end(wall, open_share, layers):
    care = Care(rings=2, layers=layers, accuracy=20.0)
    runs = [begun(wall=wall, open_share=open_share, care=care) for _ in range(2)]
    assert [loops.march(run) for loops, run in zip((oven_march, _reference_oven_march), runs, strict=True)] == [DONE, DONE]
    got, want = (run.state for run in runs)
    assert got.counts.tolist() == want.counts.tolist()
    np.testing.assert_allclose(got.heat, want.heat, rtol=1e-6)
    np.testing.assert_allclose(got.turn.heat, want.turn.heat, rtol=1e-6)
    np.testing.assert_allclose(got.now[[TIME, LAST, NEXT, TAKEN, MOVED]], want.now[[TIME, LAST, NEXT, TAKEN, MOVED]], rtol=1e-5)
    m = int(got.counts[RECORDED])
    for name in ("time", "temperature", "hottest", "taken", "flow"):
        a, b = getattr(runs[0].trace, name)[:m], getattr(runs[1].trace, name)[:m]
        np.testing.assert_allclose(a, b, rtol=1e-5, atol=1e-5 * np.abs(b).max(), err_msg=name)


@pytest.mark.parametrize(("wall", "open_share"), [(0.0, 0.0), (0.002, 0.0), (0.002, 0.3)])
def test_a_moment_is_recorded_alike(wall, open_share):
    runs = [begun(wall=wall, open_share=open_share) for _ in range(2)]
    for loops, run in zip((oven_march, _reference_oven_march), runs, strict=True):
        oven_march.march(run)
        run.state.counts[RECORDED] = 1
        loops.record(run)
        assert run.state.counts[RECORDED] == 2
    for name in ("time", "temperature", "hottest", "taken", "flow"):
        a, b = (getattr(run.trace, name)[:2] for run in runs)
        np.testing.assert_allclose(a, b, rtol=1e-12, err_msg=name)
    assert np.abs(runs[0].trace.flow[1]).min() > 0


@pytest.mark.parametrize("loops", [oven_march, _reference_oven_march])
def test_a_full_trace_is_told_and_the_run_goes_on_from_there(loops):
    whole, run = begun(), with_room(begun(), 5)
    assert loops.march(whole) == DONE
    assert loops.march(run) == FULL
    assert run.state.counts[RECORDED] == 5
    assert loops.march(run._replace(trace=whole.trace)) == DONE
    np.testing.assert_array_equal(run.state.heat, whole.state.heat)


@pytest.mark.parametrize("loops", [oven_march, _reference_oven_march])
def test_where_no_step_converges_the_run_is_lost_and_stays_where_it_was(loops):
    run = begun(care=Care(rings=2, layers=2, rounds=1, balance=1e-15))
    before = run.state.heat.copy()
    assert loops.march(run) == LOST
    assert run.state.now[TIME] == 0.0
    assert 0.0 < run.state.now[NEXT] < 5.0
    assert run.state.counts[SOLVED] == oven_march.HALVINGS
    np.testing.assert_array_equal(run.state.heat, before)


def test_a_run_that_is_lost_is_refused_in_a_sentence():
    with pytest.raises(UnsoundResultError, match="did not converge at 0 s"):
        burn(
            Flask(radius=0.02, height=0.05),
            MOULD,
            UP_AND_DOWN,
            place=PLACE,
            start=293.15,
            care=Care(rings=2, layers=2, rounds=1, balance=1e-15),
        )


def test_a_trace_that_fills_is_made_longer_and_holds_what_a_long_one_does(monkeypatch):
    flask, care = Flask(radius=0.02, height=0.05), Care(rings=3, layers=3)
    long = burn(flask, MOULD, UP_AND_DOWN, place=PLACE, start=293.15, care=care)
    monkeypatch.setattr(burnout, "ROOM", 2)
    short = burn(flask, MOULD, UP_AND_DOWN, place=PLACE, start=293.15, care=care)
    for name in ("time", "temperature", "wall", "water", "taken", "rim_flow"):
        np.testing.assert_array_equal(getattr(short, name), getattr(long, name))


@given(time=st.floats(-100.0, 4000.0))
def test_a_programme_is_read_alike_between_its_corners_and_beyond(time):
    kiln = Kiln(times=UP_AND_DOWN.times, levels=UP_AND_DOWN.temperatures, seen=np.ones(3, dtype=np.bool_))
    assert oven_march.level_at(kiln, time) == pytest.approx(_reference_oven_march.level_at(kiln, time), rel=1e-12)


@pytest.mark.parametrize(("time", "level"), [(0.0, 293.15), (600.0, 500.0), (3600.0, 300.0), (1e6, 300.0), (-1.0, 293.15)])
def test_a_jump_of_the_programme_is_read_as_what_follows_it(time, level):
    kiln = Kiln(times=UP_AND_DOWN.times, levels=UP_AND_DOWN.temperatures, seen=np.ones(3, dtype=np.bool_))
    assert oven_march.level_at(kiln, time) == pytest.approx(level)


@given(length=st.floats(0.1, 900.0), last=st.floats(0.1, 900.0))
def test_the_derivative_is_that_of_the_parabola_through_three_heats(length, last):
    got = oven_march.factors(length, last)
    assert got == pytest.approx(_reference_oven_march._weights(length, last), rel=1e-6)
    assert sum(got) == pytest.approx(0.0, abs=1e-9 * max(map(abs, got)))


@pytest.mark.parametrize(
    ("left", "wanted", "length"), [(10.0, 12.0, 10.0), (10.0, 9.995, 10.0), (10.0, 6.0, 5.0), (10.0, 4.0, 4.0)]
)
def test_a_step_ends_at_a_corner_or_well_before_it(left, wanted, length):
    assert oven_march.stride(left, wanted) == length


@given(hottest=st.lists(st.floats(0.0, 2.5e9), min_size=1, max_size=7))
def test_where_cells_turn_is_reckoned_alike(hottest):
    fixed, heat = begun().fixed, np.array(hottest)
    got, want = (burnout.turn_of(heat, stages=fixed.stages, curves=fixed.curves) for _ in range(2))
    _reference_oven.turned(fixed.curves, fixed.stages, want)
    for name, a, b in zip(got._fields, got, want, strict=True):
        np.testing.assert_allclose(a, b, rtol=1e-9, atol=1e-6, err_msg=name)
