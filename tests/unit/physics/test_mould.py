"""The mould: mass is kept, heat never falls, less water than the binder needs is refused."""

import pytest

from pourwell.physics.mould import BOILING, WATER_LATENT, compose, enthalpy, heat_to_dry, powder_in_slurry
from pourwell.units import k_from_c


def standard(**changes):
    return compose(**{"water_ratio": 0.40, "hemihydrate": 0.28, "powder_density": 2550, **changes})


def test_the_parts_of_a_slurry_add_up():
    made = standard()
    assert made.powder * 1.40 == pytest.approx(made.slurry)
    assert made.powder / 2550 + 0.40 * made.powder / 1000 == pytest.approx(1.0)


def test_mass_is_kept_from_slurry_to_burnt_mould():
    made = standard()
    assert made.burnt + made.bound_water + made.free_water == pytest.approx(made.slurry)


def test_more_water_leaves_a_lighter_and_more_porous_mould():
    thick, thin = standard(water_ratio=0.35), standard(water_ratio=0.44)
    assert thin.burnt < thick.burnt
    assert thin.porosity > thick.porosity
    assert powder_in_slurry(water_ratio=0.35, powder_density=2550) > powder_in_slurry(water_ratio=0.44, powder_density=2550)


def test_less_water_than_the_binder_takes_up_is_refused():
    with pytest.raises(ValueError, match="that the binder takes up"):
        standard(water_ratio=0.04, hemihydrate=0.30)


def test_a_mould_without_gypsum_holds_no_bound_water():
    made = standard(hemihydrate=0.0)
    assert (made.gypsum, made.bound_water) == (0.0, 0.0)
    assert made.free_water == pytest.approx(0.40 * made.powder)


def test_heat_counts_from_room_temperature_and_never_falls():
    made = standard()
    heats = [enthalpy(made, k_from_c(c)) for c in range(20, 800, 5)]
    assert heats[0] == 0.0
    assert heats == sorted(heats)


def test_the_water_boils_off_at_one_temperature():
    made = standard()
    jump = enthalpy(made, BOILING) - enthalpy(made, BOILING - 1e-6)
    assert jump == pytest.approx(made.free_water * WATER_LATENT, rel=1e-3)


def test_heat_without_the_free_water_is_less_by_what_water_takes():
    made = standard()
    saved = enthalpy(made, 500.0) - enthalpy(made, 500.0, water=False)
    assert saved == pytest.approx(made.free_water * (WATER_LATENT + 4186 * 80), rel=1e-6)


def test_drying_takes_more_than_boiling_alone():
    made = standard()
    assert heat_to_dry(made) > enthalpy(made, BOILING) > made.free_water * WATER_LATENT
