"""GLB and glTF: every way of storing triangles read back, transforms, mirrored nodes, units.

The reader is our own; a general-purpose mesh library's is the second opinion.
"""

from pathlib import Path

import numpy as np
import pytest
import trimesh

from pourwell.files.patterns import read_pattern
from pourwell.files.solids import tree_glb
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import plain_band
from pourwell.geometry.solidity import faults
from tests.unit.files.gltf_files import Gltf, glb, gltf, of
from tests.unit.files.pattern_files import CUBE_CORNERS, cube, put, volume

QUARTER = [0.0, 0.0, np.sqrt(0.5), np.sqrt(0.5)]
"""A quarter turn about z."""


def read(tmp_path: Path, document: dict, binary: bytes, **options):
    return read_pattern(put(tmp_path / "piece.glb", glb(document, binary)), **{"units": "mm", **options})


def test_a_glb_is_read_in_metres_with_its_names(tmp_path):
    file = read_pattern(put(tmp_path / "a.glb", glb(*of(("shank", cube(0.004)), ("stone", cube(0.002, (0.01, 0, 0)))))))
    assert (file.kind, file.units, file.units_from, file.own_units) == ("GLB", "m", "file", "m")
    assert [body.name for body in file.bodies] == ["shank", "stone"]
    assert [body.mesh.volume_mm3 for body in file.bodies] == pytest.approx([64, 8], rel=1e-6)
    assert all(faults(body.mesh).sound for body in file.bodies)


def test_what_the_user_says_beats_the_metres(tmp_path):
    file = read(tmp_path, *of(("block", cube(4))))
    assert (file.units, file.units_from, file.own_units) == ("mm", "user", "m")
    assert volume(file) == pytest.approx(64)


def test_z_is_up_as_it_was_drawn(tmp_path):
    slab = Mesh(CUBE_CORNERS * [8, 4, 2], cube().faces)
    file = read(tmp_path, *of(("slab", slab)))
    assert file.bodies[0].mesh.envelope_mm == pytest.approx((8, 2, 4)), "y of the file is up, and z comes towards you"
    assert file.bodies[0].mesh.bounds[0] == pytest.approx([0, -2, 0])


def test_a_tree_that_we_wrote_lies_where_it_lay(tmp_path):
    parts = [("piece 1", plain_band()), ("button", cube(5, (30, 0, 7)))]
    file = read_pattern(put(tmp_path / "tree.glb", tree_glb(parts)))
    assert [body.name for body in file.bodies] == ["piece 1", "button"]
    for body, (_, mesh) in zip(file.bodies, parts, strict=True):
        assert np.allclose(body.mesh.bounds, mesh.bounds, atol=1e-5)
        assert body.mesh.volume_mm3 == pytest.approx(mesh.volume_mm3, rel=1e-5)


@pytest.mark.parametrize("beside", [True, False])
def test_a_gltf_finds_its_buffer_beside_it_or_within_it(tmp_path, beside):
    document, binary = of(("block", cube(4)))
    text = gltf(document, binary, beside=tmp_path / "the buffer.bin" if beside else None).replace("the buffer", "the%20buffer")
    file = read_pattern(put(tmp_path / "a.gltf", text), units="mm")
    assert file.kind == "glTF"
    assert volume(file) == pytest.approx(64)


def test_a_gltf_may_begin_with_a_byte_order_mark_and_spaces(tmp_path):
    text = "\n " + gltf(*of(("block", cube(4))))
    assert volume(read_pattern(put(tmp_path / "a.gltf", b"\xef\xbb\xbf" + text.encode()), units="mm")) == pytest.approx(64)


@pytest.mark.parametrize("kind", ["u1", "u2", "u4"])
def test_corners_are_named_by_counts_of_any_length(tmp_path, kind):
    made = Gltf()
    made.node(made.mesh(made.primitive(cube(4), kind=kind)))
    assert volume(read(tmp_path, made.done(), made.binary)) == pytest.approx(64)


def test_triangles_may_be_stored_without_naming_corners(tmp_path):
    made = Gltf()
    made.node(made.mesh({"attributes": {"POSITION": made.array(cube(4).corners.reshape(-1, 3), "f4")}}))
    file = read(tmp_path, made.done(), made.binary)
    assert file.triangle_count == 12
    assert volume(file) == pytest.approx(64)


def test_rows_may_lie_apart_from_one_another(tmp_path):
    made = Gltf()
    rows = np.zeros((8, 6), dtype="<f4")
    rows[:, 3:] = cube(4).vertices
    view = made.view(b"\1\2\3\4" + rows.tobytes(), byteStride=24)
    made.root["accessors"].append(
        {"bufferView": view, "byteOffset": 16, "componentType": 5126, "count": 8, "type": "VEC3", "name": "after a normal"}
    )
    made.node(made.mesh({"attributes": {"POSITION": 0}, "indices": made.array(cube().faces.reshape(-1), "u2")}))
    file = read(tmp_path, made.done(), made.binary)
    assert volume(file) == pytest.approx(64)


