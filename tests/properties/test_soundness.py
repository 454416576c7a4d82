"""A verdict on a surface is the same wherever it lies and however it is cut; a fault put in is found at its place."""

import manifold3d
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from pourwell.geometry.mending import mend
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.places import FaultKind, find_faults
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import faults, from_manifold, inside_out
from tests.unit.files.pattern_files import cube, joined, loose
from tests.unit.geometry.faulty import fine, flipped, halved, pushed, repeated, shuffled, with_flake, without

SEEDS = st.integers(0, 10_000)
PIECES = (
    fine(SHAPES["plain-band"].make(), 2.0),
    fine(SHAPES["stud"].make(), 1.5),
    from_manifold(manifold3d.Manifold.sphere(4, 24)),
    fine(cube(6), 1.5),
)
FAULTY = (
    without(PIECES[0], 5),
    flipped(PIECES[1], 3, 9),
    repeated(PIECES[2], 7),
    joined(cube(6), inside_out(cube(2, (9, 0, 0)))),
    pushed(PIECES[3], (3, 3, 6), 7.0),
    with_flake(PIECES[0], 5),
)


def placed(mesh, seed):
    turn = Rotation.random(rng=np.random.default_rng(seed)).as_matrix()
    return turn, np.random.default_rng(seed).uniform(-30, 30, 3)


def verdict(mesh):
    """What is wrong, and how often, but for slivers, which come and go with rounding."""
    found = [fault.kind for fault in find_faults(mesh) if fault.kind is not FaultKind.SLIVER]
    return sorted((kind.value, found.count(kind)) for kind in set(found))


def near(mesh, kind, at, reach_mm):
    """Is there exactly one fault of this kind, and is it there."""
    found = [fault for fault in find_faults(mesh) if fault.kind is kind]
    return len(found) == 1 and np.linalg.norm(np.array(found[0].at_mm) - at) <= reach_mm


@settings(max_examples=10)
@given(SEEDS, st.sampled_from(range(len(PIECES))), st.booleans())
def test_a_sound_piece_is_sound_wherever_it_lies_and_however_it_is_cut(seed, which, finer):
    mesh = halved(PIECES[which]) if finer else PIECES[which]
    turn, way = placed(mesh, seed)
    stored = loose(shuffled(Mesh(mesh.vertices @ turn.T + way, mesh.faces), seed))
    assert verdict(Mesh(stored.vertices.astype(np.float32), stored.faces)) == []


@settings(max_examples=10)
@given(SEEDS, st.sampled_from(range(len(FAULTY))))
def test_the_faults_of_a_piece_are_the_same_wherever_it_lies_and_in_any_order(seed, which):
    mesh = FAULTY[which]
    turn, way = placed(mesh, seed)
    assert verdict(shuffled(Mesh(mesh.vertices @ turn.T + way, mesh.faces), seed)) == verdict(mesh) != []


@settings(max_examples=12)
@given(SEEDS, st.sampled_from((0, 3, 4, 5)))
def test_the_faults_of_a_piece_are_the_same_when_every_triangle_is_cut_in_four(seed, which):
    mesh = FAULTY[which]
    assert verdict(shuffled(halved(mesh), seed)) == verdict(mesh)


@settings(max_examples=10)
@given(SEEDS, st.sampled_from(range(len(PIECES))), st.data())
def test_one_fault_put_in_anywhere_is_found_there_and_mended(seed, which, data):
    piece = PIECES[which]
    face = data.draw(st.integers(0, len(piece.faces) - 1))
    at, size = piece.centres[face], np.linalg.norm(np.ptp(piece.corners[face], axis=0))
    cases = {
        FaultKind.OPEN: without(piece, face),
        FaultKind.WINDING: flipped(piece, face),
        FaultKind.EDGE: repeated(piece, face),
        FaultKind.FLAKE: with_flake(piece, face),
    }
    for kind, mesh in cases.items():
        broken = shuffled(mesh, seed)
        assert near(broken, kind, at, size + 0.4), kind
        mended = mend([broken])
        assert mended.changes, kind
        assert mended.mesh is not None, kind
        assert verdict(mended.mesh) == [], kind
        assert np.isclose(mended.mesh.volume_mm3, piece.volume_mm3, rtol=0.01), kind


@settings(max_examples=8)
@given(SEEDS, st.integers(0, 30))
def test_a_corner_pushed_through_the_far_wall_is_found_there(seed, number):
    piece = PIECES[3]
    flat = (np.abs(piece.vertices - 3).max(axis=1) == 3) & ((np.abs(piece.vertices - 3) < 2).sum(axis=1) == 2)
    corner = piece.vertices[np.flatnonzero(flat)[number % flat.sum()]]
    beyond = pushed(piece, tuple(corner), 7.0)
    told = [fault for fault in find_faults(shuffled(beyond, seed)) if fault.kind is FaultKind.CROSSING]
    assert len(told) == 1
    axis = int(np.argmax(np.abs(corner - 3)))
    through = np.where(np.arange(3) == axis, 6 - corner, corner)
    assert np.linalg.norm(np.array(told[0].at_mm) - through) < 1.5
    assert faults(beyond).sound, "every edge is as it should be: only the crossing tells"
