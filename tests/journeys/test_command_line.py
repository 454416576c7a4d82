"""The program from words to files and exit codes."""

import json
import struct
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from pourwell.app.demo import demo_files
from pourwell.files.folder import write_folder
from pourwell.geometry.mesh import Mesh
from tests.journeys.call import Caller


def soon(days: int = 3) -> str:
    """A pour some days ahead, at ten."""
    return f"{(datetime.now(UTC) + timedelta(days=days)):%Y-%m-%d} 10:00"


def test_one_command_makes_the_whole_folder(pourwell: Caller, shapes: dict[str, Path]) -> None:
    answer = pourwell(
        "plan", f"{shapes['band.stl']}:2", shapes["pendant.ply"], "--alloy", "sterling-925", "--pour-at", soon(), "--out", "run"
    )
    assert answer.code == 0, answer.err
    made = {p.name for p in Path("run").iterdir()}
    assert {"plan.json", "job.json", "run-sheet.pdf", "day.ics", "tree.glb", "tree.stl", "pattern-A-walls.png"} <= made
    assert Path("run/run-sheet.pdf").read_bytes().startswith(b"%PDF")
    for name in made:
        assert f"{Path('run') / name}" in answer.out


def test_the_plan_holds_the_keys_of_its_contract(pourwell: Caller, shapes: dict[str, Path]) -> None:
    pour = soon()
    words = ("plan", f"{shapes['band.stl']}:2", "--alloy", "sterling-925", "--investment", "gypsum-standard", "--flask", "76x100")
    assert pourwell(*words, "--pour-at", pour, "--out", "run").code == 0
    plan = json.loads(Path("run/plan.json").read_text(encoding="utf-8"))
    piece = plan["pieces"][0]
    assert piece["count"] == 2
    assert piece["volume_mm3"] == pytest.approx(427.0, rel=2e-3)  # pi (R^2 - r^2) w of the band asked for
    assert piece["metal_g"] == pytest.approx(4.424, rel=2e-3)  # the same at 10.36 g/cm3
    assert piece["pattern_g"] > 0
    assert piece["bore"]["diameter_mm"] == pytest.approx(54 / np.pi, abs=0.02)
    tree, flask = plan["tree"], plan["flask"]
    assert tree["metal_g"] > 2 * piece["metal_g"]
    assert tree["clearance_mm"] >= 3
    assert (flask["diameter_mm"], flask["height_mm"]) == pytest.approx((76.2, 101.6), abs=1.7)
    assert plan["charge"]["total_g"] >= tree["metal_g"]
    assert plan["investment"]["water_g"] < plan["investment"]["powder_g"]
    for segment in plan["burnout"]["segments"]:
        assert {"ramp_c_per_h", "target_c", "hold_min"} <= segment.keys()
    assert plan["burnout"]["segments"][-1]["target_c"] == plan["pour"]["flask_c"] < plan["pour"]["metal_c"]
    entries = plan["timeline"]
    assert all(e["starts_at"] <= e["ends_at"] for e in entries)
    assert next(e for e in entries if e["key"] == "pour")["starts_at"].startswith(pour.replace(" ", "T"))
    assert {"code", "severity", "where", "says", "do"} <= plan["findings"][0].keys()


def test_a_job_file_asks_for_the_same_and_the_command_line_wins(pourwell: Caller, shapes: dict[str, Path]) -> None:
    text = f'alloy = "gold-585-yellow"\nflask = "64x64"\n[[pieces]]\nfile = "{shapes["band.stl"].as_posix()}"\ncount = 1\n'
    Path("job.toml").write_text(text, encoding="utf-8")
    assert pourwell("plan", "job.toml", "--out", "a").code == 0
    assert pourwell("plan", "job.toml", "--alloy", "sterling-925", "--out", "b").code == 0
    a, b = (json.loads(Path(f"{name}/plan.json").read_text(encoding="utf-8")) for name in "ab")
    assert (a["alloy"]["id"], b["alloy"]["id"]) == ("gold-585-yellow", "sterling-925")
    assert a["flask"]["id"] == b["flask"]["id"] == "64x64"


