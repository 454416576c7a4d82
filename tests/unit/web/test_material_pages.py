"""Materials, equipment and settings, built without a browser: what they say, what a change writes, what a wrong one says."""

import json

import pytest

from pourwell.errors import BadRequestError
from pourwell.files.own_toml import table_of
from pourwell.materials.studio import load_studio
from pourwell.web.desk.equipment import equipment_page
from pourwell.web.desk.frame import frame
from pourwell.web.desk.material import material_page
from pourwell.web.desk.materials import calibrations_page, shelf_page, sources_page
from pourwell.web.desk.run import run_page
from pourwell.web.desk.settings import settings_page
from pourwell.web.desk.studio import studio_page
from tests.unit.materials.test_calibration import kiln, written
from tests.unit.web.built import Built
from tests.unit.web.samples import finding, planned


@pytest.fixture
def desk(still_desk):
    return still_desk


def say(desk, text):
    (desk.folder / "studio.toml").write_text(text, encoding="utf-8")


def leave(page, label, text):
    """Type into a field and leave it."""
    page.happen(page.field(label), "left", text)


def copy(desk, shelf="alloys", name="sterling-925"):
    Built(lambda: material_page(desk, shelf, name)).press("Make a copy of my own")
    return desk.folder / shelf / f"{name}-own.toml"


def saved(page):
    return next(e.text for e in page.all("span") if e.props.get("role") == "status")


@pytest.mark.parametrize("shelf", ["alloys", "investments", "patterns", "flasks", "programmes"])
def test_each_shelf_lists_the_library_and_says_how_to_have_rows_of_ones_own(desk, shelf):
    page = Built(lambda: shelf_page(desk, shelf))
    assert "None yet. Open a row of the library below and make a copy of your own." in page.text
    assert len(page.all("tr")) > 5


def test_a_shelf_that_there_is_not_is_refused(desk):
    with pytest.raises(BadRequestError, match="no such page"):
        Built(lambda: shelf_page(desk, "cupboards"))


def test_a_shipped_row_has_no_field_and_tells_every_value_with_its_source(desk):
    page = Built(lambda: material_page(desk, "alloys", "sterling-925"))
    assert not [e for e in page.elements if "lines" in e.props or "inputmode" in e.props]
    row = next(page.words(one) for one in page.all("li") if page.words(one).startswith("Liquidus"))
    assert row == "Liquidus 896 °C 893 to 899 handbook encyclopaedia authors, Sterling silver and its melting range, undated"
    with pytest.raises(StopIteration):
        page.button("Remove it")


def test_a_copy_is_listed_first_and_its_values_are_changed_in_their_fields(desk):
    path = copy(desk)
    listed = Built(lambda: shelf_page(desk, "alloys"))
    assert listed.words(listed.all("tr")[1]).startswith("Sterling silver, own 925 802 to 896 °C 970 °C 10.36 g/cm³ \u2014 own")
    page = Built(lambda: material_page(desk, "alloys", "sterling-925-own"))
    page.type("Liquidus", "89")
    assert saved(page) == "Not saved yet"
    assert table_of(path)["liquidus_c"]["value"] == 896
    leave(page, "Liquidus", "898")
    leave(page, "Price", "1.15")
    assert saved(page).startswith("Saved")
    assert (table_of(path)["liquidus_c"], table_of(path)["price_per_g"]) == (898, 1.15)
    assert dict(desk.choices().alloys)["sterling-925-own"] == "sterling silver, own"


def test_a_wrong_value_is_told_below_its_field_and_what_was_typed_stays(desk):
    path = copy(desk)
    before = path.read_bytes()
    page = Built(lambda: material_page(desk, "alloys", "sterling-925-own"))
    leave(page, "Solidus", "950")
    assert page.help_of("Solidus").startswith("950 °C lies above the liquidus, 896 °C.")
    assert page.field("Solidus").props["aria-invalid"] == "true"
    assert page.field("Solidus").value == "950"
    assert saved(page) == "Not saved: look at Solidus"
    assert path.read_bytes() == before
    leave(page, "Solidus", "801")
    assert page.help_of("Solidus") == ""
    assert table_of(path)["solidus_c"] == 801


