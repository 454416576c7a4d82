"""A piece moved in along its sprue, so that the sprue is shorter: as far as saw, mould and its neighbours leave room."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Final

import numpy as np

from pourwell.geometry.gap import gap_mm
from pourwell.geometry.joints import bar
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import from_manifold, to_manifold
from pourwell.materials.library import Library
from pourwell.steps.freeze.cast import Cast, Fed
from pourwell.steps.freeze.model import Floats
from pourwell.steps.freeze.route import rod

STEP_MM: Final = 0.5
"""A sprue is shortened by this at least, and by a multiple of it. Own choice: what a bench can keep."""
FLATS_MM: Final = 0.05
"""The stem is a polygon of the circle's area: its corners stand out by less than this. Own bound."""
UPRIGHT: Final = 1e-9
"""Sine between stem and sprue below which it stands on the stem's end, and no free length is told. Own choice: rounding."""
WIDER: Final = 1.02
"""A sprue is cut off the tree by a rod so much wider: none of its skin stays behind. Own choice."""
SAME_VOLUME: Final = 0.02
"""What falls off with a sprue is the piece and the sprue, to this share; else more hangs together than is known. Own choice."""


def nearer(cast: Cast, mine: Sequence[Fed], library: Library) -> tuple[Cast, float] | None:
    """The tree with all pieces of a kind nearer to the stem, and the length [mm] that is left of their shortest sprue.

    None where saw or mould leave no room for `STEP_MM`.
    """
    left = min(length_mm(cast, fed) for fed in mine)
    by = STEP_MM * math.floor((left + FLATS_MM - library.rule("sprue_shortest_mm")) / STEP_MM)
    while by >= STEP_MM:
        moved = {fed.number: by * _inward(fed) for fed in mine}
        if _is_clear(cast, mine, moved=moved, library=library):
            changed = _moved(cast, mine, moved=moved)
            return None if changed is None else (changed, left - by)
        by -= STEP_MM
    return None


def length_mm(cast: Cast, fed: Fed) -> float:
    """The free length of a sprue along its axis, from the stem's round face to the piece; far below zero for one on its end."""
    low, high = dict(cast.bodies)["stem"].bounds
    begin, end = np.array(fed.from_mm), np.array(fed.to_mm)
    way = -_inward(fed)
    lean = float(np.hypot(way[0], way[1]))
    within = float(high[0] - low[0]) / 2 - float(np.hypot(begin[0], begin[1]))
    return float(np.linalg.norm(end - begin)) - within / max(lean, UPRIGHT)


def _inward(fed: Fed) -> Floats:
    """Along a sprue towards the stem, (3,) of length 1."""
    way = np.array(fed.from_mm) - np.array(fed.to_mm)
    out: Floats = way / np.linalg.norm(way)
    return out


def _shifted(mesh: Mesh, by: Floats) -> Mesh:
    return Mesh(mesh.vertices + by, mesh.faces)


def _piece(cast: Cast, number: int) -> tuple[str, Mesh]:
    """The name and the body of a piece."""
    return next((name, mesh) for name, mesh in cast.bodies if f"{name} ".startswith(f"piece {number} "))


def _is_clear(cast: Cast, mine: Sequence[Fed], *, moved: Mapping[int, Floats], library: Library) -> bool:
    """Do the moved pieces keep their distances from one another, from the rest, from stem, button and the sprues of others."""
    bodies = dict(cast.bodies)
    there = {fed.number: _piece(cast, fed.number)[1] for fed in cast.fed}
    there |= {number: _shifted(there[number], by) for number, by in moved.items()}
    apart = library.rule("piece_gap_mm")
    for a, b in combinations(there, 2):
        if (a in moved or b in moved) and gap_mm(there[a], there[b], search_mm=apart) < apart:
            return False
    floor = float(bodies["button"].bounds[1][2]) + library.rule("base_gap_mm")
    limits = {"stem": library.rule("stem_gap_mm")}
    limits |= {f"sprue {fed.number}": library.rule("sprue_gap_mm") for fed in cast.fed}
    for fed in mine:
        others = {name: limit for name, limit in limits.items() if name != f"sprue {fed.number}"}
        if there[fed.number].bounds[0][2] < floor or any(
            gap_mm(there[fed.number], bodies[name], search_mm=limit) < limit for name, limit in others.items()
        ):
            return False
    return True


def _moved(cast: Cast, mine: Sequence[Fed], *, moved: Mapping[int, Floats]) -> Cast | None:
    """The tree without the pieces of a kind, and with them again, nearer; None if they do not fall off with their sprues."""
    bodies = dict(cast.bodies)
    stem, metal = to_manifold(bodies["stem"]), to_manifold(cast.metal)
    for fed in mine:
        begin, end = np.array(fed.from_mm), np.array(fed.to_mm)
        metal = metal - (bar(begin, end, diameter_mm=WIDER * fed.gauge_mm) - stem)
    foot = float(bodies["button"].bounds[0][2])
    rest = min(metal.decompose(), key=lambda part: abs(part.bounding_box()[2] - foot))
    fallen = sum(_piece(cast, fed.number)[1].volume_mm3 + bodies[f"sprue {fed.number}"].volume_mm3 for fed in mine)
    if abs(cast.metal.volume_mm3 - rest.volume() - fallen) > SAME_VOLUME * fallen:
        return None
    fresh: dict[str, Mesh] = {}
    fed_now = {fed.number: fed for fed in cast.fed}
    for fed in mine:
        by = moved[fed.number]
        name, piece = _piece(cast, fed.number)
        end = np.array(fed.to_mm) + by
        sprue = to_manifold(rod(np.array(fed.from_mm), end, fed.gauge_mm))
        piece = _shifted(piece, by)
        fresh |= {name: piece, f"sprue {fed.number}": from_manifold(sprue - stem - to_manifold(piece))}
        rest = rest + to_manifold(piece) + sprue
        x, y, z = end.tolist()
        fed_now[fed.number] = replace(fed, to_mm=(x, y, z), transform=_on(fed, by))
    names = {name: fresh.get(name, mesh) for name, mesh in cast.bodies}
    return replace(cast, bodies=tuple(names.items()), metal=from_manifold(rest), fed=tuple(fed_now.values()))


def _on(fed: Fed, by: Floats) -> tuple[tuple[float, float, float, float], ...]:
    """The transform of a piece that was shifted."""
    return tuple((a, b, c, d + float(shift)) for (a, b, c, d), shift in zip(fed.transform, by, strict=True))
