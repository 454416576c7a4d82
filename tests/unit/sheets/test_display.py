"""How a quantity is written, metric and imperial."""

from datetime import datetime

import pytest

from pourwell.materials.studio import Studio
from pourwell.sheets.display import Display, as_display, day, display_of, localised, pieces, span, with_comma

METRIC, IMPERIAL = Display("metric"), Display("imperial")


def test_a_temperature_is_whole_degrees_in_either_scale():
    assert (METRIC.temperature(499.6), IMPERIAL.temperature(500.0)) == ("500", "932")
    assert (METRIC.temperature_unit, IMPERIAL.temperature_unit) == ("°C", "°F")


@pytest.mark.parametrize(("c", "shown"), [(707.0, "1304"), (734.0, "1353"), (754.0, "1389"), (100.0, "212"), (37.7777778, "100")])
def test_what_must_not_be_passed_is_never_rounded_up_in_fahrenheit(c, shown):
    """F = 9/5 C + 32: 707 degC are 1304.6 degF, 734 are 1353.2, 754 are 1389.2; a round figure stays what it is."""
    assert Display("imperial").at_most(c) == shown
    assert Display("imperial").text(f"at {{m:{c}}}") == f"at {shown}\N{NO-BREAK SPACE}°F"
    assert Display("metric").at_most(734.0) == "734"


def test_a_difference_is_not_shifted_by_the_zero_of_fahrenheit():
    assert (METRIC.difference(120.0), IMPERIAL.difference(120.0)) == ("120", "216")


def test_a_negative_figure_carries_a_true_minus():
    assert METRIC.temperature(-5.0) == "\u22125"


@pytest.mark.parametrize(("g", "shown"), [(4.504, "4.50"), (9.996, "10.00"), (14.32, "14.3"), (999.0, "999.0"), (1234.5, "1234")])
def test_metal_is_written_as_finely_as_a_bench_scale_shows_it(g, shown):
    assert METRIC.metal(g) == shown


def test_metal_in_a_column_takes_the_fineness_of_the_weight_beside_it():
    assert (METRIC.metal(15.7, beside_g=4.5), METRIC.metal(3.58, beside_g=124.0)) == ("15.70", "3.6")


def test_imperial_metal_is_pennyweight_and_powder_is_ounces():
    assert (IMPERIAL.metal(155.517384), IMPERIAL.bulk(567.0)) == ("100.0", "20.0")


def test_a_length_in_inches_takes_two_digits_more():
    assert (METRIC.length(25.4), IMPERIAL.length(25.4), IMPERIAL.length(17.39, 2)) == ("25.4", "1.000", "0.6846")


@pytest.mark.parametrize(("mm", "shown"), [(48.0, "48"), (47.97, "48"), (73.4, "73.4")])
def test_a_height_leaves_out_digits_that_say_nothing(mm, shown):
    assert METRIC.height(mm) == shown


@pytest.mark.parametrize(
    ("hour", "shown"), [(0, "12:05 am"), (11, "11:05 am"), (12, "12:05 pm"), (23, "11:05 pm")]
)  # noon and midnight are where twelve-hour clocks go wrong
def test_an_imperial_clock_has_twelve_hours(hour, shown):
    moment = datetime(2026, 12, 3, hour, 5)
    assert IMPERIAL.clock(moment) == shown
    assert METRIC.clock(moment) == f"{hour:02d}:05"


def test_quantities_in_a_sentence_are_written_in_the_readers_units():
    sentence = "Heat by {k:20} to {t:250}, {l:4.5} from the wall, at {p:88}; see page {page:kiln}."
    assert METRIC.text(sentence).replace("\u00a0", " ") == (
        "Heat by 20 °C to 250 °C, 4.5 mm from the wall, at 88 kPa; see page {page:kiln}."
    )
    assert IMPERIAL.text(sentence).replace("\u00a0", " ") == (
        "Heat by 36 °F to 482 °F, 0.177 in from the wall, at 26.0 inHg; see page {page:kiln}."
    )


def test_a_quantity_never_breaks_from_its_unit():
    assert " " not in METRIC.text("{t:1060}")


def test_braces_that_are_no_quantity_stay_as_they_are():
    assert METRIC.text("{x:3} {t:} {}") == "{x:3} {t:} {}"


def test_durations_dates_and_counts_read_as_the_trade_writes_them():
    assert (span(997), span(0), span(59.6)) == ("16:37", "0:00", "1:00")
    assert day(datetime(2026, 12, 3)) == "Thu 3 Dec"
    assert (pieces(1), pieces(6)) == ("1 piece", "6 pieces")


MIXED = Display(temperature_in="F", weight_in="ozt")


def test_one_unit_can_be_chosen_against_the_rest():
    assert (MIXED.temperature(500.0), MIXED.temperature_unit) == ("932", "°F")
    assert (MIXED.length(25.4), MIXED.length_unit) == ("25.4", "mm")
    assert (MIXED.metal(31.1034768), MIXED.metal_unit) == ("1.000", "ozt")
    assert (Display("imperial", weight_in="g", length_in="mm", temperature_in="C").temperature_unit) == "°C"
    assert Display("imperial", temperature_in="C").clock(datetime(2026, 12, 3, 15, 5)) == "3:05 pm"


def test_powder_is_in_ounces_only_beside_pennyweights():
    """An ounce of powder beside a troy ounce of metal would be taken for the same weight, and is a tenth lighter."""
    assert (Display(weight_in="dwt").bulk(567.0), Display(weight_in="dwt").bulk_unit) == ("20.0", "oz")
    assert (MIXED.bulk(567.0), MIXED.bulk_unit) == ("567", "g")
    assert Display("imperial", weight_in="g").bulk_unit == "g"


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("10.36 g/cm³", "10,36 g/cm³"),
        ("1,234.5 mm³, 20,000 layers", "1\u202f234,5 mm³, 20\u202f000 layers"),
        ("0.85.", "0,85."),
        ("(0.5 to 0.6)", "(0,5 to 0,6)"),
        ("16:22 h, version 0.3.1, ring-2.5.stl, sha 1.5e3", "16:22 h, version 0.3.1, ring-2.5.stl, sha 1.5e3"),
        ("39 : 100", "39 : 100"),
    ],
)
def test_a_comma_stands_before_decimals_and_nowhere_else(text, shown):
    assert with_comma(text) == shown


def test_a_page_for_the_template_is_localised_in_its_texts_alone():
    page = {"a": "1.5 mm", "b": [{"c": "2.5"}, ("3.5",)], "place": 1.5, "none": None}
    assert localised(page, Display(comma=True)) == {"a": "1,5 mm", "b": [{"c": "2,5"}, ["3,5"]], "place": 1.5, "none": None}
    assert localised(page, Display()) is page


def test_a_studio_says_how_its_sheets_are_written():
    said = display_of(Studio(display="imperial", shown={"weight": "g", "decimal": "comma"}))
    assert said == Display("imperial", weight_in="g", comma=True)
    assert as_display("imperial") == Display("imperial")
    assert as_display(said) is said
    assert display_of(Studio()) == Display()


def test_a_small_difference_inside_a_sentence_keeps_its_tenth():
    """5.5 K are 9.9 degrees Fahrenheit, by definition of both scales."""
    assert Display().text("{k:5.5} and {k:12.5}").replace("\u00a0", " ") == "5.5 °C and 12 °C"
    assert Display("imperial").text("{k:5.5}, {k:-0.5} and {k:5}").replace("\u00a0", " ") == "9.9 °F, \u22120.9 °F and 9 °F"
