"""Pattern files: every format read back, and every bad file refused in a sentence."""

import os
import struct

import numpy as np
import pytest

from pourwell.files.patterns import read_pattern
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import bodies, faults
from tests.unit.files.gltf_files import glb, gltf, of
from tests.unit.files.pattern_files import (
    CUBE_CORNERS,
    CUBE_QUADS,
    ONE,
    binary_stl,
    cube,
    joined,
    loose,
    obj,
    ply,
    put,
    refused,
    text_stl,
    threemf,
    volume,
)

PLY_FORMS = ["ascii", "binary_little_endian", "binary_big_endian"]


# --- STL ---


def test_a_binary_stl_is_read_with_the_name_of_its_file(tmp_path):
    file = read_pattern(binary_stl(tmp_path / "block.stl", cube(4)))
    assert [body.name for body in file.bodies] == ["block"]
    assert file.kind == "STL"
    assert file.triangle_count == 12
    assert volume(file) == pytest.approx(64)
    assert not file.remarks


def test_a_binary_stl_whose_header_begins_with_solid_is_still_binary(tmp_path):
    file = read_pattern(binary_stl(tmp_path / "a.stl", cube(4), header=b"solid block facet normal"))
    assert volume(file) == pytest.approx(64)


def test_bytes_after_the_last_triangle_are_left_and_told(tmp_path):
    file = read_pattern(binary_stl(tmp_path / "a.stl", cube(4), header=b"solid x", tail=b"\0" * 7))
    assert volume(file) == pytest.approx(64)
    assert "7 bytes" in file.remarks[0]


def test_a_text_stl_is_read(tmp_path):
    file = read_pattern(put(tmp_path / "a.stl", text_stl([("block", cube(4))])))
    assert [body.name for body in file.bodies] == ["block"]
    assert volume(file) == pytest.approx(64)


def test_several_solids_of_a_text_stl_keep_their_names_and_order(tmp_path):
    content = text_stl([("shank", cube(4)), ("round stone", cube(2, (9, 0, 0))), ("", cube(1, (20, 0, 0)))])
    file = read_pattern(put(tmp_path / "ring.stl", content))
    assert [body.name for body in file.bodies] == ["shank", "round stone", "ring"]
    assert [body.mesh.volume_mm3 for body in file.bodies] == pytest.approx([64, 8, 1])


def test_a_text_stl_in_capitals_and_with_windows_lines_is_read(tmp_path):
    content = text_stl([("block", cube(4))]).upper().replace("\n", "\r\n")
    assert volume(read_pattern(put(tmp_path / "a.STL", content.encode()))) == pytest.approx(64)


def test_the_faces_of_one_solid_named_as_solids_are_put_together(tmp_path):
    box = cube(4)
    content = text_stl([(f"face {k}", Mesh(box.vertices, box.faces[2 * k : 2 * k + 2])) for k in range(6)])
    file = read_pattern(put(tmp_path / "block.stl", content))
    assert [body.name for body in file.bodies] == ["block"]
    assert faults(file.bodies[0].mesh).sound


def test_a_binary_stl_cut_short_says_how_much_is_there(tmp_path):
    told = refused(binary_stl(tmp_path / "a.stl", cube(4), count=40))
    assert "40 triangles" in told
    assert "12" in told


@pytest.mark.parametrize("share", [0.3, 0.5, 0.9, 0.98])
def test_a_text_stl_cut_short_is_refused(tmp_path, share):
    content = text_stl([("block", cube(4))])
    assert "cut short" in refused(put(tmp_path / "a.stl", content[: int(share * len(content))]))


def test_a_text_stl_with_a_word_for_a_number_is_refused(tmp_path):
    assert "not a number" in refused(put(tmp_path / "a.stl", text_stl([("b", cube(4))]).replace("vertex 4", "vertex four", 1)))


# --- OBJ ---


def test_an_obj_of_squares_is_cut_into_triangles(tmp_path):
    file = read_pattern(put(tmp_path / "a.obj", obj(CUBE_CORNERS * 4, CUBE_QUADS)))
    assert file.triangle_count == 12
    assert volume(file) == pytest.approx(64)
    assert faults(file.bodies[0].mesh).sound


def test_an_obj_may_count_its_corners_backward(tmp_path):
    lines = [f"v {x} {y} {z}" for x, y, z in CUBE_CORNERS * 4]
    lines += ["f " + " ".join(str(i - 8) for i in quad) for quad in CUBE_QUADS]
    assert volume(read_pattern(put(tmp_path / "a.obj", "\n".join(lines)))) == pytest.approx(64)


