"""Solids as bare numbers for the viewer: every corner at its place, fields with the words of their legend."""

import numpy as np
import pytest

from pourwell.app import view_arrays
from pourwell.app.shapes import build_shape
from pourwell.app.view_arrays import NONE, FieldGiven, solid_view, thinned
from pourwell.geometry.mesh import Mesh


@pytest.fixture(scope="module")
def band():
    return build_shape("plain-band", ("size=ISO 54", "width=4", "thickness=1.8"))


def corners(data, head):
    return np.frombuffer(data, "<f4", 9 * head["shown_count"]).reshape(-1, 3)


def test_every_corner_stands_at_its_place(band):
    data, head = solid_view([("piece", band)])
    assert head["triangle_count"] == head["shown_count"] == len(band.faces)
    assert np.allclose(corners(data, head), band.corners.reshape(-1, 3), atol=1e-5)
    assert len(data) == head["bytes"] == 3 * len(band.faces) * (12 + 4)


def test_normals_point_outward_and_have_length_one(band):
    data, head = solid_view([("piece", band)])
    n = 3 * head["shown_count"]
    normals = np.frombuffer(data, "<i1", 4 * n, head["normals_offset"]).reshape(-1, 4)
    assert not normals[:, 3].any()
    length = np.linalg.norm(normals[:, :3] / 127, axis=1)
    assert np.all(np.abs(length - 1) < 0.02)
    flat = np.repeat(band.normals, 3, axis=0)
    assert np.all(np.einsum("ij,ij->i", normals[:, :3], flat) > 0)


def test_parts_keep_their_names_and_places():
    one = build_shape("stud", ())
    two = build_shape("pendant", ())
    data, head = solid_view([("piece A 1", one), ("stem", two)])
    assert [p["name"] for p in head["parts"]] == ["piece A 1", "stem"]
    second = head["parts"][1]
    assert second["first"] == 3 * len(one.faces)
    found = corners(data, head)[second["first"] : second["first"] + second["count"]]
    assert np.allclose(found, two.corners.reshape(-1, 3), atol=1e-5)


def test_only_of_closed_solids_a_section_knows_what_is_metal(band):
    stud = build_shape("stud", ())
    assert solid_view([("piece", band), ("stem", stud)])[1]["closed"] is True
    assert solid_view([("piece", band), ("open", Mesh(stud.vertices, stud.faces[1:]))])[1]["closed"] is False


def test_a_field_lies_behind_the_normals_with_its_legend(band):
    values = band.centres[:, 2].copy()
    values[:10] = np.nan
    field = FieldGiven(name="wall", title="Wall", unit="mm", values=values - values[10:].min() + 1, limit=1.5, limit_says="least")
    data, head = solid_view([("piece", band)], fields=[field])
    legend = head["fields"][0]
    assert (legend["name"], legend["title"], legend["unit"], legend["limit"]) == ("wall", "Wall", "mm", 1.5)
    assert legend["low"] == 0.0
    assert legend["high"] >= 2.5 * 1.5
    n = 3 * head["shown_count"]
    shown = np.frombuffer(data, "<f4", n, legend["offsets"][0])
    known = shown > NONE / 2
    assert known.mean() > 0.95
    assert shown[known].min() >= 1.0 - 1e-6
    assert legend["offsets"][0] + 4 * n == len(data)


def test_a_field_of_several_moments_has_a_row_for_each_on_one_scale(band):
    rows = np.stack([np.full(len(band.faces), kelvin) for kelvin in (20.0, 180.0, 700.0)])
    field = FieldGiven(name="heat", title="Heat", unit="°C", values=rows, slide="At", moments_s=(0.0, 60.0, 300.0))
    data, head = solid_view([("piece", band)], fields=[field])
    legend, n = head["fields"][0], 3 * len(band.faces)
    assert (legend["slide"], legend["moments_s"]) == ("At", [0.0, 60.0, 300.0])
    assert legend["low"] <= 20 < 700 <= legend["high"]
    found = [np.frombuffer(data, "<f4", n, offset) for offset in legend["offsets"]]
    assert [(row.min(), row.max()) for row in found] == [(20.0, 20.0), (180.0, 180.0), (700.0, 700.0)]


def test_a_field_over_several_solids_follows_their_triangles(band):
    stud = build_shape("stud", ())
    values = np.concatenate([np.full(len(band.faces), 2.0), np.full(len(stud.faces), 5.0)])
    field = FieldGiven(name="solid", title="Solid after", unit="s", values=values, slide="Still liquid at")
    data, head = solid_view([("band", band), ("stud", stud)], fields=[field])
    shown = np.frombuffer(data, "<f4", 3 * head["shown_count"], head["fields"][0]["offsets"][0])
    second = head["parts"][1]["first"]
    assert (shown[:second] == 2.0).all()
    assert (shown[second:] == 5.0).all()
    assert "moments_s" not in head["fields"][0]
    assert len(data) == head["bytes"]


def test_where_a_field_has_no_value_the_viewer_is_told(band):
    field = FieldGiven(name="gap", title="Gap", unit="mm", values=np.full(len(band.faces), np.inf))
    data, head = solid_view([("piece", band)], fields=[field])
    shown = np.frombuffer(data, "<f4", 3 * head["shown_count"], head["fields"][0]["offsets"][0])
    assert (shown == np.float32(NONE)).all()


def test_a_large_solid_is_thinned_and_that_is_told(band, monkeypatch):
    monkeypatch.setattr(view_arrays, "MOST_TRIANGLES", 1500)
    field = FieldGiven(name="wall", title="Wall", unit="mm", values=np.ones(len(band.faces)))
    data, head = solid_view([("piece", band)], fields=[field])
    assert head["triangle_count"] == len(band.faces) > 1500 >= head["shown_count"] > 300
    assert len(data) == head["bytes"]
    span = np.ptp(corners(data, head), axis=0)
    assert np.allclose(span, np.ptp(band.vertices, axis=0), rtol=0.08)


@pytest.mark.parametrize("most", [4, 100, 2000])
def test_no_more_triangles_are_left_than_wanted(band, most):
    less, kept = thinned(band, most)
    assert len(less.faces) == len(kept) <= most
    assert len(np.unique(kept)) == len(kept)


def test_a_solid_that_is_small_enough_is_left_alone(band):
    less, kept = thinned(band, len(band.faces))
    assert less.faces.shape == band.faces.shape
    assert np.array_equal(kept, np.arange(len(band.faces)))


def test_a_solid_without_extent_ends_too():
    flat = Mesh(vertices=np.zeros((3, 3)), faces=np.array([[0, 1, 2]] * 50))
    less, _ = thinned(flat, 10)
    assert len(less.faces) <= 10
