"""Invented plans for the golden sheets: an ordinary run, and the extremes that a sheet must bear."""

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from typing import Any

from pourwell.findings import Finding, Severity
from pourwell.materials.model import Alloy, Investment, PatternMaterial
from pourwell.materials.studio import Studio
from pourwell.plan import Leaned, Plan
from pourwell.request import PieceRequest, Request
from pourwell.steps.burnout.model import SetPoint
from pourwell.steps.flask.model import ClockStep, Flask, Mix
from pourwell.steps.melt.model import Charge, Temperatures
from pourwell.steps.pattern.model import Pattern
from pourwell.steps.pour.model import Pour, Quench
from pourwell.steps.tree.model import Outline, WeighedTree
from tests.golden.sheets.bench_lines import bench_lines
from tests.golden.sheets.parts import (
    DUMMY_MESH,
    FLASK_76,
    KINDS,
    LEVELS,
    MADE_AT,
    POUR_AT,
    ZONE,
    Kind,
    Level,
    kind,
    piece,
    programme,
    timed,
    timeline,
    tree,
)

STUDIO = Studio(
    name="Quillmere Studio",
    time_zone=ZONE,
    given=frozenset({"name", "time_zone", "casting", "casting.way", "kiln", "kiln.segments_count", "melting", "melting.way"}),
)


def _own(model: type[Any], **figures: Any) -> Any:
    """A row of the library as a studio's own file would give it: bare numbers."""
    return model.model_validate(figures, context={"own": True})


def _words(text: str) -> dict[str, str]:
    return {"text": text, "source": "invented", "grade": "estimate"}


ALLOY: Alloy = _own(
    Alloy, id="sterling-925", name="Sterling silver 925", metal="silver", composition_percent={"Ag": 92.5, "Cu": 7.5}, mould="gypsum",
    density_g_per_cm3=10.36, solidus_c=802, liquidus_c=896, latent_kj_per_kg=110, cp_solid_j_per_kg_k=280, cp_liquid_j_per_kg_k=310,
    liquid_density_g_per_cm3=9.1, surface_tension_n_per_m=0.9, flask_thin_c=540, flask_medium_c=500, flask_heavy_c=450, min_wall_mm=0.8,
    min_wire_mm=0.8, melt_loss_fraction=0.01, returns_limit_fraction=0.5, torch_signs=_words("bright and quick"),
    quench={"way": "water", "wait_64_mm_min": 10, "about": _words("not while the button is red")},
)  # fmt: skip
INVESTMENT: Investment = _own(
    Investment, id="gypsum-resin", name="Gypsum investment, printed-resin grade", binder="gypsum", for_patterns=("wax", "resin"),
    water_g_per_100_g={"value": 39, "low": 38, "high": 40, "unit": "g per 100 g", "source": "invented", "grade": "estimate"},
    powder_density_g_per_cm3=2.55, hemihydrate_fraction=0.28, water_c=22, gloss_off_min=11, still_min=60, set_small_h=1.5, set_large_h=2.5,
    stand_max_h=12, peak_c=732, metal_max_c=1100, conductivity_dry_w_per_m_k=0.4, cp_dry_j_per_kg_k=900, programme_wax="resin-732",
    programme_resin="resin-732",
)  # fmt: skip
RESIN: PatternMaterial = _own(PatternMaterial, id="resin", name="Printed resin", family="resin", density_g_per_cm3=1.12)

FINDINGS = (
    Finding(
        code="burnout-core-wet", severity=Severity.WARN, where="burnout, segment 2", says="The core may still be damp when segment 2 ends.",
        do="Add 30 min to the {t:250} hold, and start 30 min earlier.", measure="core dry about 22:13", limit="segment 2 ends 22:19",
        source="common practice, no source",
    ),
    Finding(
        code="tree-mixed", severity=Severity.WARN, where="tree", do="Keep the flask at {t:500}. If the heads show pits at the sprue, use {l:4.5}.",
        says="Signet heads are over twice as thick as the bands; one flask temperature serves both.", measure="{l:4.9} against {l:1.8}",
    ),
    Finding(
        code="charge-returns", severity=Severity.NOTE, where="charge", says="Returns are 40 % of the charge.", measure="40 %", limit="50 %",
        do="Use clean buttons only, nothing that was soldered.", source="bench-alloys-2004",
    ),
    Finding(
        code="bore-scaled", severity=Severity.NOTE, where="patterns C, D", says="Scale the patterns so that the finished bore comes out right.",
        do="Measure one bore after cutting off and write it on page {page:results}.",
    ),
    Finding(
        code="not-modelled", severity=Severity.NOTE, where="pour", says="Gas from the mould and from returns is not modelled.",
        do="Judge it by the results.",
    ),
)  # fmt: skip


