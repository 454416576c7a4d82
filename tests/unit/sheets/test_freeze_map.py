"""The map of when a tree is solid: its values, its scale, where the last metal freezes, and what never does."""

import numpy as np
import pytest

from pourwell.geometry.picture import seen_by
from pourwell.sheets.drawing import Words
from pourwell.sheets.field_map import halves
from pourwell.sheets.freeze_map import freezing_field, freezing_map, freezing_scene
from tests.unit.sheets.frozen import SOLID, block


def test_every_pixel_has_the_time_of_the_cell_under_it():
    """Cells of 1 mm are solid after 5 s and their height; the block's triangles are far larger than cells."""
    scene = freezing_scene(SOLID, title="tree")
    field = freezing_field(scene, block())
    for camera in halves(scene, size=90):
        picture = seen_by(camera, scene.surface)
        times = field.seen(picture, scene.surface)[picture.hit]
        wanted = 5 + np.clip(np.round(picture.places[:, 2]), 10, 21)
        assert np.mean(np.abs(times - wanted) <= 1.0) > 0.97, "to a cell, but for pixels at outlines"


def test_the_scale_is_of_seconds_and_begins_with_the_first_that_is_solid():
    scene = freezing_scene(SOLID, title="tree")
    scale = freezing_field(scene, block()).scale(scene.surface)
    assert scale.unit == "s"
    assert scale.low > 5
    assert freezing_field(scene, block()).limit is None


def test_the_last_metal_is_named_with_its_time():
    scene = freezing_scene(SOLID, title="tree")
    ((words, at),) = freezing_field(scene, block()).marked
    assert words == "last 26 s"
    assert at[2] == pytest.approx(21)


def test_metal_that_is_never_solid_is_grey_and_said_so():
    hot = block(time=lambda points: np.where(points[:, 2] > 15, np.nan, 5 + points[:, 2]))
    made = freezing_map(SOLID, hot, title="tree", size=120)
    said = [part.text for part in made.parts if isinstance(part, Words)]
    assert "not solid" in said
    assert "last 20 s" in said
    sure = freezing_map(SOLID, block(), title="tree", size=120)
    assert "not solid" not in [part.text for part in sure.parts if isinstance(part, Words)]


def test_a_tree_stands_on_its_button_tip_up():
    axes = freezing_scene(SOLID, title="tree").axes
    assert axes[1] == pytest.approx((0, 0, 1))
    assert axes[2] == pytest.approx((0, -1, 0))
