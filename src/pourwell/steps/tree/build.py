"""A layout made solid: pieces, sprues, stem and button as bodies, their volumes, distances and outlines."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import manifold3d
import numpy as np
from scipy.spatial import ConvexHull

from pourwell.geometry.gap import gap_mm
from pourwell.geometry.joints import area_true_radius_mm, bar, cap_height_mm, dome
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.packing import after, back, moved
from pourwell.geometry.silhouette import area_mm2, silhouette
from pourwell.geometry.solidity import from_manifold
from pourwell.steps.tree.arrange import Hung as HungPiece
from pourwell.steps.tree.arrange import Layout, Search
from pourwell.steps.tree.attach import point_of
from pourwell.steps.tree.gauge import round_mm2
from pourwell.steps.tree.hang import Hanger, Pairing, Style, hung
from pourwell.steps.tree.model import Outline, Place, Polygon, Sprue, Transform
from pourwell.steps.tree.probe import foot_drop_mm

OVERLAP_MM: Final = 0.15
"""A sprue goes so far on into stem and piece that no gap is left at its rim; what lies inside either is taken off again."""

OVERSTATED_MM: Final = 0.7
"""Samples overstate the gap between two pieces by less than this, the spacing of the coarser ones: nearer pairs are measured."""

DRAWN_MM: Final = 0.03
"""Pieces are simplified by so much before their outlines are taken, which are drawn with lines of 0.12 mm. Own choice."""

SPECK_MM2: Final = 0.5
"""Holes and islands of an outline that are smaller than this are left out: a pencil's dot. Own choice."""

STEM_SIDES: Final = 96
"""Sides of the stem in the plans. Own choice."""

DIGITS: Final = 3
"""Outlines are kept to a thousandth of a millimetre."""

ELEVATION: Final = ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
PLAN: Final = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
"""Right and up on the sheet: seen along +y, and from the tip down. Definition."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """One placed piece with its sprue."""

    hung: HungPiece
    transform: Floats
    """(3, 4) from the pattern's frame to the tree's."""
    bar: manifold3d.Manifold
    """Its sprue as a whole bar, with ends inside stem and piece."""
    sprue: manifold3d.Manifold
    """Without what lies inside stem, button or piece."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solids:
    """A tree as bodies."""

    bodies: tuple[Body, ...]
    stem: manifold3d.Manifold
    """Without what lies inside the button."""
    button: manifold3d.Manifold
    rod: manifold3d.Manifold
    """The stem with its end inside the button."""


def solids(layout: Layout, search: Search) -> Solids:
    """Make the bodies of a layout."""
    room = search.room
    button = dome(diameter_mm=room.dome_diameter_mm, height_mm=room.dome_height_mm, foot_mm=room.base_depth_mm)
    edge = area_true_radius_mm(layout.stem_mm / 2)
    sunk = cap_height_mm(room.dome_diameter_mm, room.dome_height_mm, away_mm=edge) / 2
    whole = bar((0, 0, room.base_depth_mm + sunk), (0, 0, layout.stem_top_mm), diameter_mm=layout.stem_mm)
    made: dict[tuple[int, Style], tuple[manifold3d.Manifold, manifold3d.Manifold]] = {}
    bodies = []
    for piece in layout.pieces:
        hanger = search.hangers[piece.kind]
        key = (piece.kind, piece.style)
        if key not in made:
            made[key] = _sprue(hanger, piece.style, stem_radius_mm=layout.stem_mm / 2)
        placed = hung(piece.style, piece.azimuth_deg, piece.height_mm)
        uncut, tip = (part.transform(placed) for part in made[key])
        bodies.append(Body(hung=piece, transform=after(placed, hanger.frame), bar=uncut, sprue=tip - whole - button))
    return Solids(bodies=tuple(bodies), stem=whole - button, button=button, rod=whole)


