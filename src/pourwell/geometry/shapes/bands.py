"""Bands: one section all round. The bore runs along y, the middle of the bore is the origin.

The defaults are sound for casting: common practice, no source.
"""

from math import atan2, pi, sqrt

import numpy as np

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.shapes.build import FINE, Fineness, ImpossibleShapeError, arc, not_negative, outline, positive, spin


def plain_band(
    *, bore_mm: float = 17.2, width_mm: float = 4.0, thickness_mm: float = 1.8, edge_mm: float = 0.2, fineness: Fineness = FINE
) -> Mesh:
    """A flat band: a rectangle with rounded edges, all round.

    Parameters
    ----------
    bore_mm : inside diameter
    width_mm : along the finger
    thickness_mm : from the bore to the outside
    edge_mm : radius of the four edges, 0 for sharp ones
    fineness : how closely the triangles follow

    Raises
    ------
    ImpossibleShapeError (a ValueError) for dimensions that make no ring.

    Source: definition.
    """
    positive(bore_mm=bore_mm)
    section = band_section(width_mm, thickness_mm, edge_mm=edge_mm, fineness=fineness)
    return spin(section, bore_mm, fineness=fineness)


def comfort_band(
    *,
    bore_mm: float = 17.2,
    width_mm: float = 5.0,
    thickness_mm: float = 2.0,
    rise_mm: float = 0.4,
    crown_mm: float = 0.3,
    edge_mm: float = 0.3,
    fineness: Fineness = FINE,
) -> Mesh:
    """A comfort-fit band: an arc inside, smallest in the middle of its width, and a slighter one outside.

    Parameters
    ----------
    bore_mm : inside diameter where it is smallest, in the middle of the width
    width_mm : along the finger
    thickness_mm : in the middle of the width
    rise_mm : by how much the bore's radius grows from the middle to the sides
    crown_mm : by how much the outside falls from the middle to the sides
    edge_mm : radius of the four edges, 0 for sharp ones
    fineness : how closely the triangles follow

    Raises
    ------
    ImpossibleShapeError (a ValueError) for dimensions that make no ring.

    Source: definition.
    """
    positive(bore_mm=bore_mm, rise_mm=rise_mm)
    section = band_section(width_mm, thickness_mm, rise_mm=rise_mm, crown_mm=crown_mm, edge_mm=edge_mm, fineness=fineness)
    return spin(section, bore_mm, fineness=fineness)


def half_round_band(
    *,
    bore_mm: float = 17.2,
    width_mm: float = 4.0,
    thickness_mm: float = 1.9,
    crown_mm: float = 0.9,
    edge_mm: float = 0.2,
    fineness: Fineness = FINE,
) -> Mesh:
    """A band flat inside and domed outside.

    Parameters
    ----------
    bore_mm : inside diameter
    width_mm : along the finger
    thickness_mm : in the middle of the width
    crown_mm : by how much the outside falls from the middle to the sides
    edge_mm : radius of the four edges, 0 for sharp ones
    fineness : how closely the triangles follow

    Raises
    ------
    ImpossibleShapeError (a ValueError) for dimensions that make no ring.

    Source: definition.
    """
    positive(bore_mm=bore_mm, crown_mm=crown_mm)
    section = band_section(width_mm, thickness_mm, crown_mm=crown_mm, edge_mm=edge_mm, fineness=fineness)
    return spin(section, bore_mm, fineness=fineness)


def band_section(
    width_mm: float,
    thickness_mm: float,
    *,
    rise_mm: float = 0.0,
    crown_mm: float = 0.0,
    edge_mm: float = 0.0,
    fineness: Fineness = FINE,
) -> Floats:
    """The section of a band over its bore: straight or arched inside and outside, with rounded edges.

    Returns
    -------
    (p, 2) float array [mm], y about the middle and height over the bore, anticlockwise with y to the right
    """
    positive(width_mm=width_mm, thickness_mm=thickness_mm)
    not_negative(rise_mm=rise_mm, crown_mm=crown_mm, edge_mm=edge_mm)
    if not edge_mm < width_mm / 2:
        raise ImpossibleShapeError(
            f"edge_mm is {edge_mm:g}",
            why=f"a width of {width_mm:g} mm leaves room for less than {width_mm / 2:g}",
            try_this="give a smaller edge_mm, or 0 for sharp edges",
        )
    if max(rise_mm, crown_mm) >= width_mm / 2:
        raise ImpossibleShapeError(
            f"an arch rises {max(rise_mm, crown_mm):g} mm",
            why=f"over a width of {width_mm:g} mm half a circle rises {width_mm / 2:g}",
            try_this="give a smaller rise_mm or crown_mm",
        )
    inside, low = _arch(width_mm, rise_mm, edge_mm=edge_mm, fineness=fineness)
    outside, high = _arch(width_mm, crown_mm, edge_mm=edge_mm, fineness=fineness)
    side_mm = thickness_mm - low - high
    if side_mm < 0 or thickness_mm - rise_mm - crown_mm <= 0:
        raise ImpossibleShapeError(
            f"thickness_mm is {thickness_mm:g}",
            why=f"arches and edges alone take {max(low + high, rise_mm + crown_mm):.3g} mm at the sides",
            try_this="make it thicker, or give less rise_mm, crown_mm or edge_mm",
        )
    return outline([inside, (0, thickness_mm) - outside], fineness=fineness)


def _arch(width_mm: float, rise_mm: float, *, edge_mm: float, fineness: Fineness) -> tuple[Floats, float]:
    """The inner side of a section from its left to its right edge, and where the edges end over its lowest point [mm]."""
    half = width_mm / 2 - edge_mm
    if rise_mm > 0:
        radius = (width_mm**2 / 4 + rise_mm**2) / (2 * rise_mm)
        edge_at = radius - sqrt((radius - edge_mm) ** 2 - half**2)
        tangent = atan2(edge_at - radius, half)
        from_middle = arc((0, radius), radius, (-pi / 2, tangent), fineness=fineness)
        middle = np.concatenate([from_middle[:0:-1] * (-1, 1), from_middle])
    else:
        edge_at, tangent = edge_mm, -pi / 2
        middle = np.zeros((0, 2))
    right = arc((half, edge_at), edge_mm, (tangent, 0), fineness=fineness)
    left = right[::-1] * (-1, 1)
    return np.concatenate([left, middle, right]), edge_at
