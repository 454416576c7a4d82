"""Units shown on pages: figures, sentences and fields in mm or inch, degC or degF, g, dwt or ozt, with a point or a comma.

Truth: an inch is 25.4 mm, a pennyweight 24 grains and a troy ounce 480 grains of 64.79891 mg, by definition (NIST Handbook 44,
appendix C); 0 degC is 32 degF, 100 degC 212 degF.
"""

import pytest

from pourwell.app.shown import Shown, from_base, plain_number, shown_of, split, to_base
from pourwell.app.typed import METAL, WEIGHT, NotYetError, Span, number
from pourwell.sheets.display import Display

WORKSHOP = Shown()
BENCH = Shown(Display(length_in="inch", temperature_in="F", weight_in="dwt"))
TROY = Shown(Display(weight_in="ozt"))
COMMA = Shown(Display(comma=True))
GRAIN_G = 0.06479891


@pytest.mark.parametrize(
    ("base", "unit", "value", "same"),
    [
        ("mm", "in", 1.0, 25.4),
        ("g", "dwt", 1.0, 24 * GRAIN_G),
        ("g", "ozt", 1.0, 480 * GRAIN_G),
        ("°C", "°F", 212.0, 100.0),
        ("°C", "°F", -40.0, -40.0),
        ("K", "°F", 9.0, 5.0),
        ("°C/h", "°F/h", 180.0, 100.0),
        ("g", "g", 7.0, 7.0),
        ("mm", "inch", 2.0, 50.8),
    ],
)
def test_units_are_what_they_are_by_definition_and_go_there_and_back(base, unit, value, same):
    assert to_base(value, unit, base) == pytest.approx(same, rel=1e-12)
    if unit != "inch":
        assert from_base(to_base(value, unit, base), base, unit) == pytest.approx(value, rel=1e-12)


def test_a_weight_is_no_length():
    with pytest.raises(KeyError):
        to_base(1.0, "dwt", "mm")
    with pytest.raises(KeyError):
        from_base(1.0, "g", "in")


@pytest.mark.parametrize(
    ("shown", "text", "unit", "expected"),
    [
        (BENCH, "75.1", "g", ("48.3", "dwt")),
        (TROY, "75.1", "g", ("2.415", "ozt")),
        (BENCH, "970", "°C", ("1778", "°F")),
        (BENCH, "\u2212120", "°C/h", ("\u2212216", "°F/h")),
        (BENCH, "0.60", "mm", ("0.0236", "in")),
        (BENCH, "63 \u00d7 100", "mm", ("2.48 \u00d7 3.94", "in")),
        (BENCH, "12 to 18", "min", ("12 to 18", "min")),
        (WORKSHOP, "75.1", "g", ("75.1", "g")),
        (COMMA, "75.1", "g", ("75,1", "g")),
        (COMMA, "\u2014", "g", ("\u2014", "g")),
    ],
)
def test_a_figure_says_as_much_in_its_other_unit(shown, text, unit, expected):
    assert shown.figure(text, unit) == expected


@pytest.mark.parametrize(
    ("sentence", "bench", "comma"),
    [
        ("Rim is 0.50 mm thick", "Rim is 0.0197 in thick", "Rim is 0,50 mm thick"),
        ("Enter 430 to 730 °C.", "Enter 806 to 1346 °F.", "Enter 430 to 730 °C."),
        ("Enter 0.1 to 20,000 g.", "Enter 0.1 to 12,860 dwt.", "Enter 0,1 to 20\u202f000 g."),
        ("8 mm³ of 10.36 g/cm³", "8 mm³ of 10.36 g/cm³", "8 mm³ of 10,36 g/cm³"),
        ("at 09:30, version 0.3.1, ring-2.5.stl", "at 09:30, version 0.3.1, ring-2.5.stl", "at 09:30, version 0.3.1, ring-2.5.stl"),
        (
            "heat to {t:500}, {k:20} over it, {l:6} off",
            "heat to 932 °F, 36 °F over it, 0.24 in off",
            "heat to 500 °C, 20 °C over it, 6 mm off",
        ),
        ("see {page:tree}", 'see "tree"', 'see "tree"'),
    ],
)
def test_sentences_are_told_in_the_units_of_the_page_and_names_are_left_alone(sentence, bench, comma):
    assert BENCH.text(sentence).replace("\u00a0", " ") == bench
    assert COMMA.text(sentence).replace("\u00a0", " ") == comma