def test_a_strip_and_fans_keep_the_outside_out(tmp_path):
    """A prism: its side is one strip round, its two ends are fans."""
    sides = 7
    angle = np.arange(sides) * 2 * np.pi / sides
    ring = np.column_stack((np.cos(angle), np.sin(angle)))
    points = np.vstack([np.column_stack((ring, np.full(sides, z))) for z in (0.0, 3.0)])
    around = [corner for k in range(sides + 1) for corner in (k % sides + sides, k % sides)]
    made = Gltf()
    corners = made.array(points, "f4")
    strips = [(5, around), (6, list(range(sides - 1, -1, -1))), (6, list(range(sides, 2 * sides)))]
    parts = [{"attributes": {"POSITION": corners}, "indices": made.array(order, "u1"), "mode": mode} for mode, order in strips]
    made.node(made.mesh(*parts), name="prism")
    file = read(tmp_path, made.done(), made.binary)
    area = sides / 2 * np.sin(2 * np.pi / sides)
    assert [body.name for body in file.bodies] == ["prism"], "its open patches are one body"
    assert faults(file.bodies[0].mesh).sound
    assert volume(file) == pytest.approx(3 * area, rel=1e-6)


def test_a_strip_may_be_stitched_by_triangles_without_area(tmp_path):
    made = Gltf()
    quads = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
    order: list[int] = []
    for a, b, c, d in quads:
        order += ([order[-1], a] if order else []) + [a, b, d, c]
    made.node(
        made.mesh({"attributes": {"POSITION": made.array(CUBE_CORNERS * 4, "f4")}, "indices": made.array(order, "u1"), "mode": 5})
    )
    file = read(tmp_path, made.done(), made.binary)
    assert file.triangle_count == 12
    assert faults(file.bodies[0].mesh).sound
    assert volume(file) == pytest.approx(64)


def test_corners_may_be_put_in_place_of_others(tmp_path):
    """A sparse accessor: a cube of 4 whose upper half is raised to 6."""
    made = Gltf()
    part = made.primitive(cube(4))
    high = np.flatnonzero(cube(4).vertices[:, 2] > 0)
    moved = cube(4).vertices[high] + [0, 0, 2]
    made.root["accessors"][0]["sparse"] = {
        "count": 4,
        "indices": {"bufferView": made.view(high.astype("<u1").tobytes()), "componentType": 5121},
        "values": {"bufferView": made.view(moved.astype("<f4").tobytes())},
    }
    made.node(made.mesh(part))
    assert volume(read(tmp_path, made.done(), made.binary)) == pytest.approx(96)


def test_corners_may_come_from_nothing_but_replacements(tmp_path):
    made = Gltf()
    part = made.primitive(cube(4))
    del made.root["accessors"][0]["bufferView"]
    made.root["accessors"][0]["sparse"] = {
        "count": 8,
        "indices": {"bufferView": made.view(np.arange(8, dtype="<u4").tobytes()), "componentType": 5125},
        "values": {"bufferView": made.view(cube(4).vertices.astype("<f4").tobytes())},
    }
    made.node(made.mesh(part))
    assert volume(read(tmp_path, made.done(), made.binary)) == pytest.approx(64)


@pytest.mark.parametrize(("kind", "share", "side"), [("i2", True, 32767), ("i2", False, 1), ("u1", True, 255)])
def test_corners_may_be_whole_numbers(tmp_path, kind, share, side):
    made = Gltf()
    corners = made.array(CUBE_CORNERS * side, kind, normalized=share)
    made.node(made.mesh({"attributes": {"POSITION": corners}, "indices": made.array(cube().faces.reshape(-1), "u1")}))
    file = read(tmp_path, made.done(extensionsRequired=["KHR_mesh_quantization"]), made.binary)
    assert volume(file) == pytest.approx(1)


def test_a_body_drawn_towards_another_shape_is_read_as_it_is_shown(tmp_path):
    made = Gltf()
    part = made.primitive(cube(4))
    part["targets"] = [{"POSITION": made.array(CUBE_CORNERS * [0, 0, 4], "f4")}, {"POSITION": made.array(CUBE_CORNERS, "f4")}]
    made.node(made.mesh(part, weights=[0.5, 0]))
    assert volume(read(tmp_path, made.done(), made.binary)) == pytest.approx(4 * 4 * 6)


# --- places ---


def test_transforms_of_nodes_within_nodes_are_put_together(tmp_path):
    made = Gltf()
    block = made.mesh(made.primitive(cube(1)))
    leaf = made.node(block, translation=[1, 0, 0], name="leaf")
    middle = made.node(children=[leaf], rotation=QUARTER, scale=[2, 2, 2])
    root = made.node(children=[middle], matrix=[1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 10, 20, 30, 1])
    file = read(tmp_path, made.done([root]), made.binary)
    low, high = file.bodies[0].mesh.bounds
    assert low == pytest.approx([8, -32, 22], abs=1e-5)  # x 10-2..10, y 22..24, z 30..32 of the file
    assert high == pytest.approx([10, -30, 24], abs=1e-5)
    assert volume(file) == pytest.approx(8, rel=1e-5)


