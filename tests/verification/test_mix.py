"""What to mix, against the published tables of powder and water by flask, and against two rules of the trade."""

import math

import pytest

from pourwell.units import G_PER_POUND, mm_from_inch
from tests.unit.burnout.case import altered, flask_of, library, run

LOW_WATER = altered(library().investment("gypsum-standard"), water_g_per_100_g=35)
"""The family of the published rows: 35 of water to 100 of powder."""
ROWS = [(30, 55, 60, 21), (50, 55, 150, 52), (65, 55, 270, 95), (80, 55, 390, 136), (50, 80, 220, 77), (80, 80, 560, 196)]
"""Inside diameter, height [mm], powder [g], water [ml] as printed (machine-manual-2011, p. 30)."""


@pytest.mark.parametrize(("diameter_mm", "height_mm", "powder_g", "water_ml"), ROWS)
def test_powder_and_water_meet_the_published_row(diameter_mm, height_mm, powder_g, water_ml):
    """machine-manual-2011, p. 30, six rows at 35:100; 6 %.

    One figure of ours, the film on the bowl, was chosen in view of these rows; the other, 4 % to spare, was not.
    """
    made = run(size=(diameter_mm, height_mm), investment=LOW_WATER).mix
    assert made.powder_g == pytest.approx(powder_g, rel=0.06), f"observed {made.powder_g:g} g, {made.powder_g / powder_g - 1:+.1%}"
    assert made.water_ml == pytest.approx(water_ml, rel=0.06), f"observed {made.water_ml:g} ml"


def test_the_library_s_low_water_grade_meets_them_too():
    """The same rows, with the shipped row of that grade."""
    for diameter_mm, height_mm, powder_g, _ in ROWS:
        made = run(size=(diameter_mm, height_mm), investment="gypsum-low-water").mix
        assert made.powder_g == pytest.approx(powder_g, rel=0.06)


def test_the_row_of_3_and_a_half_by_5_inches_lies_under_its_own_slurry_and_is_left_out():
    """forum-investment-mix prints 2 lb (907 g) and 344 ml for 88.9 x 127 mm: their slurry is 700 cm3, the flask holds 788.

    Rounding, or the tree's room taken off: it cannot be told. Ours is for the empty flask.
    """
    flask = flask_of(mm_from_inch(3.5), mm_from_inch(5))
    printed_cm3 = 2 * G_PER_POUND / 2.55 + 344
    assert printed_cm3 < flask.volume_cm3
    bag = altered(library().investment("gypsum-standard"), water_g_per_100_g=37.9)
    assert run(size=(mm_from_inch(3.5), mm_from_inch(5)), investment=bag).mix.slurry_cm3 > 1.04 * flask.volume_cm3


@pytest.mark.parametrize("size", [(64, 64), (76, 100), (102, 102), (102, 203)])
def test_it_comes_near_the_rule_of_twenty_cubic_inches_to_the_pound(size):
    """code-investment-comment quotes a data sheet: 1 lb fills 20 in3 = 1.384 g/cm3 at about 40:100. Ours is 2 to 5 % under it."""
    rule = G_PER_POUND / (20 * mm_from_inch(1) ** 3 / 1000)
    assert rule == pytest.approx(1.384, abs=0.001)
    made = run(size=size, section_mm=0.8)
    assert made.mix.ratio_g_per_100_g == 40
    got = made.mix.powder_g / made.flask.volume_cm3 / rule
    assert 0.94 < got < 1.0, f"observed {got:.3f} of the rule"


def test_a_refiner_s_rule_for_altitude_gives_a_fifth_more_than_we_do():
    """refiner-hot-mix: 20 D^2 H grams (inches) at 44:100 = 1.554 g/cm3. It runs 18 % over ours, so 22 % over the slurry itself."""
    rule = 20 / (math.pi / 4 * mm_from_inch(1) ** 3 / 1000)
    assert rule == pytest.approx(1.554, abs=0.001)
    thin = altered(library().investment("gypsum-standard"), water_g_per_100_g=44)
    made = run(size=(76.2, 101.6), investment=thin)
    assert made.mix.powder_g / made.flask.volume_cm3 / rule == pytest.approx(0.82, abs=0.02)


def test_four_pounds_of_powder_take_726_grams_of_water():
    """forum-water-ratio: 4 lb (1816 g) at 40:100."""
    made = run(size=(102, 152), section_mm=0.5).mix
    assert 1816 * made.ratio_g_per_100_g / 100 == pytest.approx(726, abs=1)
    assert made.water_g / made.powder_g == pytest.approx(726 / 1816, rel=2e-3)


def test_about_half_a_litre_takes_what_the_bench_takes():
    """Common practice, no source: about half a litre takes 650 g of powder and 250 ml of water.

    That is 505 cm3 of slurry, with nothing to spare; with ours to spare it comes to 6 % more. 8 %.
    """
    made = run(size=(80, 100), section_mm=3.0)
    assert made.flask.volume_cm3 == pytest.approx(503, abs=1)
    assert made.mix.powder_g == pytest.approx(650, rel=0.08)
    assert made.mix.water_g == pytest.approx(250, rel=0.08)


def test_a_cylinder_of_3_by_4_inches_holds_what_geometry_says():
    """28.27 in3 = 463.3 cm3 (general-howto-page)."""
    assert flask_of(mm_from_inch(3), mm_from_inch(4)).volume_cm3 == pytest.approx(463.3, abs=0.2)


@pytest.mark.parametrize(("gloss_off_min", "whole_min"), [(10, 8.5), (9.75, 8.25)])
def test_the_working_clock_ends_at_the_published_eight_to_nine_minutes(gloss_off_min, whole_min):
    """bench-casting-marks-2003: all in 8 to 9 min; forum-investing-procedures: 1.5 to 2 min before the gloss goes."""
    powder = altered(library().investment("gypsum-standard"), gloss_off_min=gloss_off_min)
    clock = {s.key: s for s in run(investment=powder).mix.clock}
    assert clock["finish"].at_s / 60 == pytest.approx(whole_min, abs=0.05)
    assert 180 <= clock["mix"].until_s - clock["mix"].at_s <= 300
    assert 60 <= clock["flask"].until_s - clock["flask"].at_s <= 90


def test_a_slow_keg_gets_the_mixing_time_of_the_studio_that_had_one():
    """forum-casting-procedures: one studio with 13 min to gloss-off mixes 6 min."""
    powder = altered(library().investment("gypsum-standard"), gloss_off_min=13)
    mix_s = next(s.until_s - s.at_s for s in run(investment=powder).mix.clock if s.key == "mix")
    assert mix_s / 60 == pytest.approx(6, abs=0.2), f"observed {mix_s} s"
