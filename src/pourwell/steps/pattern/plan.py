"""The pattern step: from the bodies of a file to a measured piece, its predicted weights and finished bore."""

from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from pourwell.findings import Finding
from pourwell.geometry.bore import find_bore
from pourwell.geometry.bore_shape import bore_shape
from pourwell.geometry.crossing import doubled_mm3
from pourwell.geometry.edges import Places, thin_edge
from pourwell.geometry.features import features
from pourwell.geometry.hollows import Hollow
from pourwell.geometry.inscribed import largest_sphere
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.places import Fault, crossing_places
from pourwell.geometry.rays import Caster
from pourwell.geometry.recesses import within
from pourwell.geometry.thickness import MOST_FACES, per_triangle, sampled
from pourwell.geometry.thin import Thinnest, Walls, Webs, agreeing, by_both, samples_at, thinnest, thinnest_web
from pourwell.geometry.touching import Touch, Touching
from pourwell.geometry.tunnels import along_tunnels, webs
from pourwell.materials.library import Library
from pourwell.materials.model import Alloy, PatternMaterial
from pourwell.steps.pattern import feature_checks, hollow_checks, print_notice
from pourwell.steps.pattern.bodies import United, united
from pourwell.steps.pattern.bore_plan import MOST_OPEN_DEG, Making, bores_of
from pourwell.steps.pattern.checks import SMALL_MM, Facts, doubt_of, findings, units_suspect
from pourwell.steps.pattern.faults_told import CHORD_MM
from pourwell.steps.pattern.model import MM_PER_UNIT, Bore, Pattern, Piece, Point, Wall
from pourwell.steps.pattern.ranges import ends
from pourwell.steps.pattern.units_offered import SLACK_RATIO, Guess
from pourwell.units import cm3_from_mm3

EDGE_SHARE: Final = 0.9
"""An edge is told if it is thinner than this share of the thinnest wall: own choice, a tenth is seen."""

WEB_SHARE: Final = 0.98
"""A web is told for the wall if it is thinner than this share of it: own choice, facets make as much of one wall."""

RING_SHARE: Final = 0.5
"""A piece whose bore is at least this share of its second largest side looks like a ring, not like a pendant with its bail: own
choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PatternSource:
    """A pattern as read, and what the user wants of it."""

    name: str
    file: str
    count: int
    bodies: tuple[tuple[str, Mesh], ...]
    """Names and meshes [mm]."""
    units: str
    units_from: Literal["file", "user", "assumed"]
    own_units: str = ""
    """What the file itself says; empty if nothing."""
    remarks: tuple[str, ...] = ()
    """What the reader found odd."""
    step_mm: float = 0.0
    """By how much the file's numbers step at its farthest corner, where they are of single precision."""
    leave_out: tuple[str, ...] = ()
    wanted_mm: float | None = None
    """Inside diameter that the finished ring is to have."""
    sprue_at_mm: Point | None = None


