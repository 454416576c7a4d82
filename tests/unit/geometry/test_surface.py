"""A mesh made ready to be looked at: joints, blending, edges."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import comfort_band, signet
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.surface import CREASE_DEG, smooth


def box(*size: float, at: tuple[float, float, float] = (0, 0, 0)) -> manifold3d.Manifold:
    return manifold3d.Manifold.cube(size, center=True).translate(at)


def ball(radius_mm: float = 5.0, segments: int = 64) -> Mesh:
    return from_manifold(manifold3d.Manifold.sphere(radius_mm, segments))


def test_values_blend_over_smooth_joints_and_not_over_creases():
    cube = from_manifold(box(2, 2, 2))
    skin = smooth(cube)
    which = np.argmax(np.abs(cube.normals), axis=1).astype(float)
    assert skin.blended(which) == pytest.approx(np.repeat(which[:, None], 3, axis=1))
    round_one = ball()
    joined = smooth(round_one)
    assert len(np.unique(joined.joint)) == len(round_one.vertices)
    heights = joined.blended(round_one.centres[:, 2])
    assert np.abs(heights - round_one.corners[:, :, 2]).max() < 0.2


def test_a_constant_stays_constant_however_it_is_blended():
    band = comfort_band()
    assert smooth(band).blended(np.full(len(band.faces), 1.7)) == pytest.approx(np.full((len(band.faces), 3), 1.7))


def test_what_is_not_known_does_not_count_and_does_not_spread():
    """Beside a triangle without a value its neighbours keep theirs; a joint that knows nothing is nan."""
    mesh = ball(5.0, 24)
    values = np.full(len(mesh.faces), 2.0)
    values[7] = np.nan
    values[8] = np.inf
    assert smooth(mesh).blended(values) == pytest.approx(np.full((len(mesh.faces), 3), 2.0))
    assert np.isnan(smooth(mesh).blended(np.full(len(mesh.faces), np.nan))).all()
    cube = from_manifold(box(2, 2, 2))
    one_side = np.where(cube.normals[:, 0] > 0.5, np.nan, 1.0)
    told = smooth(cube).blended(one_side)
    assert np.isnan(told[cube.normals[:, 0] > 0.5]).all()
    assert (told[cube.normals[:, 0] < 0.5] == 1).all()


def test_corner_normals_of_a_ball_point_away_from_its_middle():
    mesh = ball()
    leaning = smooth(mesh).leaning
    lengths = np.linalg.norm(leaning, axis=2)
    outward = np.einsum("ijk,ijk->ij", leaning / lengths[..., None], mesh.corners / 5.0)
    assert outward.min() > 0.999


def test_a_cube_has_twelve_sharp_edges_and_a_ball_none():
    edges = smooth(from_manifold(box(2, 2, 2))).edges
    assert edges.sharp.sum() == 12
    assert not edges.hollow.any()
    assert not smooth(ball()).edges.sharp.any()


def test_every_edge_is_there_once_with_the_corners_opposite():
    """Euler: a closed mesh of m triangles has 3 m / 2 edges."""
    mesh = signet()
    edges = smooth(mesh).edges
    assert len(edges.ends) == 3 * len(mesh.faces) // 2
    assert (edges.opposite >= 0).all()
    named = {tuple(sorted(face)) for face in mesh.faces.tolist()}
    for ends, opposite in zip(edges.ends[::97].tolist(), edges.opposite[::97].tolist(), strict=True):
        assert all(tuple(sorted((*ends, third))) in named for third in opposite)


def test_the_inner_corner_of_an_angle_is_hollow_also_if_the_mesh_is_inside_out():
    angle = from_manifold(box(4, 2, 1) + box(1, 2, 4, at=(-1.5, 0, 1.5)))
    for faces in (angle.faces, angle.faces[:, ::-1]):
        edges = smooth(Mesh(angle.vertices, faces)).edges
        middles = angle.vertices[edges.ends].mean(axis=1)
        inner = middles[edges.hollow & edges.sharp]
        assert len(inner) >= 1
        assert np.abs(inner[:, 0] + 1).max() < 1e-9
        assert np.abs(inner[:, 2] - 0.5).max() < 1e-9


def test_rims_and_edges_of_three_triangles_are_sharp_and_have_nothing_opposite():
    cube = from_manifold(box(2, 2, 2))
    open_one = smooth(Mesh(cube.vertices, cube.faces[1:])).edges
    assert (open_one.opposite[:, 0] < 0).sum() == 3
    fin = Mesh(np.vstack([cube.vertices, [(5, 5, 5)]]), np.vstack([cube.faces, [(*cube.faces[0, :2], len(cube.vertices))]]))
    finned = smooth(fin).edges
    assert (finned.opposite[:, 0] < 0).sum() == 3
    assert finned.sharp[finned.opposite[:, 0] < 0].all()
    assert finned.faulty.sum() == 3
    assert not smooth(cube).edges.faulty.any()


def test_edges_between_triangles_that_run_the_same_way_are_faulty():
    cube = from_manifold(box(2, 2, 2))
    faces = cube.faces.copy()
    faces[4] = faces[4, ::-1]
    assert smooth(Mesh(cube.vertices, faces)).edges.faulty.sum() == 3


def test_a_sliver_without_area_makes_no_line():
    vertices = np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0), (1, 1, 0), (0.5, 0.5, 0)], dtype=float)
    mesh = Mesh(vertices, np.array([(0, 1, 2), (1, 4, 2), (1, 3, 4)]))
    edges = smooth(mesh).edges
    assert not edges.sharp[edges.opposite[:, 0] >= 0].any()


@pytest.mark.parametrize("name", ["normals", "ends"])
def test_edges_cannot_be_written(name):
    skin = smooth(ball(5.0, 16))
    if name == "ends":
        with pytest.raises(ValueError, match="read-only"):
            skin.edges.ends[0] = 0
    else:
        with pytest.raises(AttributeError):
            skin.normals = None


def by_hand(mesh: Mesh) -> dict[tuple[int, int], list[int]]:
    """The triangles at every edge, one by one."""
    found: dict[tuple[int, int], list[int]] = {}
    for number, (a, b, c) in enumerate(mesh.faces.tolist()):
        for one, other in ((a, b), (b, c), (c, a)):
            found.setdefault((min(one, other), max(one, other)), []).append(number)
    return found


def test_sharp_edges_are_those_told_by_hand_from_the_angle_of_their_two_triangles():
    """A second reckoning: each edge found in a table, its angle from the two normals by arccos."""
    mesh = signet()
    edges = smooth(mesh).edges
    found = by_hand(mesh)
    assert len(found) == len(edges.ends)
    for ends, sharp in zip(edges.ends[::31].tolist(), edges.sharp[::31].tolist(), strict=True):
        one, other = found[(min(ends), max(ends))]
        angle = np.degrees(np.arccos(np.clip(mesh.normals[one] @ mesh.normals[other], -1, 1)))
        assert sharp == (angle > CREASE_DEG) or abs(angle - CREASE_DEG) < 1e-6


def test_turning_and_moving_a_mesh_changes_no_edge():
    mesh = signet()
    turn = np.linalg.qr(np.random.default_rng(4).normal(size=(3, 3)))[0]
    turn = turn * np.sign(np.linalg.det(turn))
    moved = Mesh(mesh.vertices @ turn.T + np.array((5.0, -3.0, 40.0)), mesh.faces)
    was, now = smooth(mesh), smooth(moved)
    for name in ("ends", "opposite", "sharp", "faulty"):
        np.testing.assert_array_equal(getattr(was.edges, name), getattr(now.edges, name))
    assert now.leaning == pytest.approx(was.leaning @ turn.T, abs=1e-9)
    assert now.areas.sum() == pytest.approx(was.areas.sum())


def test_the_order_of_triangles_changes_nothing_but_their_order():
    mesh = ball(5.0, 24)
    order = np.random.default_rng(5).permutation(len(mesh.faces))
    values = np.random.default_rng(6).uniform(1, 3, len(mesh.faces))
    shuffled = smooth(Mesh(mesh.vertices, mesh.faces[order]))
    assert shuffled.blended(values[order]) == pytest.approx(smooth(mesh).blended(values)[order])
    assert len(shuffled.edges.ends) == len(smooth(mesh).edges.ends)


def test_a_blend_lies_between_the_least_and_the_most_and_keeps_what_lies_beside_it():
    """Means by area, so no value beyond those given; of several columns each is blended by itself."""
    mesh = signet()
    values = np.random.default_rng(7).uniform(1, 3, (len(mesh.faces), 2))
    skin = smooth(mesh)
    told = skin.blended(values)
    assert told.shape == (len(mesh.faces), 3, 2)
    assert told.min() >= values.min()
    assert told.max() <= values.max()
    assert told[..., 1] == pytest.approx(skin.blended(values[:, 1]))


def test_vertices_that_no_triangle_uses_are_no_points_of_a_surface():
    cube = from_manifold(box(2, 2, 2))
    strewn = Mesh(np.vstack([cube.vertices, [(99.0, 0, 0)]]), cube.faces)
    assert smooth(strewn).points.max() == pytest.approx(1)