def test_what_was_typed_is_kept_as_it_was_typed_in_whatever_unit_it_is_shown_later():
    kept = BENCH.kept("26.5", "g")
    assert kept == "26.5 dwt"
    assert BENCH.field(kept, "g") == "26.5"
    assert WORKSHOP.field(kept, "g") == "41.21211"
    assert COMMA.field(kept, "g") == "41,21211"
    assert number(kept, WEIGHT) == pytest.approx(26.5 * 24 * GRAIN_G)
    assert WORKSHOP.kept("41.2", "g") == "41.2"
    assert BENCH.kept("41.2 g", "g") == "41.2 g"  # said with its unit
    assert BENCH.field("41.2 g", "g") == "26.49222"


@pytest.mark.parametrize("text", ["", "9:3", "heavy", "1e", "890 to 900"])
def test_what_is_no_figure_stays_in_its_field_as_it_is(text):
    assert BENCH.field(text, "g") == text
    assert BENCH.kept(text, "g") == text


@pytest.mark.parametrize("fahrenheit", ["1640", "1641", "32", "-40", "1777.7"])
def test_degrees_typed_in_fahrenheit_show_again_as_they_were_typed_also_from_a_file_in_celsius(fahrenheit):
    celsius = round(number(f"{fahrenheit} °F", Span(low=-300, high=3000, unit="°C")), 6)
    assert BENCH.field(f"{celsius:.10g}", "°C") == fahrenheit


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("26,5dwt", ("26,5", "dwt")),
        ("1 200 g", ("1 200", "g")),
        ("140", ("140", "")),
        ("12 F", ("12", "°F")),
        ("2 inch", ("2", "in")),
    ],
)
def test_a_unit_behind_a_figure_is_heard(text, parts):
    assert split(text) == parts


def test_numbers_are_read_with_patience():
    assert plain_number("1\u202f234,5") == 1234.5
    assert plain_number("\u22123") == -3
    with pytest.raises(ValueError, match="could not convert"):
        plain_number("1,2,3")


def test_a_refusal_names_what_was_typed_with_its_own_unit():
    with pytest.raises(NotYetError, match=r"^4000 °F is above what can be\. Enter 500 to 2,000 °C\.$"):
        number("4000 °F", METAL)
    with pytest.raises(NotYetError, match='"5 mm" is no number'):
        number("5 mm", METAL)


def test_powder_stands_in_ounces_beside_pennyweights_and_never_beside_troy_ounces():
    assert BENCH.bulk(597.0) == ("21.06", "oz")
    assert TROY.bulk(597.0) == ("597.0", "g")
    assert WORKSHOP.bulk(238.84) == ("238.8", "g")


def test_whole_degrees_are_those_of_the_sheet():
    assert BENCH.degrees(969.6) == (Display("imperial").temperature(969.6), "°F") == ("1777", "°F")
    assert BENCH.ramp(-120.0) == ("\u2212216", "°F/h")
    assert WORKSHOP.ramp(150.4) == ("150", "°C/h")


def test_the_lines_of_a_chart_stand_at_round_degrees_of_the_reader():
    assert WORKSHOP.grid_c(800) == [(200.0, "200"), (400.0, "400"), (600.0, "600"), (800.0, "800")]
    found = BENCH.grid_c(800)
    assert [says for _, says in found] == ["300", "600", "900", "1200"]
    assert found[0][0] == pytest.approx((300 - 32) / 1.8)


def test_a_studio_says_how_it_wants_its_figures(tmp_path):
    assert shown_of(tmp_path) == WORKSHOP
    (tmp_path / "studio.toml").write_text(
        'display = "imperial"\n[shown]\nlength = "mm"\nweight = "ozt"\ndecimal = "comma"\n', encoding="utf-8"
    )
    shown = shown_of(tmp_path)
    assert [shown.unit(base) for base in ("mm", "°C", "g", "K", "°C/h", "min")] == ["mm", "°F", "ozt", "°F", "°F/h", "min"]
    assert shown.number("1.5") == "1,5"


def test_fields_of_a_solid_are_scaled_to_the_units_of_the_reader_and_come_out_at_their_definitions():
    """0.8 mm, 100 degC and 5 K/s: an inch is 25.4 mm, 212 degF is 100 degC, 9 degF are 5 K."""
    scales = BENCH.scales()
    shown = {base: scales[base]["factor"] * value + scales[base]["shift"] for base, value in FIELDS}
    assert shown == pytest.approx({"mm": 0.8 / 25.4, "°C": 212.0, "K/s": 9.0}, rel=1e-12)
    assert [scales[base]["unit"] for base, _ in FIELDS] == ["in", "°F", "°F/s"]
    assert WORKSHOP.scales() == {}


FIELDS = (("mm", 0.8), ("°C", 100.0), ("K/s", 5.0))
