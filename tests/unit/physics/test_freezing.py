"""Freezing: scaling, curvature, open faces, moulds too hot to freeze in."""

import math

import pytest

from pourwell.physics.freezing import MouldSide, cap_shape, cap_volume, face_flux, freezing_time, superheat_time

MOULD = MouldSide(conductivity=0.45, density=1240, heat_capacity=1050, temperature=773.15)
METAL = {"heat": 1.8e5, "density": 9280, "front": 1075.15, "mould": MOULD}


def hotter(kelvin):
    return MouldSide(conductivity=0.45, density=1240, heat_capacity=1050, temperature=773.15 + kelvin)


def test_a_plate_takes_four_times_as_long_when_twice_as_thick():
    assert freezing_time(2e-3, **METAL) == pytest.approx(4 * freezing_time(1e-3, **METAL))


def test_a_bulge_freezes_sooner_than_a_plate_of_its_modulus():
    assert freezing_time(2e-3, **METAL, curvature=200.0) < freezing_time(2e-3, **METAL)


def test_an_open_face_helps():
    assert freezing_time(2e-3, **METAL, aside=5e3) < freezing_time(2e-3, **METAL)


def test_metal_in_a_mould_as_hot_as_itself_never_freezes_unless_its_face_is_open():
    blind = {**METAL, "mould": hotter(400)}
    assert freezing_time(2e-3, **blind) == math.inf
    assert freezing_time(2e-3, **blind, aside=1e4) == pytest.approx(9280 * 2e-3 * 1.8e5 / 1e4)


def test_a_hotter_mould_takes_longer():
    times = [freezing_time(2e-3, **{**METAL, "mould": hotter(k)}) for k in (0, 50, 150)]
    assert times == sorted(times)


def test_superheat_lasts_longer_in_a_hotter_mould_and_not_at_all_without_superheat():
    metal = {"heat_capacity": 325, "density": 9270, "liquidus": 1169.15}
    cool = superheat_time(1e-3, **metal, pour=1243.15, mould=MOULD)
    warm = superheat_time(1e-3, **metal, pour=1243.15, mould=hotter(100))
    assert 0 < cool < warm
    assert superheat_time(1e-3, **metal, pour=1169.15, mould=MOULD) == 0.0


def test_a_half_ball_is_a_cap_with_the_modulus_of_its_ball():
    modulus, curvature = cap_shape(0.02, 0.01)
    assert modulus == pytest.approx(0.01 / 3)
    assert curvature == pytest.approx(100.0)
    assert cap_volume(0.02, 0.01) == pytest.approx(2 / 3 * math.pi * 1e-6)


def test_a_face_as_warm_as_the_room_loses_nothing():
    assert face_flux(293.15, 293.15, emissivity=0.5, coefficient=10) == 0.0
    assert face_flux(1000, 300, emissivity=0.0, coefficient=10) == pytest.approx(7000)


def test_effusivity_and_diffusivity_are_one_set():
    assert MOULD.effusivity**2 == pytest.approx(MOULD.conductivity**2 / MOULD.diffusivity)
