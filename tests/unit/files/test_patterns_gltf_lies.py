"""GLB and glTF that lie: about lengths, counts, places, what they need; each is refused in a sentence."""

import base64
import json

import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from tests.unit.files.gltf_files import Gltf, glb, of
from tests.unit.files.pattern_files import CUBE_CORNERS, cube, put, refused


def lying(change) -> bytes:
    """A good GLB with its JSON changed."""
    document, binary = of(("block", cube(4)))
    change(document)
    return glb(document, binary)


def put_into(*keys, value):
    def change(document):
        place = document
        for key in keys[:-1]:
            place = place[key]
        place[keys[-1]] = value

    return change


LIES = {
    "count too high": (put_into("accessors", 1, "count", value=37), "bytes for fewer"),
    "count without end": (put_into("accessors", 0, "count", value=10**15), "bytes for fewer"),
    "count below nought": (put_into("accessors", 0, "count", value=-1), "no count"),
    "count of a word": (put_into("accessors", 0, "count", value="many"), "no count"),
    "count true": (put_into("accessors", 0, "count", value=True), "no count"),
    "offset": (put_into("accessors", 0, "byteOffset", value=96), "bytes for fewer"),
    "view too long": (put_into("bufferViews", 1, "byteLength", value=4096), "buffer view promises"),
    "view far out": (put_into("bufferViews", 1, "byteOffset", value=2**40), "buffer view promises"),
    "buffer too long": (put_into("buffers", 0, "byteLength", value=4096), "promises 4,096 bytes"),
    "buffers without end": (put_into("buffers", 0, "byteLength", value=10**12), "more than any pattern"),
    "stride": (put_into("bufferViews", 0, "byteStride", value=4), "overlap"),
    "type": (put_into("accessors", 0, "type", value="VEC9"), "type that glTF does not know"),
    "two coordinates": (put_into("accessors", 0, "type", value="VEC2"), "three coordinates"),
    "component": (put_into("accessors", 0, "componentType", value=5130), "type that glTF does not know"),
    "float indices": (put_into("accessors", 1, "componentType", value=5126), "bytes for fewer"),
    "short signed indices": (put_into("accessors", 1, "componentType", value=5122), "not named by counts"),
    "no such mesh": (put_into("nodes", 0, "mesh", value=7), "mesh 7"),
    "no such node": (put_into("scenes", 0, "nodes", value=[9]), "node 9"),
    "no such accessor": (put_into("meshes", 0, "primitives", 0, "indices", value=-1), "accessor -1"),
    "no such material": (put_into("meshes", 0, "primitives", 0, "material", value=3), "material 3"),
    "node in itself": (put_into("nodes", 0, "children", value=[0]), "within itself"),
    "nodes no list": (put_into("nodes", value={"a": 1}), "no list"),
    "node no object": (put_into("nodes", 0, value=3), "makes no sense"),
    "mesh no object": (put_into("meshes", 0, "primitives", value=[3]), "makes no sense"),
    "mode": (put_into("meshes", 0, "primitives", 0, "mode", value=9), "not known"),
    "short matrix": (put_into("nodes", 0, "matrix", value=[1, 0, 0]), "16 numbers"),
    "projection": (put_into("nodes", 0, "matrix", value=[1, 0, 0, 1, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1]), "no transform of space"),
    "words in a scale": (put_into("nodes", 0, "scale", value=["a", 1, 1]), "3 numbers"),
    "scale without end": (put_into("nodes", 0, "scale", value=[float("inf"), 1, 1]), "no number"),
    "huge whole scale": (put_into("nodes", 0, "scale", value=[10**400, 1, 1]), "without end"),
    "rotation about nothing": (put_into("nodes", 0, "rotation", value=[0, 0, 0, 0]), "turns about nothing"),
    "skin": (put_into("nodes", 0, "skin", value=0), "skeleton"),
    "multiplied": (put_into("nodes", 0, "extensions", value={"EXT_mesh_gpu_instancing": {}}), "multiplied"),
    "packed": (put_into("meshes", 0, "primitives", 0, "extensions", value={"KHR_draco_mesh_compression": {}}), "packed"),
    "packed view": (put_into("bufferViews", 0, "extensions", value={"EXT_meshopt_compression": {}}), "packed"),
    "required": (put_into("extensionsRequired", value=["XYZ_other_shape"]), "XYZ_other_shape"),
    "sparse out": (
        put_into("accessors", 0, "sparse", value={"count": 1, "indices": {"bufferView": 1, "componentType": 5121}, "values": {}}),
        "buffer view None",
    ),
}


@pytest.mark.parametrize("lie", LIES)
def test_a_glb_that_lies_is_refused_in_a_sentence(tmp_path, lie):
    change, words = LIES[lie]
    assert words in refused(put(tmp_path / "a.glb", lying(change)))


