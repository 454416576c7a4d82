"""When a tree is solid, as a map in colours: the same map, scale and cameras as of walls."""

from functools import partial

import numpy as np
from scipy.spatial import cKDTree

from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.picture import view_axes
from pourwell.geometry.surface import smooth
from pourwell.geometry.walls_seen import values_at
from pourwell.sheets.drawing import Drawing
from pourwell.sheets.field_map import IN_THE_MIDDLE, Field, field_map
from pourwell.sheets.scene import SIZE, Scene
from pourwell.steps.freeze.model import Fields

AHEAD, UP = (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
"""How a tree is looked at: it stands on its button end, tip up."""


def freezing_scene(metal: Mesh, *, title: str) -> Scene:
    """A tree made ready to be drawn, in its own frame [mm]."""
    return Scene(id="", name=title, surface=smooth(metal), axes=view_axes(AHEAD, UP))


def freezing_field(scene: Scene, found: Fields) -> Field:
    """The time at which the metal under every triangle is solid [s], as the nearest cell has it; nan where it never is."""
    nearest, end = cKDTree(found.centre_mm), found.end_s.astype(np.float64)

    def solid_s(places: Floats, _: Ints) -> Floats:
        times: Floats = end[nearest.query(places)[1]]
        return times

    values = solid_s(scene.mesh.centres, scene.mesh.faces[:, 0])
    last = int(np.nanargmax(end))
    x, y, z = found.centre_mm[last].tolist()
    words, under_mm = f"last {end[last]:.0f} s", float(cKDTree(scene.mesh.vertices).query((x, y, z))[0])
    return Field(
        name="freezing",
        title="Solid after",
        unit="s",
        values=values,
        unknown="not solid",
        marked=((words, (x, y, z)),),
        deep_mm={words: IN_THE_MIDDLE * under_mm},
        note="Dark is solid first. What is bright within dark was cut off from its metal.",
        under=partial(values_at, surface=scene.surface, values=values, measure=solid_s),
    )


def freezing_map(metal: Mesh, found: Fields, *, title: str, size: int = SIZE) -> Drawing:
    """The tree from both sides, coloured by when it is solid."""
    scene = freezing_scene(metal, title=title)
    return field_map(scene, freezing_field(scene, found), size=size)