def plan(
    kinds: tuple[Kind, ...] = KINDS,
    levels: tuple[Level, ...] = LEVELS,
    *,
    flask: Flask = FLASK_76,
    title: str = "Four bands, two signets",
    pour_at: datetime = POUR_AT,
    studio: Studio = STUDIO,
) -> Plan:
    """A run from patterns."""
    pieces = tuple(piece(k) for k in kinds)
    grown = tree(kinds, levels, flask, pieces)
    burn = programme()
    entries = timeline(burn, pour_at, studio)
    total = round(grown.metal_g * 1.01 + 0.5, 1)
    charge = _charge(total, grown.volume_mm3 / 1000)
    return Plan(
        request=Request(pieces=tuple(PieceRequest(file=k.file, count=k.count) for k in kinds), alloy=ALLOY.id), number=47, title=title,
        made_at=MADE_AT, library_digest="7c1f9e04", package_version="0.1.0", studio=studio, alloy=ALLOY, investment=INVESTMENT,
        pattern_material=RESIN, patterns=tuple(Pattern(piece=p, mesh=DUMMY_MESH, wall_mm=()) for p in pieces), tree=grown, weighed=None,
        tree_bodies=(), flask=flask, mix=_mix(), charge=charge, temperatures=_temperatures(), programme=burn,
        segments=timed(burn, pour_at, studio), pour=_pour(), quench=_quench(), timeline=entries, findings=FINDINGS, leaned=LEANED, unknown=(),
        checklist=bench_lines(entries, pattern_g=grown.pattern_g, tree_g=grown.metal_g, charge_g=total, shapes=True),
    )  # fmt: skip


LEANED = (
    Leaned(what="net shrinkage of resin", value=0.012, unit="1", grade="estimate", source="own estimate"),
    Leaned(what="liquid density of Sterling silver 925", value=9.1, unit="g/cm3", grade="memory", source="invented-2001"),
    Leaned(what="melt loss by torch", value=0.01, unit="1", grade="estimate", source="own estimate"),
)


def _charge(total: float, solid_cm3: float) -> Charge:
    returns = round(total * 0.4, 1)
    return Charge(
        total_g=total, low_g=total * 0.985, high_g=total * 1.02, fresh_g=total - returns, returns_g=returns, returns_limit_fraction=0.5,
        melt_loss_g=total * 0.01, crucible_cm3=None, liquid_cm3=solid_cm3 * 1.12, parts_g={}, fine="", fine_g=0.0, master_g=0.0,
    )  # fmt: skip


def _mix() -> Mix:
    return Mix(
        id=INVESTMENT.id, name=INVESTMENT.name, powder_g=590.0, water_g=230.0, water_ml=230.5, ratio_g_per_100_g=39.0, ratio_from="library",
        slurry_cm3=461.0, bowl_cm3=1400.0, bowl_left_g=24.0, collar_mm=40.0, water_low_c=21.0, water_high_c=24.0, gloss_off_min=11.0,
        finish_min=9.0, still_min=60.0, set_h=2.0, stand_max_h=12.0, vacuum=True, boil_kpa=98.0,
        clock=(ClockStep(key="powder", at_s=0, until_s=30, says="Powder onto the water."),),
    )  # fmt: skip


def _temperatures() -> Temperatures:
    return Temperatures(
        metal_c=970.0, metal_low_c=960.0, metal_high_c=985.0, flask_c=500.0, flask_low_c=480.0, flask_high_c=520.0, liquidus_c=896.0,
        section_mm=1.9, section="medium", metal_from="library", flask_from="library", signs="bright, quick, no skin",
    )  # fmt: skip


def _pour() -> Pour:
    return Pour(
        transfer_s=20, vacuum_kpa=88.0, button_solid_s=105, button_solid_low_s=70, button_solid_high_s=150, entry_kpa=3.4, head_kpa=90.0
    )


def _quench() -> Quench:
    return Quench(way="water", wait_min=12, low_min=10, high_min=15, sign="no red on the button in shade", about="never while it glows")


# ---- the extremes


def one() -> Plan:
    """A single band in a small flask."""
    flask = replace(FLASK_76, id="50x75", mark="", diameter_mm=50.0, height_mm=75.0, wall_mm=1.5, base_assumed=False)
    return plan((replace(KINDS[0], count=1),), (Level(32.0, 3.0, 7.0, 60.0, 0.98, (("A", 90.0),)),), flask=flask, title="One band")