def test_an_obj_may_carry_texture_normals_colours_and_long_lines(tmp_path):
    lines = ["# by hand", "mtllib none.mtl", *(f"v {x} {y} {z} 0.5 0.5 0.5" for x, y, z in CUBE_CORNERS * 4), "vn 0 0 1", "vt 0 0"]
    lines += ["usemtl silver", "s off"]
    lines += ["f " + " \\\n ".join(f"{i + 1}/1/1" if k % 2 else f"{i + 1}//1" for k, i in enumerate(q)) for q in CUBE_QUADS]
    assert volume(read_pattern(put(tmp_path / "a.obj", "\n".join(lines)))) == pytest.approx(64)


def test_objects_and_groups_of_an_obj_name_the_bodies(tmp_path):
    one, two = CUBE_CORNERS * 4, CUBE_CORNERS * 2 + 10
    content = "o ring\n" + obj(one, CUBE_QUADS) + "o setting\ng stone\n" + "\n".join(f"v {x} {y} {z}" for x, y, z in two) + "\n"
    content += "\n".join("f " + " ".join(str(i + 9) for i in quad) for quad in CUBE_QUADS)
    file = read_pattern(put(tmp_path / "a.obj", content))
    assert [body.name for body in file.bodies] == ["ring", "setting stone"]
    assert [body.mesh.volume_mm3 for body in file.bodies] == pytest.approx([64, 8])


def test_a_face_that_is_not_convex_keeps_its_area(tmp_path):
    outline = np.array([[0, 0], [6, 0], [6, 6], [4, 6], [4, 2], [2, 2], [2, 6], [0, 6]], dtype=float)  # a U of 28 mm2
    points = np.vstack([np.column_stack((outline, np.full(8, z))) for z in (0.0, 5.0)])
    faces = [list(range(7, -1, -1)), list(range(8, 16)), *([k, (k + 1) % 8, (k + 1) % 8 + 8, k + 8] for k in range(8))]
    file = read_pattern(put(tmp_path / "u.obj", obj(points, faces)))
    mesh = file.bodies[0].mesh
    assert mesh.volume_mm3 == pytest.approx(28 * 5)
    assert mesh.area_mm2 == pytest.approx(2 * 28 + 5 * (6 + 6 + 2 + 4 + 2 + 4 + 2 + 6)), "no triangle lies over another"
    assert faults(mesh).sound


@pytest.mark.parametrize(
    "line", ["f 1 2 99", "f 0 1 2", "f 1 2", "f a b c", "v 1 2", "v x y z", "f 1 2 -99"], ids=lambda line: line.replace(" ", "_")
)
def test_an_obj_line_that_makes_no_sense_is_named(tmp_path, line):
    told = refused(put(tmp_path / "a.obj", obj(CUBE_CORNERS, CUBE_QUADS) + line + "\n"))
    assert "line 15" in told
    assert line in told


# --- PLY ---


@pytest.mark.parametrize("form", PLY_FORMS)
@pytest.mark.parametrize("squares", [True, False])
def test_a_ply_is_read_in_every_form(tmp_path, form, squares):
    faces = CUBE_QUADS if squares else cube().faces.tolist()
    file = read_pattern(put(tmp_path / "a.ply", ply(form, CUBE_CORNERS * 4, faces)))
    assert file.triangle_count == 12
    assert volume(file) == pytest.approx(64)
    assert [body.name for body in file.bodies] == ["a"]


@pytest.mark.parametrize("form", PLY_FORMS)
def test_a_ply_of_squares_and_triangles_together_is_read(tmp_path, form):
    faces = [*CUBE_QUADS[:3], *cube().faces.tolist()[6:]]
    assert volume(read_pattern(put(tmp_path / "a.ply", ply(form, CUBE_CORNERS * 4, faces)))) == pytest.approx(64)


@pytest.mark.parametrize("form", PLY_FORMS)
def test_a_ply_cut_short_is_refused(tmp_path, form):
    content = ply(form, CUBE_CORNERS * 4, CUBE_QUADS)
    assert "6 faces" in refused(put(tmp_path / "a.ply", content[:-9]))


def test_a_ply_whose_header_has_no_end_is_refused(tmp_path):
    assert "no end" in refused(put(tmp_path / "a.ply", b"ply\nformat ascii 1.0\nelement vertex 8\n"))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"format ascii 1.0\n", b""),
        (b"property float x", b"property metre x"),
        (b"comment", b"remark"),
        (b"vertex 8", b"vertex -8"),
    ],
)
def test_a_ply_header_that_makes_no_sense_is_refused(tmp_path, old, new):
    assert "header" in refused(put(tmp_path / "a.ply", ply("ascii", CUBE_CORNERS, CUBE_QUADS).replace(old, new, 1)))


