"""Metal and flask temperature by section, and the charge."""

import pytest

from pourwell.materials.studio import Melting
from pourwell.steps.melt.plan import charge, section_of, split, superheat_s, temperatures
from tests.unit.burnout.case import altered, library, run

STERLING = library().alloy("sterling-925")
GOLD = library().alloy("gold-750-yellow-3n")


def heat(section_mm, alloy=STERLING, investment="gypsum-standard", **more):
    return temperatures(alloy, investment=library().investment(investment), section_mm=section_mm, library=library(), **more)


def weighed(metal_g=100.0, *, alloy=STERLING, low_g=None, high_g=None, returns=0.0, own=False, melting=None):
    return charge(
        metal_g,
        low_g=low_g or metal_g,
        high_g=high_g or metal_g,
        alloy=alloy,
        melting=melting or Melting(),
        returns_fraction=returns,
        own_alloying=own,
        library=library(),
    )


def test_thin_sections_get_hotter_metal_and_a_hotter_flask():
    thin, medium, heavy = heat(0.8), heat(1.8), heat(4.0)
    assert (thin.metal_c, medium.metal_c, heavy.metal_c) == (985, 970, 960)
    assert (thin.flask_c, medium.flask_c, heavy.flask_c) == (620, 540, 450)
    assert [t.section for t in (thin, medium, heavy)] == ["thin", "medium", "heavy"]


def test_between_the_anchors_it_goes_by_straight_lines_to_the_nearest_five():
    assert heat(1.3).flask_c == 580
    assert heat(2.9).flask_c == 495
    assert all(heat(w / 10).flask_c % 5 == 0 for w in range(3, 70))


def test_beyond_the_anchors_it_is_level():
    assert heat(0.2).flask_c == heat(0.8).flask_c
    assert heat(20).flask_c == heat(4).flask_c


def test_the_band_is_that_of_the_rows():
    medium = heat(1.8)
    assert (medium.metal_low_c, medium.metal_high_c) == STERLING.metal_medium_c.ends == (950, 990)
    assert (medium.flask_low_c, medium.flask_high_c) == STERLING.flask_medium_c.ends


def test_a_section_that_is_not_known_is_taken_as_medium():
    unknown = heat(None)
    assert (unknown.section, unknown.section_mm) == ("medium", None)
    assert unknown.flask_c == heat(1.8).flask_c
    assert section_of(None, library()) == "medium"


def test_the_user_s_own_figures_win_and_the_band_stays():
    own = heat(1.8, metal_c=1001.0, flask_c=487.0)
    assert (own.metal_c, own.metal_from) == (1001.0, "user")
    assert (own.flask_c, own.flask_from) == (487.0, "user")
    assert own.metal_high_c == heat(1.8).metal_high_c
    assert heat(1.8).metal_from == heat(1.8).flask_from == "library"


def test_carat_gold_is_poured_cooler_in_a_centrifuge_and_silver_is_not():
    spun = heat(1.8, GOLD, way="centrifuge")
    assert (spun.metal_low_c, spun.metal_high_c) == pytest.approx((895 + 28, 895 + 70), abs=2.5)
    assert spun.metal_low_c < spun.metal_c < heat(1.8, GOLD).metal_c
    assert heat(1.8, way="centrifuge").metal_c == heat(1.8).metal_c


def test_an_alloy_without_a_metal_temperature_gets_the_rule_for_any():
    made = heat(1.8, library().alloy("palladium-950"), "phosphate")
    assert made.metal_c == made.liquidus_c + 75
    assert (made.metal_low_c, made.metal_high_c) == (made.liquidus_c + 50, made.liquidus_c + 100)


def test_the_band_does_not_go_over_what_the_mould_stands():
    bronze = heat(0.5, library().alloy("bronze-silicon-655"))
    assert bronze.metal_high_c == 1120


def test_stones_keep_the_flask_under_their_limit():
    assert heat(0.8, stones=True).flask_c == 445
    assert heat(0.8, stones=True).flask_high_c == 445


def test_the_charge_is_the_tree_over_what_the_melt_leaves():
    made = weighed(100.0, low_g=99.0, high_g=101.0)
    assert made.total_g == 100.6
    assert made.low_g == 99.2
    assert made.high_g == 102.1
    assert made.melt_loss_g == pytest.approx(0.6)


def test_a_charge_is_never_rounded_down():
    for grams in (10.01, 33.333, 59.999, 99.5):
        assert weighed(grams).total_g * (1 - 0.005) >= grams - 1e-9


def test_fresh_and_returns_make_the_charge():
    made = weighed(60.0, returns=0.4)
    assert made.fresh_g + made.returns_g == pytest.approx(made.total_g)
    assert made.returns_g <= 0.4 * made.total_g
    assert weighed(60.0, returns=1.0).fresh_g == 0


def test_without_own_alloying_nothing_is_split():
    made = weighed()
    assert (made.parts_g, made.fine, made.fine_g, made.master_g) == ({}, "", 0.0, 0.0)


def test_own_alloying_splits_the_fresh_metal_into_fine_and_master():
    made = weighed(60.0, alloy=GOLD, returns=0.5, own=True)
    assert made.fine == "Au"
    assert sum(made.parts_g.values()) == pytest.approx(made.fresh_g)
    assert made.fine_g + made.master_g == pytest.approx(made.fresh_g)
    assert made.fine_g / made.fresh_g >= 0.75


def test_bronze_has_parts_but_no_fineness():
    made = weighed(60.0, alloy=library().alloy("bronze-silicon-873"), own=True)
    assert made.fine == ""
    assert made.master_g == 0
    assert sum(made.parts_g.values()) == pytest.approx(made.fresh_g)


def test_a_split_of_one_metal_is_that_metal():
    assert split(12.3, {"Au": 100.0}, first="Au", step_g=0.01) == {"Au": 12.3}


def test_the_molten_charge_takes_more_room_than_the_solid_one():
    made = weighed(100.0)
    assert made.liquid_cm3 > made.total_g / STERLING.density_g_per_cm3.value


def test_the_crucible_is_what_the_studio_says():
    assert weighed(melting=Melting(crucible_cm3=20)).crucible_cm3 == 20
    assert weighed().crucible_cm3 is None


def test_superheat_lasts_longer_in_a_hotter_flask_and_with_hotter_metal():
    ask = {"alloy": STERLING, "investment": library().investment("gypsum-standard")}
    usual = superheat_s(0.8, metal_c=970, flask_c=540, **ask)
    assert superheat_s(0.8, metal_c=970, flask_c=620, **ask) > usual
    assert superheat_s(0.8, metal_c=1000, flask_c=540, **ask) > usual
    assert superheat_s(1.6, metal_c=970, flask_c=540, **ask) == pytest.approx(4 * usual)


def test_a_refiner_s_sheet_wins():
    own = altered(STERLING, metal_medium_c=1005, flask_medium_c=480)
    assert (heat(1.8, own).metal_c, heat(1.8, own).flask_c) == (1005, 480)
    assert run(alloy=own).temperatures.metal_c == 1005