def forty() -> Plan:
    """Forty bands of five sizes on five tiers."""
    shape = (1.8, 4.0, None)
    kinds = tuple(
        kind(c, f"Band Heddle, size {s}", f"heddle-{s}.stl", 8, float(s), shape) for c, s in zip("ABCDE", (48, 50, 52, 54, 56), strict=True)
    )
    levels = tuple(
        Level(28.0 + 22 * i, 3.0, 7.0, 45.0, 0.98, tuple((c, 45.0 * k + (22.5 if i % 2 else 0)) for k in range(8)))
        for i, c in enumerate("ABCDE")
    )
    flask = replace(FLASK_76, id="100x150", mark="7", diameter_mm=100.0, height_mm=150.0, wall_mm=2.0)
    return plan(kinds, levels, flask=flask, title="Forty bands, five sizes")


def long_names() -> Plan:
    """Names, files and a step that run over."""
    more = " with comfort-fit inside, hammered edge and two lines of hand lettering on the inner face, second revision"
    folder = "2026-11-commission-series/approved/"
    kinds = tuple(
        replace(k, name=k.name + more, file=folder + k.file.replace(".", "-with-comfort-fit-inside-second-revision.")) for k in KINDS
    )
    first = replace(kinds[3], words="shoulder, beside the table, on the flat that will be filed away after cutting off")
    title = (
        "Second trial casting of the wide and the narrow wedding bands with both signets for the spring commission, "
        "after the change of sprue"
    )
    made = plan((*kinds[:3], first), title=title, studio=STUDIO.model_copy(update={"name": "The Workshop at Lower Quillmere Mill, Upstairs"}))
    look = (
        "Look at every pattern under the lamp from all sides: clean, dry, no support stubs, no lifted layers, no print lines that a "
        "brush cannot reach later, nothing loose in the bore, and the lettering open right to its ground."
    )
    lines = tuple(replace(c, text=look) if c.text.startswith("Look at") else c for c in made.checklist)
    alloy = ALLOY.model_copy(update={"name": "Deoxidised sterling silver 925 with a little germanium and zinc, casting grain"})
    return replace(made, checklist=lines, alloy=alloy)


def scripts() -> Plan:
    """Scripts that the family covers: Greek, Cyrillic, Latin with many marks; and markup that is only a name."""
    names = ("Κρίκος Ανεμώνη 4 mm", "Кольцо «Журавль» 5 mm", "Nhẫn Hoa Sữa #1 *đẹp* $x_2$", 'Prsten "Křišťál" \\ @half [b] <c>')
    kinds = tuple(replace(k, name=n) for k, n in zip(KINDS, names, strict=True))
    return plan(kinds, title="Żółw, Đurđica & Őrség", studio=STUDIO.model_copy(update={"name": "Ateliér Křišťál Őrség"}))


def far_scripts() -> Plan:
    """Scripts that only the machine's own fonts may cover."""
    kinds = tuple(replace(k, name=n) for k, n in zip(KINDS, ("印台戒指 橡木", "خاتم الندى", "अंगूठी", "Band Heddle"), strict=True))
    return plan(kinds, title="二つの印台")


def stopped(count: int = 25, stops: int = 3) -> Plan:
    """Many findings, of which some stop the run."""
    heads = (
        Finding(
            code="tree-touch", severity=Severity.STOP, where="tree, tier 2", says="Piece 3 touches piece 6.", measure="overlap {l:0.4}",
            limit="{l:3} apart", do="Turn piece 6 to 310°, or move tier 2 up by {l:4}.",
        ),
        Finding(
            code="pattern-open", severity=Severity.STOP, where="pattern C",
            says="Pattern C is not closed: 14 open edges near the shoulder; its weight cannot be known.", do="Mend it in the drawing program.",
        ),
        Finding(
            code="pour-hot", severity=Severity.STOP, where="pour", says="Metal at {t:1060} into a flask at {t:500} is outside the band.",
            do="Set the metal to {t:970}. Too hot invites gas pits and a black skin.", measure="band {t:960} to {t:985}",
        ),
    )  # fmt: skip
    rest = [
        replace(FINDINGS[i % 5], says=f"{FINDINGS[i % 5].says[:-1]}, case {i}.", severity=Severity.WARN if i < count * 0.6 else Severity.NOTE)
        for i in range(stops, count)
    ]
    return replace(plan(), findings=(*heads[:stops], *rest))


def one_stop() -> Plan:
    """One stop, no other finding."""
    return replace(stopped(3, 3), findings=stopped(3, 3).findings[2:])


def three_days() -> Plan:
    """A day list longer than the front, and one finding with a very long advice."""
    made = plan()
    first = made.timeline[0].starts_at - timedelta(hours=31)
    more = tuple(
        replace(
            made.timeline[i % 4], key=f"more-{i}", says=f"{made.timeline[i % 4].says}, flask {2 + i // 4} of six, and note it",
            starts_at=first + timedelta(minutes=70 * i), ends_at=first + timedelta(minutes=70 * i + 45), hands_on_min=20,
        )
        for i in range(22)
    )  # fmt: skip
    long = replace(FINDINGS[0], do=" ".join([FINDINGS[0].do] * 14))
    return replace(made, timeline=(*more, *made.timeline), findings=(long, *FINDINGS[1:]))