@pytest.mark.parametrize("face", [[0, 1, 88], [0, 1], [0, 1, -3]])
def test_a_ply_face_that_makes_no_sense_is_refused(tmp_path, face):
    assert "face" in refused(put(tmp_path / "a.ply", ply("ascii", CUBE_CORNERS, [*CUBE_QUADS, face])))


# --- units ---


def test_a_file_without_units_is_taken_as_mm_and_that_is_told(tmp_path):
    file = read_pattern(binary_stl(tmp_path / "a.stl", cube(4)))
    assert (file.units, file.units_from, file.own_units) == ("mm", "assumed", "")


@pytest.mark.parametrize(
    ("units", "side_mm"), [("mm", 4), ("cm", 40), ("m", 4000), ("um", 0.004), ("inch", 101.6), ("foot", 1219.2)]
)
def test_the_users_unit_scales_a_file_without_one(tmp_path, units, side_mm):
    file = read_pattern(binary_stl(tmp_path / "a.stl", cube(4)), units=units)
    assert (file.units, file.units_from) == (units, "user")
    assert file.bodies[0].mesh.envelope_mm == pytest.approx((side_mm,) * 3)


def test_the_users_unit_beats_the_files(tmp_path):
    file = read_pattern(threemf(tmp_path / "a.3mf", ONE, '<item objectid="1"/>', unit="inch"), units="mm")
    assert (file.units, file.units_from, file.own_units) == ("mm", "user", "inch")
    assert volume(file) == pytest.approx(64)


# --- files that are no patterns ---


def test_a_missing_file_is_refused(tmp_path):
    assert "No such file" in refused(tmp_path / "none.stl")


def test_a_folder_is_refused(tmp_path):
    (tmp_path / "a.stl").mkdir()
    assert "folder" in refused(tmp_path / "a.stl")


@pytest.mark.skipif(os.name == "nt" or getattr(os, "geteuid", lambda: 0)() == 0, reason="the superuser reads everything")
def test_a_file_that_may_not_be_read_is_refused(tmp_path):
    path = binary_stl(tmp_path / "a.stl", cube(4))
    path.chmod(0)
    refused(path)


@pytest.mark.parametrize("content", [b"", b"\n\n  \n", b"\0" * 200])
@pytest.mark.parametrize("ending", [".stl", ".obj", ".ply", ".3mf"])
def test_an_empty_file_is_refused(tmp_path, content, ending):
    assert "empty" in refused(put(tmp_path / f"a{ending}", content))


@pytest.mark.parametrize("ending", [".stl", ".obj", ".ply", ".3mf", ".glb", ".gltf"])
@pytest.mark.parametrize("kind", ["STL", "text STL", "OBJ", "PLY", "3MF", "GLB", "glTF"])
def test_a_renamed_file_is_refused_with_its_right_name(tmp_path, ending, kind):
    path = tmp_path / f"ring{ending}"
    {
        "STL": lambda: binary_stl(path, cube(4)),
        "text STL": lambda: put(path, text_stl([("a", cube(4))])),
        "OBJ": lambda: put(path, obj(CUBE_CORNERS * 4, CUBE_QUADS)),
        "PLY": lambda: put(path, ply("ascii", CUBE_CORNERS * 4, CUBE_QUADS)),
        "3MF": lambda: threemf(path, ONE, '<item objectid="1"/>'),
        "GLB": lambda: put(path, glb(*of(("a", cube(0.004))))),
        "glTF": lambda: put(path, gltf(*of(("a", cube(0.004))))),
    }[kind]()
    right = "." + kind.split()[-1].lower()
    if right == ending:
        assert volume(read_pattern(path)) == pytest.approx(64, rel=1e-5)
    else:
        told = refused(path)
        assert "not what its name says" in told
        assert f"ring{right}" in told


def test_a_file_without_an_ending_is_read_by_its_content(tmp_path):
    assert read_pattern(put(tmp_path / "ring", obj(CUBE_CORNERS * 4, CUBE_QUADS))).kind == "OBJ"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"\x89PNG\r\n\x1a\n" + bytes(range(200)), "picture"),
        (b'{"dear": "customer"}', "JSON"),
        ("solid ring\n".encode("utf-16"), "UTF-16"),
        (b"%PDF-1.7\n%\xe2\xe3", "PDF"),
        (b"dear customer,\nthe ring is nice\n", "none of the kinds"),
    ],
)
@pytest.mark.parametrize("ending", [".stl", ".obj", ".txt"])
def test_another_kind_of_file_is_refused_with_what_it_is(tmp_path, content, words, ending):
    told = refused(put(tmp_path / f"a{ending}", content))
    assert words in told
    assert "STL, OBJ, PLY, 3MF, GLB, glTF or STEP" in told


