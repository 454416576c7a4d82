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
    assert told == plan["freezing"], "what is stored is what was frozen, to the last figure"
    assert Path("fields/freezing.bin").read_bytes() == Path("run/freezing.bin").read_bytes()
    assert len(again.data["files"]) == 4
    before_files = {p.name: p.read_bytes() for p in Path("run").iterdir()}
    hotter = pourwell("freeze", "run", "--flask-temperature", "600")
    assert hotter.code == 2
    assert "--out" in hotter.err
    assert {p.name: p.read_bytes() for p in Path("run").iterdir()} == before_files, "the plan's own files are as they were"


def test_freeze_prints_the_verdict_first(pourwell: Caller, band: str) -> None:
    answer = pourwell("freeze", band, "--alloy", "sterling-925", "--edge-mm", "1.2")
    assert answer.code == 0
    lines = [line for line in answer.out.splitlines() if line.strip()]
    assert lines[1] == "Every piece stays fed until it is solid."
    assert "vacuum is held" in answer.out


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


def open_cube(path: str) -> tuple[str, ...]:
    """An open cube as text: five of its six faces, two triangles each."""
    corners = [(x, y, z) for x in (0, 9) for y in (0, 9) for z in (0, 9)]
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4)]
    lines = [f"v {x} {y} {z}" for x, y, z in corners] + ["f " + " ".join(str(i + 1) for i in face) for face in faces]
    Path(path).write_text("\n".join(lines), encoding="utf-8")
    return (path,)


def test_an_unclosed_piece_is_not_frozen_in_silence(pourwell: Caller) -> None:
    answer = pourwell("freeze", *open_cube("open.obj"), "--alloy", "sterling-925", "--units", "mm")
    assert answer.code == 2
    assert "A pattern of this tree is stopped" in answer.err
    assert answer.out == ""
    pourwell("plan", "open.obj", "--alloy", "sterling-925", "--units", "mm", "--out", "run")
    if Path("run").is_dir():
        assert "A pattern of this tree is stopped" in pourwell("freeze", "run").err


def test_cells_too_coarse_for_a_piece_are_refused_with_what_to_take(pourwell: Caller, band: str) -> None:
    answer = pourwell("freeze", band, "--alloy", "sterling-925", "--edge-mm", "9")
    assert answer.code == 2
    assert "smaller cells" in answer.err


def test_a_metal_that_conducts_nothing_is_refused(pourwell: Caller, band: str, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = Path("studio")
    (folder / "alloys").mkdir(parents=True)
    (folder / "studio.toml").write_text('name = "Ours"\n', encoding="utf-8")
    row = 'id = "sterling-925"\nconductivity_solid_w_per_m_k = 0\n'
    (folder / "alloys" / "sterling-925.toml").write_text(row, encoding="utf-8")
    monkeypatch.setenv("POURWELL_STUDIO", str(folder.resolve()))
    answer = pourwell("freeze", band, "--alloy", "sterling-925")
    assert answer.code == 2
    assert "The alloy sterling-925 conducts no heat." in answer.err
    assert answer.out == ""
