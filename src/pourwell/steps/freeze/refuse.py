"""What makes no sense of a cast, said before anything runs: no feed, no freezing, no room, no memory."""

from itertools import combinations
from typing import Final

import numpy as np

from pourwell.errors import BadDataError, BadRequestError
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import NotSolidError, to_manifold
from pourwell.physics.properties import Substance
from pourwell.steps.freeze.cast import Cast, Shape, domain
from pourwell.steps.freeze.model import Floats
from pourwell.units import c_from_k, k_from_c, mm_from_m

FINEST_MM: Final = 0.1
"""No figure of the mould is known to what finer cells would tell. Own choice."""
CELLS_A_SQUARE: Final = 5.0
"""Cells of a mesh for each square of their edge on the metal's surface, at fine grids; observed 4.6 to 4.9 on trees of bands."""
BYTES_A_CELL: Final = 1200.0
"""Most memory at once for each cell of a run; observed 1000 to 1200."""
MOST_BYTES: Final = 4e9
"""What a machine of 8 GB has to spare. Own choice."""
GIGA: Final = 1e9
HOTTEST_K: Final = 2500.0
"""Above what platinum is poured at; own choice."""
OVERLAP_MM3: Final = 0.01
"""Two pieces share no more than this: a cube of 0.2 mm, below what a printed pattern holds. Own choice."""


def why_not(cast: Cast, metal: Substance) -> BadRequestError | None:
    """Why this cannot be computed, before anything runs; None: it can."""
    if not any(name == "button" for name, _ in cast.bodies):
        return BadRequestError("The tree has no button.", why="Nothing would feed it.", try_this="Plan it again.")
    if not (k_from_c(cast.metal_c) < HOTTEST_K and k_from_c(cast.flask_c) > 0):
        return BadRequestError(
            f"Metal at {cast.metal_c:g} °C in a flask at {cast.flask_c:g} °C cannot be.",
            why=f"Nothing that is cast is poured over {c_from_k(HOTTEST_K):.0f} °C.",
            try_this="Give the temperatures in degrees Celsius.",
        )
    if k_from_c(cast.metal_c) <= metal.liquidus:
        return BadRequestError(
            "The metal is poured below its liquidus.",
            why=f"{cast.metal_c:.0f} °C against {c_from_k(metal.liquidus):.0f} °C.",
            try_this="Pour hotter, or choose the right alloy.",
        )
    if k_from_c(cast.flask_c) >= metal.solidus:
        return BadRequestError(
            "The flask is hotter than the metal's solidus.",
            why=f"{cast.flask_c:.0f} °C against {c_from_k(metal.solidus):.0f} °C: the metal would not freeze in it.",
            try_this="Let the flask cool before the pour.",
        )
    if min(cast.investment.conductivity_dry_w_per_m_k.ends) <= 0:
        return BadRequestError(
            f"The investment {cast.investment.id} conducts no heat.",
            why="Its conductivity, or an end of it, is not above zero.",
            try_this="Mend conductivity_dry_w_per_m_k in its file.",
        )
    return None


def refuse_shape(cast: Cast, shape: Shape, *, edge_mm: float) -> None:
    """Refuse a tree that has no room in its flask or whose pieces run into each other, and cells that would not fit the memory.

    Raises
    ------
    BadRequestError
        With what to do.
    BadDataError
        For a piece that is no solid.
    """
    if not edge_mm >= FINEST_MM:
        raise BadRequestError(
            f"Cells of {edge_mm:g} mm are too many for this machine.", try_this=f"Take {FINEST_MM:g} mm or more with --edge-mm."
        )
    beyond = domain(cast).depths(shape.frame.to_solver(cast.metal.vertices))[:, :2].min(axis=1)
    if beyond.min() <= 0:
        raise BadRequestError(
            "Metal touches the flask's wall or comes out of the mould.",
            why=f"A piece reaches {-mm_from_m(float(beyond.min())):.1f} mm out of the investment.",
            try_this="Take a wider or taller flask, or fewer pieces.",
        )
    _refuse_overlap(cast)
    wanted = CELLS_A_SQUARE * BYTES_A_CELL * cast.metal.area_mm2
    if wanted / edge_mm**2 > MOST_BYTES:
        least = np.ceil(100 * np.sqrt(wanted / MOST_BYTES)) / 100
        raise BadRequestError(
            f"Cells of {edge_mm:g} mm would take about {wanted / edge_mm**2 / GIGA:.0f} GB of memory.",
            why=f"No more than {MOST_BYTES / GIGA:.0f} GB are taken.",
            try_this=f"Take {least:g} mm or more with --edge-mm, or fewer pieces.",
        )


def _refuse_overlap(cast: Cast) -> None:
    """Refuse two pieces that share room: on a tree, metal of one is not metal of another."""
    pieces = [(name, mesh) for name, mesh in cast.bodies if name.startswith("piece ")]
    for (a, one), (b, other) in combinations(pieces, 2):
        if not _apart(one.bounds, other.bounds):
            shared = _shared_mm3(one, other)
            if shared > OVERLAP_MM3:
                raise BadRequestError(
                    f"Two pieces overlap: {a} and {b}.",
                    why=f"They share {shared:.2f} mm³.",
                    try_this="Plan again, so that the pieces are set apart.",
                )


def _shared_mm3(one: Mesh, other: Mesh) -> float:
    """The room that two solids share. Raises BadDataError if one is none."""
    try:
        return float((to_manifold(one) ^ to_manifold(other)).volume())
    except NotSolidError as err:
        raise BadDataError(
            "A piece on the tree is no solid.", why=f"In it {err}.", try_this="Mend its file and plan again."
        ) from err


def _apart(one: tuple[Floats, Floats], other: tuple[Floats, Floats]) -> bool:
    """Do two boxes, lowest and highest corner (3,), lie clear of each other."""
    return bool(np.any(one[0] > other[1]) or np.any(other[0] > one[1]))
