"""What the fuzzing of the pattern readers shares: how many cases, where the files lie, and what a reader is held to."""

import sys
import time
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import settings

from pourwell.errors import BadFileError
from pourwell.files.patterns import read_pattern, simple

LONG = 1000
"""A profile of more examples than this is the long one."""
CASES = settings(max_examples=10_000 if settings().max_examples > LONG else 300)
LIMIT = 20_000
SECONDS = 5.0
BYTES = 2_000_000_000
EDGES = (0, 1, 2, 3, 4, 127, 128, 255, 256, 32767, 65535, 65536, 2**31 - 1, 2**31, 2**32 - 1)


@cache
def folder() -> Path:
    """One folder for all files of this process."""
    import tempfile

    return Path(tempfile.mkdtemp(prefix="fuzz"))


def held(content: bytes, ending: str) -> None:
    """Hold a reader to its word: read or refused in a sentence, within the time."""
    path = folder() / f"piece{ending}"
    path.write_bytes(content)
    start = time.process_time()
    try:
        simple(path)
        file = read_pattern(path, limit_count=LIMIT)
    except BadFileError as error:
        if not (error.what and error.why and error.try_this):
            raise
    else:
        assert 0 < file.triangle_count <= LIMIT
        assert all(np.isfinite(body.mesh.vertices[body.mesh.faces]).all() for body in file.bodies)
        assert all(body.name.isprintable() for body in file.bodies)
    assert time.process_time() - start < SECONDS


def most_memory() -> int:
    """The most memory that this process ever had [bytes]."""
    resource = pytest.importorskip("resource", reason="this system does not say")
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
