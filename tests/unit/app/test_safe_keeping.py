"""Back-up and restore from the desk: into a new folder beside, checked, never over anything; a damaged one refused in words."""

import json
import shutil
import zipfile
from datetime import UTC, datetime

import pytest

from pourwell.app.safe_keeping import file_name, place_beside, take_in
from pourwell.errors import BadFileError, OutputError
from pourwell.store import back_up
from pourwell.store.back_up import LIST
from pourwell.store.store import Store

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)


@pytest.fixture
def kept(tmp_path):
    """A studio with a pattern, a run, equipment and an own row, and its back-up."""
    folder = tmp_path / "studio"
    store = Store(folder)
    pattern, _ = store.add_pattern(b"solid", file="band.stl", name="Band", now=NOW)
    store.add_run({"title": ""}, pieces=[(pattern.id, 2)], now=NOW)
    (folder / "studio.toml").write_text('name = "Quillmere"\n', encoding="utf-8")
    (folder / "alloys").mkdir()
    (folder / "alloys" / "own.toml").write_text('id = "sterling-925"\nprice_per_g = 1.1\n', encoding="utf-8")
    back_up.back_up(store, tmp_path / "one.pourwell.zip")
    store.close()
    return folder, tmp_path / "one.pourwell.zip"


def test_a_back_up_comes_back_whole_in_a_new_folder_beside_and_this_one_stays(kept):
    folder, file = kept
    before = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    made = take_in(file, folder, NOW)
    assert made.folder == folder.parent / "studio-restored-2026-11-26"
    assert (made.patterns_count, made.runs_count, made.doubt) == (1, 1, "")
    assert made.files_count == 4
    assert (made.folder / "studio.toml").read_text(encoding="utf-8") == 'name = "Quillmere"\n'
    assert before == {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    assert place_beside(folder, NOW).name == "studio-restored-2026-11-26-2"


def test_own_files_that_were_wrong_already_are_told_and_come_all_the_same(kept):
    folder, file = kept
    (folder / "studio.toml").write_text("kiln = 3\n", encoding="utf-8")
    store = Store(folder)
    back_up.back_up(store, file.with_name("two.zip"))
    store.close()
    made = take_in(file.with_name("two.zip"), folder, NOW)
    assert "kiln" in made.doubt
    assert made.runs_count == 1


def altered(file, change):
    """The same back-up with its files changed by a function of name and content."""
    other = file.with_name("altered.zip")
    with zipfile.ZipFile(file) as source, zipfile.ZipFile(other, "w") as target:
        for name in source.namelist():
            content = change(name, source.read(name))
            if content is not None:
                target.writestr(name, content)
    return other


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda name, content: content + b" " if name == "studio.toml" else content, "studio.toml in it is not what it was"),
        (lambda name, content: None if name.startswith("kept/") else content, "is missing in it"),
        (lambda name, content: None if name == LIST else content, "is no back-up of Pourwell"),
        (
            lambda name, content: json.dumps(json.loads(content) | {"schema_version": 9}).encode() if name == LIST else content,
            "was written by another version",
        ),
    ],
)
def test_a_damaged_back_up_is_refused_in_words_and_leaves_nothing(kept, change, why):
    folder, file = kept
    there = set(folder.parent.iterdir()) | {file.with_name("altered.zip")}
    with pytest.raises(BadFileError) as refused:
        take_in(altered(file, change), folder, NOW)
    assert why in str(refused.value)
    assert set(folder.parent.iterdir()) == there


def test_a_file_that_is_no_back_up_and_one_cut_short_are_refused(kept, tmp_path):
    folder, file = kept
    (tmp_path / "holiday.jpg").write_bytes(b"\xff\xd8" * 100)
    file.write_bytes(file.read_bytes()[:-200])
    for strange in (tmp_path / "holiday.jpg", file):
        with pytest.raises(BadFileError, match="no back-up, or is damaged"):
            take_in(strange, folder, NOW)


def test_what_would_fill_the_disk_is_refused_before_anything_is_written(kept, monkeypatch):
    folder, file = kept
    usage = shutil.disk_usage(folder)
    monkeypatch.setattr(back_up.shutil, "disk_usage", lambda _: usage._replace(free=10))
    there = set(folder.parent.iterdir())
    with pytest.raises(OutputError, match="There is no room for it"):
        take_in(file, folder, NOW)
    assert set(folder.parent.iterdir()) == there


def test_a_list_without_end_is_not_read(kept, monkeypatch):
    folder, file = kept
    monkeypatch.setattr(back_up, "LONGEST_LIST_BYTES", 10)
    with pytest.raises(BadFileError, match="Its list of files has no end"):
        take_in(file, folder, NOW)


@pytest.mark.parametrize(
    ("studio", "name"),
    [
        ("Quillmere Studio", "quillmere-studio-2026-11-26.pourwell.zip"),
        ('../<script>"', "script-2026-11-26.pourwell.zip"),
        ("", "pattern-2026-11-26.pourwell.zip"),
    ],
)
def test_a_back_up_is_called_by_the_studio_and_the_day_and_by_nothing_that_steers_a_path(studio, name):
    assert file_name(studio, NOW) == name
