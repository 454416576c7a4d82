"""A burnout by itself, built without a browser: its form and address, its answer with all that the command tells, what stops it."""

import copy
from datetime import datetime, timedelta
from urllib.parse import parse_qsl, urlsplit

import pytest

from pourwell.app.desk_burnout import MOST_ROWS
from pourwell.app.desk_words import for_desk
from pourwell.app.in_hand import KILN_TAKEN
from pourwell.app.shown import Shown
from pourwell.errors import BadRequestError
from pourwell.findings import spelt_out
from pourwell.steps.burnout.model import BAG_WINS
from pourwell.web.desk.burnout import burnout_page
from pourwell.web.desk.burnout_told import PLACES
from pourwell.web.desk.material import material_page
from pourwell.web.desk.materials import shelf_page
from pourwell.web.desk.studio import studio_page
from tests.unit.app.burnt import burnt
from tests.unit.web.built import Built, note_addresses
from tests.unit.web.samples import at, finding

GIVEN = {"flask1": "76x102", "level1": "540", "count1": "1"}


@pytest.fixture
def desk(still_desk):
    return still_desk


@pytest.fixture
def address(monkeypatch):
    """The addresses that the page took."""
    taken = []
    note_addresses(monkeypatch, taken.append)
    return taken


def opened(desk, **given):
    return Built(lambda: burnout_page(desk, given or GIVEN))


def answered(desk, page, answer):
    """The burnout is asked for, and this comes."""
    page.press("See what it does")
    desk.crew.jobs[-1].end("done", outcome=answer)
    page.go_round()
    return page


def spaced(text):
    """With plain gaps for thin ones."""
    return " ".join(text.split())


def altered(*findings):
    """The answer with other findings."""
    found = copy.deepcopy(burnt())
    found["plan"]["findings"] = list(findings)
    return found


def test_a_first_visit_has_the_usual_flask_and_says_what_to_do(desk):
    page = Built(lambda: burnout_page(desk, {}))
    assert page.field("Flask").value.startswith("76")
    assert float(page.field("At the pour").value) > 400, "of the usual alloy"
    assert page.field("How many").value == "1"
    assert "What it does stands here" in page.text
    assert not page.all("div", "planned")


def test_what_is_typed_stands_in_the_address_and_comes_back_from_it(desk, address):
    page = opened(desk)
    page.type("At the pour", "500")
    page.press("Another flask")
    page.type("Programme", "gypsum-wax")
    page.happen(next(e for e in page.all("input") if e.props.get("type") == "checkbox"), "change", True)
    said = dict(parse_qsl(urlsplit(address[-1]).query))
    assert said["level1"] == said["level2"] == "500"
    assert (said["own"], said["stones"]) == ("gypsum-wax", "yes")
    again = opened(desk, **said)
    assert [e.value for e in again.elements if e.props.get("maxlength") == "2"] == ["1", "1"]
    assert again.field("Programme").value == "gypsum-wax"
    again.press("Take flask 2 out")
    assert "flask2" not in dict(parse_qsl(urlsplit(address[-1]).query))


def test_what_is_not_right_is_told_in_place_and_nothing_is_begun(desk, address):
    page = opened(desk)
    page.type("At the pour", "")
    assert page.help_of("At the pour") == "Enter the temperature of the flask at the pour."
    page.press("See what it does")
    assert desk.crew.jobs == []


