"""STL files, binary and text: triangles with three corners each, no units; a text file may hold several named solids."""

import re
from pathlib import Path
from typing import Final

import numpy as np

from pourwell.errors import BadFileError
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


def read_text(path: Path) -> list[tuple[str, Mesh]]:
    """The named solids of a text file, in order."""
    data = path.read_bytes()
    starts = list(SOLID.finditer(data))
    ends = [match.start() for match in starts[1:]] + [len(data)]
    out: list[tuple[str, Mesh]] = []
    for match, end in zip(starts, ends, strict=True):
        block = data[match.end() : end]
        corners = VERTEX.findall(block)
        facets = len(FACET.findall(block))
        if not ENDSOLID.search(block) or facets != len(ENDFACET.findall(block)) or len(corners) != 3 * facets:
            raise BadFileError(
                f"{path.name} is cut short.",
                why=f"It is a text STL, and solid {len(out) + 1} of it breaks off after {len(corners) // 3:,} whole triangles.",
                try_this=CUT_SHORT,
            )
        try:
            points = np.array(corners, dtype=bytes).astype(np.float64) if corners else np.zeros((0, 3))
        except ValueError as err:
            raise BadFileError(
                f"{path.name} holds a corner that is not a number.", why=f"{err}.", try_this="Export it again."
            ) from err
        out.append((match.group(1).decode("utf-8", "replace").strip(), loose(points.reshape(-1, 3, 3))))
    return out
