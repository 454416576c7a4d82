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


# --- tables that shops and others print ---

TABLES = "ring-size-tables: printed by shops and in a public code repository"

US_INCHES = [
    *[(0, 0.454), (0.5, 0.474), (1, 0.487), (3, 0.553), (4, 0.585), (4.5, 0.601), (5, 0.618), (5.5, 0.634), (6, 0.650)],
    *[(6.5, 0.666), (7, 0.683), (7.5, 0.699), (8, 0.716), (8.5, 0.732), (9, 0.748), (9.5, 0.764), (10, 0.781), (10.5, 0.797)],
    *[(11, 0.814), (11.5, 0.830), (12, 0.846), (12.5, 0.862), (13, 0.879)],
]
"""A shop's table: US size and inside diameter in inches."""

AROUND_US = [
    *[(41, 1.75), (42, 2.25), (43, 2.5), (44, 3), (45, 3.25), (46, 3.75), (47, 4), (48, 4.5), (49, 5), (50, 5.25), (51, 5.75)],
    *[(52, 6), (53, 6.5), (54, 6.75), (55, 7.25), (56, 7.5), (57, 8), (58, 8.25), (59, 8.75), (60, 9), (61, 9.5), (62, 10)],
    *[(63, 10.25), (64, 10.75), (65, 11), (66, 11.5)],
]
"""A table in a public code repository: circumference in mm and US size to a quarter."""


@pytest.mark.parametrize(("size", "inches"), [row for row in US_INCHES if row[0] >= 3])
def test_us_sizes_meet_a_shops_table_within_what_charts_differ(size, inches):
    """The table's step is 0.0326 inch a size, the rule's 0.032: they part by up to 0.13 mm at 13; the page says charts differ."""
    assert diameter_of(f"US {size}") == pytest.approx(inches * 25.4, abs=0.14), TABLES


@pytest.mark.parametrize(("size", "inches"), [row for row in US_INCHES if 4 <= row[0] <= 9])
def test_between_4_and_9_that_is_within_a_tenth_of_a_size(size, inches):
    assert abs(diameter_of(f"US {size}") - inches * 25.4) < 0.0813, TABLES


@pytest.mark.parametrize(("around_mm", "us"), AROUND_US)
def test_a_circumference_has_the_us_size_of_a_public_table_within_a_quarter(around_mm, us):
    said = sizes(around_mm / math.pi).us
    assert abs(diameter_of(f"US {said}") - diameter_of(f"US {us}")) <= 0.8128 / 4 + 1e-6, TABLES


def test_of_26_rows_of_that_table_23_are_the_same():
    """Three (58, 60 and 65) are rounded down there where the nearest quarter lies above."""
    same = [diameter_of(f"US {sizes(a / math.pi).us}") == pytest.approx(diameter_of(f"US {us}")) for a, us in AROUND_US]
    assert (len(same), sum(same)) == (26, 23), TABLES


@pytest.mark.parametrize(("us", "iso", "uk", "ch", "jp"), [("7", 54.4, "N½", "14.4", "14")])
def test_a_row_across_all_systems(us, iso, uk, ch, jp):
    """The row that encyclopaedia-ring-size, bs-6820-1987 and jis-s-4700 agree on."""
    for text in (f"US {us}", f"ISO {iso}", f"UK {uk}", f"CH {ch}"):
        assert sizes(diameter_of(text)).us == us
        assert sizes(diameter_of(text)).jp == jp


@pytest.mark.parametrize(("size", "around_mm"), [("ISO 41", 41), ("ISO 76", 76), ("CH 1", 41), ("CH 36", 76), ("EU 60", 60)])
def test_the_gauge_stick_of_iso_8653_is_reached_at_both_ends(size, around_mm):
    """iso-8653-2014: 41 to 76; the Swiss numbers are 40 less."""
    assert around(size) == pytest.approx(around_mm)


@pytest.mark.parametrize("letter", "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
def test_every_uk_letter_is_one_and_a_quarter_millimetres_on(letter):
    """bs-6820-1987: 36.25 mm + 1.25 mm a letter, A being 1."""
    number = "ABCDEFGHIJKLMNOPQRSTUVWXYZ".index(letter) + 1
    assert around(f"UK {letter}") == pytest.approx(36.25 + 1.25 * number)
    assert around(f"UK {letter}½") - around(f"UK {letter}") == pytest.approx(0.625)


def test_four_uk_letters_are_five_millimetres_around():
    """how-many-ring-size: C is the Swiss 0, and four letters make five of its sizes."""
    assert around("UK C") == pytest.approx(40)
    assert around("UK G") - around("UK C") == pytest.approx(5)
