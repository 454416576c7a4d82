"""Plain rings: one section all round. The bore runs along y, the middle of the bore is the origin."""

from math import pi

from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.shapes.build import FINE, Fineness, ImpossibleShapeError, arc, outline, positive, spin


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
    ValueError for dimensions that make no ring.

    Source: definition; the defaults are common practice, no source.
    """
    positive(bore_mm=bore_mm, width_mm=width_mm, thickness_mm=thickness_mm)
    inner = bore_mm / 2
    return spin(rounded(width_mm, (inner, inner + thickness_mm), edge_mm=edge_mm, fineness=fineness), fineness=fineness)


def rounded(width_mm: float, radii_mm: tuple[float, float], *, edge_mm: float, fineness: Fineness) -> Floats:
    """A rectangle with rounded corners as a ring's section, about y = 0.

    Returns
    -------
    (p, 2) float array [mm], y and radius, anticlockwise with y to the right
    """
    low, high = radii_mm
    narrower = min(width_mm, high - low)
    if not 0 <= edge_mm < narrower / 2:
        raise ImpossibleShapeError(
            f"edge_mm is {edge_mm:g}",
            why=f"the section is {narrower:g} mm at its narrower side, which leaves room for less than {narrower / 2:g}",
            try_this="give a smaller edge_mm, or 0 for sharp edges",
        )
    y = width_mm / 2 - edge_mm
    corners = ((-y, low + edge_mm), (y, low + edge_mm), (y, high - edge_mm), (-y, high - edge_mm))
    turns = ((pi, 1.5 * pi), (-0.5 * pi, 0), (0, 0.5 * pi), (0.5 * pi, pi))
    arcs = [arc(corner, edge_mm, turn, fineness=fineness) for corner, turn in zip(corners, turns, strict=True)]
    return outline(arcs, fineness=fineness)
