"""Exit 0 fine, 1 our bug, 2 a bad request, 3 a stop, 130 interrupted: what is said, and what is left behind."""

import os
import re
import signal
import tempfile
import time
from pathlib import Path

import pytest

from pourwell.app import days, demo, mixing, planning
from pourwell.errors import BadRequestError
from tests.journeys.call import Caller

BY_WEIGHT = ("plan", "--weight", 14.3, "--wax", 2, "--alloy", "sterling-925", "--flask", "76x100")


def raiser(fault: BaseException):
    def broken(*_: object, **__: object) -> None:
        raise fault

    return broken


@pytest.fixture
def faults(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """The folder in which accounts of our faults are written."""
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    return folder


def test_help_is_fine_and_names_every_command(pourwell: Caller) -> None:
    answer = pourwell("--help")
    assert answer.code == 0
    for name in ("check", "plan", "freeze", "weigh", "mix", "size", "materials", "shape", "demo"):
        assert re.search(rf"\b{name}\b", answer.out)


@pytest.mark.parametrize("words", [(), ("check",), ("plan",), ("weigh",), ("mix",), ("size",), ("shape",)])
def test_a_command_that_says_nothing_gets_help_and_makes_nothing(pourwell: Caller, words: tuple[str, ...]) -> None:
    answer = pourwell(*words)
    assert "Usage" in answer.out + answer.err
    assert answer.code in (0, 2)
    assert list(Path().iterdir()) == []


@pytest.mark.parametrize(
    "words",
    [
        ("melt",),
        ("weigh", "heavy", "--alloy", "sterling-925"),
        ("weigh", "14.3"),
        ("weigh", "14.3", "--alloy", "sterling-925", "--lid", "3"),
        ("mix", "76x100", "--section", "fat"),
        ("plan", "--weight", "14,3", "--alloy", "sterling-925"),
        ("plan", "--run", "first"),
        ("size", "US 7", "US 8"),
    ],
)
def test_words_that_no_command_knows_are_a_bad_request(pourwell: Caller, words: tuple[str, ...]) -> None:
    answer = pourwell(*words)
    assert (answer.code, answer.out) == (2, "")
    assert "Usage" in answer.err
    assert "Traceback" not in answer.err


def test_a_fault_of_ours_is_one_sentence_and_its_trace_lies_in_the_file_that_it_names(
    pourwell: Caller, faults: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mixing, "mix_for", raiser(ZeroDivisionError("nothing in the bowl")))
    answer = pourwell("mix", "76x100")
    assert (answer.code, answer.out) == (1, "")
    assert len(answer.err.splitlines()) == 1
    assert answer.err.startswith("This is a fault in Pourwell, not in your request.")
    (account,) = faults.iterdir()
    assert str(account) in answer.err
    text = account.read_text(encoding="utf-8")
    assert "Traceback" in text
    assert "ZeroDivisionError: nothing in the bowl" in text


def test_a_bad_request_leaves_no_account_of_a_fault(pourwell: Caller, faults: Path) -> None:
    assert pourwell("mix", "tall").code == 2
    assert list(faults.iterdir()) == []


def test_a_bad_request_says_what_why_and_what_to_try_on_lines_of_their_own(
    pourwell: Caller, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mixing, "mix_for", raiser(BadRequestError("It leaks.", why="It has a hole.", try_this="Mend it.")))
    assert pourwell("mix", "76x100").err == "It leaks.\nIt has a hole.\nMend it.\n"
    monkeypatch.setattr(mixing, "mix_for", raiser(BadRequestError("It leaks.")))
    assert pourwell("mix", "76x100").err == "It leaks.\n"


def test_what_the_system_refuses_is_no_fault_of_ours(pourwell: Caller, faults: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mixing, "mix_for", raiser(OSError(28, "No space left on device")))
    answer = pourwell("mix", "76x100")
    assert (answer.code, list(faults.iterdir())) == (2, [])
    assert "No space left on device" in answer.err


@pytest.mark.parametrize("words", [("plan", "a" * 300 + ".stl", "--alloy", "sterling-925"), (*BY_WEIGHT, "--out", "a" * 300)])
def test_a_name_that_is_too_long_is_a_bad_request(pourwell: Caller, faults: Path, words: tuple[object, ...]) -> None:
    answer = pourwell(*words)
    assert (answer.code, list(faults.iterdir()), list(Path().iterdir())) == (2, [], [])
    assert "a" * 300 in answer.err


@pytest.mark.parametrize("at", ["calendar", "plan_runs", "write_folder"])
def test_an_interrupted_plan_ends_with_130_and_leaves_nothing(pourwell: Caller, monkeypatch: pytest.MonkeyPatch, at: str) -> None:
    monkeypatch.setattr(planning, at, raiser(KeyboardInterrupt()))
    answer = pourwell(*BY_WEIGHT, "--out", "run")
    assert (answer.code, answer.out) == (130, "")
    assert answer.err.endswith("Stopped; nothing was written.\n")
    assert "Traceback" not in answer.err
    assert list(Path().iterdir()) == []


def test_an_interrupted_day_says_so_too(pourwell: Caller, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(days, "place_week", raiser(KeyboardInterrupt()))
    answer = pourwell("day", "--alloy", "sterling-925", "--flask", "76x100", "--out", "week")
    assert (answer.code, answer.out) == (130, "")
    assert answer.err.endswith("Stopped; nothing was written.\n")
    assert list(Path().iterdir()) == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("weigh", "41,2", "--alloy", "sterling-925"), "41,2 has a comma: write 41.2"),
        (("weigh", "41.2", "--base", "26,9", "--alloy", "sterling-925"), "26,9 has a comma: write 26.9"),
        (("size", "US 7", "--width=8,5"), "8,5 has a comma: write 8.5"),
        (("weigh", "1,234", "--alloy", "sterling-925"), "write 1.234, or 1234 if it parts thousands"),
    ],
)
def test_a_number_with_a_comma_is_told_with_a_point(pourwell: Caller, words: tuple[str, ...], says: str) -> None:
    answer = pourwell(*words)
    assert answer.code == 2
    assert says in answer.err


