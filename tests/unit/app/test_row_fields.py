"""Fields of rows on pages: what a field takes, in which unit; no value that anybody published may be refused by it."""

import pytest

from pourwell.app.asked import text_of, value_of
from pourwell.app.gear import BASE, CASTING, KILN, MELTING, PRINTER
from pourwell.app.own_rows import OwnRows
from pourwell.app.row_fields import BY_UNIT, LABELS, SPANS, asked_of, groups
from pourwell.app.typed import NotYetError
from pourwell.materials.library import load_library
from pourwell.materials.model import Alloy, FlaskRow, Investment, PatternMaterial, Programme
from pourwell.materials.studio import Base, Casting, Kiln, Melting, Printer

SHELVES = {Alloy: "alloys", Investment: "investments", PatternMaterial: "patterns", FlaskRow: "flasks"}
EQUIPMENT = ((Kiln, KILN), (Casting, CASTING), (Melting, MELTING), (Base, BASE), (Printer, PRINTER))


@pytest.mark.parametrize("model", SHELVES, ids=lambda model: model.__name__)
def test_every_shipped_value_and_both_its_ends_could_have_been_typed(model):
    for row in getattr(load_library(), SHELVES[model]).values():
        for asked in (one for _, fields in groups(model) for one in fields if one.span is not None):
            value = row
            for part in asked.key:
                value = getattr(value, part)
            if value is None:
                continue
            texts = [text_of(asked, value)]
            if asked.kind == "figure":
                texts += [text_of(asked, end) for end in value.ends]
            for text in texts:
                value_of(asked, text)  # raises where the field would refuse it


@pytest.mark.parametrize(
    ("model", "name", "unit", "low", "high"),
    [
        (Alloy, "liquidus_c", "°C", 200, 2500),
        (Alloy, "flask_thin_c", "°C", 20, 1100),
        (Alloy, "melt_loss_fraction", "%", 0, 100),
        (Alloy, "price_per_g", "a gram", 0.0001, 100_000),
        (Alloy, "fineness_permille", "\u2030", 1, 1000),
        (Alloy, "quench.wait_64_mm_min", "min", 0, 600),
        (Investment, "water_c", "°C", 1, 60),
        (Investment, "water_g_per_100_g", "g per 100 g", 15, 100),
        (Investment, "set_small_h", "h", 0, 72),
        (PatternMaterial, "density_g_per_cm3", "g/cm³", 0.5, 25),
        (FlaskRow, "diameter_mm", "mm", 10, 400),
    ],
)
def test_a_field_says_its_unit_and_refuses_what_lies_beyond_its_ends(model, name, unit, low, high):
    asked = asked_of(model, name)
    assert (asked.span.unit, asked.span.low, asked.span.high) == (unit, low, high)
    assert asked.label == LABELS[name]
    for text in (f"{low}", f"{high}"):
        value_of(asked, text)
    for text in (f"{low - 1}", f"{high * 2}"):
        with pytest.raises(NotYetError, match="what can be"):
            value_of(asked, text)


def test_a_programme_is_chosen_among_those_that_there_are_and_of_a_programme_its_name_and_advice_are_fields():
    asked = asked_of(Investment, "programme_resin", (("gypsum-resin", "resin in gypsum"),))
    assert asked.kind == "choice"
    assert asked.options == (("", "none"), ("gypsum-resin", "resin in gypsum"))
    assert [asked.key for _, fields in groups(Programme) for asked in fields] == [("name",), ("advisory",)]


def test_an_own_investment_may_choose_an_own_programme(tmp_path):
    from datetime import date

    rows = OwnRows(tmp_path)
    rows.copy(rows.entry("programmes", "gypsum-wax"), date(2026, 11, 26))
    name = OwnRows(tmp_path).copy(rows.entry("investments", "gypsum-standard"), date(2026, 11, 26))
    rows = OwnRows(tmp_path)
    entry = rows.entry("investments", name)
    line = next(one for _, lines in rows.lines(entry) for one in lines if one.asked.key == ("programme_wax",))
    assert ("gypsum-wax-own", "wax in gypsum-bonded investment, own") in line.asked.options
    rows.set(entry, line, "gypsum-wax-own")
    assert OwnRows(tmp_path).entry("investments", name).row.programme_wax == "gypsum-wax-own"


def test_no_range_is_written_for_what_is_not_asked():
    asked = {name for model in SHELVES for _, fields in groups(model) for one in fields for name in [".".join(one.key)]}
    assert set(SPANS) <= asked
    assert set(LABELS) >= asked
    assert all(low < high for low, high in (*SPANS.values(), *BY_UNIT.values()))


@pytest.mark.parametrize(("model", "fields"), EQUIPMENT, ids=lambda one: getattr(one, "__name__", ""))
def test_what_a_page_takes_for_equipment_its_model_takes_too_and_what_is_assumed_could_be_typed(model, fields):
    usual = model()
    for asked in (one for one in fields if one.span is not None):
        name = asked.key[0]
        for end in (asked.span.low, asked.span.high):
            model.model_validate({name: value_of(asked, f"{end:.10f}" if asked.kind != "count" else f"{end}")})
        if getattr(usual, name) is not None:
            value_of(asked, text_of(asked, getattr(usual, name)))
