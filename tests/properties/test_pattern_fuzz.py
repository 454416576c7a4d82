"""Every reader under fire: good files cut, changed, spliced and lied in, and files made up by their grammar.

Whatever comes, a file is read or refused in a sentence, within seconds and within 2 GB. `make test` tries 300 files of every kind,
`make long` 10,000.
"""

import contextlib
import json
import re
import struct
import sys
import time
import zipfile
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.errors import BadFileError
from pourwell.files.patterns import read_pattern
from pourwell.geometry.mesh import Mesh
from tests.unit.files.gltf_files import Gltf, glb, gltf
from tests.unit.files.pattern_files import CUBE_CORNERS, CUBE_QUADS, binary_stl, cube, mesh_xml, obj, ply, text_stl, threemf

LONG = 1000
"""A profile of more examples than this is the long one."""
CASES = settings(max_examples=10_000 if settings().max_examples > LONG else 300)
LIMIT = 20_000
SECONDS = 5.0
BYTES = 2_000_000_000
EDGES = (0, 1, 2, 3, 4, 127, 128, 255, 256, 32767, 65535, 65536, 2**31 - 1, 2**31, 2**32 - 1)
WORDS = (
    *(
        b"nan",
        b"inf",
        b"-inf",
        b"1e999",
        b"-1",
        b"0",
        b"99999999999999999999",
        b"1,5",
        b"0x1f",
        b"1_0",
        b"",
        b"\xff",
        b"\0",
        b"9" * 400,
    ),
    *(b"solid", b"endsolid", b"facet", b"endfacet", b"vertex", b"v", b"f", b"o", b"g", b"element face 4000000000", b"end_header"),
    *(b"property list char int x", b"null", b"[]", b"{}", b"true", b'"', b"<", b"/>", b"&e;", b"\r\n", b"\\\n"),
)


@cache
def folder() -> Path:
    """One folder for all files of this process."""
    import tempfile

    return Path(tempfile.mkdtemp(prefix="fuzz"))


def gltf_parts() -> Gltf:
    """Two bodies in nodes within nodes: a strip, indices of two kinds, a sparse accessor, a mirrored node."""
    made = Gltf()
    first = made.mesh(made.primitive(cube(4), kind="u1", material=0))
    part = made.primitive(cube(2, (9, 0, 0)), kind="u4")
    made.root["accessors"][part["attributes"]["POSITION"]]["sparse"] = {
        "count": 1,
        "indices": {"bufferView": made.view(b"\3"), "componentType": 5121},
        "values": {"bufferView": made.view(np.zeros(3, "<f4").tobytes())},
    }
    strip = {"attributes": part["attributes"], "indices": made.array([0, 1, 2, 3, 6, 7], "u2"), "mode": 5}
    second = made.mesh(part, strip, name="second")
    leaf = made.node(second, translation=[1, 2, 3], rotation=[0, 0, 0, 1], scale=[-1, 1, 1])
    made.node(first, name="first", children=[leaf])
    return made


@cache
def good(kind: str) -> bytes:
    """The bytes of a good file of this kind."""
    path = folder() / f"good-{kind.replace(' ', '-')}"
    if kind == "binary STL":
        return binary_stl(path, cube(4)).read_bytes()
    if kind == "text STL":
        return text_stl([("a", cube(4)), ("b", cube(1, (9, 0, 0)))]).encode()
    if kind == "OBJ":
        return b"o ring\n" + obj(CUBE_CORNERS, CUBE_QUADS).encode() + b"g stone\nf 1 2 3 4 5 6 7\nf -1/1/1 -2//2 -3\n"
    if kind == "3MF":
        objects = f'<object id="1">{mesh_xml(cube(4))}</object>'
        objects += '<object id="2"><components><component objectid="1" transform="2 0 0 0 2 0 0 0 2 0 0 1"/></components></object>'
        return threemf(path, objects, '<item objectid="1"/><item objectid="2"/>').read_bytes()
    if kind == "GLB":
        made = gltf_parts()
        return glb(made.done([1], materials=[{"name": "m"}]), made.binary)
    if kind == "glTF":
        made = gltf_parts()
        return gltf(made.done([1], materials=[{}]), made.binary).encode()
    return ply(kind.removeprefix("PLY "), CUBE_CORNERS, [*CUBE_QUADS, [0, 1, 2], list(range(8))])