@pytest.mark.parametrize("mirror", [{"scale": [-1, 1, 1]}, {"matrix": [1, 0, 0, 0, 0, -1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1]}])
def test_a_mirrored_node_keeps_its_outside_out(tmp_path, mirror):
    file = read(tmp_path, *of(("block", cube(4)), **mirror))
    assert volume(file) == pytest.approx(64)


def test_a_mesh_is_placed_as_often_as_nodes_name_it(tmp_path):
    made = Gltf()
    block = made.mesh(made.primitive(cube(4)), name="link")
    for k in range(3):
        made.node(block, translation=[10 * k, 0, 0])
    file = read(tmp_path, made.done(), made.binary)
    assert [body.name for body in file.bodies] == ["link"] * 3
    assert volume(file) == pytest.approx(3 * 64)


def test_materials_tell_closed_parts_of_one_mesh_apart(tmp_path):
    made = Gltf()
    parts = [made.primitive(cube(4), material=0), made.primitive(cube(1, (9, 0, 0)), material=1)]
    made.node(made.mesh(*parts), name="solitaire")
    document = made.done(materials=[{"name": "metal"}, {"name": "diamond"}])
    assert [body.name for body in read(tmp_path, document, made.binary).bodies] == ["solitaire metal", "solitaire diamond"]


def test_only_the_scene_that_is_shown_is_read_and_that_is_told(tmp_path):
    made = Gltf()
    made.node(made.mesh(made.primitive(cube(4))))
    made.node(made.mesh(made.primitive(cube(9))))
    file = read(tmp_path, {**made.done(), "scenes": [{"nodes": [1]}, {"nodes": [0]}], "scene": 1}, made.binary)
    assert volume(file) == pytest.approx(64)
    assert "2 scenes" in file.remarks[0]


def test_nodes_without_a_scene_are_read_from_their_roots(tmp_path):
    made = Gltf()
    leaf = made.node(made.mesh(made.primitive(cube(4))))
    made.node(children=[leaf], scale=[2, 1, 1])
    document = {k: v for k, v in made.done().items() if k not in ("scene", "scenes")}
    assert volume(read(tmp_path, document, made.binary)) == pytest.approx(128)


def test_lines_and_bodies_scaled_to_nothing_are_left_out_and_told(tmp_path):
    made = Gltf()
    made.node(made.mesh(made.primitive(cube(4)), made.primitive(cube(4), mode=1)), name="block")
    made.node(0, scale=[1, 0, 1])
    file = read(tmp_path, made.done(), made.binary)
    assert volume(file) == pytest.approx(64)
    assert any("lines or points" in remark for remark in file.remarks)
    assert any("scaled to nothing" in remark for remark in file.remarks)


# --- second opinion ---


def test_another_reader_sees_the_same_bodies_in_the_same_places(tmp_path):
    rng = np.random.default_rng(4)
    made = Gltf()
    meshes = [made.mesh(made.primitive(cube(1 + k))) for k in range(3)]
    leaves = [
        made.node(
            m, translation=rng.uniform(-9, 9, 3).tolist(), rotation=_unit(rng), scale=rng.uniform(0.5, 2, 3).tolist(), name=f"n{m}"
        )
        for m in meshes
    ]
    matrix = np.eye(4)
    matrix[:3, :3] = rng.normal(size=(3, 3))
    root = made.node(children=leaves, matrix=matrix.T.reshape(-1).tolist(), name="root")
    path = put(tmp_path / "a.glb", glb(made.done([root]), made.binary))
    ours, theirs = read_pattern(path, units="mm"), trimesh.load(path, process=False)
    turned = {name: trimesh.transform_points(theirs.geometry[geom].vertices, transform) for name, transform, geom in placed(theirs)}
    assert len(turned) == 3
    for body in ours.bodies:
        x, y, z = turned[body.name].T
        assert np.allclose(np.sort(body.mesh.vertices, axis=0), np.sort(np.column_stack((x, -z, y)), axis=0), atol=1e-5)
        assert body.mesh.volume_mm3 > 0


def placed(scene):
    return [(node, *scene.graph[node]) for node in scene.graph.nodes_geometry]


def _unit(rng) -> list[float]:
    quaternion = rng.normal(size=4)
    return (quaternion / np.linalg.norm(quaternion)).tolist()


@pytest.mark.parametrize("ending", [".glb", ".gltf"])
def test_what_another_program_wrote_is_read(tmp_path, ending):
    scene = trimesh.Scene({"torus": trimesh.creation.torus(10, 2), "block": trimesh.creation.box((4, 4, 4))})
    if ending == ".glb":
        path = put(tmp_path / "a.glb", scene.export(file_type="glb"))
    else:
        for name, data in scene.export(file_type="gltf").items():
            (tmp_path / name).write_bytes(data)
        path = (tmp_path / "model.gltf").rename(tmp_path / "a.gltf")
    file = read_pattern(path, units="mm")
    assert {body.name for body in file.bodies} == {"torus", "block"}
    assert volume(file) == pytest.approx(scene.volume, rel=1e-5)
