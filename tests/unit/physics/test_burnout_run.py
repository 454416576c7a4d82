"""How a run through the kiln is set up, refused, judged, continued and read."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from pourwell.errors import BadRequestError, UnsoundResultError
from pourwell.physics.burnout.march import Care, Programme, burn
from pourwell.physics.burnout.report import (
    at_depth,
    at_radius,
    coldest,
    dry_time,
    first_above,
    flux_while_wet,
    heat_drawn,
    lag_in,
    lag_while_wet,
    release_time,
    running_mean,
    settled_time,
    spread,
    steam_rate,
    time_between,
    wall_at,
    water_mass,
)
from pourwell.physics.burnout.setting import LOWER, SIDE, UPPER, Face, Flask, Place, cut, fill_films, standing, view_past
from pourwell.physics.burnout.steam import overpressure, pressure_drop, steam_viscosity
from pourwell.physics.burnout.substance import PLATEAU, Laws, Mould, curves_of, stages_of, turn_of, water_left
from pourwell.physics.mould import BOILING, compose, enthalpy
from pourwell.units import k_from_c

MADE = compose(water_ratio=0.40, hemihydrate=0.30, powder_density=2550)
MOULD = Mould(composition=MADE)
FLASK = Flask(radius=0.025, height=0.06)
FACE = Face(convection=10.0, emissivity=0.75)
PLACE = Place(side=FACE, upper=FACE, lower=FACE)
QUICK = Care(rings=8, layers=10, accuracy=6.0)
FIRING = Programme(times=[0.0, 3600.0, 14400.0, 18000.0, 25200.0], temperatures=[293.15, 500.0, 500.0, 900.0, 900.0])


@pytest.fixture(scope="module")
def course():
    return burn(FLASK, MOULD, FIRING, place=PLACE, start=293.15, care=QUICK)


@pytest.mark.parametrize(
    "change",
    [
        {"radius": 0.0},
        {"height": -1.0},
        {"wall": -0.001},
        {"open_share": 1.0},
        {"contact": 0.0},
    ],
)
def test_a_flask_that_cannot_be_is_refused(change):
    with pytest.raises(BadRequestError, match="does not exist"):
        replace(FLASK, **change)


@pytest.mark.parametrize("change", [{"convection": -1.0}, {"convection": math.inf}, {"emissivity": 1.1}, {"view": -0.1}])
def test_a_film_that_cannot_be_is_refused(change):
    with pytest.raises(BadRequestError, match="does not exist"):
        replace(FACE, **change)


@pytest.mark.parametrize("change", [{"water_share": 1.2}, {"wet": 0.0}, {"dry": ()}, {"dry": ((373.15, -0.1),)}])
def test_a_mould_that_cannot_be_is_refused(change):
    with pytest.raises(BadRequestError, match="no proper water or conductivity"):
        replace(MOULD, **change)


@pytest.mark.parametrize(
    ("times", "temperatures"),
    [
        ([0.0], [293.15]),
        ([0.0, 100.0], [293.15]),
        ([0.0, -1.0], [293.15, 300.0]),
        ([0.0, 0.0], [293.15, 300.0]),
        ([0.0, 100.0], [293.15, 0.0]),
        ([0.0, math.nan], [293.15, 300.0]),
    ],
)
def test_a_programme_that_goes_nowhere_is_refused(times, temperatures):
    with pytest.raises(BadRequestError, match="no proper course"):
        Programme(times=times, temperatures=temperatures)


def test_a_programme_is_straight_between_its_corners():
    assert FIRING.at([0.0, 1800.0, 3600.0, 10000.0, 16200.0]) == pytest.approx([293.15, 396.575, 500.0, 500.0, 700.0])


def test_films_are_written_for_the_face_they_belong_to():
    place = standing(convection=12.0, emissivity=0.8, beside=0.6, shelf_convection=4.0, shelf_view=0.25)
    film = np.zeros((3, 3))
    fill_films(film, place, 700.0)
    assert film[:, 0] == pytest.approx([12.0, 12.0, 4.0])
    assert film[:, 1] / 5.670374419e-8 == pytest.approx([0.48, 0.8, 0.2])
    assert film[:, 2] == pytest.approx(700.0)
    fill_films(film, replace(place, lower=replace(place.lower, outside=300.0)), 700.0)
    assert film[:, 2] == pytest.approx([700.0, 700.0, 300.0])
    assert (SIDE, UPPER, LOWER) == (0, 1, 2)


def test_flasks_apart_see_all_of_the_kiln_and_a_crowd_is_refused():
    assert view_past(diameter=0.08, gap=100.0, neighbours=2) == pytest.approx(1.0, abs=1e-3)
    views = [view_past(diameter=0.08, gap=g, neighbours=2) for g in (0.0, 0.02, 0.05)]
    assert views == sorted(views)
    assert view_past(diameter=0.08, gap=0.05, neighbours=0) == 1.0
    with pytest.raises(BadRequestError, match="hide the kiln"):
        view_past(diameter=0.08, gap=0.0, neighbours=6)
    with pytest.raises(BadRequestError, match="make no view"):
        view_past(diameter=0.08, gap=-0.01, neighbours=1)


@pytest.mark.parametrize(("wall", "open_share"), [(0.0, 0.0), (0.002, 0.0), (0.002, 0.35)])
def test_rings_fill_the_flask_and_their_faces_cover_it(wall, open_share):
    flask = Flask(radius=0.03, height=0.08, wall=wall, open_share=open_share)
    rings = cut(flask, rings=7, layers=5)
    steel = rings.net.steel
    mould = float(rings.net.volume[~steel].sum())
    assert mould == pytest.approx(math.pi * 0.03**2 * 0.08)
    metal = math.pi * (0.032**2 - 0.03**2) * 0.08 * (1 - open_share) if wall else 0.0
    assert float(rings.net.volume[steel].sum()) == pytest.approx(metal)
    side = rings.outer.area[rings.outer.face == SIDE].sum()
    bare = 2 * math.pi * 0.03 * 0.08
    assert side == pytest.approx(2 * math.pi * 0.032 * 0.08 * (1 - open_share) + bare * open_share if wall else bare)
    for end in (UPPER, LOWER):
        assert rings.outer.area[rings.outer.face == end].sum() == pytest.approx((mould + metal) / 0.08)
    assert rings.rim.size == (5 if wall else 0)
    assert rings.bare.size == (5 if open_share or not wall else 0)
    assert np.all(rings.net.first < rings.net.second)
    assert np.all(rings.net.second - rings.net.first <= rings.shape[1])


def test_a_ring_wall_conducts_by_its_logarithm():
    """From middle to middle of two rings: ln(r2/r1) / (2 pi H) over the conductivity."""
    rings = cut(Flask(radius=0.03, height=0.08, wall=0.0), rings=6, layers=2)
    net = rings.net
    face = int(np.flatnonzero((net.first == 2) & (net.second == 3))[0])
    exact = math.log(rings.middle[3] / rings.middle[2]) / (2 * math.pi * 0.04)
    assert net.near[face] + net.far[face] == pytest.approx(exact)


def test_too_few_rings_are_refused():
    with pytest.raises(BadRequestError, match="too few"):
        cut(FLASK, rings=1, layers=5)


def test_the_heat_of_a_mould_is_that_of_the_budget():
    for celsius in (20, 60, 100, 130, 180, 250, 400, 573, 700, 760):
        t = k_from_c(celsius)
        assert float(MOULD.heat(t)) == pytest.approx(enthalpy(MADE, t), rel=1e-12, abs=1e-3)
    half = replace(MOULD, water_share=0.5)
    water = enthalpy(MADE, 500.0) - enthalpy(MADE, 500.0, water=False)
    assert float(MOULD.heat(500.0) - half.heat(500.0)) == pytest.approx(0.5 * water)


def test_a_burnt_mould_goes_back_without_its_water_and_gypsum():
    hot, cool = (float(MOULD.heat(k_from_c(c), burnt=True)) for c in (600, 20))
    assert float(MOULD.heat(k_from_c(600))) == hot
    inversions = MADE.silica / 2 * (18e3 + 11e3)
    sensible = MADE.burnt * float(Laws().solid(np.array(k_from_c(600))))
    assert hot - cool == pytest.approx(sensible + inversions, rel=1e-9)


def test_curves_rise_and_hold_the_plateau_where_the_water_boils():
    curves, stages = curves_of(MOULD, FLASK.steel), stages_of(MOULD)
    for row, n in enumerate(curves.knots):
        assert np.all(np.diff(curves.heat[row, :n]) > 0)
        assert np.all(np.diff(curves.temperature[row, :n]) > 0)
    assert stages.dry - stages.wet == pytest.approx(MADE.free_water * 2.257e6, rel=2e-3)
    assert water_left(stages, np.array([0.0, stages.wet, 0.5 * (stages.wet + stages.dry), stages.dry])) == pytest.approx(
        [1, 1, 0.5, 0]
    )
    low = replace(MOULD, boiling=BOILING - 5)
    assert stages_of(low).wet < stages.wet


def test_a_mould_without_water_has_no_plateau():
    dry = replace(MOULD, water_share=0.0)
    stages = stages_of(dry)
    assert stages.dry == stages.wet
    assert stages.share == 0.0
    assert np.all(water_left(stages, np.array([0.0, 1e9])) == 0.0)
    turn = turn_of(np.array([0.0, 1e9]), stages=stages, curves=curves_of(dry, FLASK.steel))
    assert np.all(turn.water == 0.0)


def test_the_end_of_one_run_is_the_beginning_of_the_next(course):
    whole = np.array(FIRING.times)
    first = burn(
        FLASK, MOULD, Programme(times=whole[:3], temperatures=FIRING.temperatures[:3]), place=PLACE, start=293.15, care=QUICK
    )
    second = burn(
        FLASK, MOULD, Programme(times=whole[2:], temperatures=FIRING.temperatures[2:]), place=PLACE, start=first.end, care=QUICK
    )
    assert first.taken[-1] + second.taken[-1] == pytest.approx(course.taken[-1], rel=1e-4)
    np.testing.assert_allclose(second.temperature[-1], course.temperature[-1], atol=0.5)
    assert second.time[0] == 14400.0


def test_a_run_does_not_go_on_from_another_grid(course):
    with pytest.raises(BadRequestError, match="another grid"):
        burn(FLASK, MOULD, FIRING, place=PLACE, start=course.end, care=replace(QUICK, rings=9))


def test_a_run_that_does_not_converge_is_an_error_and_not_a_result():
    with pytest.raises(UnsoundResultError, match="did not converge"):
        burn(FLASK, MOULD, FIRING, place=PLACE, start=293.15, care=replace(QUICK, rounds=1))


def test_a_ledger_that_does_not_close_is_an_error_and_not_a_result():
    with pytest.raises(UnsoundResultError, match="ledger is off"):
        burn(FLASK, MOULD, FIRING, place=PLACE, start=293.15, care=replace(QUICK, ledger=0.0))


def test_loose_balances_show_in_the_ledger(course):
    loose = burn(FLASK, MOULD, FIRING, place=PLACE, start=293.15, care=replace(QUICK, balance=0.05, ledger=1.0))
    assert loose.missing > 3 * course.missing
    assert course.missing < 1e-4
    assert 0 < course.steps <= course.solved


def test_a_course_cannot_be_written_to(course):
    for values in (course.time, course.temperature, course.water, course.taken, course.end.heat, FIRING.times):
        with pytest.raises(ValueError, match="read-only"):
            values[0] = 0.0


def test_the_course_starts_and_ends_where_it_should_and_meets_every_corner(course):
    assert course.time[0] == 0.0
    assert set(FIRING.times) <= {round(t, 6) for t in course.time}
    assert np.all(np.diff(course.time) > 0)
    assert np.all(course.temperature[0] == pytest.approx(293.15))
    assert course.kiln[-1] == 900.0
    assert course.volume.sum() == pytest.approx(math.pi * 0.025**2 * 0.06)


def test_depths_and_shares_of_the_radius_read_the_same_field(course):
    np.testing.assert_allclose(at_depth(course, 0.010), at_radius(course, 0.6), atol=1e-9)
    rim, core = at_radius(course, 1.0), at_radius(course, 0.0)
    i = int(np.searchsorted(course.time, 2400.0))
    assert rim[i] > at_radius(course, 0.5)[i] > core[i]
    np.testing.assert_allclose(core, 0.5 * (course.temperature[:, 4, 0] + course.temperature[:, 5, 0]), rtol=1e-12)
    assert wall_at(course)[i] > rim[i]
    for outside in (-0.1, 1.1):
        with pytest.raises(BadRequestError, match="outside"):
            at_radius(course, outside)


def test_water_leaves_once_and_all_of_it(course):
    left = water_mass(course)
    assert left[0] == pytest.approx(MADE.free_water * course.volume.sum())
    assert float((steam_rate(course) * np.diff(course.time)).sum()) == pytest.approx(left[0], rel=1e-9)
    assert left[-1] == 0.0
    assert release_time(course) <= dry_time(course) + 60
    none = burn(FLASK, replace(MOULD, water_share=0.0), FIRING, place=PLACE, start=293.15, care=QUICK)
    assert dry_time(none) == 0.0
    assert release_time(none) < release_time(course)


def test_what_the_kiln_gave_is_what_went_in_and_not_what_came_back(course):
    assert course.taken[-1] <= heat_drawn(course) < 1.002 * course.taken[-1]
    back = Programme(times=[0.0, 7200.0], temperatures=[600.0, 600.0])
    cooled = burn(FLASK, MOULD, back, place=PLACE, start=course.end, care=QUICK)
    assert cooled.taken[-1] < 0.0
    assert heat_drawn(cooled) < -0.005 * cooled.taken[-1]


def test_what_never_happens_is_infinite():
    cold = Programme(times=[0.0, 3600.0], temperatures=[293.15, 320.0])
    still = burn(FLASK, MOULD, cold, place=PLACE, start=293.15, care=QUICK)
    assert math.isinf(dry_time(still))
    assert math.isinf(release_time(still))
    assert math.isinf(settled_time(still, 900.0, within=5.0))
    assert lag_in(still, k_from_c(200), k_from_c(300)) == 0.0
    assert float(steam_rate(still).max()) == 0.0
    ends, over = overpressure(still, permeability=1e-13)
    assert np.all(over == 0.0)
    assert ends[-1] == 3600.0


def test_times_between_levels_add_up_to_the_whole(course):
    edges = [0.0, 350.0, 500.0, 700.0, 2000.0]
    total = sum(time_between(course, a, b) for a, b in pairwise(edges))
    np.testing.assert_allclose(total, course.time[-1], rtol=1e-9)
    assert time_between(course, 700.0, 2000.0)[5, 0] < time_between(course, 700.0, 2000.0)[5, -1]


def test_a_trace_is_read_between_the_steps(course):
    linear = course.time / course.time[-1]
    assert first_above(course, linear, 0.25) == pytest.approx(course.time[-1] / 4)
    assert first_above(course, linear + 1.0, 0.5) == 0.0


def test_unevenness_and_the_coldest_ring_are_those_of_the_field(course):
    i = int(np.argmax(spread(course)))
    field = course.temperature[i]
    assert spread(course)[i] == pytest.approx(field.max() - field.min())
    assert coldest(course)[i] == field.min()
    assert settled_time(course, 900.0, within=1e6) == 0.0
    since = settled_time(course, 900.0, within=10.0)
    assert 18000.0 < since < 25200.0


def test_lags_shrink_inwards_and_the_window_is_read_at_its_ends(course):
    window = (k_from_c(200), k_from_c(300))
    assert lag_in(course, *window, inside=0.5) < lag_in(course, *window)
    core, rim = at_radius(course, 0.0), at_radius(course, 1.0)
    at_200 = first_above(course, core, window[0])
    assert lag_in(course, *window) >= float(np.interp(at_200, course.time, rim)) - window[0] - 1e-6
    assert lag_while_wet(course) > lag_in(course, k_from_c(560), k_from_c(590))


def test_flux_counts_only_while_there_is_water(course):
    flux = flux_while_wet(course)
    assert np.all(flux[course.time > dry_time(course) + 1] == 0.0)
    assert 1e3 < flux.max() < 1e4


def test_a_running_mean_keeps_what_is_level_halves_what_is_steep_at_the_ends_and_spreads_a_jump(course):
    """A level trace stays; of a straight one the middle stays and the ends come in by a quarter of the window."""
    level, straight = np.full(course.time.size, 7.0), course.time.copy()
    assert running_mean(course, level, over=1200.0) == pytest.approx(level)
    mean = running_mean(course, straight, over=1200.0)
    inner = (course.time > 600.0) & (course.time < course.time[-1] - 600.0)
    assert mean[inner] == pytest.approx(straight[inner])
    assert mean[0] == pytest.approx(straight[0] + 300.0)
    flux = flux_while_wet(course)
    assert running_mean(course, flux, over=1200.0).max() < flux.max()


@pytest.mark.parametrize(
    "wrong", [{"permeability": 0.0}, {"permeability": 1e-13, "outside": -1.0}, {"permeability": 1e-13, "window": 0.0}]
)
def test_steam_with_no_way_out_is_refused(course, wrong):
    with pytest.raises(BadRequestError, match="no way out"):
        overpressure(course, **wrong)


def test_steam_is_thicker_when_hot_and_its_pressure_goes_with_flux_and_depth():
    assert np.all(np.diff(steam_viscosity([380.0, 500.0, 700.0, 900.0])) > 0)
    one = pressure_drop(1e3, depth=0.01, permeability=1e-13)
    assert pressure_drop(2e3, depth=0.03, permeability=1e-13) == pytest.approx(6 * one)
    assert PLATEAU < 2.0
