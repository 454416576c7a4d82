"""What drawing programs really write: marks before a text, commas for points, capitals, odd faces, colours, corners left over."""

import struct
import zipfile

import numpy as np
import pytest

from pourwell.files.patterns import read_pattern
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import faults
from tests.unit.files.gltf_files import glb, of
from tests.unit.files.pattern_files import (
    CUBE_CORNERS,
    CUBE_QUADS,
    ONE,
    binary_stl,
    cube,
    mesh_xml,
    obj,
    ply,
    put,
    refused,
    text_stl,
    threemf,
    volume,
)

BOM = b"\xef\xbb\xbf"
SHARP = CUBE_CORNERS * 4.5
"""A cube of 4.5, so that its corners need a decimal."""
TEXTS = {
    "stl": lambda: text_stl([("block", Mesh(SHARP, cube().faces))]),
    "obj": lambda: obj(SHARP, CUBE_QUADS),
    "ply": lambda: ply("ascii", SHARP, CUBE_QUADS).decode(),
}
DENT = np.array([[0, 0], [6, 0], [6, 6], [3, 1], [0, 6]], dtype=float)
"""A square with a notch down into it, 36 - 15 = 21 mm2; not convex at its fourth corner."""


def notched() -> tuple[np.ndarray, list[list[int]]]:
    """A bar of that outline, 2 high: two faces of five corners that are not convex, five of four."""
    n = len(DENT)
    points = np.vstack([np.column_stack((DENT, np.full(n, z))) for z in (0.0, 2.0)])
    return points, [list(range(n))[::-1], list(range(n, 2 * n)), *([k, (k + 1) % n, (k + 1) % n + n, k + n] for k in range(n))]


# --- texts ---


@pytest.mark.parametrize("kind", TEXTS)
@pytest.mark.parametrize("line", ["\n", "\r\n", "\r"], ids=["unix", "windows", "old"])
@pytest.mark.parametrize("mark", [b"", BOM], ids=["bare", "mark"])
def test_a_text_may_begin_with_a_mark_and_end_its_lines_any_way(tmp_path, kind, line, mark):
    path = put(tmp_path / f"a.{kind}", mark + TEXTS[kind]().replace("\n", line).encode())
    assert volume(read_pattern(path)) == pytest.approx(4.5**3)


@pytest.mark.parametrize("kind", TEXTS)
def test_commas_for_points_are_read_and_told(tmp_path, kind):
    text = TEXTS[kind]().replace("4.5", "4,5")
    file = read_pattern(put(tmp_path / f"a.{kind}", text))
    assert volume(file) == pytest.approx(4.5**3)
    assert "comma" in file.remarks[0]


@pytest.mark.parametrize("kind", TEXTS)
def test_commas_and_points_side_by_side_are_refused(tmp_path, kind):
    text = TEXTS[kind]()
    at = text.rindex("4.5")
    assert "4,5" in text[:at].replace("4.5", "4,5")
    for mixed in (text[:at].replace("4.5", "4,5") + text[at:], text[:at] + "4,5" + text[at + 3 :], text.replace("4.5", "4,000,5")):
        refused(put(tmp_path / f"a.{kind}", mixed))


def test_a_corner_without_a_comma_may_stand_among_those_with_one(tmp_path):
    text = obj(CUBE_CORNERS * [4, 4, 4.25], CUBE_QUADS).replace("4.25", "4,25")
    assert volume(read_pattern(put(tmp_path / "a.obj", text))) == pytest.approx(68)


def test_an_obj_in_capitals_with_tabs_and_spaces_is_read(tmp_path):
    text = obj(SHARP, CUBE_QUADS).replace("v ", "  V\t").replace("f ", "\tF  ").replace("\n", "  \n")
    assert volume(read_pattern(put(tmp_path / "a.obj", "# made by hand\n" + text))) == pytest.approx(4.5**3)


def test_an_obj_may_begin_with_a_line_that_goes_on(tmp_path):
    text = obj(SHARP, CUBE_QUADS).replace("v 0 0 0", "v \\\n0 0 0", 1)
    assert volume(read_pattern(put(tmp_path / "a.obj", text))) == pytest.approx(4.5**3)


def test_a_name_cannot_steer_the_screen(tmp_path):
    content = glb(*of(("ring {l:.}\x1b[2J\x07\n\u202egnir \ud800", cube(4)), ("x" * 500, cube(1, (9, 0, 0)))))
    names = [body.name for body in read_pattern(put(tmp_path / "a.glb", content)).bodies]
    assert all(name.isprintable() for name in names)
    assert names[0].startswith("ring (l:.)")
    assert len(names[1]) == 100


