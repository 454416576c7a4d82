"""A burnout by itself at its edges: other units, several kilns, hostile addresses, two windows, a restart, a stop."""

import re
from urllib.parse import parse_qsl, urlsplit

import pytest

from pourwell.app.desk_burnout import MOST, MOST_ROWS
from pourwell.errors import UnknownNameError
from pourwell.findings import spelt_out
from pourwell.web.desk.burnout import burnout_page
from pourwell.web.desk.firing import firing_page
from tests.unit.app.burnt import burnt
from tests.unit.web.built import Built, note_addresses
from tests.unit.web.deep import deep, worked_out
from tests.unit.web.samples import finding
from tests.unit.web.test_burnout_page import GIVEN, altered, answered, opened

KILNS = '[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small <b>one</b>"\nsegments_count = 3\n'
IMPERIAL = '[shown]\nlength = "inch"\ntemperature = "F"\ndecimal = "comma"\n'


@pytest.fixture
def desk(still_desk):
    return still_desk


@pytest.fixture(autouse=True)
def address(monkeypatch):
    """The addresses that the page took."""
    taken = []
    note_addresses(monkeypatch, taken.append)
    return taken


def asked(desk):
    return desk.crew.jobs[-1].given[1]


def studio(desk, text):
    (desk.folder / "studio.toml").write_text(text, encoding="utf-8")


def test_a_flask_is_typed_in_fahrenheit_and_asked_in_celsius(desk, address):
    """1004 °F are 540 °C and 950 °F are 510 °C, by definition of both scales."""
    studio(desk, IMPERIAL)
    page = opened(desk)
    assert page.field("At the pour").props["value"] == "1004"
    page.type("At the pour", "950")
    assert dict(parse_qsl(urlsplit(address[-1]).query))["level1"] == "950 °F"
    page.press("See what it does")
    assert asked(desk)["flasks"] == ("76x102:510",)
    page.type("At the pour", "30")
    assert page.help_of("At the pour") == "30 °F is below what can be. Enter 68 to 2\u202f012 °F."


def test_a_reader_of_fahrenheit_and_commas_finds_no_kelvin_and_no_point(desk):
    """1839.2 °F are 1004 °C, 9.9 degrees Fahrenheit are 5.5 K, 1849.1 °F are 1009.5 °C: by definition of both scales."""
    studio(desk, IMPERIAL)
    facts = {"says": "{t:1004} set, and a kiln that may be {k:5.5} hotter, make {t:1009.5}.", "do": "Set {t:732}."}
    facts |= {"measure": "{t:1009.5}", "limit": "{t:760}, {k:152}"}
    over = finding("stop", spelt_out(facts["says"]), marked=facts)
    page = answered(desk, opened(desk), altered(over, *burnt()["plan"]["findings"]))
    said = page.text.replace("\u00a0", " ")
    assert "Do not fire: 1839 °F set, and a kiln that may be 9,9 °F hotter, make 1849 °F" in said
    assert "1849 °F; limit 1400 °F, 274 °F" in said
    energy = burnt()["plan"]["burnout"]
    assert f"kWh, {energy['energy_low_kwh']:.1f} to {energy['energy_high_kwh']:.1f}".replace(".", ",") in said
    lines = [line for line in said.splitlines() if re.search(r"\d K\b", line) or re.search(r"(?<![\w.])\d+\.\d+(?![\w.])", line)]
    assert not [line for line in lines if "http" not in line], "neither"


@pytest.mark.parametrize(
    ("label", "text", "says"),
    [
        ("At the pour", "hot", '"hot" is no number. Enter 20 to 1,100 °C.'),
        ("At the pour", "1e9", '"1e9" is no number. Enter 20 to 1,100 °C.'),
        ("At the pour", "540 g", '"540 g" is no number. Enter 20 to 1,100 °C.'),
        ("How many", "0", "0 is below what can be. Enter 1 to 20."),
        ("How many", "1,5", "1,5 is no whole number. Enter 1 to 20."),
        ("How many", "99", "99 is above what can be. Enter 1 to 20."),
        ("How many", "two", '"two" is no number. Enter 1 to 20.'),
    ],
)
def test_what_is_no_figure_is_told_at_its_field_and_nothing_is_begun(desk, label, text, says):
    page = opened(desk)
    page.type(label, text)
    assert page.help_of(label) == says
    page.press("See what it does")
    assert desk.crew.jobs == []


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"pour_hour": "25:00"}, '"25:00" is no time of day. Enter it as 10:00.'),
        ({"pour_day": "2026-11-28"}, "The day needs an hour, such as 10:00."),
        ({"pour_day": "soon", "pour_hour": "10"}, '"soon" is no day. Enter it as 2026-11-26.'),
        ({"on_hour": "8:00"}, "08:00 on Thursday 26 November is over. Enter a later time."),
        (
            {"on_day": "2026-11-28", "on_hour": "10", "pour_day": "2026-11-28", "pour_hour": "9"},
            "The first pour lies before the kiln goes on. Enter a later one, or leave one of the two empty.",
        ),
    ],
)
def test_hours_that_cannot_be_are_told_where_they_stand(desk, given, says):
    page = opened(desk, **GIVEN, **given)
    page.press("See what it does")
    assert desk.crew.jobs == []
    helps = [e.text for e in page.elements if "help" in e.classes]
    assert says in helps


