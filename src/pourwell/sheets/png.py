"""Pixels as a PNG file, quickly: every row as the differences of neighbours, which shades make small, packed without a long search.

Source: the PNG specification, W3C, third edition: signature, chunks, filter 1 (Sub).
"""

import struct
import zlib
from typing import Final

import numpy as np
from numpy.typing import NDArray

SIGNATURE: Final = b"\x89PNG\r\n\x1a\n"
TRUE_COLOUR: Final = 2
SUB: Final = 1
"""Each byte less that of the pixel to its left."""

CHANNELS: Final = 3
PACK: Final = 1
"""A longer search takes more time than it saves room."""


def png(rgb: NDArray[np.uint8], *, px_per_m: float | None = None) -> bytes:
    """A picture as a file.

    Parameters
    ----------
    rgb : (h, w, 3) uint8 array
    px_per_m : pixels to a metre of what is shown, if that is to be said
    """
    rows, columns = rgb.shape[:2]
    flat = rgb.reshape(rows, CHANNELS * columns)
    lines = np.empty((rows, 1 + CHANNELS * columns), dtype=np.uint8)
    lines[:, 0] = SUB
    lines[:, 1 : 1 + CHANNELS] = flat[:, :CHANNELS]
    np.subtract(flat[:, CHANNELS:], flat[:, :-CHANNELS], out=lines[:, 1 + CHANNELS :])
    head = struct.pack(">IIBBBBB", columns, rows, 8, TRUE_COLOUR, 0, 0, 0)
    size = b"" if px_per_m is None else _chunk(b"pHYs", struct.pack(">IIB", round(px_per_m), round(px_per_m), 1))
    return SIGNATURE + _chunk(b"IHDR", head) + size + _chunk(b"IDAT", zlib.compress(lines.data, PACK)) + _chunk(b"IEND", b"")


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
