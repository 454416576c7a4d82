"""Things to have done in another process."""

import os
import time
from pathlib import Path

from pourwell.errors import BadFileError


def double(value, *, tell):
    """Twice as much."""
    tell("Doubling")
    return 2 * value


def count(most, *, tell):
    """Say each number."""
    said = [f"{k} of {most}" for k in range(1, most + 1)]
    for words in said:
        tell(words)
        time.sleep(0.05)
    return said


def refuse(file, *, tell):
    """Refuse a file."""
    raise BadFileError(f"{file} is empty.", why="It has no bytes.", try_this="Export it again.")


def break_down(*, tell):
    """Have a fault."""
    return 1 / 0


def die(*, tell):
    """End the process as a full memory would."""
    os._exit(9)


def wait_long(mark, *, tell):
    """Take far too long."""
    Path(mark).touch()
    time.sleep(600)


def whoami(*, tell):
    """Which process this is."""
    return os.getpid()
