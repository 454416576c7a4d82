"""Each compiled loop of slicing against its readable twin."""

import numpy as np
import pytest

from pourwell.geometry.kernels import reference_layers, regions, slicing
from pourwell.geometry.kernels.pockets import faces_at, pockets
from pourwell.geometry.kernels.regions import Rows
from pourwell.geometry.kernels.surface import mates
from pourwell.geometry.shapes import Fineness, plain_band, stud_with_wire
from tests.unit.geometry.distance_samples import beside, box, icosphere, shaken
from tests.unit.pattern.case import hollow

STEP = 0.23
ROW = 0.19
SAMPLES = {
    "box": box((0, 0, 0), (1, 2, 3)),
    "sphere": icosphere(2.0, halvings=1),
    "shaken sphere": shaken(icosphere(2.0, halvings=2), by=0.2, seed=5),
    "hollow ball": hollow(icosphere(2.0, halvings=1), icosphere(1.2, halvings=1)),
    "two boxes": beside(box((0, 0, 0), (1, 1, 1)), box((3, 0, 0.4), (4, 2, 1.5))),
    "coarse band": plain_band(bore_mm=4.0, width_mm=2.0, fineness=Fineness(chord_mm=0.3, longest_mm=4.0)),
    "stud": stud_with_wire(fineness=Fineness(chord_mm=0.3, longest_mm=4.0)),
}
"""Closed meshes of 12 to some hundred triangles."""


class Cut:
    """A sample cut by the compiled loops, step by step."""

    def __init__(self, mesh):
        self.points = mesh.vertices - mesh.vertices.min(axis=0)
        self.faces = mesh.faces
        self.count = int(np.ceil(self.points[:, 2].max() / STEP - 0.5))
        self.level = np.clip(np.floor(self.points[:, 2] / STEP + 0.5), 0, self.count).astype(np.int64)
        mate, faults = mates(self.faces, len(self.points))
        assert not faults
        self.mate = mate
        self.base, total = slicing.node_bases(self.faces, mate, self.level)
        self.traced = slicing.trace(self.points, self.faces, self.level, base=self.base, node_count=total, step=STEP)
        self.loop, self.loop_layer, self.measures = slicing.loops(*self.traced)
        nodes = self.traced[0]
        self.row_y = (np.arange(int(self.points[:, 1].max() / ROW) + 1) + 0.5) * ROW
        row = np.clip(np.ceil(nodes[:, 1] / ROW - 0.5), 0, len(self.row_y)).astype(np.int64)
        self.asked = {"loop": self.loop, "layer_count": self.count, "row": row, "row_y": self.row_y}
        self.rows = Rows(*slicing.row_crossings(*self.traced, **self.asked))


@pytest.fixture(params=SAMPLES)
def cut(request):
    return Cut(SAMPLES[request.param])


def test_crossings_are_numbered_as_by_the_twin(cut):
    base, total = reference_layers.node_bases(cut.faces, cut.mate, cut.level)
    np.testing.assert_array_equal(cut.base, base)
    assert len(cut.traced[0]) == total


def test_crossings_lie_and_follow_as_the_twin_says(cut):
    places, follows = reference_layers.crossings(cut.points, cut.faces, cut.level, step=STEP)
    nodes, layer, after = cut.traced
    number = {}
    for t, face in enumerate(cut.faces.tolist()):
        for i in range(3):
            a, b = face[i], face[(i + 1) % 3]
            for k in range(*sorted((cut.level[a], cut.level[b]))):
                number[min(a, b), max(a, b), k] = cut.base[3 * t + i] + k
    assert sorted(number.values()) == list(range(len(nodes)))
    assert number.keys() == places.keys()
    for key, place in places.items():
        np.testing.assert_allclose(nodes[number[key]], place, atol=1e-12)
        assert layer[number[key]] == key[2]
        assert after[number[key]] == number[follows[key]]


def test_every_crossing_has_one_before_it_and_one_after_it(cut):
    nodes, layer, follows = cut.traced
    assert sorted(follows.tolist()) == list(range(len(nodes)))
    np.testing.assert_array_equal(layer[follows], layer)


def test_loops_are_numbered_and_measured_as_by_the_twin(cut):
    loop, layer, measures = reference_layers.loops(*cut.traced)
    np.testing.assert_array_equal(cut.loop, loop)
    np.testing.assert_array_equal(cut.loop_layer, layer)
    np.testing.assert_allclose(cut.measures, measures, atol=1e-10)


