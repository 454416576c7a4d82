"""The loops between steps: the smallest flask, several runs, what is leaned on, the clock."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from pourwell.app.planning import Wishes, request_of, split_count
from pourwell.app.shop import Shop
from pourwell.assembly import Measured
from pourwell.errors import BadRequestError
from pourwell.findings import Severity
from pourwell.geometry.shapes import SHAPES
from pourwell.job import plan_runs, shares, usual_investment
from pourwell.materials.library import Library, load_library
from pourwell.materials.studio import Kiln, Studio
from pourwell.plan import Plan
from pourwell.request import Request
from pourwell.steps.pattern.plan import PatternSource, measure

LIBRARY = load_library()
NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
POUR = datetime(2027, 3, 4, 10, 0, tzinfo=UTC)
STUDIO = Studio(name="Quillmere Studio", time_zone="Europe/Lisbon", flasks=tuple(LIBRARY.flask(f) for f in ("64x64", "76x100")))


def measured(shape: str, *, count: int = 1, letter: str = "A", alloy: str = "sterling-925", **dimensions: float) -> Measured:
    """A piece of our own shapes."""
    mesh = SHAPES[shape].make(**dimensions)
    source = PatternSource(
        name=shape, file=f"{shape}.stl", count=count, bodies=((shape, mesh),), units="mm", units_from="file", own_units="mm"
    )
    return measure(source, piece_id=letter, alloy=LIBRARY.alloy(alloy), pattern_material=LIBRARY.pattern("resin"), library=LIBRARY)


def planned(*pieces: Measured, studio: Studio = STUDIO, library: Library = LIBRARY, **asked: object) -> tuple[Plan, ...]:
    """The plans of a job."""
    files = [{"file": p.piece.file, "count": p.piece.count} for p, _ in pieces]
    wanted = {"alloy": "sterling-925", "pour_at": POUR, **({"pieces": files} if files else {}), **asked}
    return plan_runs(Request(**wanted), pieces, studio=studio, library=library, now=NOW, tell=lambda _: None)  # type: ignore[arg-type]


BAND = measured("plain-band")


def test_the_smallest_flask_of_the_studio_that_takes_the_tree_is_taken() -> None:
    (one,) = planned(BAND)
    assert one.flask.id == "64x64"
    many = replace(BAND[0], piece=replace(BAND[0].piece, count=8))
    (eight,) = planned((many, ()))
    assert eight.flask.id == "76x100"


def test_a_flask_that_is_named_is_taken() -> None:
    assert planned(BAND, flask="89x102")[0].flask.id == "89x102"


def test_what_no_flask_takes_is_split_evenly_and_shares_the_kiln() -> None:
    many = replace(BAND[0], piece=replace(BAND[0].piece, count=8))
    plans = planned((many, ()), flask="64x64", studio=STUDIO.model_copy(update={"kiln": Kiln(flasks_count=1)}))
    assert len(plans) > 1
    for plan in plans:
        (crowded,) = (f for f in plan.findings if f.code == "kiln-crowded")
        assert (crowded.severity, crowded.measure, crowded.limit) == (Severity.STOP, f"{len(plans)} flasks", "1 flask")
    counts = [sum(p.piece.count for p in plan.patterns) for plan in plans]
    assert sum(counts) == 8
    assert max(counts) - min(counts) <= 1
    assert [p.number for p in plans] == list(range(1, len(plans) + 1))
    assert len({p.kiln_on_at for p in plans}) == 1
    for a, b in pairwise(plans):
        ends = next(e.ends_at for e in a.timeline if e.key == "quench")
        assert ends <= next(e.starts_at for e in b.timeline if e.key == "setout")
    assert len({plan.segments for plan in plans}) == 1, "one programme is typed for all"
    for plan in plans:
        assert plan.kiln_load.runs == tuple(p.number for p in plans)
        assert plan.kiln_load.comes_out_at == plan.pour_at
        assert plan.segments[-1].ends_at == plans[-1].pour_at
        assert plan.programme.total_min == sum(s.ramp_min + s.hold_min for s in plan.programme.segments)
        soak_min = plan.programme.soak_min
        assert soak_min >= 60
        held_min = (plan.pour_at - plan.segments[-1].ends_at) / timedelta(minutes=1) + plan.segments[-1].hold_min
        (leaves,) = (g for g in plan.checklist if g.kind == "gate" and "leaves the kiln" in g.text)
        assert leaves.checks[0] == f"flask has been at its temperature for {soak_min} min or more"
        assert held_min >= soak_min, "the gate can be ticked by the first flask too"


def test_a_piece_that_no_flask_takes_is_refused_with_its_size() -> None:
    with pytest.raises(BadRequestError, match="larger than every flask") as caught:
        planned(measured("plain-band", bore_mm=90.0))
    assert "94" in caught.value.why


def test_shares_keep_every_piece_and_alike_sections_together() -> None:
    thick = measured("signet", count=3, letter="B")
    thin = replace(BAND[0], piece=replace(BAND[0].piece, count=5))
    parts = list(shares([(thin, ()), thick], 2))
    assert [sum(p.piece.count for p, _ in part) for part in parts] == [4, 4]
    assert [[p.piece.id for p, _ in part] for part in parts] == [["A", "B"], ["A"]]


def test_total_metal_is_the_sum_of_its_parts_and_the_charge_covers_it() -> None:
    (plan,) = planned(BAND, measured("signet", letter="B"))
    assert plan.tree is not None
    parts = plan.tree.pieces_g + plan.tree.sprues_g + plan.tree.stem_g + plan.tree.button_g
    assert plan.tree.metal_g == pytest.approx(parts)
    assert plan.charge.total_g >= plan.tree.metal_g
    assert plan.charge.low_g <= plan.charge.total_g <= plan.charge.high_g


def test_a_heavier_alloy_weighs_by_its_density() -> None:
    silver = planned(BAND)[0]
    gold = planned(measured("plain-band", alloy="gold-750-rose"), alloy="gold-750-rose", flask=silver.flask.id)[0]
    ratio = gold.alloy.density_g_per_cm3.value / silver.alloy.density_g_per_cm3.value
    assert gold.tree is not None
    assert silver.tree is not None
    assert gold.tree.metal_g / silver.tree.metal_g == pytest.approx(ratio, rel=1e-6)


def test_our_own_pieces_in_shipped_alloys_and_moulds_give_no_stop_and_at_most_three_warns() -> None:
    for name in SHAPES:
        (plan,) = planned(measured(name))
        severities = [f.severity for f in plan.findings]
        assert Severity.STOP not in severities, (name, plan.findings)
        assert severities.count(Severity.WARN) <= 2, (name, [f.code for f in plan.findings])


@pytest.mark.parametrize("alloy", sorted(LIBRARY.alloys))
def test_every_shipped_alloy_in_its_own_mould_gives_no_stop_and_at_most_three_warns(alloy: str) -> None:
    (plan,) = planned(alloy=alloy, weight_g=12.0, pattern="wax-injection", flask="76x100", pour_at=None)
    severities = [f.severity for f in plan.findings]
    assert Severity.STOP not in severities, [f.code for f in plan.findings]
    assert severities.count(Severity.WARN) <= 3, [f.code for f in plan.findings if f.severity is Severity.WARN]


def test_a_pour_too_soon_is_refused_with_the_earliest_and_that_one_is_taken_when_none_is_named() -> None:
    with pytest.raises(BadRequestError, match="too soon") as caught:
        planned(BAND, pour_at=NOW + timedelta(hours=5))
    (plan,) = planned(BAND, pour_at=None)
    assert f"{plan.pour_at:%Y-%m-%d %H:%M}" in caught.value.try_this
    assert plan.timeline[0].starts_at >= NOW


def test_a_pour_in_the_past_is_refused() -> None:
    with pytest.raises(BadRequestError, match="in the past"):
        planned(BAND, pour_at=NOW - timedelta(minutes=1))


def test_a_tree_begun_late_is_a_warning_not_a_refusal() -> None:
    (plan,) = planned(BAND)
    begun = plan.timeline[0].starts_at + timedelta(minutes=10)
    request = Request(alloy="sterling-925", pour_at=POUR, pieces=({"file": "x.stl"},))  # type: ignore[arg-type]
    (late,) = plan_runs(request, [BAND], studio=STUDIO, library=LIBRARY, now=begun, tell=lambda _: None)
    assert "day-begun" in {f.code for f in late.findings}


def test_only_rules_that_were_read_are_leaned_on() -> None:
    (vacuum,) = planned(weight_g=12.0, flask="76x100")
    assert not any("centrifuge" in v.what for v in vacuum.leaned)
    (spun,) = planned(BAND, studio=STUDIO.model_copy(update={"casting": STUDIO.casting.model_copy(update={"way": "centrifuge"})}))
    assert any("centrifuge" in v.what for v in spun.leaned)
    assert {v.grade for v in vacuum.leaned} <= {"estimate", "memory"}


@pytest.mark.parametrize(
    ("alloy", "pattern", "stones", "expected"),
    [
        ("sterling-925", "resin", False, "gypsum-resin"),
        ("sterling-925", "wax-injection", False, "gypsum-standard"),
        ("gold-585-yellow", "wax-carving", True, "gypsum-stone"),
        ("platinum-950-cobalt", "wax-injection", False, "phosphate"),
    ],
)
def test_the_usual_investment_follows_mould_stones_and_pattern(alloy: str, pattern: str, stones: bool, expected: str) -> None:
    assert usual_investment(LIBRARY.alloy(alloy), LIBRARY.pattern(pattern), stones=stones) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("ring.stl", ("ring.stl", 1)),
        ("ring.stl:4", ("ring.stl", 4)),
        (r"C:\work\ring.stl", (r"C:\work\ring.stl", 1)),
        (r"C:\work\ring.stl:12", (r"C:\work\ring.stl", 12)),
        ("a:b.stl", ("a:b.stl", 1)),
    ],
)
def test_a_count_stands_behind_the_last_colon_before_digits(text: str, expected: tuple[str, int]) -> None:
    assert split_count(text) == expected


def test_words_of_the_command_line_become_a_request() -> None:
    shop = Shop(folder=None, studio=STUDIO, library=LIBRARY)
    wishes = Wishes(alloy="sterling-925", pour_at="2027-03-05 10:00", size="ISO 54", units="inch", returns_fraction=0.4)
    request = request_of(["a.stl:2", "b.stl"], wishes, shop)
    assert [(p.count, p.size, p.units) for p in request.pieces] == [(2, "ISO 54", "inch"), (1, "ISO 54", "inch")]
    assert request.pour_at == datetime(2027, 3, 5, 10, tzinfo=UTC)
    assert request.returns_fraction == pytest.approx(0.4)


def test_more_flasks_than_a_kiln_holds_are_refused_in_a_sentence() -> None:
    many = replace(BAND[0], piece=replace(BAND[0].piece, count=400))
    with pytest.raises(BadRequestError, match="more than 12 flasks") as caught:
        planned((many, ()), flask="51x64")
    assert "larger flask" in caught.value.try_this
