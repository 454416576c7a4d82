"""The drying front: closed form, scaling, what makes it faster, what never dries."""

import math

import numpy as np
import pytest

from pourwell.physics.drying import dry_time, film, rate, reached, sampled, shares, wet_volume
from pourwell.units import k_from_c

MOULD = {"radius": 0.038, "conductivity": 0.45, "heat": 1.3e9, "convection": 12.0, "emissivity": 0.8}


def held(level_c, hours):
    return [0.0, hours * 3600.0], [k_from_c(level_c)] * 2


def test_a_steady_kiln_dries_in_the_time_of_the_closed_form():
    coefficient = float(film(k_from_c(200), convection=12, emissivity=0.8))
    exact = dry_time(kiln=k_from_c(200), radius=0.038, conductivity=0.45, heat=1.3e9, coefficient=coefficient)
    times, share = shares(*held(200, 9), **MOULD)
    assert reached(times, share) == pytest.approx(exact, rel=1e-9)


def test_nothing_dries_under_the_boiling_point():
    _, share = shares(*held(95, 20), **MOULD)
    assert share[-1] == 0.0


def test_a_core_that_never_dries_is_told_as_never():
    assert reached(*shares(*held(110, 1), **MOULD)) == math.inf


def test_drying_time_goes_with_the_square_of_the_size_where_the_film_does_not_count():
    bare = {"kiln": k_from_c(150), "conductivity": 0.45, "heat": 1e9, "coefficient": math.inf}
    assert dry_time(radius=0.06, **bare) == pytest.approx(4 * dry_time(radius=0.03, **bare))


@pytest.mark.parametrize(("key", "better"), [("conductivity", 0.6), ("convection", 25.0), ("emissivity", 0.9)])
def test_what_carries_heat_better_dries_sooner(key, better):
    course = held(250, 12)
    assert reached(*shares(*course, **{**MOULD, key: better})) < reached(*shares(*course, **MOULD))


def test_more_heat_to_dry_takes_longer():
    course = held(250, 12)
    assert reached(*shares(*course, **{**MOULD, "heat": 1.5e9})) > reached(*shares(*course, **MOULD))


def test_the_film_grows_with_the_kiln_and_holds_its_convection():
    cold, hot = film([373.15, 900.0], convection=10, emissivity=0.8)
    assert 10 < cold < hot
    assert film(800.0, convection=10, emissivity=0) == 10


def test_the_rate_keeps_the_shape_of_what_it_is_asked():
    assert rate(np.array([300.0, 400.0, 600.0]), **MOULD).shape == (3,)


def test_a_course_is_read_at_its_corners_too():
    times, levels = sampled([0.0, 100.0, 100.0, 250.0], [300.0, 400.0, 400.0, 400.0])
    assert {0.0, 100.0, 250.0} <= set(times.tolist())
    assert levels[times.tolist().index(100.0)] == 400.0


@pytest.mark.parametrize("ratio", [0.0, 0.5, 2.0])
def test_the_wet_part_shrinks_from_all_to_nothing(ratio):
    volumes = [wet_volume(share, film_ratio=ratio) for share in np.linspace(-0.1, 1.1, 61)]
    assert volumes[0] == 1.0
    assert volumes[-1] == 0.0
    assert volumes == sorted(volumes, reverse=True)


def test_the_wet_part_solves_its_own_equation():
    s, b = wet_volume(0.4, film_ratio=0.7), 0.7
    assert ((1 - s) * (1 + b) + s * math.log(s)) / (1 + b) == pytest.approx(0.4)
