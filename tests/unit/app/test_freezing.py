"""`freeze` as the commands use it: stored runs, pattern files, what is written and what is refused."""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pourwell.app.freezing import freeze_and_write
from pourwell.app.planning import Wishes, plan_and_write
from pourwell.app.shapes import build_shape, mesh_bytes
from pourwell.errors import BadDataError, BadRequestError, OutputError, UnknownNameError
from pourwell.files.fields import read_fields
from pourwell.files.folder import LIST

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
FILES = ("freezing.json", "freezing.bin", "freezing.glb")


@pytest.fixture(scope="module")
def pattern(tmp_path_factory):
    path = tmp_path_factory.mktemp("patterns") / "band.stl"
    path.write_bytes(mesh_bytes(build_shape("plain-band", ("size=ISO 54", "width=3", "thickness=2")), ".stl"))
    return path


@pytest.fixture(scope="module")
def planned(pattern, tmp_path_factory):
    """A run of two bands without its freezing, once for all."""
    out = tmp_path_factory.mktemp("plans") / "run"
    plan_and_write([f"{pattern}:2"], Wishes(alloy="sterling-925", freeze="none"), out=out, replace=False, now=NOW)
    return out


@pytest.fixture
def run(planned, tmp_path):
    """A copy of the run, to be changed."""
    out = tmp_path / "run"
    out.mkdir()
    for path in planned.iterdir():
        (out / path.name).write_bytes(path.read_bytes())
    return out


def frozen(targets, *, edge_mm=1.2, out=None, pictures=None, replace=False, tell=lambda _: None, **wishes):
    how = {"edge_mm": edge_mm, "out": out, "pictures": pictures, "replace": replace, "now": NOW, "tell": tell}
    return freeze_and_write([str(t) for t in targets], Wishes(freeze="draft", **wishes), **how)


@pytest.fixture(scope="module")
def answer(planned, tmp_path_factory):
    """The run frozen as it stands, its files in a folder of their own."""
    folder = tmp_path_factory.mktemp("fields")
    return frozen([planned], out=folder / "fields", pictures=folder / "map")


def test_a_stored_run_freezes_as_it_was_planned(answer):
    freezing = answer.froze.freezing
    assert [clock.place for clock in freezing.clocks] == [1, 2]
    assert {clock.verdict for clock in freezing.clocks} == {"fed"}
    assert freezing.last.value_s > max(piece.last.value_s for piece in freezing.pieces)
    assert "band" in answer.title


def test_its_fields_lie_where_they_were_asked_for(answer):
    folder = answer.paths[0].parent
    assert {path.name for path in answer.paths if path.parent == folder} == {*FILES, LIST}
    fields = read_fields((folder / FILES[0]).read_bytes(), (folder / FILES[1]).read_bytes())
    assert len(fields.centre_mm) == answer.froze.freezing.metal_cells_count
    assert json.loads((folder / LIST).read_text())["files"] == sorted([*FILES, LIST])


def test_the_map_of_when_it_is_solid_lies_where_it_was_asked_for(answer):
    drawn = [path for path in answer.paths if path.parent.name == "map"]
    assert {path.name for path in drawn} == {"freezing-time.png", "freezing-time.svg"}
    said = next(path for path in drawn if path.suffix == ".svg").read_text(encoding="utf-8")
    assert f"last {answer.froze.fields.end_s.max():.0f} s" in said
    assert "Solid after" in said


def test_a_stranger_in_the_folder_of_the_map_stops_it_before_the_work(planned, tmp_path):
    (tmp_path / "map").mkdir()
    (tmp_path / "map" / "letter.txt").write_text("dear")
    with pytest.raises(OutputError):
        frozen([planned], out=tmp_path / "fields", pictures=tmp_path / "map")
    assert not (tmp_path / "fields").exists()


def test_the_answer_is_data_too(answer):
    data = answer.data
    assert data["freezing"]["clocks"][0]["sprue"]["value_s"] > 0
    assert data["findings"] == []
    assert len(data["files"]) == 4 + 2
    json.dumps(data)


def test_without_out_the_files_lie_beside_the_plan_and_nothing_else_changes(run):
    before = {path.name: path.read_bytes() for path in run.iterdir()}
    got = frozen([run])
    after = {path.name: path.read_bytes() for path in run.iterdir()}
    assert set(after) - set(before) == set(FILES)
    assert {path.name for path in got.paths} == set(FILES)
    assert all(after[name] == data for name, data in before.items() if name != LIST)
    job = json.loads(after[LIST])
    assert set(FILES) <= set(job["files"])
    assert {k: v for k, v in job.items() if k != "files"} == {k: v for k, v in json.loads(before[LIST]).items() if k != "files"}
    assert not [path for path in run.parent.iterdir() if path.name.startswith(".pourwell")], "nothing is left beside it"


def test_a_cancelled_run_leaves_the_folder_as_it_was(run):
    before = {path.name: path.read_bytes() for path in run.iterdir()}

    def stop(text):
        if text.startswith("Freezing"):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        frozen([run], tell=stop)
    assert {path.name: path.read_bytes() for path in run.iterdir()} == before