def test_a_corner_that_is_not_there_is_named(tmp_path):
    wrong = Mesh(np.vstack((CUBE_CORNERS, CUBE_CORNERS)), np.vstack((cube().faces, [[0, 1, 12]])))
    document, binary = of(("block", wrong))
    document["accessors"][0]["count"] = 8
    assert "corner 12" in refused(put(tmp_path / "a.glb", glb(document, binary)))


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"version": 1}, "glTF 1"),
        ({"length": 10**9}, "1,000,000,000 bytes"),
        ({"lie": 10**6}, "a part promises"),
        ({"length": 12}, "missing"),
    ],
)
def test_a_glb_whose_parts_belie_its_length_is_refused(tmp_path, options, words):
    assert words in refused(put(tmp_path / "a.glb", glb(*of(("block", cube(4))), **options)))


@pytest.mark.parametrize("share", [0.01, 0.3, 0.6, 0.99])
def test_a_glb_cut_short_is_refused(tmp_path, share):
    whole = glb(*of(("block", cube(4))))
    refused(put(tmp_path / "a.glb", whole[: int(share * len(whole))]))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b'{"asset": ', "breaks off"),
        (b'{"asset": {"version": "2.0"}, "nodes": ' + b"[" * 100_000, "breaks off"),
        (b'{"asset": {"version": "2.0"}, "nodes": [' + b"1," * 3_000_000 + b"1]}", "more parts"),
        (b'{"asset": {"version": "2.0"}, "meshes": ' + b"9" * 5000 + b"}", "breaks off"),
        (b'{"asset": {"version": "2.0"}, "n": "\xff"}', "breaks off"),
    ],
    ids=["cut", "deep", "long", "digits", "bytes"],
)
def test_json_that_makes_no_sense_is_refused(tmp_path, text, words):
    assert words in refused(put(tmp_path / "a.gltf", text))


def test_a_gltf_that_places_nothing_holds_no_triangles(tmp_path):
    assert "no triangles" in refused(put(tmp_path / "a.gltf", '{"asset": {"version": "2.0"}}'))


@pytest.mark.parametrize(
    "uri",
    [
        "../secret.bin",
        "a/../../secret.bin",
        "%2e%2e/secret.bin",
        "/etc/passwd",
        "file:///etc/passwd",
        "C:\\secret.bin",
        "..\\secret.bin",
    ],
)
def test_a_buffer_outside_the_folder_is_never_opened(tmp_path, uri):
    document, binary = of(("block", cube(4)))
    (tmp_path / "secret.bin").write_bytes(binary)
    (tmp_path / "inner").mkdir()
    document["buffers"] = [{"byteLength": len(binary), "uri": uri}]
    assert "outside its folder" in refused(put(tmp_path / "inner" / "a.gltf", json.dumps(document)))


def test_a_link_that_leads_outside_the_folder_is_not_followed(tmp_path):
    document, binary = of(("block", cube(4)))
    (tmp_path / "secret.bin").write_bytes(binary)
    (tmp_path / "inner").mkdir()
    try:
        (tmp_path / "inner" / "near.bin").symlink_to(tmp_path / "secret.bin")
    except OSError:
        pytest.skip("this system lets nobody make links")
    document["buffers"] = [{"byteLength": len(binary), "uri": "near.bin"}]
    assert "outside its folder" in refused(put(tmp_path / "inner" / "a.gltf", json.dumps(document)))


@pytest.mark.parametrize(
    ("uri", "words"),
    [
        ("none.bin", "not beside it"),
        ("n" * 5000, "cannot be opened"),
        ("nul\0.bin", "outside"),
        ("data:application/octet-stream;base64,@@@", "breaks off"),
        ("data:text/plain,hello", "not known"),
        ("data:;base64," + base64.b64encode(b"short").decode(), "there are 5"),
        (7, "nowhere"),
    ],
    ids=["none", "long", "nul", "letters", "plain", "short", "number"],
)
def test_a_buffer_that_is_not_there_is_told(tmp_path, uri, words):
    document, binary = of(("block", cube(4)))
    document["buffers"] = [{"byteLength": len(binary), "uri": uri}]
    assert words in refused(put(tmp_path / "a.gltf", json.dumps(document)))


def test_instances_that_multiply_are_stopped_at_the_limit(tmp_path):
    made = Gltf()
    block = made.mesh(made.primitive(cube(1)))
    for _ in range(1000):
        made.node(block)
    assert "limit is 10,000" in refused(put(tmp_path / "a.glb", glb(made.done(), made.binary)), limit_count=10_000)


def test_parts_that_share_one_corner_list_are_stopped_at_the_limit(tmp_path):
    made = Gltf()
    part = made.primitive(cube(1))
    made.node(made.mesh(*[part] * 1000))
    assert "limit is 10,000" in refused(put(tmp_path / "a.glb", glb(made.done(), made.binary)), limit_count=10_000)
