"""Every compiled loop of the flask in the kiln does what its readable twin does, whatever the sizes, states and numbers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.physics.burnout.setting import Face, Flask, Place, cut, fill_films
from pourwell.physics.burnout.substance import Mould, curves_of, stages_of, turn_of
from pourwell.physics.kernels import _reference_oven, oven
from pourwell.physics.kernels.oven import Asked, Fixed, Work
from pourwell.physics.mould import compose

FEW = settings(max_examples=12)
MADE = compose(water_ratio=0.40, hemihydrate=0.30, powder_density=2550)
DRIER = compose(water_ratio=0.38, hemihydrate=0.28, powder_density=2500)


def oven_of(rng, layers, rings, *, wall=0.002, open_share=0.0, water_share=1.0):
    """A flask in the kiln whose rings are in all states: cold, boiling, dry, burnt, and cooled from any of them."""
    mould = Mould(composition=MADE, water_share=water_share, dry=((373.15, 0.45), (1000.0, 0.6)))
    flask = Flask(radius=0.038, height=0.1, wall=wall, open_share=open_share)
    grid = cut(flask, rings=rings, layers=layers)
    face = Face(convection=10.0, emissivity=0.75)
    fill_films(grid.outer.film, Place(side=face, upper=face, lower=Face(convection=3.0, emissivity=0.75, view=0.4)), 800.0)
    curves, stages = curves_of(mould, flask.steel), stages_of(mould)
    n = grid.net.volume.size
    hottest = rng.uniform(0.0, 2.3e9, n)
    heat = np.where(rng.random(n) < 0.5, hottest, hottest * rng.uniform(0.2, 1.1, n))
    heat[grid.net.steel] = rng.uniform(1.1e9, 4e9, int(grid.net.steel.sum()))
    zeros = [np.zeros(n) for _ in range(4)]
    work = Work(
        heat,
        -heat * 0.01 + rng.normal(0.0, 1e4, n),
        *zeros,
        surface=rng.uniform(300.0, 900.0, grid.outer.cell.size),
        entering=np.zeros(grid.outer.cell.size),
        weight=np.zeros(grid.net.first.size),
        band=np.zeros((n, grid.shape[1] + 1)),
    )
    return Fixed(curves, stages, grid.net, grid.outer), turn_of(hottest, stages=stages, curves=curves), work


def copied(work):
    return Work(*(a.copy() for a in work))


def same(got, want, *, tolerance=1e-9, but=()):
    for name, a, b in zip(Work._fields, got, want, strict=True):
        if name in but:
            continue
        scale = np.abs(b).max(initial=1e-30)
        np.testing.assert_allclose(a, b, rtol=tolerance, atol=tolerance * scale, err_msg=name)


@FEW
@given(
    seed=st.integers(0, 2**31),
    layers=st.integers(2, 7),
    rings=st.integers(2, 7),
    wall=st.sampled_from((0.0, 0.002)),
    open_share=st.sampled_from((0.0, 0.3)),
    water_share=st.sampled_from((0.0, 0.4, 1.0)),
)
def test_states_weights_balance_and_changes_agree(seed, layers, rings, wall, open_share, water_share):
    given_ = oven_of(np.random.default_rng(seed), layers, rings, wall=wall, open_share=open_share, water_share=water_share)
    fixed, turn, work = given_
    twin = copied(work)
    for loops, state in ((oven, work), (_reference_oven, twin)):
        loops.states(fixed, turn, state)
        loops.weigh(fixed.net, state)
        assert loops.balance(fixed, state, 0.01) == pytest.approx(np.abs(state.balance).sum(), rel=1e-12)
    same(work, twin)
    for loops, state in ((oven, work), (_reference_oven, twin)):
        loops.change(fixed, turn, state)
    same(work, twin)


@FEW
@given(row=st.integers(0, 2), heat=st.floats(-1e8, 6e9))
def test_curves_are_read_alike_between_their_knots_and_beyond(row, heat):
    fixed, _, _ = oven_of(np.random.default_rng(0), 2, 2)
    got, want = oven.along(fixed.curves, row, heat), _reference_oven.along(fixed.curves, row, heat)
    assert got == pytest.approx(want, rel=1e-12)


@FEW
@given(seed=st.integers(0, 2**31), n=st.integers(1, 40), width=st.integers(1, 7))
def test_bands_are_solved_alike_and_rightly(seed, n, width):
    rng = np.random.default_rng(seed)
    band = np.zeros((n, width + 1))
    for d in range(1, width + 1):
        band[: max(0, n - d), d] = -rng.uniform(0.0, 1.0, max(0, n - d))
    band[:, 0] = 2.0 * width + rng.uniform(0.1, 1.0, n)
    full = sum(np.diag(band[: n - d, d], d) for d in range(min(width, n - 1) + 1))
    full = full + np.triu(full, 1).T
    wanted = rng.normal(size=n)
    x, y = full @ wanted, full @ wanted
    factors, twin = band.copy(), band.copy()
    oven.solve_band(factors, x)
    _reference_oven.solve_band(twin, y)
    np.testing.assert_allclose(x, wanted, rtol=1e-10, atol=1e-12)
    np.testing.assert_allclose(y, wanted, rtol=1e-10, atol=1e-12)
    np.testing.assert_allclose(factors, twin, rtol=1e-9, atol=1e-12)


@FEW
@given(seed=st.integers(0, 2**31), layers=st.integers(2, 4), rings=st.integers(2, 5), water_share=st.sampled_from((0.0, 1.0)))
def test_a_whole_step_agrees_and_closes_its_balance(seed, layers, rings, water_share):
    fixed, turn, work = oven_of(np.random.default_rng(seed), layers, rings, water_share=water_share)
    work.heat[:] = np.where(fixed.net.steel, work.heat, turn.heat)
    lead = 1 / 20.0
    work.past[:] = -lead * work.heat
    start, twin = work.heat.copy(), copied(work)
    rounds = [m.step(fixed, (turn, w), Asked(lead, 1e-7, 40)) for m, w in ((oven, work), (_reference_oven, twin))]
    assert rounds[0] == rounds[1]
    if rounds[0] > 0:
        same(work, twin, tolerance=1e-6, but=("balance",))
        gained = lead * float((work.heat - start) @ fixed.net.volume)
        assert gained == pytest.approx(float(work.entering.sum()), abs=2e-7)


@pytest.mark.parametrize("loops", [oven, _reference_oven])
def test_a_state_that_is_no_number_does_not_converge(loops):
    fixed, turn, work = oven_of(np.random.default_rng(1), 2, 2)
    work.past[0] = np.nan
    assert loops.step(fixed, (turn, work), Asked(0.01, 1.0, 5)) == -1


@pytest.mark.parametrize("loops", [oven, _reference_oven])
def test_too_few_rounds_do_not_converge(loops):
    fixed, turn, work = oven_of(np.random.default_rng(2), 3, 3)
    assert loops.step(fixed, (turn, work), Asked(0.01, 1e-12, 1)) == -1


@pytest.mark.parametrize("loops", [oven, _reference_oven])
def test_a_cell_that_cools_keeps_what_it_lost(loops):
    """From its hottest a cell goes back along the heat capacity of what is left of it, to the degree and to the joule."""
    mould = Mould(composition=DRIER)
    curves, stages = curves_of(mould, Flask(radius=0.03, height=0.06).steel), stages_of(mould)
    hottest = np.array([0.5 * (stages.wet + stages.dry), stages.dry + 5e6, stages.burnt + 3e8, float(mould.heat(340.0))])
    turn = turn_of(hottest, stages=stages, curves=curves)
    grid = cut(Flask(radius=0.03, height=0.06, wall=0.0), rings=2, layers=2)
    back = []
    for cooled in (0.0, 4e7):
        work = Work(hottest - cooled, *(np.zeros(4) for _ in range(5)), *(np.zeros(1) for _ in range(3)), band=np.zeros((4, 3)))
        loops.states(Fixed(curves, stages, grid.net, grid.outer), turn, work)
        back.append((work.temperature.copy(), work.conductivity.copy()))
    fall = back[0][0] - back[1][0]
    for i, water in enumerate((0.5, 0.0, 0.0, 1.0)):
        t = back[0][0][i] - fall[i] / 2
        capacity = (DRIER.burnt + float(mould.binder_water(back[0][0][i]))) * (760 + 0.62 * (t - 298.15))
        assert capacity + water * DRIER.free_water * 4186 == pytest.approx(4e7 / fall[i], rel=2e-3), i
    np.testing.assert_allclose(back[0][1], back[1][1], rtol=1e-9)
