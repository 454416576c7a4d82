"""The inside of a glTF file taken by itself: words under keys, and arrays out of buffers, none of them believed."""

import json

import numpy as np
import pytest

from pourwell.files.pattern_glb import Document, inner, listed, name_of, numbers, thing_at, whole
from pourwell.files.pattern_limits import LIMIT_FILE_BYTES, DamagedError
from tests.unit.files.gltf_files import Gltf, glb


@pytest.mark.parametrize("index", [-1, 2, None, "0", 0.0, True, [0]])
def test_a_number_that_leads_nowhere_is_named(index):
    with pytest.raises(DamagedError, match=r"names node .*, which is not there"):
        thing_at([{}, {}], index, "node")


def test_a_number_that_leads_to_no_object_is_told():
    assert thing_at([{"a": 1}], 0, "mesh") == {"a": 1}
    with pytest.raises(DamagedError, match="mesh 1 makes no sense"):
        thing_at([{}, 7], 1, "mesh")


@pytest.mark.parametrize("value", [{}, "x", 3, None])
def test_what_should_be_a_list_and_is_none_is_told(value):
    assert listed({}, "nodes") == []
    with pytest.raises(DamagedError, match='"nodes" is no list'):
        listed({"nodes": value}, "nodes")


@pytest.mark.parametrize("value", [[], "x", 3, None])
def test_what_should_be_an_object_and_is_none_is_told(value):
    assert inner({}, "extensions") == {}
    with pytest.raises(DamagedError, match='"extensions" makes no sense'):
        inner({"extensions": value}, "extensions")


@pytest.mark.parametrize(("thing", "name"), [({}, ""), ({"name": " a b "}, "a b"), ({"name": 7}, ""), ({"name": "x\ud800"}, "x?")])
def test_a_name_is_words_that_can_be_written(thing, name):
    assert name_of(thing) == name
    name_of(thing).encode()


@pytest.mark.parametrize("value", [-1, 1.0, "1", None, True, 1e300])
def test_a_count_is_a_whole_number_not_below_nothing(value):
    assert whole({"count": 3}, "count") == 3
    assert whole({}, "byteOffset", 0) == 0
    with pytest.raises(DamagedError, match="which is no count"):
        whole({"count": value}, "count")


@pytest.mark.parametrize("value", [[1, 2], [1, 2, 3, 4], [1, 2, "3"], "123", [1, 2, True], [1, 2, None], 3])
def test_as_many_numbers_as_are_wanted_and_no_others(value):
    assert numbers({"scale": [1, 2.5, 3]}, "scale", (1.0,) * 3).tolist() == [1, 2.5, 3]
    assert numbers({}, "scale", (1.0,) * 3).tolist() == [1, 1, 1]
    with pytest.raises(DamagedError, match="has not 3 numbers"):
        numbers({"scale": value}, "scale", (1.0,) * 3)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 10**400])
def test_a_number_without_end_is_told(value):
    with pytest.raises(DamagedError, match=r"no number|without end"):
        numbers({"scale": [1, value, 1]}, "scale", (1.0,) * 3)


KINDS = {"u1": (0, 255), "u2": (0, 65535), "u4": (0, 2**32 - 1), "i1": (-128, 127), "i2": (-32768, 32767), "f4": (-1.5, 2.0**100)}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("width", [1, 3])
def test_an_array_comes_out_as_it_went_in(kind, width):
    made = Gltf()
    given = np.resize(np.array(KINDS[kind]), (5, width))
    made.array(np.zeros((3, 1)), "u1")  # so that the next one does not begin where the buffer does
    index = made.array(given, kind, normalized=kind == "u2")
    array, share = Document(glb(made.done(), made.binary), None).array(index)
    np.testing.assert_array_equal(array, given)
    assert array.dtype.str.lstrip("|<") == kind
    assert share == (kind == "u2")


def test_rows_may_lie_apart_and_one_beyond_the_view_is_refused():
    made = Gltf()
    table = np.arange(24, dtype="<f4").reshape(4, 6)
    view = made.view(table.tobytes(), byteStride=24)
    entry = {"bufferView": view, "componentType": 5126, "count": 4, "type": "VEC3", "byteOffset": 8}
    made.root["accessors"] += [entry, {**entry, "count": 5}, {**entry, "byteOffset": 16}]
    document = Document(glb(made.done(), made.binary), None)
    np.testing.assert_array_equal(document.array(0)[0], table[:, 2:5])
    for index in (1, 2):
        with pytest.raises(DamagedError, match="bytes for fewer"):
            document.array(index)


def test_an_array_of_no_rows_is_empty_wherever_it_says_it_lies():
    made = Gltf()
    view = made.view(b"1234")
    made.root["accessors"].append({"bufferView": view, "componentType": 5126, "count": 0, "type": "VEC3", "byteOffset": 10**9})
    assert Document(glb(made.done(), made.binary), None).array(0)[0].shape == (0, 3)


def test_zeros_are_made_out_of_nothing_only_up_to_a_limit():
    made = Gltf()
    entry = {"componentType": 5126, "type": "VEC3"}
    made.root["accessors"] += [{**entry, "count": 4}, {**entry, "count": LIMIT_FILE_BYTES // 12 + 1}]
    document = Document(glb(made.done(), made.binary), None)
    assert not document.array(0)[0].any()
    with pytest.raises(DamagedError, match="out of nothing"):
        document.array(1)


def test_an_unknown_chunk_is_passed_over():
    made = Gltf()
    index = made.array(np.arange(6).reshape(2, 3), "u2")
    data = glb(made.done(), made.binary)
    stray = (5).to_bytes(4, "little") + b"XYZ1" + b"stray"
    longer = data[:8] + (len(data) + len(stray)).to_bytes(4, "little") + data[12:] + stray
    document = Document(longer, None)
    np.testing.assert_array_equal(document.array(index)[0], Document(data, None).array(index)[0])


def test_json_alone_is_a_document_and_bytes_after_the_length_are_not_read():
    made = Gltf()
    made.array(np.zeros((1, 3)), "f4")
    assert Document(json.dumps(made.done()).encode(), None).root["asset"] == {"version": "2.0"}
    data = glb(made.done(), made.binary)
    assert Document(data + b"whatever follows", None).root == Document(data, None).root
