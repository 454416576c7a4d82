"""Each tool of mending by itself, against a second way of reckoning: covers, turning, sheets, planes, cells, points."""

from functools import cache

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.geometry import moved as moved_module
from pourwell.geometry.crossing import crossings
from pourwell.geometry.holes import LONGEST_TAUT, filled, rims
from pourwell.geometry.mending import mend
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.mesh import joined as laid
from pourwell.geometry.moved import moved
from pourwell.geometry.remeshing import CELLS_A_FACE, CELLS_AROUND, FINEST_MM, cell_for, remeshed
from pourwell.geometry.scatter import scattered
from pourwell.geometry.sheets import MOST_SHEETS, sheets_of, without_inner_walls
from pourwell.geometry.solidity import edges_of, faults, from_manifold, inside_out
from pourwell.geometry.soup import CHUNK, Soup
from pourwell.geometry.turning import SEAM_MM, agreeing, sewn, without_repeats
from pourwell.geometry.uncrossing import uncrossed
from tests.unit.files.pattern_files import cube, joined, loose
from tests.unit.geometry.faulty import fine, flipped, halved, without

SEEDS = st.integers(0, 10_000)


def cup(rim: np.ndarray, bottom: tuple[float, float, float]) -> Mesh:
    """A cone from a rim down to a point, its outer side outward where the rim runs anticlockwise from above."""
    count = len(rim)
    around = np.arange(count)
    return Mesh(np.vstack((rim, [bottom])), np.stack((np.roll(around, -1), around, np.full(count, count)), axis=1))


def crooked(count: int, seed: int) -> np.ndarray:
    """A rim that runs round, well out of any plane."""
    rng = np.random.default_rng(seed)
    turn = 2 * np.pi * np.arange(count) / count
    radius, height = rng.uniform(3, 6, count), rng.uniform(-3, 3, count)
    return np.stack((radius * np.cos(turn), radius * np.sin(turn), height), axis=1)


def least_area(points: np.ndarray) -> float:
    """The least area of a cover, by trying every one."""

    def triangle(*corners: int) -> float:
        a, b, c = points[list(corners)]
        return float(np.linalg.norm(np.cross(b - a, c - a))) / 2

    @cache
    def best(low: int, high: int) -> float:
        ways = [triangle(low, at, high) + best(low, at) + best(at, high) for at in range(low + 1, high)]
        return min(ways, default=0.0)

    return best(0, len(points) - 1)


# --- holes ---


@settings(max_examples=15)
@given(SEEDS, st.integers(4, 9))
def test_a_crooked_hole_is_covered_with_the_least_area(seed, count):
    rim = crooked(count, seed)
    open_one = cup(rim, (0, 0, -9))
    closed, covers = filled(open_one)
    assert covers == 1
    assert edges_of(closed).regular.all()
    assert closed.area_mm2 - open_one.area_mm2 == pytest.approx(least_area(rim))


@settings(max_examples=15)
@given(SEEDS, st.integers(1, 12))
def test_every_rim_runs_once_round_against_its_triangles(seed, gone):
    box = fine(cube(4), 1.0)
    torn = without(box, *np.random.default_rng(seed).choice(len(box.faces), gone, replace=False))
    open_sides = set()
    for face in torn.faces.tolist():
        open_sides |= set(zip(face, np.roll(face, -1).tolist(), strict=True))
    open_sides = {(a, b) for a, b in open_sides if (b, a) not in open_sides}
    found = rims(torn)
    sides = [(b, a) for loop in found for a, b in zip(loop.tolist(), np.roll(loop, -1).tolist(), strict=True)]
    assert sorted(sides) == sorted(open_sides)
    assert all(len(set(loop.tolist())) == len(loop) for loop in found), "none meets a corner twice"
    closed, _ = filled(torn)
    assert edges_of(closed).regular.all()


def test_a_rim_that_does_not_close_is_left_out():
    """Two triangles that disagree: along their rim the ways meet head on."""
    lone = Mesh([[0, 0, 0], [2, 0, 0], [0, 2, 0], [2, 2, 1]], [[0, 1, 2], [1, 2, 3]])
    assert rims(lone) == ()
    assert filled(lone)[1] == 0


