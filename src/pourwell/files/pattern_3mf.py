"""3MF files: a zip that holds named objects with their unit, built from meshes and from other objects under transforms."""

import lzma
import struct
import zipfile
import zlib
from array import array
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Final

import numpy as np
from lxml import etree

from pourwell.errors import BadFileError
from pourwell.files.pattern_limits import DEEPEST, MOST_PARTS, TRY, DamagedError, too_many
from pourwell.files.pattern_numbers import Counts, Doubles
from pourwell.geometry.mesh import Floats, Ints, Mesh

UNITS: Final = {"micron": "um", "millimeter": "mm", "centimeter": "cm", "meter": "m", "inch": "inch", "foot": "foot"}
DEFAULT_UNIT: Final = "millimeter"
ROOT_RELATIONS: Final = "_rels/.rels"
DEFAULT_MODEL: Final = "3D/3dmodel.model"
TRIANGLE_BYTES: Final = 400
"""A triangle with its share of the corners never takes more text than this; a file that unpacks to more is refused."""

LONGEST_BYTES: Final = 1 << 20
"""A single text, attribute or tag in a model is never longer than this; the reader of XML would take three times that of memory."""

LONGEST_RELATIONS: Final = 1_000_000
"""Bytes of the list that names the main model, at most: it names a handful of parts, and is read whole."""

BOMB_BYTES: Final = 50_000_000
BOMB_RATIO: Final = 200
"""A file that unpacks to more than so much, and to more than so many times its size, is a bomb: text of triangles packs to about
a tenth, and hardly ever to a thirtieth."""

ZIP_FAULTS: Final = (
    *(zipfile.BadZipFile, zlib.error, lzma.LZMAError, struct.error, EOFError, OSError, NotImplementedError, RuntimeError),
    *(ValueError, OverflowError),
)
"""What the zip reader raises on a damaged file."""

SUPPORT_TYPES: Final = ("support", "solidsupport")


@dataclass(slots=True)
class _Object:
    name: str
    kind: str
    corners: Doubles = field(default_factory=lambda: array("d"))
    triangles: Counts = field(default_factory=lambda: array("q"))
    parts: list["_Part"] = field(default_factory=list)
    mesh: tuple[Floats, Ints] | None = None
    """The corners that are used, and the triangles between them, once they were wanted."""


@dataclass(frozen=True, slots=True)
class _Part:
    """An object put somewhere: by the build, or as a component of another object."""

    model: str
    number: str
    transform: Floats


@dataclass(slots=True)
class _Model:
    unit: str = DEFAULT_UNIT
    objects: dict[str, _Object] = field(default_factory=dict)
    build: list[_Part] = field(default_factory=list)


def read_3mf(path: Path, limit_count: int) -> tuple[list[tuple[str, Mesh]], str]:
    """The bodies that the file builds, each object in its place, and the file's unit."""
    try:
        with zipfile.ZipFile(path) as archive:
            _refuse_bombs(archive, path, limit_count)
            root = _root(archive)
            models = {root: _parsed(archive, root, path=path, limit_count=limit_count)}
            unit = _unit(models[root])
            placed = _Placed(archive, models, path=path, limit_count=limit_count)
            bodies = [body for part in models[root].build for body in placed.bodies(part, np.eye(4)[:, :3], ())]
            return bodies, unit
    except ZIP_FAULTS as err:
        raise BadFileError(f"{path.name} is cut short or damaged.", why=f"Its zip cannot be opened: {err}.", try_this=TRY) from err
    except etree.XMLSyntaxError as err:
        raise BadFileError(f"{path.name} is cut short or damaged.", why=f"Its model breaks off: {err}.", try_this=TRY) from err
    except DamagedError as err:
        raise err.of(path.name) from err


def _refuse_bombs(archive: zipfile.ZipFile, path: Path, limit_count: int) -> None:
    size = sum(info.file_size for info in archive.infolist())
    if size > limit_count * TRIANGLE_BYTES:
        raise too_many(path.name, None, limit_count)
    packed = path.stat().st_size
    if size > max(BOMB_BYTES, BOMB_RATIO * packed):
        raise BadFileError(
            f"{path.name} unpacks to far more than a pattern holds.",
            why=f"It has {packed:,} bytes, and would unpack to {size / 1e6:,.0f} MB: over {BOMB_RATIO} times as much.",
            try_this="Do not open it if you do not know where it comes from; else export it again.",
        )


def _unit(model: _Model) -> str:
    if model.unit not in UNITS:
        raise DamagedError(f'its unit "{model.unit}" is none that 3MF knows')
    return UNITS[model.unit]


def _root(archive: zipfile.ZipFile) -> str:
    """The path of the main model in the zip."""
    names = archive.namelist()
    if ROOT_RELATIONS in names:
        if archive.getinfo(ROOT_RELATIONS).file_size > LONGEST_RELATIONS:
            raise DamagedError(f"the list of its parts is longer than {LONGEST_RELATIONS:,} bytes")
        with archive.open(ROOT_RELATIONS) as file:
            for relation in etree.parse(file, _parser()).getroot():
                target = (relation.get("Target") or "").lstrip("/")
                if (relation.get("Type") or "").endswith("/3dmodel") and target in names:
                    return target
    if DEFAULT_MODEL in names:
        return DEFAULT_MODEL
    raise DamagedError("it is a zip file without a 3D model")


def _parser() -> etree.XMLParser:
    return etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False)


