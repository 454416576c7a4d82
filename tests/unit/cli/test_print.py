"""`pourwell print`: what it prints, as text and as data, and how it ends."""

import pytest

from tests.unit.geometry.distance_samples import box
from tests.unit.geometry.printed_samples import cup, stl_file


@pytest.fixture
def band(pourwell):
    assert pourwell("shape", "comfort-band", "--out", "band.stl").code == 0
    return "band.stl"


def test_the_numbers_a_user_needs_come_first(pourwell, band):
    answer = pourwell("print", band)
    assert answer.code == 0
    first, stands, turn, time, *_ = [line for line in answer.out.splitlines() if line.strip()]
    assert first.startswith("band.stl, castable printing resin")
    assert "lying flat, the bore upright" in stands
    assert "90° about x" in turn
    assert "layers of 0.05 mm" in time
    assert "Other ways to stand (--direction):" in answer.out
    assert "Write yours under [printer] into studio.toml" in answer.out
    assert "safety glasses" in answer.out
    assert "WARN" not in answer.out


def test_the_same_as_data(pourwell, band):
    data = pourwell("print", band, "--json", "--layer", "0.025", "--direction", "0,0,1").data
    plan = data["print"]
    assert data["findings"] == []
    assert plan["chosen"] == "asked"
    assert plan["way"]["direction"] == [0, 0, 1]
    assert plan["time"]["layer_mm"] == 0.025
    assert plan["layers_mm3"] == pytest.approx(plan["volume_mm3"], rel=0.002)
    assert [s["reach"] for s in plan["steps"]] == ["open", "bore", "recess"]


def test_asking_for_the_direction_that_was_best_gives_the_same_print(pourwell, band):
    best = pourwell("print", band, "--json").data["print"]
    again = pourwell("print", band, "--json", "--direction", ",".join(map(str, best["way"]["direction"]))).data["print"]
    for key in ("time", "resin", "steps", "under_mm2", "islands", "cups"):
        assert again[key] == best[key]


@pytest.mark.parametrize("words", [("--direction", "up"), ("--layer", "0"), ("--pattern", "wax-injection"), ("--units", "ell")])
def test_a_bad_request_ends_with_two_and_a_sentence(pourwell, band, words):
    answer = pourwell("print", band, *words)
    assert answer.code == 2
    assert answer.err.strip().endswith(".")


def test_a_file_in_the_wrong_unit_ends_with_three_until_the_user_says_it(pourwell, tmp_path):
    small = stl_file(tmp_path / "small.stl", box((0, 0, 0), (0.02, 0.02, 0.03)))
    answer = pourwell("print", small, "--layer", "0.01")
    assert answer.code == 3
    assert "STOP" in answer.out
    assert pourwell("print", small, "--units", "m").code == 0


def test_a_cup_is_warned_of_and_the_command_ends_well(pourwell, tmp_path):
    answer = pourwell("print", stl_file(tmp_path / "cup.stl", cup()), "--direction", "0,0,1")
    assert answer.code == 0
    assert "WARN" in answer.out
    assert "every lift sucks at it" in answer.out
