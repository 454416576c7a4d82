"""Settings, equipment and own materials: no wrong value reaches a file, no typing is lost, other units are read."""

import json

import pytest

from pourwell.errors import BadRequestError
from pourwell.files.own_toml import table_of
from pourwell.materials.studio import load_studio
from pourwell.web.desk.equipment import equipment_page
from pourwell.web.desk.material import material_page
from pourwell.web.desk.materials import calibrations_page, shelf_page
from pourwell.web.desk.settings import settings_page
from tests.unit.materials.test_calibration import kiln, written
from tests.unit.web.built import Built

IMPERIAL = '[shown]\nlength = "inch"\ntemperature = "F"\nweight = "dwt"\n'


@pytest.fixture
def desk(still_desk):
    return still_desk


@pytest.fixture
def own(desk):
    """A copy of sterling silver, and its file."""
    Built(lambda: material_page(desk, "alloys", "sterling-925")).press("Make a copy of my own")
    return desk.folder / "alloys" / "sterling-925-own.toml"


def say(desk, text):
    (desk.folder / "studio.toml").write_text(text, encoding="utf-8")


def said(desk):
    path = desk.folder / "studio.toml"
    return path.read_text(encoding="utf-8") if path.exists() else ""


def own_page(desk):
    return Built(lambda: material_page(desk, "alloys", "sterling-925-own"))


# ---- equipment


NO_EQUIPMENT = (
    ("Hottest", "warm", '"warm" is no number.'),
    ("Hottest", "-40", "-40 is below what can be."),
    ("Hottest", "5000", "5000 is above what can be."),
    ("Hottest", "600 g", '"600 g" is no number.'),
    ("Thermocouple wrong by", "-2", "-2 is below what can be."),
    ("Segments", "1.5", "1.5 is no whole number."),
    ("Segments", "100", "100 is above what can be."),
)


def test_equipment_that_cannot_be_is_refused_in_its_field_and_its_file_stays(desk):
    before = "# our kiln\n[kiln]\nerror_k = 4\n"
    say(desk, before)
    page = Built(lambda: equipment_page(desk))
    for label, typed, says in NO_EQUIPMENT:
        page.leave(label, typed)
        assert page.help_of(label).startswith(says)
        assert page.field(label).value == typed
        assert page.field(label).props["aria-invalid"] == "true"
        assert page.state == f"Not saved: look at {label}"
    assert said(desk) == before


def whose(page, label):
    """The word of the grade that stands below a field of the equipment."""
    held = next(e for e in page.all("div", "held") if page.field(label) in e.descendants())
    return next(e.text for e in held.descendants() if "grade" in e.classes)


def test_a_value_is_assumed_until_it_is_said_and_again_when_its_field_is_emptied(desk):
    page = Built(lambda: equipment_page(desk))
    assert whose(page, "Hottest") == "assumed"
    usual = page.field("Hottest").value
    page.leave("Hottest", "1050")
    assert whose(page, "Hottest") == "own"
    assert load_studio(desk.folder).kiln.hottest_c == 1050
    page.leave("Hottest", "")
    assert whose(page, "Hottest") == "assumed"
    assert page.field("Hottest").value == usual, "it falls back to what most small studios have"
    assert "hottest_c" not in said(desk)


def test_a_field_that_is_only_passed_through_writes_no_file(desk):
    page = Built(lambda: equipment_page(desk))
    for label in ("Hottest", "Thermocouple wrong by", "Segments"):
        page.leave(label, page.field(label).props["value"])
    assert said(desk) == ""
    assert not page.state


def test_a_temperature_is_read_in_the_unit_behind_it_else_in_that_of_the_page(desk):
    say(desk, IMPERIAL)
    page = Built(lambda: equipment_page(desk))
    for typed in ("1100 °C", "2012 °F", "2012"):
        page.leave("Hottest", "1900")
        page.leave("Hottest", typed)
        assert load_studio(desk.folder).kiln.hottest_c == pytest.approx(1100, abs=1e-3)
        assert page.field("Hottest").props["value"] == "2012"
    assert Built(lambda: equipment_page(desk)).field("Hottest").props["value"] == "2012"