def measure(
    source: PatternSource,
    *,
    piece_id: str,
    alloy: Alloy,
    pattern_material: PatternMaterial,
    library: Library,
    solid: United | None = None,
) -> tuple[Pattern, tuple[Finding, ...]]:
    """Measure a pattern, and tell what is to be known about it; its bodies need not be held if they are a `solid` already.

    Raises BadRequestError if a body to be left out is not there, or nothing is left to cast.
    """
    solid = solid or united(source.bodies, source.leave_out)
    mesh, rays = solid.mesh, Caster(solid.mesh)
    making = Making(alloy=alloy, material=pattern_material, library=library, wanted_mm=source.wanted_mm)
    beside = _beside(solid, source, rays, making=making)
    taken = _taken(mesh, rays, alloy=alloy, library=library)
    samples = taken.walls.rays
    (bores, behind), crossed = beside.holes.result(), beside.crossed.result()
    filled = hollow_checks.filled_mm3(solid.void_mm3, behind, library)
    piece = _piece(source, solid, filled, wall=taken.wall, bores=bores, piece_id=piece_id, making=making)
    small = max(piece.envelope_mm) < SMALL_MM
    looks = None if piece.doubt else _looked(piece, taken, behind, making=making)  # nothing of a wrong size, or of a skin
    thin, wall = _told(taken, looks, edges=not solid.unsound) if looks else (taken.thin, piece.wall)
    facts = Facts(
        piece=(piece := replace(piece, wall=wall)),
        solid=solid,
        samples=samples,
        thin=thin,
        guesses=_guesses(piece, source, ring_bore_mm(mesh, rays), library=library) if piece.doubt == "unit" or small else (),
        units_from=source.units_from,
        own_units=source.own_units,
        remarks=source.remarks,
        step_mm=source.step_mm,
        wanted_mm=source.wanted_mm,
        crossing_mm3=doubled_mm3(mesh, rays) if crossed or samples.crossing.any() else 0.0,
        crossed=crossed,
        hollows=behind,
        alloy=alloy,
        material=pattern_material,
        library=library,
    )
    pattern = Pattern(
        piece=piece,
        mesh=mesh,
        wall_mm=per_triangle(samples),
        ball_mm=looks.found.ball_mm if looks else None,
        gap_mm=looks.found.gap_mm if looks else None,
        gap_limit_mm=library.rule("gap_width_mm"),
        gap_open_mm=library.rule("recess_roll_mm"),
        thin_by="ball" if thin is not None and thin.told_by == "balls" else "wall",
        sprue_at_mm=source.sprue_at_mm,
        as_read=solid.as_read,
    )
    told = findings(facts)
    if looks is not None:
        told += feature_checks.findings(looks)
    told += tuple(print_notice.findings(piece, solid, material=pattern_material, library=library))
    return pattern, (*units_suspect(facts, told), *told)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Beside:
    """What other threads seek beside the walls: bores and hollows, and the places where a piece crosses itself."""

    holes: Future[tuple[tuple[Bore, ...], tuple[Hollow, ...]]]
    crossed: Future[tuple[Fault, ...]]


def _beside(solid: United, source: PatternSource, rays: Caster, *, making: Making) -> _Beside:
    """Begin to seek it. Of very many triangles it is sought first: all at once would take too much memory."""
    threads = ThreadPoolExecutor(2)
    crossed = threads.submit(crossing_places, solid.mesh)
    holes = threads.submit(lambda: (bores_of(solid.mesh, rays, making), _hollows(solid, source, making.library)))
    if len(solid.mesh.faces) > MOST_FACES:
        wait([holes])
        wait([crossed])
    threads.shutdown(wait=False)
    return _Beside(holes=holes, crossed=crossed)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Taken:
    """The walls of a mesh, taken by both methods, and what they were taken with."""

    rays: Caster
    touching: Touching
    inner: Touch
    walls: Walls
    thin: Thinnest
    thickest: tuple[Point, float]
    """The largest ball in it: its middle and its width [mm]."""
    wall: Wall


def _taken(mesh: Mesh, rays: Caster, *, alloy: Alloy, library: Library) -> _Taken:
    free, touching = sampled(mesh, rays), Touching(mesh)
    centre, radius = largest_sphere(mesh, free, rays, touching=touching)
    samples = free.at_most(2 * radius)
    inner = touching.balls(samples.points, samples.face)
    walls = by_both(samples, inner, touching)
    thin = _thin(rays, walls, alloy=alloy, library=library)
    thickest = (centre, 2 * radius)
    wall = _wall(thin, walls, thickest=thickest, alloy=alloy)
    return _Taken(rays=rays, touching=touching, inner=inner, walls=walls, thin=thin, thickest=thickest, wall=wall)


def _looked(piece: Piece, taken: _Taken, behind: tuple[Hollow, ...], *, making: Making) -> feature_checks.FeatureFacts:
    sought, rays = feature_checks.looked(making.alloy, making.library), taken.rays
    found = features(rays.mesh, taken.walls.rays, rays, looked=sought, touching=taken.touching, inner=taken.inner)
    shut = (*hollow_checks.sealed(behind, making.library), *hollow_checks.necked(behind, making.library))
    return feature_checks.FeatureFacts(
        piece=piece, found=found, alloy=making.alloy, material=making.material, library=making.library, told_hollows=shut
    )


def _wall(thin: Thinnest, walls: Walls, *, thickest: tuple[Point, float], alloy: Alloy) -> Wall:
    typical, area = walls.rays.typical_mm, float(walls.rays.area_mm2.sum())
    return Wall(
        thinnest_mm=min(thin.place.wall_mm, typical),
        thinnest_at_mm=thin.place.at_mm,
        typical_mm=typical,
        thickest_mm=thickest[1],
        thickest_at_mm=thickest[0],
        limit_mm=alloy.min_wall_mm.value,
        under_limit_fraction=min(thin.place.under_mm2 / area, 1.0),
        ray_mm=thin.rays.wall_mm,
        ray_at_mm=thin.rays.at_mm,
        ball_mm=thin.balls.wall_mm if thin.balls else None,
        ball_at_mm=thin.balls.at_mm if thin.balls else None,
        agree=thin.agree,
    )


