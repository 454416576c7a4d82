"""Patches and solids: which named parts of a file are one body."""

import numpy as np
import pytest

from pourwell.files.pattern_parts import apart_or_joined, closed, put_together
from pourwell.geometry.mesh import Mesh, joined
from tests.unit.files.pattern_files import cube, loose


def part_of(mesh: Mesh, which) -> Mesh:
    return Mesh(mesh.vertices, mesh.faces[which])


LOWER, UPPER = part_of(cube(4), slice(0, 5)), part_of(cube(4), slice(5, None))


def test_a_solid_is_closed_and_a_patch_is_not():
    assert closed(cube(4))
    assert closed(loose(cube(4))), "each triangle with corners of its own, as in an STL file"
    assert closed(joined([cube(4), cube(1, (9, 0, 0))]))
    assert not closed(LOWER)
    assert not closed(joined([cube(4), LOWER]))


def test_two_cubes_that_meet_at_an_edge_are_closed_each_by_itself():
    """Four triangles meet at that edge, and yet neither body is open."""
    assert closed(joined([cube(4), cube(4, (4, 4, 0))]))


def test_joining_keeps_every_triangle_where_it_was():
    parts = [cube(4), cube(1, (9, 0, 0)), LOWER]
    whole = joined(parts)
    np.testing.assert_array_equal(whole.corners, np.concatenate([part.corners for part in parts]))
    assert whole.volume_mm3 == pytest.approx(sum(part.volume_mm3 for part in parts))


def test_parts_of_one_thing_that_are_open_become_one():
    ((name, mesh),) = apart_or_joined("ring", [("gold", LOWER), ("steel", UPPER)])
    assert name == "ring"
    assert mesh.volume_mm3 == pytest.approx(64)
    assert closed(mesh)


def test_closed_parts_of_one_thing_stay_apart_and_keep_both_names():
    bodies = apart_or_joined("ring", [("metal", cube(4)), ("stone", cube(1, (9, 0, 0)))])
    assert [name for name, _ in bodies] == ["ring metal", "ring stone"]
    assert [mesh.volume_mm3 for _, mesh in bodies] == pytest.approx([64, 1])
    assert [name for name, _ in apart_or_joined("", [("a", cube(4)), ("", cube(1))])] == ["a", ""]


def test_a_closed_part_beside_patches_leaves_the_patches_together():
    bodies = apart_or_joined("ring", [("a", LOWER), ("stone", cube(1, (9, 0, 0))), ("b", UPPER)])
    assert [name for name, _ in bodies] == ["ring stone", "ring"]
    assert bodies[1][1].volume_mm3 == pytest.approx(64)


@pytest.mark.parametrize(("name", "own", "called"), [("ring", "gold", "ring"), ("", "gold", "gold"), ("", "", "")])
def test_a_single_part_has_the_things_name_or_its_own(name, own, called):
    ((found, mesh),) = apart_or_joined(name, [(own, LOWER)])
    assert found == called
    assert mesh is LOWER, "one part is never looked into"


def test_bodies_that_are_patches_of_one_solid_are_put_together_without_a_name():
    stone = cube(1, (9, 0, 0))
    bodies = put_together([("front", LOWER), ("stone", stone), ("back", UPPER)])
    assert [name for name, _ in bodies] == ["stone", ""]
    assert bodies[1][1].volume_mm3 == pytest.approx(64)


def test_bodies_that_do_not_close_together_are_left_as_they_are():
    alone = [("front", LOWER), ("stone", cube(1, (9, 0, 0)))]
    assert put_together(alone) == alone
    gaping = [("front", LOWER), ("back", part_of(cube(4), slice(6, None)))]
    assert put_together(gaping) == gaping
    assert put_together([("only", LOWER)]) == [("only", LOWER)]
    assert put_together([]) == []
