"""Solids are what they are however their triangles are numbered, placed and written."""

import manifold3d
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from pourwell.geometry.bore import find_bore
from pourwell.geometry.mending import mended
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import plain_band
from pourwell.geometry.solidity import bodies, faults, from_manifold, inside_out, to_manifold, unite, weld
from pourwell.geometry.thickness import sampled
from tests.unit.files.pattern_files import cube, joined, loose

SEEDS = st.integers(0, 10_000)
OFFSETS = st.tuples(*[st.floats(-3, 3).map(lambda x: round(x, 2))] * 3)


def lump(seed):
    """A rough convex solid of 8 to 30 corners."""
    rng = np.random.default_rng(seed)
    return from_manifold(manifold3d.Manifold.hull_points(rng.normal(size=(rng.integers(8, 30), 3)) * 3))


def shuffled(mesh, seed):
    """The same triangles in another order, from another corner, with other numbers."""
    rng = np.random.default_rng(seed)
    faces = rng.permutation(mesh.faces)
    turn = rng.integers(0, 3, len(faces))
    faces = np.take_along_axis(faces, (np.arange(3) + turn[:, None]) % 3, axis=1)
    order = rng.permutation(len(mesh.vertices))
    back = np.argsort(order)
    return Mesh(mesh.vertices[order], back[faces])


def turned(mesh, seed):
    rotation = Rotation.random(rng=np.random.default_rng(seed)).as_matrix()
    return Mesh(mesh.vertices @ rotation.T + np.random.default_rng(seed).uniform(-20, 20, 3), mesh.faces)


@given(SEEDS, SEEDS)
def test_a_solid_is_sound_whatever_the_order_of_its_triangles(seed, order):
    mesh = shuffled(loose(lump(seed)), order)
    assert faults(mesh).sound
    assert len(bodies(mesh)) == 1
    assert np.isclose(weld(mesh).volume_mm3, lump(seed).volume_mm3)


@given(SEEDS, OFFSETS)
def test_union_and_overlap_add_up_to_the_parts(seed, offset):
    one, two = lump(seed), lump(seed + 1)
    two = Mesh(two.vertices + np.array(offset), two.faces)
    solid, overlap = unite([one, two])
    assert np.isclose(solid.volume_mm3 + overlap, one.volume_mm3 + two.volume_mm3)
    assert solid.volume_mm3 >= max(one.volume_mm3, two.volume_mm3) * (1 - 1e-9)
    exact = (to_manifold(one) ^ to_manifold(two)).volume()
    assert np.isclose(overlap, exact, rtol=1e-6, atol=1e-6)


@given(SEEDS, OFFSETS)
def test_union_does_not_depend_on_order_or_on_which_side_is_out(seed, offset):
    one, two = lump(seed), lump(seed + 1)
    two = Mesh(two.vertices + np.array(offset) * 3, two.faces)
    there, _ = unite([one, two])
    back, _ = unite([two, one])
    assert np.isclose(there.volume_mm3, back.volume_mm3)


@given(SEEDS)
def test_an_inside_out_solid_is_the_same_solid(seed):
    assert np.isclose(unite([inside_out(lump(seed))])[0].volume_mm3, lump(seed).volume_mm3)


@given(SEEDS, st.integers(1, 3))
def test_missing_triangles_are_noticed_and_the_stand_in_is_near(seed, count):
    whole = lump(seed)
    order = np.argsort(whole.areas)  # the smallest: what is lost is little
    broken = Mesh(whole.vertices, np.delete(whole.faces, order[:count], axis=0))
    assert not faults(broken).sound
    solid = mended(broken)
    if solid is not None:
        assert faults(solid).sound
        assert abs(solid.volume_mm3 - whole.volume_mm3) < 0.35 * whole.volume_mm3


@given(SEEDS, st.integers(0, 11))
def test_turned_triangles_are_always_noticed(seed, face):
    changed = cube(4).faces.copy()
    changed[face] = changed[face, ::-1]
    assert not faults(shuffled(Mesh(cube(4).vertices, changed), seed)).sound


@given(st.integers(1, 5), SEEDS)
def test_as_many_bodies_come_out_as_went_in(count, seed):
    mesh = joined(*(cube(1, (3 * k, 0, 0)) for k in range(count)))
    assert len(bodies(shuffled(loose(mesh), seed))) == count


@settings(max_examples=10)
@given(SEEDS)
def test_walls_do_not_change_when_the_piece_is_turned(seed):
    mesh = from_manifold(manifold3d.Manifold.cube((9, 7, 1.3), True))
    assert np.isclose(sampled(turned(mesh, seed)).typical_mm, 1.3, rtol=1e-5)


@settings(max_examples=10)
@given(SEEDS, st.floats(13, 22))
def test_the_bore_is_found_wherever_the_ring_lies(seed, bore_mm):
    mesh = plain_band(bore_mm=bore_mm)
    bore = find_bore(turned(mesh, seed))
    assert bore is not None
    assert np.isclose(bore.diameter_mm, bore_mm, rtol=2e-3)