def _thin(rays: Caster, walls: Walls, *, alloy: Alloy, library: Library) -> Thinnest:
    reach, patch = library.rule("thin_reach_mm"), library.rule("thin_patch_mm2")
    return thinnest(walls, rays, limit_mm=alloy.min_wall_mm.value - CHORD_MM, reach_mm=reach, patch_mm2=patch)


def _besides(taken: _Taken, looks: feature_checks.FeatureFacts) -> Thinnest | None:
    """The thinnest place but for what is told as thin wires or raised lines; None where that is all."""
    if taken.thin.place.wall_mm >= looks.alloy.min_wall_mm.value:
        return taken.thin
    keep = ~looks.explained(taken.walls.rays.points)
    if keep.all():
        return taken.thin
    return _thin(taken.rays, taken.walls.only(keep), alloy=looks.alloy, library=looks.library) if keep.any() else None


def _told(taken: _Taken, looks: feature_checks.FeatureFacts, *, edges: bool) -> tuple[Thinnest | None, Wall]:
    """The thinnest place that is told, and the wall with it and with its thinnest edge."""
    thin, wall, web = _besides(taken, looks), taken.wall, _web(taken, looks)
    if web is not None and (thin is None or web.place.wall_mm < WEB_SHARE * thin.place.wall_mm):
        thin, wall = web, _wall(web, taken.walls, thickest=taken.thickest, alloy=looks.alloy)
    return thin, _edged(wall, taken, looks) if edges else wall


def _web(taken: _Taken, looks: feature_checks.FeatureFacts) -> Thinnest | None:
    """The thinnest web beside a hole through the piece but for what is told as thin wires; None where all are thick enough."""
    limit, patch = looks.alloy.min_wall_mm.value - CHORD_MM, looks.library.rule("feature_patch_mm2")
    walls, samples, gap_mm = taken.walls, taken.walls.rays, looks.found.gap_mm
    thin = np.flatnonzero(_outside(taken.inner.stop, gap_mm) & (walls.balls.wall_mm < limit))
    thin = thin[np.isfinite(gap_mm[samples.face[thin]]) & ~looks.explained(samples.points[thin])]
    if samples.area_mm2[thin].sum() < patch:
        return None
    air = gap_mm[samples.face[thin]]
    ways = along_tunnels(taken.rays, samples.points[thin], -samples.inward[thin], ball_mm=air)
    drilled = ways.any(axis=1)
    holes, slits = thin[drilled], np.intersect1d(samples_at(samples, looks.slits.at_mm), thin[~drilled & walls.told[thin]])
    side = samples.points[holes], -samples.inward[holes]
    at, through, ball, behind = webs(taken.rays, taken.touching, side, ways=ways[drilled], ball_mm=air[drilled])
    both = agreeing(through, ball) & _outside(behind, gap_mm)  # else a ball in a corner, or another hole
    found = Webs(
        sample=np.append(holes[both], slits),
        at_mm=np.vstack((at[both], samples.points[slits])),
        rays_mm=np.append(through[both], samples.wall_mm[slits]),
        balls_mm=np.append(ball[both], walls.balls.wall_mm[slits]),
    )
    return thinnest_web(samples, found, limit_mm=limit, patch_mm2=patch)


def _outside(face: Ints, gap_mm: Floats) -> NDArray[np.bool_]:
    """Which faces, (k,), lie in the open: not in another hole. -1 is none."""
    return (face >= 0) & np.isinf(gap_mm[face])


def _edged(wall: Wall, taken: _Taken, looks: feature_checks.FeatureFacts) -> Wall:
    """The wall with its thinnest edge, raised lines left out."""
    rays, balls, below = taken.walls.rays, taken.walls.balls, EDGE_SHARE * wall.thinnest_mm
    lines = looks.lettered
    keep = (balls.wall_mm < wall.thinnest_mm) & ~within(rays.points, lines.at_mm, lines.reach_mm)
    part, ball = rays.only(keep), balls.wall_mm[keep]
    places = Places(points=part.points, inward=part.inward, area_mm2=part.area_mm2, face=part.face, ball_mm=ball)
    length = looks.library.rule("edge_length_mm")
    found = thin_edge(taken.rays.mesh, taken.rays, places, below_mm=below, length_mm=length)
    return wall if found is None else replace(wall, edge_mm=found.width_mm, edge_length_mm=found.length_mm, edge_at_mm=found.at_mm)


