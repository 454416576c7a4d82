"""A folder is written whole or not at all."""

from collections.abc import Mapping
from pathlib import Path

import pytest

from pourwell.errors import OutputError
from pourwell.files.folder import check_folder, write_folder


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
    write_folder(tmp_path / "run", {"plan.json": b"old"})
    with pytest.raises(RuntimeError):
        write_folder(tmp_path / "run", FailsHalfWay(), replace=True)
    assert (tmp_path / "run" / "plan.json").read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["run"]


def test_an_existing_folder_is_refused_unless_replaced(tmp_path: Path) -> None:
    write_folder(tmp_path / "run", {"plan.json": b"old", "extra.txt": b""})
    with pytest.raises(OutputError, match="exists already") as caught:
        write_folder(tmp_path / "run", {"plan.json": b"new"})
    assert "--replace" in caught.value.try_this
    write_folder(tmp_path / "run", {"plan.json": b"new"}, replace=True)
    assert [p.name for p in (tmp_path / "run").iterdir()] == ["plan.json"]


def test_a_folder_with_other_things_is_never_replaced(tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "to-aunt.txt").write_text("dear aunt")
    with pytest.raises(OutputError, match="other things"):
        write_folder(tmp_path / "letters", {"plan.json": b""}, replace=True)
    assert (tmp_path / "letters" / "to-aunt.txt").exists()


def test_a_file_in_its_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "run").write_text("")
    with pytest.raises(OutputError, match="is a file"):
        check_folder(tmp_path / "run")


def test_a_parent_that_is_a_file_is_refused_with_the_systems_word(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="cannot be written") as caught:
        check_folder(tmp_path / "file" / "run")
    assert caught.value.why