def test_all_that_the_command_tells_stands_there(desk):
    found = burnt()
    told, text = found["told"], answered(desk, opened(desk), found).text
    programme, inside = told["programme"], told["programme"]["inside"]
    assert BAG_WINS in text
    assert f"Reading never above {told['reading']['never_over_c']} °C; at {told['reading']['off_c']} °C switch off" in text
    for moment in (
        told["kiln_on_at"],
        told["ready_at"],
        *(one["at"] for one in told["out"]),
        *(one["at"] for one in told["by_hand"]),
    ):
        assert moment[11:16] in text
    for one in told["segments"]:
        assert one["why"] in text
    for one in found["plan"]["burnout"]["segments"]:
        assert spelt_out(one["ruled"]) in text
    for one in told["by_hand"]:
        assert spelt_out(one["why"]) in text
    for verdict in (*programme["verdicts"], *(v for s in told["sizes"] for v in s["verdicts"])):
        assert verdict["what"][1:] in text
        assert verdict["at_end"] in text
    for words in (
        f"kWh, {programme['energy_low_kwh']:.1f} to {programme['energy_high_kwh']:.1f}",
        f"kPa, {inside['pressure_kpa']['low']:.0f} to {inside['pressure_kpa']['high']:.0f}",
        f"kWh, {inside['heat_kwh']['low']:.2f} to {inside['heat_kwh']['high']:.2f}",
        "Core passes 100 °C after", "Water gone after", "Drying takes at least", "Shortest found that keeps the limits",
        "Published programme", found["turn"], "Soaked", "Least margin",
    ):  # fmt: skip
        assert words in text, words
    for one in told["findings"]:
        assert spaced(Shown().text(one["says"])).split(".")[0][1:] in spaced(text)
    for one in inside["not_modelled"]:
        assert for_desk(one).split(":")[0][1:] in text


def test_heat_and_water_are_drawn_with_settings_and_pours(desk):
    page = answered(desk, opened(desk), burnt())
    assert len(page.all("polyline", "c-acc")) == 2, "the core, and the water"
    told = burnt()["told"]
    assert len(page.all("rect", "c-hand")) == len(told["by_hand"]) + len(told["out"])
    ids = {e.props.get("id") for e in page.elements}
    assert {place for _, place in PLACES} <= ids


def test_what_stops_it_stands_in_red_over_all_else_and_in_the_title(desk, address):
    page = answered(desk, opened(desk), altered(finding("stop", "It is still wet"), finding("stop", "It is set at night")))
    assert page.words(page.all("p", "do-not-pour")[0]) == "Do not fire: It is still wet (and 1 more). What to do"
    assert page.client.title == "Do not fire: a burnout by itself · Pourwell"
    assert [e.text for e in page.all("h1")] == ["A burnout by itself: do not fire"]
    page.type("At the pour", "500")
    answered(desk, page, altered())
    assert not page.all("p", "do-not-pour")
    assert page.client.title == "A burnout by itself · Pourwell"


def test_a_kiln_that_a_run_in_hand_has_stops_it_too(desk, monkeypatch):
    taken = finding("stop", "The kiln is taken by run 1", code=KILN_TAKEN)
    monkeypatch.setattr(desk, "kiln_clashes", lambda plan, burnout: (taken,) if plan["kiln_free_at"] > at(0) else ())
    page = answered(desk, opened(desk), altered())
    assert "Do not fire: The kiln is taken by run 1." in page.text


def test_a_change_says_that_the_answer_is_of_something_else(desk, address):
    page = answered(desk, opened(desk), burnt())
    assert "Worked out 08:30." in page.text
    assert not [b for b in page.all("button") if page.words(b) == "See what it does"]
    page.type("How many", "2")
    assert "Since then something was changed: work it out again." in page.text
    assert page.button("See what it does")


def test_an_answer_whose_kiln_should_be_on_by_now_says_so_and_can_be_worked_out_again(desk):
    page = answered(desk, opened(desk), burnt())
    on_at = datetime.fromisoformat(burnt()["told"]["kiln_on_at"])
    desk.clock = lambda: on_at + timedelta(minutes=5)
    page.go_round()
    assert "over by now" not in page.text, "the answer is still being read"
    desk.clock = lambda: on_at + timedelta(minutes=6)
    for one in (page, opened(desk)):
        one.go_round()
        assert " Its first step is over by now." in one.text
        assert one.button("See what it does")
    page.press("See what it does")
    assert [job.state for job in desk.crew.jobs] == ["done", "waiting"]
    page.go_round()
    assert "over by now" not in page.text, "it is being worked out"


def test_a_page_that_is_loaded_anew_shows_its_answer_or_goes_on_with_its_work(desk):
    page = opened(desk)
    page.press("See what it does")
    again = opened(desk)
    assert "Being worked out" in again.text
    desk.crew.jobs[-1].end("done", outcome=burnt())
    again.go_round()
    assert "Measures against their limits" in again.text
    assert "Measures against their limits" in opened(desk).text
    assert len(desk.crew.jobs) == 1


