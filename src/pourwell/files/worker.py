"""Pattern files read in a process of their own, so that whatever is in them can end that process and no more.

The reader gets a limit of memory, where the system has one to give, and of time, everywhere. What it found comes back as bare
numbers over a pipe, never as something that could be run. A file of fixed rows (a binary STL or PLY that is as long as it says)
is read where we are, up to 20 MB: reading it is one copy of its bytes, which can do no harm, and takes 3 ms for a ring of 20,000
triangles, where a process of its own takes 0.2 s to begin. Everything else can nest, multiply, compress or lie.
"""

import contextlib
import json
import os
import signal
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from math import ceil
from pathlib import Path
from typing import IO, Any, Final

import numpy as np
from numpy.typing import NDArray

import pourwell
from pourwell.errors import BadFileError
from pourwell.files.pattern_limits import LIMIT_COUNT
from pourwell.files.patterns import NamedMesh, PatternFile, read_pattern, simple
from pourwell.geometry.mesh import Mesh

try:
    import resource
except ImportError:  # Windows
    resource = None  # type: ignore[assignment]

LIMIT_S: Final = 120.0
"""Processor time that reading may take [s]: longer than a text file of five million triangles takes."""

PATIENCE: Final = 10
"""By the clock it may take so many times that: other work on the machine is not the file's fault. Where the system counts no
processor time (Windows), the clock alone decides."""

LIMIT_BYTES: Final = 2_000_000_000
"""Memory that reading may take."""

SPENT: Final = int(getattr(signal, "SIGXCPU", 0))
"""What ends a process whose processor time is spent."""

LENGTH: Final = struct.Struct("<Q")
SMALL_INDEX: Final = 2**31
COARSER: Final = "Export it coarser, or as binary STL: a tolerance of 0.01 mm is finer than any printer."
AGAIN: Final = "Export it again, or save it as binary STL."
QUIET: Final = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MALLOC_ARENA_MAX": "2"}
"""A process that only reads needs no threads for sums, and each would lay claim to memory."""


def read_safely(
    path: Path,
    *,
    units: str | None = None,
    limit_count: int = LIMIT_COUNT,
    limit_s: float = LIMIT_S,
    limit_bytes: int = LIMIT_BYTES,
) -> PatternFile:
    """Read a pattern file as `read_pattern` does, in a process of its own unless the file is a simple one.

    Parameters
    ----------
    units : "mm", "cm", "m", "um", "inch" or "foot" if the user says so
    limit_count : triangles at most
    limit_s : [s] processor time for reading at most; by the clock `PATIENCE` times that
    limit_bytes : memory for reading at most, on top of what an idle reader takes; not held on Windows, which has no such limit

    Raises
    ------
    BadFileError for all that `read_pattern` refuses, and where reading takes too long or too much memory, or breaks down.
    """
    if simple(path):
        return read_pattern(path, units=units, limit_count=limit_count)
    asked = {"path": str(path), "units": units, "limit_count": limit_count, "limit_bytes": limit_bytes, "limit_s": limit_s}
    late = threading.Event()
    command = [sys.executable, "-P", "-m", "pourwell.files.worker"]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=_environment(os.environ)
    ) as child:

        def stop() -> None:
            late.set()
            child.kill()

        watch = threading.Timer(limit_s * (PATIENCE if resource else 1), stop)
        watch.daemon = True
        watch.start()
        try:
            answer = _talk(child, asked)
        finally:
            watch.cancel()
            child.kill()
    if late.is_set() or (SPENT and child.returncode == -SPENT):
        why = f"Reading it took longer than {limit_s:,g} seconds{' of computing' if resource else ''}."
        raise BadFileError(f"{path.name} takes too long to read.", why=why, try_this=COARSER)
    if isinstance(answer, BadFileError):
        raise answer
    if answer is None:
        raise BadFileError(f"{path.name} cannot be read.", why="Its reader broke down over what is in it.", try_this=AGAIN)
    return answer


def _environment(ours: Mapping[str, str]) -> dict[str, str]:
    """What the process finds about itself: as we do, this package among it, and no threads."""
    root = str(Path(pourwell.__file__).parents[1])
    return {**ours, **QUIET, "PYTHONPATH": os.pathsep.join(filter(None, (root, ours.get("PYTHONPATH", ""))))}


def _talk(child: subprocess.Popen[bytes], asked: Mapping[str, object]) -> PatternFile | BadFileError | None:
    """Ask, and take the answer: the file, or why not; None where the process ended without one."""
    if child.stdin is None or child.stdout is None:
        return None
    try:
        with child.stdin as pipe:
            pipe.write(json.dumps(asked).encode())
        return _received(child.stdout, Path(str(asked["path"])))
    except (OSError, EOFError):
        return None


