"""Where a sprue meets a piece: on a ring outside at the back, else the least visible heavy section, or the user's own place."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.geometry.gap import nearest_point
from pourwell.geometry.mesh import Floats, Ints
from pourwell.geometry.section import smallest_section
from pourwell.materials.library import Library
from pourwell.steps.pattern.model import Bore, Point
from pourwell.steps.tree.faces import spread_of, words
from pourwell.steps.tree.gauge import fed_mm2, gauge_mm, gauges_mm
from pourwell.steps.tree.model import Attachment
from pourwell.steps.tree.probe import Ready, Spots, probe, recentred

TURN_STEP_DEG: Final = 5.0
MOST_TURN_DEG: Final = 40.0
"""On a ring with a head, so far from straight opposite it a place is looked for; on a band, all round. Own choice."""

SHIFTS: Final = (0.0, 0.2, -0.2, 0.3, -0.3)
"""Off mid width, in widths. Own choice."""

ACROSS_COUNT: Final = 121
"""Rays across a ring to find where the shank begins and ends. Own choice: 0.03 mm on a band of 4 mm."""

CELL_SHARE: Final = 0.04
"""Places on other pieces are tried in cells of this share of the piece's size. Own choice: a few hundred places."""

SHOWING: Final = 0.5
"""A face within 60 degrees of where the piece shows itself is a show face. Own definition."""

THIN_COST: Final = 0.5
BACK_COST: Final = 0.5
FOOT_COST: Final = 0.3
HIGH_COST: Final = 0.1
OFF_COST: Final = 0.4
SECTION_COST: Final = 0.5
"""What speaks against a place, each from 0 to 1 times: thinner than the heaviest, on the back and not on the rim, foot not
carried, above the bottom, off the middle of the piece's breadth, section smaller than elsewhere. Own weights, tried on the
sample pieces."""

RIVALS_COUNT: Final = 5
APART_SHARE: Final = 0.25
"""Of so many places, so far apart in shares of the piece's size, the section is compared. Own choice."""

ROUGHLY_MM: Final = 0.05
ROUGH_TURNS: Final = 9
"""For that comparison the piece is simplified by so much, and the plane turned in 20 degree steps. Own choice."""

LESS: Final = (1.0, 0.75, 0.5, 0.0)
"""If no place is heavy enough, the wish is lowered in these steps. Own choice."""

NEAR_RATIOS: Final = (1.6, 3.0)
"""A place belongs to a heavy section if it lies within so many radii of its middle: to the corner of a bar, by geometry; then to
the rim of a plate, where the way in is no thinner. Own choice."""

FAR_SHARE: Final = 0.25
"""A user's place farther from the piece than this share of its size belongs to another drawing or unit. Own choice: a place off the
surface by a ring's shank is still meant for it."""

FLATTENED_SHARE: Final = 0.6
"""A sprue of which less of the end finds surface than this is pressed flat to the edge that it stands on. Own choice."""

TRIED_COUNT: Final = 6
"""So many of the best places are tried for a heavy section. Own choice."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sited:
    """A place with its sprue.

    Attributes
    ----------
    attachment : as it is planned
    gauge_mm : of its sprue [mm]
    thickness_mm : of the piece there [mm]
    trouble : what is wrong with the place, as the end of a sentence, or empty
    """

    attachment: Attachment
    gauge_mm: float
    thickness_mm: float
    trouble: str = ""


def point_of(vector: Floats) -> Point:
    """A row of three as a plain tuple."""
    x, y, z = vector.tolist()
    return x, y, z


def site(piece: Ready, library: Library) -> Sited:
    """Choose the place for the sprue by the shape of the piece."""
    bore = piece.pattern.piece.bore
    spot, sound = _on_ring(piece, bore, library) if bore is not None else _on_piece(piece, library)
    trouble = "" if sound else "no even place that can be reached from outside was found; this is the best of a bad lot"
    return sited(piece, spot, library=library, trouble=trouble)


def site_of_user(piece: Ready, wanted: Point, *, ours: Sited, library: Library) -> Sited:
    """The user's own place, moved to the surface; ours where theirs is far off or out of reach, the reason in `trouble`."""
    at, face = nearest_point(piece.mesh, np.asarray(wanted, dtype=np.float64))
    away = float(np.linalg.norm(at - wanted))
    if away > FAR_SHARE * size_mm(piece):
        return replace(ours, trouble=f"it lies {{l:{away:.0f}}} from the piece, so it is not used")
    normal = piece.normals[face]
    thickness = float(piece.thickness_mm(at[None])[0])
    radius = foot_radii_mm(np.array([thickness]), library)
    spot = probe(piece, at[None], normal[None], radius_mm=radius)
    bore = piece.pattern.piece.bore
    inside = bore is not None and _looks_inward(bore, at, normal)
    if inside or spot.clear_mm[0] < library.rule("sprue_longest_mm"):
        why = "it lies in the bore" if inside else "nothing can be brought to it straight from outside"
        return replace(ours, trouble=f"{why}, so it is not used")
    trouble = ""
    if thickness < library.rule("attach_thin_ratio") * ours.thickness_mm:
        trouble = (
            f"the piece is {{l:{thickness:.1f}}} thick there and {{l:{ours.thickness_mm:.1f}}} where the sprue would go by shape"
        )
    return sited(piece, spot, library=library, trouble=trouble, chosen_by="user")


