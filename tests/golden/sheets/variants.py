"""The extremes that a sheet must bear, each an invented plan."""

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta, timezone

from pourwell.findings import Finding, Severity
from pourwell.plan import Plan
from pourwell.request import Request
from pourwell.steps.burnout.model import SetPoint
from pourwell.steps.tree.model import Outline, WeighedTree
from tests.golden.sheets.bench_lines import bench_lines
from tests.golden.sheets.parts import FLASK_76, KINDS, POUR_AT, Level, kind
from tests.golden.sheets.plans import ALLOY, FINDINGS, STUDIO, charge, plan


def one() -> Plan:
    """A single band in a small flask."""
    flask = replace(FLASK_76, id="50x75", mark="", diameter_mm=50.0, height_mm=75.0, wall_mm=1.5, base_assumed=False)
    return plan((replace(KINDS[0], count=1),), (Level(32.0, 3.0, 7.0, 60.0, 0.98, (("A", 90.0),)),), flask=flask, title="One band")


def forty() -> Plan:
    """Forty bands of five sizes on five tiers."""
    shape = (1.8, 4.0, None)
    kinds = tuple(
        kind(c, f"Band Heddle, size {s}", f"heddle-{s}.stl", 8, float(s), shape)
        for c, s in zip("ABCDE", (48, 50, 52, 54, 56), strict=True)
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
        replace(k, name=k.name + more, file=folder + k.file.replace(".", "-with-comfort-fit-inside-second-revision."))
        for k in KINDS
    )
    first = replace(kinds[3], words="shoulder, beside the table, on the flat that will be filed away after cutting off")
    title = (
        "Second trial casting of the wide and the narrow wedding bands with both signets for the spring commission, "
        "after the change of sprue"
    )
    made = plan(
        (*kinds[:3], first),
        title=title,
        studio=STUDIO.model_copy(update={"name": "The Workshop at Lower Quillmere Mill, Upstairs"}),
    )
    look = (
        "Look at every pattern under the lamp from all sides: clean, dry, no support stubs, no lifted layers, no print lines that "
        "a brush cannot reach later, nothing loose in the bore, and the lettering open right to its ground."
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
            code="tree-touch",
            severity=Severity.STOP,
            where="tree, tier 2",
            says="Piece 3 touches piece 6.",
            measure="overlap {l:0.4}",
            limit="{l:3} apart",
            do="Turn piece 6 to 310°, or move tier 2 up by {l:4}.",
        ),
        Finding(
            code="pattern-open",
            severity=Severity.STOP,
            where="pattern C",
            says="Pattern C is not closed: 14 open edges near the shoulder; its weight cannot be known.",
            do="Mend it in the drawing program.",
        ),
        Finding(
            code="pour-hot",
            severity=Severity.STOP,
            where="pour",
            says="Metal at {t:1060} into a flask at {t:500} is outside the band.",
            do="Set the metal to {t:970}. Too hot invites gas pits and a black skin.",
            measure="band {t:960} to {t:985}",
        ),
    )
    rest = [
        replace(
            FINDINGS[i % 5],
            says=f"{FINDINGS[i % 5].says[:-1]}, case {i}.",
            severity=Severity.WARN if i < count * 0.6 else Severity.NOTE,
        )
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
            made.timeline[i % 4],
            key=f"more-{i}",
            says=f"{made.timeline[i % 4].says}, flask {2 + i // 4} of six, and note it",
            starts_at=first + timedelta(minutes=70 * i),
            ends_at=first + timedelta(minutes=70 * i + 45),
            hands_on_min=20,
        )
        for i in range(22)
    )
    long = replace(FINDINGS[0], do=" ".join([FINDINGS[0].do] * 14))
    return replace(made, timeline=(*more, *made.timeline), findings=(long, *FINDINGS[1:]))


def by_weight() -> Plan:
    """A tree on the scale and no file at all."""
    made = plan(title="Tree from the scale")
    weighed = WeighedTree(
        pattern_g=14.3,
        wax_g=4.1,
        mixed=False,
        body_g=136.5,
        button_g=42.8,
        metal_g=179.3,
        metal_low_g=172.9,
        metal_high_g=186.0,
        volume_mm3=17307.0,
    )
    total = 181.6
    return replace(
        made,
        request=Request(weight_g=41.2, base_g=26.9, alloy=ALLOY.id),
        patterns=(),
        tree=None,
        weighed=weighed,
        charge=charge(total, 17.3),
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
    points, minutes, level = [], 0, burn.start_c
    for s in burn.segments:
        steps = max(1, s.ramp_min // 30) if s.ramp_c_per_h > 0 else 1
        for i in range(steps):
            last = i == steps - 1
            set_c = s.target_c if last else float(round(level + (s.target_c - level) * (i + 1) / steps))
            if s.number > takes:
                at = minutes + s.ramp_min * i // steps
                points.append(SetPoint(at_min=at, set_c=set_c, why=s.why if last else "climb slowly"))
        minutes += s.ramp_min + s.hold_min
        level = s.target_c
    return replace(made, programme=replace(burn, by_hand=tuple(points), core_dry_late_min=math.inf))


def large_figures() -> Plan:
    """Every figure as wide as it can be: kilograms, four digits in Fahrenheit, hours of two digits."""
    made = plan(pour_at=POUR_AT - timedelta(hours=10, minutes=12), title="A heavy casting for a large flask")
    heat = replace(made.temperatures, flask_c=580.0, flask_low_c=560.0, flask_high_c=600.0, metal_c=1090.0, metal_high_c=1110.0)
    mix = replace(made.mix, powder_g=4888.0, water_g=1906.0, slurry_cm3=3820.0, bowl_cm3=11500.0)
    return replace(made, temperatures=heat, mix=mix, charge=charge(1888.8, 182.0))


def clock_change() -> Plan:
    """A burnout over the night when the clocks go forward."""
    return plan(pour_at=datetime(2027, 3, 28, 10, 0, tzinfo=timezone(timedelta(hours=1))))


def pendant() -> Plan:
    """A free silhouette without a bore, in several parts, thin in places; and none of its pictures."""
    made = plan()
    star = tuple(
        (
            (9 + 2.5 * math.cos(math.radians(5 * a))) * math.sin(math.radians(a)),
            (9 + 2.5 * math.cos(math.radians(5 * a))) * math.cos(math.radians(a)),
        )
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
    "large-figures": (large_figures, "a4", "metric"),
    "large-imperial": (large_figures, "a4", "imperial"),
    "pendant": (pendant, "a4", "metric"),
}
"""Name to plan, paper and display."""