KINDS = ("binary STL", "text STL", "OBJ", "PLY ascii", "PLY binary_little_endian", "PLY binary_big_endian", "3MF", "GLB", "glTF")
ENDING = {"STL": ".stl", "OBJ": ".obj", "PLY": ".ply", "3MF": ".3mf", "GLB": ".glb", "glTF": ".gltf"}


def held(content: bytes, ending: str) -> None:
    """Hold a reader to its word: read or refused in a sentence, within the time."""
    path = folder() / f"piece{ending}"
    path.write_bytes(content)
    start = time.process_time()
    try:
        file = read_pattern(path, limit_count=LIMIT)
    except BadFileError as error:
        if not (error.what and error.why and error.try_this):
            raise
    else:
        assert 0 < file.triangle_count <= LIMIT
        assert all(np.isfinite(body.mesh.vertices[body.mesh.faces]).all() for body in file.bodies)
        assert all(body.name.isprintable() for body in file.bodies)
    assert time.process_time() - start < SECONDS


def most_memory() -> int:
    """The most memory that this process ever had [bytes]."""
    resource = pytest.importorskip("resource", reason="this system does not say")
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)


PLACES = st.floats(0, 1, exclude_max=True)
DEEDS = st.one_of(
    st.tuples(st.just("cut"), PLACES),
    st.tuples(st.just("bytes"), PLACES, st.binary(min_size=1, max_size=4)),
    st.tuples(st.just("bit"), PLACES, st.integers(0, 7)),
    st.tuples(st.just("count"), PLACES, st.sampled_from(EDGES), st.sampled_from(["<I", ">I", "<H", "<Q"])),
    st.tuples(st.just("word"), PLACES, st.sampled_from(WORDS)),
    st.tuples(st.just("drop"), PLACES, PLACES),
    st.tuples(st.just("double"), PLACES, PLACES, st.integers(1, 30)),
    st.tuples(st.just("swap"), PLACES, PLACES, st.integers(1, 40)),
    st.tuples(st.just("number"), PLACES, st.sampled_from([str(edge).encode() for edge in (*EDGES, -1, 2**63, 10**30, 1e308)])),
)


def done(content: bytes, deed: tuple) -> bytes:
    """A file after one deed."""
    name, at = deed[0], int(deed[1] * len(content))
    if name == "cut":
        return content[:at]
    if name == "bytes":
        return content[:at] + deed[2] + content[at + len(deed[2]) :]
    if name == "bit":
        return content[:at] + bytes([content[at] ^ 1 << deed[2]]) + content[at + 1 :] if content else content
    if name == "count":
        value = struct.pack(deed[3], deed[2] & (0xFFFF if deed[3] == "<H" else 2**64 - 1))
        return content[:at] + value + content[at + len(value) :]
    if name == "word":
        return content[:at] + deed[2] + content[at:]
    if name == "number":
        found = list(re.finditer(rb"-?\d+(\.\d+)?", content))
        if not found:
            return content
        match = found[int(deed[1] * len(found))]
        return content[: match.start()] + deed[2] + content[match.end() :]
    other = int(deed[2] * len(content))
    low, high = sorted((at, other))
    if name == "drop":
        return content[:low] + content[high:]
    if name == "double":
        return content[:high] + content[low:high] * (deed[3] if high - low < 2000 else 1) + content[high:]
    return (
        content[:low]
        + content[high : high + deed[3]]
        + content[low + deed[3] : high]
        + content[low : low + deed[3]]
        + content[high:]
    )


def repacked(content: bytes, deeds: list[tuple]) -> bytes:
    """A 3MF with the deeds done to the model inside its zip."""
    source, path = folder() / "source.3mf", folder() / "repacked.3mf"
    source.write_bytes(content)
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name)
            for deed in deeds if name.endswith(".model") else ():
                data = done(data, deed)
            new.writestr(name, data)
    return path.read_bytes()


@pytest.mark.parametrize("kind", KINDS)
@CASES
@given(deeds=st.lists(DEEDS, min_size=1, max_size=4), inside=st.booleans(), right_name=st.booleans())
def test_a_good_file_after_any_deeds_is_read_or_refused(kind, deeds, inside, right_name):
    content = good(kind)
    if kind == "3MF" and inside:
        content = repacked(content, deeds)
    else:
        for deed in deeds:
            content = done(content, deed)
    held(content, ENDING[kind.split()[-1] if "STL" in kind else kind.split()[0]] if right_name else "")


# --- files made up by their grammar ---

