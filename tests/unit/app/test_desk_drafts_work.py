"""What comes out of mending, fitting and making for the desk: both solids for the viewer, what changes, the file to keep."""

import io
import json

import numpy as np
import pytest
import trimesh
from PIL import Image

from pourwell.app.desk_drafts_work import RING, fit_pattern, make_shape, mend_pattern, shapes
from pourwell.app.desk_words import GivenPattern
from pourwell.app.shapes import build_shape, mesh_bytes
from pourwell.errors import BadRequestError
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import faults, weld
from pourwell.materials.library import load_library
from tests.unit.files.pattern_files import cube
from tests.unit.geometry.faulty import fine, flipped, without


def silent(_):
    """Tell nobody."""


def given(folder, mesh, name="piece.stl"):
    path = folder / name
    path.write_bytes(mesh_bytes(mesh, ".stl"))
    return GivenPattern(path=path, file=name, name="Piece", units="mm")


def read(content):
    solid = trimesh.load(io.BytesIO(content), file_type="stl", process=False)
    return weld(Mesh(np.asarray(solid.vertices), np.asarray(solid.faces)))


def shown(view, head):
    return np.frombuffer(view, "<f4", 9 * head["shown_count"]).reshape(-1, 3, 3)


@pytest.fixture(scope="module")
def mended(tmp_path_factory):
    """A cube that lacks a triangle at a corner, another one turned."""
    folder = tmp_path_factory.mktemp("mended")
    torn = without(flipped(fine(cube(8), 2.0), 9), 40)
    return mend_pattern(folder, given(folder, torn), RING.tolist(), tell=silent), torn


def test_the_mended_file_is_sound_and_the_original_is_shown_as_it_is(mended):
    answer, torn = mended
    data, files = answer["data"], answer["files"]
    assert data["needed"] is True
    assert faults(read(files["made.stl"])).sound
    before, after = data["heads"]
    assert before["triangle_count"] == len(torn.faces)
    assert after["triangle_count"] == len(torn.faces) + 1
    assert before["front"] == after["front"] == RING.tolist()
    assert np.allclose(np.ptp(shown(files["after.bin"], after).reshape(-1, 3), axis=0), 8, atol=1e-5)


def test_what_was_found_done_and_changed_is_told_with_its_places(mended):
    data = mended[0]["data"]
    said = {name: (figure, remark) for name, figure, remark in data["rows"]}
    assert said["done"][1] in ("turns 1 triangle", "covers 1 hole")
    assert tuple(said["left"]) == ("", "nothing wrong")
    assert said["volume"][0] == "512.00 mm\u00b3"
    assert said["moved"][0] == "0.000 mm"
    assert data["asks"].startswith("It makes a new surface that stands up to 0.4"), "a hole as wide as this one is asked about"
    assert "The old surface stays where it is." in data["asks"]
    assert [place["on"] for place in data["places"]][-1] == 1
    assert any("hole" in place["says"] for place in data["places"])
    json.dumps(data)
    for name in ("before.png", "after.png"):
        assert Image.open(io.BytesIO(mended[0]["files"][name])).size == (480, 480), "a picture where nothing can be drawn"


def test_a_part_that_is_lost_is_asked_about_and_shown_where_its_cover_lies_farthest(tmp_path):
    ball = fine(cube(8), 1.0)
    capless = without(ball, *np.flatnonzero(ball.centres[:, 2] > 4.0))
    answer = mend_pattern(tmp_path, given(tmp_path, capless), tell=silent)
    data = answer["data"]
    assert "may go unasked" in data["asks"]
    (field,) = data["heads"][1]["fields"]
    assert (field["name"], field["unit"], field["limit"]) == ("moved", "mm", 0.05)
    assert field["high"] > 1
    place = data["places"][-1]
    assert (place["on"], place["what"]) == (1, "Place")
    assert place["at_mm"][2] == pytest.approx(4.0, abs=0.2), "the cover lies where the cube was cut"


def test_shreds_are_refused(tmp_path):
    shred = Mesh(np.array([[0.0, 0, 0], [9, 0, 0], [0, 9, 0], [0, 0, 9], [9, 9, 0], [3, 3, 3]]), np.array([[0, 1, 2], [3, 4, 5]]))
    with pytest.raises(BadRequestError, match="cannot be mended"):
        mend_pattern(tmp_path, given(tmp_path, shred), tell=silent)


@pytest.fixture(scope="module")
def fitted(tmp_path_factory):
    folder = tmp_path_factory.mktemp("fitted")
    band = given(folder, build_shape("plain-band", ("size=ISO 54", "thickness=2")))
    return fit_pattern(folder, band, {"size": "ISO 57", "offset": False, "alloy": "sterling-925", "material": "resin"}, tell=silent)


def test_a_fitted_ring_is_shown_beside_the_old_one_on_one_scale_of_walls(fitted):
    before, after = fitted["data"]["heads"]
    walls = [next(field for field in head["fields"] if field["name"] == "wall") for head in (before, after)]
    assert [walls[0][key] for key in ("low", "high", "ticks")] == [walls[1][key] for key in ("low", "high", "ticks")]
    old, new = (np.ptp(shown(fitted["files"][name], head)[..., 0]) for name, head in (("before.bin", before), ("after.bin", after)))
    assert 1.05 < new / old < 1.08


def test_what_changes_is_told_without_words_of_the_command_line(fitted):
    data = fitted["data"]
    rows = {name: f"{figure} {remark}" for name, figure, remark in data["rows"]}
    assert rows["finished bore"].split(" -> ")[1].startswith("18.14 mm")
    assert "ISO 57" in rows["finished bore"]
    assert "--" not in json.dumps(data["rows"])
    assert data["needed"] is True
    assert not any(f["severity"] == "stop" for f in data["findings"])
    assert read(fitted["files"]["made.stl"]).volume_mm3 == pytest.approx(float(rows["volume"].split()[2]), rel=1e-3)


def test_every_shape_is_told_and_made_with_its_weight(tmp_path):
    listed = shapes(tell=silent)
    assert [shape["name"] for shape in listed] == list(SHAPES)
    answer = make_shape(tmp_path, {"shape": "stud", "dimensions": ("wire=1",), "alloy": "sterling-925"}, tell=silent)
    data, mesh = answer["data"], build_shape("stud", ("wire=1",))
    density = load_library(tmp_path).alloy("sterling-925").density_g_per_cm3.value
    assert data["metal_g"] == pytest.approx(mesh.volume_mm3 / 1000 * density)
    assert data["heads"][0]["triangle_count"] == len(mesh.faces)
    assert read(answer["files"]["made.stl"]).volume_mm3 == pytest.approx(mesh.volume_mm3, rel=1e-5)


def test_a_shape_that_cannot_be_is_refused_by_the_name_of_its_dimension(tmp_path):
    asked = {"shape": "plain-band", "dimensions": ("edge=9",), "alloy": "sterling-925"}
    with pytest.raises(BadRequestError, match="edge_mm is 9"):
        make_shape(tmp_path, asked, tell=silent)