def sites_near(piece: Ready, centre: Floats, *, radius_mm: float, library: Library) -> Iterator[Sited]:
    """Places on a heavy section whose largest ball is given, as little seen as may be, the nearest first.

    Parameters
    ----------
    centre : (3,) float array [mm]
    radius_mm : [mm]
    """
    balls, faces = piece.balls, piece.faces
    away = np.linalg.norm(balls.points - centre, axis=1)
    open_ = balls.normals @ faces.show < SHOWING
    if faces.bore is not None:
        open_ &= ~_look_inward(faces.bore, balls.points, balls.normals)
    least = 0.0
    for most in NEAR_RATIOS:
        chosen = np.flatnonzero(open_ & (away > least * radius_mm) & (away <= most * radius_mm))
        least = most
        if not len(chosen):
            continue
        chosen = one_a_cell(balls.points, chosen, CELL_SHARE / 2 * size_mm(piece))
        radii = foot_radii_mm(np.full(len(chosen), 2 * radius_mm), library)
        spots = probe(piece, balls.points[chosen], balls.normals[chosen], radius_mm=radii)
        cost = away[chosen] / radius_mm + FOOT_COST * (1 - spots.support)
        good = np.flatnonzero(well_standing(spots, library))
        for k in good[np.argsort(np.round(cost[good], 3), kind="stable")][:TRIED_COUNT].tolist():
            yield sited(piece, spots.one(k), library=library)


def sited(piece: Ready, spot: Spots, *, library: Library, trouble: str = "", chosen_by: str = "shape") -> Sited:
    """A single place with its section, and the gauge of its sprue."""
    at, normal = spot.points[0], spot.normals[0]
    part = smallest_section(piece.solid, at, normal)
    thickness = float(piece.thickness_mm(at[None])[0])
    fed = fed_mm2(part.area_mm2, thickness_mm=thickness, library=library)
    gauge = gauge_mm(fed, library)
    foot = probe(piece, at[None], normal[None], radius_mm=np.array([gauge / 2]))
    flattened = ", flattened to the edge" if foot.support[0] < FLATTENED_SHARE else ""
    attachment = Attachment(
        at_mm=point_of(at),
        normal=point_of(normal),
        words=words(piece.faces, at, normal) + flattened,
        section_mm2=fed,
        section_modulus_mm=part.modulus_mm,
        chosen_by=chosen_by,
    )
    return Sited(attachment=attachment, gauge_mm=gauge, thickness_mm=thickness, trouble=trouble)


def foot_radii_mm(thickness_mm: Floats, library: Library) -> Floats:
    """Radius of the foot that a sprue will about have where a piece is so thick, (k,) [mm]."""
    stock = gauges_mm(library)
    radii: Floats = np.clip(library.rule("sprue_thickness_ratio") * thickness_mm, stock[0], stock[-1]) / 2
    return radii


def well_standing(spots: Spots, library: Library) -> NDArray[np.bool_]:
    """Which places a sprue can stand on and be brought to."""
    return (
        (spots.support >= library.rule("attach_support_fraction"))
        & (spots.rough_mm <= library.rule("attach_rough_mm"))
        & (spots.clear_mm >= library.rule("sprue_longest_mm"))
    )