def test_a_length_in_inches_shows_again_as_it_was_typed_and_is_kept_in_millimetres(desk):
    say(desk, IMPERIAL)
    page = Built(lambda: equipment_page(desk))
    page.press("Add a base")
    page.leave("Dome, diameter", "1.125")
    page.leave("Dome, height", "12.7 mm")
    (base,) = table_of(desk.folder / "studio.toml")["bases"]
    assert (base["dome_diameter_mm"], base["dome_height_mm"]) == (28.575, 12.7)
    assert page.field("Dome, diameter").props["value"] == "1.125"
    assert page.field("Dome, height").props["value"] == "0.5"


def test_the_gear_of_another_window_is_shown_and_what_is_typed_here_stays(desk):
    first, second = (Built(lambda: equipment_page(desk)) for _ in range(2))
    second.type("Hottest", "10")
    first.leave("Thermocouple wrong by", "7")
    second.go_round()
    assert second.field("Thermocouple wrong by").value == "7"
    assert second.field("Hottest").value == "10"
    first.press("Add a base")
    second.go_round()
    assert "Take Base 1 out" in [e.props.get("aria-label") for e in second.all("button")]


def test_a_kiln_that_is_taken_out_comes_back_with_all_its_values(desk):
    say(desk, '[[kilns]]\nname = "old"\nerror_k = 9\n\n[[kilns]]\nname = "<b>new</b>"\nhottest_c = 1010\n')
    page = Built(lambda: equipment_page(desk))
    assert [e.text for e in page.all("h3") if "new" in e.text] == ["<b>new</b>"]
    before = table_of(desk.folder / "studio.toml")
    page.press("Take <b>new</b> out")
    assert [one.name for one in load_studio(desk.folder).all_kilns] == ["old"]
    page.press("Undo")
    assert table_of(desk.folder / "studio.toml") == before
    with pytest.raises(StopIteration):
        page.button("Undo")


def test_without_a_base_it_is_said_that_one_is_guessed(desk):
    page = Built(lambda: equipment_page(desk))
    assert "None yet: one is guessed for each flask." in page.text
    page.press("Add a base")
    assert "None yet: one is guessed" not in page.text


# ---- settings


NO_DATES = (
    ("2026-02-30", "is no date"),
    ("soon", "is no day of the week"),
    ("2026-12-24, 31.12.", "is no"),
    ("Monday", "Monday is a day of every week: tick it off above."),
)


def test_a_day_off_that_is_none_is_told_and_the_days_that_were_stay(desk):
    say(desk, 'days_off = ["Sunday", "2026-12-25"]\n')
    page = Built(lambda: settings_page(desk))
    for typed, says in NO_DATES:
        page.leave("Single days off", typed)
        assert says in page.help_of("Single days off")
        assert page.field("Single days off").value == typed
        assert page.state.startswith("Not saved: ")
        assert load_studio(desk.folder).days_off == ("Sunday", "2026-12-25")
    page.leave("Single days off", "")
    assert load_studio(desk.folder).days_off == ("Sunday",), "days of the week are ticked and not typed"
    assert page.help_of("Single days off") == "as 2026-12-24, 2026-12-31"


def test_days_off_that_are_being_typed_outlive_what_another_window_writes(desk):
    say(desk, 'days_off = ["2026-12-25"]\n')
    first, second = (Built(lambda: settings_page(desk)) for _ in range(2))
    second.type("Single days off", "2026-12-25, 2026-1")
    first.type("Paper", "us-letter")
    second.go_round()
    assert second.field("Single days off").value == "2026-12-25, 2026-1"
    assert second.field("Paper").value == "us-letter"


def test_days_off_that_another_window_changed_meanwhile_are_not_overwritten_unseen(desk):
    say(desk, 'days_off = ["2026-12-25"]\n')
    first, second = (Built(lambda: settings_page(desk)) for _ in range(2))
    second.type("Single days off", "2026-12-31")
    first.leave("Single days off", "2026-12-25, 2026-12-26")
    second.leave("Single days off", "2026-12-31")
    assert "the file says 2026-12-25, 2026-12-26 now" in second.help_of("Single days off")
    assert load_studio(desk.folder).days_off == ("2026-12-25", "2026-12-26")
    second.leave("Single days off", "2026-12-31")
    assert load_studio(desk.folder).days_off == ("2026-12-31",)
    first.go_round()
    assert first.field("Single days off").value == "2026-12-31"


