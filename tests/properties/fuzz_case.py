"""What the fuzzing of the pattern readers shares: how many cases, where the files lie, and what a reader is held to."""

import contextlib
import faulthandler
import json
import os
import resource
import subprocess
import sys
import time
import traceback
from dataclasses import asdict, dataclass
from functools import cache, partial
from pathlib import Path

import numpy as np
from hypothesis import settings

from pourwell.errors import BadFileError
from pourwell.files.patterns import read_pattern, simple
from pourwell.files.worker import read_safely

LONG = 1000
"""A profile of more examples than this is the long one."""
CASES = settings(max_examples=10_000 if settings().max_examples > LONG else 300)
LIMIT = 20_000
SECONDS = 5.0
BYTES = 2_000_000_000
EDGES = (0, 1, 2, 3, 4, 127, 128, 255, 256, 32767, 65535, 65536, 2**31 - 1, 2**31, 2**32 - 1)


READ, REFUSED, BROKE = 0, 1, 9
"""How a case ends, as a process says it; any other end is that of an engine that broke down, too."""


WHY = "why.txt"
"""Where a process that reads apart says what fault it met, if that was one of Python's."""


@dataclass
class Tally:
    """What the cases of one test came to."""

    cases: int = 0
    read: int = 0
    refused: int = 0
    broke: int = 0
    """The engine of a reader broke down: the process that reads tells that in a sentence."""
    unsteady: int = 0
    """Of those, so many times it did not break down for the process that reads, which has read the file."""
    said: str = ""
    """How the last of these ended."""
    slowest_s: float = 0.0
    most_bytes: int = 0

    def add(self, outcome: int, *, seconds: float, grown: int) -> None:
        """One case more."""
        self.cases += 1
        self.read += outcome == READ
        self.refused += outcome == REFUSED
        self.broke += outcome not in (READ, REFUSED)
        self.slowest_s = max(self.slowest_s, seconds)
        self.most_bytes = max(self.most_bytes, grown)


ENOUGH, LEAST_READ = 1000, 0.01
"""Of so many cases and more at least this share must have been read, where they begin from whole files."""


def many_read(cases: int, read: int) -> bool:
    """Whether enough cases got through a reader to its end."""
    return cases < ENOUGH or read > LEAST_READ * cases


MOST_UNSTEADY = 0.1
"""Of the files on which the engine of a reader broke, no larger share may be read by the process that reads for the program.

Observed with the engine that reads STEP: one of 157 was read twice by that process while two copies of this one broke.
"""


def breaks_are_told(broke: int, unsteady: int) -> bool:
    """Whether the process that reads for the program refused what the engine broke down over, but for an unsteady few."""
    return unsteady <= max(1, MOST_UNSTEADY * broke)


tally = Tally()
"""Of the test that runs; `make long` prints those of all tests as a table."""


@cache
def folder() -> Path:
    """One folder for all files of this process."""
    import tempfile

    return Path(tempfile.mkdtemp(prefix="fuzz"))


def held(content: bytes, ending: str) -> None:
    """Hold a reader to its word: read or refused in a sentence, within time and memory."""
    path = put(content, ending)
    before, start = forget_the_peak(), time.process_time()
    outcome = read_or_refused(path)
    seconds, grown = time.process_time() - start, grown_since(before)
    tally.add(outcome, seconds=seconds, grown=grown)
    assert seconds < SECONDS
    assert grown < BYTES


def held_apart(content: bytes, ending: str) -> None:
    """As `held`, in a process of its own for each case: for a reader whose engine may take the process with it.

    Where it does, the process that reads for the program must tell so in a sentence. But an engine that breaks in one process
    may not break in the next, over the same bytes: then that process may read the file, and it is counted as unsteady.
    """
    path = put(content, ending)
    ended = small_process().read(path)
    tally.add(ended.outcome, seconds=ended.seconds, grown=ended.grown)
    assert ended.grown < BYTES
    if ended.broke and read_or_refused(path, partial(read_safely, limit_s=SECONDS)) == READ:
        tally.unsteady += 1
        tally.said = f"ended with {ended.outcome} after {ended.seconds:.1f} s: {ended.why}"


@dataclass(frozen=True)
class Ended:
    """How a process that read a file ended."""

    outcome: int
    seconds: float
    grown: int
    """Memory over that of the process that began it [bytes]."""
    why: str
    """What fault it met, if that was one of Python's."""

    @property
    def broke(self) -> bool:
        """Whether it neither read nor refused."""
        return self.outcome not in (READ, REFUSED)