def _looks_inward(bore: Bore, at: Floats, normal: Floats) -> bool:
    """Does a face look at the bore's axis, from within twice the bore."""
    return bool(_look_inward(bore, at[None], normal[None])[0])


def _look_inward(bore: Bore, at: Floats, normals: Floats) -> NDArray[np.bool_]:
    """Which of (k, 3) faces look at the bore's axis, from within twice the bore."""
    axis = np.asarray(bore.axis)
    away = at - np.asarray(bore.centre_mm)
    away = away - np.outer(away @ axis, axis)
    far = np.linalg.norm(away, axis=1)
    inward: NDArray[np.bool_] = (far < bore.diameter_mm) & (np.einsum("ij,ij->i", normals, away) < -SHOWING * far)
    return inward


# ---- rings


def _on_ring(piece: Ready, bore: Bore, library: Library) -> tuple[Spots, bool]:
    """The place outside the shank that is nearest to straight opposite the head and even enough; and whether it is."""
    most = 180 if piece.faces.head is None else MOST_TURN_DEG
    fallback: list[Spots] = []
    for step in range(int(most / TURN_STEP_DEG) + 1):
        points, normals = round_ring(piece, bore, {step * TURN_STEP_DEG, -step * TURN_STEP_DEG})
        if not len(points):
            continue
        radii = foot_radii_mm(piece.thickness_mm(points), library)
        spots = probe(piece, points, normals, radius_mm=radii)
        good = np.flatnonzero(well_standing(spots, library))
        if len(good):
            return spots.one(int(good[0])), True
        fallback += [spots.one(k) for k in range(len(points))]
    if not fallback:
        return _on_piece(piece, library)
    return max(fallback, key=lambda spot: _poor(spot, library)), False


def _poor(spot: Spots, library: Library) -> float:
    """How good a single place is that is not good enough."""
    reached = min(float(spot.clear_mm[0]) / library.rule("sprue_longest_mm"), 1)
    return reached + float(spot.support[0] - spot.rough_mm[0])


def round_ring(piece: Ready, bore: Bore, turns_deg: set[float]) -> tuple[Floats, Floats]:
    """Places outside a ring, (k, 3) [mm], and their normals: so far round from opposite the head, at mid width and beside it."""
    axis, middle = np.asarray(bore.axis), np.asarray(bore.centre_mm)
    back, beside = -piece.faces.show, np.cross(axis, -piece.faces.show)
    far = float(np.linalg.norm(piece.faces.high - piece.faces.low))
    ends = (piece.mesh.vertices - middle) @ axis
    low, high = float(ends.min()), float(ends.max())
    levels = low + (np.arange(ACROSS_COUNT) + 0.5) * (high - low) / ACROSS_COUNT
    points, normals = [], []
    for turn in sorted(turns_deg):
        outward = np.cos(np.radians(turn)) * back + np.sin(np.radians(turn)) * beside
        distance, face = piece.rays.first(middle + levels[:, None] * axis + far * outward, -outward)
        width = _run((face >= 0) & (distance < far))
        if width is None:
            continue
        across = levels[[*width]]
        start = middle + far * outward + np.outer(across.mean() + np.array(SHIFTS) * np.ptp(across), axis)
        distance, face = piece.rays.first(start, -outward)
        met = np.isfinite(distance) & (distance < far)
        points.append(start[met] - distance[met, None] * outward)
        normals.append(piece.normals[face[met]])
    if not points:
        return np.zeros((0, 3)), np.zeros((0, 3))
    return np.concatenate(points), np.concatenate(normals)


def _run(met: NDArray[np.bool_]) -> tuple[int, int] | None:
    """First and last of the longest run of rays that meet something."""
    edges = np.diff(np.concatenate(([0], met.astype(np.int8), [0])))
    starts, ends = np.flatnonzero(edges > 0), np.flatnonzero(edges < 0)
    if not len(starts):
        return None
    longest = int(np.argmax(ends - starts))
    return int(starts[longest]), int(ends[longest] - 1)


# ---- other pieces


