"""The feed system as solids [mm]: round bars for stem and sprues, and the dome that shapes the button.

Circles become polygons of the circle's own area, so that a bar has the volume of its formula whatever the number of sides.
"""

from math import hypot, pi, sin, sqrt
from typing import Final

import manifold3d
import numpy as np
from numpy.typing import ArrayLike

SIDES_COUNT: Final = 48
"""Sides of a round bar: its flats lie within 0.3 % of its radius."""

RISE_COUNT: Final = 16
"""Steps from the foot to the crown of a dome."""


def area_true_radius_mm(radius_mm: float, sides_count: int = SIDES_COUNT) -> float:
    """Corner radius of the regular polygon that has a circle's area."""
    turn = 2 * pi / sides_count
    return radius_mm * sqrt(turn / sin(turn))


def bar(start: ArrayLike, end: ArrayLike, *, diameter_mm: float, sides_count: int = SIDES_COUNT) -> manifold3d.Manifold:
    """A round bar from point to point, with flat ends.

    Parameters
    ----------
    start, end : (3,) [mm], not the same
    diameter_mm : [mm]
    sides_count : of the polygon that stands for the circle, with the circle's area
    """
    foot = np.asarray(start, dtype=np.float64)
    way = np.asarray(end, dtype=np.float64) - foot
    length = float(np.linalg.norm(way))
    up = way / length
    aside = np.cross(up, np.eye(3)[int(np.argmin(np.abs(up)))])
    aside /= np.linalg.norm(aside)
    radius = area_true_radius_mm(diameter_mm / 2, sides_count)
    rod = manifold3d.Manifold.cylinder(length, radius, radius, sides_count)
    return rod.transform(np.column_stack((aside, np.cross(up, aside), up, foot)))


def cap_volume_mm3(diameter_mm: float, height_mm: float) -> float:
    """Volume of a spherical cap: pi h (3 a^2 + h^2) / 6, a half the diameter of its foot.

    Source: definition.
    """
    return pi * height_mm * (3 * (diameter_mm / 2) ** 2 + height_mm**2) / 6


def dome(*, diameter_mm: float, height_mm: float, foot_mm: float, sides_count: int = SIDES_COUNT) -> manifold3d.Manifold:
    """A spherical cap about the z axis, its wide face down at `foot_mm`, widened by a hair to have the volume of its formula.

    Parameters
    ----------
    diameter_mm : of the wide face [mm]
    height_mm : at most half the diameter [mm]
    foot_mm : height of the wide face [mm]
    """
    half = diameter_mm / 2
    radius = (half**2 + height_mm**2) / (2 * height_mm)
    steps = np.arange(RISE_COUNT) / RISE_COUNT
    crown = np.arctan2(half, radius - height_mm)
    arc = [(radius * sin(crown * (1 - s)), radius * np.cos(crown * (1 - s)) - radius + height_mm) for s in steps]
    profile = manifold3d.CrossSection([[(0.0, 0.0), *arc, (0.0, height_mm)]])
    solid = manifold3d.Manifold.revolve(profile, sides_count)
    widen = sqrt(cap_volume_mm3(diameter_mm, height_mm) / solid.volume())
    return solid.scale((widen, widen, 1.0)).translate((0.0, 0.0, foot_mm))


def cap_height_mm(diameter_mm: float, height_mm: float, *, away_mm: float) -> float:
    """Height of a spherical cap over its foot, at a distance from its axis; 0 outside its foot.

    Parameters
    ----------
    diameter_mm, height_mm : of the cap [mm]
    away_mm : from its axis [mm]
    """
    half = diameter_mm / 2
    if away_mm >= half:
        return 0.0
    radius = hypot(half, height_mm) ** 2 / (2 * height_mm)
    return height_mm - radius + sqrt(radius**2 - away_mm**2)