def test_three_rims_within_one_another_are_covered_as_a_ring_and_a_disc():
    def tube(outer: float, inner: float) -> manifold3d.Manifold:
        hole = manifold3d.Manifold.cylinder(20, inner, inner, 32, True) if inner else manifold3d.Manifold()
        return manifold3d.Manifold.cylinder(5, outer, outer, 32) - hole

    whole = from_manifold(tube(6, 4) + tube(2, 0))
    up = np.flatnonzero(np.isclose(whole.normals[:, 2], 1))
    closed, covers = filled(without(whole, *up))
    assert covers == 2
    assert closed.volume_mm3 == pytest.approx(whole.volume_mm3)
    assert closed.area_mm2 == pytest.approx(whole.area_mm2)


def test_a_cover_that_would_lie_on_an_edge_that_is_there_is_a_fan():
    """Of the two ways over four corners the shorter is taken already by the two triangles under it."""
    roof = Mesh([[0, 0, 0], [3, 0, 1], [0, 1, 0], [-3, 0, 1]], [[0, 1, 2], [0, 2, 3]])
    closed, covers = filled(roof)
    assert covers == 1
    assert edges_of(closed).regular.all()


@pytest.mark.parametrize("count", [LONGEST_TAUT, LONGEST_TAUT + 1])
def test_short_and_long_rims_are_covered_alike(count):
    turn = 2 * np.pi * np.arange(count) / count
    rim = np.stack((9 * np.cos(turn), 9 * np.sin(turn), 0.5 * np.cos(2 * turn)), axis=1)
    closed, _ = filled(cup(rim, (0, 0, -6)))
    assert edges_of(closed).regular.all()
    within = np.pi * 81 * 0.5  # the rim goes half a millimetre up and down, and its cover no farther
    assert closed.volume_mm3 == pytest.approx(np.pi * 81 * 6 / 3, abs=within if count > LONGEST_TAUT else 0.02 * within)


# --- turning and sewing ---


@settings(max_examples=20)
@given(SEEDS, st.integers(0, 60))
def test_triangles_turned_at_random_agree_again(seed, count):
    """However many were turned, in the end all face out or all face in."""
    box = fine(cube(4), 2.0)
    chosen = np.random.default_rng(seed).choice(len(box.faces), min(count, len(box.faces)), replace=False)
    back, turned = agreeing(flipped(box, *chosen))
    assert edges_of(back).regular.all()
    assert abs(back.volume_mm3) == pytest.approx(64)
    assert turned == (len(chosen) if back.volume_mm3 > 0 else len(box.faces) - len(chosen))
    assert 2 * back.areas[(back.faces != flipped(box, *chosen).faces).any(axis=1)].sum() <= back.area_mm2 * (1 + 1e-12)


def test_each_body_is_turned_by_itself():
    first, second = flipped(cube(4), 0), inside_out(flipped(cube(2, (9, 0, 0)), 5))
    back, turned = agreeing(laid([first, second]))
    assert turned == 2, "one in each; the second stays inside out as a whole"
    assert back.volume_mm3 == pytest.approx(64 - 8)


def test_a_band_with_one_twist_cannot_agree_and_ends_all_the_same():
    count = 24
    turn = 2 * np.pi * np.arange(count) / count
    ends = []
    for side in (-1, 1):
        out = 8 + side * np.cos(turn / 2)
        ends.append(np.stack((out * np.cos(turn), out * np.sin(turn), side * np.sin(turn / 2)), axis=1))
    low, high = np.arange(count), np.arange(count) + count
    low_next, high_next = np.append(low[1:], high[0]), np.append(high[1:], low[0])
    twisted = Mesh(np.vstack(ends), np.vstack([np.stack(t, axis=1) for t in ((low, low_next, high_next), (low, high_next, high))]))
    edges = edges_of(agreeing(twisted)[0])
    assert ((edges.count == 2) & (edges.balance != 0)).sum() >= 1


