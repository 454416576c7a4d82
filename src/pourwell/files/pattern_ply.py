"""PLY files, text and binary: a header that names elements and their properties, then the elements in order; no units."""

import struct
from array import array
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadFileError
from pourwell.files.pattern_limits import TRY
from pourwell.files.pattern_numbers import BOM, Numbers, all_numbers
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
STRUCT_CODES: Final = {"i1": "b", "u1": "B", "i2": "h", "u2": "H", "i4": "i", "u4": "I", "f4": "f", "f8": "d"}
"""The same types in the words of the struct module."""

LARGEST: Final = 2**53
"""Whole numbers up to here are exact in double precision."""

FORMATS: Final = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
HEADER_LIMIT_BYTES: Final = 65_536
LINE_ENDS: Final = (b"\r\n", b"\n", b"\r")
INDEX_NAMES: Final = ("vertex_indices", "vertex_index")
GATHERED_BYTES: Final = 1 << 22
"""Bytes of lists that are gathered at once."""


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
    after = head.partition(b"ply")[2].lstrip(b" ")
    line_end = next((end for end in LINE_ENDS if after.startswith(end)), b"\n")
    end = head.find(b"end_header")
    stop = head.find(line_end, end)
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
    return Header(order=FORMATS[order], elements=tuple(elements), length=stop + len(line_end))


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lists:
    """A property that is a list: how long each is, (n,) int, and what stands in them one after another, int."""

    sizes: Ints
    corners: Ints


Columns = tuple[dict[str, Floats], dict[str, Lists]]
"""The single numbers of an element, by name, where no list in it differs in length from three; and its lists."""


def fills(header: Header, size: int) -> bool:
    """Is a file of this size just filled by its header and its elements, every list taken to hold three.

    Then nothing in it can be longer than it says, and it is read in one go.
    """
    try:
        rows = [(element.count, _row(element, "<").itemsize) for element in header.elements] if header.order else []
    except ValueError:
        return False
    return bool(rows) and size == header.length + sum(count * length for count, length in rows)


def is_single(header: Header) -> bool:
    """Are a file's corners of single precision."""
    kinds = {p.kind for element in header.elements if element.name == "vertex" for p in element.properties if p.name in "xyz"}
    return "f4" in kinds


def read_ply(path: Path) -> tuple[list[tuple[str, Mesh]], tuple[str, ...]]:
    """The one body of a file, and what is odd about it. Raises BadFileError."""
    data = path.read_bytes().removeprefix(BOM)
    header = read_header(data[:HEADER_LIMIT_BYTES], path.name)
    try:
        corners, faces, remarks = _tables(data, header)
    except (IndexError, ValueError, KeyError, OverflowError, struct.error) as err:
        raise BadFileError(
            f"{path.name} is cut short or damaged.",
            why=f"Its header promises {header.count('vertex'):,} corners and {header.count('face'):,} faces: not all are there.",
            try_this=TRY,
        ) from err
    flat = faces.corners
    if len(faces.sizes) and faces.sizes.min() < 3:
        raise BadFileError(f"{path.name} is damaged.", why="A face has fewer than three corners.", try_this=TRY)
    if len(flat) and not 0 <= flat.min() <= flat.max() < len(corners):
        raise BadFileError(f"{path.name} is damaged.", why="A face names a corner that is not there.", try_this=TRY)
    return [("", Mesh(corners, triangles(corners, faces.sizes, flat)))], remarks


def _tables(data: bytes, header: Header) -> tuple[Floats, Lists, tuple[str, ...]]:
    """The corners, the faces, and what is odd. Raises ValueError, IndexError or KeyError where they are not all there."""
    corners: Floats = np.zeros((0, 3))
    faces = Lists(sizes=np.zeros(0, dtype=np.int64), corners=np.zeros(0, dtype=np.int64))
    reader = _Binary(data, header) if header.order else _Text(data[header.length :])
    for element in header.elements:
        columns, lists = reader.take(element) if element.properties else ({}, {})
        if element.name == "vertex":
            corners = np.stack([columns[axis] for axis in "xyz"], axis=1)
        elif element.name == "face" and element.count:
            faces = lists[next((name for name in INDEX_NAMES if name in lists), INDEX_NAMES[0])]
    return corners, faces, reader.remarks


def _row(element: Element, order: str) -> np.dtype[Any]:
    """One of an element whose lists hold three each. Raises ValueError where two properties have one name."""
    fields: list[tuple[str, str] | tuple[str, str, int]] = []
    for prop in element.properties:
        if prop.count_type:
            fields += [(f"{prop.name} count", order + prop.count_type), (prop.name, order + prop.kind, 3)]
        else:
            fields.append((prop.name, order + prop.kind))
    return np.dtype(fields)


def _counts(numbers: NDArray[Any]) -> Ints:
    """Numbers as whole numbers. Raises ValueError where one is not near any."""
    if numbers.dtype.kind == "f" and not (np.abs(numbers) <= LARGEST).all():
        raise ValueError("a corner is named by no number")
    return numbers.astype(np.int64)


def _threes(numbers: NDArray[Any]) -> Lists:
    """(n, 3) numbers as lists of three."""
    return Lists(sizes=np.full(len(numbers), 3, dtype=np.int64), corners=_counts(numbers).reshape(-1))


Spans = dict[str, tuple[Ints, Ints]]
"""By the name of a list property where each list starts, and how long it is."""