def test_a_doubt_stands_at_the_head_of_its_row(desk):
    copy(desk)
    page = Built(lambda: material_page(desk, "alloys", "sterling-925-own"))
    leave(page, "Density", "11")
    assert "11 is more than 1.0% from the 10.37 of its recipe." in page.text


def test_what_another_hand_writes_is_shown_and_what_is_typed_against_it_is_refused_once(desk):
    path = copy(desk)
    page = Built(lambda: material_page(desk, "alloys", "sterling-925-own"))
    page.type("Liquidus", "890")
    outside = path.read_text(encoding="utf-8").replace("value = 896", "value = 897").replace("value = 985", "value = 990")
    path.write_text(outside + "# a note at the end\n", encoding="utf-8")
    for timer in [e for e in page.elements if type(e).__name__ == "Timer"]:
        with page.client:
            timer.callback()
    assert page.field("Metal, thin sections").value == "990"
    assert page.field("Liquidus").value == "890"
    leave(page, "Liquidus", "890")
    assert "It was changed elsewhere meanwhile: the file says 897 now." in page.help_of("Liquidus")
    leave(page, "Liquidus", "890")
    assert table_of(path)["liquidus_c"] == 890
    assert "# a note at the end" in path.read_text(encoding="utf-8")


def test_an_own_row_is_removed_and_comes_back(desk):
    path = copy(desk)
    before = path.read_bytes()
    page = Built(lambda: material_page(desk, "alloys", "sterling-925-own"))
    page.press("Remove it")
    assert not path.exists()
    assert "Sterling silver, own is removed" in page.text
    page.press("Undo")
    assert path.read_bytes() == before


def test_a_row_that_goes_while_it_is_looked_at_says_so(desk):
    path = copy(desk)
    page = Built(lambda: material_page(desk, "alloys", "sterling-925-own"))
    path.unlink()
    for timer in [e for e in page.elements if type(e).__name__ == "Timer"]:
        with page.client:
            timer.callback()
    assert "It is not here any more" in page.text


def test_names_of_ones_own_are_text_whatever_stands_in_them(desk):
    copy(desk)
    page = Built(lambda: material_page(desk, "alloys", "sterling-925-own"))
    leave(page, "Name", "<script>alert(1)</script>")
    again = Built(lambda: material_page(desk, "alloys", "sterling-925-own"))
    assert [e for e in again.elements if getattr(e, "text", "") == "<script>alert(1)</script>" and e.tag == "h1"]


def test_a_programme_is_told_level_by_level(desk):
    page = Built(lambda: material_page(desk, "programmes", "gypsum-wax"))
    assert "60 min at 50 mm, 120 min at 64 mm, 120 min at 102 mm, 180 min at 130 mm" in page.text
    copy(desk, "programmes", "gypsum-wax")
    own = Built(lambda: material_page(desk, "programmes", "gypsum-wax-own"))
    assert "Your own, in programmes/gypsum-wax-own.toml." in own.text


def labelled(page, name):
    return next(e for e in page.elements if e.props.get("aria-label") == name)


def test_levels_of_an_own_programme_are_changed_added_and_taken_out_on_its_page(desk):
    path = copy(desk, "programmes", "gypsum-wax")
    page = Built(lambda: material_page(desk, "programmes", "gypsum-wax-own"))
    count = len(table_of(path)["steps"])
    page.happen(labelled(page, "Level 1: Hold, min"), "left", "75")
    assert table_of(path)["steps"][0]["hold_min"] == 75
    assert saved(page).startswith("Saved")
    page.happen(labelled(page, "Level 1: Up or down to"), "left", "5000")
    assert "5000 is above what can be. Enter 20 to 1,300 °C." in page.text
    assert len(page.all("ol", "levels")[0].default_slot.children) == count
    page.happen(labelled(page, "Add a level after level 1"), "click")
    assert len(table_of(path)["steps"]) == count + 1
    page.happen(labelled(page, "Take level 2 out"), "click")
    assert len(table_of(path)["steps"]) == count
    page.press("Undo")
    assert len(table_of(path)["steps"]) == count + 1
    path.write_text(path.read_text(encoding="utf-8").replace("hold_min = 75", "hold_min = 80", 1), encoding="utf-8")
    page.go_round()
    assert labelled(page, "Level 1: Hold, min").value == "80"