def test_a_weight_gives_the_whole_sheet_and_names_what_is_not_known(pourwell: Caller) -> None:
    answer = pourwell("plan", "--weight", 14.3, "--alloy", "sterling-925", "--flask", "76x100", "--pour-at", soon(), "--out", "run")
    assert answer.code == 0, answer.err
    plan = json.loads(Path("run/plan.json").read_text(encoding="utf-8"))
    assert "pieces" not in plan
    assert "tree" not in plan
    assert plan["weighed"]["pattern_g"] == pytest.approx(14.3)
    assert len(plan["unknown"]) >= 4
    assert {"plan.json", "run-sheet.pdf", "day.ics", "job.json"} == {p.name for p in Path("run").iterdir()}


def test_three_numbers_at_the_scale(pourwell: Caller) -> None:
    answer = pourwell("weigh", 41.2, "--base", 26.9, "--pattern", "resin", "--alloy", "sterling-925", "--json")
    assert answer.code == 0, answer.err
    data = answer.data
    assert data["weighed"]["pattern_g"] == pytest.approx(14.3)
    all_resin = pourwell("weigh", 14.3, "--wax", 0, "--pattern", "resin", "--alloy", "sterling-925", "--json").data["weighed"]
    assert all_resin["body_g"] == pytest.approx(14.3 * 9.50, rel=2e-3)  # published factor of sterling for resin of 1.09
    assert all_resin["body_g"] < data["weighed"]["body_g"] < 14.3 * 10.36 / 0.95, "sprue wax takes more metal a gram"
    assert data["charge"]["total_g"] > data["weighed"]["metal_g"] > data["weighed"]["body_g"]


def test_the_mix_for_a_flask_with_its_clock(pourwell: Caller) -> None:
    answer = pourwell("mix", "76x100", "--json")
    assert answer.code == 0, answer.err
    mix = answer.data["investment"]
    assert mix["bowl_cm3"] >= 3 * mix["slurry_cm3"]
    assert [s["at_s"] for s in mix["clock"]] == sorted(s["at_s"] for s in mix["clock"])
    assert "powder" in pourwell("mix", "76x100").out


@pytest.mark.parametrize("size", ["US 7", "iso 54.4", "UK N 1/2", "JP 14", "17.32 mm"])
def test_one_size_in_every_system(pourwell: Caller, size: str) -> None:
    answer = pourwell("size", size, "--json")
    assert answer.code == 0, answer.err
    assert answer.data["diameter_mm"] == pytest.approx(17.32, abs=0.05)
    assert "trade charts differ by up to half a letter" in pourwell("size", size).out
    assert {"iso", "us", "uk", "jp", "ch"} == answer.data["sizes"].keys()


def test_materials_are_listed_and_shown_with_their_sources(pourwell: Caller) -> None:
    assert "sterling-925" in pourwell("materials").out
    shown = pourwell("materials", "sterling-925").out
    assert "liquidus_c" in shown
    assert "handbook" in shown or "published" in shown or "supplier" in shown
    assert pourwell("materials", "sterling-925", "--json").data["id"] == "sterling-925"


def test_a_shape_becomes_a_file_that_checks_well(pourwell: Caller) -> None:
    assert pourwell("shape", "comfort-band", "size=ISO 60", "--out", "band.3mf").code == 0
    answer = pourwell("check", "band.3mf", "--size", "ISO 60", "--json")
    assert answer.code == 0, answer.err
    assert answer.data[0]["piece"]["units"] == "mm"
    assert answer.data[0]["piece"]["bore"]["diameter_mm"] == pytest.approx(60 / np.pi, abs=0.03)
    assert pourwell("shape", "comfort-band", "--out", "band.3mf").code == 2
    assert pourwell("shape", "list", "--json").data[0]["name"] == "plain-band"


