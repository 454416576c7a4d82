"""Rays on both engines: the same hits, exact distances, no ray that meets the face it leaves."""

import importlib.util
from time import perf_counter

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.rays import Caster, NoRaysError
from pourwell.geometry.shapes import plain_band

ENGINES = [
    pytest.param("embree", marks=pytest.mark.skipif(importlib.util.find_spec("embreex") is None, reason="no embreex build here")),
    "manifold",
]
FAR_MM = np.array([500.0, -300.0, 200.0])


def meshed(body: manifold3d.Manifold) -> Mesh:
    made = body.to_mesh64()
    return Mesh(np.asarray(made.vert_properties)[:, :3], np.asarray(made.tri_verts).astype(np.int64))


def sphere(radius_mm: float = 10.0, segments: int = 64) -> Mesh:
    return meshed(manifold3d.Manifold.sphere(radius_mm, segments))


def random_units(count: int, rng: np.random.Generator) -> np.ndarray:
    drawn = rng.normal(size=(count, 3))
    return drawn / np.linalg.norm(drawn, axis=1)[:, None]


@pytest.fixture(params=ENGINES)
def engine(request):
    return request.param


def test_a_ray_meets_the_near_face_of_a_cube_at_its_distance(engine):
    cube = meshed(manifold3d.Manifold.cube((2.0, 4.0, 6.0), center=True))
    distance, face = Caster(cube, engine=engine).first([[10.0, 0.3, 0.7], [0.1, 0.2, 0.4]], [[-5.0, 0, 0], [0, 0, 1.0]])
    assert distance == pytest.approx([9.0, 2.6], abs=1e-12)
    assert cube.normals[face[0]] == pytest.approx([1, 0, 0])
    assert cube.normals[face[1]] == pytest.approx([0, 0, 1])


def test_a_ray_past_the_mesh_meets_nothing(engine):
    distance, face = Caster(sphere(), engine=engine).first([[0, 0, 20.0], [0, 11.0, -20.0]], [[0, 0, 1.0], [0, 0, 1.0]])
    assert np.isinf(distance).all()
    assert (face == -1).all()


def test_one_direction_serves_all_rays(engine):
    caster = Caster(sphere(), engine=engine)
    origins = [[0, 0, 20.0], [1.0, 0, 20.0], [0, 2.0, 20.0]]
    one, _ = caster.first(origins, [0, 0, -1.0])
    each, _ = caster.first(origins, [[0, 0, -1.0]] * 3)
    assert one == pytest.approx(each)
    assert one.shape == (3,)


def test_distances_far_from_the_origin_keep_double_precision(engine):
    """The hit lies in the plane of its triangle to far better than single precision could say at that distance."""
    ball = sphere()
    mesh = Mesh(ball.vertices + FAR_MM, ball.faces)
    rng = np.random.default_rng(3)
    towards = random_units(500, rng)
    origins = FAR_MM - 30.0 * towards + rng.uniform(-4, 4, size=(500, 3))
    distance, face = Caster(mesh, engine=engine).first(origins, towards)
    assert (face >= 0).all()
    off = np.einsum("ij,ij->i", origins + distance[:, None] * towards - mesh.corners[face, 0], mesh.normals[face])
    assert np.abs(off).max() < 1e-11, f"observed {np.abs(off).max():.2e} mm"


def test_rays_that_leave_a_face_inwards_meet_the_other_side(engine):
    """A polyhedral ball between its inscribed and its circumscribed sphere: every chord through the middle is 2 x that."""
    ball = sphere()
    faces = np.arange(0, len(ball.faces), 5)
    nearest = np.einsum("ij,ij->i", ball.centres, ball.normals).min()
    distance, met = Caster(ball, engine=engine).first(ball.centres[faces], -ball.centres[faces], leaving=faces)
    assert (met >= 0).all()
    assert (met != faces).all()
    assert distance.min() >= 2 * nearest - 1e-9
    assert distance.max() <= 20.0