def _sprue(hanger: Hanger, style: Style, *, stem_radius_mm: float) -> tuple[manifold3d.Manifold, manifold3d.Manifold]:
    """A sprue in its hanger's frame, from inside the stem: into the piece, and only to its surface."""
    start, end = _reach(hanger, style, stem_radius_mm=stem_radius_mm)
    whole = bar((start, 0, 0), (end, 0, 0), diameter_mm=hanger.gauge_mm)
    return whole, whole - hanger.ready.solid.transform(hanger.frame)


def _reach(hanger: Hanger, style: Style, *, stem_radius_mm: float) -> tuple[float, float]:
    """From where to where a sprue's body goes along its axis, from the foot at 0 [mm]: its ends lie inside stem and piece."""
    half = hanger.gauge_mm / 2
    drop = foot_drop_mm(hanger.ready, hanger.sited.attachment, radius_mm=half)
    if style.start_mm == 0:
        return -style.length_mm - OVERLAP_MM, drop + OVERLAP_MM
    tilt = np.radians(style.tilt_deg)
    chord = np.sqrt(max(stem_radius_mm**2 - half**2, 0.0))
    inner = max(float(chord - half * np.sin(tilt)) - OVERLAP_MM, 0.0)
    return -style.length_mm - (style.start_mm - inner) / float(np.cos(tilt)), drop + OVERLAP_MM


class Exact:
    """Distances between placed pieces, exact between triangles and remembered: many pairs on a tree stand alike."""

    def __init__(self, search: Search) -> None:
        self.search = search
        self.known: dict[Pairing, float] = {}

    def nearest_pair_mm(self, pieces: Sequence[HungPiece]) -> float | None:
        """The smallest distance between two pieces; None if there are not two."""
        pairs = [(self._about_mm(a, b), k, (a, b)) for k, (a, b) in enumerate(combinations(pieces, 2))]
        best = np.inf if pairs else None
        for about, _, (a, b) in sorted(pairs, key=lambda pair: pair[:2]):
            assert best is not None
            if about - OVERSTATED_MM >= best:
                break
            best = min(best, self.gap_mm(a, b, search_mm=min(best, 2 * self.search.room.height_mm)))
        return best

    def _about_mm(self, a: HungPiece, b: HungPiece) -> float:
        """A little more than the gap, as the samples have it, up to their reach."""
        return self.search.near(a, b).pieces_mm

    def gap_mm(self, a: HungPiece, b: HungPiece, *, search_mm: float) -> float:
        """The gap between two pieces, infinity if it is more than `search_mm`."""
        here = hung(a.style), hung(b.style, b.azimuth_deg - a.azimuth_deg, b.height_mm - a.height_mm)
        key = self.search.key(a, b)
        if key in self.known:
            return self.known[key]
        first, second = self.search.hangers[a.kind], self.search.hangers[b.kind]
        there = after(back(after(here[0], first.frame)), after(here[1], second.frame))
        found = gap_mm(first.ready.mesh, second.ready.mesh.moved(there), search_mm=search_mm)
        if np.isfinite(found):
            self.known[key] = found
        return found


def farthest(body: Body, hanger: Hanger) -> Floats:
    """The point of a piece that is farthest from the flask's axis, (3,) [mm]."""
    points = moved(hanger.ready.mesh.vertices, body.transform)
    point: Floats = points[int(np.argmax(np.hypot(points[:, 0], points[:, 1])))]
    return point


def drawn(hanger: Hanger) -> Mesh:
    """A piece simplified for its outlines."""
    return from_manifold(hanger.ready.solid.simplify(DRAWN_MM))


