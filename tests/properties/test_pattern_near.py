"""Readers against good files of which one or two fields were changed: so near to whole that many are read, and wrong in one place.

Files made up by grammar alone (test_pattern_grammars.py) hardly ever get past a scene's nodes, a PLY's header or the volume of an
STL; these do. `make long` demands that more than 1 % of them were read.
"""

import copy
import struct

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.fuzz_case import CASES, EDGES, folder, held, many_read
from tests.unit.files.gltf_files import glb, of
from tests.unit.files.pattern_files import CUBE_CORNERS, CUBE_QUADS, binary_stl, cube, ply

MANY_READ = True
"""Held to by conftest.py, in the long run."""

NUMBER = st.one_of(st.integers(-3, 40), st.sampled_from([*EDGES, -1, 2**63, 1e308, 0.5, None, True, "4", [], {}]))
SCENE, BINARY = of(("one", cube(4)), ("two", cube(1, (9, 0, 0))))


def places(tree: object, way: tuple = ()) -> list[tuple]:
    """The way to every leaf and branch of a document."""
    inner = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    return [found for key, below in inner for found in ((*way, key), *places(below, (*way, key)))]


PLACES = places(SCENE)


def changed(tree: dict, way: tuple, value: object) -> None:
    """Put a value at a place; where the way is gone already, nothing."""
    here = tree
    for key in way[:-1]:
        try:
            here = here[key]
        except (KeyError, IndexError, TypeError):
            return
    if isinstance(here, dict) or (isinstance(here, list) and isinstance(way[-1], int) and way[-1] < len(here)):
        here[way[-1]] = value


@CASES
@given(changes=st.lists(st.tuples(st.sampled_from(PLACES), NUMBER), min_size=1, max_size=2), cut=st.sampled_from([0, 0, 0, 1, 40]))
def test_a_scene_with_one_or_two_fields_changed_is_read_or_refused(changes, cut):
    scene = copy.deepcopy(SCENE)
    for way, value in changes:
        changed(scene, way, value)
    held(glb(scene, BINARY[: len(BINARY) - cut]), ".glb")


WORDS = st.sampled_from(
    ["float", "double", "char", "uchar", "short", "int", "uint", "x", "y", "z", "vertex", "face", "list", "", "8", "0"]
)


@CASES
@given(
    form=st.sampled_from(["ascii", "binary_little_endian", "binary_big_endian"]),
    changes=st.lists(st.tuples(st.integers(0, 30), WORDS), min_size=1, max_size=2),
    byte=st.none() | st.tuples(st.integers(0, 300), st.integers(0, 255)),
    again=st.none() | st.integers(0, 8),
)
def test_a_ply_with_one_or_two_words_changed_is_read_or_refused(form, changes, byte, again):
    whole = ply(form, CUBE_CORNERS * 4, CUBE_QUADS)
    head, mark, body = (whole if isinstance(whole, bytes) else whole.encode()).partition(b"end_header\n")
    lines = [line.split(" ") for line in head.decode().splitlines()]
    spots = [(i, k) for i, line in enumerate(lines) for k in range(len(line))]
    for spot, word in changes:
        i, k = spots[spot % len(spots)]
        lines[i][k] = word
    if again is not None:
        lines.insert(again % len(lines), lines[again % len(lines)])
    content = bytearray(body)
    if byte is not None:
        content[byte[0] % len(content)] = byte[1]
    held("".join(" ".join(line) + "\n" for line in lines).encode() + mark + bytes(content), ".ply")


@CASES
@given(
    changes=st.lists(
        st.tuples(st.integers(0, 11), st.integers(0, 11), st.floats(width=32) | st.integers(-9, 9).map(float)),
        min_size=1,
        max_size=2,
    ),
    count=st.none() | st.sampled_from([11, 12, 13, *EDGES]),
    tail=st.binary(max_size=60),
    header=st.sampled_from([b"", b"solid ", b"solid a\nfacet"]),
)
def test_a_binary_stl_with_one_or_two_numbers_changed_is_read_or_refused(changes, count, tail, header):
    content = bytearray(binary_stl(folder() / "made", cube(4), header=header, count=count, tail=tail).read_bytes())
    for triangle, number, value in changes:
        struct.pack_into("<f", content, 84 + 50 * triangle + 4 * number, np.float32(value))
    held(bytes(content), ".stl")


def test_the_unchanged_files_are_read():
    """What the changes begin from is whole."""
    before = len(PLACES)
    held(glb(SCENE, BINARY), ".glb")
    assert before > 40
    assert many_read(1000, 11)
    assert not many_read(1000, 10)
    assert many_read(300, 0), "too few to say"