class SmallProcess:
    """A process that holds a reader's engine and little else, and makes a copy of itself for each file.

    A copy of this process, which holds all tests, takes 0.1 s and more to make.
    """

    def __init__(self, good: Path) -> None:
        env = os.environ | {"PYTHONPATH": os.pathsep.join(part for part in sys.path if part)}
        line = [sys.executable, "-c", "from tests.properties.fuzz_case import serve; serve()"]
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
        self.process = subprocess.Popen(line, **pipes, text=True, cwd=Path(__file__).parents[2], env=env)
        assert self.read(good).outcome == READ

    def read(self, path: Path) -> Ended:
        """Have a file read by a copy of it."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(f"{path}\n")
        self.process.stdin.flush()
        return Ended(**json.loads(self.process.stdout.readline()))


def serve() -> None:
    """Read files by name from the standard input, each in a copy of this process, and say how each ended; the first one here."""
    for number, line in enumerate(sys.stdin):
        path = Path(line.removesuffix("\n"))
        ended = ended_apart(path) if number else Ended(read_or_refused(path), seconds=0.0, grown=0, why="")
        print(json.dumps(asdict(ended)), flush=True)


@cache
def small_process() -> SmallProcess:
    """One for all cases of this process; it ends with it. What it reads first is a good file of those that are read apart."""
    from tests.properties.test_pattern_worker import good_step

    return SmallProcess(put(good_step(), "-good.step"))


def ended_apart(path: Path) -> Ended:
    """Read a file in a process that is a copy of this one: what it needs must be imported already, or every copy imports it."""
    told = folder() / WHY
    told.unlink(missing_ok=True)
    before = _status("VmRSS")
    child = os.fork()
    if child == 0:
        outcome = BROKE
        with contextlib.suppress(BaseException):
            faulthandler.disable()
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
            resource.setrlimit(resource.RLIMIT_CPU, (int(SECONDS), int(SECONDS) + 1))
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            os.dup2(1, 2)
            try:
                outcome = read_or_refused(path)
            except BaseException:
                told.write_text(traceback.format_exc(), encoding="utf-8")
        os._exit(outcome)
    _, status, used = os.wait4(child, 0)
    return Ended(
        os.waitstatus_to_exitcode(status),
        seconds=used.ru_utime + used.ru_stime,
        grown=1024 * used.ru_maxrss - before,
        why=told.read_text(encoding="utf-8") if told.exists() else "",
    )


def put(content: bytes, ending: str) -> Path:
    """A file of these bytes."""
    path = folder() / f"piece{ending}"
    path.write_bytes(content)
    return path


def read_or_refused(path: Path, reader=read_pattern) -> int:
    """READ or REFUSED; what is read is sound, what is refused says what, why and what to try."""
    try:
        simple(path)
        file = reader(path, limit_count=LIMIT)
    except BadFileError as error:
        if not (error.what and error.why and error.try_this):
            raise
        return REFUSED
    assert 0 < file.triangle_count <= LIMIT
    assert all(np.isfinite(body.mesh.vertices[body.mesh.faces]).all() for body in file.bodies)
    assert all(body.name.isprintable() for body in file.bodies)
    return READ


def forget_the_peak() -> int:
    """Let the system count the most memory anew; what this process holds now [bytes].

    Where the system does not count as it should, it is the most that the process ever held: only what goes beyond it is seen then.
    Source: proc(5), clear_refs 5 and VmRSS, VmHWM of status.
    """
    return _forget() if peak_is_counted() else _most_ever()


def grown_since(before: int) -> int:
    """By how much the memory had grown at its most since `forget_the_peak` gave `before` [bytes]."""
    return (_status("VmHWM") if peak_is_counted() else _most_ever()) - before


@cache
def peak_is_counted() -> bool:
    """Whether this system sees 600 MB that were held for a moment, and forgets them when told to.

    Some kernels, those that stand between a container and its host among them, take the order to forget and do not count.
    """
    before = _forget()
    _hold(600_000_000)
    seen = _status("VmHWM") - before
    before = _forget()
    return seen > 400_000_000 and _status("VmHWM") - before < 200_000_000


def measured_memory() -> None:
    """Hold the gauge itself to its word: more than was ever held before is seen, by whichever way this system counts."""
    before = forget_the_peak()
    _hold(_most_ever() - _status("VmRSS") + 600_000_000)
    assert grown_since(before) > 400_000_000
    if peak_is_counted():
        assert grown_since(forget_the_peak()) < 200_000_000
    for left in folder().iterdir():
        with contextlib.suppress(OSError):
            left.unlink()


def _forget() -> int:
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    return _status("VmRSS")


def _hold(size: int) -> None:
    block = np.ones(size // 8)
    assert block[-1] == 1.0


def _most_ever() -> int:
    return 1024 * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def _status(name: str) -> int:
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return 1024 * next(int(line.split()[1]) for line in lines if line.startswith(f"{name}:"))