def test_work_can_be_stopped_and_a_refusal_is_told_where_the_answer_would_stand(desk):
    page = opened(desk)
    page.press("See what it does")
    page.press("Stop The burnout")
    assert not desk.crew.jobs[0].wanted
    fault = BadRequestError("The time is 2 h too long.", try_this="Start at least 2 h later, or leave --start out.")
    desk.crew.jobs[0].end("failed", fault=fault)
    page.go_round()
    assert "It cannot be worked out so" in page.text
    assert "or leave “Kiln on” open" in page.text
    assert page.button("See what it does")


def test_on_a_narrow_page_the_answer_comes_before_the_form_also_for_keys(desk):
    page = opened(desk)
    hears = next(e for e in page.elements if type(e).__name__ == "Narrow")

    def first(page):
        order = [e for e in page.elements if e.props.get("id") in ("goes-in", "findings")]
        return order[0].props["id"]

    page.happen(hears, "narrow", True)
    assert first(page) == "goes-in", "there is no answer yet"
    answered(desk, page, burnt())
    assert first(page) == "findings"
    page.happen(hears, "narrow", False)
    assert first(page) == "goes-in"


def test_ways_lead_here_from_the_studio_the_programmes_and_each_of_them(desk):
    def ways(build):
        return [e.props["href"] for e in Built(build).all("a") if str(e.props.get("href")).startswith("/burnout")]

    assert ways(lambda: studio_page(desk)) == ["/burnout"]
    assert ways(lambda: shelf_page(desk, "programmes")) == ["/burnout"]
    assert ways(lambda: material_page(desk, "programmes", "gypsum-wax")) == ["/burnout?own=gypsum-wax"]
    assert ways(lambda: shelf_page(desk, "alloys")) == []
    page = opened(desk, own="gypsum-wax")
    assert page.field("Programme").value == "gypsum-wax"
    assert page.field("Flask").value.startswith("76")


def test_figures_and_fields_are_in_the_units_of_the_studio(desk, address):
    (desk.folder / "studio.toml").write_text('[shown]\ntemperature = "F"\n', encoding="utf-8")
    page = opened(desk)
    assert page.field("At the pour").props["value"] == "1004"
    page.type("At the pour", "1000")
    assert dict(parse_qsl(urlsplit(address[-1]).query))["level1"] == "1000 °F"
    text = answered(desk, page, burnt()).text
    assert desk.crew.jobs[-1].given[1]["flasks"] == ("76x102:537.778",)
    assert "1350" in text, "732 degC at the peak"
    assert not [line for line in text.splitlines() if "°C" in line], "no figure is left in the other unit"


def test_of_several_kilns_one_is_chosen(desk, address):
    assert not [e for e in opened(desk).all("label") if e.text == "Kiln"]
    (desk.folder / "studio.toml").write_text('[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\n', encoding="utf-8")
    page = opened(desk)
    page.type("Kiln", "small")
    page.press("See what it does")
    assert desk.crew.jobs[-1].given[1]["kiln"] == "small"


def test_what_an_older_address_names_is_shown_as_it_stands(desk):
    page = opened(desk, **GIVEN, own="gone", investment="<b>gone</b>")
    assert page.field("Programme").value == "gone"
    assert ["<b>gone</b>", "<b>gone</b>"] in page.field("Investment").props["options"]


def test_a_load_takes_no_more_kinds_than_a_form_has_rows(desk, address):
    page = opened(desk)
    for _ in range(MOST_ROWS - 1):
        page.press("Another flask")
    assert not [b for b in page.all("button") if page.words(b) == "Another flask"]
    page.press(f"Take flask {MOST_ROWS} out")
    assert page.button("Another flask")


def test_every_figure_of_a_list_bears_the_name_of_its_column(desk):
    for shelf in ("alloys", "investments", "patterns", "flasks", "programmes"):
        page = Built(lambda shelf=shelf: shelf_page(desk, shelf))
        heads = [e.text for e in page.all("th") if e.props.get("scope") == "col"][1:]
        row = page.all("tbody")[-1].default_slot.children[0]
        assert [cell.props["data-label"] for cell in row.default_slot.children[1:]] == heads
