"""A printed sheet read back: its words, the size of its letters, its fonts, and where its ink lies."""

import ctypes
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as raw

MM_PER_POINT = 25.4 / 72
WHITE_FROM = 250


@dataclass(frozen=True)
class Letter:
    """One character: its size [pt] and its box [mm] from the upper left of the page."""

    char: str
    size_pt: float
    left_mm: float
    top_mm: float
    right_mm: float
    bottom_mm: float


@contextmanager
def opened(pdf: bytes) -> Iterator[pdfium.PdfDocument]:
    """The document, closed in order."""
    document = pdfium.PdfDocument(pdf)
    try:
        yield document
    finally:
        document.close()


def page_texts(pdf: bytes) -> list[str]:
    """The words of every page in the order of its layout."""
    with opened(pdf) as document:
        return [_text(page) for page in document]


def _text(page: pdfium.PdfPage) -> str:
    words = page.get_textpage().get_text_range().replace("\r\n", "\n").replace("\ufffe", "")
    return "\n".join(line.rstrip() for line in words.splitlines())


def joined(pdf: bytes) -> str:
    """All words on one line, so that a sentence is found wherever it broke."""
    return re.sub(r"\s+", " ", " ".join(page_texts(pdf)))


def letters(pdf: bytes, page_number: int) -> list[Letter]:
    """Every printed character of a page."""
    with opened(pdf) as document:
        page = document[page_number - 1]
        height = page.get_height()
        text = page.get_textpage()
        out = []
        for i in range(text.count_chars()):
            char = chr(raw.FPDFText_GetUnicode(text, i))
            if char.isspace() or not char.isprintable():
                continue
            left, bottom, right, top = text.get_charbox(i)
            box = (left, height - top, right, height - bottom)
            out.append(Letter(char, raw.FPDFText_GetFontSize(text, i), *(v * MM_PER_POINT for v in box)))
        return out


def font_names(pdf: bytes) -> set[str]:
    """The fonts that set the text, without the mark of a subset."""
    out = set()
    with opened(pdf) as document:
        for page in document:
            for thing in page.get_objects(filter=(raw.FPDF_PAGEOBJ_TEXT,)):
                font = raw.FPDFTextObj_GetFont(thing)
                name = ctypes.create_string_buffer(200)
                raw.FPDFFont_GetBaseFontName(font, name, 200)
                out.add(name.value.decode().split("+")[-1])
    return out


def images(pdf: bytes, page_number: int) -> int:
    """How many rasters a page holds, also inside forms."""
    with opened(pdf) as document:
        return sum(1 for _ in document[page_number - 1].get_objects(filter=(raw.FPDF_PAGEOBJ_IMAGE,), max_depth=8))


def ink(pdf: bytes, dots_per_mm: float = 4.0) -> list[np.ndarray]:
    """Every page as grey values, row by row."""
    with opened(pdf) as document:
        return [page.render(scale=dots_per_mm * MM_PER_POINT, grayscale=True).to_numpy().squeeze().copy() for page in document]


def margins_mm(grey: np.ndarray, dots_per_mm: float = 4.0) -> tuple[float, float, float, float]:
    """White at the left, top, right and bottom edge of a rendered page."""
    rows, columns = np.flatnonzero((grey < WHITE_FROM).any(axis=1)), np.flatnonzero((grey < WHITE_FROM).any(axis=0))
    height, width = grey.shape
    edges = (columns[0], rows[0], width - 1 - columns[-1], height - 1 - rows[-1])
    left, top, right, bottom = (float(e) / dots_per_mm for e in edges)
    return left, top, right, bottom
