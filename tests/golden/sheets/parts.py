"""Invented plans, whole and consistent enough to be read: the sheet's own fixtures, made of the real dataclasses."""

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from pourwell.geometry.mesh import Mesh
from pourwell.materials.studio import Studio
from pourwell.plan import Plan
from pourwell.steps.burnout.model import Programme, Segment, TimedSegment
from pourwell.steps.day.clock import after
from pourwell.steps.day.model import Entry
from pourwell.steps.flask.model import Flask
from pourwell.steps.pattern.model import Body, Bore, Piece, Wall
from pourwell.steps.pattern.sizes import sizes
from pourwell.steps.tree.model import Attachment, Button, Clearances, Place, Sprue, Stem, Tier, Tree
from tests.golden.sheets.rings import Drawn, Hung, Ring, picture

STERLING_G_PER_MM3 = 10.36e-3
RESIN_G_PER_MM3 = 1.12e-3
WAX_G_PER_MM3 = 0.97e-3
ZONE = "Europe/Lisbon"
POUR_AT = datetime(2026, 12, 4, 10, 0, tzinfo=timezone(timedelta(0)))
MADE_AT = datetime(2026, 12, 2, 16, 40, tzinfo=UTC)
STEM_MM, STEM_FOOT_MM, BASE_MM = 8.0, 18.0, 8.0
FLASK_76 = Flask(
    id="76x100",
    mark="2",
    diameter_mm=76.0,
    height_mm=100.0,
    wall_mm=1.6,
    perforated=False,
    flange=False,
    volume_cm3=453.6,
    base_depth_mm=BASE_MM,
    dome_diameter_mm=28.0,
    dome_height_mm=12.0,
    socket_mm=STEM_MM,
    base_assumed=True,
    cover_mm=13.0,
    headspace_mm=3.0,
    usable_mm=76.0,
)


@dataclass(frozen=True)
class Kind:
    """A kind of piece before it is measured."""

    id: str
    name: str
    file: str
    count: int
    iso: float
    ring: Ring
    sprue_deg: float = 180.0
    words: str = "back of the shank"


@dataclass(frozen=True)
class Level:
    """A tier before it is built."""

    height_mm: float
    gauge_mm: float
    length_mm: float
    tilt_deg: float
    ratio: float
    pieces: tuple[tuple[str, float], ...]


def kind(letter: str, name: str, file: str, count: int, iso: float, shape: tuple[Any, ...], **more: Any) -> Kind:
    """A kind by its size; the pattern's bore is larger than the finished one by the net shrinkage."""
    thick, width, head = shape
    return Kind(letter, name, file, count, iso, Ring(iso / math.pi * 1.012, thick, width, head), **more)


SHOULDER = {"sprue_deg": 52.0, "words": "shoulder, beside the table"}
KINDS = (
    kind("A", "Band Heddle, 4 mm", "heddle-4-iso54.stl", 2, 54.0, (1.8, 4.0, None)),
    kind("B", "Band Heddle, 5 mm", "heddle-5-iso60.stl", 2, 60.0, (1.9, 5.0, None)),
    kind("C", "Signet Oriel", "oriel-iso58.3mf", 1, 58.0, (1.9, 3.6, (12.0, 3.3, 10.5)), **SHOULDER),
    kind("D", "Signet Tamber", "tamber-iso63.3mf", 1, 63.0, (2.1, 4.0, (13.5, 3.6, 11.0)), **SHOULDER),
)
LEVELS = (
    Level(27.0, 4.0, 7.0, 45.0, 0.92, (("D", 90.0), ("C", 270.0))),
    Level(56.0, 3.0, 6.0, 40.0, 0.98, (("A", 25.0), ("B", 115.0), ("A", 205.0), ("B", 295.0))),
)


# ---- pieces


