"""Metal and flask temperature, superheat and charge worked out with pencil and paper."""

import math

import pytest

from pourwell.findings import spelt_out
from pourwell.materials.studio import Melting, Studio
from pourwell.steps.melt.plan import charge, mould_side, split, superheat_s
from tests.unit.burnout.case import altered, library, own_programme, run, with_row

STERLING = library().alloy("sterling-925")
GOLD = library().alloy("gold-750-yellow-3n")
STANDARD = library().investment("gypsum-standard")
SPUN = Studio(casting={"way": "centrifuge"})


def weighed(metal_g, *, alloy=STERLING, returns=0.0, own=False, low_g=None, high_g=None):
    return charge(
        metal_g,
        low_g=low_g or metal_g,
        high_g=high_g or metal_g,
        alloy=alloy,
        melting=Melting(crucible_cm3=12.0),
        returns_fraction=returns,
        own_alloying=own,
        library=library(),
    )


def root_of_time(theta):
    """x with exp(x^2) erfc(x) = theta, by halving: the lumped plate of Carslaw & Jaeger 1959, section 12.4."""
    low, high = 0.0, 3.0
    while high - low > 1e-12:
        x = (low + high) / 2
        low, high = (x, high) if math.exp(x * x) * math.erfc(x) > theta else (low, x)
    return low


def test_a_charge_of_sterling_by_hand():
    """62.5 g over 0.995 is 62.81, to the tenth above 62.9; 61.9 over 0.998 is 62.02, so 62.1; 63.1 over 0.99 is 63.74, so 63.8.

    Four tenths of returns: 25.16, down to 25.1 g, fresh 37.8. The melt of 62.9 g takes 62.9 / 9.27 = 6.79 cm3 and loses 0.4 g.
    """
    made = weighed(62.5, low_g=61.9, high_g=63.1, returns=0.4)
    assert (made.low_g, made.total_g, made.high_g) == (62.1, 62.9, 63.8)
    assert (made.returns_g, made.fresh_g) == (25.1, 37.8)
    assert made.melt_loss_g == pytest.approx(0.4)
    assert made.liquid_cm3 == pytest.approx(6.79, abs=0.005)
    assert (made.returns_limit_fraction, made.crucible_cm3) == (0.5, 12.0)


def test_a_charge_of_18_carat_in_fine_gold_and_master_alloy_by_hand():
    """40 g of 3N (Au 75, Ag 12.5, Cu 12.5) over 0.995 is 40.2 g: 30.15 g of gold, 5.03 of one other and 5.02 of the last."""
    made = weighed(40.0, alloy=GOLD, own=True)
    assert made.total_g == pytest.approx(40.0 / (1 - GOLD.melt_loss_fraction.value), abs=0.1)
    assert made.fine_g == pytest.approx(math.ceil(75 * made.fresh_g - 1e-6) / 100)
    assert made.master_g == pytest.approx(made.fresh_g - made.fine_g)
    assert sorted(split(40.2, GOLD.composition_percent, first="Au", step_g=0.01).values()) == pytest.approx([5.02, 5.03, 30.15])


def test_fine_metal_is_rounded_up_and_the_next_element_takes_the_rest():
    """iso-9202: no minus tolerance. 33.3 g of sterling: 30.8025 of silver becomes 30.81, copper is left 2.49."""
    assert split(33.3, {"Ag": 92.5, "Cu": 7.5}, first="Ag", step_g=0.01) == {"Ag": 30.81, "Cu": 2.49}


@pytest.mark.parametrize(("wall_mm", "metal_c"), [(0.5, 965), (0.8, 965), (1.8, 945), (2.9, 935), (4.0, 925), (9.0, 925)])
def test_a_centrifuge_pours_gold_by_its_published_superheat_from_thin_to_heavy(wall_mm, metal_c):
    """bench-karat-tips: 70 K over the liquidus for thin, 28 for heavy, 49 between: 895 + 70, 49, 28, to the nearest five."""
    assert run(alloy=GOLD, studio=SPUN, section_mm=wall_mm).temperatures.metal_c == metal_c


def test_a_refiner_s_figure_between_the_fives_is_set_to_the_nearest_and_lies_in_its_band():
    """1003 is set as 1005 and 487 as 485, what a dial shows; the band of a figure without ends does not exclude it."""
    heat = run(alloy=altered(STERLING, metal_medium_c=1003, flask_medium_c=487)).temperatures
    assert (heat.metal_c, heat.flask_c) == (1005, 485)
    assert heat.metal_low_c <= 1005 <= heat.metal_high_c
    assert heat.flask_low_c <= 485 <= heat.flask_high_c


