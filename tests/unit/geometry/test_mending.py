"""Mending step by step: what it does, that it does no more, and that the result is a solid."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.crossing import crossings
from pourwell.geometry.holes import filled, rims
from pourwell.geometry.mending import NO_NEW_SURFACE, Deed, Step, mend
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.moved import moved
from pourwell.geometry.places import find_faults
from pourwell.geometry.remeshing import remeshed
from pourwell.geometry.scatter import scattered
from pourwell.geometry.shapes import SHAPES, plain_band
from pourwell.geometry.sheets import without_inner_walls
from pourwell.geometry.solidity import NotSolidError, edges_of, faults, from_manifold, inside_out
from pourwell.geometry.soup import Soup
from pourwell.geometry.turning import agreeing, sewn, without_repeats
from pourwell.geometry.uncrossing import uncrossed
from tests.unit.files.pattern_files import cube, joined, loose
from tests.unit.geometry.faulty import fine, flipped, pushed, repeated, with_flake, without
from tests.unit.pattern.test_checks import crossing


def deeds(mended) -> dict[Deed, int]:
    return {change.deed: change.count for change in mended.changes}


def facing(mesh: Mesh, axis: int, sign: int) -> np.ndarray:
    return np.flatnonzero(np.isclose(mesh.normals[:, axis], sign))


@pytest.mark.parametrize("name", sorted(SHAPES))
def test_a_sound_piece_is_left_as_it_is(name):
    made = SHAPES[name].make()
    mended = mend([made])
    assert deeds(mended) == {}
    assert mended.mesh.volume_mm3 == pytest.approx(made.volume_mm3, rel=1e-12)


def test_a_flat_hole_is_covered_in_its_plane():
    box = fine(cube(4), 1.0)
    mended = mend([without(box, *facing(box, 2, 1))])
    assert deeds(mended) == {Deed.FILLED: 1}
    assert mended.mesh.volume_mm3 == pytest.approx(64)
    assert len(mended.mesh.vertices) < len(box.vertices), "no corner is added, those within the face are gone"


def test_a_flat_hole_about_a_standing_part_stays_open_there():
    """A tube closed by a ring-shaped face: without it, two rims in one plane, which one cover closes and leaves the bore."""
    tube = manifold3d.Manifold.cylinder(5, 4, 4, 40) - manifold3d.Manifold.cylinder(20, 2, 2, 40, True)
    whole = from_manifold(tube)
    mended = mend([without(whole, *facing(whole, 2, 1))])
    assert deeds(mended) == {Deed.FILLED: 1}
    assert mended.mesh.volume_mm3 == pytest.approx(whole.volume_mm3)


def test_a_hole_in_a_round_wall_is_covered_taut():
    ball = from_manifold(manifold3d.Manifold.sphere(5, 64))
    patch = np.flatnonzero(ball.centres[:, 2] > 4.4)
    bent = np.flatnonzero(np.linalg.norm(ball.centres - [5, 0, 0], axis=1) < 1.0)
    mended = mend([without(ball, *patch, *bent)])
    assert deeds(mended) == {Deed.FILLED: 2}
    assert 0.9 < mended.mesh.volume_mm3 / ball.volume_mm3 < 1
    assert not find_faults(mended.mesh)


def test_two_holes_that_touch_in_a_corner_are_two_rims():
    box = fine(cube(4), 1.0)
    up = facing(box, 2, 1)
    middle = int(np.argmin(np.linalg.norm(box.vertices - [2, 2, 4], axis=1)))
    around = [f for f in up if middle in box.faces[f]]
    away = [f for f in around if not np.intersect1d(box.faces[f], box.faces[around[0]]).size > 1]
    found = rims(without(box, around[0], away[-1]))
    assert sorted(len(loop) for loop in found) == [3, 3]
    closed, count = filled(without(box, around[0], away[-1]))
    assert count == 2
    assert edges_of(closed).regular.all()


def test_a_long_crooked_rim_is_covered_all_the_same():
    turn = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    rim = np.stack((10 * np.cos(turn), 10 * np.sin(turn), np.cos(3 * turn)), axis=1)
    around = np.arange(400)
    cone = np.stack((around, np.roll(around, -1), np.full(400, 400)), axis=1)
    mended = mend([Mesh(np.vstack((rim, [[0, 0, -8]])), cone[:, ::-1])])
    assert deeds(mended)[Deed.FILLED] == 1
    assert mended.mesh.volume_mm3 == pytest.approx(np.pi * 100 * 8 / 3, rel=0.05)


def test_turned_triangles_and_bodies_are_turned_back():
    box = fine(cube(4), 1.0)
    mended = mend([flipped(box, *facing(box, 0, 1)), inside_out(cube(2, (9, 0, 0)))])
    assert deeds(mended) == {Deed.TURNED: len(facing(box, 0, 1)), Deed.BODY_TURNED: 1}
    assert mended.mesh.volume_mm3 == pytest.approx(72)
    assert agreeing(box)[1] == 0


def test_a_seam_wider_than_rounding_and_finer_than_a_print_is_sewn():
    box = cube(20)
    far = loose(box)
    apart = Mesh(far.vertices + np.random.default_rng(1).uniform(-4e-4, 4e-4, far.vertices.shape), far.faces)
    whole, count = sewn(apart)
    assert count == 36
    assert len(whole.vertices) == 8
    wide = Mesh(far.vertices + np.random.default_rng(1).uniform(-0.2, 0.2, far.vertices.shape), far.faces)
    assert sewn(wide)[1] == 0
    assert mend([apart]).mesh.volume_mm3 == pytest.approx(8000, rel=1e-3)


def test_repeated_triangles_go_and_two_that_face_each_other_both():
    box = fine(cube(4), 1.0)
    assert deeds(mend([repeated(box, 3)])) == {Deed.REPEAT: 1}
    fin = Mesh(box.vertices, np.vstack((box.faces, [[0, 1, 2], [0, 2, 1]])))
    kept, count = without_repeats(fin)
    assert count == 2
    assert edges_of(kept).regular.all()
    assert without_repeats(box)[1] == 0


def test_an_inner_wall_is_dropped():
    box = cube(4)
    walled = Mesh(box.vertices, [*box.faces.tolist(), [0, 1, 7], [0, 7, 6]])
    kept, count = without_inner_walls(walled)
    assert count == 2
    assert mend([walled]).mesh.volume_mm3 == pytest.approx(64)
    assert edges_of(kept).regular.all()


def test_flakes_and_copies_are_dropped_and_bodies_that_cross_united():
    mended = mend([cube(4), cube(4), cube(4, (2, 0, 0)), with_flake(cube(1, (0, 5, 0)), 2)])
    assert deeds(mended) == {Deed.FLAKE: 1, Deed.COPY: 1, Deed.UNITED: 3}
    assert mended.mesh.volume_mm3 == pytest.approx(97)
    apart = mend([cube(4), cube(4, (9, 0, 0))])
    assert deeds(apart) == {}, "bodies that lie apart need no mending"


def test_one_body_that_runs_through_itself_is_united_with_itself():
    bar = crossing(0.6)
    mended = mend([bar])
    assert deeds(mended) == {Deed.UNCROSSED: 1}
    assert not len(crossings(mended.mesh))
    counted_twice = 4 * 8 * 0.6 * 1.013
    assert bar.volume_mm3 - mended.mesh.volume_mm3 == pytest.approx(counted_twice, rel=0.1)
    assert moved(mended.kept, mended.mesh).moved_mm < 0.01, "what is left stays where it was"
    assert uncrossed(cube(4)).volume_mm3 == pytest.approx(64)


def test_what_is_not_allowed_is_not_done():
    box = fine(cube(4), 1.0)
    broken = joined(without(flipped(box, 20), 7), cube(4, (2, 0, 0)))
    assert mend([broken], {Step.WINDING}).mesh is None
    assert mend([broken], {Step.HOLES}).mesh is None
    apart = mend([broken], {Step.WINDING, Step.HOLES})
    assert deeds(apart) == {Deed.TURNED: 1, Deed.FILLED: 1}
    assert apart.mesh.volume_mm3 == pytest.approx(128), "two bodies, not united"
    assert mend([broken]).mesh.volume_mm3 == pytest.approx(96)


def test_loose_triangles_are_never_made_into_something():
    rng = np.random.default_rng(2)
    shreds = Mesh(rng.uniform(0, 9, (60, 3)), np.arange(60).reshape(-1, 3))
    assert mend([shreds]).mesh is None
    assert mend([]).mesh is None


# --- made anew ---


def test_a_ball_made_anew_is_the_ball_closed_over_its_hole():
    ball = from_manifold(manifold3d.Manifold.sphere(3, 48))
    whole = remeshed(ball, cell_mm=0.25)
    assert faults(whole).sound
    assert whole.volume_mm3 == pytest.approx(ball.volume_mm3, rel=0.01)
    assert Soup(ball).distances(whole.vertices).max() < 0.05
    open_one = remeshed(without(ball, *np.flatnonzero(ball.centres[:, 2] > 2.5)), cell_mm=0.25)
    assert faults(open_one).sound
    assert open_one.volume_mm3 == pytest.approx(ball.volume_mm3, rel=0.03)


def test_what_winds_round_nothing_is_not_made_anew():
    with pytest.raises(NotSolidError):
        remeshed(Mesh([[0, 0, 0], [4, 0, 0], [0, 4, 0]], [[0, 1, 2]]), cell_mm=0.5)


def test_a_spike_through_the_far_wall_is_made_anew_and_moves_no_other_place():
    box = fine(cube(4), 1.0)
    spiked = pushed(box, (2, 2, 4), 5.0)
    assert len(crossings(spiked))
    mended = mend([spiked])
    assert set(deeds(mended)) & {Deed.REMESHED, Deed.UNCROSSED}
    assert not len(crossings(mended.mesh))
    assert faults(mended.mesh).sound
    left = mend([spiked], NO_NEW_SURFACE)
    assert left.mesh is not None, "as a stand-in it is taken as it is"


# --- how far ---


def test_points_are_scattered_no_farther_apart_than_asked():
    points, face = scattered(plain_band(), 0.5)
    some = np.random.default_rng(0).integers(0, len(plain_band().faces), 300)
    shares = np.random.default_rng(1).dirichlet((1, 1, 1), 300)
    inside = np.einsum("ij,ijk->ik", shares, plain_band().corners[some])
    away = np.linalg.norm(points[None] - inside[:, None], axis=2).min(axis=1)
    assert away.max() <= 0.5
    assert set(face) == set(range(len(plain_band().faces)))


def test_how_far_a_face_moved_is_measured_and_an_inner_wall_is_not():
    told = moved(cube(4), Mesh(cube(4).vertices * [1, 1, 1.025], cube(4).faces))
    assert told.moved_mm == pytest.approx(0.1, abs=1e-6)
    assert told.at_mm[2] == pytest.approx(4)
    assert told.new_mm == pytest.approx(0.1, abs=1e-6)
    united = mend([cube(4), cube(4, (2, 0, 0))])
    assert moved(united.kept, united.mesh).moved_mm == pytest.approx(0, abs=1e-9)


def test_soup_tells_distance_and_winding_of_an_open_surface():
    box = without(cube(4), 0)
    soup = Soup(box)
    assert soup.distances(np.array([[2, 2, 6], [2, 2, 3.5]])) == pytest.approx([2, 0.5])
    inside, outside = soup.windings(np.array([[3.0, 2, 2], [9.0, 2, 2]]))
    assert inside > 0.8
    assert abs(outside) < 0.1
