"""A pendant: a disc or lens with a loop for the chain. Its front looks towards -y, up is +z."""

from math import pi
from typing import Final

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes.build import (
    FINE,
    Fineness,
    ImpossibleShapeError,
    arc,
    facing,
    finished,
    lens,
    outline,
    positive,
    turned,
)

SINK_RATIO: Final = 0.75
"""How deep the middle of the loop's wire lies inside the rim, in radii of the wire: a neck as wide as the wire is thick."""


def pendant_with_bail(
    *,
    diameter_mm: float = 18.0,
    rim_mm: float = 1.4,
    crown_mm: float = 0.5,
    bail_bore_mm: float = 3.6,
    bail_wire_mm: float = 1.6,
    fineness: Fineness = FINE,
) -> Mesh:
    """A pendant: a disc, domed in front and behind, with a round loop; the chain runs from side to side.

    Parameters
    ----------
    diameter_mm : of the disc
    rim_mm : thickness at the rim
    crown_mm : by how much each face rises over the rim in the middle, 0 for a flat disc
    bail_bore_mm : inside diameter of the loop
    bail_wire_mm : thickness of the loop's wire
    fineness : how closely the triangles follow

    Raises
    ------
    ImpossibleShapeError (a ValueError) for dimensions that make no pendant.

    Source: own design; the defaults are common practice, no source.
    """
    positive(diameter_mm=diameter_mm, bail_bore_mm=bail_bore_mm, bail_wire_mm=bail_wire_mm)
    if bail_bore_mm + 2 * bail_wire_mm > diameter_mm:
        raise ImpossibleShapeError(
            f"the loop is {bail_bore_mm + 2 * bail_wire_mm:g} mm across",
            why=f"the disc that carries it is {diameter_mm:g}",
            try_this="make the loop smaller or the disc larger",
        )
    radius, wire = diameter_mm / 2, bail_wire_mm / 2
    turn = bail_bore_mm / 2 + wire
    disc = turned(
        outline(lens(radius, rim_mm, front_mm=crown_mm, back_mm=crown_mm, fineness=fineness), fineness=fineness), fineness=fineness
    )
    loop = turned(outline([arc((turn, 0), wire, (0, 2 * pi), fineness=fineness)], fineness=fineness), fineness=fineness)
    lifted = loop.rotate((0, 90, 0)).translate((0, 0, radius + turn - SINK_RATIO * wire))
    return finished(facing(disc) + lifted, fineness=fineness)