def _received(pipe: IO[bytes], path: Path) -> PatternFile | BadFileError | None:
    (length,) = LENGTH.unpack(_exactly(pipe, LENGTH.size))
    said = json.loads(_exactly(pipe, length))
    if "refused" in said:
        what, why, try_this = said["refused"]
        return BadFileError(what, why=why, try_this=try_this)
    if "memory" in said:
        return BadFileError(
            f"{path.name} takes too much memory to read.",
            why=f"It would take more than {said['memory'] / 1e9:.1f} GB.",
            try_this=COARSER,
        )
    if "broke" in said:
        why = f"Its reader broke down over what is in it ({said['broke']})."
        return BadFileError(f"{path.name} cannot be read.", why=why, try_this=AGAIN)
    bodies = []
    for name, corners, triangles, kind in said.pop("bodies"):
        points = _array(pipe, np.dtype("<f8"), corners)
        bodies.append(NamedMesh(name, Mesh(points, _array(pipe, np.dtype(kind), triangles))))
    return PatternFile(**{**said, "bodies": tuple(bodies), "remarks": tuple(said["remarks"])})


def _array(pipe: IO[bytes], kind: np.dtype[Any], rows: int) -> NDArray[Any]:
    """An (n, 3) array off the pipe, filled as it comes."""
    array = np.empty((rows, 3), dtype=kind)
    view, at = array.data.cast("B") if rows else memoryview(b""), 0
    while at < len(view):
        got = pipe.readinto(view[at:])  # type: ignore[attr-defined]  # a pipe that is read buffered has it
        if not got:
            raise EOFError
        at += got
    return array


def _exactly(pipe: IO[bytes], length: int) -> bytes:
    data = pipe.read(length)
    if len(data) < length:
        raise EOFError
    return data


def _answer(asked: Mapping[str, Any]) -> tuple[dict[str, object], list[NDArray[Any]]]:
    """What the process says: the head of its answer, and the arrays that follow."""
    try:
        file = read_pattern(Path(asked["path"]), units=asked["units"], limit_count=asked["limit_count"])
    except BadFileError as err:
        return {"refused": (err.what, err.why, err.try_this)}, []
    except MemoryError:
        return {"memory": asked["limit_bytes"]}, []
    except Exception as err:  # whatever a hostile file makes of a reader is told as what it is: a file that cannot be read
        return {"broke": type(err).__name__}, []
    arrays, bodies = [], []
    for name, mesh in file.bodies:
        kind = "<i4" if len(mesh.vertices) < SMALL_INDEX else "<i8"
        bodies.append((name, len(mesh.vertices), len(mesh.faces), kind))
        arrays += [mesh.vertices.astype("<f8", copy=False), mesh.faces.astype(kind, copy=False)]
    said = {
        key: getattr(file, key)
        for key in ("name", "kind", "units", "units_from", "own_units", "triangle_count", "remarks", "step_mm")
    }
    return {**said, "bodies": bodies}, arrays


def _hold(limit_bytes: int, limit_s: float) -> None:
    """Let this process take no more memory and processor time than it has now and so much more, where the system can."""
    if resource is None:
        return
    most_s = resource.getrlimit(resource.RLIMIT_CPU)[1]
    with contextlib.suppress(ValueError, OSError):  # a limit of the system's own is lower: that one holds
        resource.setrlimit(resource.RLIMIT_CPU, (ceil(time.process_time() + limit_s), most_s))
    taken = 0
    statm = Path("/proc/self/statm")
    if statm.is_file():
        taken = int(statm.read_text(encoding="ascii").split()[0]) * resource.getpagesize()
    try:
        resource.setrlimit(resource.RLIMIT_AS, (taken + limit_bytes, taken + limit_bytes))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    except (ValueError, OSError):  # a limit of the system's own is lower: that one holds
        return


def main() -> None:
    """Read what is asked on the input, and answer on the output."""
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what an engine prints goes nowhere
    asked = json.loads(sys.stdin.buffer.read())
    _hold(asked["limit_bytes"], asked["limit_s"])
    said, arrays = _answer(asked)
    head = json.dumps(said).encode()
    with out:
        out.write(LENGTH.pack(len(head)) + head)
        for array in arrays:
            out.write(np.ascontiguousarray(array).data)


if __name__ == "__main__":
    main()