@pytest.mark.parametrize(("same", "against", "left"), [(2, 0, 1), (3, 0, 1), (1, 1, 1), (2, 1, 1)])
def test_of_repeated_triangles_the_closed_surface_is_left(same, against, left):
    """A box with a face that stands there several times: one of them is needed, whatever else lies upon it."""
    box = cube(4)
    others = np.delete(box.faces, 0, axis=0)
    face = box.faces[[0]]
    made = Mesh(box.vertices, np.vstack((others, *[face] * same, *[face[:, ::-1]] * against)))
    kept, dropped = without_repeats(made)
    if same - against == 1 or against == 0:
        assert len(kept.faces) == 11 + left
        assert kept.volume_mm3 == pytest.approx(64)
        assert dropped == same + against - left
    else:
        assert len(kept.faces) == 11, "two that face each other enclose nothing: a hole, to be covered"


def test_a_copy_of_a_whole_body_is_not_mistaken_for_repeats():
    twice = Mesh(cube(4).vertices, np.vstack((cube(4).faces, cube(4).faces)))
    assert without_repeats(twice)[1] == 0, "two sheets all over: a copy, which is dropped as one"


def test_two_boxes_face_to_face_become_one_where_both_faces_go():
    both = Mesh(*_welded(joined(cube(4), cube(4, (4, 0, 0)))))
    kept, dropped = without_repeats(both)
    assert dropped in (0, 4)
    if dropped:
        assert edges_of(kept).regular.all()
    assert kept.volume_mm3 == pytest.approx(128)


def _welded(mesh: Mesh) -> tuple[np.ndarray, np.ndarray]:
    points, which = np.unique(mesh.vertices, axis=0, return_inverse=True)
    return points, which.reshape(-1)[mesh.faces]


@pytest.mark.parametrize(("gap_mm", "sewn_up"), [(0.9 * SEAM_MM, True), (1.2 * SEAM_MM, False)])
def test_a_seam_is_sewn_up_to_what_a_print_can_show(gap_mm, sewn_up):
    """Two halves of a large box; SEAM_STEPS reach that far only there."""
    box = fine(cube(40), 10.0)
    right = box.centres[:, 0] > 20
    halves = loose(box)
    points = halves.vertices.copy()
    points[np.repeat(right, 3), 0] += gap_mm
    whole, count = sewn(Mesh(points, halves.faces))
    assert (count > 0) == sewn_up
    assert bool(edges_of(whole).regular.all()) == sewn_up


def test_nothing_can_be_sewn_of_nothing():
    assert sewn(Mesh(np.zeros((0, 3)), np.zeros((0, 3))))[1] == 0


# --- sheets ---


def test_sheets_end_where_more_than_two_meet():
    box = cube(4)
    walled = Mesh(box.vertices, [*box.faces.tolist(), [0, 1, 7], [0, 7, 6]])
    label = sheets_of(walled)
    assert len(set(label.tolist())) == 3
    assert label[12] == label[13]
    assert set(sheets_of(box).tolist()) == {0}


def test_a_fin_on_the_outside_is_taken_for_no_wall_of_the_piece():
    box = cube(4)
    points = np.vstack((box.vertices, [[2, -2, 6]]))
    sides = [pair for f in box.faces.tolist() for pair in zip(f, np.roll(f, 1).tolist(), strict=True)]
    top = next(list(pair) for pair in sides if (box.vertices[list(pair), 2] == 4).all())
    kept, dropped = without_inner_walls(Mesh(points, [*box.faces.tolist(), [*top, 8]]))
    assert dropped == 1
    assert kept.volume_mm3 == pytest.approx(64)
    assert edges_of(kept).regular.all()


def test_a_tangle_of_sheets_is_left_as_it_is():
    rng = np.random.default_rng(3)
    tangle = Mesh(rng.uniform(0, 9, (12, 3)), [rng.choice(12, 3, replace=False) for _ in range(3 * MOST_SHEETS)])
    kept, dropped = without_inner_walls(tangle)
    assert dropped == 0
    assert len(kept.faces) == len(tangle.faces)


# --- planes and cells ---


