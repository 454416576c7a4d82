"""A command that computes with a pattern is watched from outside, so that it ends whatever the file holds.

Triangles can lie so that every search meets all of them, and an engine in C++ then computes for hours, takes all memory, or breaks
down, and hears no Ctrl-C meanwhile. So the program goes on in a process of its own, and the one that the user began does nothing
but watch it: it ends what takes too long between two things told, what takes too much memory, and at Ctrl-C or SIGTERM
what does not end by itself, and says so in a sentence. Windows cannot go on in another process; there a thread watches the time.
"""

import contextlib
import mmap
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from math import ceil
from types import FrameType
from typing import Final, NoReturn

from pourwell.errors import BadFileError, PourwellError, shown

LIMIT_S: Final = 600
"""Processor time for what is told in one line [s]: ten times what two million triangles take in all."""

LIMIT_BYTES: Final = 8_000_000_000
"""Memory at most: five million triangles, the most that are read, take 5 GB."""

MEMORY_SHARE: Final = 0.8
"""... and no more than this share of what the machine has."""

PATIENCE_S: Final = (1.0, 2.0)
"""At Ctrl-C the work is given so long to end by itself, is told so again, and then so long once more."""

FAULT = 2
"""Exit code of a request that cannot be served."""

ASKED: Final = 128
"""The exit code of a program that a signal ended, less the signal's number."""

PAGE_BYTES: Final = 4096
EVERY_S: Final = 0.02
NOTHING: Final = "The work"
COARSER: Final = (
    "Look at the mesh in your drawing program: a fan of long thin triangles is the usual cause. Let it be meshed anew, or exported "
    "coarser: a tolerance of 0.01 mm is finer than any printer."
)


def _nobody(_: str) -> None:
    """Nobody watches."""


_told: Callable[[str], None] = _nobody


def stage(text: str) -> None:
    """What is being done now: the time for it begins anew."""
    _told(text)


def too_long(doing: str) -> PourwellError:
    """The error for work that does not end."""
    return BadFileError(
        f"{doing or NOTHING} takes too long, and was ended.",
        why=f"It took more than {LIMIT_S:,} seconds of computing.",
        try_this=COARSER,
    )


def too_much(doing: str) -> PourwellError:
    """The error for work that finds no more memory."""
    return BadFileError(
        f"{doing or NOTHING} takes too much memory, and was ended.",
        why=f"It wanted more than {_memory_bytes() / 1e9:.1f} GB.",
        try_this=COARSER,
    )


def killed(doing: str) -> PourwellError:
    """The error for work that was killed from outside, most often by a system that runs out of memory."""
    return BadFileError(
        f"{doing or NOTHING} was ended by the system, probably because memory ran out.",
        why="Nothing says why: a system does so where the machine has no memory left, and so does whoever kills a program.",
        try_this=f"Close other programs, and try again. {COARSER}",
    )


def broke_down(doing: str, number: int) -> PourwellError:
    """The error for an engine that ended its process."""
    name = signal.Signals(number).name if number in list(signal.Signals) else f"signal {number}"
    return BadFileError(
        f"{doing or NOTHING} broke down.",
        why=f"An engine that computes with the mesh ended at once ({name}): memory ran out, or triangles make no sense to it.",
        try_this=COARSER,
    )


def apart() -> None:
    """Go on in a process that is watched: only that one returns from here. Call it before anything large is loaded.

    Where no process can be made of this one, a thread watches the time instead.
    """
    if not hasattr(os, "fork"):
        _watched_by_a_thread()
        return
    page = mmap.mmap(-1, PAGE_BYTES)
    alive, held = os.pipe()
    child = os.fork()
    if child:
        os.close(alive)  # `held` closes as this process ends, however it does
        _watch(child, page)
    os.close(held)
    _end_with(alive)
    _hold(page)


