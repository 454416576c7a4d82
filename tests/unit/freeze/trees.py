"""A small tree made by hand: a plain band and one with a heavy head, each on its sprue, in a flask of 64 x 50 mm."""

import manifold3d
import numpy as np

from pourwell.geometry.joints import bar, dome
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold
from pourwell.materials.library import load_library
from pourwell.steps.flask.model import Flask
from pourwell.steps.freeze.cast import Cast, Fed

LIBRARY = load_library()
FLASK = Flask(
    id="64x50",
    mark="",
    diameter_mm=64,
    height_mm=50,
    wall_mm=2,
    perforated=False,
    flange=False,
    volume_cm3=160,
    base_depth_mm=6,
    dome_diameter_mm=22,
    dome_height_mm=7,
    socket_mm=8,
    base_assumed=False,
    cover_mm=6,
    headspace_mm=4,
    usable_mm=34,
)
UNMOVED = ((1.0, 0.0, 0.0, 0.0), (0.0, 1.0, 0.0, 0.0), (0.0, 0.0, 1.0, 0.0))
LEVEL_MM = 26.0
"""Height of both sprues."""
REACH_MM = 8.0
"""Where they meet the pieces, from the axis."""


def band(*, side, bore=15.0, wall=2.0, wide=3.0, head=0.0, reach=REACH_MM):
    """A band that stands on the sprue at the side of +x (1) or -x (-1), with a ball of a radius at its far end."""
    outer = bore / 2 + wall
    ring = manifold3d.Manifold.cylinder(wide, outer, outer, 96, center=True)
    ring = ring - manifold3d.Manifold.cylinder(wide + 1, bore / 2, bore / 2, 96, center=True)
    solid = ring.rotate((90, 0, 0))
    if head:
        solid = solid + manifold3d.Manifold.sphere(head, 48).translate((side * (bore / 2 + wall / 2), 0, 0))
    return solid.translate((side * (reach + outer - 0.05), 0, LEVEL_MM))


def rod(side, gauge, reach=REACH_MM):
    return bar((0, 0, LEVEL_MM), (side * (reach + 0.3), 0, LEVEL_MM), diameter_mm=gauge)


def cast(
    *,
    gauge=2.5,
    alloy="sterling-925",
    metal_c=970.0,
    flask_c=500.0,
    pieces=((1, 0.0), (-1, 3.6)),
    second_mm=None,
    reach=REACH_MM,
):
    """The tree; pieces: side and radius of the head of each; reach: of all of them from the axis [mm]."""
    button = dome(diameter_mm=FLASK.dome_diameter_mm, height_mm=FLASK.dome_height_mm, foot_mm=FLASK.base_depth_mm)
    stem = bar((0, 0, 9), (0, 0, 36), diameter_mm=6)
    whole, bodies, fed = button + stem, [], []
    for number, (side, head) in enumerate(pieces, start=1):
        piece, sprue = band(side=side, head=head, reach=reach), rod(side, gauge, reach)
        whole = whole + piece + sprue
        kind = "A" if head == 0 else "B"
        bodies += [(f"piece {number} {kind}", from_manifold(piece)), (f"sprue {number}", from_manifold(sprue - stem - piece))]
        fed.append(
            Fed(
                number=number,
                piece=kind,
                gauge_mm=gauge,
                area_ratio=gauge**2 * np.pi / 4 / (2.0 * 3.0),
                from_mm=(0.0, 0.0, LEVEL_MM),
                to_mm=(side * reach, 0.0, LEVEL_MM),
                second_mm=second_mm if head else None,
                second_gauge_mm=4.0 if second_mm else 0.0,
                transform=UNMOVED,
            )
        )
    bodies += [("stem", from_manifold(stem - button)), ("button", from_manifold(button))]
    return Cast(
        bodies=tuple(bodies),
        metal=from_manifold(whole),
        fed=tuple(fed),
        flask=FLASK,
        alloy=LIBRARY.alloy(alloy),
        investment=LIBRARY.investment("gypsum-resin"),
        metal_c=metal_c,
        flask_c=flask_c,
        flask_band_c=(400.0, 560.0),
    )


def far_from(points, other):
    """Distance of points (n, 3) from a place."""
    return np.linalg.norm(np.asarray(points) - np.asarray(other), axis=1)


def small(mesh):
    """A body half as large about its middle."""
    middle = np.mean(mesh.bounds, axis=0)
    return Mesh(middle + (mesh.vertices - middle) / 2, mesh.faces)
