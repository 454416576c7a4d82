"""The days ahead as they were placed, built without a browser: the work, the kilns, the picture, what stops them."""

import pytest

from pourwell.app.desk_words import DASH
from pourwell.web.desk.days_told import WORD_WIDE, stacked
from tests.unit.app.days_samples import answer, apart, flask, load, placed
from tests.unit.web.days_built import begun, built, worked_out
from tests.unit.web.samples import at, finding

STOP = {**finding("stop", "the core is not dry at the pour"), "code": "core-wet", "marked": {}}


@pytest.fixture
def desk(still_desk):
    return still_desk


@pytest.fixture
def two(desk):
    return [desk.new_run(fields={"weight": weight, "flask": "64x64", "title": "Studs"}) for weight in ("11", "12")]


def test_a_run_in_hand_that_has_the_kiln_stops_the_days_in_a_band_of_its_own(desk, two):
    begun(desk, two[0])
    page = worked_out(desk, answer(placed([flask(2, 20)], [load(1, [2], on_h=3)])))
    band = page.words(page.all("p", "do-not-pour")[0])
    assert band.startswith(
        "Do not fire: The kiln is taken by run 1 from Wed 20:30 to Thu 12:30, and this run is to go in at Thu 11:30."
    )
    assert page.words(page.all("h1")[0]) == "The days ahead: do not fire"
    row = page.words(page.all("li", "find")[0])
    assert "Firing 1" in row
    assert "set “Nothing before” under Limits, and work the days out again." in row
    assert "Open the sheet" not in page.text, "it knows nothing of that run"
    assert "Load the calendar" not in page.text


def test_a_kiln_set_by_hand_has_its_settings_by_the_clock(desk, two):
    settings = [
        {"at": at(8), "set_c": 150.0, "seen_c": 20.0, "why": "climb slowly", "looks": False},
        {"at": at(12), "set_c": 150.0, "why": "look before bed: it must show {t:140} to {t:160}", "looks": True},
    ]
    data = placed([flask(1, 25), flask(2, 49)], [load(1, [1, 2], on_h=8, settings=settings, segments=[], how="")])
    page = worked_out(desk, answer(data))
    rows = [page.words(row).replace("\u00a0", " ") for row in page.all("tr") if page.words(row).startswith("Thu")]
    assert rows == [
        "Thu 16:30 150 °C 20 °C climb slowly",
        f"Thu 20:30 150 °C {DASH} look before bed: it must show 140 °C to 160 °C",
    ]
    assert "Set by hand, by the clock" in page.text
    assert "Segment" not in page.text


def test_a_controller_is_typed_and_what_it_does_not_take_is_set_by_hand(desk, two):
    late = [{"at": at(20), "set_c": 540.0, "seen_c": 600.0, "why": "flask temperature", "looks": False}]
    page = worked_out(
        desk, answer(placed([flask(1, 25), flask(2, 49)], [load(1, [1, 2], on_h=8, settings=late, how="Type so far")]))
    )
    assert "Type so far" in page.text
    assert "1 90 °C/h 150 °C 2:00 resin swells slowly" in [page.words(row) for row in page.all("tr")]
    assert "Then by hand, by the clock" in page.text


def test_a_firing_says_when_it_goes_on_when_it_is_first_poured_and_when_it_is_cool_again(desk, two):
    data = placed([flask(1, 25), flask(2, 26, bagged=True)], [load(1, [1, 2], on_h=9, longer_min=70, typed="typed as firing 1")])
    page = worked_out(desk, answer(data))
    firing = next(page.words(s) for s in page.all("section") if page.words(s).startswith("Firing 1"))
    assert "Kiln on Thu 26 Nov 17:30 First pour Fri 27 Nov 09:30" in firing
    assert "Last pour, kiln off Fri 27 Nov 10:30 Cool enough again Fri 27 Nov 15:30" in firing
    assert "resin in gypsum; typed as firing 1; held 1 h 10 longer than the programme itself" in firing
    assert "64x64, bagged damp" in page.text


def test_what_the_night_takes_and_the_mains_are_said_with_the_kilns(desk, two):
    text = worked_out(desk, answer(apart())).text
    assert "It fires while you sleep. Extraction on." in text
    assert "kiln off at the mains before the tongs go in" in text
    assert "A schedule on the bag" in text


def test_two_kilns_have_lines_of_their_own_in_the_picture(desk, two):
    loads = [load(1, [1], on_h=8, kiln="tall"), load(2, [2], on_h=9, kiln="small")]
    page = worked_out(desk, answer(placed([flask(1, 25), flask(2, 26)], loads)))
    assert "small: whole line; tall: dashed" in page.text
    kinds = [child.classes[0] for child in page.all("div", "one-day")[0].default_slot.children[0].default_slot.children]
    assert {"c-ink", "c-acc"} <= set(kinds)


