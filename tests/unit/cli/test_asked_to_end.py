"""Ctrl-C and a plain request to end (SIGTERM): what stays on the disk, and the exit code, watched or not."""

import os
import signal
import time
from pathlib import Path

import pytest

from pourwell.cli import main, watch
from tests.unit.cli.test_watch import BEGIN, DEAF, POSIX, ended, started, there

pytestmark = POSIX

NUMBERS = pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
WATCHED = pytest.mark.parametrize("begin", [BEGIN, "import os, sys, time\n"], ids=["watched", "alone"])

SLOW = """
import signal
from pathlib import Path
from pourwell.cli import main
from pourwell.files import folder, one_file
write = Path.write_bytes
def dawdle(handle=None):
    print("writing", flush=True)
    until = time.monotonic() + 20
    while time.monotonic() < until:
        time.sleep(0.01)
def slow(self, data):
    write(self, data[: len(data) // 2])
    dawdle()
    return write(self, data)
"""
"""Begins to write, and takes twenty seconds about it."""


def asked_amid(work: str, number: int, *, begin: str, both: bool) -> tuple[int, str]:
    """The exit code and complaint of a program that is asked to end as it writes."""
    with started(work, begin) as program:
        assert program.stdout.readline() == "writing\n"
        if both:
            os.killpg(program.pid, number)  # as a terminal does
        else:
            program.send_signal(number)
        code = program.wait(timeout=20)
        return code, program.stderr.read()


@NUMBERS
@WATCHED
@pytest.mark.parametrize("both", [True, False], ids=["group", "one"])
def test_a_file_that_is_being_written_leaves_nothing(tmp_path, number, begin, both):
    out = tmp_path / "band.stl"
    words = ["pourwell", "shape", "plain-band", "--out", str(out)]
    work = f"{SLOW}os.fsync = dawdle\nsys.argv = {words!r}\nmain.run()\n"
    code, err = asked_amid(work, number, begin=begin, both=both)
    assert code == 128 + number
    assert "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def clearing_up(out: Path, number: int, *, asked_after_s: float) -> str:
    """A program that is asked once more while it takes away what it has half written, and is not done at once after that."""
    return f"""{SLOW}
remove = Path.unlink
def slowly(self, missing_ok=False):
    time.sleep({asked_after_s})
    os.kill(os.getpid(), {int(number)})
    time.sleep(0.2)
    return remove(self, missing_ok=missing_ok)
Path.unlink = slowly
os.fsync = dawdle
sys.argv = ["pourwell", "shape", "plain-band", "--out", {str(out)!r}]
main.run()
"""


@NUMBERS
@WATCHED
def test_a_request_that_comes_twice_does_not_break_off_the_clearing_up(tmp_path, number, begin):
    """A terminal asks the program and its watcher, and the watcher passes it on, perhaps while the first is being answered."""
    work = clearing_up(tmp_path / "band.stl", number, asked_after_s=0.0)
    code, err = asked_amid(work, number, begin=begin, both=True)
    assert code == 128 + number
    assert "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


@NUMBERS
@WATCHED
def test_a_slow_clearing_up_is_not_broken_off_by_who_asks_once_more(tmp_path, number, begin):
    """The watcher asks again after a second, and a user who waits does too."""
    work = clearing_up(tmp_path / "band.stl", number, asked_after_s=1.0)
    code, err = asked_amid(work, number, begin=begin, both=True)
    assert (code, err.count("Traceback")) == (128 + number, 0)
    assert list(tmp_path.iterdir()) == []


def test_two_requests_of_two_kinds_end_it_without_a_word_of_python(tmp_path):
    words = ["pourwell", "shape", "plain-band", "--out", str(tmp_path / "band.stl")]
    with started(f"{SLOW}os.fsync = dawdle\nsys.argv = {words!r}\nmain.run()\n") as program:
        assert program.stdout.readline() == "writing\n"
        os.killpg(program.pid, signal.SIGINT)
        os.killpg(program.pid, signal.SIGTERM)
        assert program.wait(timeout=20) in (130, 143)
        assert "Traceback" not in program.stderr.read()
    assert list(tmp_path.iterdir()) == []


@pytest.fixture
def clock(monkeypatch):
    """Seconds that a test sets; nothing was heard before."""
    now = [100.0]
    monkeypatch.setattr(main.time, "monotonic", lambda: now[0])
    monkeypatch.setattr(main, "interrupts", [])
    return now


