"""What printing does to a piece, said where it is measured: a hollow that holds resin however the piece stands in the printer."""

from typing import Final

import numpy as np

from pourwell.findings import Code, Finding, Severity
from pourwell.geometry.layers import closed_halves
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.orient import Stance, Wants, compare, ways_to_stand
from pourwell.materials.library import Library
from pourwell.materials.model import PatternMaterial
from pourwell.steps.pattern.bodies import United
from pourwell.steps.pattern.model import Piece

LAYER_MM: Final = 0.05
"""A usual layer; what begins within one of the piece's lowest point begins on its supports. Common practice, no source."""


def holds_resin(mesh: Mesh, library: Library) -> Stance | None:
    """The way to stand in which a piece holds least resin; None if it holds none in some way. Raises NotSolidError.

    Parameters
    ----------
    mesh : a closed solid [mm]
    """
    closed, _ = closed_halves(mesh)
    wants = Wants(layer_mm=LAYER_MM, lasting_mm=np.inf, cup_mm3=library.rule("print_cup_mm3"), under_deg=0.0)
    least: Stance | None = None
    for way in ways_to_stand():
        for stance in compare(closed, way[None], weight=np.ones(len(closed.faces)), wants=wants):
            if not stance.cups_count:
                return None
            if least is None or _held_mm3(stance) < _held_mm3(least):
                least = stance
    return least


def _held_mm3(stance: Stance) -> float:
    return stance.suction_mm3 + stance.bowl_mm3


def findings(piece: Piece, solid: United, *, material: PatternMaterial, library: Library) -> tuple[Finding, ...]:
    """What is to be known of a printed piece before it is printed; a wax is not printed, and nothing is told of what is unsound."""
    if material.family != "resin" or piece.doubt or solid.unsound:
        return ()
    least = holds_resin(solid.mesh, library)
    if least is None:
        return ()
    rule = library.rules["print_cup_mm3"]
    held = _held_mm3(least)
    return (
        Finding(
            code="pattern-holds-resin",
            severity=Severity.NOTE,
            where=f"piece {piece.id}",
            says=f"However it stands in the printer, hollows hold resin: {held:.0f} mm³ at the least. Where the film seals them "
            "every lift sucks at the print and may tear it.",
            do=f"See `pourwell print {piece.file}` for the way to stand and for what hangs inside, before you print.",
            measure=f"{held:.1f} mm³",
            limit=f"{rule.value:g} mm³",
            source=rule.source,
        ),
    )


CODES: tuple[Code, ...] = (
    Code(
        code="pattern-holds-resin",
        severities=(Severity.NOTE,),
        about="A printed piece holds resin in its hollows however it stands in the printer",
    ),
)
