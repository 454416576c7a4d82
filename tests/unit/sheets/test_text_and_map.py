"""The text and the map of one measure never disagree: what is told is the value that the map has at the place it rings."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.picture import Camera, seen_by
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import from_manifold
from pourwell.sheets.close_up import view_of
from pourwell.sheets.field_map import more_fields, wall_field
from pourwell.sheets.scene import scene_of
from pourwell.sheets.viewpoint import is_visible
from tests.unit.geometry.feature_pieces import Solid, with_wire
from tests.unit.pattern.case import measured

CLOSE_MM = 0.05
"""Maps blend over triangles, and texts round to a hundredth."""


def fields_of(pattern):
    surface = scene_of(pattern).surface
    found = (wall_field(pattern, surface, Caster(pattern.mesh)), *more_fields(pattern, surface))
    return {field.name: field for field in found}


def there(pattern, field, at_mm):
    """The value that the map of a close-up has at the middle of its ring."""
    scene, caster = scene_of(pattern), Caster(pattern.mesh)
    axes = view_of(scene, at_mm, caster=caster, span_mm=4.0)
    seen = seen_by(Camera(axes=axes, middle=np.asarray(at_mm), mm_per_px=0.02, shape=(60, 60)), scene.surface)
    assert is_visible(seen, at_mm)
    return field.seen(seen, scene.surface)[30, 30]


def judged(pattern):
    """Every mark of the thinnest is the least that its field tells, and the map has that value there; the least mark is told."""
    least = []
    for field in fields_of(pattern).values():
        for words, at_mm in field.marked:
            if words.startswith("thinnest"):
                least.append(field.least)
                assert words == f"thinnest {field.least:.2f}"
                assert there(pattern, field, at_mm) == pytest.approx(field.least, abs=CLOSE_MM)
    assert len(least) == 2, "by rays and by balls"
    assert min(least) == pytest.approx(pattern.piece.wall.thinnest_mm, abs=CLOSE_MM)


@pytest.mark.parametrize("name", SHAPES)
def test_the_least_wall_of_our_own_shapes_is_what_the_maps_have_there(name):
    judged(measured(SHAPES[name].make())[0])


def test_a_thin_cup_is_told_as_thick_as_its_maps_show_it():
    pattern, found = measured(SHAPES["bezel-ring"].make(wall_mm=0.4))
    judged(pattern)
    told = found["wall-thin"]
    assert float(told.measure.split()[0]) == pytest.approx(pattern.piece.wall.thinnest_mm, abs=0.01)
    assert there(pattern, fields_of(pattern)[pattern.thin_by], told.at_mm) == pytest.approx(0.4, abs=CLOSE_MM)


def test_a_thin_wire_is_told_as_thick_as_the_map_of_balls_shows_it():
    pattern, found = measured(with_wire(0.5))
    told = found["wire-thin"]
    shown = there(pattern, fields_of(pattern)["ball"], told.at_mm)
    assert shown == pytest.approx(float(told.measure.split()[0]), abs=CLOSE_MM)


@pytest.mark.parametrize("width", [0.2, 0.3])
def test_a_narrow_slot_is_told_as_wide_as_the_map_of_gaps_shows_it(width):
    slot = Solid.cube((6, width, 4), True)
    pattern, found = measured(from_manifold(manifold3d.Manifold.cube((12, 8, 2), True) - slot))
    told = found["gap-narrow"]
    shown = there(pattern, fields_of(pattern)["gap"], told.at_mm)
    assert shown == pytest.approx(float(told.measure.split()[0]), abs=CLOSE_MM)
