"""How the kiln is set, told on pages: what is typed, what is set by hand and when, and the cautions that stand beside it."""

import copy

import pytest

from pourwell.steps.burnout.model import BAG_WINS
from pourwell.steps.day.night import OVERNIGHT
from pourwell.web.desk.burnout_told import flask_name
from pourwell.web.desk.firing import span_band
from pourwell.web.desk.frame import frame
from pourwell.web.desk.kiln_told import cautions, controller
from tests.unit.web.built import Built
from tests.unit.web.deep import deep
from tests.unit.web.samples import NOW, at, plan

IMPERIAL = '[shown]\ntemperature = "F"\nlength = "inch"\ndecimal = "comma"\n'


@pytest.fixture
def shown(still_desk):
    """Something of a plan on a page of the desk."""

    def go(tell, *, studio=""):
        (still_desk.folder / "studio.toml").write_text(studio, encoding="utf-8")

        def build():
            with frame(still_desk, at="/runs", title="Run") as page:
                tell(page)

        return Built(build)

    return go


def by_hand(*points, takes=0, **more):
    """A plan whose kiln takes so many segments; the rest is set at these minutes from its start [degC]."""
    made = copy.deepcopy(plan(**more))
    made["burnout"]["segments"] = [made["burnout"]["segments"][0] | {"number": n, "why": f"segment {n}"} for n in (1, 2, 3)]
    made["burnout"]["by_hand"] = [{"at_min": m, "set_c": c, "seen_c": seen, "why": "{t:150} is held"} for m, c, seen in points]
    made["inputs"] = {"studio": {"kiln": {"segments_count": takes}}}
    return made


def rows(page, label):
    region = next(e for e in page.elements if e.props.get("aria-label") == label)
    return [page.words(row) for row in region.descendants() if row.tag == "tr"][1:]


def test_a_controller_that_takes_all_has_all_segments_and_nothing_by_hand(shown):
    page = shown(lambda page: controller(by_hand(), page))
    assert len(rows(page, "Controller segments")) == 3
    assert "by hand" not in "".join(e.text for e in page.all("h2"))
    assert "1:05" in rows(page, "Controller segments")[0], "65 min in hours, as a controller takes it"


@pytest.mark.parametrize(
    ("takes", "heads"), [(0, ["Set by hand, by the clock"]), (2, ["Set the controller", "Then by hand, by the clock"])]
)
def test_what_a_controller_does_not_take_is_set_by_hand(shown, takes, heads):
    page = shown(lambda page: controller(by_hand((0, 150, None), (300, 370, 368), takes=takes), page))
    assert [e.text for e in page.all("h2")] == heads
    assert len(rows(page, "Settings by hand")) == 2
    assert not takes or len(rows(page, "Controller segments")) == takes


def test_a_setting_names_its_day_where_the_day_begins_and_what_the_kiln_should_show(shown):
    """Kiln on at 16:30 on a Thursday; 7 h later it is 23:30, 8 h later 00:30 on Friday."""
    assert NOW.strftime("%a %H:%M") == "Thu 08:30"
    page = shown(lambda page: controller(by_hand((0, 150, None), (420, 370, 368), (480, 540, 541)), page))
    first, second, third = rows(page, "Settings by hand")
    assert first.startswith("Thu 16:30 150 °C \u2014")
    assert second.startswith("23:30 370 °C 368 °C")
    assert third.startswith("Fri 00:30 540 °C 541 °C")
    assert "150 °C is held" in first.replace("\u00a0", " ")


def test_settings_stand_at_the_moments_of_the_day_where_it_has_them(shown):
    made = by_hand((0, 150, None), (300, 370, 368))
    made["timeline"][1] |= {"moments": [at(8), at(14)], "hands_on_min": 10}
    page = shown(lambda page: controller(made, page))
    assert [row.split(" 1")[0].split(" 3")[0] for row in rows(page, "Settings by hand")] == ["Thu", "22:30"]


def test_degrees_are_those_of_the_studio_and_a_pace_has_no_32_in_it(shown):
    """150 °C are 302 °F; 120 °C an hour are 216 °F an hour; 540 °C are 1004 °F."""
    page = shown(lambda page: controller(by_hand((0, 150, None), takes=3), page), studio=IMPERIAL)
    assert "\u2212216 °F/h 1004 °F" in rows(page, "Controller segments")[0]
    assert "302 °F \u2014" in rows(page, "Settings by hand")[0]
    assert "°C" not in page.text


@pytest.mark.parametrize(("studio", "never", "off"), [("", "728 °C", "748 °C"), (IMPERIAL, "1342 °F", "1378 °F")])
def test_what_a_kiln_may_show_is_told_in_whole_degrees_of_the_scale_under_it(shown, studio, never, off):
    """728.9 °C and 748.9 °C: 728 is 1342.4 °F, 748 is 1378.4 °F."""
    made = plan() | {"reading_c": {"never_above": 728.9, "off": 748.9}}
    page = shown(lambda _: cautions(made), studio=studio)
    assert f"Reading never above {never}; at {off} switch off: the run is lost." in page.text


@pytest.mark.parametrize(
    ("more", "night"),
    [
        ({}, True),
        ({"overnight": ""}, False),
        ({"overnight": OVERNIGHT}, True),
        ({"pour": {"flask_c": 540.0, "at": at(15)}}, False),
    ],
)
def test_a_night_with_the_kiln_on_is_told_with_all_its_cautions(shown, more, night):
    """An old plan does not say whether it is one: then a burnout from one day to another is."""
    page = shown(lambda _: cautions(plan() | more))
    assert (f"It fires while you sleep. {OVERNIGHT}" in page.text) is night
    assert BAG_WINS in page.text
    assert "Kiln off at the mains before the tongs go in" in page.text


@pytest.mark.parametrize(
    ("load", "says"),
    [
        ({}, "by hand to the flask temperature of the next pour and hold"),
        ({"kiln_load": {"runs": [1, 2]}, "run": {"number": 1}}, "by hand to 540 °C and hold"),
        ({"kiln_load": {"runs": [1, 2]}, "run": {"number": 2}}, "by hand to the flask temperature of the next pour and hold"),
    ],
)
def test_what_the_kiln_goes_on_with_for_flasks_that_stay_is_known_only_where_some_do(shown, load, says):
    assert says in shown(lambda _: cautions(plan() | load)).text.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("studio", "label", "says"),
    [
        ("", "76x102", "76.2 \u00d7 101.6 mm"),
        ("", "76x102-perforated", "76.2 \u00d7 101.6 mm, perforated"),
        (IMPERIAL, "76x102", "3,000 \u00d7 4,000 in"),
    ],
)
def test_a_flask_of_a_load_is_called_as_in_the_lists(shown, studio, label, says):
    names = []
    shown(lambda page: names.append(flask_name(label, page)), studio=studio)
    assert names == [says]


def test_a_band_whose_end_never_comes_says_so():
    assert span_band({"likely": 90, "low": 60, "high": None}) == ("1 h 30", "1 h to not before the end")
    assert span_band({}) == ("not before the end", "not before the end to not before the end")


def test_the_samples_of_a_plan_have_what_pages_ask_of_one():
    assert set(plan()["burnout"]) <= set(deep()["burnout"])