NUMBER = st.one_of(st.integers(-3, 12), st.sampled_from([*EDGES, -1, 2**63, 1e308, -1e-320, 0.5, None, True, "4", [], {}]))
NAME = st.text(max_size=8) | st.none() | st.just("ring")
JUNK = st.dictionaries(st.sampled_from(["name", "mesh", "count", "buffer", "children", "matrix", "extras"]), NUMBER, max_size=2)


def thing(**fields: st.SearchStrategy) -> st.SearchStrategy:
    """An object that may lack some of its fields, or hold junk."""
    return st.fixed_dictionaries({}, optional=fields) | JUNK


SEVERAL = st.lists(NUMBER, max_size=5)
TRIPLE = st.lists(st.floats(-9, 9) | NUMBER, min_size=2, max_size=4)
KIND = st.sampled_from([5120, 5121, 5122, 5123, 5125, 5126, 5126, 5130])
SPARSE = thing(
    count=NUMBER, indices=thing(bufferView=NUMBER, componentType=KIND, byteOffset=NUMBER), values=thing(bufferView=NUMBER)
)
TREE = {
    "accessors": thing(
        bufferView=st.integers(0, 3),
        componentType=KIND,
        count=st.integers(0, 40) | NUMBER,
        type=st.sampled_from(["SCALAR", "VEC3", "VEC3", "MAT4", "odd"]),
        byteOffset=NUMBER,
        normalized=st.booleans(),
        sparse=SPARSE,
    ),
    "bufferViews": thing(buffer=st.just(0) | NUMBER, byteOffset=NUMBER, byteLength=st.integers(0, 500) | NUMBER, byteStride=NUMBER),
    "meshes": thing(
        primitives=st.lists(
            thing(
                attributes=thing(POSITION=st.integers(0, 3)),
                indices=st.integers(0, 3),
                mode=st.integers(0, 7),
                material=NUMBER,
                targets=st.lists(thing(POSITION=st.integers(0, 3)), max_size=2),
            ),
            max_size=3,
        ),
        weights=SEVERAL,
        name=NAME,
    ),
    "nodes": thing(
        mesh=st.integers(0, 2),
        children=st.lists(st.integers(0, 5), max_size=3),
        translation=TRIPLE,
        scale=TRIPLE,
        rotation=st.lists(st.floats(-1, 1), min_size=4, max_size=4),
        matrix=st.lists(st.floats(-2, 2), min_size=16, max_size=16) | SEVERAL,
        name=NAME,
        skin=NUMBER,
    ),
    "scenes": thing(nodes=st.lists(st.integers(0, 5), max_size=3)),
    "buffers": thing(byteLength=st.integers(0, 600) | NUMBER, uri=st.sampled_from(["data:;base64,AAAA", "../x", "x.bin", 3, ""])),
    "materials": thing(name=NAME),
}
DOCUMENT = st.fixed_dictionaries(
    {key: st.lists(entry, max_size=4) for key, entry in TREE.items()}, optional={"scene": NUMBER, "extensionsRequired": SEVERAL}
)


@CASES
@given(document=DOCUMENT, binary=st.binary(max_size=600), lie=st.sampled_from([0, 0, 0, 4, -4, 2**31]))
def test_any_scene_is_read_or_refused(document, binary, lie):
    content = glb({"asset": {"version": "2.0"}, **document}, binary)
    (length,) = struct.unpack_from("<I", content, 8)
    held(content[:8] + struct.pack("<I", (length + lie) % 2**32) + content[12:], ".glb")


LINES = st.lists(
    st.tuples(
        st.sampled_from(["v", "f", "V", "F", "o", "g", "vn", "vt", "#", "s", "usemtl", "", "l", "\\"]),
        st.lists(
            st.sampled_from(["1", "2", "3", "-1", "-2", "4.5", "1,5", "0", "nan", "1/2/3", "1//2", "9999", "1e9", "x", "\\"]),
            max_size=7,
        ),
    ),
    max_size=40,
)


@CASES
@given(lines=LINES, end=st.sampled_from(["\n", "\r\n", "\r"]), known=st.booleans())
def test_any_lines_of_an_obj_are_read_or_refused(lines, end, known):
    head = obj(CUBE_CORNERS, CUBE_QUADS) if known else ""
    held((head + end.join(" ".join((key, *words)) for key, words in lines)).encode(), ".obj")