def test_a_run_takes_an_own_burnout_and_its_plan_is_marked_when_that_is_changed(desk, run):
    assert "Burnout" not in [e.text for e in Built(lambda: run_page(desk, run.id)).all("label")]
    copy(desk, "programmes", "gypsum-wax")
    planned(desk, run)
    page = Built(lambda: run_page(desk, run.id))
    page.type("Burnout", "gypsum-wax-own")
    assert "Since then changed: burnout." in page.text
    page.press("Work it out again")
    assert desk.crew.jobs[0].given[1]["form"]["programme"] == "gypsum-wax-own"


def test_equipment_is_changed_in_place_and_says_whose_each_value_is(desk):
    say(desk, "# ours\n[kiln]\nerror_k = 4   # new\n")
    page = Built(lambda: equipment_page(desk))
    assert page.field("Thermocouple wrong by").value == "4"
    leave(page, "Thermocouple wrong by", "3")
    assert (desk.folder / "studio.toml").read_text(encoding="utf-8") == "# ours\n[kiln]\nerror_k = 3   # new\n"
    page.type("Cast by", "centrifuge")
    assert load_studio(desk.folder).casting.way == "centrifuge"
    leave(page, "Segments", "two")
    assert '"two" is no number. Enter 0 to 99.' in page.help_of("Segments")


def test_kilns_bases_and_flasks_come_and_go_with_undo(desk):
    say(desk, 'flasks = ["64x64", { diameter_mm = 89.5, height_mm = 102, wall_mm = 2.2 }]\n')
    page = Built(lambda: equipment_page(desk))
    page.press("Add a kiln")
    page.press("Add a base")
    assert [kiln.name for kiln in load_studio(desk.folder).kilns] == ["kiln 1", "kiln 2"]
    page.press("Take kiln 2 out")
    assert [kiln.name for kiln in load_studio(desk.folder).kilns] == ["kiln 1"]
    page.press("Undo")
    assert [kiln.name for kiln in load_studio(desk.folder).kilns] == ["kiln 1", "kiln 2"]
    page.press("Take Base 1 out")
    page.press("Take 64x64 out")
    studio = load_studio(desk.folder)
    assert (studio.bases, [flask.id for flask in studio.flasks]) == ((), ["90x102"])
    listed = Built(lambda: shelf_page(desk, "flasks"))
    assert "89.5 \u00d7 102 mm" in listed.text


def test_calibrations_are_told_and_taken_out_with_undo(desk):
    assert "Nothing is measured yet" in Built(lambda: calibrations_page(desk)).text
    written(desk.folder, kiln())
    page = Built(lambda: calibrations_page(desk))
    assert "110 (102 to 118)" in page.text
    page.press("Take kiln-2026-11-26-0 out")
    assert "Nothing is measured yet" in page.text
    page.press("Undo")
    assert "110 (102 to 118)" in page.text


def test_a_calibration_that_another_window_took_out_is_told_and_gone(desk):
    written(desk.folder, kiln())
    one, other = (Built(lambda: calibrations_page(desk)) for _ in range(2))
    one.press("Take kiln-2026-11-26-0 out")
    other.press("Take kiln-2026-11-26-0 out")
    assert "Not saved:" in other.text
    assert "Nothing is measured yet" in other.text
    assert "Undo" not in other.text


def test_sources_and_grades_are_explained(desk):
    page = Built(lambda: sources_page(desk))
    assert "remembered from the source named, not read again" in page.text
    assert any(row.startswith("Dinsdale") for row in map(page.words, page.all("li")))


