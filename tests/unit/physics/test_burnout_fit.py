"""Factors on a mould and its place, probes at their places, and what is refused."""

from dataclasses import replace

import numpy as np
import pytest

from pourwell.errors import BadRequestError
from pourwell.physics.burnout.fit import Factors, Firing, Probe, fit, read_by, run
from pourwell.physics.burnout.march import Care, Programme, burn
from pourwell.physics.burnout.report import at_radius, wall_at
from pourwell.physics.burnout.setting import Flask, standing
from pourwell.physics.burnout.substance import Mould
from pourwell.physics.mould import compose
from pourwell.units import k_from_c

FLASK = Flask(radius=0.025, height=0.06)
MOULD = Mould(composition=compose(water_ratio=0.40, hemihydrate=0.28, powder_density=2550), dry=((423.15, 0.40), (873.15, 0.50)))
PLACE = standing(convection=12.0, emissivity=0.8, shelf_convection=6.0, shelf_view=0.5)
KILN = Programme(times=[0.0, 3600.0, 9000.0], temperatures=[293.15, 450.0, 600.0])
QUICK = Care(rings=8, layers=8, accuracy=6.0)
TIMES = np.arange(0.0, 9001.0, 300.0)


@pytest.fixture(scope="module")
def course():
    return burn(FLASK, MOULD, KILN, place=PLACE, start=293.15, care=QUICK)


def probe(**more):
    return Probe(**({"name": "core", "times": TIMES, "temperatures": np.full(TIMES.size, 300.0)} | more))


def firing(*probes, start=293.15):
    return Firing(flask=FLASK, mould=MOULD, place=PLACE, kiln=KILN, start=start, probes=probes, care=QUICK)


def test_factors_scale_conductivity_wet_and_dry_and_set_the_water():
    mould, _ = Factors(conductivity=0.8, water=0.7).on(MOULD, PLACE)
    assert mould.dry == ((423.15, pytest.approx(0.32)), (873.15, pytest.approx(0.40)))
    assert mould.wet == pytest.approx(0.88)
    assert mould.water_share == 0.7
    assert mould.composition is MOULD.composition


def test_factors_scale_air_and_radiation_of_every_face_up_to_a_black_body():
    _, place = Factors(film=1.1).on(MOULD, PLACE)
    assert (place.side.convection, place.lower.convection) == (pytest.approx(13.2), pytest.approx(6.6))
    assert place.upper.emissivity == pytest.approx(0.88)
    assert place.lower.view == 0.5
    _, black = Factors(film=2.0).on(MOULD, PLACE)
    assert black.side.emissivity == 1.0
    assert black.side.convection == pytest.approx(24.0)


def test_without_factors_all_stays_as_it_is():
    assert Factors().on(MOULD, PLACE) == (MOULD, PLACE)


def test_a_probe_reads_the_course_at_its_place_and_times(course):
    half = read_by(probe(radius_share=0.5, placing=1e-6), course, FLASK)
    assert half == pytest.approx(np.interp(TIMES, course.time, at_radius(course, 0.5)), abs=0.05)
    wall = read_by(probe(on_wall=True), course, FLASK)
    assert wall == pytest.approx(np.interp(TIMES, course.time, wall_at(course)))


def test_a_probe_on_the_axis_is_likely_a_little_off_it_and_never_beyond(course):
    core = probe(placing=0.003)
    likely = np.interp(TIMES, course.time, at_radius(course, 0.003 / FLASK.radius))
    assert read_by(core, course, FLASK) == pytest.approx(likely)
    on_it = np.interp(TIMES, course.time, at_radius(course, 0.0))
    assert read_by(core, course, FLASK, off=-0.71) == pytest.approx(on_it, abs=0.5)
    assert read_by(core, course, FLASK, off=-5.0) == pytest.approx(on_it)


def test_a_probe_farther_out_is_ahead_while_the_kiln_climbs(course):
    reads = [read_by(probe(radius_share=0.5), course, FLASK, off=off)[6:] for off in (-1.0, 0.0, 1.0)]
    assert reads[0].mean() < reads[1].mean() - 1 < reads[2].mean() - 2


def test_height_counts(course):
    middle, end = (read_by(probe(height_share=h), course, FLASK) for h in (0.5, 0.95))
    assert (end - middle).max() > 10


def test_a_run_with_factors_is_the_run_of_the_changed_mould():
    factors = Factors(conductivity=0.9, film=1.2, water=0.8)
    mould, place = factors.on(MOULD, PLACE)
    by_hand = burn(FLASK, mould, KILN, place=place, start=293.15, care=QUICK)
    assert run(firing(probe()), factors).temperature == pytest.approx(by_hand.temperature)


@pytest.mark.parametrize("probes", [(), (probe(times=np.zeros(0), temperatures=np.zeros(0)),)])
def test_a_record_without_a_reading_in_the_flask_is_refused(probes):
    with pytest.raises(BadRequestError, match="Nothing was read in the flask"):
        next(fit(firing(*probes), default=Factors(), doubt=Factors(conductivity=0.2, film=0.2, water=0.1)))


def test_a_record_that_begins_hot_is_refused():
    with pytest.raises(BadRequestError, match="begins at 120 °C in the flask") as caught:
        next(fit(firing(probe(), start=k_from_c(120)), default=Factors(), doubt=Factors(conductivity=0.2, film=0.2, water=0.1)))
    assert "flask cold" in caught.value.try_this


def drain(rounds):
    seen = []
    while True:
        try:
            seen.append(next(rounds))
        except StopIteration as end:
            return end.value, seen


def test_a_record_that_tells_nothing_keeps_every_default():
    """A flask that stays at the temperature of the room: nothing moves its readings."""
    still = replace(
        firing(probe(temperatures=np.full(TIMES.size, 293.15))), kiln=Programme(times=[0.0, 9000.0], temperatures=[293.15, 293.65])
    )
    doubt = Factors(conductivity=0.2, film=0.2, water=0.1)
    fitted, rounds = drain(fit(still, default=Factors(water=0.8), doubt=doubt))
    assert fitted.told == ()
    assert rounds == []
    assert fitted.factors == Factors(water=0.8)
    assert fitted.uncertainty == doubt


def test_what_is_told_says_how_far_each_probe_is_off_and_gives_its_curve():
    truth = Factors(conductivity=1.1, film=0.9, water=0.8)
    base = firing(probe())
    course = run(base, truth)
    probes = tuple(replace(p, temperatures=read_by(p, course, FLASK)) for p in (probe(), probe(name="half", radius_share=0.5)))
    fitted, rounds = drain(
        fit(replace(base, probes=probes), default=Factors(water=0.8), doubt=Factors(conductivity=0.2, film=0.2, water=0.1))
    )
    assert max(fitted.scatter) < 2.0
    assert [given.shape for given in fitted.given] == [TIMES.shape, TIMES.shape]
    assert fitted.factors.film == pytest.approx(0.9, abs=2.5 * fitted.uncertainty.film)
    assert fitted.rounds <= len(rounds)
