"""An invented plan of an ordinary run, made of the real dataclasses."""

from datetime import datetime
from typing import Any

from pourwell.findings import Finding, Severity
from pourwell.materials.model import Alloy, Investment, PatternMaterial
from pourwell.materials.studio import Studio
from pourwell.plan import Leaned, Plan
from pourwell.request import PieceRequest, Request
from pourwell.steps.day.model import KilnLoad
from pourwell.steps.flask.model import ClockStep, Flask, Mix
from pourwell.steps.melt.model import Charge, Temperatures
from pourwell.steps.pattern.model import Pattern
from pourwell.steps.pour.model import Pour, Quench
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
    Alloy,
    id="sterling-925",
    name="Sterling silver 925",
    metal="silver",
    composition_percent={"Ag": 92.5, "Cu": 7.5},
    mould="gypsum",
    density_g_per_cm3=10.36,
    solidus_c=802,
    liquidus_c=896,
    latent_kj_per_kg=110,
    cp_solid_j_per_kg_k=280,
    cp_liquid_j_per_kg_k=310,
    liquid_density_g_per_cm3=9.1,
    surface_tension_n_per_m=0.9,
    flask_thin_c=540,
    flask_medium_c=500,
    flask_heavy_c=450,
    min_wall_mm=0.8,
    min_wire_mm=0.8,
    melt_loss_fraction=0.01,
    returns_limit_fraction=0.5,
    torch_signs=_words("bright and quick"),
    quench={"way": "water", "wait_64_mm_min": 10, "about": _words("not while the button is red")},
)
INVESTMENT: Investment = _own(
    Investment,
    id="gypsum-resin",
    name="Gypsum investment, printed-resin grade",
    binder="gypsum",
    for_patterns=("wax", "resin"),
    water_g_per_100_g={"value": 39, "low": 38, "high": 40, "unit": "g per 100 g", "source": "invented", "grade": "estimate"},
    powder_density_g_per_cm3=2.55,
    hemihydrate_fraction=0.28,
    water_c=22,
    gloss_off_min=11,
    still_min=60,
    set_small_h=1.5,
    set_large_h=2.5,
    stand_max_h=12,
    peak_c=732,
    metal_max_c=1100,
    conductivity_dry_w_per_m_k=0.4,
    cp_dry_j_per_kg_k=900,
    programme_wax="resin-732",
    programme_resin="resin-732",
)
RESIN: PatternMaterial = _own(PatternMaterial, id="resin", name="Printed resin", family="resin", density_g_per_cm3=1.12)

FINDINGS = (
    Finding(
        code="burnout-core-wet",
        severity=Severity.WARN,
        where="burnout, segment 2",
        says="The core may still be damp when segment 2 ends.",
        do="Add 30 min to the {t:250} hold, and start 30 min earlier.",
        measure="core dry about 22:13",
        limit="segment 2 ends 22:19",
        source="common practice, no source",
    ),
    Finding(
        code="tree-mixed",
        severity=Severity.WARN,
        where="tree",
        do="Keep the flask at {t:500}. If the heads show pits at the sprue, use {l:4.5}.",
        says="Signet heads are over twice as thick as the bands; one flask temperature serves both.",
        measure="{l:4.9} against {l:1.8}",
    ),
    Finding(
        code="charge-returns",
        severity=Severity.NOTE,
        where="charge",
        says="Returns are 40 % of the charge.",
        measure="40 %",
        limit="50 %",
        do="Use clean buttons only, nothing that was soldered.",
        source="bench-alloys-2004",
    ),
    Finding(
        code="bore-scaled",
        severity=Severity.NOTE,
        where="patterns C, D",
        says="Scale the patterns so that the finished bore comes out right.",
        do="Measure one bore after cutting off and write it on page {page:results}.",
    ),
    Finding(
        code="not-modelled",
        severity=Severity.NOTE,
        where="pour",
        says="Gas from the mould and from returns is not modelled.",
        do="Judge it by the results.",
    ),
)


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
    return Plan(
        request=Request(pieces=tuple(PieceRequest(file=k.file, count=k.count) for k in kinds), alloy=ALLOY.id),
        number=47,
        title=title,
        made_at=MADE_AT,
        library_digest="7c1f9e04",
        package_version="0.1.0",
        studio=studio,
        alloy=ALLOY,
        investment=INVESTMENT,
        pattern_material=RESIN,
        patterns=tuple(Pattern(piece=p, mesh=DUMMY_MESH, wall_mm=()) for p in pieces),
        tree=grown,
        weighed=None,
        tree_bodies=(),
        tree_cast=None,
        flask=flask,
        mix=_mix(),
        charge=charge(total, grown.volume_mm3 / 1000),
        temperatures=_temperatures(),
        programme=burn,
        segments=timed(burn, pour_at, studio),
        kiln_load=KilnLoad(runs=(47,), comes_out_at=pour_at, longer_for_turns_min=0, longer_for_hours_min=0),
        pour=_pour(),
        quench=_quench(),
        timeline=entries,
        findings=FINDINGS,
        leaned=LEANED,
        unknown=(),
        checklist=bench_lines(entries, pattern_g=grown.pattern_g, tree_g=grown.metal_g, charge_g=total, shapes=True),
    )