def _on_piece(piece: Ready, library: Library) -> tuple[Spots, bool]:
    """The least visible heavy place that is even enough and reachable; and whether there is one."""
    balls = piece.balls
    size = size_mm(piece)
    hidden = hidden_of(piece)
    found, sound = _best(piece, one_a_cell(balls.points, hidden, CELL_SHARE * size), library)
    near = hidden[np.linalg.norm(balls.points[hidden] - found.points[0], axis=1) < CELL_SHARE * size]
    if sound and len(near):
        found, sound = _best(piece, near, library)
    radii = foot_radii_mm(piece.thickness_mm(found.points), library)
    at, face = nearest_point(piece.mesh, recentred(piece, found, radius_mm=float(radii[0]))[0])
    moved = probe(piece, at[None], piece.normals[face][None], radius_mm=radii)
    return (moved, True) if well_standing(moved, library)[0] else (found, sound)


def _best(piece: Ready, chosen: Ints, library: Library) -> tuple[Spots, bool]:
    """The best of the places of some balls, and whether a sprue can stand on it and be brought to it."""
    spots, thickness = probed(piece, chosen, library)
    cost = cost_of(piece, spots, thickness)
    good = well_standing(spots, library)
    for less in LESS:
        heavy = thickness >= less * library.rule("attach_heavy_ratio") * piece.thickest_mm
        able = np.flatnonzero(good & heavy)
        if len(able):
            return spots.one(
                _with_most_section(piece, spots, ranked=able[np.argsort(np.round(cost[able], 3), kind="stable")], cost=cost)
            ), True
    return max((spots.one(k) for k in range(len(chosen))), key=lambda spot: _poor(spot, library)), False


def _with_most_section(piece: Ready, spots: Spots, *, ranked: Ints, cost: Floats) -> int:
    """Of places in order of their cost, the best when the sections at the best few are counted too."""
    apart = APART_SHARE * size_mm(piece)
    rivals: list[int] = []
    for k in ranked.tolist():
        if all(np.linalg.norm(spots.points[k] - spots.points[other]) > apart for other in rivals):
            rivals.append(k)
        if len(rivals) == RIVALS_COUNT:
            break
    if len(rivals) == 1:
        return rivals[0]
    rough = piece.solid.simplify(ROUGHLY_MM)
    under = spots.points - 2 * ROUGHLY_MM * spots.normals
    sections = [smallest_section(rough, under[k], spots.normals[k], turns_count=ROUGH_TURNS).area_mm2 for k in rivals]
    counted = [cost[k] + SECTION_COST * (1 - mm2 / max(sections)) for k, mm2 in zip(rivals, sections, strict=True)]
    return rivals[int(np.argmin(counted))]


def probed(piece: Ready, chosen: Ints, library: Library) -> tuple[Spots, Floats]:
    """The places of some balls, and the thickness at each, (k,) [mm]."""
    points = piece.balls.points[chosen]
    thickness = piece.thickness_mm(points)
    return probe(piece, points, piece.balls.normals[chosen], radius_mm=foot_radii_mm(thickness, library)), thickness


def hidden_of(piece: Ready) -> Ints:
    """Which samples of a piece lie on none of its show faces."""
    return np.flatnonzero(piece.balls.normals @ piece.faces.show < SHOWING)


def cost_of(piece: Ready, spots: Spots, thickness: Floats) -> Floats:
    """What speaks against each place, (k,)."""
    off, high = spread_of(piece.faces, spots.points)
    seen = np.where(spots.normals @ piece.faces.show < -SHOWING, 1.0, 0.0)
    cost: Floats = (
        THIN_COST * (1 - np.minimum(thickness / piece.thickest_mm, 1))
        + BACK_COST * seen
        + FOOT_COST * (1 - spots.support)
        + HIGH_COST * (1 + high) / 2
        + OFF_COST * np.abs(off)
    )
    return cost


def size_mm(piece: Ready) -> float:
    """Across the box of a piece, from corner to corner."""
    return float(np.linalg.norm(piece.faces.high - piece.faces.low))


def one_a_cell(points: Floats, chosen: Ints, cell_mm: float) -> Ints:
    """One of the chosen points in each cell."""
    cells = np.floor(points[chosen] / cell_mm).astype(np.int64)
    _, first = np.unique(cells, axis=0, return_index=True)
    return chosen[np.sort(first)]