def test_settings_write_hours_days_and_paper(desk):
    page = Built(lambda: settings_page(desk))
    leave(page, "At work from", "9")
    leave(page, "to", "8")
    assert "09:00 is not before its end, 08:00" in page.help_of("to")
    page.happen(next(e for e in page.elements if e.props.get("type") == "checkbox" or type(e).__name__ == "Tick"), "ticked", False)
    leave(page, "Single days off", "2026-12-24")
    leave(page, "Single days off", "24 December")
    assert "is no date" in page.help_of("Single days off")
    page.type("Kiln on overnight", "no")
    page.type("Paper", "us-letter")
    studio = load_studio(desk.folder)
    assert (f"{studio.work_from:%H:%M}", studio.days_off, studio.overnight_firing) == ("09:00", ("Monday", "2026-12-24"), False)
    assert studio.paper == "us-letter"


def test_a_restored_studio_says_where_it_is_and_how_it_is_opened(desk):
    page = Built(lambda: settings_page(desk))
    drop = next(e for e in page.elements if type(e).__name__ == "Drop")
    assert (drop.props["to"], drop.props["single"]) == ("/incoming/back-up", True)
    made = {"folder": "/x/studio-restored", "files": 4, "patterns": 1, "runs": 2, "doubt": "studio.toml: kiln."}
    page.happen(drop, "took", json.dumps(made))
    assert "1 pattern and 2 runs, in 4 files." in page.text
    assert "It lies in /x/studio-restored." in page.text
    assert "Rename the folder studio to studio-before." in page.text
    assert "does not say what it must: studio.toml: kiln." in page.text


def test_figures_fields_and_findings_of_every_page_stand_in_the_units_of_the_studio(desk, run):
    say(desk, '[shown]\nlength = "inch"\ntemperature = "F"\nweight = "dwt"\n')
    planned(desk, run, findings=[finding("warn", "Rim is 0.50 mm thick")])
    page = Built(lambda: run_page(desk, run.id))
    words = page.words(page.client.layout)
    for said in ("48.3 dwt", "21.06 oz", "1778 °F", "Rim is 0.0197 in thick"):
        assert said in words, (said, words)
    assert " g " not in words.partition("Findings")[0].partition("To weigh")[2]
    assert "1004 °F" in Built(lambda: studio_page(desk)).text
    made = Built(lambda: equipment_page(desk))
    assert made.field("Hottest").props["value"] == "2012"
    leave(made, "Hottest", "2000")
    assert table_of(desk.folder / "studio.toml")["kiln"]["hottest_c"] == 1093.333333
    assert Built(lambda: equipment_page(desk)).field("Hottest").props["value"] == "2000"


def test_a_run_says_what_it_costs_where_prices_are_known(desk, run):
    result = planned(desk, run)
    page = Built(lambda: run_page(desk, run.id))
    assert "Fresh metal, price 49.61 EUR" in page.words(page.client.layout)
    del result.data["plans"][0]["costs"]  # as older results are
    desk.store.add_result(run_id=run.id, asked=result.asked, data=result.data, files={"run-sheet.pdf": b"%PDF"}, now=desk.clock())
    page = Built(lambda: run_page(desk, run.id))
    assert "price" not in page.words(page.client.layout)


def test_a_weight_typed_in_pennyweights_is_kept_as_it_was_typed(desk):
    say(desk, '[shown]\nweight = "dwt"\n')
    blank = desk.new_run()
    page = Built(lambda: run_page(desk, blank.id))
    page.type("Tree on the scale", "15.5")
    assert desk.store.run(blank.id).form["weight"] == "15.5 dwt"
    assert Built(lambda: run_page(desk, blank.id)).field("Tree on the scale").props["value"] == "15.5"
    say(desk, "")
    assert Built(lambda: run_page(desk, blank.id)).field("Tree on the scale").props["value"] == "24.10519"


def test_a_page_hears_that_other_units_were_chosen_and_is_loaded_anew(desk, monkeypatch):
    loaded = []
    monkeypatch.setattr("pourwell.web.desk.frame.ui.navigate.reload", lambda: loaded.append(1))
    made = []

    def build():
        with frame(desk, at="/", title="x") as page:
            made.append(page)

    Built(build)
    made[0].heard()
    assert loaded == []
    say(desk, 'display = "imperial"\n')
    made[0].heard()
    assert loaded == [1]
    say(desk, "display = \n")
    made[0].state.set_text("")
    made[0].heard()
    assert "is not a TOML file" in made[0].state.text
