"""A folder is written whole or not at all."""

import json
from collections.abc import Mapping
from pathlib import Path

import pytest

from pourwell.errors import OutputError
from pourwell.files.folder import check_folder, write_folder


def ours(*names: str, text: str = "new") -> dict[str, bytes]:
    """Contents of a folder with the list that makes it ours."""
    listed = json.dumps({"schema": "pourwell.job", "files": ["job.json", *names]})
    return {"job.json": listed.encode(), **{name: text.encode() for name in names}}


class FailsHalfWay(Mapping[str, bytes]):
    """Contents whose second file cannot be made."""

    def __iter__(self):  # type: ignore[no-untyped-def]
        return iter(["plan.json", "sheet.pdf"])

    def __len__(self) -> int:
        return 2

    def __getitem__(self, name: str) -> bytes:
        if name == "sheet.pdf":
            raise RuntimeError("the pen broke")
        return b"{}"


def test_all_files_lie_in_the_folder_and_are_named_in_order(tmp_path: Path) -> None:
    paths = write_folder(tmp_path / "run", {"plan.json": b"{}", "patterns/a.stl": b"solid"})
    assert [p.relative_to(tmp_path / "run").as_posix() for p in paths] == ["plan.json", "patterns/a.stl"]
    assert (tmp_path / "run" / "patterns" / "a.stl").read_bytes() == b"solid"
    assert [p.name for p in tmp_path.iterdir()] == ["run"]


def test_a_fault_half_way_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError):
        write_folder(tmp_path / "run", FailsHalfWay())
    assert list(tmp_path.iterdir()) == []


def test_a_fault_half_way_keeps_the_older_folder(tmp_path: Path) -> None:
    write_folder(tmp_path / "run", ours("plan.json", text="old"))
    with pytest.raises(RuntimeError):
        write_folder(tmp_path / "run", FailsHalfWay(), replace=True)
    assert (tmp_path / "run" / "plan.json").read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["run"]


def test_an_existing_folder_is_refused_unless_replaced(tmp_path: Path) -> None:
    write_folder(tmp_path / "run", ours("plan.json", "run-1/extra.txt", text="old"))
    with pytest.raises(OutputError, match="exists already") as caught:
        write_folder(tmp_path / "run", ours("plan.json"))
    assert "--replace" in caught.value.try_this
    (tmp_path / "run" / ".DS_Store").write_text("left by a file browser")
    write_folder(tmp_path / "run", ours("plan.json"), replace=True)
    assert sorted(p.name for p in (tmp_path / "run").iterdir()) == ["job.json", "plan.json"]


def test_a_folder_with_other_things_is_never_replaced(tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "to-aunt.txt").write_text("dear aunt")
    with pytest.raises(OutputError, match=r"did not write: to-aunt\.txt"):
        write_folder(tmp_path / "letters", {"plan.json": b""}, replace=True)
    assert (tmp_path / "letters" / "to-aunt.txt").exists()


@pytest.mark.parametrize("mark", ["{}", "[]", "no json", '{"schema": "other", "files": ["job.json", "photo.jpg"]}'])
def test_a_file_with_the_name_of_ours_does_not_make_a_folder_ours(tmp_path: Path, mark: str) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "job.json").write_text(mark)
    (tmp_path / "mine" / "photo.jpg").write_text("photo")
    with pytest.raises(OutputError, match=r"job\.json, photo\.jpg"):
        check_folder(tmp_path / "mine", replace=True)


def test_a_photo_laid_beside_a_plan_is_not_lost(tmp_path: Path) -> None:
    write_folder(tmp_path / "run", ours("plan.json"))
    (tmp_path / "run" / "notes").mkdir()
    (tmp_path / "run" / "notes" / "photo.jpg").write_text("photo")
    with pytest.raises(OutputError, match=r"notes/photo\.jpg"):
        write_folder(tmp_path / "run", ours("plan.json"), replace=True)
    assert (tmp_path / "run" / "notes" / "photo.jpg").read_text() == "photo"


def test_a_refusal_or_a_fault_leaves_no_parents_behind(tmp_path: Path) -> None:
    check_folder(tmp_path / "a" / "b" / "run")
    assert not (tmp_path / "a").exists()
    with pytest.raises(RuntimeError):
        write_folder(tmp_path / "a" / "b" / "run", FailsHalfWay())
    assert not (tmp_path / "a").exists()
    write_folder(tmp_path / "a" / "b" / "run", {"plan.json": b"{}"})
    assert (tmp_path / "a" / "b" / "run" / "plan.json").exists()


def test_a_file_in_its_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "run").write_text("")
    with pytest.raises(OutputError, match="is a file"):
        check_folder(tmp_path / "run")


def test_a_parent_that_is_a_file_is_refused_with_the_systems_word(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="cannot be written") as caught:
        check_folder(tmp_path / "file" / "run")
    assert caught.value.why