LEANED = (
    Leaned(what="net shrinkage of resin", value=0.012, unit="1", grade="estimate", source="own estimate"),
    Leaned(what="liquid density of Sterling silver 925", value=9.1, unit="g/cm3", grade="memory", source="invented-2001"),
    Leaned(what="melt loss by torch", value=0.01, unit="1", grade="estimate", source="own estimate"),
)


def charge(total: float, solid_cm3: float) -> Charge:
    returns = round(total * 0.4, 1)
    return Charge(
        total_g=total,
        low_g=total * 0.985,
        high_g=total * 1.02,
        fresh_g=total - returns,
        returns_g=returns,
        returns_limit_fraction=0.5,
        melt_loss_g=total * 0.01,
        crucible_cm3=None,
        liquid_cm3=solid_cm3 * 1.12,
        parts_g={},
        fine="",
        fine_g=0.0,
        master_g=0.0,
    )


def _mix() -> Mix:
    return Mix(
        id=INVESTMENT.id,
        name=INVESTMENT.name,
        powder_g=590.0,
        water_g=230.0,
        water_ml=230.5,
        ratio_g_per_100_g=39.0,
        ratio_from="library",
        slurry_cm3=461.0,
        bowl_cm3=1400.0,
        bowl_left_g=24.0,
        collar_mm=40.0,
        water_low_c=21.0,
        water_high_c=24.0,
        gloss_off_min=11.0,
        finish_min=9.0,
        still_min=60.0,
        set_h=2.0,
        stand_max_h=12.0,
        vacuum=True,
        boil_kpa=98.0,
        clock=(ClockStep(key="powder", at_s=0, until_s=30, says="Powder onto the water."),),
    )


def _temperatures() -> Temperatures:
    return Temperatures(
        metal_c=970.0,
        metal_low_c=960.0,
        metal_high_c=985.0,
        flask_c=500.0,
        flask_low_c=480.0,
        flask_high_c=520.0,
        liquidus_c=896.0,
        section_mm=1.9,
        section="medium",
        metal_from="library",
        flask_from="library",
        signs="bright, quick, no skin",
    )


def _pour() -> Pour:
    return Pour(
        transfer_s=20,
        vacuum_kpa=88.0,
        button_solid_s=105,
        button_solid_low_s=70,
        button_solid_high_s=150,
        entry_kpa=3.4,
        head_kpa=90.0,
    )


def _quench() -> Quench:
    return Quench(
        way="water",
        wait_min=12,
        low_min=10,
        high_min=15,
        cool_min=12,
        cool_low_min=10,
        cool_high_min=15,
        sign="no red on the button in shade",
        about="never while it glows",
    )
