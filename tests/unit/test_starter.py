"""The file that opens the desk by a double click, in the form of each system."""

import stat
import subprocess
import sys

import pytest

import start


def program_that_writes(tmp_path, folder):
    """A program that writes down what it was called with, in a folder of any name."""
    place = tmp_path / folder
    place.mkdir()
    path = place / "pourwell"
    path.write_text(f'#!/bin/sh\necho "$@" > "{tmp_path}/called.txt"\n', encoding="utf-8")
    path.chmod(0o755)
    return path


def test_windows_gets_a_batch_file_that_stays_open_on_a_fault(tmp_path):
    path = start.write_starter(r"C:\My tools\.venv\Scripts\pourwell.exe", tmp_path, "win32")
    assert path.suffix == ".bat"
    lines = path.read_bytes().decode().split("\r\n")
    assert lines[0] == r'@"C:\My tools\.venv\Scripts\pourwell.exe" desk'
    assert lines[1] == "@if errorlevel 1 pause"


@pytest.mark.skipif(sys.platform == "win32", reason="needs a shell")
@pytest.mark.parametrize("folder", ["plain", "with blanks", "it's mine", "a$b`c"])
def test_a_mac_gets_a_shell_script_whatever_its_folder_is_called(tmp_path, folder):
    program = program_that_writes(tmp_path, folder)
    path = start.write_starter(str(program), tmp_path, "darwin")
    assert path.suffix == ".command"
    assert path.stat().st_mode & stat.S_IXUSR
    subprocess.run([str(path)], check=True, timeout=60)
    assert (tmp_path / "called.txt").read_text(encoding="utf-8") == "desk\n"


@pytest.mark.parametrize(
    ("program", "line"),
    [
        ("/srv/pourwell/.venv/bin/pourwell", 'Exec="/srv/pourwell/.venv/bin/pourwell" desk'),
        ("/srv/my tools/pourwell", 'Exec="/srv/my tools/pourwell" desk'),
        ('/srv/a"b$c`d\\e%f/pourwell', 'Exec="/srv/a\\"b\\$c\\`d\\\\e%%f/pourwell" desk'),
    ],
)
def test_linux_gets_a_desktop_entry_with_its_signs_quoted(tmp_path, program, line):
    path = start.write_starter(program, tmp_path, "linux")
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[0] == "[Desktop Entry]"
    assert line in lines
    assert "Terminal=true" in lines
    assert path.stat().st_mode & stat.S_IXUSR


def test_a_starter_is_written_anew_over_an_older_one(tmp_path):
    first = start.write_starter("/old/pourwell", tmp_path, "linux")
    second = start.write_starter("/new/pourwell", tmp_path, "linux")
    assert first == second
    assert "/old/" not in second.read_text(encoding="utf-8")


def test_the_demo_names_the_desk_and_ends(monkeypatch, capsys, tmp_path):
    calls = []
    monkeypatch.setattr(start.subprocess, "call", lambda line, **_: calls.append(line) or 0)
    assert start.demo(tmp_path, []) == 0
    assert "start.py desk" in capsys.readouterr().out
    assert [line[1] for line in calls] == ["demo"]
    start.demo(tmp_path, ["--json"])
    assert capsys.readouterr().out == ""


def test_the_desk_is_opened_with_what_follows(monkeypatch, tmp_path):
    calls = []
    monkeypatch.setattr(start.subprocess, "call", lambda line, **_: calls.append(line) or 0)
    assert start.desk(tmp_path, ["--port", "9000"]) == 0
    assert calls[0][1:] == ["desk", "--port", "9000"]
    assert start.LOCKS["desk"] == "run"