@pytest.mark.parametrize("value", ["nan", "inf", "-inf"])
def test_corners_that_are_no_numbers_are_refused_and_counted(tmp_path, value):
    points = (CUBE_CORNERS * 4).copy()
    points[3, 1] = float(value)
    for path in (
        put(tmp_path / "a.obj", obj(points, CUBE_QUADS)),
        binary_stl(tmp_path / "a.stl", Mesh(points, cube().faces)),
        put(tmp_path / "a.ply", ply("binary_little_endian", points, CUBE_QUADS)),
        put(tmp_path / "b.stl", text_stl([("b", Mesh(points, cube().faces))])),
    ):
        assert "no numbers" in refused(path)


def test_a_corner_that_no_triangle_uses_may_be_anything(tmp_path):
    points = np.vstack((CUBE_CORNERS * 4, [[np.nan] * 3]))
    assert volume(read_pattern(put(tmp_path / "a.obj", obj(points, CUBE_QUADS)))) == pytest.approx(64)


def test_a_corner_out_in_space_is_refused(tmp_path):
    assert "farther out" in refused(binary_stl(tmp_path / "a.stl", cube(1e30)))


def test_a_file_without_triangles_is_refused(tmp_path):
    empty = Mesh(np.zeros((0, 3)), np.zeros((0, 3)))
    for path in (
        binary_stl(tmp_path / "a.stl", empty, header=b"x"),
        put(tmp_path / "b.stl", text_stl([("b", empty)])),
        put(tmp_path / "a.obj", obj(CUBE_CORNERS, [])),
        put(tmp_path / "a.ply", ply("ascii", CUBE_CORNERS, [])),
    ):
        assert "no triangles" in refused(path)


def test_a_flat_file_is_refused(tmp_path):
    flat = Mesh(CUBE_CORNERS * [4, 4, 0], cube().faces)
    assert "no volume" in refused(binary_stl(tmp_path / "a.stl", flat))
    slanted = Mesh(flat.vertices @ np.array([[1, 0, 1], [0, 1, 1], [0, 0, 1]]), flat.faces)
    assert "no volume" in refused(binary_stl(tmp_path / "a.stl", slanted))


def test_a_sheet_drawn_from_both_sides_is_refused(tmp_path):
    box = cube(4)
    both = joined(Mesh(box.vertices, box.faces[2:]), Mesh(box.vertices, box.faces[2:, ::-1]))
    assert "no volume" in refused(binary_stl(tmp_path / "a.stl", both))


# --- the limit ---


def test_more_triangles_than_the_limit_are_refused(tmp_path):
    for path in (
        binary_stl(tmp_path / "a.stl", cube(4)),
        put(tmp_path / "b.stl", text_stl([("b", cube(4))])),
        put(tmp_path / "a.obj", obj(CUBE_CORNERS, CUBE_QUADS)),
        put(tmp_path / "a.ply", ply("ascii", CUBE_CORNERS, cube().faces.tolist())),
        threemf(tmp_path / "a.3mf", ONE, '<item objectid="1"/>'),
    ):
        read_pattern(path, limit_count=12)
        assert "limit is 11" in refused(path, limit_count=11)


def test_the_limit_of_a_binary_stl_is_read_from_its_header_before_the_rest(tmp_path):
    path = tmp_path / "a.stl"
    with path.open("wb") as file:  # 300 MB that take no room on the disk and must take none in memory
        file.write(b"x".ljust(80) + struct.pack("<I", 6_000_000))
        file.truncate(84 + 50 * 6_000_000)
    assert "6,000,000 triangles" in refused(path)


def test_the_limit_of_a_ply_is_read_from_its_header_before_the_rest(tmp_path):
    assert "9,000,000" in refused(put(tmp_path / "a.ply", ply("ascii", CUBE_CORNERS, CUBE_QUADS, face_count=9_000_000)))


def test_loose_triangles_are_read_as_they_are(tmp_path):
    mesh = read_pattern(binary_stl(tmp_path / "a.stl", cube(4))).bodies[0].mesh
    assert len(mesh.vertices) == 36
    assert len(loose(cube(4)).vertices) == 36
    assert len(bodies(mesh)) == 1
