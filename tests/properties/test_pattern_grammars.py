"""Every reader against files made up by the grammar of their kind: plausible, and wrong anywhere.

Whatever comes, a file is read or refused in a sentence, within seconds and within 2 GB.
"""

import json
import struct

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pourwell.geometry.mesh import Mesh
from tests.properties.fuzz_case import CASES, EDGES, folder, held, measured_memory
from tests.unit.files.gltf_files import glb
from tests.unit.files.pattern_files import CUBE_CORNERS, CUBE_QUADS, binary_stl, cube, mesh_xml, obj, text_stl, threemf

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


def test_the_gauge_of_memory_that_each_case_is_held_to_works():
    measured_memory()
