"""Files that unpack, repeat or run on without end are refused before they fill the memory; honest ones pass."""

import os
import zipfile
from pathlib import Path

import numpy as np
import pytest

from pourwell.files import pattern_3mf, patterns
from pourwell.files.patterns import read_pattern
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import SHAPES
from tests.unit.files.pattern_files import CUBE_CORNERS, CUBE_QUADS, ONE, cube, mesh_xml, obj, put, refused, text_stl, threemf
from tests.unit.geometry.faulty import fine

SHARED = Path(os.environ.get("POURWELL_REAL_MESHES", Path(__file__).parents[3].parent / "shared" / "meshes"))


def ratio(path: Path) -> float:
    with zipfile.ZipFile(path) as archive:
        return sum(info.file_size for info in archive.infolist()) / path.stat().st_size


def test_a_zip_that_unpacks_to_two_hundred_times_its_size_is_refused_unread(tmp_path, monkeypatch):
    path = threemf(tmp_path / "a.3mf", ONE, '<item objectid="1"/>', more={"3D/other.model": " " * 60_000_000})
    assert ratio(path) > pattern_3mf.BOMB_RATIO
    monkeypatch.setattr(pattern_3mf, "_parsed", lambda *_, **__: pytest.fail("it was unpacked"))
    told = refused(path)
    assert "unpacks to far more" in str(told)
    assert "60 MB" in str(told)


def test_a_small_file_may_pack_as_well_as_it_likes(tmp_path):
    path = threemf(tmp_path / "a.3mf", ONE, '<item objectid="1"/>', more={"Metadata/note.txt": " " * 40_000_000})
    assert ratio(path) > pattern_3mf.BOMB_RATIO
    assert read_pattern(path).triangle_count == 12


@pytest.mark.parametrize("name", sorted(SHAPES))
def test_our_own_pieces_pack_nowhere_near_a_bomb(tmp_path, name):
    mesh = SHAPES[name].make()
    path = threemf(tmp_path / "a.3mf", f'<object id="1">{mesh_xml(mesh)}</object>', '<item objectid="1"/>')
    assert 2 < ratio(path) < pattern_3mf.BOMB_RATIO / 4


def test_even_a_flat_plate_of_whole_numbers_packs_nowhere_near_a_bomb(tmp_path):
    """The best that triangles can pack: a cube cut evenly, every coordinate one digit or two."""
    plate = fine(cube(8), 0.25)
    mesh = Mesh(np.round(plate.vertices * 4), plate.faces)
    path = threemf(tmp_path / "a.3mf", f'<object id="1">{mesh_xml(mesh)}</object>', '<item objectid="1"/>')
    assert ratio(path) < pattern_3mf.BOMB_RATIO / 4


@pytest.mark.skipif(not SHARED.is_dir(), reason="the shared meshes are not beside the repository")
def test_the_shared_meshes_pack_nowhere_near_a_bomb():
    for path in SHARED.rglob("*.3mf"):
        assert ratio(path) < pattern_3mf.BOMB_RATIO / 4, path.name


def test_a_list_of_parts_without_end_is_refused_unread(tmp_path):
    path = threemf(tmp_path / "a.3mf", ONE, '<item objectid="1"/>')
    model = zipfile.ZipFile(path).read("3D/3dmodel.model")
    more = "<Relationship Target='/x'/>" * 50_000
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("_rels/.rels", f"<Relationships>{more}</Relationships>")
        archive.writestr("3D/3dmodel.model", model)
    told = str(refused(path))
    assert "list of its parts is longer than 1,000,000 bytes" in told
    assert "cut short" not in told


def test_metadata_without_end_is_dropped_as_it_is_read(tmp_path):
    """Each is small; together they would fill the memory if they were kept."""
    tracemalloc = pytest.importorskip("tracemalloc")
    notes = "".join(f'<metadata name="n{k}">{"x" * 200}</metadata>' for k in range(100_000))
    path = threemf(tmp_path / "a.3mf", ONE, '<item objectid="1"/>')
    with zipfile.ZipFile(path) as archive:
        model, rels = archive.read("3D/3dmodel.model").decode(), archive.read("_rels/.rels")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("_rels/.rels", rels)
        archive.writestr("3D/3dmodel.model", model.replace("<resources>", notes + "<resources>"))
    tracemalloc.start()
    try:
        assert read_pattern(path).triangle_count == 12
        assert tracemalloc.get_traced_memory()[1] < 30e6
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("line", ["facet normal 0 0 1\n", "endfacet\n", "vertex 0 0 0\n"], ids=["facets", "endfacets", "corners"])
def test_a_text_stl_that_runs_on_is_refused_by_counting(tmp_path, monkeypatch, line):
    path = put(tmp_path / "a.stl", text_stl([("a", cube(4))]) + line * 40)
    monkeypatch.setattr(patterns.pattern_stl, "read_text", lambda *_: pytest.fail("it was read"))
    with pytest.raises(patterns.BadFileError, match="limit is 12 triangles"):
        read_pattern(path, limit_count=12)


def test_an_obj_of_corners_without_end_is_refused_by_counting(tmp_path, monkeypatch):
    path = put(tmp_path / "a.obj", obj(CUBE_CORNERS, CUBE_QUADS) + "v 0 0 0\n" * 40)
    monkeypatch.setattr(patterns, "read_obj", lambda *_: pytest.fail("it was read"))
    with pytest.raises(patterns.BadFileError, match="is too large"):
        read_pattern(path, limit_count=12)


def test_files_at_the_limit_pass(tmp_path):
    assert read_pattern(put(tmp_path / "a.stl", text_stl([("a", cube(4))])), limit_count=12).triangle_count == 12
    assert read_pattern(put(tmp_path / "a.obj", obj(CUBE_CORNERS, CUBE_QUADS)), limit_count=12).triangle_count == 12


@pytest.mark.parametrize("chunk", [1, 2, 7, 50, 1000])
def test_words_are_counted_across_the_pieces_of_a_file(tmp_path, monkeypatch, chunk):
    path = put(tmp_path / "a.stl", text_stl([("a", cube(4))]).upper())
    monkeypatch.setattr(patterns, "CHUNK_BYTES", chunk)
    assert patterns._counted(path, (b"endfacet", b"facet", b"vertex")) == [12, 24, 36]