def test_a_day_of_the_week_that_another_window_ticks_is_ticked_here(desk):
    first, second = (Built(lambda: settings_page(desk)) for _ in range(2))
    boxes = [[e for e in page.elements if type(e).__name__ == "Tick"] for page in (first, second)]
    first.happen(boxes[0][2], "ticked", False)
    second.go_round()
    assert [box.props["value"] for box in boxes[1]] == [True, True, False, True, True, True, True]
    first.happen(boxes[0][2], "ticked", True)
    assert load_studio(desk.folder).days_off == ()


def test_an_hour_that_is_none_is_told_at_its_field(desk):
    page = Built(lambda: settings_page(desk))
    for label, typed in (("At work from", "24:00"), ("At work from", "early"), ("to", "7:75")):
        page.leave(label, typed)
        assert page.field(label).props["aria-invalid"] == "true"
        assert typed in page.help_of(label)
    assert said(desk) == ""


@pytest.mark.parametrize(("shown", "says"), [("", "shown in grams."), ('display = "imperial"\n', "shown in ounces (28.35 each).")])
def test_it_is_said_in_what_powder_and_water_are_shown(desk, shown, says):
    say(desk, shown)
    assert says in Built(lambda: settings_page(desk)).text


@pytest.mark.parametrize(("patterns", "runs", "says"), [(1, 1, "1 pattern and 1 run,"), (0, 12, "0 patterns and 12 runs,")])
def test_what_came_back_is_counted_and_a_whole_one_says_no_doubt(desk, patterns, runs, says):
    page = Built(lambda: settings_page(desk))
    drop = next(e for e in page.elements if type(e).__name__ == "Drop")
    made = {"folder": "/x/<b>s</b>", "files": 1, "patterns": patterns, "runs": runs, "doubt": ""}
    for _ in range(2):
        page.happen(drop, "took", json.dumps(made))
    assert page.text.count("It is whole") == 1, "the last one alone is told"
    assert says in page.text
    assert "It lies in /x/<b>s</b>." in page.text
    assert "does not say what it must" not in page.text


# ---- own materials


NO_VALUES = (
    ("Density", "0", "0 is below what can be."),
    ("Density", "heavy", '"heavy" is no number.'),
    ("Price", "-1", "-1 is below what can be."),
    ("Liquidus", "700", "802 °C lies above the liquidus, 700 °C. Change the other one first, if this one is right."),
    ("Liquidus, from low to high", "900 to 890", "896 °C does not lie in it."),
    ("Liquidus, from low to high", "910 to 920", "896 °C does not lie in it."),
    ("Name", "", "Name must be said."),
)


def test_a_value_of_a_row_that_cannot_be_is_told_at_its_field_and_its_file_stays(desk, own):
    before = own.read_bytes()
    page = own_page(desk)
    for label, typed, says in NO_VALUES:
        page.leave(label, typed)
        assert page.help_of(label).startswith(says)
        assert page.field(label).props["aria-invalid"] == "true"
        assert page.state.startswith("Not saved: look at ")
    assert own.read_bytes() == before


def test_a_row_is_read_and_kept_in_fahrenheit_without_losing_what_was_typed(desk, own):
    say(desk, IMPERIAL)
    page = own_page(desk)
    page.leave("Liquidus", "1650")
    assert table_of(own)["liquidus_c"] == pytest.approx(898.889, abs=1e-3)
    assert own_page(desk).field("Liquidus").props["value"] == "1650"
    page.leave("Solidus", "1700")
    assert page.help_of("Solidus").startswith("1700.1 °F lies above the liquidus, 1650.0 °F.")
    page.leave("Liquidus, from low to high", "1700 to 1720")
    assert page.help_of("Liquidus, from low to high").startswith("1650.0 °F does not lie in it.")
    page.leave("Liquidus", "899 °C")
    assert table_of(own)["liquidus_c"] == 899
    say(desk, "")
    assert own_page(desk).field("Liquidus").props["value"] == "899"


