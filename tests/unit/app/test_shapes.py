"""Parametric pieces from words, and as files that other programs read back."""

import math
import os
from pathlib import Path

import numpy as np
import pytest
import trimesh

from pourwell.app.shapes import ENDINGS, build_shape, list_shapes, make_shape, mesh_bytes
from pourwell.errors import BadRequestError, OutputError, UnknownNameError
from pourwell.geometry.mesh import Mesh


@pytest.mark.parametrize("shape", list_shapes(), ids=lambda s: s["name"])
def test_every_dimension_that_is_listed_may_be_said_with_its_default(shape: dict) -> None:
    """What the list says can be written back, and gives the shape of the defaults."""
    words = [f"{p['name']}={p['default']}" for p in shape["parameters"] if p["name"] != "size"]
    assert words
    assert build_shape(shape["name"], words).volume_mm3 == pytest.approx(build_shape(shape["name"], []).volume_mm3)
    assert all(p["about"] for p in shape["parameters"])


def test_only_rings_have_a_size() -> None:
    sized = {s["name"] for s in list_shapes() if s["parameters"][0]["name"] == "size"}
    assert sized == {"plain-band", "comfort-band", "half-round-band", "signet", "bezel-ring"}
    with pytest.raises(BadRequestError, match="no dimension of pendant"):
        build_shape("pendant", ["size=ISO 54"])


def test_a_size_is_a_bore_and_the_last_word_wins() -> None:
    """ISO 54 is 54 mm round; a sharp band of 4 x 2 holds pi (R2 - r2) 4."""
    inner = 54 / math.pi / 2
    sharp = ["width=4", "thickness=2", "edge=0"]
    truth = math.pi * ((inner + 2) ** 2 - inner**2) * 4
    assert build_shape("plain-band", ["size=ISO 54", *sharp]).volume_mm3 == pytest.approx(truth, rel=2e-3)
    assert build_shape("plain-band", ["bore=30", "size=ISO 54", *sharp]).volume_mm3 == pytest.approx(truth, rel=2e-3)
    wide = math.pi * (17**2 - 15**2) * 4
    assert build_shape("plain-band", ["size=ISO 54", "bore=30", *sharp]).volume_mm3 == pytest.approx(wide, rel=2e-3)


@pytest.mark.parametrize("word", ["width=5", "width=5mm", "width=5 mm", "width=5,0", "width= 5.0"])
def test_a_number_may_carry_its_unit_and_a_comma(word: str) -> None:
    assert build_shape("plain-band", [word]).envelope_mm[1] == pytest.approx(5, abs=1e-3)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["girth=2"], "size, bore, width, thickness, edge"),
        (["width"], "NAME=VALUE"),
        (["=4"], "NAME=VALUE"),
        (["width=wide"], "is not a number"),
        (["width="], "is not a number"),
        (["width=4 cm"], "is not a number"),
        (["width_mm=4"], "no dimension"),
        (["width=0"], "width"),
        (["width=nan"], "width"),
        (["width=inf"], "width"),
        (["edge=3"], "edge"),
        (["size=54"], "needs its system"),
    ],
)
def test_dimensions_that_no_piece_can_have_are_refused(words: list[str], says: str) -> None:
    with pytest.raises(BadRequestError) as caught:
        build_shape("plain-band", words)
    assert says in str(caught.value)


def test_an_unknown_shape_offers_the_nearest_and_says_where_they_are_listed() -> None:
    with pytest.raises(UnknownNameError) as caught:
        build_shape("plane-band", [])
    assert caught.value.near[0] == "plain-band"
    assert "pourwell shape list" in caught.value.try_this


@pytest.mark.parametrize("ending", ENDINGS)
def test_each_kind_of_file_is_read_back_whole(ending: str) -> None:
    """An independent reader finds a closed solid of the same volume, in millimetres."""
    mesh = build_shape("signet", [])
    path = Path(f"signet{ending}")
    path.write_bytes(mesh_bytes(mesh, ending))
    back = trimesh.load(path, force="mesh")
    back.merge_vertices()
    assert back.is_watertight
    assert back.volume == pytest.approx(mesh.volume_mm3, rel=1e-5)
    assert back.extents == pytest.approx(mesh.envelope_mm, abs=1e-4)


def test_what_was_made_is_told_as_data_that_the_file_bears_out() -> None:
    made = make_shape("stud", ["wire=1.2"], out=Path("new/deep/stud.ply"), replace=False)
    back = trimesh.load("new/deep/stud.ply", force="mesh")
    assert (made["file"], made["shape"], made["triangle_count"]) == (str(Path("new/deep/stud.ply")), "stud", len(back.faces))
    assert made["volume_mm3"] == pytest.approx(back.volume, rel=1e-5)
    assert made["area_mm2"] == pytest.approx(back.area, rel=1e-5)
    assert Path("new/deep/stud.ply").stat().st_mode & 0o777 == 0o644
    assert [p.name for p in Path("new/deep").iterdir()] == ["stud.ply"]


def test_without_a_name_the_file_is_called_like_the_shape() -> None:
    assert make_shape("stud", [], out=None, replace=False)["file"] == "stud.stl"
    with pytest.raises(OutputError, match="exists already"):
        make_shape("stud", [], out=None, replace=False)


def test_an_existing_file_is_replaced_only_when_asked_and_never_by_a_fault() -> None:
    path = Path("band.stl")
    path.write_bytes(b"of a customer")
    with pytest.raises(OutputError, match="exists already"):
        make_shape("plain-band", [], out=path, replace=False)
    with pytest.raises(BadRequestError):
        make_shape("plain-band", ["width=-1"], out=path, replace=True)
    assert path.read_bytes() == b"of a customer"
    make_shape("plain-band", [], out=path, replace=True)
    assert trimesh.load(path).is_watertight


@pytest.mark.parametrize("name", ["band.step", "band", "band.stl.gz"])
def test_a_form_that_we_do_not_write_is_refused_and_ours_are_named(name: str) -> None:
    with pytest.raises(OutputError, match="no form") as caught:
        make_shape("plain-band", [], out=Path(name), replace=False)
    assert ".stl, .ply, .obj, .3mf" in caught.value.try_this
    assert not Path(name).exists()


def test_endings_in_capitals_are_as_good() -> None:
    make_shape("stud", [], out=Path("STUD.STL"), replace=False)
    assert trimesh.load("STUD.STL", file_type="stl").is_watertight


def test_a_fault_while_writing_leaves_the_older_file_and_no_scrap(monkeypatch: pytest.MonkeyPatch) -> None:
    path = Path("band.stl")
    path.write_bytes(b"old")

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="cannot be written") as caught:
        make_shape("plain-band", [], out=path, replace=True)
    assert "No space left" in caught.value.why
    assert path.read_bytes() == b"old"
    assert [p.name for p in Path().iterdir()] == ["band.stl"]


def test_a_folder_that_is_a_file_cannot_hold_one() -> None:
    Path("taken").write_text("")
    with pytest.raises(OutputError, match="cannot be written"):
        make_shape("stud", [], out=Path("taken/stud.stl"), replace=False)


def test_a_mesh_goes_out_in_millimetres_and_in_its_own_winding() -> None:
    corners = np.array([[0, 0, 0], [3, 0, 0], [0, 4, 0], [0, 0, 5]], dtype=float)
    mesh = Mesh(corners, np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]]))
    Path("corner.3mf").write_bytes(mesh_bytes(mesh, ".3mf"))
    scene = trimesh.load("corner.3mf")
    assert scene.units.startswith("millimeter")
    assert scene.to_geometry().volume == pytest.approx(10)  # 3 x 4 x 5 / 6