def test_a_comma_elsewhere_is_not_blamed(pourwell: Caller) -> None:
    for words in (("weigh", "heavy", "--alloy", "41,2"), ("day", "--alloy", "a", "--flasks", "2,0")):
        answer = pourwell(*words)
        assert answer.code == 2
        assert "has a comma" not in answer.err


def test_an_interrupt_while_files_are_being_written_leaves_the_older_plan(
    pourwell: Caller, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second file breaks off; the folder of yesterday stands, byte for byte, and no scrap lies beside it."""
    assert pourwell(*BY_WEIGHT, "--out", "run").code == 0
    before = {p.name: p.read_bytes() for p in Path("run").iterdir()}
    written: list[str] = []
    write_bytes = Path.write_bytes

    def tire(self: Path, data: bytes) -> int:
        written.append(self.name)
        if len(written) == 2:
            raise KeyboardInterrupt
        return write_bytes(self, data)

    monkeypatch.setattr(Path, "write_bytes", tire)
    assert pourwell(*BY_WEIGHT, "--out", "run", "--replace").code == 130
    assert written == ["plan.json", "run-sheet.pdf"]
    assert {p.name: p.read_bytes() for p in Path("run").iterdir()} == before
    assert [p.name for p in Path().iterdir()] == ["run"]


def test_a_disk_that_fills_up_midway_is_a_sentence_and_leaves_nothing(pourwell: Caller, monkeypatch: pytest.MonkeyPatch) -> None:
    write_bytes = Path.write_bytes

    def full(self: Path, data: bytes) -> int:
        if self.name == "day.ics":
            raise OSError(28, "No space left on device")
        return write_bytes(self, data)

    monkeypatch.setattr(Path, "write_bytes", full)
    answer = pourwell(*BY_WEIGHT, "--out", "run")
    assert answer.code == 2
    assert "No space left" in answer.err
    assert list(Path().iterdir()) == []


def test_an_interrupted_demo_leaves_nothing(pourwell: Caller, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(demo, "plan_job", raiser(KeyboardInterrupt()))
    assert pourwell("demo").code == 130
    assert list(Path().iterdir()) == []


@pytest.mark.parametrize("more", [(), ("--json",)])
def test_a_stop_ends_with_three_in_words_and_in_data(
    pourwell: Caller, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, more: tuple[str, ...]
) -> None:
    (tmp_path / "studio.toml").write_text("[melting]\ncrucible_cm3 = 10\n")
    monkeypatch.setenv("POURWELL_STUDIO", str(tmp_path))
    answer = pourwell("weigh", 14.3, "--alloy", "sterling-925", *more)
    assert answer.code == 3
    if more:
        assert [f["severity"] for f in answer.data["findings"]].count("stop") == 1
    else:
        assert "STOP" in answer.out
        assert "molten metal would run over" in answer.out


def test_an_interrupt_that_a_library_turns_into_its_own_fault_is_still_an_interrupt(
    pourwell: Caller, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A library may catch everything during its import and raise something else."""

    def wrapped(*_: object, **__: object) -> None:
        try:
            os.kill(os.getpid(), signal.SIGINT)
            time.sleep(1)
        except BaseException as err:
            raise TypeError("a fault of the library's own") from err

    monkeypatch.setattr("pourwell.app.mixing.mix_for", wrapped)
    assert pourwell("mix", "76x100").code == 130
