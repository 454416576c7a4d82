"""An ear stud: a domed head on a fine wire. Its front looks towards -y, the wire runs towards +y."""

from math import pi

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes.build import (
    FINE,
    Fineness,
    ImpossibleShapeError,
    arc,
    facing,
    lens,
    meshed,
    not_negative,
    outline,
    positive,
    turned,
)


def stud_with_wire(
    *,
    diameter_mm: float = 6.0,
    rim_mm: float = 1.0,
    crown_mm: float = 0.8,
    wire_mm: float = 0.9,
    wire_length_mm: float = 10.0,
    fillet_mm: float = 0.4,
    fineness: Fineness = FINE,
) -> Mesh:
    """An ear stud, turned in one: a head with a domed front and a flat back, and a wire with a rounded end.

    Parameters
    ----------
    diameter_mm : of the head
    rim_mm : thickness of the head at its rim
    crown_mm : by how much the front rises over the rim in the middle, 0 for a flat head
    wire_mm : thickness of the wire
    wire_length_mm : from the back of the head to the wire's end
    fillet_mm : radius of the hollow where the wire leaves the head, 0 for a sharp corner
    fineness : how closely the triangles follow

    Raises
    ------
    ImpossibleShapeError (a ValueError) for dimensions that make no stud.

    Source: own design; the defaults are common practice, no source.
    """
    positive(diameter_mm=diameter_mm, wire_mm=wire_mm, wire_length_mm=wire_length_mm)
    not_negative(fillet_mm=fillet_mm)
    wire, radius = wire_mm / 2, diameter_mm / 2
    if wire + fillet_mm >= radius:
        raise ImpossibleShapeError(
            f"the wire with its hollow is {2 * (wire + fillet_mm):g} mm wide",
            why=f"the head is {diameter_mm:g}",
            try_this="give a finer wire_mm or a larger diameter_mm",
        )
    if wire + fillet_mm > wire_length_mm:
        raise ImpossibleShapeError(
            f"the wire is {wire_length_mm:g} mm long",
            why=f"its rounded end and its hollow take {wire + fillet_mm:g}",
            try_this="give a longer wire_length_mm",
        )
    back_z = -rim_mm / 2
    end = arc((0, back_z - wire_length_mm + wire), wire, (-pi / 2, 0), fineness=fineness)
    end[0, 0] = 0.0
    hollow = arc((wire + fillet_mm, back_z - fillet_mm), fillet_mm, (pi, pi / 2), fineness=fineness)
    back, front = lens(radius, rim_mm, front_mm=crown_mm, back_mm=0, fineness=fineness)
    profile = outline([end, hollow, back[1:], front], fineness=fineness)
    return meshed(facing(turned(profile, fineness=fineness)))