PROPERTIES = st.lists(
    st.sampled_from(
        [
            *("property float x", "property float y", "property double z", "property uchar red", "property char x"),
            *(
                "property list uchar int vertex_indices",
                "property list char short vertex_index",
                "property list float float vertex_index",
            ),
            *("property list uint uint other", "property list double uchar vertex_indices", "property list uchar uchar a"),
        ]
    ),
    max_size=6,
)
ELEMENTS = st.lists(
    st.tuples(st.sampled_from(["vertex", "face", "edge", "face"]), st.integers(0, 9) | st.sampled_from(EDGES), PROPERTIES),
    max_size=4,
)


@CASES
@given(
    form=st.sampled_from(["ascii", "binary_little_endian", "binary_big_endian"]),
    elements=ELEMENTS,
    tail=st.binary(max_size=300) | st.lists(st.integers(-1, 9).map(str), max_size=80).map(lambda words: " ".join(words).encode()),
    usual=st.booleans(),
)
def test_any_header_of_a_ply_is_read_or_refused(form, elements, tail, usual):
    axes = ["property float x", "property float y", "property float z"]
    lines = ["ply", f"format {form} 1.0"]
    for name, count, properties in elements:
        lines += [f"element {name} {count}", *(axes if usual and name == "vertex" else []), *properties]
    held("\n".join([*lines, "end_header\n"]).encode() + tail, ".ply")


@CASES
@given(
    corners=st.lists(st.tuples(*[st.floats(width=32)] * 3), min_size=3, max_size=60),
    count=st.none() | st.sampled_from(EDGES),
    tail=st.binary(max_size=60),
    header=st.sampled_from([b"", b"solid ", b"solid a\nfacet"]),
)
def test_any_triangles_of_a_binary_stl_are_read_or_refused(corners, count, tail, header):
    points = np.array(corners[: len(corners) // 3 * 3])
    mesh = Mesh(points, np.arange(len(points)).reshape(-1, 3))
    held(binary_stl(folder() / "made", mesh, header=header, count=count, tail=tail).read_bytes(), ".stl")


TRIANGLE = st.lists(
    st.sampled_from(
        ["facet normal 0 0 1", "outer loop", "vertex 0 0 0", "vertex 1 0 2.5", "vertex 0 1,5 0", "VERTEX 1 1", "endloop"]
    )
    | st.sampled_from(["endfacet", "endsolid", "solid x", "", "vertex nan 0 1e999", "facet", "garbage"]),
    max_size=40,
)


@CASES
@given(lines=TRIANGLE, end=st.sampled_from(["\n", "\r\n", "\r"]), whole=st.booleans())
def test_any_lines_of_a_text_stl_are_read_or_refused(lines, end, whole):
    head = text_stl([("a", cube(4))], end=False) if whole else "solid a\n"
    held((head + end.join(lines)).encode(), ".stl")


NUMBERS = st.sampled_from(
    ["0", "1", "2.5", "-1", "7", "99", "nan", "1e400", "", "x", "1 0 0 0 1 0 0 0 1 5 5 5", "0 0 0 0 0 0 0 0 0 0 0 0"]
)
KEYS = st.sampled_from(["id", "x", "y", "z", "v1", "v2", "v3", "objectid", "transform", "type", "name", "unit", "path"])
TAGS = (
    "model",
    "resources",
    "object",
    "mesh",
    "vertices",
    "vertex",
    "triangles",
    "triangle",
    "components",
    "component",
    "build",
    "item",
)
ELEMENT = st.recursive(
    st.tuples(st.sampled_from(TAGS), st.dictionaries(KEYS, NUMBERS, max_size=4), st.just([])),
    lambda inner: st.tuples(st.sampled_from(TAGS), st.dictionaries(KEYS, NUMBERS, max_size=4), st.lists(inner, max_size=4)),
    max_leaves=25,
)


def xml(element) -> str:
    tag, keys, inner = element
    return f"<{tag} {' '.join(f'{k}={json.dumps(v)}' for k, v in keys.items())}>{''.join(map(xml, inner))}</{tag}>"


@CASES
@given(objects=st.lists(ELEMENT, max_size=4), build=st.lists(ELEMENT, max_size=2), known=st.booleans())
def test_any_elements_of_a_3mf_are_read_or_refused(objects, build, known):
    first = f'<object id="1">{mesh_xml(cube(4))}</object>' if known else ""
    path = threemf(folder() / "made.3mf", first + "".join(map(xml, objects)), '<item objectid="1"/>' + "".join(map(xml, build)))
    held(path.read_bytes(), ".3mf")


def test_all_that_took_less_than_two_gigabytes():
    assert most_memory() < BYTES
    for left in folder().iterdir():
        with contextlib.suppress(OSError):
            left.unlink()
