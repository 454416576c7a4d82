"""PLY files, text and binary: a header that names elements and their properties, then the elements in order; no units."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadFileError
from pourwell.files.pattern_obj import triangles
from pourwell.geometry.mesh import Floats, Ints, Mesh

TYPES: Final = {
    "char": "i1",
    "int8": "i1",
    "uchar": "u1",
    "uint8": "u1",
    "short": "i2",
    "int16": "i2",
    "ushort": "u2",
    "uint16": "u2",
    "int": "i4",
    "int32": "i4",
    "uint": "u4",
    "uint32": "u4",
    "float": "f4",
    "float32": "f4",
    "double": "f8",
    "float64": "f8",
}
FORMATS: Final = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
HEADER_LIMIT_BYTES: Final = 65_536
INDEX_NAMES: Final = ("vertex_indices", "vertex_index")
TRY: Final = "Export it again, or save it as STL."


@dataclass(frozen=True, slots=True, kw_only=True)
class Property:
    """One property of an element; `count_type` is empty for a single number, else it is a list."""

    name: str
    kind: str
    count_type: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One kind of element and how many of it."""

    name: str
    count: int
    properties: tuple[Property, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What the head of a file says."""

    order: str
    """Byte order, or empty for text."""
    elements: tuple[Element, ...]
    length: int
    """Bytes of the header."""

    def count(self, name: str) -> int:
        """How many elements of this name."""
        return sum(element.count for element in self.elements if element.name == name)


def read_header(head: bytes, name: str) -> Header:
    """The header in the first bytes of a file. Raises BadFileError if it makes no sense."""
    end = head.find(b"end_header")
    stop = head.find(b"\n", end)
    if end < 0 or stop < 0:
        raise BadFileError(f"{name} is cut short.", why="It begins as a PLY file, but its header has no end.", try_this=TRY)
    order: str | None = None
    elements: list[Element] = []
    for line in head[:end].decode("ascii", "replace").splitlines()[1:]:
        try:
            order = _head_line(line.split(), elements) or order
        except (ValueError, KeyError, IndexError, TypeError) as err:
            why = f'It says "{line[:60]}".'
            raise BadFileError(f"{name} has a PLY header that makes no sense.", why=why, try_this=TRY) from err
    if order is None:
        raise BadFileError(f"{name} has a PLY header that makes no sense.", why="It does not say its format.", try_this=TRY)
    return Header(order=FORMATS[order], elements=tuple(elements), length=stop + 1)


def _head_line(words: list[str], elements: list[Element]) -> str | None:
    """Take in a line of the header; the format if it says that. Raises ValueError, KeyError or IndexError at nonsense."""
    match words:
        case ["format", form, _] if form in FORMATS:
            return form
        case ["element", element, count] if int(count) >= 0:
            elements.append(Element(name=element, count=int(count), properties=()))
        case ["property", "list", count_type, kind, prop]:
            elements[-1] = _with(elements[-1], Property(name=prop, kind=TYPES[kind], count_type=TYPES[count_type]))
        case ["property", kind, prop]:
            elements[-1] = _with(elements[-1], Property(name=prop, kind=TYPES[kind]))
        case [] | ["comment" | "obj_info", *_]:
            pass
        case _:
            raise ValueError("no line of a PLY header")
    return None


def _with(element: Element, prop: Property) -> Element:
    return Element(name=element.name, count=element.count, properties=(*element.properties, prop))


def read_ply(path: Path) -> list[tuple[str, Mesh]]:
    """The one body of a file."""
    data = path.read_bytes()
    header = read_header(data[:HEADER_LIMIT_BYTES], path.name)
    try:
        corners, faces = _tables(data, header)
    except (IndexError, ValueError, KeyError, StopIteration) as err:
        raise BadFileError(
            f"{path.name} is cut short or damaged.",
            why=f"Its header promises {header.count('vertex'):,} corners and {header.count('face'):,} faces: not all are there.",
            try_this=TRY,
        ) from err
    if isinstance(faces, list) and any(len(face) < 3 for face in faces):
        raise BadFileError(f"{path.name} is damaged.", why="A face has fewer than three corners.", try_this=TRY)
    flat = np.concatenate([np.asarray(face, dtype=np.int64) for face in faces]) if len(faces) else np.zeros(0, dtype=np.int64)
    if len(flat) and not 0 <= flat.min() <= flat.max() < len(corners):
        raise BadFileError(f"{path.name} is damaged.", why="A face names a corner that is not there.", try_this=TRY)
    return [("", Mesh(corners, faces if isinstance(faces, np.ndarray) else triangles(corners, faces)))]


Faces = list[list[int]] | Ints
"""Corners of each face by number; an array where all have three."""


def _tables(data: bytes, header: Header) -> tuple[Floats, Faces]:
    """The corners and the faces. Raises ValueError, IndexError or KeyError where they are not all there."""
    corners: Floats = np.zeros((0, 3))
    faces: Faces = []
    reader = _Text(data[header.length :]) if not header.order else _Binary(data, header)
    for element in header.elements:
        numbers, lists = reader.take(element)
        if element.name == "vertex":
            corners = np.stack([numbers[axis] for axis in "xyz"], axis=1)
        elif element.name == "face":
            faces = next(lists[name] for name in INDEX_NAMES if name in lists)
    return corners, faces


Columns = tuple[dict[str, Floats], dict[str, Faces]]
"""Of an element without lists its numbers, else its lists, by name."""


class _Text:
    """Elements written as words."""

    def __init__(self, data: bytes) -> None:
        self._words = data.split()
        self._at = 0

    def take(self, element: Element) -> Columns:
        """The next element's columns by name."""
        if not any(prop.count_type for prop in element.properties):
            width = len(element.properties)
            words = self._words[self._at : self._at + width * element.count]
            if len(words) < width * element.count:
                raise ValueError("too few words")
            self._at += len(words)
            rows = np.array(words, dtype=bytes).astype(np.float64).reshape(-1, width) if words else np.zeros((0, width))
            return {prop.name: rows[:, k] for k, prop in enumerate(element.properties)}, {}
        lists: dict[str, list[list[int]]] = {prop.name: [] for prop in element.properties if prop.count_type}
        for _ in range(element.count):
            for prop in element.properties:
                size = int(self._words[self._at]) if prop.count_type else 0
                row = self._words[self._at + 1 : self._at + 1 + size]
                if prop.count_type and len(row) < size:
                    raise ValueError("too few words")
                if prop.count_type:
                    lists[prop.name].append([int(float(word)) for word in row] if prop.name in INDEX_NAMES else [])
                self._at += 1 + size
        return {}, dict(lists)


class _Binary:
    """Elements written as bytes."""

    def __init__(self, data: bytes, header: Header) -> None:
        self._data, self._order, self._at = data, header.order, header.length

    def take(self, element: Element) -> Columns:
        """The next element's columns by name."""
        if not any(prop.count_type for prop in element.properties):
            rows = self._rows(np.dtype([(prop.name, self._order + prop.kind) for prop in element.properties]), element.count)
            return {prop.name: rows[prop.name].astype(np.float64) for prop in element.properties}, {}
        return self._threes(element) or self._one_by_one(element)

    def _rows(self, row: np.dtype[Any], count: int) -> NDArray[Any]:
        rows = np.frombuffer(self._data, dtype=row, count=count, offset=self._at)
        self._at += row.itemsize * count
        return rows

    def _threes(self, element: Element) -> Columns | None:
        """All lists taken as threes at once; None, with nothing taken, if one is not."""
        fields = []
        for prop in element.properties:
            if prop.count_type:
                fields += [(f"{prop.name} count", self._order + prop.count_type), (prop.name, self._order + prop.kind, 3)]
            else:
                fields.append((prop.name, self._order + prop.kind))
        row, start = np.dtype(fields), self._at
        if start + row.itemsize * element.count > len(self._data):
            return None
        rows = self._rows(row, element.count)
        if all((rows[f"{prop.name} count"] == 3).all() for prop in element.properties if prop.count_type):
            return {}, {prop.name: rows[prop.name].astype(np.int64) for prop in element.properties if prop.count_type}
        self._at = start
        return None

    def _one_by_one(self, element: Element) -> Columns:
        lists: dict[str, list[list[int]]] = {prop.name: [] for prop in element.properties if prop.count_type}
        for _ in range(element.count):
            for prop in element.properties:
                size = int(self._rows(np.dtype(self._order + prop.count_type), 1)[0]) if prop.count_type else 1
                row = self._rows(np.dtype(self._order + prop.kind), size)
                if prop.count_type:
                    lists[prop.name].append(row.astype(np.int64).tolist())
        return {}, dict(lists)
