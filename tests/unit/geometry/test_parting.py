"""Triangles that lie about one corner as the sticks of a fan: those that cross are found all the same, and quickly."""

import time

import numpy as np
import pytest

from pourwell.geometry.crossing import crossings
from pourwell.geometry.kernels import reference_crossings as reference
from pourwell.geometry.kernels.crossings import crossing_pairs
from pourwell.geometry.kernels.parting import MANY, apart, hubs, leaf_hubs, leaves, parted
from pourwell.geometry.kernels.tree import WIDTH, tree_order
from pourwell.geometry.mesh import Mesh


def found(mesh):
    pairs = crossing_pairs(mesh.vertices, mesh.faces, (tree_order(mesh.centres), 100_000))[0]
    return {(int(f), int(g)) for f, g in pairs}


def fans(rng, count, *, centres=1, coarse=False, flat=False):
    """Sticks about a corner or two, each with two corners of its own; `coarse` on a lattice, where much touches."""
    points = rng.integers(-3, 4, (centres + 2 * count, 3)).astype(float) if coarse else rng.normal(size=(centres + 2 * count, 3))
    if flat:
        points[:, 2] = 0.0
    own = centres + np.arange(2 * count).reshape(-1, 2)
    return Mesh(points, np.column_stack((np.arange(count) % centres, own)))


def cone(count, *, high=8.0, turn=0.0):
    """A closed cone: a fan about its tip and one about the middle of its base."""
    angle = np.arange(count) * (2 * np.pi / count) + turn
    rim = np.column_stack((10 * np.cos(angle), 10 * np.sin(angle), np.zeros(count)))
    k = np.arange(count)
    side, base = (
        np.column_stack((k, (k + 1) % count, np.full(count, count))),
        np.column_stack(((k + 1) % count, k, np.full(count, count + 1))),
    )
    return Mesh(np.vstack((rim, [[0, 0, high], [0, 0, 0]])), np.vstack((side, base)))


@pytest.mark.parametrize(("seed", "centres", "coarse"), [(0, 1, False), (1, 1, True)])
def test_sticks_that_cross_are_those_of_the_readable_twin(seed, centres, coarse):
    mesh = fans(np.random.default_rng(seed), (MANY + 3) * centres, centres=centres, coarse=coarse)
    wanted = {(int(f), int(g)) for f, g in reference.crossing_pairs(mesh.vertices, mesh.faces)}
    assert wanted, "some cross"
    assert found(mesh) == wanted


def test_sticks_in_one_plane_cross_nowhere():
    assert found(fans(np.random.default_rng(1), 80, flat=True)) == set()


def test_a_fan_that_is_turned_anyhow_crosses_nowhere_and_takes_no_long_search():
    turn = np.linalg.qr(np.random.default_rng(2).normal(size=(3, 3)))[0]
    mesh = cone(10_000)
    mesh = Mesh(mesh.vertices @ turn.T + 40.0, mesh.faces)
    crossings(cone(50))
    begun = time.process_time()
    assert not len(crossings(mesh).pairs)
    assert time.process_time() - begun < 5, "in pairs it took 40 seconds"


@pytest.mark.parametrize("count", [MANY - 2, 400])
def test_a_needle_through_a_fan_is_found_on_its_way_in_and_out(count):
    mesh = cone(count, turn=0.1)
    needle = np.array([[3.0, 2.0, -1.0], [3.01, 2.0, 9.0], [3.0, 2.02, 9.0]])
    n, m = len(mesh.vertices), len(mesh.faces)
    both = Mesh(np.vstack((mesh.vertices, needle)), np.vstack((mesh.faces, [[n, n + 1, n + 2]])))
    pairs = found(both)
    assert {g for _, g in pairs} == {m}
    assert {f < count for f, _ in pairs} == {True, False}, "through the side and through the base"


def test_a_corner_of_few_is_no_hub_and_one_of_many_is():
    for count, wanted in ((MANY, False), (MANY + 1, True)):
        mesh = fans(np.random.default_rng(3), count)
        corner = hubs(mesh.vertices, mesh.faces, np.arange(count)).corner
        assert (corner == 0).all() if wanted else (corner == -1).all()


def test_every_way_out_of_a_hub_lies_in_its_triangles_box():
    mesh = fans(np.random.default_rng(4), 50)
    ways = hubs(mesh.vertices, mesh.faces, np.arange(50)).ways
    for (hub, a, b), box in zip(mesh.faces, ways, strict=True):
        for share in np.linspace(0, 1, 21):
            way = mesh.vertices[a] * (1 - share) + mesh.vertices[b] * share - mesh.vertices[hub]
            way /= np.linalg.norm(way)
            assert (way >= box[:3]).all()
            assert (way <= box[3:]).all()


def test_a_leaf_has_a_hub_if_all_of_it_have_and_holds_their_ways():
    mesh = fans(np.random.default_rng(5), 4 * WIDTH + 3)
    each = hubs(mesh.vertices, mesh.faces, np.arange(len(mesh.faces)))
    over = leaf_hubs(each)
    assert len(over.corner) == 5
    assert (over.corner == 0).all()
    for leaf in range(5):
        mine = each.ways[leaf * WIDTH : leaf * WIDTH + WIDTH]
        np.testing.assert_array_equal(over.ways[leaf], np.concatenate((mine[:, :3].min(axis=0), mine[:, 3:].max(axis=0))))
    each.corner[2] = -1
    assert leaf_hubs(each).corner.tolist() == [-1, 0, 0, 0, 0]
    assert not apart(leaf_hubs(each), 0, 1)


def test_leaves_are_parted_where_one_lies_wholly_beyond_the_other_and_not_where_they_touch():
    rng = np.random.default_rng(6)
    here = rng.random((3 * WIDTH, 3)) * (1, 1, 0)
    for high, wanted in ((0.5, True), (1e-3, True), (0.0, False)):
        points = np.vstack((here, here + np.array((0.0, 0.0, high))))
        faces = np.arange(len(points)).reshape(-1, 3)
        made = leaves(points, faces, np.arange(len(faces)))
        assert parted(made, 0, 1) == parted(made, 1, 0) == wanted
    nothing = leaves(np.zeros((6 * WIDTH, 3)), np.arange(6 * WIDTH).reshape(-1, 3), np.arange(2 * WIDTH))
    assert not parted(nothing, 0, 1), "what has no area has no plane"