def by_weight() -> Plan:
    """A tree on the scale and no file at all."""
    made = plan(title="Tree from the scale")
    weighed = WeighedTree(
        pattern_g=14.3, wax_g=4.1, body_g=136.5, button_g=42.8, metal_g=179.3, metal_low_g=172.9, metal_high_g=186.0, volume_mm3=17307.0
    )
    total = 181.6
    return replace(
        made,
        request=Request(weight_g=41.2, base_g=26.9, alloy=ALLOY.id),
        patterns=(),
        tree=None,
        weighed=weighed,
        charge=_charge(total, 17.3),
        timeline=made.timeline[2:],
        checklist=bench_lines(made.timeline, pattern_g=14.3, tree_g=179.3, charge_g=total, shapes=False),
        unknown=(
            "the sections of the pieces: metal and flask temperature are those for medium sections",
            "clearances between pieces, to the wall and over the tip",
            "sprue diameters against the sections they feed",
            "walls too thin to fill",
            "finger sizes after casting",
        ),
        findings=FINDINGS[2:3],
    )


def hand_kiln(takes: int = 0) -> Plan:
    """A kiln without a controller, or one that takes fewer segments than the programme has."""
    kiln = STUDIO.kiln.model_copy(update={"segments_count": takes})
    made = plan(studio=STUDIO.model_copy(update={"kiln": kiln}))
    burn = made.programme
    points, minutes = [], 0
    for s in burn.segments:
        points.append(SetPoint(at_min=minutes, set_c=s.target_c, why=s.why))
        minutes += s.ramp_min + s.hold_min
    return replace(made, programme=replace(burn, by_hand=tuple(points[takes:]), core_dry_late_min=math.inf))


def clock_change() -> Plan:
    """A burnout over the night when the clocks go forward."""
    return plan(pour_at=datetime(2027, 3, 28, 10, 0, tzinfo=timezone(timedelta(hours=1))))


def pendant() -> Plan:
    """A free silhouette without a bore, in several parts, thin in places; and none of its pictures."""
    made = plan()
    star = tuple(
        ((9 + 2.5 * math.cos(math.radians(5 * a))) * math.sin(math.radians(a)), (9 + 2.5 * math.cos(math.radians(5 * a))) * math.cos(math.radians(a)))
        for a in range(0, 360, 4)
    )
    patterns = list(made.patterns)
    wall = replace(patterns[0].piece.wall, thinnest_mm=0.6, thickest_mm=2.2, under_limit_fraction=0.03)
    patterns[0] = replace(patterns[0], piece=replace(patterns[0].piece, name="Pendant Lune", file="lune.glb", bore=None, wall=wall))
    assert made.tree is not None
    places = tuple(
        replace(
            q,
            elevation=Outline(
                polygons=(
                    tuple((q.centre_mm[0] + x, q.centre_mm[2] + y) for x, y in star),
                    tuple((q.centre_mm[0] + x * 0.4, q.centre_mm[2] + y * 0.4) for x, y in star),
                    tuple((q.centre_mm[0] + x * 0.15, q.centre_mm[2] + y * 0.15) for x, y in star),
                )
            ),
        )
        if q.piece == "A"
        else q
        for q in made.tree.places
    )
    return replace(made, patterns=tuple(patterns), tree=replace(made.tree, places=places))


PLANS: dict[str, tuple[Callable[[], Plan], str, str]] = {
    "example": (plan, "a4", "metric"),
    "letter": (plan, "us-letter", "metric"),
    "imperial": (plan, "us-letter", "imperial"),
    "one": (one, "a4", "metric"),
    "forty": (forty, "a4", "metric"),
    "forty-imperial": (forty, "us-letter", "imperial"),
    "long-names": (long_names, "a4", "metric"),
    "scripts": (scripts, "a4", "metric"),
    "stopped": (stopped, "a4", "metric"),
    "stopped-letter": (stopped, "us-letter", "imperial"),
    "one-stop": (one_stop, "a4", "metric"),
    "no-findings": (lambda: replace(plan(), findings=()), "a4", "metric"),
    "three-days": (three_days, "us-letter", "metric"),
    "by-weight": (by_weight, "a4", "metric"),
    "hand-kiln": (hand_kiln, "a4", "metric"),
    "small-controller": (lambda: hand_kiln(4), "us-letter", "imperial"),
    "clock-change": (clock_change, "a4", "metric"),
    "pendant": (pendant, "a4", "metric"),
}
"""Name to plan, paper and display."""
