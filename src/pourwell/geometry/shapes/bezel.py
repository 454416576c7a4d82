"""A ring with an open bezel cup for a round stone on a thin shank."""

from typing import Final

import numpy as np

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes.bands import band_section
from pourwell.geometry.shapes.build import FINE, Fineness, ImpossibleShapeError, finished, outline, positive, solid, spin, turned

STONE_PLAY_MM: Final = 0.05
"""Between the stone's girdle and the wall, all round; common practice, no source."""

FOOT_SHARE: Final = 0.25
"""How high the cup's foot stands over the bore, in thicknesses of the shank, so that it does not rub; own choice."""


def bezel_ring(
    *,
    bore_mm: float = 16.6,
    stone_mm: float = 5.0,
    wall_mm: float = 0.9,
    ledge_mm: float = 0.6,
    rim_mm: float = 1.2,
    cup_mm: float = 4.0,
    shank_width_mm: float = 2.0,
    shank_thickness_mm: float = 1.4,
    edge_mm: float = 0.3,
    fineness: Fineness = FINE,
) -> Mesh:
    """A bezel ring: a cup with a seat, open to the bore, on a thin shank.

    Parameters
    ----------
    bore_mm : inside diameter
    stone_mm : diameter of the round stone; the opening is 0.1 mm wider
    wall_mm : of the cup beside the stone
    ledge_mm : width of the seat, by which the cup is narrower below the stone
    rim_mm : how far the wall stands over the seat
    cup_mm : from the bore to the rim
    shank_width_mm : along the finger
    shank_thickness_mm : of the shank
    edge_mm : radius of the shank's edges, 0 for sharp ones
    fineness : how closely the triangles follow

    Raises
    ------
    ImpossibleShapeError (a ValueError) for dimensions that make no ring.

    Source: own design; the defaults are common practice, no source.
    """
    positive(bore_mm=bore_mm, stone_mm=stone_mm, wall_mm=wall_mm, ledge_mm=ledge_mm, rim_mm=rim_mm, cup_mm=cup_mm)
    inner, opening = bore_mm / 2, stone_mm / 2 + STONE_PLAY_MM
    outer, hole, rim = opening + wall_mm, opening - ledge_mm, inner + cup_mm
    _refuse(outer, hole, inner=inner, cup_mm=cup_mm, rim_mm=rim_mm, shank_mm=shank_thickness_mm)
    section = band_section(shank_width_mm, shank_thickness_mm, edge_mm=edge_mm, fineness=fineness)
    shank = spin(section, bore_mm, fineness=fineness)
    below, foot = inner / 2, inner + FOOT_SHARE * shank_thickness_mm
    hollow = [(0, below), (hole, below), (hole, rim - rim_mm), (opening, rim - rim_mm), (opening, rim + 1), (0, rim + 1)]
    cup = turned(outline([np.array([(0, foot), (outer, foot), (outer, rim), (0, rim)])], fineness=fineness), fineness=fineness)
    whole = solid(shank) + cup - turned(np.array(hollow, dtype=np.float64), fineness=fineness)
    return finished(whole, fineness=fineness)


def _refuse(outer: float, hole: float, *, inner: float, cup_mm: float, rim_mm: float, shank_mm: float) -> None:
    """Refuse a cup without a hole, too low, or so wide that the shank falls away under its foot."""
    if hole <= 0:
        raise ImpossibleShapeError(
            "the ledge closes the cup", why="it must stay open below", try_this="give a smaller ledge_mm or a larger stone_mm"
        )
    if cup_mm <= max(rim_mm, shank_mm):
        raise ImpossibleShapeError(
            f"cup_mm is {cup_mm:g}",
            why=f"rim and shank need more than {max(rim_mm, shank_mm):g}",
            try_this="raise the cup or lower the rim",
        )
    back = (inner + shank_mm) ** 2 - hole**2
    if outer >= inner or back <= (inner + 2 * FOOT_SHARE * shank_mm) ** 2:
        raise ImpossibleShapeError(
            f"the cup is {2 * outer:g} mm wide",
            why=f"a shank of {shank_mm:g} mm round a bore of {2 * inner:g} mm falls away under it",
            try_this="take a smaller stone, a larger ring or a thicker shank",
        )
