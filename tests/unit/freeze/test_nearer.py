"""A piece moved in along its sprue."""

from dataclasses import replace

import numpy as np
import pytest

from pourwell.geometry.gap import gap_mm
from pourwell.geometry.solidity import faults
from pourwell.steps.freeze import nearer as moving
from pourwell.steps.freeze.cast import Shape
from tests.unit.freeze import trees

LIBRARY = trees.LIBRARY


def changed(cast, *numbers):
    return moving.nearer(cast, [fed for fed in cast.fed if fed.number in numbers], LIBRARY)


def test_the_free_length_is_told_from_the_stems_face_to_the_piece():
    """From the axis 8 and 11 mm, less the stem's 3; leaning by 45 degrees in a tree made by hand: 11 - 3 / cos 45."""
    for reach in (8.0, 11.0):
        cast = trees.cast(reach=reach)
        assert [moving.length_mm(cast, fed) for fed in cast.fed] == pytest.approx([reach - 3.0] * 2, abs=0.01)
    leaning = replace(cast.fed[0], from_mm=(0.0, 0.0, 20.0), to_mm=(11 / np.sqrt(2), 0.0, 20 + 11 / np.sqrt(2)))
    assert moving.length_mm(cast, leaning) == pytest.approx(11 - 3 * np.sqrt(2), abs=0.01)


def test_a_piece_is_moved_in_until_the_saw_has_just_its_room():
    cast = trees.cast(reach=11.0)
    near, left = changed(cast, 2)
    assert left == pytest.approx(LIBRARY.rule("sprue_shortest_mm"), abs=0.05)
    was, now = dict(cast.bodies), dict(near.bodies)
    assert list(now) == list(was)
    shift = now["piece 2 B"].vertices - was["piece 2 B"].vertices
    assert shift == pytest.approx(np.tile([3.0, 0.0, 0.0], (len(shift), 1))), "piece 2 hangs at -x"
    assert near.fed[1].to_mm == pytest.approx((-8.0, 0.0, trees.LEVEL_MM))
    assert near.fed[1].in_pattern(np.array(near.fed[1].to_mm)) == pytest.approx(cast.fed[1].in_pattern(np.array(cast.fed[1].to_mm)))
    for name in ("piece 1 A", "sprue 1", "stem", "button"):
        assert now[name] is was[name]
    assert near.fed[0] == cast.fed[0]


def test_the_metal_loses_three_millimetres_of_sprue_and_stays_one_solid():
    cast = trees.cast(reach=11.0)
    near, _ = changed(cast, 2)
    lost = cast.metal.volume_mm3 - near.metal.volume_mm3
    assert lost == pytest.approx(3.0 * np.pi / 4 * 2.5**2, rel=0.03)
    assert faults(near.metal).sound
    assert len(moving.to_manifold(near.metal).decompose()) == 1
    shape = Shape(near)
    old, new = (shape.frame.to_solver(np.array([[x, 0.0, trees.LEVEL_MM]])) for x in (-31.0, -9.0))
    assert shape.distance(old)[0] > 0, "where its head was is mould"
    assert shape.distance(new)[0] < 0


def test_what_is_built_anew_is_the_tree_that_would_have_been_planned_so():
    """Both moved from 11 to 8 mm against the tree made with 8 mm: volumes and distances from the surface."""
    near, _ = changed(trees.cast(reach=11.0), 1, 2)
    planned = trees.cast()
    assert near.metal.volume_mm3 == pytest.approx(planned.metal.volume_mm3, rel=1e-3)
    points = np.random.default_rng(5).uniform((-0.028, -0.01, 0.005), (0.028, 0.01, 0.03), (2000, 3))
    assert np.abs(Shape(near).distance(points) - Shape(planned).distance(points)).max() < 1e-4


def test_a_sprue_that_is_as_short_as_the_saw_allows_is_left():
    assert changed(trees.cast(), 2) is None


def test_a_piece_is_moved_less_where_another_is_in_the_way():
    """Another 5.65 mm before it: 2.5 mm leave 3.15 mm of mould between them, 3 mm would leave 2.65."""
    cast = trees.cast(reach=11.0, pieces=((1, 0.0), (-1, 0.0)))
    bodies = dict(cast.bodies)
    gap = gap_mm(bodies["piece 1 A"], bodies["piece 2 A"], search_mm=100.0)
    bodies["piece 2 A"] = moving._shifted(bodies["piece 2 A"], np.array([gap - 5.65, 0.0, 0.0]))
    _, left = changed(replace(cast, bodies=tuple(bodies.items())), 1)
    assert left == pytest.approx(8.0 - 2.5, abs=0.01)


@pytest.mark.parametrize(("rule", "unit_mm"), [("stem_gap_mm", 6.5), ("base_gap_mm", 5.0), ("sprue_gap_mm", 20.0)])
def test_a_piece_keeps_clear_of_stem_button_and_the_sprues_of_others(rule, unit_mm):
    """Each distance alone, made larger than what is left beside the stem, over the button's crown and to the other sprue."""
    rules = dict(LIBRARY.rules)
    rules[rule] = rules[rule].model_copy(update={"value": unit_mm})
    cast = trees.cast(reach=11.0)
    mine = cast.fed[1:]
    assert moving.nearer(cast, mine, LIBRARY)[1] == pytest.approx(5.0, abs=0.05)
    got = moving.nearer(cast, mine, replace(LIBRARY, rules=rules))
    assert got is None or got[1] > 5.4


def test_a_piece_that_hangs_on_more_than_its_sprue_is_left():
    """A bar between both bands: cut the sprue, and the piece does not fall."""
    cast = trees.cast(reach=11.0)
    tied = moving.to_manifold(cast.metal) + moving.bar((-18, 0, 34), (18, 0, 34), diameter_mm=2.0)
    assert changed(replace(cast, metal=moving.from_manifold(tied)), 2) is None


def test_a_sprue_on_the_end_of_the_stem_is_left():
    cast = trees.cast(reach=11.0)
    upright = replace(cast.fed[1], from_mm=(0.0, 0.0, 30.0), to_mm=(0.0, 0.0, 45.0))
    assert moving.nearer(cast, [upright], LIBRARY) is None
