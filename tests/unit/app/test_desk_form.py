"""A form becomes the words of a request, or a reason beside each field."""

from datetime import UTC, datetime

import pytest

from pourwell.app.desk import NEW_RUN
from pourwell.app.desk_form import request_of_form, why_no_size
from pourwell.files.job_toml import build_request

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)


def of(*, by_weight=False, **fields):
    return request_of_form({**NEW_RUN, **fields}, by_weight=by_weight, now=NOW, zone=UTC)


def test_a_new_form_of_pieces_is_ready():
    said, faults = of()
    assert faults == {}
    assert said["alloy"] == "sterling-925"
    assert said["freeze"] == "draft"
    assert "pour_at" not in said


def test_a_weight_is_wanted_where_there_are_no_pieces():
    assert of(by_weight=True)[1] == {"weight": "Put the tree on the scale and enter what it shows."}
    said, faults = of(by_weight=True, weight="23,4")
    assert (said["weight_g"], faults) == (23.4, {})
    assert "freeze" not in said, "a tree known by its weight has no shape that could freeze"


def test_a_weight_is_not_asked_for_where_there_are_pieces():
    said, faults = of(weight="rubbish")
    assert faults == {}
    assert "weight_g" not in said


def test_returns_are_a_share():
    assert of(returns="40")[0]["returns_fraction"] == 0.4
    assert of(returns="140")[1]["returns"].startswith("140 is above")


def test_the_pour_is_read_on_the_clock_of_the_studio():
    assert of(pour_day="2026-11-27", pour_hour="10")[0]["pour_at"] == "2026-11-27T10:00:00+00:00"
    assert "is over" in of(pour_hour="7")[1]["pour_hour"]


def test_all_that_is_wrong_is_told_at_once():
    _, faults = of(by_weight=True, weight="x", returns="y", pour_hour="z")
    assert set(faults) == {"weight", "returns", "pour_hour"}


def test_freezing_can_be_left_out():
    assert of(freeze=False)[0]["freeze"] == "none"


@pytest.mark.parametrize("fields", [{}, {"title": "Six bands", "flask": "76x100", "investment": "gypsum-resin", "returns": "30"}])
def test_the_words_make_a_request(fields):
    said, _ = of(by_weight=True, weight="23.4", **fields)
    request = build_request({key: value for key, value in said.items() if value != ""}, where="desk")
    assert request.weight_g == 23.4
    assert request.alloy == "sterling-925"


def test_a_weight_in_pennyweights_or_troy_ounces_becomes_grams_of_a_request():
    """20 dwt are a troy ounce of 31.1034768 g (NIST Handbook 44, appendix C)."""
    for text in ("20 dwt", "1 ozt", "31.1034768 g", "31,1034768"):
        said, faults = request_of_form({"weight": text}, by_weight=True, now=NOW, zone=None)
        assert faults == {}
        assert said["weight_g"] == pytest.approx(31.1034768)


def test_a_length_is_no_weight():
    _, faults = request_of_form({"weight": "20 mm"}, by_weight=True, now=NOW, zone=None)
    assert faults["weight"] == '"20 mm" is no number. Enter 0.1 to 20,000 g.'


def test_own_temperatures_are_passed_on_and_empty_ones_are_not():
    said, faults = of(metal_c="965", flask_c="510 °C")
    assert faults == {}
    assert (said["metal_c"], said["flask_c"]) == (965.0, 510.0)
    assert not {"metal_c", "flask_c"} & of()[0].keys()


def test_a_metal_temperature_under_the_liquidus_is_refused_with_the_reason():
    def faults(text):
        return request_of_form({**NEW_RUN, "metal_c": text}, by_weight=False, now=NOW, zone=UTC, liquidus_c=896.0)[1]

    assert faults("880")["metal_c"].startswith("880 is below what can be, for this alloy is liquid from 896 °C on. Enter 896")
    assert faults("900") == {}
    assert of(flask_c="2000")[1]["flask_c"].startswith("2000 is above what can be. Enter 20 to 1,100 °C")


@pytest.mark.parametrize(("kept", "word"), [(True, "draft"), (False, "none"), ("fine", "fine")])
def test_freezing_is_asked_for_as_draft_or_finer_or_not(kept, word):
    assert of(freeze=kept)[0]["freeze"] == word


def test_a_size_that_is_wanted_must_be_one_and_only_of_what_the_run_takes():
    form = {**NEW_RUN, "size_3": "57.1", "size_4": "US 7", "size_5": "large"}
    _, faults = request_of_form(form, by_weight=False, pieces=[3, 4, 6], now=NOW, zone=UTC)
    assert list(faults) == ["size_3"]
    assert "57.1" in faults["size_3"]
    assert request_of_form(form, by_weight=False, pieces=[4], now=NOW, zone=UTC)[1] == {}


@pytest.mark.parametrize("text", ["", "  ", "US 7", "ISO 54", "17.3 mm"])
def test_what_is_a_size_or_nothing_has_no_fault(text):
    assert why_no_size(text) == ""