def leave(code: int) -> NoReturn:
    """End this process at once: taking down all that was loaded, piece by piece, takes a quarter of a second."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):  # nobody reads any more
            stream.flush()
    os._exit(code)


def _hold(page: mmap.mmap) -> None:
    """Let this process have so much memory, and so much time for what is told in one line."""
    import resource

    global _told

    def told(text: str) -> None:
        line = shown(text).encode()[: PAGE_BYTES - 1]
        page[: len(line) + 1] = line + b"\0"
        resource.setrlimit(resource.RLIMIT_CPU, (ceil(time.process_time()) + LIMIT_S, most_s))

    _, most_s = resource.getrlimit(resource.RLIMIT_CPU)
    _told = told
    with contextlib.suppress(ValueError, OSError):  # where the system sets a lower limit, that one holds
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_DATA, (_memory_bytes(), resource.getrlimit(resource.RLIMIT_DATA)[1]))
        told("")


def _memory_bytes() -> int:
    """The most memory that the work may take."""
    try:
        whole = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, ValueError, OSError):
        return LIMIT_BYTES
    return min(LIMIT_BYTES, int(MEMORY_SHARE * whole)) if whole > 0 else LIMIT_BYTES


def _end_with(alive: int) -> None:
    """End this process as soon as the one that watches it is gone."""

    def wait() -> None:
        os.read(alive, 1)
        os._exit(FAULT)

    threading.Thread(target=wait, daemon=True).start()


def _watch(child: int, page: mmap.mmap) -> NoReturn:
    """Wait for the work to end, and end as it did."""
    came: list[int] = []

    def interrupted(number: int, _frame: FrameType | None) -> None:
        came.append(number)
        if len(came) == 1:  # another one, of a terminal that sends two, says nothing new
            raise KeyboardInterrupt

    signal.signal(signal.SIGINT, interrupted)
    signal.signal(signal.SIGTERM, interrupted)
    try:
        status = os.waitpid(child, 0)[1]
    except KeyboardInterrupt:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
        if came[0] == signal.SIGTERM:  # sent to this process alone; a terminal sends its Ctrl-C to both
            os.kill(child, signal.SIGTERM)
        status = _ended(child, came[0])
    code = os.waitstatus_to_exitcode(status)
    if came and code < 0:  # it did not hear it, so it said nothing
        sys.stderr.write("Stopped.\n")
        sys.stderr.flush()
        os._exit(ASKED + came[0])
    if code >= 0:
        os._exit(code)
    doing = page[:].split(b"\0", 1)[0].decode(errors="replace")
    if -code == signal.SIGTERM:
        os._exit(ASKED - code)
    if -code == signal.SIGXCPU:
        _say(too_long(doing))
    _say(killed(doing) if -code == signal.SIGKILL else broke_down(doing, -code))


def _ended(child: int, asked: int) -> int:
    """How work ends that is `asked` to end: by itself, for it heard the signal too; told once more; or by force."""
    for patience_s, number in zip(PATIENCE_S, (asked, signal.SIGKILL), strict=True):
        until = time.monotonic() + patience_s
        while time.monotonic() < until:
            pid, status = os.waitpid(child, os.WNOHANG)
            if pid:
                return status
            time.sleep(EVERY_S)
        os.kill(child, number)
    return os.waitpid(child, 0)[1]


def _say(err: PourwellError) -> NoReturn:
    """Say what was wrong, and end."""
    sys.stderr.write("\n".join(part for part in ("", err.what, err.why, err.try_this) if part) + "\n")
    sys.stderr.flush()
    os._exit(FAULT)


def _watched_by_a_thread() -> None:
    """Let a thread of this process end it when what is told in one line takes too long."""
    global _told
    now = [("", time.process_time())]

    def told(text: str) -> None:
        now[0] = text, time.process_time()

    def watch() -> None:
        while time.process_time() - now[0][1] < LIMIT_S:
            time.sleep(1.0)
        _say(too_long(now[0][0]))

    _told = told
    threading.Thread(target=watch, daemon=True).start()