def test_a_range_is_kept_beside_its_value_and_the_mark_says_own(desk, own):
    page = own_page(desk)
    page.leave("Liquidus, from low to high", "890 to 900")
    row = table_of(own)["liquidus_c"]
    assert (row["value"], row["low"], row["high"]) == (896, 890, 900)
    page.leave("Solidus", "800")
    line = next(e for e in page.all("li", "held") if page.words(e).startswith("Solidus"))
    assert [e.text for e in line.descendants() if "grade" in e.classes] == ["own"]


@pytest.mark.parametrize(("shelf", "name"), [("alloys", "mithril"), ("cupboards", "x"), ("flasks", "../../etc"), ("alloys", "")])
def test_a_row_that_there_is_not_is_refused(desk, shelf, name):
    with pytest.raises(BadRequestError):
        Built(lambda: material_page(desk, shelf, name))


def test_a_second_copy_takes_another_name_and_the_first_stays(desk, own):
    before = own.read_bytes()
    Built(lambda: material_page(desk, "alloys", "sterling-925")).press("Make a copy of my own")
    assert own.read_bytes() == before
    assert len(list(own.parent.glob("*.toml"))) == 2
    mine = Built(lambda: shelf_page(desk, "alloys")).all("section")[0]
    assert len([e for e in mine.descendants() if e.tag == "tr"]) == 3, "the head and two rows"


def test_a_removed_row_is_not_put_over_one_that_took_its_place(desk, own):
    page = own_page(desk)
    page.press("Remove it")
    own.write_text("name = 'another'\n", encoding="utf-8")
    page.press("Undo")
    assert "is there again" in page.state
    assert own.read_text(encoding="utf-8") == "name = 'another'\n"


def test_a_calibration_is_not_put_over_one_that_took_its_place(desk):
    written(desk.folder, kiln())
    page = Built(lambda: calibrations_page(desk))
    (path,) = desk.folder.rglob("kiln-2026-11-26-0.toml")
    text = path.read_bytes()
    page.press("Take kiln-2026-11-26-0 out")
    path.write_bytes(text + b"# measured again\n")
    page.press("Undo")
    assert "is there again" in page.state
    assert path.read_bytes().endswith(b"# measured again\n")


def test_a_shipped_row_offers_a_copy_and_nothing_that_would_change_it(desk):
    for shelf, name in (("alloys", "sterling-925"), ("programmes", "gypsum-wax")):
        page = Built(lambda at=(shelf, name): material_page(desk, *at))
        assert [page.words(b) for b in page.all("button")] == ["Make a copy of my own"]
        assert not [e for e in page.elements if hasattr(e, "value") and hasattr(e, "unit")]


def test_the_own_row_over_a_shipped_one_is_marked_so(desk, own):
    own.rename(own.with_name("sterling-925.toml"))
    text = (own.with_name("sterling-925.toml")).read_text(encoding="utf-8").replace('"sterling-925-own"', '"sterling-925"')
    own.with_name("sterling-925.toml").write_text(text, encoding="utf-8")
    assert "own, over the library's" in Built(lambda: shelf_page(desk, "alloys")).text
    page = Built(lambda: material_page(desk, "alloys", "sterling-925"))
    assert "Your figures over those of the library, in alloys/sterling-925.toml." in page.text
    assert [page.words(b) for b in page.all("button")] == ["Remove it"]


def test_a_flask_that_studio_toml_lists_leads_to_the_equipment(desk):
    say(desk, IMPERIAL + "[[flasks]]\ndiameter_mm = 88.9\nheight_mm = 101.6\nwall_mm = 2\n")
    page = Built(lambda: shelf_page(desk, "flasks"))
    assert "3.500 \u00d7 4.000 in" in page.text
    assert [e.props["href"] for e in page.all("a") if e.text == "They are changed among the equipment"] == ["/materials"]
