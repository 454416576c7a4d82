"""Loose patches too many to be looked at one by one: told as a heap, never closed by guess, and quick."""

import re
import time

import numpy as np
import pytest

from pourwell.app.shop import open_shop
from pourwell.errors import BadRequestError
from pourwell.geometry.heap import MOST_PATCHES, heap_of
from pourwell.geometry.mending import NO_NEW_SURFACE, Deed, Step, mend
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.nesting import nested
from pourwell.geometry.places import FaultKind, find_faults, flakes
from pourwell.geometry.solidity import bodies, inside_out
from pourwell.steps.pattern.bodies import HULLED, MENDED, united
from pourwell.steps.pattern.plan import PatternSource, measure
from tests.unit.files.pattern_files import cube, joined
from tests.unit.geometry.faulty import fine, flake, without

MOST_SECONDS = 10.0
"""Of processor time for a heap of 10,000 triangles, on any machine of the last ten years."""


def heap(count: int, *, side_mm: float = 0.8, span_mm: float = 20.0, seed: int = 1) -> Mesh:
    """Loose triangles that have nothing to do with one another."""
    rng = np.random.default_rng(seed)
    corners = rng.uniform(0, span_mm, (count, 1, 3)) + rng.uniform(-side_mm, side_mm, (count, 3, 3)) / 2
    return Mesh(corners.reshape(-1, 3), np.arange(3 * count).reshape(-1, 3))


def open_cubes(count: int) -> list[Mesh]:
    """Cubes that lack a triangle, side by side."""
    return [without(cube(1, (2 * k, 0, 0)), 3) for k in range(count)]


def test_open_patches_are_a_heap_only_above_the_number_that_can_be_looked_at():
    some = open_cubes(MOST_PATCHES)
    assert heap_of(some) == ()
    assert heap_of([*some, without(cube(1, (0, 5, 0)), 0)]) == tuple(range(MOST_PATCHES + 1))
    assert heap_of([]) == ()


def test_closed_bodies_are_no_part_of_a_heap_however_many_they_are():
    whole = [cube(1, (2 * k, 0, 0)) for k in range(MOST_PATCHES + 5)]
    assert heap_of(whole) == ()
    mixed = [*whole[:3], *open_cubes(MOST_PATCHES + 1)]
    assert heap_of(mixed) == tuple(range(3, MOST_PATCHES + 4))


def test_a_body_wound_two_ways_counts_as_open():
    turned = cube(1).faces.copy()
    turned[0] = turned[0, ::-1]
    assert heap_of([Mesh(cube(1).vertices, turned)] * (MOST_PATCHES + 1)) == tuple(range(MOST_PATCHES + 1))


@pytest.mark.parametrize("steps", [NO_NEW_SURFACE, frozenset(Step), {Step.HOLES}], ids=["stand-in", "all", "holes"])
def test_a_heap_is_not_mended_and_no_deed_is_told(steps):
    done = mend([heap(MOST_PATCHES + 100, side_mm=9.0)], steps)
    assert done.mesh is None
    assert done.changes == ()
    assert len(done.kept.faces) == MOST_PATCHES + 100


def test_a_piece_under_a_dust_of_loose_triangles_is_freed_of_it():
    """Less than a hundredth of the surface: beside the point, as a single shred is."""
    dust = heap(MOST_PATCHES + 50, side_mm=0.02)
    box = fine(cube(20), 10.0)
    assert dust.area_mm2 < 0.001 * box.area_mm2
    done = mend([joined(box, dust)], NO_NEW_SURFACE)
    assert done.mesh is not None
    assert done.mesh.volume_mm3 == pytest.approx(8000)
    assert not find_faults(done.mesh)


def test_a_piece_among_as_much_again_in_loose_triangles_is_not_guessed_at():
    done = mend([joined(cube(20), heap(MOST_PATCHES + 50, side_mm=4.0))], NO_NEW_SURFACE)
    assert done.mesh is None


def test_shreds_are_not_told_as_bodies_made_anew(monkeypatch):
    """An open box and five loose triangles: one body is made anew, the shreds are none. The making itself is tested elsewhere."""
    asked = []
    monkeypatch.setattr("pourwell.geometry.mending.remeshed", lambda mesh, *, cell_mm: asked.append(mesh) or cube(6))
    torn = without(fine(cube(6), 1.0), 0)
    done = mend([joined(torn, heap(5, side_mm=3.0))], {Step.REMESH})
    assert {change.deed: change.count for change in done.changes} == {Deed.REMESHED: 1}
    assert [len(mesh.faces) for mesh in asked] == [len(torn.faces)], "the shreds have no say in what is made"


def test_nothing_but_shreds_is_not_made_anew(monkeypatch):
    monkeypatch.setattr("pourwell.geometry.mending.remeshed", lambda mesh, *, cell_mm: pytest.fail("asked"))
    done = mend([heap(5, side_mm=3.0)], {Step.REMESH})
    assert done.mesh is None
    assert done.changes == ()


