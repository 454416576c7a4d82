"""`pourwell size`: one size in all systems, and on a wide band."""

import math

import pytest

from tests.journeys.call import Caller


def test_a_size_stands_in_every_system(pourwell: Caller) -> None:
    data = pourwell("size", "US 7", "--json").data
    assert data["sizes"] == {"iso": "54.4", "us": "7", "uk": "N½", "jp": "14", "ch": "14.4"}
    assert data["circumference_mm"] == pytest.approx(math.pi * data["diameter_mm"], rel=1e-4)
    assert "band" not in data


@pytest.mark.parametrize(("width", "around_mm", "us"), [(3, 0, "7"), (6, 0.76, "7¼"), (8, 1.52, "7½"), (12, 1.9, "7¾")])
def test_a_wide_band_wants_a_larger_size_on_the_same_finger(pourwell: Caller, width: float, around_mm: float, us: str) -> None:
    band = pourwell("size", "US 7", "--width", width, "--json").data["band"]
    assert band["around_mm"] == pytest.approx(around_mm)
    assert band["sizes"]["us"] == us
    assert band["around_low_mm"] <= band["around_mm"] <= band["around_high_mm"]


def test_a_comfort_curve_takes_some_of_it_back(pourwell: Caller) -> None:
    flat, curved = (pourwell("size", "US 7", "--width", 8, "--json", *more).data["band"] for more in ([], ["--comfort"]))
    assert curved["around_mm"] == pytest.approx(flat["around_mm"] - 0.95)


def test_people_read_it_in_a_row(pourwell: Caller) -> None:
    said = pourwell("size", "US 7", "--width", 8).out
    assert "a band of 8 mm" in said
    assert "US 7½" in said
    assert "a band of" not in pourwell("size", "US 7").out


@pytest.mark.parametrize("width", [0, -1, 41, "nan"])
def test_a_band_that_no_finger_holds_is_refused(pourwell: Caller, width: object) -> None:
    answer = pourwell("size", "US 7", "--width", width)
    assert answer.code == 2
    assert "No band is" in answer.err


def test_a_size_that_is_no_line_is_told_in_one(pourwell: Caller) -> None:
    said = pourwell("size", "US\n7\x1b[31m\nb")
    assert said.code == 2
    assert said.err.splitlines()[:2] == ['"US 7 [31m b" is no ring size.', '"7 [31m b" is no size of US.']
