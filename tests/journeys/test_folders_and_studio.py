"""Where things are written, what is never overwritten, and the studio's folder as the program meets it."""

import json
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pourwell.app import planning
from tests.journeys.call import Answer, Caller
from tests.journeys.printed import rows

POUR = "2035-03-05 10:00"
BY_WEIGHT = ("plan", "--weight", 14.3, "--wax", 2, "--alloy", "sterling-925", "--flask", "76x100")


def snapshot(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


@pytest.fixture
def in_studio(pourwell: Caller, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[..., Answer]:
    """Calls the program with a studio of these files."""

    def call(files: dict[str, str], *words: object) -> Answer:
        for name, text in files.items():
            (tmp_path / "studio" / name).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / "studio" / name).write_text(text, encoding="utf-8")
        monkeypatch.setenv("POURWELL_STUDIO", str(tmp_path / "studio"))
        return pourwell(*words)

    return call


def test_a_folder_in_folders_that_do_not_exist_is_made(pourwell: Caller) -> None:
    assert pourwell(*BY_WEIGHT, "--out", "2035/march/run 5").code == 0
    assert (Path("2035/march/run 5") / "plan.json").is_file()
    assert [p.name for p in Path("2035/march").iterdir()] == ["run 5"]


def test_an_empty_folder_is_as_good_as_none(pourwell: Caller) -> None:
    Path("run").mkdir()
    assert pourwell(*BY_WEIGHT, "--out", "run").code == 0


def test_replace_brings_the_new_plan_whole_and_takes_the_old_one_whole(pourwell: Caller, shapes: dict[str, Path]) -> None:
    """A plan with a tree and pictures, then one by weight: no picture of the old one may stay beside the new sheet."""
    words = ("plan", shapes["stud.obj"], "--alloy", "sterling-925", "--flask", "64x64", "--out", "run")
    assert pourwell(*words).code == 0
    assert Path("run/tree.stl").is_file()
    refused = pourwell(*BY_WEIGHT, "--out", "run")
    assert refused.code == 2
    assert "--replace" in refused.err
    assert Path("run/tree.stl").is_file()
    assert pourwell(*BY_WEIGHT, "--out", "run", "--replace").code == 0
    assert {p.name for p in Path("run").iterdir()} == {"plan.json", "job.json", "run-sheet.pdf", "day.ics"}


def test_replace_never_touches_a_folder_of_other_things(pourwell: Caller) -> None:
    Path("letters").mkdir()
    Path("letters/aunt.txt").write_text("dear aunt")
    answer = pourwell(*BY_WEIGHT, "--out", "letters", "--replace")
    assert answer.code == 2
    assert "did not write: aunt.txt" in answer.err
    assert snapshot(Path("letters")) == {"aunt.txt": b"dear aunt"}


def test_a_plan_does_not_swallow_the_pattern_that_it_is_made_from(pourwell: Caller, shapes: dict[str, Path]) -> None:
    assert pourwell(*BY_WEIGHT, "--out", "run").code == 0
    Path("run/stud.obj").write_bytes(shapes["stud.obj"].read_bytes())
    before = snapshot(Path("run"))
    answer = pourwell("plan", "run/stud.obj:2", "--alloy", "sterling-925", "--out", "run", "--replace")
    assert answer.code == 2
    assert "run/stud.obj lies in the folder run" in answer.err.replace("\\", "/")
    assert snapshot(Path("run")) == before


def test_the_demo_does_not_swallow_a_plan(pourwell: Caller) -> None:
    assert pourwell(*BY_WEIGHT, "--out", "run-12").code == 0
    before = snapshot(Path("run-12"))
    answer = pourwell("demo", "--out", "run-12")
    assert answer.code == 2
    assert "other than a demo" in answer.err
    assert snapshot(Path("run-12")) == before


def test_a_folder_without_rights_is_refused_before_anything_is_planned(pourwell: Caller, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system's own refusal is put in its place, for a test may run as one who may write anywhere."""

    def refuse(*_: object, **__: object) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(tempfile, "mkdtemp", refuse)
    monkeypatch.setattr(planning, "plan_job", lambda *_, **__: pytest.fail("planned for nothing"))
    answer = pourwell(*BY_WEIGHT, "--out", "shut/run")
    assert answer.code == 2
    assert "cannot be written" in answer.err
    assert "Permission denied" in answer.err


def test_a_place_under_a_file_is_refused_before_anything_is_planned(pourwell: Caller) -> None:
    Path("file").write_text("")
    answer = pourwell(*BY_WEIGHT, "--out", "file/run")
    assert answer.code == 2
    assert "cannot be written" in answer.err
    assert snapshot(Path()) == {"file": b""}


def test_every_file_named_exists_and_every_file_made_is_named_also_with_brackets(pourwell: Caller) -> None:
    answer = pourwell(*BY_WEIGHT, "--out", "run [bold] of Zoë")
    assert answer.code == 0
    named = {line.strip() for line in answer.out.split("Written")[1].splitlines() if line.strip()}
    assert named == {str(p) for p in Path("run [bold] of Zoë").iterdir()}


def test_the_studio_of_the_variable_is_on_the_sheet_and_in_the_figures(in_studio) -> None:
    text = (
        'name = "Quillmere Studio"\naltitude_m = 2200\ntime_zone = "Asia/Tokyo"\nflasks = ["64x64"]\n[kiln]\nsegments_count = 4\n'
    )
    answer = in_studio({"studio.toml": text}, "plan", "--weight", 9, "--wax", 1, "--alloy", "sterling-925", "--pour-at", POUR)
    assert answer.code == 0, answer.err
    plan = json.loads(Path("pourwell-run/plan.json").read_text(encoding="utf-8"))
    assert plan["run"]["studio"] == "Quillmere Studio"
    assert plan["flask"]["id"] == "64x64"
    assert plan["pour"]["at"] == "2035-03-05T10:00+09:00"
    assumed = next(f for f in plan["findings"] if f["where"] == "studio")["says"]
    assert "crucible not known" in assumed
    assert "sea level" not in assumed


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("name = Quillmere\n", "studio.toml"),
        ("alttitude_m = 40\n", "altitude_m"),
        ("[kiln]\nsegment_count = 4\n", "segments_count"),
        ("[melting]\nway = 'bonfire'\n", "torch"),
        ("flasks = ['76x999']\n", "76x999"),
    ],
)
@pytest.mark.parametrize("words", [("mix", "76x100"), ("weigh", 9, "--alloy", "sterling-925"), ("materials",), BY_WEIGHT])
def test_a_studio_file_with_a_fault_stops_every_command_that_leans_on_it(in_studio, text: str, says: str, words: tuple) -> None:
    answer = in_studio({"studio.toml": text}, *words)
    assert (answer.code, answer.out) == (2, "")
    assert says in answer.err
    assert "studio.toml" in answer.err
    assert not Path("pourwell-run").exists()


