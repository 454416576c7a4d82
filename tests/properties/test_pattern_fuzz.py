"""Every reader under fire: good files cut, changed, spliced and lied in.

Whatever comes, a file is read or refused in a sentence, within seconds and within 2 GB. `make test` tries 300 files of every kind,
`make long` 10,000.
"""

import re
import struct
import zipfile
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.fuzz_case import CASES, EDGES, folder, held, measured_memory
from tests.unit.files.gltf_files import Gltf, glb, gltf
from tests.unit.files.pattern_files import CUBE_CORNERS, CUBE_QUADS, binary_stl, cube, mesh_xml, obj, ply, text_stl, threemf

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


def test_the_gauge_of_memory_that_each_case_is_held_to_works():
    measured_memory()