def piece(of: Kind) -> Piece:
    ring, done = of.ring, of.iso / math.pi
    walls = [ring.wall(d) for d in range(0, 360, 4)]
    volume = ring.volume_mm3
    metal, pattern = volume * STERLING_G_PER_MM3, volume * RESIN_G_PER_MM3
    wanted: dict[str, Any] = {}
    if of.sprue_deg != 180.0:
        wanted = {"wanted_mm": done + 0.16, "scale_ratio": 1.008, "scale_low_ratio": 1.005, "scale_high_ratio": 1.011}
    bore = Bore(
        diameter_mm=ring.bore_mm,
        centre_mm=(0, 0, 0),
        axis=(0, 1, 0),
        sizes=sizes(ring.bore_mm),
        finished_mm=done,
        finished_low_mm=done - 0.06,
        finished_high_mm=done + 0.05,
        finished_sizes=sizes(done),
        finished_low_sizes=sizes(done - 0.06),
        finished_high_sizes=sizes(done + 0.05),
        **wanted,
    )
    return Piece(
        id=of.id,
        name=of.name,
        file=of.file,
        count=of.count,
        units="mm",
        triangle_count=20_000,
        bodies=(Body(name="body", volume_mm3=volume, kept=True),),
        overlap_mm3=0.0,
        volume_mm3=volume,
        area_mm2=700.0,
        envelope_mm=ring.envelope_mm,
        bore=bore,
        wall=Wall(
            thinnest_mm=min(walls),
            thinnest_at_mm=(0, 0, 0),
            typical_mm=sorted(walls)[len(walls) // 2],
            thickest_mm=max(walls),
            thickest_at_mm=(0, 0, 0),
            limit_mm=0.8,
            under_limit_fraction=0.0,
        ),
        pattern_g=pattern,
        pattern_low_g=pattern * 0.98,
        pattern_high_g=pattern * 1.03,
        metal_g=metal,
        metal_low_g=metal * 0.99,
        metal_high_g=metal * 1.01,
        finished_low_g=metal * 0.86,
        finished_high_g=metal * 0.95,
    )


DUMMY_MESH = Mesh([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], [[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])


def pictures(kinds: tuple[Kind, ...] = KINDS) -> dict[str, Drawn]:
    return {k.id: picture(k.ring, k.sprue_deg) for k in kinds}


def drawings(of: Plan) -> dict[str, Drawn]:
    """Pictures of a plan's patterns, of rings only: by bore, thickness and kind; a pendant has none."""
    out = {}
    for pattern in of.patterns:
        measured = pattern.piece
        if measured.bore is None:
            continue
        known = next((k for k in KINDS if k.ring.bore_mm == measured.bore.diameter_mm), None)
        ring = known.ring if known else Ring(measured.bore.diameter_mm, 1.8, 4.0)
        out[measured.id] = picture(ring, known.sprue_deg if known else 180.0)
    return out


# ---- tree


def tree(kinds: tuple[Kind, ...], levels: tuple[Level, ...], flask: Flask, pieces: tuple[Piece, ...]) -> Tree:
    by_id = {k.id: k for k in kinds}
    hung: list[tuple[Hung, Level, int, Kind]] = []
    for number, level in enumerate(levels, 1):
        for letter, azimuth in level.pieces:
            of = by_id[letter]
            where = (azimuth, level.height_mm, level.tilt_deg, level.length_mm, level.gauge_mm)
            hung.append((Hung(of.ring, of.sprue_deg, *where, STEM_MM), level, number, of))
    places = tuple(_place(i, *h) for i, h in enumerate(hung, 1))
    points = [(p, i) for i, (h, *_) in enumerate(hung, 1) for p in h.body()]
    far, number = max(points, key=lambda q: math.hypot(q[0][0], q[0][1]))
    stem_top = levels[-1].height_mm + 6
    top = max(stem_top, *(p[2] for p, _ in points))
    gaps = [math.dist(p, q) for p, i in points[::3] for q, j in points[::3] if i < j]
    clear = Clearances(
        pieces_mm=min(gaps) if gaps else None,
        pieces_limit_mm=3.0,
        wall_mm=flask.diameter_mm / 2 - math.hypot(far[0], far[1]),
        wall_limit_mm=6.0,
        wall_at_mm=far,
        wall_place=number,
        tip_mm=flask.height_mm - top,
        tip_limit_mm=13.0,
    )
    stem_mm3 = math.pi * STEM_MM**2 / 4 * (stem_top - STEM_FOOT_MM)
    button_mm3 = math.pi * 12.0 * (3 * 14.0**2 + 12.0**2) / 6
    sprues_mm3 = sum(q.sprue.volume_mm3 for q in places)
    count = {k.id: sum(q.piece == k.id for q in places) for k in kinds}
    pieces_g = sum(p.metal_g * count[p.id] for p in pieces)
    metal_g = pieces_g + (sprues_mm3 + stem_mm3 + button_mm3) * STERLING_G_PER_MM3
    return Tree(
        places=places,
        tiers=tuple(Tier(number=i, height_mm=v.height_mm) for i, v in enumerate(levels, 1)),
        stem=Stem(diameter_mm=STEM_MM, foot_mm=STEM_FOOT_MM, top_mm=stem_top, volume_mm3=stem_mm3),
        button=Button(diameter_mm=28.0, foot_mm=BASE_MM, height_mm=12.0, volume_mm3=button_mm3),
        clearance_mm=min(v for v in (clear.pieces_mm, clear.wall_mm, clear.tip_mm) if v is not None),
        clearances=clear,
        top_mm=top,
        usable_mm=flask.usable_mm,
        pieces_g=pieces_g,
        sprues_g=sprues_mm3 * STERLING_G_PER_MM3,
        stem_g=stem_mm3 * STERLING_G_PER_MM3,
        button_g=button_mm3 * STERLING_G_PER_MM3,
        metal_g=metal_g,
        volume_mm3=metal_g / STERLING_G_PER_MM3,
        pattern_g=sum(p.pattern_g * count[p.id] for p in pieces) + (sprues_mm3 + stem_mm3) * WAX_G_PER_MM3,
        yield_fraction=pieces_g / metal_g,
        proposals=(),
    )


def _place(number: int, hung: Hung, level: Level, tier: int, of: Kind) -> Place:
    elevation, sprue_elevation = hung.seen(lambda p: (p[0], p[2]))
    plan, sprue_plan = hung.seen(lambda p: (p[0], p[1]))
    gauge, length = level.gauge_mm, level.length_mm
    section = math.pi * gauge**2 / 4 / level.ratio
    return Place(
        number=number,
        piece=of.id,
        tier=tier,
        azimuth_deg=hung.azimuth_deg,
        height_mm=level.height_mm,
        tilt_deg=level.tilt_deg,
        transform=((1, 0, 0, 0), (0, 1, 0, 0), (0, 0, 1, 0)),
        sprue=Sprue(
            gauge_mm=gauge,
            length_mm=length,
            area_ratio=level.ratio,
            modulus_mm=gauge / 4,
            from_mm=(0, 0, 0),
            to_mm=(length, 0, 0),
            volume_mm3=math.pi * gauge**2 / 4 * length,
            attachment=Attachment(
                at_mm=(0, 0, 0), normal=(0, 0, 1), words=of.words, section_mm2=section, section_modulus_mm=0.6, chosen_by="shape"
            ),
        ),
        centre_mm=hung.centre,
        depth_mm=hung.centre[1],
        elevation=elevation,
        plan=plan,
        sprue_elevation=sprue_elevation,
        sprue_plan=sprue_plan,
    )


# ---- burnout and day

SEGMENTS = (
    (120.0, 150.0, 120, "drains and dries"),
    (90.0, 250.0, 30, "dries, passes the first swelling"),
    (90.0, 370.0, 120, "resin breaks down to char"),
    (150.0, 570.0, 15, "passes the second swelling"),
    (180.0, 732.0, 150, "char burns off; the mould turns white"),
    (-120.0, 600.0, 0, "cools with the door shut"),
    (-75.0, 500.0, 70, "the core comes to the flask temperature"),
)


def programme() -> Programme:
    segments, level = [], 20.0
    for number, (ramp, target, hold, why) in enumerate(SEGMENTS, 1):
        minutes = round(abs((target - level) / ramp) * 60)
        segments.append(Segment(number=number, ramp_c_per_h=ramp, target_c=target, hold_min=hold, ramp_min=minutes, why=why))
        level = target
    return Programme(
        id="resin-732",
        name="printed resin, slow, to 732 °C",
        grade="handbook",
        segments=tuple(segments),
        by_hand=(),
        total_min=sum(s.ramp_min + s.hold_min for s in segments),
        start_c=20.0,
        peak_c=732.0,
        ceiling_c=760.0,
        warn_c=740.0,
        stop_c=760.0,
        energy_kwh=14.2,
        energy_low_kwh=12.1,
        energy_high_kwh=16.8,
        core_dry_min=275.0,
        core_dry_early_min=247.0,
        core_dry_late_min=309.0,
        passes_400_min=495.0,
    )


def timed(of: Programme, pour_at: datetime, studio: Studio) -> tuple[TimedSegment, ...]:
    out, moment = [], after(pour_at, -of.total_min, zone=studio.zone)
    for s in of.segments:
        reached = after(moment, s.ramp_min, zone=studio.zone)
        ends = after(reached, s.hold_min, zone=studio.zone)
        words = {name: getattr(s, name) for name in ("number", "ramp_c_per_h", "target_c", "hold_min", "ramp_min", "why")}
        out.append(TimedSegment(**words, starts_at=moment, reached_at=reached, ends_at=ends))
        moment = ends
    return tuple(out)


def timeline(of: Programme, pour_at: datetime, studio: Studio) -> tuple[Entry, ...]:
    """Backward and forward from the pour, in minutes."""
    burn, gap = of.total_min, 45
    lines = (
        ("patterns", "Look over, cure, weigh the patterns", -burn - 278, -burn - 228, 15),
        ("tree", "Sprue, build and weigh the tree", -burn - 228, -burn - 178, 50),
        ("wrap", "Wrap, collar, weigh powder and water", -burn - 178, -burn - 163, 15),
        ("invest", "Mix, pour the slurry, clean up", -burn - 163, -burn - 138, 25),
        ("set", "Set; not touched for 60 min", -burn - 138, -burn - 15, 0),
        ("strip", "Base off, scrape, into the kiln", -burn - 15, -burn, 15),
        ("kiln", "Burnout", -burn, -gap, 0),
        ("setout", "Set out, weigh the charge", -gap, -15, 30),
        ("melt", "Melt", -15, 0, 15),
        ("pour", "Pour", 0, 2, 2),
        ("stand", "Stand", 2, 14, 0),
        ("quench", "Quench, knock out wet", 14, 39, 25),
        ("pickle", "Pickle", 39, 60, 0),
        ("cut", "Cut off, weigh, write results", 60, 90, 30),
    )
    return tuple(
        Entry(
            key=key,
            says=says,
            hands_on_min=hands,
            starts_at=after(pour_at, a, zone=studio.zone),
            ends_at=after(pour_at, b, zone=studio.zone),
        )
        for key, says, a, b, hands in lines
    )