def test_the_band_of_a_metal_too_hot_for_its_mould_still_holds_what_is_set():
    """Gypsum stands 1120 degC (casting-24k-page); an alloy of platinum is set far over that, so the plan is stopped."""
    made = run(alloy="platinum-950-ruthenium")
    heat = made.temperatures
    assert heat.metal_low_c <= heat.metal_c <= heat.metal_high_c
    assert "mould-wrong" in made.codes


def test_the_mould_that_the_metal_meets_by_hand():
    """39:100, 28 % hemihydrate: 1 / (1/2550 + 0.39/1000) = 1278.5 kg of powder, less 6.206 % of 358 kg: 1256.3 kg/m3, burnt."""
    mould = mould_side(STANDARD, 540)
    assert mould.density == pytest.approx(1256.3, abs=0.2)
    assert mould.diffusivity == pytest.approx(0.45 / (1256.3 * 1050), rel=1e-3)
    assert mould.temperature == pytest.approx(813.15)
    assert mould_side(STANDARD, 540, conductivity=0.3).diffusivity == pytest.approx(mould.diffusivity * 0.3 / 0.45)


@pytest.mark.parametrize(("wall_mm", "seconds"), [(0.6, 0.0431), (0.8, 0.0767), (1.8, 0.3881), (3.0, 1.0781)])
def test_a_wall_of_sterling_keeps_its_superheat_as_long_as_by_hand(wall_mm, seconds):
    """theta = (896 - 540) / (970 - 540) = 0.8279, x = 0.1770; b = 770.5; t = (x 9270 x 325 w / 2 b)^2: 0.388 s for 1.8 mm."""
    assert root_of_time(0.8279) == pytest.approx(0.1770, abs=2e-4)
    assert superheat_s(wall_mm, metal_c=970, flask_c=540, alloy=STERLING, investment=STANDARD) == pytest.approx(seconds, rel=4e-3)


@pytest.mark.parametrize(("metal_c", "flask_c"), [(923, 540), (940, 540), (923, 600)])
def test_cold_metal_is_told_the_share_of_its_superheat_that_is_left(metal_c, flask_c):
    """The square of the ratio of the roots, against metal and flask at the low ends of their published bands."""
    low_m, low_f = STERLING.metal_medium_c.ends[0], STERLING.flask_medium_c.ends[0]
    share = (root_of_time((896 - flask_c) / (metal_c - flask_c)) / root_of_time((896 - low_f) / (low_m - low_f))) ** 2
    assert f"keeps its superheat {share:.0%} as long" in run(metal_c=metal_c, flask_c=flask_c).finding("metal-cold").says


def test_a_cool_flask_with_hot_metal_is_not_told_that_it_freezes_sooner():
    """10 K over the low end of the metal into a flask 5 under its own: theta is smaller than at both low ends, so it lasts."""
    metal_c, flask_c = STERLING.metal_medium_c.ends[0] + 10, STERLING.flask_medium_c.ends[0] - 5
    says = run(metal_c=metal_c, flask_c=flask_c).finding("flask-cold").says
    assert "misruns" in says
    assert "superheat" not in says


def test_metal_in_its_band_but_hardly_over_the_liquidus_is_cold():
    """Common practice, no source: 30 K over the liquidus (896) at the least, whatever a refiner's band says."""
    wide = altered(STERLING, metal_medium_c={"value": 970, "low": 900, "high": 990})
    assert run(alloy=wide, metal_c=925).severity("metal-cold") == "warn"
    assert "metal-cold" not in run(alloy=wide, metal_c=926).codes


def ceiling(investment):
    """What the plan says that a burnout to 1010 degC should have kept under."""
    shelf = with_row("programmes", own_programme((149, 100, 120), (1010, 150, 180), ("flask", 100, 90)))
    return run(investment=investment, own="maker", shelf=shelf).finding("kiln-over-ceiling").limit


@pytest.mark.parametrize(
    ("investment", "warn_c", "stop_c"), [("gypsum-standard", 740, 760), ("gypsum-stone", 518, 760), ("phosphate", 1000, 1000)]
)
def test_the_ceiling_of_each_mould(investment, warn_c, stop_c):
    """investment-checklist: 740 and 760 degC; a stone grade 8 K over its own high end, 510; platinum-how-to: 1000 for phosphate."""
    assert spelt_out(ceiling(library().investment(investment))) == f"{warn_c} °C, stop over {stop_c} °C"


def test_a_phosphate_of_a_lower_peak_has_a_lower_ceiling():
    """8 K over the peak of the bag, 870: what its maker says counts before the general 1000."""
    assert spelt_out(ceiling(altered(library().investment("phosphate"), peak_c=870))) == "878 °C, stop over 1000 °C"