def test_an_own_alloy_is_listed_shown_and_cast(in_studio) -> None:
    own = 'id = "moss-silver"\nname = "Moss [bold] silver"\nlike = "sterling-925"\ncomposition_percent = { Ag = 93.0, Cu = 7.0 }\n'
    files = {"alloys/moss.toml": own + "solidus_c = 800\nliquidus_c = 890\ndensity_g_per_cm3 = 10.37\n"}
    listed = in_studio(files, "materials").out
    assert "moss-silver" in listed
    assert "Moss [bold] silver" in listed
    shown = in_studio(files, "materials", "moss-silver").out
    assert "Moss [bold] silver" in shown
    assert rows(shown)["density_g_per_cm3"].startswith("10.37 g/cm3")
    weighed = in_studio(files, "weigh", 9, "--wax", 1, "--alloy", "moss-silver")
    assert weighed.code == 0, weighed.err
    assert "Moss [bold] silver" in weighed.out
    near = in_studio(files, "weigh", 9, "--alloy", "mos-silver")
    assert (near.code, '"moss-silver"' in near.err) == (2, True)


@pytest.mark.parametrize(
    ("words", "near"),
    [
        (("weigh", 9, "--alloy", "sterling925"), "sterling-925"),
        (("weigh", 9, "--alloy", "STERLING-925"), "sterling-925"),
        (("weigh", 9, "--alloy", "gold-750-yelow-3n"), "gold-750-yellow-3n"),
        (("weigh", 9, "--alloy", "sterling-925", "--pattern", "wax-injecton"), "wax-injection"),
        (("mix", "76x100", "--investment", "gypsum-resinn"), "gypsum-resin"),
        (("materials", "gypsum-standart"), "gypsum-standard"),
        (("shape", "sygnet"), "signet"),
        ((*BY_WEIGHT, "--programme", "gypsum"), "No burnout programme"),
    ],
)
def test_an_unknown_name_is_refused_and_the_nearest_is_offered(pourwell: Caller, words: tuple, near: str) -> None:
    answer = pourwell(*words)
    assert (answer.code, answer.out) == (2, "")
    assert near in answer.err
    assert list(Path().iterdir()) == []


@pytest.mark.parametrize(
    ("when", "says"),
    [
        ("2001-01-01 10:00", "in the past"),
        ("2035-13-01 10:00", "not a date"),
        ("2035-02-30 10:00", "not a date"),
        ("2035-03-05 25:00", "not a date"),
        ("05.03.2035 10:00", "not a date"),
        ("tomorrow", "not a date"),
        ("", "not a date"),
        ("2035-03-05", "no hour"),
    ],
)
def test_a_pour_at_no_time_or_in_the_past_is_refused(pourwell: Caller, when: str, says: str) -> None:
    answer = pourwell(*BY_WEIGHT, "--pour-at", when)
    assert (answer.code, answer.out) == (2, "")
    assert says in answer.err
    assert list(Path().iterdir()) == []


def test_a_pour_too_soon_for_its_burnout_is_a_finding_or_a_refusal_but_never_a_quiet_plan(pourwell: Caller) -> None:
    soon = datetime.now(UTC) + timedelta(minutes=30)
    answer = pourwell(*BY_WEIGHT, "--pour-at", f"{soon:%Y-%m-%dT%H:%M}+00:00", "--out", "run")
    assert answer.code in (2, 3), answer.out
    if answer.code == 2:
        assert not Path("run").exists()


def test_without_a_pour_time_the_earliest_from_now_is_taken(pourwell: Caller) -> None:
    before = datetime.now(UTC)
    (plan,) = pourwell(*BY_WEIGHT, "--json").data
    starts = [datetime.fromisoformat(entry["starts_at"]) for entry in plan["timeline"]]
    assert starts == sorted(starts)
    assert before - timedelta(minutes=1) <= starts[0] <= before + timedelta(days=1)
    assert datetime.fromisoformat(plan["pour"]["at"]) > before + timedelta(hours=6), "a burnout takes longer than that"
