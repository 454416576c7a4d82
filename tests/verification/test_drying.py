"""The bookkeeping of the drying front against closed forms, an exact front, and runs of a full enthalpy model."""

import math

import numpy as np
import pytest

from pourwell.physics.drying import dry_time, film, reached, shares, wet_volume
from pourwell.physics.lag import ramp_lag, settling_time
from pourwell.physics.mould import WATER_LATENT, compose, heat_to_dry
from pourwell.units import k_from_c

MOULD = compose(water_ratio=0.40, hemihydrate=0.30, powder_density=2550)
BOILING_ALONE = 434 * WATER_LATENT
SLOW = {50: (192, 174), 76: (245, 215), 100: (304, 259), 127: (376, 323)}
"""Diameter [mm] to the minutes until the core leaves 100 degC in runs of a full model: wet, and with 40 % of the water gone."""
COURSE = (
    [m * 60.0 for m in (0, 30, 120, 180, 300, 390, 570, 660, 780)],
    [k_from_c(c) for c in (20, 150, 150, 370, 370, 730, 730, 500, 500)],
)
"""The reference schedule of those runs."""


def released_min(diameter_mm, *, conductivity=0.45, heat=None, convection=10.0, emissivity=0.75):
    times, share = shares(
        *COURSE,
        radius=diameter_mm / 2000,
        conductivity=conductivity,
        heat=heat or heat_to_dry(MOULD),
        convection=convection,
        emissivity=emissivity,
    )
    return reached(times, share) / 60


@pytest.mark.parametrize(
    ("diameter_mm", "hours"),
    [
        (50, (4.61, 2.08, 1.28, 0.63)),
        (76, (8.50, 3.91, 2.44, 1.23)),
        (100, (13.0, 6.05, 3.82, 1.96)),
        (127, (19.1, 8.97, 5.71, 2.97)),
    ],
)
def test_drying_in_a_steady_kiln_follows_the_closed_form(diameter_mm, hours):
    """Quasi-steady cylinder with a film (Carslaw & Jaeger 1959, chapter 11), 16 values worked out apart from this code; 0.5 %."""
    kilns = ((150, 25), (200, 30), (250, 35), (370, 45))
    got = [
        dry_time(kiln=k_from_c(c), radius=diameter_mm / 2000, conductivity=0.45, heat=BOILING_ALONE, coefficient=h) / 3600
        for c, h in kilns
    ]
    assert got == pytest.approx(hours, rel=5e-3)


@pytest.mark.parametrize(("diameter_mm", "at_150", "at_370"), [(64, 4.0, 0.7), (76, 5.6, 1.0), (89, 7.6, 1.4), (102, 10.0, 1.9)])
def test_a_published_lag_table_is_met_without_a_film(diameter_mm, at_150, at_370):
    """Radial Stefan estimate with 1.25 GJ/m3, hours, given to one digit; 6 %."""
    ask = {"radius": diameter_mm / 2000, "conductivity": 0.45, "heat": 1.25e9, "coefficient": math.inf}
    assert dry_time(kiln=k_from_c(150), **ask) / 3600 == pytest.approx(at_150, rel=0.06)
    assert dry_time(kiln=k_from_c(370), **ask) / 3600 == pytest.approx(at_370, rel=0.06)


@pytest.mark.parametrize(("celsius", "front"), [(150, 0.175995), (200, 0.246423), (300, 0.341952)])
def test_a_very_large_cylinder_dries_like_the_exact_plane_front(celsius, front):
    """Neumann's front in a mould already at 100 degC (Carslaw & Jaeger 1959, section 11.2): depth 2 lambda sqrt(alpha t) after 1 h.

    Quasi-steady neglects the heat that the dry zone takes up, so it runs ahead: by 1 % at 150, 4 % at 300 degC.
    """
    exact_mm = 2 * front * math.sqrt(3.632e-7 * 3600) * 1e3
    radius = 50.0
    whole = dry_time(kiln=k_from_c(celsius), radius=radius, conductivity=0.45, heat=BOILING_ALONE, coefficient=1e9)
    depth_mm = radius * (1 - math.sqrt(wet_volume(3600 / whole, film_ratio=0.0))) * 1e3
    assert exact_mm < depth_mm < 1.045 * exact_mm, f"observed {depth_mm:.2f}, exact {exact_mm:.2f} mm"