def test_a_request_that_was_swallowed_is_heard_again(clock):
    with pytest.raises(KeyboardInterrupt):
        main.interrupt(signal.SIGINT, None)
    clock[0] += 0.1
    main.interrupt(signal.SIGTERM, None)
    clock[0] += watch.PATIENCE_S[0]
    with pytest.raises(KeyboardInterrupt):
        main.interrupt(signal.SIGINT, None)
    assert main.interrupts == [signal.SIGINT, signal.SIGTERM, signal.SIGINT]


def test_what_clears_up_is_broken_off_only_when_it_takes_long(clock):
    try:
        main.interrupt(signal.SIGINT, None)
    except KeyboardInterrupt:
        for wait_s in (1.0, 3.0, 5.0):
            clock[0] += wait_s
            main.interrupt(signal.SIGINT, None)
        clock[0] += main.ENOUGH_S
        with pytest.raises(KeyboardInterrupt):
            main.interrupt(signal.SIGINT, None)


@NUMBERS
@WATCHED
def test_a_folder_that_is_being_replaced_stays_as_it_was(tmp_path, number, begin):
    run = tmp_path / "run"
    run.mkdir()
    (run / "job.json").write_text('{"schema": "pourwell.job", "files": ["job.json", "plan.json"]}')
    (run / "plan.json").write_text("old")
    before = {path.name: path.read_bytes() for path in run.iterdir()}
    work = f"""{SLOW}
Path.write_bytes = slow
main.app = lambda: folder.write_folder(Path({str(run)!r}), {{"plan.json": b"new plan", "job.json": b"{{}}"}}, replace=True)
try:
    main.run()
except KeyboardInterrupt:
    watched = sys.modules.get("pourwell.cli.watch")
    watched.leave(watched.ASKED + main.interrupts[-1])
"""
    code, err = asked_amid(work, number, begin=begin, both=False)
    assert code == 128 + number, err
    assert {path.name: path.read_bytes() for path in run.iterdir()} == before
    assert [path.name for path in tmp_path.iterdir()] == ["run"]


@NUMBERS
@WATCHED
def test_a_folder_amid_its_two_renames_is_the_new_one(tmp_path, number, begin):
    """The request is heard only once the new folder stands."""
    run = tmp_path / "run"
    run.mkdir()
    (run / "job.json").write_text('{"schema": "pourwell.job", "files": ["job.json"]}')
    work = f"""{SLOW}
rename, count = Path.rename, []
def slowly(self, to):
    count.append(self)
    if len(count) == 2:
        print("writing", flush=True)
        time.sleep(1.2)
    return rename(self, to)
Path.rename = slowly
main.app = lambda: folder.write_folder(Path({str(run)!r}), {{"job.json": b"new"}}, replace=True)
try:
    main.run()
except KeyboardInterrupt:
    watched = sys.modules.get("pourwell.cli.watch")
    watched.leave(watched.ASKED + main.interrupts[-1])
"""
    code, err = asked_amid(work, number, begin=begin, both=False)
    assert code == 128 + number, err
    assert [path.name for path in tmp_path.iterdir()] == ["run"]
    assert (run / "job.json").read_bytes() == b"new"


def test_work_that_hears_no_request_is_ended_all_the_same():
    deaf = DEAF.replace("time.sleep(60)", "signal.signal(signal.SIGTERM, signal.SIG_IGN)\ntime.sleep(60)").replace(
        "print(os.getpid(), flush=True)\n", ""
    )
    work = deaf.replace("time.sleep(60)", "print(os.getpid(), flush=True)\ntime.sleep(60)")
    with started(work) as program:
        child = int(program.stdout.readline())
        begun = time.monotonic()
        program.send_signal(signal.SIGTERM)
        assert program.wait(timeout=20) == 143
        assert time.monotonic() - begun < 10
    assert not there(child)


def test_work_that_the_system_kills_is_told_as_probably_out_of_memory():
    code, _, err = ended("os.kill(os.getpid(), 9)")
    assert code == 2
    assert "was ended by the system, probably because memory ran out" in err


@pytest.mark.parametrize(("code", "number"), [(None, 0), (0, 0), (3, 3), ("no such thing", 1)])
def test_the_exit_code_is_the_one_that_python_would_end_with(capsys, code, number):
    assert main.code_of(SystemExit(code)) == number
    assert capsys.readouterr().err == ("no such thing\n" if code == "no such thing" else "")


def test_a_text_as_the_end_of_a_watched_program_is_no_success():
    work = (
        "from pourwell.cli import main\nmain.run = lambda: sys.exit('no such thing')\nsys.argv = ['pourwell', 'size']\nmain.main()"
    )
    code, out, err = ended(work, "import os, sys, time\n")
    assert (code, out, err) == (1, "", "no such thing\n")
