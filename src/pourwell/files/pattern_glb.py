"""The inside of a glTF 2.0 file, GLB or JSON: its chunks, buffers, and the arrays that lie in them; nothing in it is believed.

Source: Khronos Group, glTF 2.0 Specification (ISO/IEC 12113:2022), sections 3.6 (buffers, accessors) and 4 (GLB).
"""

import base64
import binascii
import json
import struct
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote

import numpy as np
from numpy.typing import NDArray

from pourwell.files.pattern_limits import LIMIT_FILE_BYTES, DamagedError
from pourwell.geometry.mesh import Floats

MAGIC: Final = b"glTF"
HEADER: Final = struct.Struct("<4sII")
CHUNK: Final = struct.Struct("<II")
JSON_CHUNK: Final = 0x4E4F534A
BINARY_CHUNK: Final = 0x004E4942
VERSION: Final = 2
BOM: Final = b"\xef\xbb\xbf"

COMPONENTS: Final = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
WIDTHS: Final = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT2": 4, "MAT3": 9, "MAT4": 16}
UNSIGNED: Final = (5121, 5123, 5125)

MOST_WORDS: Final = 2_000_000
"""Commas and brackets in the JSON at most: a hundred megabytes once read, and more parts than any drawing has."""

ONE_FILE: Final = "Export it again as GLB, which is one file."

Thing = dict[str, Any]


def thing_at(things: list[Any], index: object, what: str) -> Thing:
    """One of a list of JSON objects, by a number that the file gives. Raises DamagedError if it is not there."""
    if isinstance(index, bool) or not isinstance(index, int) or not 0 <= index < len(things):
        raise DamagedError(f"something names {what} {str(index)[:20]}, which is not there")
    thing = things[index]
    if not isinstance(thing, dict):
        raise DamagedError(f"{what} {index} makes no sense")
    return thing


def listed(thing: Thing, key: str) -> list[Any]:
    """A list under a key, empty if there is none."""
    value = thing.get(key, [])
    if not isinstance(value, list):
        raise DamagedError(f'"{key}" is no list')
    return value


def inner(thing: Thing, key: str) -> Thing:
    """An object under a key, empty if there is none."""
    value = thing.get(key, {})
    if not isinstance(value, dict):
        raise DamagedError(f'"{key}" makes no sense')
    return value


def name_of(thing: Thing) -> str:
    """The name of a thing; empty if it has none."""
    name = thing.get("name", "")
    return name.encode("utf-8", "replace").decode("utf-8").strip() if isinstance(name, str) else ""


def whole(thing: Thing, key: str, default: int | None = None) -> int:
    """A whole number, not negative, under a key."""
    value = thing.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise DamagedError(f'"{key}" is {str(value)[:20]}, which is no count')
    return value


def numbers(thing: Thing, key: str, default: tuple[float, ...]) -> Floats:
    """As many finite numbers under a key as the default has."""
    value = thing.get(key, default)
    if not isinstance(value, list | tuple) or len(value) != len(default) or not all(type(v) in (int, float) for v in value):
        raise DamagedError(f'"{key}" has not {len(default)} numbers')
    try:
        array = np.array([float(v) for v in value])
    except OverflowError as err:
        raise DamagedError(f'"{key}" holds a number without end') from err
    if not np.isfinite(array).all():
        raise DamagedError(f'"{key}" holds something that is no number')
    return array


