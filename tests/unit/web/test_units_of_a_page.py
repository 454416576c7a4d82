"""The units of a page: what its parts show and its fields keep; a page that says nothing shows mm, degC and g."""

import pytest

from pourwell.app.shown import Shown
from pourwell.sheets.display import Display
from pourwell.web.desk import parts
from pourwell.web.desk.cooling import cooling
from pourwell.web.desk.draft import place_told, rows_table
from pourwell.web.desk.tag import Tick
from pourwell.web.desk.units import WORKSHOP, here, show_in
from pourwell.web.desk.viewer import Viewer
from tests.unit.web.built import Built
from tests.unit.web.deep import frozen_words
from tests.unit.web.samples import finding

BENCH = Shown(Display(temperature_in="F", weight_in="dwt", length_in="inch", comma=True))


def built(build):
    def in_units():
        show_in(BENCH)
        build()

    return Built(in_units)


def test_a_page_that_says_nothing_is_in_workshop_units_and_another_page_is_none_of_its_business():
    seen = []
    built(lambda: seen.append(here()))
    Built(lambda: seen.append(here()))
    assert seen == [BENCH, WORKSHOP]


def test_key_figures_and_what_they_were_are_shown_in_the_units_of_the_page():
    page = built(lambda: parts.keys([("Charge", "75.1", "g"), ("Hold", "1.5", "h")], was={"Charge": "70.0"}))
    assert page.words(page.client.layout) == "Charge 48,3 dwt 45,0 Hold 1,5 h"


def test_a_band_behind_a_unit_has_the_decimals_of_the_page():
    page = built(lambda: parts.keys([("Energy", "0.40", "kWh, 0.37 to 0.40")]))
    assert page.words(page.client.layout) == "Energy 0,40 kWh, 0,37 to 0,40"


def test_a_place_has_its_unit_and_is_in_that_of_the_page():
    """An inch is 25.4 mm."""
    told = []
    built(lambda: told.append(place_told("x 25.4, y -2, z 2.9")))
    Built(lambda: told.append(place_told("x 25.4, y -2, z 2.9")))
    assert told == ["x 1,000; y \u22120,08; z 0,114 in", "x 25.4, y \u22122, z 2.9 mm"]


def test_a_finding_is_told_from_its_marked_words_where_it_has_them():
    marked = {"says": "The mould is {t:40} too hot", "do": "Let it fall to {t:500}.", "measure": "{l:6}", "limit": "{l:0.5}"}
    found = finding("warn", "The mould is 40 °C too hot", measure="6 mm", limit="0.5 mm", marked=marked)
    said = built(lambda: parts.finding(found))
    words = said.words(said.client.layout).replace("\u00a0", " ")
    assert words == "Warn The mould is 104 °F too hot Piece A · 0,24 in; limit 0,020 in Do:  Let it fall to 932 °F."


def test_a_finding_tells_where_its_limit_comes_from_and_one_without_a_limit_does_not():
    given = {"measure": "0.5 mm", "limit": "0.6 mm", "source": "common practice, no source"}
    assert "The limit: common practice, no source" in Built(lambda: parts.finding(finding("warn", "Thin", **given))).text
    assert "The limit" not in Built(lambda: parts.finding(finding("warn", "Open", source="a book"))).text


def test_a_field_shows_its_unit_keeps_what_was_typed_and_tells_its_range_in_it():
    kept = []
    page = built(lambda: kept.append(parts.entry("Metal", "970", kept.append, unit="°C", remark="as 900 °C")))
    field = page.field("Metal")
    assert field.props["value"] == "1778"
    assert page.help_of("Metal") == "as 1652 °F"
    page.type("Metal", "1800")
    assert kept[1:] == ["1800 °F"]
    kept[0].tell("Enter 500 to 2,000 °C.")
    assert page.help_of("Metal") == "Enter 932 to 3\u202f632 °F."
    field.set("970")
    assert (field.value, field.props["value"]) == ("970", "1778")


def test_a_field_without_a_unit_is_left_as_it_is():
    page = built(lambda: parts.entry("Name", "1.5 mm band", lambda _: None))
    assert page.field("Name").props["value"] == "1.5 mm band"


def test_choices_with_a_size_are_named_in_the_units_of_the_page():
    page = built(lambda: parts.choice("Flask", "a", lambda _: None, options=[("a", "76.2 \u00d7 101.6 mm")]))
    assert page.field("Flask").props["options"] == [["a", "3,000 \u00d7 4,000 in"]]


def test_words_with_quantities_are_told_in_the_units_of_the_page_wherever_they_stand():
    def build():
        rows_table([("wall", "1.20 mm", "limit 0.8 mm")])
        parts.figure("76.2 \u00d7 101.6 mm")
        Viewer(src="", head={}, label="", flags=[{"letter": "A", "at": [25.4, 0, 0], "says": "0.8 mm thick"}])

    page = built(build)
    words = page.words(page.client.layout)
    assert words == "Wall limit 0,031 in 0,0472 in 3,000 \u00d7 4,000 in"
    (flag,) = next(e for e in page.elements if "flags" in e.props).props["flags"]
    (shown,) = [e.props["scales"] for e in page.elements if "scales" in e.props]
    assert shown["units"]["mm"] == {"unit": "in", "factor": pytest.approx(1 / 25.4), "shift": 0.0, "more": 2}
    assert shown["comma"] is True
    assert (flag["says"], flag["at"]) == ("0,031 in thick", [25.4, 0, 0]), "places stay in millimetres"


def test_cooling_curves_have_lines_at_round_degrees_of_the_reader():
    """700 to 1000 degC are 1292 to 1832 degF: the round hundreds between are 1300 to 1800."""
    said = built(lambda: cooling(frozen_words()["curves"]))
    words = [e.text for e in said.all("span") if "out" in e.classes]
    assert words == ["1400", "1500", "1600", "1700", "1800 °F"], "the lowest line is not named"
    plain = Built(lambda: cooling(frozen_words()["curves"]))
    assert [e.text for e in plain.all("span") if "out" in e.classes] == ["1000 °C"]


@pytest.mark.parametrize("ticked", [True, False])
def test_a_box_is_ticked_by_hand_and_from_elsewhere(ticked):
    told, made = [], []
    page = Built(lambda: made.append(Tick(not ticked, ticked=told.append)))
    page.happen(made[0], "ticked", ticked)
    assert told == [ticked]
    made[0].tick(not ticked)
    assert made[0].props["value"] is not ticked
    assert told == [ticked]