def _hollows(solid: United, source: PatternSource, library: Library) -> tuple[Hollow, ...]:
    """The hollows behind narrow necks; not looked for where the surface encloses nothing or its unit is in doubt, which is told."""
    if solid.unsound or doubt_of(solid.mesh.envelope_mm, solid, units_from=source.units_from, library=library):
        return ()
    return hollow_checks.looked_for(solid.mesh, library)


def _piece(
    source: PatternSource,
    solid: United,
    filled: tuple[float, float],
    *,
    wall: Wall,
    bores: tuple[Bore, ...],
    piece_id: str,
    making: Making,
) -> Piece:
    """The piece with its weights.

    The metal is the pattern's own volume at the alloy's density, as the trade reckons from the scale, and what fills hollows that
    no investment gets into; at the low end it has shrunk and they stay empty, at the high end doubtful hollows have run full too.
    """
    mesh, material, alloy, library = solid.mesh, making.material, making.alloy, making.library
    volume = mesh.volume_mm3
    shrink = ends(material.net_shrinkage_fraction or library.rules["net_shrinkage_fraction"])[1]
    pattern_low, pattern_high = ends(material.density_g_per_cm3)
    metal_low, metal_high = ends(alloy.density_g_per_cm3)
    loss_low, loss_high = ends(library.rules["finishing_loss_fraction"])
    least = cm3_from_mm3(volume * (1 - shrink) ** 3) * metal_low
    most = cm3_from_mm3(volume + filled[1]) * metal_high
    return Piece(
        id=piece_id,
        name=source.name,
        file=source.file,
        count=source.count,
        units=source.units,
        triangle_count=solid.triangle_count,
        bodies=solid.bodies,
        overlap_mm3=solid.overlap_mm3,
        volume_mm3=volume,
        area_mm2=mesh.area_mm2,
        envelope_mm=mesh.envelope_mm,
        wall=wall,
        bore=bores[0] if bores else None,
        other_bores=bores[1:],
        pattern_g=cm3_from_mm3(volume) * material.density_g_per_cm3.value,
        pattern_low_g=cm3_from_mm3(volume) * pattern_low,
        pattern_high_g=cm3_from_mm3(volume) * pattern_high,
        metal_g=cm3_from_mm3(volume + filled[0]) * alloy.density_g_per_cm3.value,
        metal_low_g=least,
        metal_high_g=most,
        finished_low_g=least * (1 - loss_high),
        finished_high_g=most * (1 - loss_low),
        doubt=doubt_of(mesh.envelope_mm, solid, units_from=source.units_from, library=library),
    )


def ring_bore_mm(mesh: Mesh, rays: Caster) -> float | None:
    """The bore of what looks like a ring, of any size [mm]: a band round a hole as wide as most of its own width; else None."""
    bore = find_bore(mesh, rays)
    if bore is None or bore.diameter_mm < RING_SHARE * sorted(mesh.envelope_mm)[1]:
        return None
    shape = bore_shape(rays, bore)
    return bore.diameter_mm if shape is not None and shape.open_deg <= MOST_OPEN_DEG else None


def _guesses(piece: Piece, source: PatternSource, bore_mm: float | None, *, library: Library) -> tuple[Guess, ...]:
    """The units in which the file's numbers would be as large as jewellery, or nearly, with what size and bore each gives."""
    low, high = ends(library.rules["jewellery_side_mm"])
    narrow, wide = ends(library.rules["finger_bore_mm"])
    x, y, z = piece.envelope_mm
    out = []
    for unit, mm in MM_PER_UNIT.items():
        factor = mm / MM_PER_UNIT[source.units]
        if unit != source.units and low / SLACK_RATIO <= max(x, y, z) * factor <= high * SLACK_RATIO:
            bore = None if bore_mm is None else bore_mm * factor
            worn = bore is None or narrow <= bore <= wide
            out.append(Guess(unit=unit, size_mm=(x * factor, y * factor, z * factor), bore_mm=bore, wearable=worn))
    return tuple(sorted(out, key=lambda guess: guess.unit != "inch"))