def _parsed(archive: zipfile.ZipFile, name: str, *, path: Path, limit_count: int) -> _Model:
    """One model part, read as a stream."""
    model, count, corners = _Model(), 0, 0
    current: _Object | None = None
    options = {"resolve_entities": False, "no_network": True, "load_dtd": False, "huge_tree": True}
    with archive.open(name) as file:
        for event, element in etree.iterparse(_Watched(file), events=("start", "end"), **options):
            tag = _local(element.tag) if isinstance(element.tag, str) else ""
            if event == "start":
                if tag == "model":
                    model.unit = element.get("unit", DEFAULT_UNIT)
                elif tag == "object":
                    number = element.get("id", "")
                    current = _Object(element.get("name") or f"object {number}", element.get("type", "model"))
                    model.objects[number] = current
                continue
            count += tag == "triangle"
            corners += tag == "vertex"
            if count > limit_count or corners > 3 * limit_count:
                raise too_many(path.name, count if count > limit_count else None, limit_count)
            _take(tag, element, name, model=model, current=current)
            element.clear()
            parent = element.getparent()
            while parent is not None and element.getprevious() is not None:
                del parent[0]
    return model


class _Watched:
    """A stream of XML that refuses a single text or attribute of more than `LONGEST_BYTES`, which would fill the memory."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file, self._since = file, 0

    def read(self, size: int = -1) -> bytes:
        """The next bytes. Raises DamagedError."""
        chunk = self._file.read(size)
        last = chunk.rfind(b"<")
        self._since = self._since + len(chunk) if last < 0 else len(chunk) - last
        if self._since > LONGEST_BYTES:
            raise DamagedError(f"a single text in it is longer than {LONGEST_BYTES:,} bytes")
        return chunk


def _local(name: str | bytes) -> str:
    """A tag or key without its namespace."""
    return str(name).rpartition("}")[2]


def _take(tag: str, element: etree._Element, name: str, *, model: _Model, current: _Object | None) -> None:
    """Take in one finished element."""
    try:
        if current is not None and tag == "vertex":
            current.corners.extend((float(element.attrib["x"]), float(element.attrib["y"]), float(element.attrib["z"])))
        elif current is not None and tag == "triangle":
            corners = element.attrib
            current.triangles.extend((int(corners["v1"]), int(corners["v2"]), int(corners["v3"])))
        elif current is not None and tag == "component":
            current.parts.append(_part(element, name))
        elif tag == "item":
            model.build.append(_part(element, name))
    except (KeyError, ValueError, OverflowError) as err:
        raise DamagedError(f"a {tag} makes no sense ({err})") from err


def _part(element: etree._Element, name: str) -> _Part:
    other = next((value for key, value in element.attrib.items() if _local(key) == "path"), name)
    words = [float(word) for word in element.get("transform", "1 0 0 0 1 0 0 0 1 0 0 0").split()]
    if len(words) != 12:
        raise ValueError("a transform has not twelve numbers")
    return _Part(str(other).lstrip("/"), element.attrib["objectid"], np.array(words).reshape(4, 3))


class _Placed:
    """Objects in their places, components within components, other models of the zip read when they are named."""

    def __init__(self, archive: zipfile.ZipFile, models: dict[str, _Model], *, path: Path, limit_count: int) -> None:
        self._archive, self._models, self._path, self._limit = archive, models, path, limit_count
        self._triangles = self._parts = 0

    def bodies(self, part: _Part, outer: Floats, above: tuple[_Part, ...]) -> Iterator[tuple[str, Mesh]]:
        """The meshes of a part under the transforms above it; points are rows, multiplied from the left."""
        if any((part.model, part.number) == (other.model, other.number) for other in above):
            raise DamagedError(f"object {part.number} contains itself")
        if len(above) > DEEPEST:
            raise DamagedError(f"objects lie within objects more than {DEEPEST} deep")
        self._parts += 1
        thing = self._object(part)
        self._triangles += len(thing.triangles) // 3
        if self._triangles > self._limit or self._parts > MOST_PARTS:
            raise too_many(self._path.name, None, self._limit)
        transform = np.vstack((part.transform[:3] @ outer[:3], part.transform[3] @ outer[:3] + outer[3]))
        if thing.triangles:
            yield _named(thing), _mesh(thing, transform)
        for inner in thing.parts:
            yield from self.bodies(inner, transform, (*above, part))

    def _object(self, part: _Part) -> _Object:
        if part.model not in self._models:
            if part.model not in self._archive.namelist():
                raise DamagedError(f"the model {part.model} is missing")
            self._models[part.model] = _parsed(self._archive, part.model, path=self._path, limit_count=self._limit)
        thing = self._models[part.model].objects.get(part.number)
        if thing is None:
            raise DamagedError(f"object {part.number} is missing")
        return thing


def _named(thing: _Object) -> str:
    return f"{thing.name} (support)" if thing.kind in SUPPORT_TYPES else thing.name


def _mesh(thing: _Object, transform: Floats) -> Mesh:
    if thing.mesh is None:
        faces, corners = np.array(thing.triangles, dtype=np.int64), np.array(thing.corners, dtype=np.float64).reshape(-1, 3)
        if faces.min() < 0 or faces.max() >= len(corners):
            raise DamagedError(f'a triangle of "{thing.name}" names a corner that is not there')
        used, renumbered = np.unique(faces, return_inverse=True)
        thing.mesh = corners[used], renumbered.reshape(-1, 3)
    corners, faces = thing.mesh
    mirrored = np.linalg.det(transform[:3]) < 0
    return Mesh(corners @ transform[:3] + transform[3], faces[:, ::-1] if mirrored else faces)