def _spans(
    element: Element, at: int, *, size_at: Callable[[Property, int], int], length: Callable[[str], int]
) -> tuple[Spans, int]:
    """Where the lists of an element lie whose first row starts at a place; and where the element ends."""
    found = {prop.name: (array("q"), array("q")) for prop in element.properties if prop.count_type and prop.name in INDEX_NAMES}
    steps = [(p, length(p.count_type) if p.count_type else 0, length(p.kind), found.get(p.name)) for p in element.properties]
    for _ in range(element.count):
        for prop, ahead, each, lists in steps:
            size = size_at(prop, at) if ahead else 1
            if size < 0:
                raise ValueError("a list of fewer than no numbers")
            if lists:
                lists[0].append(at + ahead)
                lists[1].append(size)
            at += ahead + size * each
    return {name: (np.array(starts, np.int64), np.array(sizes, np.int64)) for name, (starts, sizes) in found.items()}, at


def _gathered(starts: Ints, sizes: Ints, *, read: Callable[[Ints, int], NDArray[Any]], widest: int) -> Lists:
    """The lists at these places; `read` gives (k, size) numbers for (k,) places."""
    firsts = np.cumsum(sizes) - sizes
    corners = np.zeros(int(sizes.sum()), dtype=np.int64)
    for size in np.unique(sizes).tolist():
        rows = np.flatnonzero(sizes == size)
        for some in np.array_split(rows, 1 + len(rows) * max(size, 1) * widest // GATHERED_BYTES):
            corners[firsts[some][:, None] + np.arange(size)] = _counts(read(starts[some], size))
    return Lists(sizes=sizes, corners=corners)


class _Text:
    """Elements written as words."""

    def __init__(self, data: bytes) -> None:
        numbers = Numbers()
        self._all, self._at = all_numbers(data, numbers), 0
        self.remarks = numbers.remarks

    def take(self, element: Element) -> Columns:
        """The next element's columns by name."""
        places = np.cumsum([0, *(4 if prop.count_type else 1 for prop in element.properties)]).tolist()
        block = self._all[self._at : self._at + places[-1] * element.count]
        props = list(zip(element.properties, places, strict=False))
        if len(block) == places[-1] * element.count:
            rows = block.reshape(-1, places[-1])
            if all((rows[:, at] == 3).all() for prop, at in props if prop.count_type):
                self._at += len(block)
                lists = {prop.name: _threes(rows[:, at + 1 : at + 4]) for prop, at in props if prop.name in INDEX_NAMES}
                return {prop.name: rows[:, at] for prop, at in props if not prop.count_type}, lists
        if not any(prop.count_type for prop in element.properties):
            raise ValueError("too few words")
        numbers = self._all
        spans, end = _spans(element, self._at, size_at=lambda _, at: int(numbers[at]), length=lambda _: 1)
        if end > len(numbers):
            raise ValueError("too few words")
        self._at = end
        return {}, {
            name: _gathered(*span, read=lambda places, size: numbers[places[:, None] + np.arange(size)], widest=8)
            for name, span in spans.items()
        }


class _Binary:
    """Elements written as bytes."""

    def __init__(self, data: bytes, header: Header) -> None:
        self._data, self._order, self._at = data, header.order, header.length
        self._bytes = np.frombuffer(data, dtype=np.uint8)
        self.remarks: tuple[str, ...] = ()

    def take(self, element: Element) -> Columns:
        """The next element's columns by name."""
        row = _row(element, self._order)
        lists = [prop for prop in element.properties if prop.count_type]
        if self._at + row.itemsize * element.count <= len(self._data):
            rows = np.frombuffer(self._data, dtype=row, count=element.count, offset=self._at)
            if all((rows[f"{prop.name} count"] == 3).all() for prop in lists):
                self._at += row.itemsize * element.count
                columns = {p.name: rows[p.name].astype(np.float64) for p in element.properties if not p.count_type}
                return columns, {prop.name: _threes(rows[prop.name]) for prop in lists if prop.name in INDEX_NAMES}
        if not lists:
            raise ValueError("too few bytes")
        return {}, self._one_by_one(element)

    def _one_by_one(self, element: Element) -> dict[str, Lists]:
        """Lists of any length."""
        counts = {
            prop.name: struct.Struct(self._order + STRUCT_CODES[prop.count_type]) for prop in element.properties if prop.count_type
        }
        spans, end = _spans(
            element,
            self._at,
            size_at=lambda prop, at: int(counts[prop.name].unpack_from(self._data, at)[0]),
            length=lambda kind: int(kind[1]),
        )
        if end > len(self._data):
            raise ValueError("too few bytes")
        self._at = end
        read = [prop for prop in element.properties if prop.name in INDEX_NAMES and prop.count_type]
        kinds = {prop.name: np.dtype(self._order + prop.kind) for prop in read}
        return {name: _gathered(*spans[name], read=self._reader(kind), widest=8 * kind.itemsize) for name, kind in kinds.items()}

    def _reader(self, kind: np.dtype[Any]) -> Callable[[Ints, int], NDArray[Any]]:
        def read(places: Ints, size: int) -> NDArray[Any]:
            found = self._bytes[places[:, None] + np.arange(size * kind.itemsize)]
            return np.ascontiguousarray(found).reshape(-1).view(kind).reshape(-1, size)

        return read
