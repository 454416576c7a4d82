"""Each compiled loop of the touching balls against its readable twin."""

import numpy as np
import pytest

from pourwell.geometry.kernels import reference_touch as reference
from pourwell.geometry.kernels.touch import SETTLED
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import Fineness, bezel_ring, plain_band, stud_with_wire
from pourwell.geometry.thickness import spread
from pourwell.geometry.touching import Touching
from tests.unit.geometry.distance_samples import beside, box, icosphere, shaken

SAMPLES = {
    "box": box((0, 0, 0), (1, 2, 3)),
    "sphere": icosphere(2.0, halvings=2),
    "shaken sphere": shaken(icosphere(2.0, halvings=3), by=0.05, seed=5),
    "band": plain_band(fineness=Fineness(chord_mm=0.1, longest_mm=4.0)),
    "stud": stud_with_wire(fineness=Fineness(chord_mm=0.05, longest_mm=4.0)),
    "two boxes": beside(box((0, 0, 0), (1, 1, 1)), box((1.2, 0, 0), (4, 2, 1))),
}
"""Closed meshes of 12 to some 1000 triangles."""


@pytest.fixture(params=SAMPLES)
def mesh(request):
    return SAMPLES[request.param]


def some_places(mesh, count=40):
    points, face, _ = spread(mesh)
    chosen = np.random.default_rng(1).permutation(len(points))[:count]
    return points[chosen], face[chosen]


@pytest.mark.parametrize("outside", [False, True])
def test_balls_are_those_of_the_twin(mesh, outside):
    """Both let a ball be reached into by a ten-thousandth of its radius, so that they differ by little."""
    points, face = some_places(mesh)
    touching = Touching(mesh)
    found = touching.balls(points, face, outside=outside, most_mm=6.0)
    for point, way, diameter, stop in zip(points, found.way, found.diameter_mm, found.stop, strict=True):
        radius, twin = reference.touch(mesh, point, way, side=1.0 if outside else -1.0, most_mm=3.0)
        assert (stop < 0) == (twin < 0)
        assert diameter == pytest.approx(2 * radius if twin >= 0 else np.inf, rel=0.01)


@pytest.mark.parametrize("outside", [False, True])
def test_nothing_that_stops_a_ball_reaches_into_it(mesh, outside):
    points, face = some_places(mesh, count=25)
    found = Touching(mesh).balls(points, face, outside=outside, most_mm=6.0)
    side = 1.0 if outside else -1.0
    for point, way, diameter in zip(points, found.way, np.minimum(found.diameter_mm, 6.0), strict=True):
        middle = point + way * diameter / 2
        away = np.linalg.norm(reference.feet(mesh.corners, middle) - middle, axis=1)
        stops = side * (mesh.normals @ way) < 0.6427
        assert away[stops].min() >= diameter / 2 * (1 - SETTLED) - 1e-12


def test_distances_and_feet_are_those_of_the_twin(mesh):
    points = np.random.default_rng(2).uniform(-3, 4, (60, 3))
    away, foot = Touching(mesh).feet(points)
    for point, mine, place in zip(points, away, foot, strict=True):
        feet = reference.feet(mesh.corners, point)
        truth = np.linalg.norm(feet - point, axis=1)
        assert mine == pytest.approx(reference.away(mesh.corners, point), abs=1e-9)
        assert np.linalg.norm(place - point) == pytest.approx(mine, abs=1e-9)
        assert np.linalg.norm(feet - place, axis=1).min() < 1e-6 or truth.min() == pytest.approx(mine)


def test_ways_out_are_those_of_the_twin(mesh):
    _, face = some_places(mesh, count=30)
    rng = np.random.default_rng(3)
    weights = rng.dirichlet((1, 1, 1), len(face))
    points = np.einsum("ij,ijk->ik", weights, mesh.corners[face])
    found = Touching(mesh).ways(points, face)
    np.testing.assert_allclose(found, reference.smooth_normals(mesh, face, weights), atol=1e-6)


def test_ways_out_of_a_sphere_lead_from_its_middle_and_those_of_a_box_from_its_faces():
    """That is what they are for: across a facet the way turns as the round surface does, over a crease it does not."""
    ball = icosphere(2.0, halvings=4)
    points, face, _ = spread(ball)
    ways = Touching(ball).ways(points, face)
    assert np.einsum("ij,ij->i", ways, points / np.linalg.norm(points, axis=1)[:, None]).min() > 0.9999
    cube = box((0, 0, 0), (2, 2, 2))
    points, face, _ = spread(cube)
    np.testing.assert_allclose(Touching(cube).ways(points, face), cube.normals[face], atol=1e-12)


def test_the_middle_of_a_fan_of_many_faces_is_not_rounded():
    """A disc's flat end of a hundred triangles about one vertex: each keeps its own way."""
    rim = [(np.cos(t), np.sin(t), 0.0) for t in np.linspace(0, 2 * np.pi, 100, endpoint=False)]
    faces = [(0, 1 + k, 1 + (k + 1) % 100) for k in range(100)] + [(101, 1 + (k + 1) % 100, 1 + k) for k in range(100)]
    disc = Mesh(np.array([(0.0, 0.0, 0.1), *rim, (0.0, 0.0, -0.1)]), np.array(faces))
    points, face, _ = spread(disc)
    ways = Touching(disc).ways(points, face)
    assert np.einsum("ij,ij->i", ways, disc.normals[face]).min() > 0.99


def test_an_open_mesh_and_one_of_loose_facets_can_be_asked_too():
    lid = box((0, 0, 0), (4, 4, 1))
    loose = Mesh(lid.corners.reshape(-1, 3), np.arange(36).reshape(-1, 3))
    points, face, _ = spread(loose)
    found = Touching(loose).balls(points, face)
    assert found.diameter_mm.max() == pytest.approx(1.0)
    half = Mesh(lid.vertices, lid.faces[:-2])
    points, face, _ = spread(half)
    assert np.isfinite(Touching(half).balls(points, face).diameter_mm).any()


def test_no_ball_is_looked_for_beyond_the_size_asked_and_the_answer_is_open():
    cube = box((0, 0, 0), (5, 5, 5))
    points, face, _ = spread(cube)
    found = Touching(cube).balls(points, face, most_mm=2.0)
    assert np.isinf(found.diameter_mm).any()
    assert (found.stop[np.isinf(found.diameter_mm)] == -1).all()
    assert found.diameter_mm[np.isfinite(found.diameter_mm)].max() <= 2.0


def test_balls_do_not_depend_on_how_many_are_asked_at_once_or_in_which_order():
    ring = bezel_ring(fineness=Fineness(chord_mm=0.02, longest_mm=2.0))
    touching = Touching(ring)
    points, face, _ = spread(ring)
    whole = touching.balls(points, face).diameter_mm
    order = np.random.default_rng(4).permutation(len(points))
    parts = [touching.balls(points[part], face[part]).diameter_mm for part in np.array_split(order, 7)]
    np.testing.assert_allclose(np.concatenate(parts), whole[order], rtol=0.01)