class Document:
    """A glTF file taken apart: the JSON, and arrays out of its buffers.

    Raises DamagedError wherever a length, an offset, a count or a number leads out of what is there.
    """

    def __init__(self, data: bytes, folder: Path | None) -> None:
        text, self._binary = _chunks(memoryview(data))
        self.root = _json(text)
        self._folder = folder
        self._buffers: dict[int, NDArray[np.uint8]] = {}
        self._bytes = 0

    def array(self, index: object) -> tuple[NDArray[Any], bool]:
        """The numbers of an accessor as they are stored, (count, width); and do whole numbers stand for shares of one."""
        accessor = thing_at(listed(self.root, "accessors"), index, "accessor")
        kind, component = accessor.get("type"), accessor.get("componentType")
        if not isinstance(kind, str) or kind not in WIDTHS or type(component) is not int or component not in COMPONENTS:
            raise DamagedError(f"accessor {index} has a type that glTF does not know")
        dtype, shape = np.dtype(COMPONENTS[component]), (whole(accessor, "count"), WIDTHS[kind])
        if "bufferView" in accessor:
            array = self._rows(accessor, dtype, shape)
        elif shape[0] * shape[1] * dtype.itemsize > LIMIT_FILE_BYTES:
            raise DamagedError(f"accessor {index} promises {shape[0]:,} entries out of nothing")
        else:
            array = np.zeros(shape, dtype=dtype)
        if "sparse" in accessor:
            array = self._sparse(inner(accessor, "sparse"), array)
        return array, accessor.get("normalized") is True

    def _sparse(self, sparse: Thing, base: NDArray[Any]) -> NDArray[Any]:
        """The base with some rows put in place of its own."""
        count, places, values = whole(sparse, "count"), inner(sparse, "indices"), inner(sparse, "values")
        component = places.get("componentType")
        if type(component) is not int or component not in UNSIGNED:
            raise DamagedError("a sparse accessor has indices that are no counts")
        where = self._rows(places, np.dtype(COMPONENTS[component]), (count, 1))[:, 0]
        if count and where.max() >= len(base):
            raise DamagedError("a sparse accessor replaces an entry that is not there")
        out = base.copy()
        out[where] = self._rows(values, base.dtype, (count, base.shape[1]))
        return out

    def _rows(self, accessor: Thing, dtype: np.dtype[Any], shape: tuple[int, int]) -> NDArray[Any]:
        view = thing_at(listed(self.root, "bufferViews"), accessor.get("bufferView"), "buffer view")
        if "EXT_meshopt_compression" in inner(view, "extensions"):
            raise DamagedError("its triangles are packed (EXT_meshopt_compression)", try_this="Export it without compression.")
        buffer = self._buffer(view.get("buffer"))
        start, length = whole(view, "byteOffset", 0), whole(view, "byteLength")
        if start + length > len(buffer):
            raise DamagedError(f"a buffer view promises {start + length:,} bytes, but there are {len(buffer):,}")
        row = shape[1] * dtype.itemsize
        stride, first = whole(view, "byteStride", 0) or row, whole(accessor, "byteOffset", 0)
        if stride < row:
            raise DamagedError("a buffer view has rows that overlap")
        if shape[0] and first + (shape[0] - 1) * stride + row > length:
            raise DamagedError(f"an accessor promises {shape[0]:,} entries, but there are bytes for fewer")
        strides = (stride, dtype.itemsize)
        return np.ndarray(shape if shape[0] else (0, shape[1]), dtype, buffer, start + first if shape[0] else 0, strides)

    def _buffer(self, index: object) -> NDArray[np.uint8]:
        buffer = thing_at(listed(self.root, "buffers"), index, "buffer")
        number = int(str(index))
        if number not in self._buffers:
            length, uri = whole(buffer, "byteLength"), buffer.get("uri")
            self._bytes += length
            if self._bytes > LIMIT_FILE_BYTES:
                raise DamagedError(f"its buffers promise {self._bytes / 1e6:,.0f} MB, more than any pattern has")
            if uri is None:
                data = self._binary if number == 0 else None
            elif isinstance(uri, str):
                data = memoryview(_unpacked(uri) if uri.startswith("data:") else self._beside(uri, length))
            else:
                data = None
            if data is None:
                raise DamagedError(f"buffer {number} is nowhere", try_this=ONE_FILE)
            if len(data) < length:
                raise DamagedError(f"buffer {number} promises {length:,} bytes, but there are {len(data):,}", try_this=ONE_FILE)
            self._buffers[number] = np.frombuffer(data[:length], dtype=np.uint8)
        return self._buffers[number]

    def _beside(self, uri: str, length: int) -> bytes:
        """The bytes of a file beside this one; never of one that lies outside its folder."""
        name = unquote(uri)
        shown = "".join(c if c.isprintable() else "?" for c in name[:60])
        if self._folder is None or any(c in name for c in ":\\\0") or name.startswith("/") or ".." in name.split("/"):
            raise DamagedError(f'it asks for "{shown}", which lies outside its folder', try_this=ONE_FILE)
        try:
            path = (self._folder / name).resolve()
            if not path.is_relative_to(self._folder.resolve()):
                raise DamagedError(f'it asks for "{shown}", which lies outside its folder', try_this=ONE_FILE)
            if not path.is_file():
                raise DamagedError(f'it asks for "{shown}", which is not beside it', try_this=f"Copy it there, or: {ONE_FILE}")
            with path.open("rb") as file:
                return file.read(length)
        except (OSError, ValueError) as err:
            raise DamagedError(f'it asks for "{shown}", which cannot be opened', try_this=ONE_FILE) from err


def _chunks(data: memoryview) -> tuple[memoryview, memoryview | None]:
    """The JSON and the binary chunk of a GLB; a file that is JSON itself has no other."""
    if bytes(data[: len(MAGIC)]) != MAGIC:
        return data, None
    if len(data) < HEADER.size:
        raise DamagedError("its header is cut short")
    _, version, length = HEADER.unpack_from(data)
    if version != VERSION:
        raise DamagedError(f"it says that it is glTF {version}; only glTF {VERSION} is read")
    if length > len(data):
        raise DamagedError(f"its header promises {length:,} bytes, but there are {len(data):,}")
    found: dict[int, memoryview] = {}
    at = HEADER.size
    while at + CHUNK.size <= length:
        size, kind = CHUNK.unpack_from(data, at)
        at += CHUNK.size
        if size > length - at:
            raise DamagedError(f"a part promises {size:,} bytes, but there are {length - at:,}")
        found.setdefault(kind, data[at : at + size])
        at += size
    if JSON_CHUNK not in found:
        raise DamagedError("the part that says what is where is missing")
    return found[JSON_CHUNK], found.get(BINARY_CHUNK)


def _json(view: memoryview) -> Thing:
    text = bytes(view).removeprefix(BOM)
    if text.count(b",") + text.count(b"[") + text.count(b"{") > MOST_WORDS:
        raise DamagedError("it lists more parts than any drawing has")
    try:
        root = json.loads(text.decode("utf-8"))
    except (ValueError, RecursionError) as err:
        raise DamagedError(f"its JSON breaks off or makes no sense ({str(err)[:80]})") from err
    if not isinstance(root, dict):
        raise DamagedError("its JSON is no glTF")
    return root


def _unpacked(uri: str) -> bytes:
    """The bytes of a data URI."""
    head, comma, body = uri.partition(",")
    try:
        if comma and head.endswith(";base64"):
            return base64.b64decode(body, validate=True)
    except (binascii.Error, ValueError) as err:
        raise DamagedError("a buffer written as text breaks off", try_this=ONE_FILE) from err
    raise DamagedError("a buffer is written in a way that is not known", try_this=ONE_FILE)
