"""glTF files for the tests, put together by hand out of meshes, without a library."""

import base64
import json
import struct
from pathlib import Path

import numpy as np

from pourwell.geometry.mesh import Mesh

CODES = {"u1": 5121, "u2": 5123, "u4": 5125, "f4": 5126, "i2": 5122, "i1": 5120}
TYPES = {1: "SCALAR", 3: "VEC3"}


class Gltf:
    """A glTF under construction: arrays go in, numbers of accessors come out."""

    def __init__(self) -> None:
        self.binary = b""
        self.root: dict = {"asset": {"version": "2.0"}, "accessors": [], "bufferViews": [], "meshes": [], "nodes": [], "scene": 0}

    def view(self, data: bytes, **more) -> int:
        """A buffer view of these bytes."""
        self.binary += b"\0" * (-len(self.binary) % 4)
        self.root["bufferViews"].append({"buffer": 0, "byteOffset": len(self.binary), "byteLength": len(data), **more})
        self.binary += data
        return len(self.root["bufferViews"]) - 1

    def array(self, array, kind: str, **more) -> int:
        """An accessor of this array, stored as this kind."""
        array = np.atleast_2d(np.asarray(array).T).T.astype("<" + kind)
        entry = {"bufferView": self.view(array.tobytes()), "componentType": CODES[kind], "count": len(array)}
        self.root["accessors"].append({**entry, "type": TYPES[array.shape[1]], **more})
        return len(self.root["accessors"]) - 1

    def primitive(self, mesh: Mesh, *, kind: str = "u2", **more) -> dict:
        """A primitive of a mesh's triangles."""
        corners, order = self.array(mesh.vertices, "f4"), self.array(mesh.faces.reshape(-1), kind)
        return {"attributes": {"POSITION": corners}, "indices": order, **more}

    def mesh(self, *primitives: dict, **more) -> int:
        """A mesh of primitives."""
        self.root["meshes"].append({"primitives": list(primitives), **more})
        return len(self.root["meshes"]) - 1

    def node(self, mesh: int | None = None, **more) -> int:
        """A node, with a mesh or without."""
        self.root["nodes"].append(({} if mesh is None else {"mesh": mesh}) | more)
        return len(self.root["nodes"]) - 1

    def done(self, roots: list[int] | None = None, **more) -> dict:
        """The JSON with its one scene; all nodes lie in it by default."""
        wanted = list(range(len(self.root["nodes"]))) if roots is None else roots
        return {**self.root, "scenes": [{"nodes": wanted}], "buffers": [{"byteLength": len(self.binary)}], **more}


def glb(document: dict | bytes, binary: bytes, *, version: int = 2, length: int | None = None, lie: int = 0) -> bytes:
    """A GLB; `length` overrides the header's, `lie` is added to the length that the JSON chunk promises."""
    text = document if isinstance(document, bytes) else json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    binary += b"\0" * (-len(binary) % 4)
    chunks = struct.pack("<II", len(text) + lie, 0x4E4F534A) + text + struct.pack("<II", len(binary), 0x004E4942) + binary
    return struct.pack("<4sII", b"glTF", version, 12 + len(chunks) if length is None else length) + chunks


def gltf(document: dict, binary: bytes, *, beside: Path | None = None) -> str:
    """A glTF as text: its buffer written into it, or into a file beside it."""
    if beside is None:
        uri = "data:application/octet-stream;base64," + base64.b64encode(binary).decode()
    else:
        beside.write_bytes(binary)
        uri = beside.name
    return json.dumps({**document, "buffers": [{"byteLength": len(binary), "uri": uri}]})


def of(*meshes: tuple[str, Mesh], **node) -> tuple[dict, bytes]:
    """The JSON and the buffer of named meshes, a node each."""
    made = Gltf()
    for name, mesh in meshes:
        made.node(made.mesh(made.primitive(mesh)), name=name, **node)
    return made.done(), made.binary