def test_several_runs_lie_in_folders_of_their_own(pourwell: Caller, shapes: dict[str, Path]) -> None:
    answer = pourwell(
        "plan", f"{shapes['band.stl']}:14", "--alloy", "sterling-925", "--flask", "64x64", "--pour-at", soon(4), "--out", "job"
    )
    assert answer.code == 0, answer.err
    job = json.loads(Path("job/job.json").read_text(encoding="utf-8"))
    assert len(job["runs"]) > 1
    assert sum(r["pieces_count"] for r in job["runs"]) == 14
    plans = [json.loads((Path("job") / r["folder"] / "plan.json").read_text(encoding="utf-8")) for r in job["runs"]]
    assert len({p["burnout"]["starts_at"] for p in plans}) == 1
    assert len({p["pour"]["at"] for p in plans}) == len(plans)


def test_an_unsound_pattern_stops_the_run_and_the_plan_is_written_and_stamped(pourwell: Caller) -> None:
    corners = np.array([[0, 0, 0], [12, 0, 0], [0, 12, 0], [0, 0, 12]], dtype=float)
    opened = Mesh(corners, np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2]]))  # one side is missing
    Path("open.stl").write_bytes(stl_bytes(opened))
    assert pourwell("check", "open.stl").code == 3
    answer = pourwell("plan", "open.stl", "--alloy", "sterling-925", "--pour-at", soon(), "--out", "run")
    assert answer.code == 3, answer.err
    plan = json.loads(Path("run/plan.json").read_text(encoding="utf-8"))
    assert plan["run"]["stopped"] is True
    assert plan["findings"][0]["severity"] == "stop"
    assert "DO NOT POUR" in answer.out


def stl_bytes(mesh: Mesh) -> bytes:
    """A binary STL."""
    rows = b"".join(
        struct.pack("<12fH", *normal, *corners.ravel(), 0) for normal, corners in zip(mesh.normals, mesh.corners, strict=True)
    )
    return b"\0" * 80 + struct.pack("<I", len(mesh.faces)) + rows


def test_the_users_own_hot_metal_is_named_with_the_fault_it_invites(pourwell: Caller, shapes: dict[str, Path]) -> None:
    words = ("plan", shapes["band.stl"], "--alloy", "sterling-925", "--metal", 1060, "--flask-temperature", 500)
    answer = pourwell(*words, "--pour-at", soon(), "--out", "run")
    assert answer.code == 0, answer.err
    plan = json.loads(Path("run/plan.json").read_text(encoding="utf-8"))
    found = next(f for f in plan["findings"] if f["code"] == "metal-hot")
    assert "gas" in found["says"]
    assert (plan["pour"]["metal_c"], plan["pour"]["flask_c"]) == (1060, 500)


BAD = [
    (("plan", "--alloy", "sterling-925"), "nothing to cast", None),
    (("plan", "none.stl", "--alloy", "sterling-925"), "none.stl", None),
    (("plan", "empty.stl", "--alloy", "sterling-925"), "empty", None),
    (("plan", "band.stl", "--alloy", "sterling-952"), "sterling-925", None),
    (("plan", "band.stl:-2", "--alloy", "sterling-925"), "-2 pieces", None),
    (("plan", "band.stl:0", "--alloy", "sterling-925"), "0 pieces", None),
    (("plan", "band.stl"), "No alloy", None),
    (("plan", "band.stl", "--alloy", "sterling-925", "--pour-at", "2020-01-01 10:00"), "in the past", None),
    (("plan", "band.stl", "--alloy", "sterling-925", "--pour-at", "soon"), "YYYY-MM-DD", None),
    (("plan", "band.stl", "--alloy", "sterling-925", "--flask", "tall"), "flask", None),
    (("plan", "band.stl", "--alloy", "sterling-925", "--units", "ell"), "ell", None),
    (("plan", "band.stl", "--alloy", "sterling-925", "--size", "X 9"), "X 9", None),
    (("plan", "band.stl", "--alloy", "sterling-925", "--investment", "gypsum-standart"), "gypsum-standard", None),
    (("plan", "bangle.stl", "--alloy", "sterling-925"), "larger than every flask", None),
    (("plan", "band.stl", "--weight", "12", "--alloy", "sterling-925"), "not both", None),
    (("plan", "--weight", "-4", "--alloy", "sterling-925"), "greater than 0", None),
    (("weigh", "20", "--base", "26", "--alloy", "sterling-925"), "weigh as much", None),
    (("plan", "band.stl", "--alloy", "sterling-925", "--out", "taken"), "exists already", None),
    (("plan", "band.stl", "--alloy", "sterling-925", "--out", "band.stl"), "is a file", None),
    (("plan", "job.toml"), "job.toml", None),
    (("mix", "0x0"), "flask", None),
    (("size", "US seven"), "US seven", None),
    (("shape", "tiara"), "tiara", None),
    (("shape", "plain-band", "width=-1", "--out", "x.stl"), "width", None),
    (("shape", "plain-band", "girth=2", "--out", "x.stl"), "girth", None),
]


