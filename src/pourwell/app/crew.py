"""Long work in processes of their own: begun by spawning, so nothing of the page's process is copied; each tells how far it is.

A lane is one such process and does one job after the other. A job that is stopped ends its process, and the lane begins a new one:
no computation has to know how to end early. What is refused inside comes out as a sentence, what breaks inside as a fault of ours.
"""

import importlib
import itertools
import multiprocessing
import os
import queue
import threading
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any, Final, Literal

from pourwell.errors import PourwellError
from pourwell.findings import spelt_out

State = Literal["waiting", "working", "done", "failed", "stopped"]
OVER: Final = frozenset({"done", "failed", "stopped"})
LOOK_S: Final = 0.05
"""How often a lane looks whether its job was stopped."""
MOST_SHOWN: Final = 150
"""Jobs that are remembered."""
POLITE: Final = 10
"""The page goes first: work is done at a lower priority, where the system has priorities."""


class Job:
    """Something that is being done: what it is, how far it is, how it ended."""

    numbers = itertools.count(1)

    def __init__(self, title: str, call: str, given: tuple[Any, ...], *, then: Callable[[Any], Any]) -> None:
        self.number, self.title = next(self.numbers), title
        self.about: tuple[str, int] | None = None
        self.call, self.given, self.then = call, given, then
        self.state: State = "waiting"
        self.says = "Waiting for its turn"
        self.outcome: Any = None
        self.fault: PourwellError | None = None
        self.began_s: float | None = None
        self.took_s: float | None = None
        self.wanted = True
        self.over = threading.Event()

    def stop(self) -> None:
        """Do not go on with it. What was kept before stays kept."""
        self.wanted = False

    def end(self, state: State, *, outcome: Any = None, fault: PourwellError | None = None) -> None:
        """Note how it ended."""
        self.outcome, self.fault = outcome, fault
        self.took_s = time.monotonic() - self.began_s if self.began_s is not None else None
        self.state = state
        self.over.set()


class Lane:
    """One process and the jobs that wait for it. The process begins with the first job."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.waiting: queue.Queue[Job | None] = queue.Queue()
        self._process: Any = None
        self._pipe: Connection | None = None
        self._thread = threading.Thread(target=self._run, name=f"lane {name}", daemon=True)
        self._thread.start()

    def add(self, job: Job) -> Job:
        """Let a job wait for its turn."""
        self.waiting.put(job)
        return job

    def close(self) -> None:
        """End the process, and what it is doing."""
        self.waiting.put(None)
        self._end_process()

    def _run(self) -> None:
        while (job := self.waiting.get()) is not None:
            if not job.wanted:
                job.end("stopped")
                continue
            job.began_s, job.state, job.says = time.monotonic(), "working", "Beginning"
            try:
                self._do(job)
            except PourwellError as err:  # keeping the answer was refused: a full disk
                job.end("failed", fault=err)
            except Exception as err:
                traceback.print_exc()
                job.end("failed", fault=PourwellError("This is a fault in Pourwell, not in your request.", why=f"{err!r}"))

    def _do(self, job: Job) -> None:
        pipe = self._begin_process()
        pipe.send((job.call, job.given))
        while True:
            if not job.wanted:
                self._end_process()
                job.end("stopped")
                return
            try:
                if not pipe.poll(LOOK_S):
                    continue
                kind, *said = pipe.recv()
            except (EOFError, OSError):
                self._end_process()
                job.end("failed", fault=PourwellError("The work ended without an answer.", why="Most likely the memory was full."))
                return
            if kind == "tell":
                job.says = said[0]
            elif kind == "done":
                job.end("done", outcome=job.then(said[0]))
                return
            else:
                what, why, try_this = said
                job.end("failed", fault=PourwellError(what, why=why, try_this=try_this))
                return

    def _begin_process(self) -> Connection:
        if self._process is None or not self._process.is_alive() or self._pipe is None:
            spawn = multiprocessing.get_context("spawn")
            self._pipe, theirs = spawn.Pipe()
            self._process = spawn.Process(target=attend, args=(theirs,), name=f"pourwell {self.name}", daemon=True)
            self._process.start()
            theirs.close()
        return self._pipe

    def _end_process(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.join(timeout=5)
        if self._pipe is not None:
            self._pipe.close()
        self._process, self._pipe = None, None


def attend(pipe: Connection) -> None:
    """The other side of a lane: do what comes, and say what came of it."""
    if hasattr(os, "nice"):
        with suppress(OSError):
            os.nice(POLITE)
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the page's process ends us
    while True:
        try:
            call, given = pipe.recv()
        except (EOFError, OSError):
            return
        try:
            answer: tuple[Any, ...] = ("done", _found(call)(*given, tell=lambda text: _say(pipe, ("tell", spelt_out(text)))))
        except PourwellError as err:
            answer = ("refused", err.what, err.why, err.try_this)
        except MemoryError:
            answer = ("refused", "The memory is full.", "", "Take a coarser file, or fewer pieces at once.")
        except Exception as err:
            traceback.print_exc()
            answer = ("refused", "This is a fault in Pourwell, not in your request.", f"It says: {err!r}.", "")
        _say(pipe, answer)


def _say(pipe: Connection, said: tuple[Any, ...]) -> None:
    """Tell the page's process something; if it is gone, nobody wants the work any more."""
    try:
        pipe.send(said)
    except (BrokenPipeError, ConnectionError):
        os._exit(0)


class Crew:
    """The lanes of a desk: one for quick answers, so that they never wait, and one for long work."""

    def __init__(self) -> None:
        self.quick, self.long = Lane("quick"), Lane("long")
        self.jobs: list[Job] = []

    def answer(self, call: str, *given: Any) -> Job:
        """Ask something that takes a moment."""
        return self.quick.add(Job("", call, given, then=_same))

    def get_ready(self, call: str) -> tuple[Job, ...]:
        """Have every lane load what it needs, before anybody asks for anything."""
        return tuple(lane.add(Job("", call, (), then=_same)) for lane in (self.quick, self.long))

    def work(self, title: str, call: str, *given: Any, then: Callable[[Any], Any]) -> Job:
        """Ask something that takes longer and is shown while it is done; `then` keeps its answer."""
        job = Job(title, call, given, then=then)
        shown = [other for other in self.jobs if other.state not in OVER or other.state == "failed"]
        self.jobs = [*shown[-MOST_SHOWN:], job]
        return self.long.add(job)

    def forget(self, number: int) -> None:
        """Show a job that is over no more."""
        self.jobs = [job for job in self.jobs if job.number != number or job.state not in OVER]

    def close(self) -> None:
        """End all."""
        for job in self.jobs:
            job.stop()
        self.quick.close()
        self.long.close()


def _found(call: str) -> Callable[..., Any]:
    """A function by its name "module:function": only the process that does the work loads it."""
    module, _, name = call.partition(":")
    function: Callable[..., Any] = getattr(importlib.import_module(module), name)
    return function


def _same(answer: Any) -> Any:
    return answer
