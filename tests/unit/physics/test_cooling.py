"""A lump that cools in air: limits that can be told without a formula."""

import math

import pytest

from pourwell.physics.cooling import Lump, cooling_time, inner_resistance, surface_flux

BODY = Lump(capacity=500.0, surface=0.02, inner=0.02)
ROOM = 293.0


def took(body=BODY, *, start=800.0, end=333.0, film=8.0, emissivity=0.8):
    return cooling_time(body, start=start, end=end, room=ROOM, film=film, emissivity=emissivity)


def test_what_is_cold_already_takes_no_time():
    assert took(start=330.0) == 0.0


def test_nothing_cools_to_its_room_or_under_it():
    with pytest.raises(ValueError, match="room"):
        took(end=ROOM)


def test_the_time_goes_with_the_heat_and_against_the_surface():
    twice = Lump(capacity=1000.0, surface=0.02, inner=0.02)
    wide = Lump(capacity=500.0, surface=0.04, inner=0.02)
    assert took(twice) == pytest.approx(2 * took())
    assert took(wide) == pytest.approx(took() / 2)


def test_two_legs_take_as_long_as_the_whole():
    assert took(end=500.0) + took(start=500.0) == pytest.approx(took())


def test_more_air_a_duller_side_and_a_worse_conductor_each_show():
    assert took(film=11.0) < took()
    assert took(emissivity=0.2) > took()
    assert took(Lump(capacity=500.0, surface=0.02, inner=0.05)) > took()


def test_the_flux_leaves_inside_and_outside_alike():
    flux = surface_flux(600.0, ROOM, inner=0.02, film=8.0, emissivity=0.8)
    face = 600.0 - flux * 0.02
    assert flux == pytest.approx(8.0 * (face - ROOM) + 0.8 * 5.670374419e-8 * (face**4 - ROOM**4), rel=1e-9)


def test_a_good_conductor_has_no_resistance_inside():
    assert inner_resistance(0.02, math.inf) == 0.0