def place(body: Body, hanger: Hanger, *, number: int, drawing: Mesh) -> Place:
    """The place of a piece as it is planned and drawn."""
    piece, pattern = body.hung, hanger.ready.pattern.piece
    centre = pattern.bore.centre_mm if pattern.bore else (np.add(*hanger.ready.mesh.bounds) / 2).tolist()
    at = moved(np.array([centre]), body.transform)[0]
    placed = drawing.moved(body.transform)
    corners = from_manifold(body.sprue).vertices
    start, _ = _reach(hanger, piece.style, stem_radius_mm=piece.style.start_mm)
    begin, end = moved(np.array([[start, 0, 0], [0, 0, 0]]), hung(piece.style, piece.azimuth_deg, piece.height_mm))
    sprue = Sprue(
        gauge_mm=hanger.gauge_mm,
        length_mm=piece.style.length_mm,
        area_ratio=round_mm2(hanger.gauge_mm) / hanger.sited.attachment.section_mm2,
        modulus_mm=hanger.gauge_mm / 4,
        from_mm=point_of(begin),
        to_mm=point_of(end),
        attachment=hanger.sited.attachment,
        volume_mm3=body.sprue.volume(),
    )
    return Place(
        number=number,
        piece=pattern.id,
        tier=piece.tier,
        azimuth_deg=piece.azimuth_deg,
        height_mm=piece.height_mm,
        tilt_deg=piece.style.tilt_deg,
        transform=_rows(body.transform),
        sprue=sprue,
        centre_mm=point_of(at),
        depth_mm=float(at[1]),
        elevation=_outline(placed, ELEVATION),
        plan=_outline(placed, PLAN),
        sprue_elevation=_hull(corners @ np.array(ELEVATION).T),
        sprue_plan=_beside_stem(corners @ np.array(PLAN).T, stem_radius_mm=piece.style.start_mm),
    )


def _rows(transform: Floats) -> Transform:
    a, b, c = (tuple(row) for row in transform.tolist())
    return a, b, c


def _outline(mesh: Mesh, axes: tuple[tuple[float, ...], ...]) -> Outline:
    """The silhouette of a placed piece, without specks too small to be drawn."""
    loops = silhouette(mesh, axes)
    return Outline(polygons=tuple(_polygon(loop) for loop in loops if loop is loops[0] or abs(area_mm2(loop)) >= SPECK_MM2))


def _beside_stem(points: Floats, *, stem_radius_mm: float) -> Polygon:
    """The outline of a sprue as far as it lies beside the stem, seen along the stem."""
    outline = manifold3d.CrossSection([points[ConvexHull(points).vertices]])
    if stem_radius_mm > 0:
        outline = outline - manifold3d.CrossSection.circle(stem_radius_mm, STEM_SIDES)
    return _polygon(max((np.asarray(loop) for loop in outline.to_polygons()), key=area_mm2))


def _hull(points: Floats) -> Polygon:
    """The outline of a sprue: the hull of its corners."""
    return _polygon(points[ConvexHull(points).vertices])


def _polygon(loop: Floats) -> Polygon:
    return tuple((x, y) for x, y in np.round(loop, DIGITS).tolist())


NEAR_MM: Final = 1e-3
"""Corners of the cast tree nearer than this are made one, so that single precision in a file keeps it closed."""


def cast(solid: Solids, search: Search) -> Mesh:
    """All metal of the tree as one closed solid: pieces, whole sprues and stem with their ends in what they join, and button."""
    pieces = [search.hangers[b.hung.kind].ready.solid.transform(b.transform) for b in solid.bodies]
    parts = [*pieces, *(b.bar for b in solid.bodies), solid.rod, solid.button]
    return from_manifold(manifold3d.Manifold.batch_boolean(parts, manifold3d.OpType.Add).simplify(NEAR_MM))


def named(solid: Solids, search: Search) -> tuple[tuple[str, Mesh], ...]:
    """All bodies by name, for drawing programs."""
    out = []
    for number, body in enumerate(solid.bodies, start=1):
        hanger = search.hangers[body.hung.kind]
        out.append((f"piece {number} {hanger.ready.pattern.piece.id}", hanger.ready.mesh.moved(body.transform)))
        out.append((f"sprue {number}", from_manifold(body.sprue)))
    return (*out, ("stem", from_manifold(solid.stem)), ("button", from_manifold(solid.button)))
