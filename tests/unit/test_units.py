"""Units: fixed points by definition, every way there and back, and the suffixes of names."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell import units

THERE_AND_BACK = [
    (units.m_from_mm, units.mm_from_m),
    (units.mm_from_inch, units.inch_from_mm),
    (units.cm3_from_mm3, units.mm3_from_cm3),
    (units.k_from_c, units.c_from_k),
    (units.c_from_f, units.f_from_c),
    (units.s_from_min, units.min_from_s),
    (units.s_from_h, units.h_from_s),
    (units.min_from_h, units.h_from_min),
    (units.kpa_from_pa, units.pa_from_kpa),
    (units.inhg_from_pa, units.pa_from_inhg),
]


@pytest.mark.parametrize(("there", "back"), THERE_AND_BACK, ids=lambda f: f.__name__)
@given(value=st.floats(-1e6, 1e6))
def test_a_value_comes_back_as_it_went(there, back, value):
    assert back(there(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(
    ("got", "expected"),
    [
        (units.k_from_c(0.01), 273.16),  # triple point of water, SI before 2019
        (units.c_from_k(0.0), -273.15),  # absolute zero, ITS-90
        (units.c_from_f(212.0), 100.0),  # steam point on both scales
        (units.c_from_f(-40.0), -40.0),  # where the two scales meet
        (units.f_from_c(1064.18), 1947.524),  # gold point, ITS-90
        (units.mm_from_inch(12.0), 304.8),  # international foot, 1959
        (units.m2_from_mm2(1e6), 1.0),
        (units.m3_from_mm3(1e9), 1.0),
        (units.m3_from_cm3(1e6), 1.0),
        (units.kg_per_m3_from_g_per_cm3(10.49), 10490.0),  # silver
        (units.j_per_kg_from_kj_per_kg(104.7), 104700.0),
        (units.s_from_h(24.0), 86400.0),
        (units.min_from_h(1.5), 90.0),
        (units.kwh_from_j(3.6e6), 1.0),
    ],
)
def test_fixed_points_hold(got, expected):
    assert got == pytest.approx(expected, rel=1e-12)


def test_a_standard_atmosphere_is_29_92_inches_of_mercury():
    """ISO 2533 (1975): 101 325 Pa; the altimeter setting of 29.92 inHg is its usual form."""
    assert units.inhg_from_pa(101_325.0) == pytest.approx(29.92, abs=0.005)


def test_the_weights_of_the_trade_agree_with_each_other():
    """A troy ounce is 20 pennyweight and 480 grains, a pound avoirdupois 7000 grains and 16 ounces (1959 agreement)."""
    grain_g = units.G_PER_POUND / 7000
    assert pytest.approx(20 * units.G_PER_PENNYWEIGHT) == units.G_PER_TROY_OUNCE
    assert pytest.approx(480 * grain_g) == units.G_PER_TROY_OUNCE
    assert pytest.approx(16 * units.G_PER_OUNCE) == units.G_PER_POUND


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("wall_mm", "mm"),
        ("density_g_per_cm3", "g/cm3"),
        ("volume_cm3", "cm3"),
        ("ramp_c_per_h", "K/h"),
        ("water_g_per_100_g", "g per 100 g"),
        ("conductivity_dry_w_per_m_k", "W/(m K)"),
        ("cp_solid_j_per_kg_k", "J/(kg K)"),
        ("melt_loss_fraction", "1"),
        ("fineness_permille", "permille"),
        ("mm", "mm"),
        ("transfer_s", "s"),
    ],
)
def test_the_longest_suffix_says_the_unit(name, unit):
    assert units.unit_of(name) == unit


@pytest.mark.parametrize("name", ["length", "values", "gamma", "program", "", "temperature", "walls"])
def test_a_name_without_a_suffix_has_no_unit(name):
    assert units.unit_of(name) is None


@pytest.mark.parametrize("suffix", units.SUFFIXES)
def test_every_suffix_is_found_behind_any_name(suffix):
    assert units.unit_of(f"thing_{suffix}") == units.SUFFIXES[suffix]
    assert re.fullmatch(r"[a-z0-9_]+", suffix)


def test_hotter_stays_hotter_on_every_scale():
    celsius = [-40.0, 0.0, 20.0, 732.0, 1064.18]
    for convert in (units.k_from_c, units.f_from_c):
        assert sorted(map(convert, celsius)) == [convert(c) for c in celsius]
    assert math.isclose(units.k_from_c(21.0) - units.k_from_c(20.0), 1.0)
