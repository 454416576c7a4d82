"""The bodies of a glTF 2.0 file: its meshes in the places that its nodes give them, in metres, turned so that z is up.

glTF has y up and a drawing program z, which it turns when it writes; so x, y, z of the file become x, -z, y, and what was drawn
lies again as it was drawn. What is packed, posed by a skeleton or multiplied by an extension is refused, never read wrongly.

Source: Khronos Group, glTF 2.0 Specification (ISO/IEC 12113:2022), sections 3.4 to 3.7.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np

from pourwell.files.pattern_glb import Document, Thing, inner, listed, name_of, numbers, thing_at, whole
from pourwell.files.pattern_limits import MOST_PARTS, DamagedError, too_many
from pourwell.files.pattern_numbers import single_step
from pourwell.files.pattern_parts import apart_or_joined
from pourwell.geometry.mesh import Floats, Ints, Mesh

UPRIGHT: Final = np.array([[1.0, 0, 0, 0], [0, 0, -1, 0], [0, 1, 0, 0], [0, 0, 0, 1]])
TRIANGLES, STRIP, FAN = 4, 5, 6
HARMLESS: Final = ("KHR_materials_", "KHR_texture_", "KHR_lights_", "EXT_texture_", "KHR_mesh_quantization", "KHR_xmp")
"""Extensions that a file may require and that move no triangle, by how their names begin; and whole numbers for corners."""

Placed = list[tuple[str, Mesh]]


def read_gltf(path: Path, limit_count: int) -> tuple[Placed, tuple[str, ...], float]:
    """The named bodies of a GLB or glTF file in metres, z up, what is odd, and the step of its numbers. Raises BadFileError."""
    try:
        return bodies_of(path.read_bytes(), path.parent, name=path.name, limit_count=limit_count)
    except DamagedError as err:
        raise err.of(path.name) from err


def bodies_of(
    data: bytes, folder: Path | None, *, name: str, limit_count: int, turn: bool = True
) -> tuple[Placed, tuple[str, ...], float]:
    """The named bodies in the bytes of a file, what is odd, and by how much its numbers step at the farthest corner.

    Buffers may lie in a folder; bodies are turned so that z is up unless it is already.

    Raises DamagedError, and BadFileError for more triangles than the limit.
    """
    scene = _Scene(Document(data, folder), name=name, limit_count=limit_count)
    with np.errstate(all="ignore"):  # numbers out of all bounds are told of by the caller
        bodies = list(scene.bodies(UPRIGHT if turn else np.eye(4)))
    return bodies, scene.remarks(), scene.step


class _Scene:
    """One file's meshes, each read once, and its nodes."""

    def __init__(self, document: Document, *, name: str, limit_count: int) -> None:
        self._document, self._name, self._limit = document, name, limit_count
        self._meshes: dict[int, list[tuple[str, Floats, Ints]]] = {}
        self._read = self._placed = self._parts = 0
        self._lines = self._flat = self._scenes = 0
        self.step = 0.0
        """By how much single numbers step at the farthest corner of any body, as large as it is placed."""
        for extension in listed(document.root, "extensionsRequired"):
            if not str(extension).startswith(HARMLESS):
                raise DamagedError(f"it cannot be read without {str(extension)[:40]}", try_this="Export it without compression.")

    def remarks(self) -> tuple[str, ...]:
        """What was left out, in sentences."""
        told = (
            (self._scenes > 1, f"It holds {self._scenes} scenes; only the one that it shows first was read."),
            (self._lines, f"{self._lines} sets of lines or points in it were left out: they enclose nothing."),
            (self._flat, f"{self._flat} bodies in it are scaled to nothing, and were left out."),
        )
        return tuple(sentence for so, sentence in told if so)

    def _roots(self) -> list[object]:
        root = self._document.root
        scenes, nodes = listed(root, "scenes"), listed(root, "nodes")
        self._scenes = len(scenes)
        if scenes:
            return listed(thing_at(scenes, root.get("scene", 0), "scene"), "nodes")
        below = {child for node in nodes if isinstance(node, dict) for child in listed(node, "children") if isinstance(child, int)}
        return [k for k in range(len(nodes)) if k not in below]

    def bodies(self, outer: Floats) -> Iterator[tuple[str, Mesh]]:
        """Every mesh in its place, down the tree of nodes."""
        nodes = listed(self._document.root, "nodes")
        waiting, seen = [(index, outer) for index in reversed(self._roots())], set()
        while waiting:
            index, above = waiting.pop()
            node = thing_at(nodes, index, "node")
            if index in seen:
                raise DamagedError(f"node {index} is placed twice, or within itself")
            seen.add(index)
            transform = above @ _local(node)
            if "mesh" in node:
                yield from self._instance(node, transform)
            waiting += [(child, transform) for child in reversed(listed(node, "children"))]

    def _instance(self, node: Thing, transform: Floats) -> Iterator[tuple[str, Mesh]]:
        if "skin" in node:
            raise DamagedError("a body is posed by a skeleton", try_this="Apply the pose in the drawing program, and export again.")
        if "EXT_mesh_gpu_instancing" in inner(node, "extensions"):
            raise DamagedError("a body is multiplied (EXT_mesh_gpu_instancing)", try_this="Export each body by itself.")
        mesh = thing_at(listed(self._document.root, "meshes"), node["mesh"], "mesh")
        parts = self._mesh(int(node["mesh"]), mesh)
        self._parts += max(1, len(parts))
        self._placed += sum(len(faces) for _, _, faces in parts)
        if self._placed > self._limit or self._parts > MOST_PARTS:
            raise too_many(self._name, self._placed if self._placed > self._limit else None, self._limit)
        turn = np.linalg.det(transform[:3, :3])
        if turn == 0:
            self._flat += 1
            return
        grows = float(np.abs(transform[:3, :3]).sum(axis=1).max())
        self.step = max(self.step, *(grows * single_step(points) for _, points, _ in parts), 0.0)
        named = name_of(node) or name_of(mesh)
        placed = [
            (material, Mesh(points @ transform[:3, :3].T + transform[:3, 3], faces[:, ::-1] if turn < 0 else faces))
            for material, points, faces in parts
        ]
        yield from apart_or_joined(named, placed)

    def _mesh(self, index: int, mesh: Thing) -> list[tuple[str, Floats, Ints]]:
        """The parts of a mesh, one for every material: its name, the corners that are used, and the triangles between them."""
        if index not in self._meshes:
            found = [self._primitive(part, mesh) for part in listed(mesh, "primitives")]
            self._meshes[index] = [part for part in found if part is not None]
        return self._meshes[index]

    def _primitive(self, part: object, mesh: Thing) -> tuple[str, Floats, Ints] | None:
        if not isinstance(part, dict):
            raise DamagedError("a mesh makes no sense")
        mode = whole(part, "mode", TRIANGLES)
        if mode > FAN:
            raise DamagedError(f"a mesh is put together in a way that is not known ({mode})")
        if "KHR_draco_mesh_compression" in inner(part, "extensions"):
            raise DamagedError("its triangles are packed (KHR_draco_mesh_compression)", try_this="Export it without compression.")
        if mode < TRIANGLES:
            self._lines += 1
            return None
        corners = self._positions(inner(part, "attributes").get("POSITION"))
        order = self._order(part["indices"], len(corners[0])) if "indices" in part else np.arange(len(corners[0]))
        faces = _faces(order, mode)
        self._read += len(faces)
        if self._read > self._limit:
            raise too_many(self._name, self._read, self._limit)
        if not len(faces):
            return None
        used, renumbered = np.unique(faces, return_inverse=True)
        points = _scaled(*corners, used)
        for weight, target in zip(_weights(mesh), listed(part, "targets"), strict=False):
            if weight and isinstance(target, dict) and "POSITION" in target:
                moved = self._positions(target["POSITION"])
                if len(moved[0]) != len(corners[0]):
                    raise DamagedError("a shape that the body is drawn towards has not as many corners as the body")
                points = points + weight * _scaled(*moved, used)
        material = part.get("material")
        named = "" if material is None else name_of(thing_at(listed(self._document.root, "materials"), material, "material"))
        return named, points, renumbered.reshape(-1, 3).astype(np.int64)

    def _positions(self, index: object) -> tuple[np.ndarray, bool]:
        array, share = self._document.array(index)
        if array.shape[1] != 3:
            raise DamagedError("corners have not three coordinates each")
        return array, share

    def _order(self, index: object, count: int) -> Ints:
        array, _ = self._document.array(index)
        if array.shape[1] != 1 or array.dtype.kind != "u":
            raise DamagedError("the corners of its triangles are not named by counts")
        if len(array) > 3 * self._limit + 2:
            raise too_many(self._name, len(array) // 3, self._limit)
        order = array[:, 0].astype(np.int64)
        if len(order) and order.max() >= count:
            raise DamagedError(f"a triangle names corner {order.max():,}, but there are {count:,}")
        return order


def _weights(mesh: Thing) -> list[float]:
    """How far a mesh is drawn towards each of its other shapes."""
    weights = listed(mesh, "weights")
    return numbers(mesh, "weights", (0.0,) * len(weights)).tolist() if weights else []


def _scaled(array: np.ndarray, share: bool, used: Ints) -> Floats:
    """The corners that are used, as numbers; whole numbers that stand for shares of one are divided by their largest."""
    points = array[used].astype(np.float64)
    if share and array.dtype.kind in "iu":
        points = np.maximum(points / np.iinfo(array.dtype).max, -1.0)
    return points


def _faces(order: Ints, mode: int) -> Ints:
    """Corners in their order as triangles, anticlockwise; those of a strip or fan with a corner twice are joints, and dropped."""
    if mode == TRIANGLES:
        return order[: len(order) // 3 * 3].reshape(-1, 3)
    if len(order) < 3:
        return np.zeros((0, 3), dtype=np.int64)
    k = np.arange(len(order) - 2)
    odd = k % 2 if mode == STRIP else 0 * k
    first = k if mode == STRIP else 0 * k
    a, b, c = order[first], order[k + 1 + odd], order[k + 2 - odd]
    faces: Ints = np.stack((a, b, c), axis=1)[(a != b) & (b != c) & (c != a)]
    return faces


def _local(node: Thing) -> Floats:
    """The transform of a node against the one above it, (4, 4)."""
    if "matrix" in node:
        matrix = numbers(node, "matrix", (0.0,) * 16).reshape(4, 4).T
        if not np.allclose(matrix[3], (0, 0, 0, 1)):
            raise DamagedError("a transform is no transform of space")
        return matrix
    x, y, z, w = numbers(node, "rotation", (0.0, 0.0, 0.0, 1.0))
    length = np.sqrt(x * x + y * y + z * z + w * w)
    if not 0 < length < np.inf:
        raise DamagedError("a rotation turns about nothing")
    x, y, z, w = np.array((x, y, z, w)) / length
    turn = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    out = np.eye(4)
    out[:3, :3] = turn * numbers(node, "scale", (1.0, 1.0, 1.0))
    out[:3, 3] = numbers(node, "translation", (0.0, 0.0, 0.0))
    return out