def test_rows_cross_loops_where_the_twin_says(cut):
    start, x, of, turn = reference_layers.row_crossings(*cut.traced, **cut.asked)
    np.testing.assert_array_equal(cut.rows.start, start)
    np.testing.assert_allclose(cut.rows.x, x, atol=1e-12)
    np.testing.assert_array_equal(cut.rows.of, of)
    np.testing.assert_array_equal(cut.rows.turn, turn)


@pytest.mark.parametrize("wanted", [True, False])
def test_spans_are_those_of_the_twin(cut, wanted):
    outside = len(cut.loop_layer)
    look = regions.Look(wanted, outside, np.empty((99, 2)), np.empty(99, dtype=np.int64))
    for cell in range(len(cut.rows.start) - 1):
        count = regions.spans(cut.rows, cell, look)
        told = list(reference_layers.spans(cut.rows, cell, outside, wanted=wanted))
        assert [tuple(each) for each in look.out[:count].tolist()] == [each[:2] for each in told]
        for which, (_, _, a, b) in zip(look.which[:count].tolist(), told, strict=True):
            assert which == (outside if outside in (a, b) else a)


def test_loops_belong_together_as_the_twin_says(cut):
    material, air = regions.joined(cut.rows, len(cut.loop_layer))
    told = reference_layers.joined(cut.rows, len(cut.loop_layer))
    np.testing.assert_array_equal(material, told[0])
    np.testing.assert_array_equal(air, told[1])


@pytest.mark.parametrize("wanted", [True, False])
def test_what_lies_over_what_is_told_as_by_the_twin(cut, wanted):
    material, air = regions.joined(cut.rows, len(cut.loop_layer))
    region = np.append(material, len(material)) if wanted else air
    width = np.linspace(0.0, 0.3, len(cut.row_y))
    pairs, length = regions.over(cut.rows, region, cut.count, wanted=wanted, width=width)
    told = reference_layers.over(cut.rows, region, cut.count, wanted=wanted, width=width)
    assert {tuple(pair) for pair in pairs.tolist()} == told.keys()
    assert len(pairs) == len(told)
    for pair, mine in zip(pairs.tolist(), length.tolist(), strict=True):
        assert mine == pytest.approx(told[tuple(pair)])


def test_the_list_of_pairs_grows_when_there_are_many():
    """A comb of 40 teeth in 60 layers has more pairs than the list begins with."""
    teeth = beside(*(box((2 * k, 0, 0), (2 * k + 1, 1, 60 * STEP)) for k in range(40)))
    cut = Cut(teeth)
    material, _ = regions.joined(cut.rows, len(cut.loop_layer))
    width = np.full(len(cut.row_y), ROW)
    pairs, area = regions.over(cut.rows, np.append(material, len(material)), cut.count, wanted=True, width=width)
    assert len(pairs) == 40 * 59
    np.testing.assert_allclose(area, ROW * (cut.row_y < 1).sum())


@pytest.mark.parametrize("name", ["box", "shaken sphere", "hollow ball", "two boxes"])
@pytest.mark.parametrize("up", [(0.31, 0.22, 0.92), (-0.5, 0.76, 0.41)])
def test_parts_under_a_rising_level_are_those_of_the_twin(name, up):
    mesh = SAMPLES[name]
    height, upward = mesh.vertices @ np.array(up), mesh.area_vectors @ np.array(up)
    start, listed = faces_at(mesh.faces, len(mesh.vertices))
    found = pockets(height, np.argsort(height, kind="stable"), mesh.faces, start=start, listed=listed, upward=upward)
    mine = sorted(zip(*(each.tolist() for each in found), strict=True))
    told = sorted(reference_layers.pockets(height, mesh.faces, upward))
    assert [each[:2] for each in mine] == [each[:2] for each in told]
    np.testing.assert_allclose([each[2] for each in mine], [each[2] for each in told], atol=1e-9)


def test_the_triangles_at_a_vertex_are_those_of_the_twin():
    mesh = SAMPLES["sphere"]
    for mine, told in zip(
        faces_at(mesh.faces, len(mesh.vertices)), reference_layers.faces_at(mesh.faces, len(mesh.vertices)), strict=True
    ):
        np.testing.assert_array_equal(mine, told)