@pytest.mark.parametrize("side_mm", [0.8, 30.0], ids=["small", "across the whole piece"])
def test_the_pattern_step_takes_ten_thousand_loose_triangles_in_seconds(side_mm):
    """Neither the number of patches nor their crossings may hang it; the stand-in and the stop are told all the same."""
    library = open_shop().library
    mesh = heap(10_000, side_mm=side_mm)
    source = PatternSource(name="heap", file="heap.stl", count=1, bodies=(("heap", mesh),), units="mm", units_from="user")
    began = time.process_time()
    pattern, found = measure(
        source, piece_id="A", alloy=library.alloy("sterling-925"), pattern_material=library.pattern("resin"), library=library
    )
    assert time.process_time() - began < MOST_SECONDS
    stop = next(one for one in found if one.code == "pattern-unsound")
    holes = re.search(r"([0-9,]+) holes", stop.says)
    assert holes
    assert 9_900 <= int(holes[1].replace(",", "")) <= 10_000, "but for those so small that they are flakes"
    assert HULLED in stop.says
    low, high = mesh.bounds
    assert pattern.piece.volume_mm3 <= float(np.prod(high - low))
    assert pattern.as_read is not None
    assert 9_900 <= len(pattern.as_read.faces) <= 10_000


def test_the_bodies_of_a_heap_go_by_the_name_of_what_they_came_from():
    whole = united([("shank", cube(30)), ("bits (old)", heap(MOST_PATCHES + 20))], ())
    assert [name for name, _ in whole.unsound] == ["bits (old)"]
    assert whole.stand_in == HULLED
    assert whole.changes == ()
    assert len(whole.bodies) == MOST_PATCHES + 21, "every patch is listed as found"


def test_a_few_patches_are_still_closed_one_by_one():
    whole = united([("cups", joined(*open_cubes(4)))], ())
    assert whole.stand_in == MENDED
    assert len(whole.unsound) == 4
    assert whole.mesh.volume_mm3 == pytest.approx(4)


def test_a_heap_in_one_plane_encloses_nothing_and_is_refused():
    flat = heap(MOST_PATCHES + 20)
    with pytest.raises(BadRequestError, match="encloses a volume"):
        united([("flat", Mesh(flat.vertices * [1, 1, 0], flat.faces))], ())


# --- many bodies elsewhere ---


def test_a_flake_among_thousands_of_bodies_is_found_without_asking_each():
    many = [cube(0.7, (k % 50, k // 50, 0)) for k in range(2000)]
    specks = [flake(np.array([3.85, 0.2, 0.2]), 0.05), flake(np.array([7.4, 0.2, 0.2]), 0.3)]
    began = time.process_time()
    plate = cube(50, (0, 0, -60))
    assert flakes([plate, *many, *specks]) == (2001,), "the other is large enough to touch its neighbour"
    assert flakes([*many, *specks]) == (), "without one that is most of the piece nobody knows what is a flake"
    assert time.process_time() - began < 2.0


def test_a_speck_that_touches_a_body_anywhere_is_no_flake():
    speck = flake(np.array([4.0, 1.0, 1.0]), 0.02)
    assert flakes([cube(4), speck]) == ()
    assert flakes([cube(4), flake(np.array([4.001, 1.0, 1.0]), 0.02)]) == (1,)
    assert flakes([cube(4), flake(np.array([2.0, 2.0, 2.0]), 0.02)]) == (), "within the metal"


def test_every_speck_of_many_is_a_flake():
    specks = [flake(np.array([k % 10, k // 10, 5.0]), 0.02) for k in range(101)]
    assert flakes([cube(30, (0, 0, -40)), *specks]) == tuple(range(1, 102))


def test_nesting_of_many_bodies_asks_only_those_whose_boxes_nest():
    many = [cube(0.5, (k % 40, k // 40, 0)) for k in range(1600)]
    began = time.process_time()
    assert nested([*many, cube(0.2, (3.1, 2.1, 0.1))]) == ((1600, 83),)
    assert time.process_time() - began < 3.0


def test_a_hollow_is_nested_in_nothing():
    assert nested([cube(6), inside_out(cube(2, (2, 2, 2)))]) == ()


def test_the_places_of_a_heap_are_one_a_patch():
    corners = np.vstack([cube(1).corners[:1] + np.array([3 * k, 0, 0]) for k in range(400)])
    apart = Mesh(corners.reshape(-1, 3), np.arange(1200).reshape(-1, 3))
    found = find_faults(apart)
    assert {fault.kind for fault in found} == {FaultKind.OPEN}
    assert len(found) == 400
    assert sorted(fault.body for fault in found) == list(range(400))
    assert len(bodies(apart)) == 400