def test_a_body_united_with_itself_has_the_volume_of_the_union():
    """Two bars through each other, joined by a bow outside: as one body, and as two by the boolean engine."""
    from tests.unit.pattern.test_checks import crossing

    bar = crossing(0.4)
    united = uncrossed(bar)
    assert united is not None
    assert faults(united).sound
    assert united.volume_mm3 < bar.volume_mm3
    assert uncrossed(united).volume_mm3 == pytest.approx(united.volume_mm3), "a second time changes nothing"


def test_what_has_nothing_inside_is_not_cut():
    assert uncrossed(inside_out(cube(4))) is not None, "it does not cross itself"
    spiked = joined(cube(4), cube(4, (2, 1, 1)))
    assert not crossings(uncrossed(spiked)).pairs.size


def test_cells_are_as_fine_as_a_print_and_coarser_for_a_large_surface():
    assert cell_for(cube(0.1)) == FINEST_MM
    large = cube(60)
    assert cell_for(large) ** 2 * CELLS_AROUND == pytest.approx(large.area_mm2 * CELLS_A_FACE)
    assert cell_for(cube(120)) == pytest.approx(2 * cell_for(large))


def rounded_off(edges_mm: float, cell_mm: float) -> float:
    """What cells may take off along sharp edges: under a third of a cell's square [mm3]."""
    return edges_mm * 0.33 * cell_mm**2


@pytest.mark.parametrize("at", [(0, 0, 0), (1000, -500, 3)], ids=str)
def test_a_box_made_anew_is_the_box_wherever_it_lies(at):
    new = remeshed(cube(4, at), cell_mm=0.4)
    assert faults(new).sound
    assert 64 - rounded_off(12 * 4, 0.4) < new.volume_mm3 < 64
    assert Soup(cube(4, at)).distances(new.vertices).max() < 0.2
    assert Soup(new).distances(cube(4, at).vertices).max() < 0.4, "edges are rounded by half a cell or so"


def test_a_hollow_stays_hollow_and_two_bodies_stay_two():
    hollow = joined(cube(6), inside_out(cube(3, (1.5, 1.5, 1.5))))
    edges_mm = 12 * 6 + 12 * 3
    assert remeshed(hollow, cell_mm=0.5).volume_mm3 == pytest.approx(216 - 27, abs=rounded_off(edges_mm, 0.5))
    two = remeshed(joined(cube(3), cube(3, (6, 0, 0))), cell_mm=0.5)
    assert len(set(sheets_of(two).tolist())) == 2
    assert 54 - rounded_off(2 * 12 * 3, 0.5) < two.volume_mm3 < 54


# --- points, distances, how far ---


def test_corners_without_triangles_have_no_say():
    far = Mesh(np.vstack((cube(4).vertices, [[1e6, 0, 0]])), cube(4).faces)
    assert Soup(far).distances(np.array([[2.0, 2.0, 6.0]])) == pytest.approx([2])
    assert Soup(far).windings(np.array([[2.0, 2.0, 2.0]])) == pytest.approx([1], abs=1e-6)
    assert len(Soup(far).distances(np.zeros((0, 3)))) == 0


def test_many_points_are_answered_in_their_order():
    """More than a thread takes at a time, by the closed form for a box."""
    points = np.random.default_rng(5).uniform(-3, 7, (CHUNK + 500, 3))
    outside = np.linalg.norm(np.maximum(np.maximum(-points, points - 4), 0), axis=1)
    inside = np.minimum(points, 4 - points).min(axis=1)
    within = inside > 0
    soup = Soup(cube(4))
    assert soup.distances(points) == pytest.approx(np.where(within, inside, outside), abs=1e-9)
    sure = np.abs(np.where(within, inside, outside)) > 0.05
    assert soup.windings(points)[sure] == pytest.approx(within[sure].astype(float), abs=0.05)


