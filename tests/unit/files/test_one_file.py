"""One file that is written whole or not at all."""

import os
import stat
from pathlib import Path

import pytest

from pourwell.errors import OutputError
from pourwell.files.one_file import check_new, free_name, write_beside, write_file


def left(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_what_is_given_is_written_with_the_folders_that_are_missing(tmp_path):
    out = tmp_path / "a" / "b" / "one.STL"
    write_file(out, b"\x00\x01\n\r\n")
    assert out.read_bytes() == b"\x00\x01\n\r\n"
    assert left(out.parent) == ["one.STL"]


def test_everybody_may_read_it_and_its_owner_write(tmp_path):
    write_file(tmp_path / "one.stl", b"x")
    assert stat.S_IMODE((tmp_path / "one.stl").stat().st_mode) == 0o644


def test_an_older_file_stays_until_the_new_one_is_whole(tmp_path, monkeypatch):
    out = tmp_path / "one.stl"
    out.write_bytes(b"old")
    with pytest.raises(OutputError, match="exists already"):
        write_file(out, b"new")

    def broken(handle: int) -> None:
        os.ftruncate(handle, 3)
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", broken)
        with pytest.raises(OutputError, match="cannot be written") as caught:
            write_file(out, b"new and long", replace=True)
    assert "No space left" in caught.value.why
    assert out.read_bytes() == b"old"
    assert left(tmp_path) == ["one.stl"], "nothing half-written beside it"
    write_file(out, b"new", replace=True)
    assert out.read_bytes() == b"new"


def test_an_interrupt_leaves_nothing_half_written(tmp_path, monkeypatch):
    def interrupted(handle: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_file(tmp_path / "one.stl", b"x")
    assert left(tmp_path) == []


def test_a_folder_in_its_place_or_a_file_in_its_way_is_said(tmp_path):
    (tmp_path / "folder.stl").mkdir()
    for replace in (False, True):
        with pytest.raises(OutputError, match="is a folder"):
            check_new(tmp_path / "folder.stl", replace=replace)
    (tmp_path / "file").write_bytes(b"mine")
    with pytest.raises(OutputError, match="cannot be written"):
        write_file(tmp_path / "file" / "one.stl", b"x")
    assert (tmp_path / "file").read_bytes() == b"mine"


def test_a_name_that_no_system_takes_is_said(tmp_path):
    with pytest.raises((OutputError, OSError)):
        write_file(tmp_path / ("x" * 300 + ".stl"), b"x")
    assert left(tmp_path) == []


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="whoever owns the machine may write anywhere")
def test_a_folder_that_must_not_be_written_in_is_said(tmp_path):
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(OutputError, match="cannot be written"):
            write_file(tmp_path / "one.stl", b"x")
    finally:
        tmp_path.chmod(0o700)


def test_a_link_is_replaced_and_not_what_it_points_to(tmp_path):
    (tmp_path / "mine.stl").write_bytes(b"mine")
    (tmp_path / "link.stl").symlink_to(tmp_path / "mine.stl")
    write_file(tmp_path / "link.stl", b"new", replace=True)
    assert (tmp_path / "mine.stl").read_bytes() == b"mine"
    assert (tmp_path / "link.stl").read_bytes() == b"new"


def test_several_files_are_written_beside_what_is_there(tmp_path):
    (tmp_path / "a.toml").write_bytes(b"old")
    paths = write_beside(tmp_path, {"a.toml": b"new", "b.toml": b"more"})
    assert [path.name for path in paths] == ["a-2.toml", "b.toml"]
    assert (tmp_path / "a.toml").read_bytes() == b"old"
    assert [path.read_bytes() for path in paths] == [b"new", b"more"]


def test_a_folder_for_several_files_is_made_if_need_be(tmp_path):
    (path,) = write_beside(tmp_path / "new" / "folder", {"a.toml": b"1"})
    assert path.read_bytes() == b"1"


def test_of_several_files_all_are_written_or_none(tmp_path):
    (tmp_path / "x").write_bytes(b"a file")
    with pytest.raises(OutputError):
        write_beside(tmp_path, {"a.toml": b"1", "x/b.toml": b"2"})
    assert sorted(path.name for path in tmp_path.iterdir()) == ["x"]


def test_a_free_name_counts_on(tmp_path):
    for name in ("a.toml", "a-2.toml"):
        (tmp_path / name).write_bytes(b"")
    assert free_name(tmp_path / "a.toml").name == "a-3.toml"
    assert free_name(tmp_path / "b.toml").name == "b.toml"
