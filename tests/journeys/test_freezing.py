"""A jeweller asks how his tree freezes."""

import json
from pathlib import Path

import pytest

from tests.journeys.call import Caller


@pytest.fixture
def band(pourwell: Caller) -> str:
    assert pourwell("shape", "plain-band", "size=ISO 54", "--out", "band.stl").code == 0
    return "band.stl"


def test_a_plan_tells_how_its_tree_freezes_and_freeze_tells_it_again(pourwell: Caller, band: str) -> None:
    planned = pourwell("plan", f"{band}:2", "--alloy", "sterling-925", "--out", "run", "--freezing")
    assert planned.code == 0
    plan = json.loads(Path("run/plan.json").read_text(encoding="utf-8"))
    assert plan["freezing"]["clocks"][1]["verdict"] == "fed"
    assert {"freezing.json", "freezing.bin", "freezing.glb"} <= {p.name for p in Path("run").iterdir()}
    again = pourwell("freeze", "run", "--out", "fields", "--json")
    assert again.code == 0
    told = again.data["freezing"]
    before = plan["freezing"]["button"]
    assert told["button"]["value_s"] == pytest.approx(before["value_s"], rel=0.01), "corners in single precision change little"
    assert told["button"]["high_s"] == pytest.approx(before["high_s"], rel=0.03)
    assert len(again.data["files"]) == 4


def test_freeze_prints_the_verdict_first(pourwell: Caller, band: str) -> None:
    answer = pourwell("freeze", band, "--alloy", "sterling-925", "--edge-mm", "1.2")
    assert answer.code == 0
    lines = [line for line in answer.out.splitlines() if line.strip()]
    assert lines[1] == "Every piece stays fed until it is solid."
    assert "vacuum is held until then" in answer.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("freeze", "nowhere.stl", "--alloy", "sterling-925"), "nowhere.stl"),
        (("freeze", "band.stl"), "No alloy is named."),
        (("freeze", "band.stl", "--alloy", "sterling-925", "--edge-mm", "0.01"), "too many for this machine"),
        (("freeze", "band.stl", "--alloy", "sterling-925", "--metal", "700"), "below its liquidus"),
        (("freeze", "band.stl", "--alloy", "sterling-925", "--flask-temperature", "800"), "hotter than the metal's solidus"),
    ],
)
def test_what_cannot_be_frozen_is_said_before_the_run(pourwell: Caller, band: str, words: tuple[str, ...], said: str) -> None:
    answer = pourwell(*words)
    assert answer.code == 2
    assert said in answer.err
    assert answer.out == ""


def test_a_plan_without_its_freezing_says_nothing_of_it(pourwell: Caller, band: str) -> None:
    assert pourwell("plan", band, "--alloy", "sterling-925", "--out", "run", "--no-freezing").code == 0
    assert "freezing" not in json.loads(Path("run/plan.json").read_text(encoding="utf-8"))
    assert not Path("run/freezing.json").exists()