def test_of_several_kilns_one_is_chosen_by_its_name_which_is_text(desk, address):
    studio(desk, KILNS)
    page = opened(desk)
    page.type("Kiln", "small <b>one</b>")
    page.press("See what it does")
    assert asked(desk)["kiln"] == "small <b>one</b>"
    again = opened(desk, **dict(parse_qsl(urlsplit(address[-1]).query)))
    assert again.field("Kiln").value == "small <b>one</b>"
    assert "Being worked out" in again.text, "it is the very same that was asked"


@pytest.mark.parametrize("listed", ['[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "wide"\n', '[kiln]\nname = "tall"\n', ""])
def test_a_kiln_that_is_gone_stays_in_its_field_is_told_there_and_nothing_is_begun(desk, address, listed):
    studio(desk, listed)
    page = opened(desk, **GIVEN, kiln="small")
    assert ["small", "small, not in studio.toml"] in page.field("Kiln").props["options"]
    assert page.field("Kiln").value == "small"
    assert page.help_of("Kiln").startswith('No kiln is called "small" any more. Choose another one')
    page.press("See what it does")
    assert desk.crew.jobs == []
    page.type("Kiln", "")
    assert page.help_of("Kiln") == ""
    page.press("See what it does")
    assert "kiln" not in asked(desk)


def test_a_kiln_that_goes_while_the_page_is_open_is_told_at_once(desk):
    studio(desk, KILNS)
    page = opened(desk, **GIVEN, kiln="small <b>one</b>")
    assert page.help_of("Kiln") == ""
    studio(desk, KILNS.replace("small <b>one</b>", "wide"))
    page.go_round()
    assert page.help_of("Kiln").startswith('No kiln is called "small <b>one</b>" any more.')


def test_with_one_kiln_no_kiln_is_asked_for(desk):
    assert not [e for e in opened(desk).all("label") if e.text == "Kiln"]


def test_an_answer_is_of_the_studio_as_it_stood_and_is_not_shown_for_another(desk):
    answered(desk, opened(desk), burnt())
    assert "Measures against their limits" in opened(desk).text
    studio(desk, "[kiln]\nerror_k = 20\n")
    page = opened(desk)
    assert "Measures against their limits" not in page.text
    assert "What it does stands here" in page.text


def test_another_window_with_other_fields_asks_for_itself(desk):
    first, second = opened(desk), opened(desk, flask1="76x102", level1="480", count1="2")
    first.press("See what it does")
    second.press("See what it does")
    assert [job.given[1]["flasks"] for job in desk.crew.jobs] == [("76x102:540",), ("76x102:480", "76x102:480")]
    desk.crew.jobs[1].end("done", outcome=burnt())
    first.go_round()
    second.go_round()
    assert "Measures against their limits" in second.text
    assert "Measures against their limits" not in first.text


def test_only_the_last_few_answers_are_held_and_an_older_one_is_asked_anew(desk):
    for k in range(MOST + 1):
        answered(desk, opened(desk, flask1="76x102", level1=f"{500 + k}", count1="1"), burnt())
    assert "What it does stands here" in opened(desk, flask1="76x102", level1="500", count1="1").text
    assert "Measures against their limits" in opened(desk, flask1="76x102", level1="501", count1="1").text


def test_a_stop_leaves_the_form_and_the_older_answer(desk):
    page = answered(desk, opened(desk), burnt())
    page.type("At the pour", "500")
    page.press("See what it does")
    page.press("Stop The burnout")
    desk.crew.jobs[-1].end("stopped")
    page.go_round()
    assert page.field("At the pour").value == "500"
    assert "Measures against their limits" in page.text
    assert not page.all("div", "not-done")
    assert page.button("See what it does")


