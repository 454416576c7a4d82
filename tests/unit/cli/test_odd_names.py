"""File names that are no UTF-8, or hold what steers a terminal: told, stored and never sent to the terminal raw."""

import os
from pathlib import Path

import pytest

from pourwell.cli import show, watch
from pourwell.errors import BadFileError, shown
from pourwell.files.kiln_log import open_table
from pourwell.files.patterns import read_pattern, shown_name
from pourwell.files.plan_json import to_bytes
from pourwell.geometry.shapes import plain_band
from tests.journeys.call import Caller
from tests.unit.files.pattern_files import binary_stl, cube

BYTES = os.fsdecode(b"r\xff.stl")
STEERING = "ev\x1b[31m\x1b]0;owned\x07.stl"
ODD = pytest.mark.parametrize("name", [BYTES, STEERING], ids=["bytes", "escapes"])


@pytest.fixture
def pourwell(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Caller:
    return Caller(monkeypatch, capsys)


def made(folder: Path, name: str) -> Path:
    """A plain band under an odd name; skipped where the system allows none."""
    try:
        return binary_stl(folder / name, plain_band())
    except (OSError, UnicodeError):
        pytest.skip("this system has no such names")


def test_bytes_that_are_no_letters_become_a_question_mark_and_controls_a_space() -> None:
    assert shown(BYTES) == "r?.stl"
    assert shown(STEERING) == "ev [31m ]0;owned .stl"
    assert shown("größe 1½, ring.stl") == "größe 1½, ring.stl"
    assert shown_name("\x1b{l:6}\udcff\n") == "(l:6)?"


def test_a_pattern_s_name_can_be_stored(tmp_path: Path) -> None:
    file = read_pattern(made(tmp_path, BYTES))
    assert file.name == "r?"
    assert file.bodies[0].name == "r?"
    file.name.encode()


def test_a_plan_is_stored_whatever_its_texts_hold() -> None:
    assert to_bytes({"file": BYTES}) == b'{\n "file": "r?.stl"\n}\n'


def test_a_log_s_name_can_be_shown(tmp_path: Path) -> None:
    path = made(tmp_path, STEERING)
    path.write_text("minutes,temperature\n0,20\n1,25\n2,30\n", encoding="utf-8")
    assert open_table(path).file == shown(STEERING)


@ODD
@pytest.mark.parametrize(
    "words", [("check",), ("mend",), ("print",), ("plan", "--alloy", "sterling-925"), ("fit", "--size", "US 9")]
)
def test_every_command_on_a_pattern_takes_the_name_and_says_it_clean(pourwell: Caller, tmp_path: Path, name, words) -> None:
    path = made(tmp_path, name)
    if words[0] == "plan":
        words = (*words, "--out", tmp_path / "run")
    answer = pourwell(words[0], path, *words[1:])
    assert answer.code in (0, 3), answer.err
    for text in (answer.out, answer.err):
        assert "\x1b]0;" not in text
        assert "\udcff" not in text
        text.encode()


@ODD
def test_a_complaint_names_the_file_clean(pourwell: Caller, tmp_path: Path, name: str) -> None:
    path = made(tmp_path, name)
    path.write_bytes(b"nothing that is known" * 9)
    answer = pourwell("check", path)
    assert answer.code == 2
    assert shown(name) in answer.err
    assert "\x1b" not in answer.err
    answer.err.encode()


def test_a_complaint_keeps_its_own_lines(capsys: pytest.CaptureFixture[str]) -> None:
    show.complain(BadFileError("one\ntwo \x1b[2J", try_this="three"))
    assert capsys.readouterr().err == "one\ntwo  [2J\nthree\n"


@ODD
def test_rows_are_printed_clean(capsys: pytest.CaptureFixture[str], name: str) -> None:
    show.print_rows([(name, "1", name)])
    out = capsys.readouterr().out
    assert out.count(shown(name)) == 2
    assert "\x1b]" not in out


@ODD
def test_what_is_told_to_the_watch_is_a_line_of_bytes(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    page = bytearray(watch.PAGE_BYTES)
    monkeypatch.setattr(watch, "_told", lambda _: None)
    resource = pytest.importorskip("resource")
    monkeypatch.setattr(resource, "setrlimit", lambda *_: None)
    watch._hold(page)
    watch.stage(f"Reading {name}")
    assert bytes(page).split(b"\0", 1)[0].decode() == f"Reading {shown(name)}"


def test_a_mended_copy_of_an_odd_name_is_written_and_named_clean(pourwell: Caller, tmp_path: Path) -> None:
    path = made(tmp_path, STEERING)
    binary_stl(path, cube(8))
    path.write_bytes(path.read_bytes()[:84].replace(b"\x0c\0\0\0", b"\x0b\0\0\0") + path.read_bytes()[84:-50])
    answer = pourwell("mend", path, "--yes")
    assert answer.code == 0, answer.err
    assert "Written:" in answer.out
    assert "\x1b" not in answer.out
