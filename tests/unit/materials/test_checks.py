"""The checks of a row: each fault is found, and a sound row has none."""

import pytest

from pourwell.materials.checks import mould_limit_c, poisons, row_faults
from pourwell.materials.library import load_library
from pourwell.materials.model import Grade, Quantity

LIBRARY = load_library()
STERLING = LIBRARY.alloy("sterling-925")
GYPSUM = LIBRARY.investment("gypsum-standard")


def q(value, low=None, high=None):
    return Quantity(value=value, low=low, high=high, unit="x", source="studio", grade=Grade.SUPPLIER)


def alloy_faults(**changed):
    return row_faults(STERLING.model_copy(update=changed), LIBRARY)


def investment_faults(**changed):
    return row_faults(GYPSUM.model_copy(update=changed), LIBRARY)


@pytest.mark.parametrize("row", [*LIBRARY.alloys.values(), *LIBRARY.investments.values()], ids=lambda row: row.id)
def test_every_shipped_row_passes_its_own_checks(row):
    assert row_faults(row, LIBRARY) == ()


@pytest.mark.parametrize("alloy", LIBRARY.alloys.values(), ids=lambda row: row.id)
def test_no_shipped_alloy_poisons(alloy):
    assert poisons(alloy) == ()


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"composition_percent": {"Ag": 92.5, "Cu": 7.2}}, "composition_percent: adds to 99.7, not to 100 within 0.2"),
        (
            {"composition_percent": {"Ag": 92.4, "Cu": 7.6}},
            "fineness_permille: 925 is claimed but the recipe holds 924 permille",
        ),
        ({"density_g_per_cm3": q(10.8)}, "density_g_per_cm3: 10.8 is more than 1.0% from the 10.37 of its recipe"),
        ({"solidus_c": q(900)}, "solidus_c: 900 °C lies above the liquidus, 896 °C"),
        ({"metal_heavy_c": q(960, 920, 980)}, "metal_heavy_c: 920 is less than 30 K over the liquidus, 896"),
        ({"metal_thin_c": q(1000, 990, 1125)}, "metal_thin_c: 1125 is above what a gypsum mould stands, 1120"),
        ({"metal_thin_c": q(965)}, "metal_c: thin, medium and heavy sections need falling temperatures, not 965, 970, 960"),
        ({"flask_thin_c": q(530)}, "flask_c: thin, medium and heavy sections need falling temperatures, not 530, 540, 450"),
        ({"flask_thin_c": q(620, 565, 705)}, "flask_thin_c: 705 is less than 100 K under the solidus, 802"),
        ({"solidus_c": q(850), "flask_thin_c": q(740)}, "flask_thin_c: 740 is above the burnout peak, 732"),
        ({"melt_loss_fraction": q(0.5, 0.5, 1.2)}, "melt_loss_fraction: 0.5 to 1.2 is not between 0 and 1"),
        ({"returns_limit_fraction": q(-0.1)}, "returns_limit_fraction: -0.1 to -0.1 is not between 0 and 1"),
        ({"metal_thin_c": None}, "metal_c: only medium, heavy given; give all three or none"),
        ({"metal_thin_c": None, "metal_medium_c": None, "metal_heavy_c": None}, "metal_medium_c: missing"),
    ],
)
def test_each_fault_of_an_alloy_is_found_alone(changed, said):
    faults = alloy_faults(**changed)
    assert len(faults) == 1, faults
    assert faults[0].startswith(said)


def test_an_advisory_alloy_may_leave_its_metal_temperature_to_the_refiner():
    missing = dict.fromkeys(("metal_thin_c", "metal_medium_c", "metal_heavy_c"))
    assert alloy_faults(**missing, advisory="ask the refiner") == ()


def test_density_is_not_held_to_mixing_where_mixing_fails():
    """Silicon and much zinc: the measured density stands."""
    bronze = LIBRARY.alloy("bronze-silicon-873")
    assert row_faults(bronze.model_copy(update={"density_g_per_cm3": q(9.0)}), LIBRARY) == ()


def test_an_alloy_is_held_to_its_own_mould():
    platinum = LIBRARY.alloy("platinum-950-cobalt")
    assert mould_limit_c(platinum, LIBRARY) > mould_limit_c(STERLING, LIBRARY) == GYPSUM.metal_max_c.value
    faults = row_faults(platinum.model_copy(update={"mould": "gypsum"}), LIBRARY)
    assert any("above what a gypsum mould stands" in fault for fault in faults)
    assert any("above the burnout peak" in fault for fault in faults)


@pytest.mark.parametrize(
    ("recipe", "named"),
    [
        ({"Ag": 92.5, "Cu": 7.4, "Pb": 0.1}, ["lead"]),
        ({"Ag": 92.5, "Cu": 7.48, "Cd": 0.02}, ["cadmium"]),
        ({"Ag": 92.5, "Cu": 6.5, "Pb": 0.5, "Cd": 0.5}, ["lead", "cadmium"]),
        ({"Ag": 92.5, "Cu": 7.45, "Pb": 0.05}, []),
        ({"Ag": 92.5, "Cu": 7.5}, []),
    ],
)
def test_lead_and_cadmium_above_the_limit_of_jewellery_are_named(recipe, named):
    said = poisons(STERLING.model_copy(update={"composition_percent": recipe}), LIBRARY)
    assert len(said) == len(named)
    assert all(name in sentence for name, sentence in zip(named, said, strict=True))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"water_heavy_g_per_100_g": q(41)}, "water_g_per_100_g: heavy 41, usual 39 and fine 40 do not rise"),
        ({"water_fine_g_per_100_g": q(38)}, "water_g_per_100_g: heavy 38, usual 39 and fine 38 do not rise"),
        ({"hemihydrate_fraction": q(1.5)}, "hemihydrate_fraction: 1.5 is not between 0 and 1"),
        ({"set_small_h": q(3)}, "set_large_h: standing times"),
        ({"stand_max_h": q(1)}, "set_large_h: standing times"),
        ({"metal_max_c": q(700)}, "peak_c: 732 is above what its metal may be, 700"),
        ({"peak_c": q(600)}, "peak_c: the programme gypsum-wax goes up to 732, above 600"),
        ({"programme_wax": "nothing"}, 'programme: no burnout programme is called "nothing"'),
        ({"stones": True}, "programme_resin: none is published for resin with stones in place"),
    ],
)
def test_each_fault_of_an_investment_is_found(changed, said):
    faults = investment_faults(**changed)
    assert any(fault.startswith(said) for fault in faults), faults


def test_an_investment_without_heavy_and_fine_ratios_is_sound():
    assert investment_faults(water_heavy_g_per_100_g=None, water_fine_g_per_100_g=None) == ()