def test_first_comes_what_to_do_when_then_kilns_picture_and_findings(desk, two):
    page = worked_out(
        desk, answer(placed(apart()["runs"], apart()["loads"], findings=[finding("note", "it fires while nobody is awake")]))
    )
    text = page.text.partition("What to do when")[2].partition("What to do when")[2]  # the ways of a phone stand before
    order = [
        "Thursday 26 November",
        "Mix, pour the slurry",
        "Into the runs",
        "Firing 1, kiln",
        "The days as a picture",
        "Findings",
    ]
    assert [text.index(words) for words in order] == sorted(text.index(words) for words in order)
    assert page.words(page.all("ol", "of-days")[0]).startswith("10:30 Mix, pour the slurry run 1, Studs 1 20 min 16:30 Kiln on")
    assert "Fri 27 Nov 09:30" in text
    links = {a.text: a.props["href"] for a in page.all("a", "btn")}
    assert links["Open the sheet"].endswith("/day.pdf")
    assert links["Load the calendar"].endswith("/day.ics")
    assert "Worked out 08:30." in page.text


def test_the_picture_has_a_strip_a_day_with_the_kiln_the_work_and_the_hours(desk, two):
    page = worked_out(desk, answer(apart()))
    strips = page.all("div", "one-day")
    assert len(strips) == 3
    assert strips[0].default_slot.children[0].props["aria-label"] == "Thursday 26 November: 20 min of work, 0 pours."
    boxes = [child for child in strips[0].default_slot.children[0].default_slot.children if "c-hand" in child.classes]
    assert [(box.props["x"], box.props["width"]) for box in boxes] == [("437.5", "12.5")], "10:30 to 10:48 of a day of 1000"
    opened = [child for child in strips[2].default_slot.children[0].default_slot.children if "c-open" in child.classes]
    assert opened == [], "a day off has no hours"
    assert "1 invest" in page.words(strips[0])
    assert "pour 1" in page.words(strips[1])


def test_words_that_would_meet_stand_below_each_other_and_the_last_is_left_to_the_list():
    told = list(stacked([(0.1, "a"), (0.15, "b"), (0.16, "c"), (0.17, "d"), (0.5, "e"), (0.99, "f")], WORD_WIDE))
    assert told == [(0.1, 0, "a"), (0.15, 1, "b"), (0.16, 2, "c"), (0.5, 0, "e"), (0.99, 0, "f")]


def test_a_stop_stands_in_a_band_and_nothing_is_taken(desk, two):
    page = worked_out(desk, answer(placed(apart()["runs"], apart()["loads"], findings=[STOP])))
    assert "Do not pour: the core is not dry at the pour." in page.words(page.all("p", "do-not-pour")[0])
    assert page.words(page.all("h1")[0]) == "The days ahead: do not pour"
    assert "What stops it comes first." in page.text
    with pytest.raises(StopIteration):
        page.button("Take these hours into the runs")


def test_a_result_whose_first_step_is_over_says_so(desk, two):
    data = apart()
    data["days"][0]["jobs"][0]["at"] = "2026-11-26T08:10:00+00:00"
    page = worked_out(desk, answer(data))
    assert "Its first step is over by now." in page.text


def test_temperatures_are_in_the_units_of_the_reader(desk, two):
    (desk.folder / "studio.toml").write_text('display = "imperial"\n', encoding="utf-8")
    page = worked_out(desk, answer(placed([flask(1, 25), flask(2, 49)], [load(1, [1], on_h=8), load(2, [2], on_h=32)])))
    pours = next(s for s in page.all("section") if page.words(s).startswith("Pours"))
    assert "1004 °F" in page.words(pours), "540 degC"


def test_the_scale_of_the_picture_is_in_the_units_of_the_reader(desk, two):
    (desk.folder / "studio.toml").write_text('[shown]\ntemperature = "F"\n', encoding="utf-8")
    page = worked_out(desk, answer(apart()))
    assert "1200 °F" in page.words(page.all("div", "one-day")[0]), "the highest round figure under 800 degC, which is 1472"
    assert "800 °C" not in page.text


def test_a_pour_near_midnight_is_named_within_the_picture(desk, two):
    page = worked_out(desk, answer(placed([flask(1, 39), flask(2, 63)], [load(1, [1], on_h=22), load(2, [2], on_h=46)])))
    strip = page.all("div", "one-day")[1]
    (word,) = [child for child in strip.default_slot.children if getattr(child, "text", "") == "pour 1"]
    assert "end" in word.classes, "23:30: it stands before its place"


def test_a_strip_of_a_day_without_work_says_so(desk, two):
    page = worked_out(desk, answer(apart()))
    says = [strip.default_slot.children[0].props["aria-label"] for strip in page.all("div", "one-day")]
    assert says[1] == "Friday 27 November: no hands-on work, 1 pour."
    assert says[2] == "Saturday 28 November: no hands-on work, 1 pour."


def test_on_a_narrow_page_what_is_worked_out_stands_before_the_form_for_keys_too(desk, two):
    page = built(desk)
    narrow = next(element for element in page.elements if type(element).__name__ == "Narrow")
    page.happen(narrow, "narrow", True)
    assert in_order(page) == ["in", "out"], "before there is a result the form comes first"
    page.press("Work the days out")
    desk.crew.do(answer(apart()))
    page.go_round()
    assert in_order(page) == ["out", "in"]
    page.happen(narrow, "narrow", False)
    assert in_order(page) == ["in", "out"]


def in_order(page):
    """Form and result as they follow each other for keys."""
    (columns,) = page.all("div", "over-days")
    return [child.classes[0] for child in columns.default_slot.children]