def test_rays_that_leave_a_convex_body_outwards_meet_nothing(engine):
    ball = sphere()
    faces = np.arange(len(ball.faces))[::3]
    _, met = Caster(ball, engine=engine).first(ball.centres[faces], ball.normals[faces], leaving=faces)
    assert (met == -1).all()


def test_grazing_rays_do_not_meet_the_face_they_leave(engine):
    """At a tenth of a degree to the face a single-precision ray would stumble over its own triangle."""
    ball = sphere()
    faces = np.arange(len(ball.faces))[::3]
    normals = ball.normals[faces]
    rng = np.random.default_rng(5)
    along = np.cross(normals, random_units(len(faces), rng))
    along /= np.linalg.norm(along, axis=1)[:, None]
    distance, met = Caster(ball, engine=engine).first(ball.centres[faces], along - 0.002 * normals, leaving=faces)
    assert (met >= 0).all()
    assert (met != faces).all()
    assert distance.min() > 1e-3


def test_a_plate_thinner_than_a_hair_is_measured(engine):
    plate = meshed(manifold3d.Manifold.cube((20.0, 20.0, 0.003), center=True))
    up = np.flatnonzero(plate.normals[:, 2] > 0.5)
    distance, _ = Caster(plate, engine=engine).first(plate.centres[up], [0, 0, -1.0], leaving=up)
    assert distance == pytest.approx(0.003, abs=1e-9)


def test_minus_one_leaves_no_face(engine):
    """Where no face is named the ray starts as given."""
    cube = meshed(manifold3d.Manifold.cube((2.0, 2.0, 2.0), center=True))
    distance, _ = Caster(cube, engine=engine).first([[0.1, 0.2, 0.3]], [[0, 0, 1.0]], leaving=np.array([-1]))
    assert distance == pytest.approx([0.7])


@pytest.mark.skipif(importlib.util.find_spec("embreex") is None, reason="no embreex build here to compare with")
def test_both_engines_find_the_same_faces_and_the_fast_one_is_faster():
    band = plain_band()
    rng = np.random.default_rng(1)
    origins, towards = rng.uniform(-14, 14, size=(1500, 3)), random_units(1500, rng)
    seconds, hits = {}, {}
    for name in ("embree", "manifold"):
        caster = Caster(band, engine=name)
        start = perf_counter()
        hits[name] = caster.first(origins, towards)
        seconds[name] = perf_counter() - start
    met = hits["embree"][1] >= 0
    assert 100 < met.sum() < 1400
    assert (met == (hits["manifold"][1] >= 0)).all()
    assert hits["embree"][0][met] == pytest.approx(hits["manifold"][0][met], abs=1e-9)
    ratio = seconds["manifold"] / seconds["embree"]
    print(f"the fast engine is {ratio:.0f} times as fast")
    assert ratio > 2, f"observed {ratio:.1f}"


def test_an_open_mesh_is_refused_by_the_slow_engine_only():
    ball = sphere()
    cut = Mesh(ball.vertices, ball.faces[5:])
    with pytest.raises(NoRaysError, match="not a closed solid"):
        Caster(cut, engine="manifold")


@pytest.mark.skipif(importlib.util.find_spec("embreex") is None, reason="no embreex build here")
def test_an_open_mesh_serves_the_fast_engine():
    ball = sphere()
    distance, _ = Caster(Mesh(ball.vertices, ball.faces[5:]), engine="embree").first([0, 0, 0], [0.1, 0.2, -1.0])
    assert 9.9 < distance[0] <= 10


def test_an_empty_mesh_meets_no_ray():
    distance, face = Caster(Mesh(np.zeros((0, 3)), np.zeros((0, 3), dtype=int))).first([[0, 0, 0]], [[0, 0, 1.0]])
    assert np.isinf(distance).all()
    assert (face == -1).all()