@pytest.mark.parametrize("diameter_mm", SLOW)
def test_the_core_is_dry_when_a_full_enthalpy_model_says(diameter_mm):
    """Axisymmetric runs on 18 radial cells made apart from this code, minutes; the two share their properties. Held to 5 %."""
    got = released_min(diameter_mm)
    assert got == pytest.approx(SLOW[diameter_mm][0], rel=0.05), f"observed {got:.0f} min"


@pytest.mark.parametrize("diameter_mm", SLOW)
def test_a_flask_with_four_tenths_of_its_water_gone_dries_when_that_model_says(diameter_mm):
    """The same runs after steam or standing took 40 % of the free water."""
    less = 0.4 * MOULD.free_water * (WATER_LATENT + 4186 * 80)
    assert released_min(diameter_mm, heat=heat_to_dry(MOULD) - less) == pytest.approx(SLOW[diameter_mm][1], rel=0.05)


@pytest.mark.parametrize(
    ("change", "minutes"),
    [
        ({"conductivity": 0.30}, 275),
        ({"conductivity": 0.60}, 229),
        ({"convection": 5.0, "emissivity": 0.6}, 261),
        ({"convection": 25.0, "emissivity": 0.9}, 227),
    ],
)
def test_the_ends_of_the_inputs_move_the_time_as_in_that_model(change, minutes):
    """The same runs for 76 mm, with mould conductivity and kiln at the ends of their bands; 10 %."""
    assert released_min(76, **change) == pytest.approx(minutes, rel=0.10)


def test_a_hold_at_150_does_not_dry_any_flask():
    """In those runs 0.56, 0.77, 0.86, 0.93 of the mould is still wet when the hold at 150 ends.

    The order is met, and all but the smallest to 0.06; that one comes out wetter (0.70), for it dries from its ends too, which a
    long cylinder does not know: the error lies on the safe side.
    """
    wet = []
    for diameter_mm in SLOW:
        times, share = shares(
            *COURSE, radius=diameter_mm / 2000, conductivity=0.45, heat=heat_to_dry(MOULD), convection=10, emissivity=0.75
        )
        coefficient = float(film(k_from_c(150), convection=10, emissivity=0.75))
        ratio = 2 * 0.45 / (coefficient * diameter_mm / 2000)
        wet.append(wet_volume(float(np.interp(7200, times, share)), film_ratio=ratio))
    assert wet == sorted(wet)
    assert wet == pytest.approx([0.56, 0.77, 0.86, 0.93], abs=0.15)
    assert wet[1:] == pytest.approx([0.77, 0.86, 0.93], abs=0.06)


@pytest.mark.parametrize(("diameter_mm", "kelvin"), [(50, 37.67), (76, 87.04), (100, 150.69), (127, 243.06)])
def test_a_ramp_of_five_degrees_a_minute_lags_as_the_closed_form_says(diameter_mm, kelvin):
    """beta R^2 / 4 alpha (Carslaw & Jaeger 1959, section 7.7), for k 0.45, 1240 kg/m3, 1050 J/kgK; 0.1 %."""
    assert ramp_lag(5 / 60, radius=diameter_mm / 2000, diffusivity=0.45 / 1240 / 1050) == pytest.approx(kelvin, rel=1e-3)


@pytest.mark.parametrize(("diameter_mm", "minutes"), [(50, 5.2), (76, 12.0), (100, 20.8), (127, 33.6)])
def test_a_core_comes_to_its_rim_in_the_time_of_the_slowest_term(diameter_mm, minutes):
    """R^2 / 5.783 alpha, the first term of the cylinder's series; given to a tenth of a minute."""
    assert settling_time(radius=diameter_mm / 2000, diffusivity=0.45 / 1240 / 1050) / 60 == pytest.approx(minutes, abs=0.06)