def test_a_refusal_takes_the_red_band_of_the_answer_before_away(desk):
    page = answered(desk, opened(desk), altered(finding("stop", "It is still wet")))
    assert page.all("p", "do-not-pour")
    page.type("At the pour", "500")
    page.press("See what it does")
    desk.crew.jobs[-1].end("failed", fault=UnknownNameError("burnout programme", "wacks", ["gypsum-wax"]))
    page.go_round()
    assert not page.all("p", "do-not-pour")
    assert page.client.title == "A burnout by itself · Pourwell"
    assert 'No burnout programme is called "wacks". Choose one of the list.' in page.text


@pytest.mark.parametrize("evil", ["<script>window.stolen = 1</script>", "../../etc/passwd", "'\"}{t:5}"])
@pytest.mark.parametrize("field", ["flask1", "own", "investment"])
def test_what_an_address_makes_up_is_shown_as_text_and_left_to_the_work_to_refuse(desk, field, evil):
    page = opened(desk, **(GIVEN | {field: evil}))
    label = {"flask1": "Flask", "own": "Programme", "investment": "Investment"}[field]
    assert page.field(label).value == evil
    page.press("See what it does")
    said = asked(desk)["flasks"][0] if field == "flask1" else asked(desk)[field]
    assert said.startswith(evil)


def test_no_more_rows_than_a_load_has_and_the_last_one_stays(desk, address):
    page = opened(desk)
    for _ in range(MOST_ROWS - 1):
        page.press("Another flask")
    assert not [e for e in page.all("button") if page.words(e) == "Another flask"]
    for place in range(MOST_ROWS, 1, -1):
        page.press(f"Take flask {place} out")
    assert not [e for e in page.all("button") if str(e.props.get("aria-label", "")).startswith("Take flask")]
    assert dict(parse_qsl(urlsplit(address[-1]).query)).keys() >= {"flask1", "level1", "count1"}


def test_a_row_that_is_taken_out_takes_its_own_fields_alone(desk, address):
    page = opened(desk, **GIVEN, flask2="64x64", level2="480", count2="3", flask3="50x55", level3="500", count3="1")
    page.press("Take flask 2 out")
    page.press("See what it does")
    assert asked(desk)["flasks"] == ("76x102:540", "50x55:500")
    assert {key for key in dict(parse_qsl(urlsplit(address[-1]).query)) if key[-1].isdigit()} == {
        f"{name}{k}" for name in ("flask", "level", "count") for k in (1, 3)
    }


# ---- inside the flask, of a run of several


def firing(desk, run, flask):
    return Built(lambda: firing_page(desk, run.id, flask=flask))


def test_a_run_of_several_flasks_has_a_page_each_and_a_number_that_is_none_leads_to_the_nearest(desk, run):
    other = deep()
    other["flask"] = {"diameter_mm": 64.0, "height_mm": 64.0}
    worked_out(desk, run, deep(), other)
    sizes = ("76 \u00d7 102 mm", "64 \u00d7 64 mm")
    for flask, place in ((1, 0), (2, 1), (99, 1), (-5, 0), (0, 0)):
        page = firing(desk, run, flask)
        ways = [e for e in page.all("a") if str(e.props.get("href")).startswith(f"/runs/{run.id}/burnout?flask=")]
        assert [e.props.get("aria-current") for e in ways] == ["page" if k == place else None for k in range(2)]
        assert f"flask {sizes[place]}" in page.text.replace("\u00a0", " ")


def test_a_run_of_one_flask_has_no_ways_between_flasks(desk, run):
    worked_out(desk, run, deep())
    assert not firing(desk, run, 1).all("nav", "flasks")


def test_a_core_that_never_dries_is_told_so_and_has_no_dot(desk, run):
    made = deep(dry=None)
    for key in ("core_dry_early_min", "core_dry_late_min"):
        made["burnout"].pop(key)
    worked_out(desk, run, made)
    page = firing(desk, run, 1)
    assert "Core dry\nnot before the end" in page.text
    assert "after the end of the programme" in page.text
    assert not [e.text for e in page.all("span", "c-word") if e.text.startswith("core dry")]


def test_a_page_of_a_run_that_is_not_worked_out_says_so_and_begins_it(desk, run):
    page = firing(desk, run, 1)
    assert "Nothing is computed yet" in page.text
    old = deep()
    old["burnout"].pop("inside")
    worked_out(desk, run, old)
    again = firing(desk, run, 1)
    assert "This plan does not hold it" in again.text
    assert again.button("Work it out again")


def test_an_address_without_a_flask_has_the_usual_one_and_keeps_what_else_it_says(desk):
    page = Built(lambda: burnout_page(desk, {"stones": "yes", "pour_day": "2026-11-28", "pour_hour": "10:00"}))
    page.press("See what it does")
    assert asked(desk)["stones"] is True
    assert asked(desk)["ready"].startswith("2026-11-28T10:00")
    assert asked(desk)["flasks"][0].startswith("76")
