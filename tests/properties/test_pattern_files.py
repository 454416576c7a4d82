"""The readers never crash: whatever the bytes, a file is read or refused in a sentence; and what was written is read back."""

import zipfile

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.errors import BadFileError
from pourwell.files.patterns import read_pattern
from pourwell.geometry.mesh import Mesh
from tests.unit.files.pattern_files import CUBE_CORNERS, CUBE_QUADS, binary_stl, cube, mesh_xml, obj, ply, text_stl, threemf

LIMIT = 2_000
ENDINGS = st.sampled_from([".stl", ".obj", ".ply", ".3mf", ""])


def read_or_refuse(path):
    try:
        file = read_pattern(path, limit_count=LIMIT)
    except BadFileError as error:
        if not (error.what and error.why and error.try_this):
            raise
        return None
    assert file.triangle_count > 0
    assert all(np.isfinite(body.mesh.vertices[body.mesh.faces]).all() for body in file.bodies)
    return file


def whole(kind, folder):
    """The bytes of a good file."""
    path = folder / "whole"
    if kind == "stl":
        return binary_stl(path, cube(4)).read_bytes()
    if kind == "3mf":
        return threemf(path, f'<object id="1">{mesh_xml(cube(4))}</object>', '<item objectid="1"/>').read_bytes()
    text = {
        "text stl": text_stl([("a", cube(4)), ("b", cube(1, (9, 0, 0)))]),
        "obj": obj(CUBE_CORNERS, CUBE_QUADS),
        "ascii": ply("ascii", CUBE_CORNERS, CUBE_QUADS).decode(),
    }
    return text[kind].encode() if kind in text else ply(kind, CUBE_CORNERS, CUBE_QUADS)


KINDS = st.sampled_from(["stl", "text stl", "obj", "ascii", "binary_little_endian", "binary_big_endian", "3mf"])


@settings(max_examples=150)
@given(data=st.binary(max_size=400), ending=ENDINGS)
def test_any_bytes_are_read_or_refused(tmp_path_factory, data, ending):
    path = tmp_path_factory.getbasetemp() / f"any{ending}"
    path.write_bytes(data)
    read_or_refuse(path)


@settings(max_examples=300)
@given(kind=KINDS, cut=st.floats(0, 1), ending=ENDINGS)
def test_a_good_file_cut_anywhere_is_read_or_refused(tmp_path_factory, kind, cut, ending):
    folder = tmp_path_factory.getbasetemp()
    content = whole(kind, folder)
    path = folder / f"cut{ending}"
    path.write_bytes(content[: int(cut * len(content))])
    read_or_refuse(path)


@settings(max_examples=400)
@given(kind=KINDS, at=st.floats(0, 1, exclude_max=True), byte=st.integers(0, 255), more=st.binary(max_size=3))
def test_a_good_file_with_bytes_changed_is_read_or_refused(tmp_path_factory, kind, at, byte, more):
    folder = tmp_path_factory.getbasetemp()
    content = bytearray(whole(kind, folder))
    k = int(at * len(content))
    content[k : k + 1 + len(more)] = bytes([byte]) + more
    path = folder / "changed"
    path.write_bytes(bytes(content))
    read_or_refuse(path)


@settings(max_examples=150)
@given(at=st.floats(0, 1, exclude_max=True), text=st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=6))
def test_a_3mf_with_its_model_changed_is_read_or_refused(tmp_path_factory, at, text):
    folder = tmp_path_factory.getbasetemp()
    with zipfile.ZipFile(threemf(folder / "a", f'<object id="1">{mesh_xml(cube(4))}</object>', '<item objectid="1"/>')) as archive:
        model = archive.read("3D/3dmodel.model").decode()
    k = int(at * len(model))
    with zipfile.ZipFile(folder / "b.3mf", "w") as archive:
        archive.writestr("3D/3dmodel.model", model[:k] + text + model[k + len(text) :])
    read_or_refuse(folder / "b.3mf")


@given(
    st.lists(st.tuples(*[st.floats(-100, 100, width=32)] * 3), min_size=8, max_size=8, unique=True),
    st.sampled_from(["stl", "text stl", "obj", "ascii", "binary_big_endian", "3mf"]),
)
def test_every_format_gives_back_the_triangles_that_were_written(tmp_path_factory, corners, kind):
    folder = tmp_path_factory.getbasetemp()
    mesh = Mesh(np.array(corners), cube().faces)
    path = folder / f"there.{ {'stl': 'stl', 'text stl': 'stl', 'obj': 'obj', '3mf': '3mf'}.get(kind, 'ply') }"
    if kind == "stl":
        binary_stl(path, mesh)
    elif kind == "3mf":
        threemf(path, f'<object id="1">{mesh_xml(mesh)}</object>', '<item objectid="1"/>')
    elif kind == "text stl":
        path.write_text(text_stl([("a", mesh)]), encoding="utf-8")
    elif kind == "obj":
        path.write_text(obj(mesh.vertices, mesh.faces.tolist()), encoding="utf-8")
    else:
        path.write_bytes(ply(kind, mesh.vertices, mesh.faces.tolist()))
    file = read_or_refuse(path)
    if file is not None:  # refused where the corners enclose nothing
        assert np.allclose(file.bodies[0].mesh.corners, mesh.corners, rtol=1e-6, atol=1e-6)
