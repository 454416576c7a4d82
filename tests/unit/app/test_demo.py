"""The files of the built-in scenario are what a user would have, and the demo overwrites nothing else."""

import tomllib
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pourwell.app.checking import check_files
from pourwell.app.demo import demo_files, run_demo
from pourwell.app.shop import open_shop
from pourwell.errors import OutputError
from pourwell.files.job_toml import read_job
from pourwell.steps.pattern.sizes import diameter_of

NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def scenario(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The scenario's files in a folder."""
    folder = tmp_path_factory.mktemp("scenario")
    for name, content in demo_files().items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(content)
    return folder


def test_the_job_names_the_pattern_files_that_lie_there_and_all_of_them(scenario: Path) -> None:
    job = read_job(scenario / "job.toml", zone=None)
    assert {p.file for p in job.pieces} == set((scenario / "patterns").iterdir())
    assert sum(p.count for p in job.pieces) == 6


def test_the_studio_is_read_as_any_users_and_says_what_a_plan_leans_on(scenario: Path) -> None:
    shop = open_shop(scenario / "studio")
    assert shop.studio.name == "Quillmere Studio"
    assert len(shop.studio.flasks) == 4
    assert len(shop.studio.bases) == 2
    for name in ("casting.way", "melting.crucible_cm3", "kiln.segments_count", "altitude_m", "investing_vacuum.bowl"):
        assert shop.studio.is_given(name), name


def test_every_pattern_is_sound_and_has_the_size_that_its_name_says(scenario: Path) -> None:
    files = sorted(str(p) for p in (scenario / "patterns").iterdir())
    for one in check_files(files, alloy="sterling-925", pattern="resin", units=None, size=None, tell=lambda _: None):
        piece = one.pattern.piece
        assert not one.stopped, piece.file
        tail = piece.name.rsplit("-", 1)[-1]
        if tail.isdigit():
            assert piece.bore.diameter_mm == pytest.approx(diameter_of(f"ISO {tail}"), abs=0.03), piece.file
        else:
            assert tail == "pendant"


def test_the_files_are_the_same_each_time() -> None:
    first, second = demo_files(), demo_files()
    assert list(first) == list(second)
    assert {n for n in first if first[n] != second[n]} <= {n for n in first if n.endswith(".3mf")}, "a zip may hold its hour"
    tomllib.loads(first["job.toml"].decode())


@pytest.mark.parametrize("names", [["plan.json", "run-sheet.pdf"], ["letter.txt"], ["job.toml", "plan.json"]])
def test_the_demo_replaces_neither_a_plan_of_the_user_nor_anything_else(names: list[str]) -> None:
    folder = Path("run-12")
    folder.mkdir()
    for name in names:
        (folder / name).write_text("mine")
    with pytest.raises(OutputError, match="other than a demo"):
        run_demo(folder, now=NOW)
    assert {p.name: p.read_text() for p in folder.iterdir()} == dict.fromkeys(names, "mine")


def test_the_demo_is_refused_where_a_file_stands_before_any_work_is_done() -> None:
    Path("demo-run").write_text("mine")
    told: list[str] = []
    with pytest.raises(OutputError, match="is a file"):
        run_demo(Path("demo-run"), now=NOW, tell=told.append)
    assert told == []
    assert Path("demo-run").read_text() == "mine"
