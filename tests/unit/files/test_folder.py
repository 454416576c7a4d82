"""A folder is written whole or not at all."""

import json
import os
import signal
import threading
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from pourwell.errors import OutputError
from pourwell.files import folder as folders
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


# --- an older folder is never lost ---


def renamed(monkeypatch: pytest.MonkeyPatch, deeds: Mapping[int, Callable[[], None]]) -> list[str]:
    """Do something before the n-th rename, and note every one."""
    real, seen = Path.rename, []

    def rename(self: Path, target: Path) -> Path:
        seen.append(self.name)
        deeds.get(len(seen), lambda: None)()
        return real(self, target)

    monkeypatch.setattr(Path, "rename", rename)
    monkeypatch.setattr(folders, "PAUSE_S", 0.0)
    return seen


def full() -> None:
    raise OSError(28, "No space left on device")


def broken_off() -> None:
    raise KeyboardInterrupt


def old_run(tmp_path: Path) -> Path:
    write_folder(tmp_path / "run", ours("plan.json", text="old"))
    return tmp_path / "run"


@pytest.mark.parametrize(("deed", "fault"), [(full, OutputError), (broken_off, KeyboardInterrupt)])
def test_a_fault_between_the_two_renames_puts_the_old_folder_back(tmp_path, monkeypatch, deed, fault) -> None:
    run = old_run(tmp_path)
    renamed(monkeypatch, {2: deed})
    with pytest.raises(fault):
        write_folder(run, ours("plan.json"), replace=True)
    assert (run / "plan.json").read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["run"]


def test_putting_back_is_tried_again(tmp_path, monkeypatch) -> None:
    run = old_run(tmp_path)
    seen = renamed(monkeypatch, {2: full, 3: full, 4: full})
    with pytest.raises(OutputError, match="cannot be written"):
        write_folder(run, ours("plan.json"), replace=True)
    assert seen[2:] == ["run", "run", "run"]
    assert (run / "plan.json").read_bytes() == b"old"


def test_an_old_folder_that_cannot_be_put_back_stays_and_is_named(tmp_path, monkeypatch) -> None:
    run = old_run(tmp_path)
    renamed(monkeypatch, dict.fromkeys(range(2, 100), full))
    with pytest.raises(OutputError, match="could not be put back") as caught:
        write_folder(run, ours("plan.json"), replace=True)
    (hidden,) = tmp_path.iterdir()
    assert str(hidden / "run") in caught.value.why
    assert str(hidden / "run") in caught.value.try_this
    assert "No space left" in caught.value.why
    assert (hidden / "run" / "plan.json").read_bytes() == b"old"


def test_a_first_rename_that_fails_leaves_the_old_folder_where_it_is(tmp_path, monkeypatch) -> None:
    run = old_run(tmp_path)
    renamed(monkeypatch, {1: full})
    with pytest.raises(OutputError):
        write_folder(run, ours("plan.json"), replace=True)
    assert (run / "plan.json").read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["run"]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("before", [1, 2])
def test_an_interrupt_amid_the_renames_waits_until_the_new_folder_stands(tmp_path, monkeypatch, number, before) -> None:
    run, heard = old_run(tmp_path), []

    def hear(number: int, _: object) -> None:
        heard.append((number, (run / "plan.json").read_bytes()))
        raise KeyboardInterrupt

    was = signal.signal(number, hear)
    try:
        renamed(monkeypatch, {before: lambda: os.kill(os.getpid(), number)})
        with pytest.raises(KeyboardInterrupt):
            write_folder(run, ours("plan.json"), replace=True)
        assert signal.getsignal(number) is hear
    finally:
        signal.signal(number, was)
    assert heard == [(number, b"new")]
    assert [p.name for p in tmp_path.iterdir()] == ["run"]


def test_a_thread_of_its_own_may_write_a_folder(tmp_path: Path) -> None:
    run = old_run(tmp_path)
    thread = threading.Thread(target=lambda: write_folder(run, ours("plan.json"), replace=True))
    thread.start()
    thread.join()
    assert (run / "plan.json").read_bytes() == b"new"
    assert [p.name for p in tmp_path.iterdir()] == ["run"]


# --- a program that is killed between the two renames ---


def killed(monkeypatch: pytest.MonkeyPatch, run: Path, before: int) -> None:
    """Replace a run in a process of its own, which is killed before its n-th rename."""
    child = os.fork()
    if child == 0:
        renamed(monkeypatch, {before: lambda: os.kill(os.getpid(), signal.SIGKILL)})
        write_folder(run, ours("plan.json"), replace=True)
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == -signal.SIGKILL


needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no fork")


@needs_fork
@pytest.mark.parametrize("replace", [False, True])
def test_a_run_set_aside_by_a_killed_program_is_put_back_by_the_next(tmp_path, monkeypatch, replace) -> None:
    run = old_run(tmp_path)
    killed(monkeypatch, run, 2)
    assert not run.exists()
    if replace:
        write_folder(run, ours("plan.json"), replace=True)
    else:
        with pytest.raises(OutputError, match="exists already") as caught:
            write_folder(run, ours("plan.json"))
        assert "set aside when Pourwell was killed" in caught.value.why
        assert "is back in its place" in caught.value.why
    assert (run / "plan.json").read_bytes() == (b"new" if replace else b"old")
    left = [there for there in tmp_path.iterdir() if there != run]
    assert not any((there / "run").exists() for there in left), "what the killed one had begun may stay, no copy of the old run"


@needs_fork
def test_where_another_folder_took_its_place_the_run_set_aside_is_named_and_kept(tmp_path, monkeypatch) -> None:
    run = old_run(tmp_path)
    killed(monkeypatch, run, 2)
    run.mkdir()
    (run / "photo.jpg").write_text("photo")
    with pytest.raises(OutputError) as caught:
        check_folder(run)
    (old,) = tmp_path.glob(".pourwell-*/run")
    assert f"lies whole in {old}" in caught.value.why
    assert (old / "plan.json").read_bytes() == b"old"


@needs_fork
def test_what_a_killed_program_had_replaced_already_does_not_come_back(tmp_path, monkeypatch) -> None:
    run = old_run(tmp_path)
    killed(monkeypatch, run, 3)
    assert (run / "plan.json").read_bytes() == b"new"
    with pytest.raises(OutputError, match="exists already"):
        check_folder(run)


def test_a_folder_of_another_name_is_left_alone(tmp_path: Path) -> None:
    write_folder(tmp_path / ".pourwell-x" / "walk", ours("plan.json", text="old"))
    check_folder(tmp_path / "run")
    assert (tmp_path / ".pourwell-x" / "walk" / "plan.json").read_bytes() == b"old"
    assert not (tmp_path / "run").exists()