@settings(max_examples=15)
@given(SEEDS, st.floats(0.2, 3.0))
def test_scattered_points_lie_on_their_own_triangle_and_close_enough(seed, spacing_mm):
    rng = np.random.default_rng(seed)
    mesh = Mesh(rng.uniform(0, 5, (12, 3)), np.arange(12).reshape(-1, 3))
    points, face = scattered(mesh, spacing_mm)
    for number in range(4):
        own = points[face == number]
        assert Soup(Mesh(mesh.vertices, mesh.faces[[number]])).distances(own).max() < 1e-9
        shares = rng.dirichlet((1, 1, 1), 50)
        some = shares @ mesh.corners[number]
        assert np.linalg.norm(some[:, None] - own[None], axis=2).min(axis=1).max() <= spacing_mm


def test_a_triangle_without_area_and_a_wide_spacing_give_the_corners():
    flat = Mesh([[0, 0, 0], [1, 0, 0], [0.5, 0, 0]], [[0, 1, 2]])
    assert len(scattered(flat, 5.0)[0]) == 3
    points, _ = scattered(flat, 0.1)
    assert points[:, 0].min() == 0
    assert points[:, 0].max() == 1
    assert np.diff(np.unique(points[:, 0])).max() <= 0.1
    assert len(scattered(Mesh(np.zeros((0, 3)), np.zeros((0, 3))), 1.0)[0]) == 0


@pytest.mark.parametrize("shift", [(0, 0, 0), (250, -90, 40)], ids=str)
def test_a_flat_cover_over_a_dome_stands_off_by_its_height_and_moves_nothing(shift):
    ball = from_manifold(manifold3d.Manifold.sphere(5, 64).translate(shift))
    torn = without(ball, *np.flatnonzero(ball.centres[:, 2] - shift[2] > 4.0))
    told = moved(torn, filled(torn)[0])
    assert told.moved_mm == pytest.approx(0, abs=1e-6)
    (loop,) = rims(torn)
    away = np.linalg.norm(torn.vertices[loop] - torn.vertices[loop].mean(axis=0), axis=1)
    assert 0.9 * away.min() < told.new_mm < away.max(), "the middle of the cover is as far from the old surface as its rim"


def test_what_was_cut_off_counts_with_its_place_however_the_surface_is_divided():
    horned = from_manifold(manifold3d.Manifold.cube((4, 4, 4)) + manifold3d.Manifold.cube((1, 1, 7)).translate((1, 1, 0)))
    for before in (horned, halved(horned)):
        told = moved(before, cube(4))
        assert told.moved_mm == pytest.approx(3, abs=1e-6)
        assert told.at_mm[2] == pytest.approx(7)
    same = moved(horned, horned)
    assert (same.moved_mm, same.new_mm) == pytest.approx((0, 0), abs=1e-9)


def bumped(bump_mm: float) -> tuple[Mesh, Mesh]:
    """Two cubes half in each other with a shallow bump on one face, and their union without the bump.

    The walls within are far larger and lie far deeper in the union than the bump stands off it.
    """
    plain = joined(fine(cube(8), 0.5), fine(cube(8, (4, 0, 0)), 0.5))
    spike = int(np.argmin(np.linalg.norm(plain.vertices - (2.0, 2.0, 8.0), axis=1)))
    points = plain.vertices.copy()
    points[np.all(points == points[spike], axis=1), 2] += bump_mm
    return Mesh(points, plain.faces), mend([plain]).mesh


def test_a_bump_that_is_lost_is_found_though_far_more_points_lie_deeper_within_the_metal(monkeypatch):
    before, after = bumped(0.3)
    monkeypatch.setattr(moved_module, "AT_ONCE", 500)
    found = moved(before, after)
    assert found.moved_mm == pytest.approx(0.3, abs=1e-9)
    assert found.at_mm == pytest.approx((2, 2, 8.3), abs=0.6)


def test_walls_within_the_metal_alone_count_as_nothing(monkeypatch):
    before, after = bumped(0.0)
    monkeypatch.setattr(moved_module, "AT_ONCE", 700)
    assert moved(before, after).moved_mm <= 1e-4 * 12


def test_what_is_not_asked_counts_as_moved(monkeypatch):
    before, after = bumped(0.0)
    monkeypatch.setattr(moved_module, "MOST_SIDES", 100)
    monkeypatch.setattr(moved_module, "AT_ONCE", 100)
    assert moved(before, after).moved_mm > 1
