"""Ring sizes against published tables and standards. None of these numbers is computed by us; the sizes are."""

import math

import pytest

from pourwell.steps.pattern.sizes import diameter_of, sizes

ROWLETT = "Rowlett, How Many?, entry ring size (BS 6820:1987, JIS S 4700)"
ENCYCLOPAEDIA = "encyclopaedia, Ring size: D = 0.458 in + 0.032 in a size; Swiss size = C - 40"


def around(text):
    return math.pi * diameter_of(text)


@pytest.mark.parametrize(
    ("size", "diameter_mm", "around_mm"), [("US 7", 17.32, 54.41), ("US 10", 19.76, 62.07), ("US 0", 11.63, 36.54)]
)
def test_us_sizes_meet_the_published_table(size, diameter_mm, around_mm):
    assert diameter_of(size) == pytest.approx(diameter_mm, abs=0.02), ENCYCLOPAEDIA
    assert around(size) == pytest.approx(around_mm, abs=0.02), ENCYCLOPAEDIA


def test_us_3_is_not_the_wrong_number_that_calculators_copy():
    """11.63 mm is US 0; many pages print it at US 3 (encyclopaedia, Ring size)."""
    assert diameter_of("US 3") == pytest.approx(14.07, abs=0.01)


@pytest.mark.parametrize("size", [0, 3.25, 7, 10.5, 16])
def test_us_sizes_meet_the_rule_in_inches(size):
    """D = 0.458 in + 0.032 in a size; the inch is 25.4 mm."""
    assert diameter_of(f"US {size}") == pytest.approx((0.458 + 0.032 * size) * 25.4, abs=0.01), ENCYCLOPAEDIA


@pytest.mark.parametrize("size", range(3, 14))
def test_us_sizes_lie_near_the_other_published_rule(size):
    """Rowlett gives C = 1.43 in + 0.102 in a size; charts differ by up to 0.3 mm of circumference."""
    assert around(f"US {size}") == pytest.approx((1.43 + 0.102 * size) * 25.4, abs=0.62)


@pytest.mark.parametrize(
    ("letter", "around_mm"), [("A", 37.5), ("C", 40.0), ("N", 53.75), ("Z", 68.75), ("Z+1", 70.0), ("B½", 39.375)]
)
def test_uk_letters_meet_bs_6820(letter, around_mm):
    assert around(f"UK {letter}") == pytest.approx(around_mm, abs=0.01), ROWLETT
    assert sizes(around_mm / math.pi).uk == letter


@pytest.mark.parametrize(("letter", "around_mm"), [("A", 37.7), ("C", 40.53), ("N", 54.35), ("Z", 69.43), ("A", 37.8), ("C", 40.4)])
def test_trade_charts_of_uk_letters_lie_within_half_a_letter_of_bs_6820_give_or_take_a_tenth(letter, around_mm):
    """UK casting house, Useful tips (D = 12.0 + 0.4 a letter) and an older chart: the caution on the sheet says half a letter."""
    assert abs(around(f"UK {letter}") - around_mm) <= 0.625 + 0.06


@pytest.mark.parametrize(("size", "diameter_mm"), [(1, 13.0), (10, 16.0), (13, 17.0)])
def test_japanese_sizes_meet_jis_s_4700(size, diameter_mm):
    assert diameter_of(f"JP {size}") == pytest.approx(diameter_mm, abs=0.01), ROWLETT
    assert sizes(diameter_mm).jp == str(size)


@pytest.mark.parametrize("size", [1, 8, 15, 30])
def test_japanese_sizes_meet_the_rule_by_circumference(size):
    """Rowlett also prints C = 39.8 mm + 1.047 mm a size."""
    assert around(f"JP {size}") == pytest.approx(39.8 + 1.047 * size, abs=0.03)


def test_the_swiss_size_of_a_circumference_of_50_is_10():
    assert sizes(50 / math.pi).ch == "10", ENCYCLOPAEDIA
    assert around("CH 10") == pytest.approx(50)


@pytest.mark.parametrize("size", [41, 54, 76])
def test_iso_sizes_are_circumferences(size):
    """BS EN ISO 8653:2014: the ring size is the inner circumference in mm; the stick carries 41 to 76."""
    assert around(f"ISO {size}") == pytest.approx(size)
    assert sizes(size / math.pi).iso == str(size)


def test_one_ring_in_all_systems():
    """A published row: US 7 is 17.32 mm, 54.4 mm around, UK N 1/2, Swiss 14.4, Japan 14."""
    said = sizes(17.32)
    assert (said.us, said.iso, said.uk, said.ch, said.jp) == ("7", "54.4", "N½", "14.4", "14")


def test_half_a_us_size_is_about_a_uk_letter():
    """Both sticks side by side, as shops print them: half a US size is 1.28 mm around, a UK letter 1.25 mm."""
    assert around("US 7.5") - around("US 7") == pytest.approx(around("UK O") - around("UK N"), abs=0.03)