def test_two_solids_of_one_text_without_their_last_lines_are_both_read(tmp_path):
    content = text_stl([("shank", cube(4)), ("head", cube(2, (1, 1, 4)))], end=False)
    file = read_pattern(put(tmp_path / "a.stl", content))
    assert [body.name for body in file.bodies] == ["shank", "head"]
    assert "endsolid" in file.remarks[0]


def test_a_text_stl_that_ends_between_two_triangles_is_refused(tmp_path):
    content = text_stl([("block", cube(4))])
    at = content.index("endfacet", len(content) // 2) + len("endfacet\n")
    assert "cut short" in refused(put(tmp_path / "a.stl", content[:at]))


def test_a_text_stl_with_four_corners_in_a_facet_is_refused(tmp_path):
    content = text_stl([("block", cube(4))]).replace("    endloop", "      vertex 1 1 1\n    endloop", 1)
    assert "three corners" in refused(put(tmp_path / "a.stl", content))


def test_a_text_stl_without_line_ends_or_of_one_long_word_is_refused(tmp_path):
    refused(put(tmp_path / "a.stl", b"solid " + b"9" * 3_000_000))
    refused(put(tmp_path / "b.stl", text_stl([("block", cube(4))]).replace("\n", " ")))
    refused(put(tmp_path / "c.stl", text_stl([("block", cube(4))]).replace("vertex 4 ", "vertex " + "4" * 3_000_000 + " ", 1)))


def test_a_text_that_goes_on_past_all_bounds_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "a.stl"
    with path.open("wb") as file:  # takes no room on the disk, and must take none in memory
        file.write(b"solid endless\n" + b"facet normal 0 0 1\n" * 5000)
        file.truncate(3_000_000_000)
    assert "3,000 MB" in refused(path)
    with path.open("r+b") as file:
        file.truncate(900_000_000)
    assert "limit is 1,000,000 triangles" in refused(path, limit_count=1_000_000)


# --- bytes ---


def test_a_binary_stl_may_carry_colours_and_any_header(tmp_path):
    path = binary_stl(tmp_path / "a.stl", cube(4.5), header=b"solid COLOR=\xff\x00\x80\xff,MATERIAL=\x00")
    content = bytearray(path.read_bytes())
    for k in range(12):
        content[84 + 50 * k + 48 : 84 + 50 * k + 50] = struct.pack("<H", 0x8000 | (k * 999))
    assert volume(read_pattern(put(path, bytes(content)))) == pytest.approx(4.5**3)


@pytest.mark.parametrize("count", [0, 11, 13, 2**32 - 1])
def test_a_binary_stl_whose_header_lies_is_told(tmp_path, count):
    path = binary_stl(tmp_path / "a.stl", cube(4), count=count)
    if count == 11:
        assert "50 bytes" in read_pattern(path).remarks[0]
    else:
        refused(path)


@pytest.mark.parametrize("form", ["ascii", "binary_little_endian", "binary_big_endian"])
def test_faces_of_a_ply_that_are_not_convex_keep_their_area(tmp_path, form):
    file = read_pattern(put(tmp_path / "a.ply", ply(form, *notched())))
    assert volume(file) == pytest.approx(42)
    assert faults(file.bodies[0].mesh).sound
    assert file.bodies[0].mesh.area_mm2 == pytest.approx(
        2 * 21 + 2 * np.linalg.norm(np.diff(np.vstack((DENT, DENT[:1])), axis=0), axis=1).sum()
    )


def test_faces_of_an_obj_that_are_not_convex_may_count_backward(tmp_path):
    points, faces = notched()
    lines = [f"v {x} {y} {z}" for x, y, z in points] + ["f " + " ".join(str(i - len(points)) for i in face) for face in faces]
    assert volume(read_pattern(put(tmp_path / "a.obj", "\n".join(lines)))) == pytest.approx(42)


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize(("count", "index"), [("uchar", "int"), ("ushort", "ushort"), ("uint", "uchar"), ("char", "short")])
def test_a_ply_counts_in_numbers_of_any_length_and_order(tmp_path, order, count, index):
    codes = {"uchar": "B", "ushort": "H", "uint": "I", "char": "b", "short": "h", "int": "i"}
    form = "binary_little_endian" if order == "<" else "binary_big_endian"
    lists = f"property list {count} float quality\nproperty list {count} {index} vertex_index\nproperty uchar flags\n"
    head = f"ply\nformat {form} 1.0\nelement vertex 8\nproperty double z\nproperty double x\nproperty short y\n"
    body = b"".join(struct.pack(order + "ddh", z, x, int(y)) for x, y, z in CUBE_CORNERS * 4)
    for k, face in enumerate(CUBE_QUADS[:3] + cube().faces.tolist()[6:]):
        body += struct.pack(order + codes[count] + f"{k % 4}f", k % 4, *[0.5] * (k % 4))
        body += struct.pack(order + codes[count] + f"{len(face)}{codes[index]}B", len(face), *face, 7)
    path = put(tmp_path / "a.ply", f"{head}element face 9\n{lists}end_header\n".encode() + body)
    assert volume(read_pattern(path)) == pytest.approx(64)


def test_a_list_of_fewer_than_no_numbers_is_refused_at_once(tmp_path):
    head = "ply\nformat {} 1.0\nelement edge 4000000000\nproperty list char int vertices\nend_header\n"
    refused(put(tmp_path / "a.ply", head.format("binary_little_endian").encode() + b"\xff" * 1000))
    refused(put(tmp_path / "b.ply", head.format("ascii").encode() + b"-1 " * 1000))


def test_a_long_number_in_a_ply_takes_no_more_memory_than_it_is_long(tmp_path):
    content = ply("ascii", CUBE_CORNERS * 4, CUBE_QUADS).replace(b"7\n", b"7" + b"0" * 200_000 + b"\n", 1)
    assert volume(read_pattern(put(tmp_path / "a.ply", content))) == pytest.approx(64)


@pytest.mark.parametrize("kind", ["obj", "ply", "3mf", "glb"])
def test_corners_that_no_triangle_uses_are_left_alone(tmp_path, kind):
    far = np.vstack((CUBE_CORNERS * 4, [[1e6, 0, 0], [np.inf, 0, 0]]))
    mesh = Mesh(far, cube().faces)
    path = tmp_path / f"a.{kind}"
    if kind == "3mf":
        threemf(path, f'<object id="1">{mesh_xml(mesh)}</object>', '<item objectid="1"/>')
    elif kind == "glb":
        put(path, glb(*of(("a", mesh))))
    else:
        put(path, obj(far, CUBE_QUADS) if kind == "obj" else ply("binary_little_endian", far, CUBE_QUADS))
    file = read_pattern(path, units="mm")
    assert volume(file) == pytest.approx(64)
    assert file.bodies[0].mesh.envelope_mm == pytest.approx((4, 4, 4))


# --- bombs ---


def test_a_zip_bomb_is_refused_before_it_is_unpacked(tmp_path):
    with zipfile.ZipFile(tmp_path / "a.3mf", "w", zipfile.ZIP_DEFLATED) as archive, archive.open("3D/3dmodel.model", "w") as file:
        file.write(b"<model><resources>")
        for _ in range(64):
            file.write(b" " * (1 << 20))
    assert (tmp_path / "a.3mf").stat().st_size < 100_000
    assert "too large" in refused(tmp_path / "a.3mf", limit_count=100_000)


def test_a_model_hidden_under_another_name_counts_as_well(tmp_path):
    inner = f"<model><resources><object id='7'>{mesh_xml(cube(4))}</object></resources><build/></model>" + " " * 3_000_000
    objects = '<object id="2"><components><component objectid="7" p:path="/thumbnail.png"/></components></object>'
    path = threemf(tmp_path / "a.3mf", objects, '<item objectid="2"/>', more={"thumbnail.png": inner})
    assert "too large" in refused(path, limit_count=5000)


def test_corners_without_end_are_stopped_at_the_limit(tmp_path):
    mesh = mesh_xml(cube(4)).replace("</vertices>", '<vertex x="0" y="0" z="0"/>' * 400 + "</vertices>")
    path = threemf(tmp_path / "a.3mf", f'<object id="1">{mesh}</object>', '<item objectid="1"/>')
    assert "too large" in refused(path, limit_count=120)


def test_objects_nested_without_end_are_refused(tmp_path):
    nested = "".join(f'<object id="{k}"><components><component objectid="{k - 1}"/></components></object>' for k in range(2, 600))
    assert "deep" in refused(threemf(tmp_path / "a.3mf", ONE + nested, '<item objectid="599"/>'))
