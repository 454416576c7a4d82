"""Work that does not end, takes all memory or breaks down is ended from outside, in a sentence, and Ctrl-C is always heard."""

import os
import signal
import subprocess
import sys
import time

import numpy as np
import pytest

from pourwell.cli import watch
from pourwell.geometry.mesh import Mesh
from tests.unit.files.pattern_files import binary_stl

POSIX = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system makes no process of a process")
BEGIN = """
import os, sys, time
from pourwell.cli import watch
watch.LIMIT_S = 1
watch.apart()
watch.stage("Measuring fan.stl")
"""
DEAF = "import signal\nsignal.signal(signal.SIGINT, signal.SIG_IGN)\nprint(os.getpid(), flush=True)\ntime.sleep(60)\n"
"""Hears no interrupt, as an engine that computes does."""


def started(work: str, begin: str = BEGIN) -> subprocess.Popen:
    return subprocess.Popen(
        [sys.executable, "-c", begin + work], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )


def ended(work: str, begin: str = BEGIN) -> tuple[int, str, str]:
    """Code, output and complaint."""
    with started(work, begin) as program:
        out, err = program.communicate(timeout=30)
    return program.returncode, out, err


def there(process: int) -> bool:
    """Is a process still at work, and not only a name that nobody has asked after."""
    try:
        with open(f"/proc/{process}/stat", encoding="ascii") as file:  # noqa: PTH123
            return file.read().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


@POSIX
@pytest.mark.parametrize("code", [0, 2, 3])
def test_work_that_ends_by_itself_ends_the_program_with_its_code(code):
    assert ended(f"print('done')\nsys.exit({code})") == (code, "done\n", "")


@POSIX
def test_work_that_takes_too_long_is_ended_in_a_sentence():
    code, _, err = ended("while True: pass")
    assert code == 2
    assert "Measuring fan.stl takes too long, and was ended." in err
    assert "a fan of long thin triangles" in err


@POSIX
def test_a_mesh_that_every_search_meets_whole_ends_in_a_sentence(tmp_path):
    """Twenty thousand triangles round two poles: all of them meet there, two by two."""
    turn = np.linspace(0, 2 * np.pi, 10_000, endpoint=False)
    rim = np.column_stack([8 * np.cos(turn), 8 * np.sin(turn), 0 * turn])
    poles = np.array([[0, 0, 3.0], [0, 0, -3.0]])
    first, after = np.arange(len(turn)), np.roll(np.arange(len(turn)), -1)
    faces = [np.column_stack([first, after, 0 * first + len(turn)]), np.column_stack([after, first, 0 * first + len(turn) + 1])]
    fan = binary_stl(tmp_path / "fan.stl", Mesh(np.vstack([rim, poles]), np.vstack(faces)))
    work = f"sys.argv = ['pourwell', 'check', {str(fan)!r}]\nfrom pourwell.cli.main import run\nrun()"
    code, out, err = ended(work, BEGIN.replace("LIMIT_S = 1", "LIMIT_S = 2"))
    assert (code, out) == (2, "")
    assert "Reading and measuring fan.stl takes too long, and was ended." in err
    assert "It took more than" in err


@POSIX
def test_the_time_begins_anew_with_what_is_told():
    work = "for k in range(4):\n    watch.stage(str(k))\n    until = time.process_time() + 0.7\n"
    work += "    while time.process_time() < until: pass\nprint('through')"
    assert ended(work) == (0, "through\n", "")


@POSIX
def test_work_that_breaks_down_is_told_with_what_it_was_at():
    code, _, err = ended("os.abort()")
    assert code == 2
    assert "Measuring fan.stl broke down." in err
    assert "SIGABRT" in err


@POSIX
def test_work_that_the_system_ends_is_told_with_what_it_was_at():
    code, _, err = ended("os.kill(os.getpid(), 9)")
    assert code == 2
    assert "Measuring fan.stl was ended by the system" in err


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux holds a process to its memory")
def test_memory_beyond_the_limit_is_refused_inside_the_work():
    begin = BEGIN.replace("watch.LIMIT_S", "watch.LIMIT_BYTES = 300_000_000\nwatch.LIMIT_S")
    work = "try:\n    block = bytearray(400_000_000)\nexcept MemoryError:\n    print('refused')"
    assert ended(work, begin) == (0, "refused\n", "")


@POSIX
def test_an_interrupt_ends_work_that_hears_none():
    with started(DEAF) as program:
        child = int(program.stdout.readline())
        program.send_signal(signal.SIGINT)
        assert program.wait(timeout=20) == 130
    assert not there(child)


@POSIX
def test_work_that_hears_the_interrupt_ends_by_itself():
    with started("try:\n    print('on', flush=True)\n    time.sleep(60)\nexcept KeyboardInterrupt:\n    sys.exit(130)") as program:
        assert program.stdout.readline() == "on\n"
        begun = time.monotonic()
        os.killpg(program.pid, signal.SIGINT)  # as a terminal does: to both
        assert program.wait(timeout=20) == 130
        assert time.monotonic() - begun < watch.PATIENCE_S[1]


@POSIX
def test_work_does_not_outlive_the_program_that_watches_it():
    with started(DEAF) as program:
        child = int(program.stdout.readline())
        program.kill()
        program.wait(timeout=20)
        until = time.monotonic() + 10
        while there(child) and time.monotonic() < until:
            time.sleep(0.02)
    assert not there(child)


def test_where_no_process_can_be_made_a_thread_watches_the_time():
    begin = BEGIN.replace("watch.apart()", "del os.fork\nwatch.apart()")
    code, _, err = ended("while True: pass", begin)
    assert code == 2
    assert "Measuring fan.stl takes too long" in err
    assert ended("print('done')", begin)[:2] == (0, "done\n")
