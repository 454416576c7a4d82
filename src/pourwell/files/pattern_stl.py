"""STL files, binary and text: triangles with three corners each, no units; a text file may hold several named solids."""

import re
from itertools import chain, islice
from pathlib import Path
from typing import Final

import numpy as np

from pourwell.errors import BadFileError
from pourwell.files.pattern_limits import MOST_PARTS
from pourwell.files.pattern_numbers import BOM, CHUNK_BYTES, Numbers
from pourwell.files.pattern_parts import closed
from pourwell.geometry.mesh import Floats, Mesh

HEADER_BYTES: Final = 84
TRIANGLE_BYTES: Final = 50
"""80 bytes of anything, a count of four; then per triangle a normal, three corners and two bytes."""

TRIANGLE: Final = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])

SOLID: Final = re.compile(rb"^[ \t]*solid\b[ \t]*([^\r\n]*)", re.MULTILINE | re.IGNORECASE)
ENDSOLID: Final = re.compile(rb"^[ \t]*endsolid\b", re.MULTILINE | re.IGNORECASE)
FACET: Final = re.compile(rb"^[ \t]*facet\b", re.MULTILINE | re.IGNORECASE)
ENDFACET: Final = re.compile(rb"^[ \t]*endfacet\b", re.MULTILINE | re.IGNORECASE)
VERTEX: Final = re.compile(rb"^[ \t]*vertex[ \t]+(\S+)[ \t]+(\S+)[ \t]+(\S+)", re.MULTILINE | re.IGNORECASE)

TAIL_BYTES: Final = 4096
CUT_SHORT: Final = "Copy or export it again: it was probably cut off on the way."


def triangle_count(head: bytes) -> int:
    """How many triangles the header of a binary file promises."""
    return int.from_bytes(head[HEADER_BYTES - 4 : HEADER_BYTES], "little")


def is_binary(head: bytes, size: int) -> bool:
    """Do header and size agree on a binary file."""
    return len(head) >= HEADER_BYTES and size == HEADER_BYTES + TRIANGLE_BYTES * triangle_count(head)


def loose(corners: Floats) -> Mesh:
    """A mesh whose triangles share no corners yet, from (m, 3, 3) corners."""
    return Mesh(corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3))


def read_binary(path: Path, size: int) -> tuple[list[tuple[str, Mesh]], tuple[str, ...]]:
    """The one body of a binary file, and what is odd about the file."""
    with path.open("rb") as file:
        count = triangle_count(file.read(HEADER_BYTES))
        whole = max(0, size - HEADER_BYTES) // TRIANGLE_BYTES
        if count > whole:
            raise BadFileError(
                f"{path.name} is cut short, or is no STL file.",
                why=f"Its header promises {count:,} triangles, but there are bytes for {whole:,}.",
                try_this=CUT_SHORT,
            )
        rows = np.fromfile(file, dtype=TRIANGLE, count=count)
    spare = size - HEADER_BYTES - TRIANGLE_BYTES * count
    odd = (f"{spare:,} bytes after the last triangle were left unread.",) if spare else ()
    return [("", loose(rows["corners"].astype(np.float64)))], odd


def read_text(path: Path) -> tuple[list[tuple[str, Mesh]], tuple[str, ...]]:
    """The named solids of a text file, in order, and what is odd about the file. Raises BadFileError."""
    data = path.read_bytes().removeprefix(BOM)
    if b"\n" not in data:
        data = data.replace(b"\r", b"\n")
    starts = list(islice(SOLID.finditer(data), MOST_PARTS + 1))
    if len(starts) > MOST_PARTS:
        raise BadFileError(f"{path.name} cannot be read.", why=f"It holds over {MOST_PARTS:,} solids.", try_this="Export fewer.")
    numbers, out, open_ended = Numbers(), [], False
    for k, match in enumerate(starts):
        stop = starts[k + 1].start() if k + 1 < len(starts) else len(data)
        end = ENDSOLID.search(data, match.end(), stop)
        open_ended = open_ended or end is None
        try:
            corners = _corners(data, match.end(), end.start() if end else stop, numbers=numbers)
        except ValueError as err:
            raise BadFileError(
                f"{path.name} holds a corner that is not a number.", why=f"{err}.".capitalize(), try_this="Export it again."
            ) from err
        if corners is None or (end is None and not _is_whole(data[max(match.end(), stop - TAIL_BYTES) : stop], corners)):
            raise BadFileError(
                f"{path.name} is cut short.",
                why=f"It is a text STL, and solid {k + 1} of it breaks off, or has a triangle without its three corners.",
                try_this=CUT_SHORT,
            )
        out.append((match.group(1).decode("utf-8", "replace").strip(), loose(corners)))
    odd = ("A solid in it has no last line (endsolid); all its triangles are there, for it is closed.",) if open_ended else ()
    return out, (*odd, *numbers.remarks)


def _is_whole(tail: bytes, corners: Floats) -> bool:
    """Is a solid without a last line whole: its text ends with a triangle, and they enclose it."""
    return not tail.lower().rpartition(b"endfacet")[2].strip() and closed(loose(corners))


def _corners(data: bytes, start: int, stop: int, *, numbers: Numbers) -> Floats | None:
    """The corners of all triangles between two places, (m, 3, 3); None if one is not whole. A piece of the text at a time."""
    found, facets, ends = [], 0, 0
    while start < stop:
        last = ENDFACET.search(data, min(start + CHUNK_BYTES, stop), stop)
        end = last.end() if last else stop
        facets += len(FACET.findall(data, start, end))
        ends += len(ENDFACET.findall(data, start, end))
        found.append(numbers.read(list(chain.from_iterable(VERTEX.findall(data, start, end)))))
        start = end
    flat = np.concatenate(found) if found else np.zeros(0)
    return flat.reshape(-1, 3, 3) if facets == ends and len(flat) == 9 * facets else None