def test_a_stranger_in_the_folder_is_not_lost(run):
    (run / "notes.txt").write_text("poured well")
    with pytest.raises(OutputError, match=r"did not write: notes\.txt"):
        frozen([run])
    assert (run / "notes.txt").read_text() == "poured well"
    assert not (run / FILES[0]).exists()


def test_another_flask_temperature_changes_the_answer(planned, answer, tmp_path):
    hot = frozen([planned], out=tmp_path / "hot", flask_c=620.0)
    assert hot.froze.freezing.last.value_s > 1.1 * answer.froze.freezing.last.value_s


def test_metal_that_is_too_cold_is_refused_and_nothing_is_written(planned, tmp_path):
    with pytest.raises(BadRequestError, match="below its liquidus"):
        frozen([planned], out=tmp_path / "cold", metal_c=800.0)
    assert not (tmp_path / "cold").exists()


@pytest.mark.parametrize("word", ["alloy", "flask", "investment", "pattern"])
def test_what_a_plan_says_itself_is_not_said_again(planned, word):
    with pytest.raises(BadRequestError, match=f"--{word} is for pattern files"):
        frozen([planned], **{word: "sterling-925"})


def test_a_plan_that_lacks_a_section_says_which(run):
    plan = json.loads((run / "plan.json").read_text())
    del plan["pour"]
    (run / "plan.json").write_text(json.dumps(plan))
    with pytest.raises(BadDataError, match="lacks what freezing needs") as err:
        frozen([run])
    assert "pour" in err.value.why


def test_an_alloy_that_the_library_no_longer_has_is_named(run):
    plan = json.loads((run / "plan.json").read_text())
    plan["alloy"]["id"] = "sterling-952"
    (run / "plan.json").write_text(json.dumps(plan))
    with pytest.raises(UnknownNameError, match="sterling-952"):
        frozen([run])


def test_pattern_files_are_planned_on_the_spot(pattern, tmp_path, answer):
    got = frozen([f"{pattern}:2"], alloy="sterling-925", out=tmp_path / "fields")
    assert got.froze.freezing.last.value_s == pytest.approx(answer.froze.freezing.last.value_s, rel=0.02)
    assert {path.name for path in got.paths} == {*FILES, LIST}


def test_pattern_files_without_out_write_nothing(pattern, tmp_path, monkeypatch):
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    assert frozen([pattern], alloy="sterling-925").paths == ()
    assert list(here.iterdir()) == []


def test_an_out_folder_that_is_taken_is_refused_before_the_work(pattern, tmp_path):
    taken = tmp_path / "taken"
    taken.mkdir()
    (taken / "mine.txt").write_text("mine")
    heard = []
    with pytest.raises(OutputError):
        frozen([pattern], alloy="sterling-925", out=taken, tell=heard.append)
    assert heard == []


def test_more_pieces_than_a_flask_takes_are_not_frozen_in_one(pattern):
    with pytest.raises(BadRequestError, match=r"take \d+ flasks"):
        frozen([f"{pattern}:24"], alloy="sterling-925", flask="64x76")


def test_a_plan_computes_its_freezing_and_stands_on_it(pattern, tmp_path):
    """Vacuum until the button is solid, no quench while anything glows: both from the run of this tree."""
    written = plan_and_write(
        [str(pattern)], Wishes(alloy="sterling-925", freeze="draft"), out=tmp_path / "run", replace=False, now=NOW
    )
    (plan,) = written.plans
    assert plan.freezing is not None
    assert plan.fields is not None
    assert plan.pour.button_solid_s == round(plan.freezing.button.value_s)
    assert plan.pour.button_solid_high_s == round(plan.freezing.button.high_s)
    assert plan.quench.wait_min * 60 >= plan.freezing.dark.value_s
    assert plan.quench.low_min * 60 >= plan.freezing.dark.low_s
    data = json.loads((tmp_path / "run/plan.json").read_text())
    assert data["freezing"]["pieces"][0]["place"] == 1
    assert set(FILES) <= {Path(p).name for p in written.paths}


def test_a_plan_whose_freezing_cannot_be_computed_stands_with_a_note(pattern, tmp_path):
    wishes = Wishes(alloy="sterling-925", freeze="draft", metal_c=880.0)
    written = plan_and_write([str(pattern)], wishes, out=tmp_path / "run", replace=False, now=NOW)
    (plan,) = written.plans
    codes = {finding.code for finding in plan.findings}
    assert plan.freezing is None
    assert "freeze-not-computed" in codes
    assert "metal-not-liquid" in codes, "which stops the run"
    assert not (tmp_path / "run/freezing.json").exists()


def test_a_job_file_says_itself_whether_it_freezes(pattern, tmp_path):
    job = tmp_path / "job.toml"
    job.write_text(f'alloy = "sterling-925"\nfreeze = "none"\n[[pieces]]\nfile = "{pattern}"\n')
    written = plan_and_write([str(job)], Wishes(freeze="draft"), out=tmp_path / "run", replace=False, now=NOW)
    assert written.plans[0].freezing is None, "the draft is the command line's own word, the job's wins"