@pytest.mark.parametrize(("words", "says", "_"), BAD, ids=lambda v: " ".join(v) if isinstance(v, tuple) else None)
def test_a_bad_request_is_a_sentence_and_leaves_nothing(
    pourwell: Caller, shapes: dict[str, Path], words: tuple[str, ...], says: str, _: None
) -> None:
    Path("empty.stl").write_bytes(b"")
    Path("band.stl").write_bytes(shapes["band.stl"].read_bytes())
    Path("taken").mkdir()
    Path("taken/letter.txt").write_text("dear aunt")
    assert pourwell("shape", "plain-band", "bore=120", "width=8", "thickness=3", "--out", "bangle.stl").code == 0
    before = sorted(str(p) for p in Path().rglob("*"))
    answer = pourwell(*words)
    assert answer.code == 2, answer.out + answer.err
    assert says in answer.err
    assert "Traceback" not in answer.err
    assert sorted(str(p) for p in Path().rglob("*")) == before


def test_the_demo_replaces_an_older_demo_and_names_every_file(pourwell: Caller, monkeypatch: pytest.MonkeyPatch) -> None:
    older = demo_files()
    known = json.dumps({"schema": "pourwell.job", "files": [*older, "job.json"]})
    write_folder(Path("demo-run"), {**older, "job.json": known.encode()})
    Path("demo-run/notes.txt").write_text("of an older demo")
    kept = pourwell("demo")
    assert kept.code == 2, "what is not of the demo is never lost"
    assert "notes.txt" in kept.err
    Path("demo-run/notes.txt").unlink()
    answer = pourwell("demo")
    assert answer.code == 0, answer.err
    named = {line.strip() for line in answer.out.splitlines() if line.strip().startswith("demo-run")}
    assert named == {str(p) for p in Path("demo-run").rglob("*") if p.is_file()}
    plan = json.loads(Path("demo-run/plan.json").read_text(encoding="utf-8"))
    assert plan["pour"]["at"][11:16] == "10:00"
    severities = [f["severity"] for f in plan["findings"]]
    assert "stop" not in severities
    assert severities.count("warn") <= 3
    assert {"patterns", "studio"} == {p.name for p in Path("demo-run").iterdir() if p.is_dir()}
    again_from_its_own_files(pourwell, plan, monkeypatch)


def again_from_its_own_files(pourwell: Caller, plan: dict, monkeypatch: pytest.MonkeyPatch) -> None:
    """The job file and the studio that the demo wrote make its plan again, as a user of his own files would."""
    with monkeypatch.context() as alone:
        alone.setenv("POURWELL_STUDIO", "demo-run/studio")
        answer = pourwell("plan", "demo-run/job.toml", "--pour-at", plan["pour"]["at"], "--out", "again", "--json")
    assert answer.code == 0, answer.err
    (again,) = answer.data
    for section in ("alloy", "pieces", "tree", "flask", "investment", "charge", "burnout", "quench"):
        assert again[section] == plan[section], section
    assert unfrozen(again) == unfrozen(plan)
    assert again["findings"] == [found for found in plan["findings"] if not found["code"].startswith("freeze-")]


def unfrozen(plan: dict) -> tuple[dict, list[dict]]:
    """The pour and the day, without what freezing tells: when the button is solid, and so what is done while the flask stands."""
    pour = {key: value for key, value in plan["pour"].items() if not key.startswith("button_solid_")}
    assert len(pour) == len(plan["pour"]) - 3
    return pour, [line | {"says": ""} if line["key"] == "stand" else line for line in plan["timeline"]]
