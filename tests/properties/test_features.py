"""What holds of every measure of a piece: a rigid motion, a scale and other triangles on the same surface change no verdict."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.thickness import spread
from pourwell.geometry.touching import Touching
from tests.unit.geometry.distance_samples import icosphere, shaken, turned
from tests.unit.geometry.feature_pieces import blind_hole, block, drilled, groove, line, notch, refined, slot, v_groove, with_wire
from tests.unit.pattern.case import measured

seeds = st.integers(0, 2**32 - 1)
crumpled = st.builds(
    lambda by, seed: shaken(icosphere(2.0, halvings=2), by=by, seed=seed), st.sampled_from([0.0, 0.01, 0.05]), seeds
)
PIECES = {
    "groove": lambda: block(groove(0.2, 0.5)),
    "shallow": lambda: block(groove(0.6, 0.15)),
    "graver": lambda: block(v_groove(90, 0.15)),
    "hole": lambda: block(blind_hole(1.0, 2.6)),
    "through": lambda: block(drilled(0.6)),
    "slot": lambda: block(slot(0.25)),
    "line": lambda: block(on=[line(0.3, 0.4)]),
    "notch": lambda: block(notch(30)),
    "wire": lambda: with_wire(0.55),
    "sound": lambda: block(groove(0.8, 0.6)),
}


def motion(seed):
    rng = np.random.default_rng(seed)
    return np.column_stack((turned(rng), rng.uniform(-40, 40, 3)))


def mixed(mesh, seed):
    """The same triangles in another order, each beginning at another corner, vertices numbered anew."""
    rng = np.random.default_rng(seed)
    number = rng.permutation(len(mesh.vertices))
    vertices = np.empty_like(mesh.vertices)
    vertices[number] = mesh.vertices
    faces = number[mesh.faces][rng.permutation(len(mesh.faces))]
    turn = rng.integers(0, 3, len(faces))
    return Mesh(vertices, np.take_along_axis(faces, (np.arange(3) + turn[:, None]) % 3, axis=1))


def verdict(mesh):
    return {code: told.severity for code, told in measured(mesh)[1].items()}


@settings(max_examples=12)
@given(name=st.sampled_from(sorted(PIECES)), seed=seeds)
def test_a_rigid_motion_changes_no_verdict(name, seed):
    mesh = PIECES[name]()
    assert verdict(mesh.moved(motion(seed))) == verdict(mesh)


@settings(max_examples=8)
@given(name=st.sampled_from(sorted(PIECES)), times=st.integers(1, 2), seed=seeds)
def test_other_triangles_on_the_same_surface_change_no_verdict(name, times, seed):
    mesh = PIECES[name]()
    assert verdict(mixed(refined(mesh, times), seed)) == verdict(mesh)


@given(mesh=crumpled, seed=seeds)
def test_balls_move_with_the_piece(mesh, seed):
    """But for the few places where the ball rests on an edge right beside it, which rounding decides."""
    points, face, _ = spread(mesh)
    move = motion(seed)
    there = Touching(mesh.moved(move)).balls(points @ move[:, :3].T + move[:, 3], face).diameter_mm
    here = Touching(mesh).balls(points, face).diameter_mm
    assert np.mean(np.abs(there / here - 1) < 1e-3) > 0.99


@given(mesh=crumpled, factor=st.floats(0.01, 100))
def test_balls_scale_with_the_piece(mesh, factor):
    points, face, _ = spread(mesh)
    large = Touching(mesh.scaled(factor)).balls(points * factor, face).diameter_mm
    here = Touching(mesh).balls(points, face).diameter_mm
    assert np.mean(np.abs(large / (here * factor) - 1) < 1e-3) > 0.99


@given(mesh=crumpled, seed=seeds)
def test_no_ball_is_larger_than_twice_the_way_to_any_face_that_stops_it(mesh, seed):
    """A ball from inside is no wider than the ray along its way is long, for it lies between its place and where that leaves."""
    points, face, _ = spread(mesh)
    chosen = np.random.default_rng(seed).permutation(len(points))[:40]
    balls = Touching(mesh).balls(points[chosen], face[chosen])
    told = np.isfinite(balls.diameter_mm)
    middle = points[chosen] + balls.way * balls.diameter_mm[:, None] / 2
    away, _ = Touching(mesh).feet(middle[told])
    assert (away <= balls.diameter_mm[told] / 2 * (1 + 1e-9)).all(), "its own place lies on the surface"


@given(mesh=crumpled, seed=seeds)
def test_the_order_of_triangles_does_not_matter(mesh, seed):
    order = np.random.default_rng(seed).permutation(len(mesh.faces))
    other = Mesh(mesh.vertices, mesh.faces[order])
    points, face, _ = spread(mesh)
    where = np.argsort(order)[face]
    here, there = (Touching(m).balls(points, f).diameter_mm for m, f in ((mesh, face), (other, where)))
    assert np.mean(np.abs(there / here - 1) < 1e-3) > 0.99


@given(seed=seeds, outside=st.booleans())
def test_a_smaller_size_looked_for_only_opens_what_is_wider(seed, outside):
    mesh = shaken(icosphere(2.0, halvings=2), by=0.05, seed=seed)
    points, face, _ = spread(mesh)
    touching = Touching(mesh)
    whole = touching.balls(points, face, outside=outside).diameter_mm
    part = touching.balls(points, face, outside=outside, most_mm=2.0).diameter_mm
    narrow = whole < 1.9
    assert np.mean(np.abs(part[narrow] / whole[narrow] - 1) < 1e-3) > 0.98 if narrow.any() else True
    assert np.isinf(part[whole > 2.1]).mean() > 0.98 if (whole > 2.1).any() else True


def test_a_mesh_of_very_many_triangles_is_thinned_without_moving_a_measure():
    from pourwell.geometry.thickness import sampled, speakers

    fine = icosphere(3.0, halvings=5)
    owner = speakers(fine, most=1000)
    assert len(np.unique(owner)) < len(fine.faces) / 4
    assert (fine.normals * fine.normals[owner]).sum(axis=1).min() > 0.96
    _, face, area = spread(fine, owner)
    assert area.sum() == pytest.approx(fine.area_mm2)
    assert set(face) == set(owner)
    assert (speakers(fine) == np.arange(len(fine.faces))).all()
    samples = sampled(fine)
    assert samples.spread_out(samples.wall_mm) == pytest.approx(6.0, rel=0.01)
    assert samples.spread_open(np.full(len(samples.points), np.inf)).tolist() == [np.inf] * len(fine.faces)
