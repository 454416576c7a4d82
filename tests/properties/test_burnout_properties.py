"""Whatever the flask, the mould and the programme: heat closes, water only leaves, and nothing is hotter than what heats it."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.physics.burnout.march import Care, Programme, burn
from pourwell.physics.burnout.report import release_time, spread, time_between, water_mass
from pourwell.physics.burnout.setting import Flask, standing
from pourwell.physics.burnout.steam import overpressure
from pourwell.physics.burnout.substance import Mould
from pourwell.physics.mould import compose

FEW = settings(max_examples=25)
COARSE = Care(rings=8, layers=8, accuracy=6.0)


@st.composite
def flasks(draw):
    wall = draw(st.sampled_from((0.0, 0.0005, 0.002, 0.004)))
    return Flask(
        radius=draw(st.floats(0.012, 0.065)),
        height=draw(st.floats(0.03, 0.2)),
        wall=wall,
        open_share=draw(st.sampled_from((0.0, 0.3, 0.6))),
        contact=draw(st.sampled_from((50.0, 500.0, 5000.0))),
    )


@st.composite
def moulds(draw):
    made = compose(water_ratio=draw(st.floats(0.30, 0.45)), hemihydrate=draw(st.floats(0.2, 0.4)), powder_density=2550)
    dry = draw(st.floats(0.2, 0.8))
    return Mould(
        composition=made,
        water_share=draw(st.sampled_from((0.0, 0.01, 0.5, 1.0))),
        wet=draw(st.floats(0.6, 1.6)),
        dry=((373.15, dry), (1000.0, 1.4 * dry)),
    )


@st.composite
def programmes(draw):
    hours = draw(st.lists(st.floats(0.0, 3.0), min_size=1, max_size=6))
    levels = draw(st.lists(st.floats(290.0, 1030.0), min_size=len(hours) + 1, max_size=len(hours) + 1))
    return Programme(times=np.concatenate([[0.0], np.cumsum(np.array(hours) * 3600.0 + 60.0)]), temperatures=levels)


@FEW
@given(
    flask=flasks(),
    mould=moulds(),
    programme=programmes(),
    convection=st.floats(3.0, 40.0),
    emissivity=st.floats(0.0, 1.0),
    shelf=st.floats(0.0, 1.0),
)
def test_every_run_is_sound(flask, mould, programme, convection, emissivity, shelf):
    place = standing(convection=convection, emissivity=emissivity, shelf_convection=convection * shelf, shelf_view=shelf)
    course = burn(flask, mould, programme, place=place, start=293.15, care=COARSE)
    assert course.missing < 1e-3
    low, high = min(293.15, programme.temperatures.min()), max(293.15, programme.temperatures.max())
    assert low - 6.0 < course.temperature.min() <= course.temperature.max() < high + 6.0
    assert float(np.diff(course.water, axis=0).max()) <= 0.0
    assert 0.0 <= course.water.min() <= course.water.max() <= 1.0
    assert np.all(course.temperature[course.water > 0] < mould.boiling + 0.3) or mould.free_water == 0
    spent = time_between(course, 0.0, 5000.0)
    np.testing.assert_allclose(spent, course.time[-1] - course.time[0], rtol=1e-6)


@FEW
@given(mould=moulds(), share=st.sampled_from((0.4, 0.7)), seed=st.integers(0, 100))
def test_less_water_a_smaller_flask_or_a_better_film_never_dries_later(mould, share, seed):
    rng = np.random.default_rng(seed)
    radius, convection = rng.uniform(0.02, 0.05), rng.uniform(5.0, 20.0)
    programme = Programme(times=[0.0, 3600.0, 36000.0], temperatures=[293.15, 520.0, 520.0])

    def released(size, water, film):
        given_ = Mould(composition=mould.composition, water_share=water, wet=mould.wet, dry=mould.dry)
        place = standing(convection=film, emissivity=0.7, shelf_convection=film, shelf_view=1.0)
        return release_time(burn(Flask(radius=size, height=2.5 * size), given_, programme, place=place, start=293.15, care=COARSE))

    usual = released(radius, 1.0, convection)
    for other in (
        released(radius * share, 1.0, convection),
        released(radius, share, convection),
        released(radius, 1.0, convection / share),
    ):
        assert other <= usual


@FEW
@given(flask=flasks(), mould=moulds(), permeability=st.sampled_from((1e-14, 1e-13, 4e-13)))
def test_steam_presses_only_while_there_is_water_and_more_through_a_tighter_mould(flask, mould, permeability):
    place = standing(convection=10.0, emissivity=0.7, shelf_convection=5.0, shelf_view=0.5)
    programme = Programme(times=[0.0, 3600.0, 14400.0], temperatures=[293.15, 600.0, 600.0])
    course = burn(flask, mould, programme, place=place, start=293.15, care=COARSE)
    ends, over = overpressure(course, permeability=permeability)
    tighter = overpressure(course, permeability=permeability / 2)[1]
    assert np.all(over >= 0.0)
    assert np.all(tighter >= over)
    left = water_mass(course)
    boiling = np.diff(np.interp(np.concatenate([[0.0], ends]), course.time, left)) < -1e-12
    assert np.all((over > 0) == boiling) or mould.free_water == 0
    assert spread(course).min() >= 0.0
