"""Numbers written as text: many at once, with a point or, from some programs, with a comma before the decimals."""

import re
from array import array
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from pourwell.geometry.mesh import Floats

if TYPE_CHECKING:  # an array knows what it holds only to the type checker, before Python 3.12
    Doubles = array[float]
    Counts = array[int]
else:
    Doubles = Counts = array

BOM: Final = b"\xef\xbb\xbf"
"""Three bytes that some programs put before a text."""

CHUNK_BYTES: Final = 1 << 22
LONGEST: Final = 64
"""Letters in a number at most: double precision takes 24."""

SPACE: Final = re.compile(rb"\s")
LARGEST_SINGLE: Final = 3e38
COMMAS: Final = "Its numbers are written with a comma before the decimals, and were read so."


def single_step(points: Floats) -> float:
    """By how much numbers of single precision step at the farthest of some corners, (n, 3), in their own unit.

    Source: IEEE 754, binary32: 24 bits of significand.
    """
    farthest = np.abs(points).max() if len(points) else 0.0
    return float(np.spacing(np.float32(farthest))) if 0 < farthest < LARGEST_SINGLE else 0.0


class Numbers:
    """A reader of numbers that learns from the file whether the comma stands for the point; both in one file make no sense."""

    def __init__(self) -> None:
        self.points = self.commas = False

    def read(self, words: Sequence[bytes]) -> Floats:
        """The numbers, (n,) float array. Raises ValueError where a word is none."""
        try:
            if not self.commas:
                numbers = np.fromiter(map(float, words), np.float64, len(words))
                self.points = self.points or any(b"." in word for word in words)
                return numbers
        except ValueError:
            if self.points or not any(b"," in word for word in words):
                wrong = next((word for word in words if not _is_number(word)), b"")
                raise ValueError(f'"{wrong[:LONGEST].decode("utf-8", "replace")}" is no number') from None
        self.commas = True
        if any(b"." in word or word.count(b",") > 1 for word in words):
            raise ValueError("numbers with a comma and numbers with a point stand side by side")
        return np.fromiter((float(word.replace(b",", b".")) for word in words), np.float64, len(words))

    @property
    def remarks(self) -> tuple[str, ...]:
        """What is odd about the numbers."""
        return (COMMAS,) if self.commas else ()


def _is_number(word: bytes) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True


def all_numbers(data: bytes, numbers: Numbers) -> Floats:
    """All words of a text as numbers, (n,) float array; a piece at a time, so that the words never lie in memory all at once.

    Raises ValueError where a word is no number.
    """
    pieces = [numbers.read(piece.split()) for piece in _pieces(data)]
    return np.concatenate(pieces) if pieces else np.zeros(0)


def _pieces(data: bytes) -> Iterator[bytes]:
    at = 0
    while at < len(data):
        gap = SPACE.search(data, min(at + CHUNK_BYTES, len(data)))
        end = gap.end() if gap else len(data)
        yield data[at:end]
        at = end
