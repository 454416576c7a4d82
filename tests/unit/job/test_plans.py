"""Whole plans from the outside: what was asked for arrives in its place, and figures of one step are used by the next."""

from dataclasses import replace
from datetime import timedelta
from functools import cache
from zoneinfo import ZoneInfo

import pytest

from pourwell.assembly import Measured
from pourwell.errors import BadRequestError
from pourwell.findings import Finding, Severity
from pourwell.job import plan_runs
from pourwell.leaning import leaned_on, recording
from pourwell.materials.calibration import Calibration
from pourwell.materials.library import weak_values
from pourwell.materials.model import WEAK_GRADES
from pourwell.materials.studio import Kiln, Studio
from pourwell.plan import Plan
from pourwell.request import Request
from pourwell.sheets.display import Display
from pourwell.sheets.kiln_view import kiln_view
from pourwell.steps.burnout.plan import case_of, programme
from tests.unit.burnout.case import run
from tests.unit.job.test_job import BAND, LIBRARY, NOW, POUR, STUDIO, measured, planned

SMALL = Studio(time_zone="Europe/Lisbon", flasks=tuple(LIBRARY.flask(f) for f in ("50x55", "64x64")))
WEIGHT = {"weight_g": 20.0, "flask": "76x100"}


def times(piece: Measured, count: int) -> Measured:
    """So many of a piece."""
    return replace(piece[0], piece=replace(piece[0].piece, count=count)), piece[1]


@cache
def three() -> tuple[Plan, ...]:
    """Five bands and five studs in the small flasks of a studio: two flasks of 64 mm and one of 50 mm, one kiln load."""
    bands, studs = times(BAND, 5), times(measured("stud", letter="B"), 5)
    return planned(bands, studs, studio=SMALL, run_number=7, pattern="wax-injection")


@cache
def one() -> Plan:
    """A band of resin."""
    return planned(BAND, flask="64x64")[0]


def weighed(**asked: object) -> Plan:
    """A tree on the scale."""
    (plan,) = planned(**{**WEIGHT, **asked})  # type: ignore[arg-type]
    return plan


def codes(plan: Plan) -> list[str]:
    return [f.code for f in plan.findings]


def text_of(plan: Plan, words: str) -> str:
    return next(s.text for s in plan.checklist if words in s.text)


def step_of(plan: Plan, words: str) -> object:
    return next(s for s in plan.checklist if words in s.text)


def test_a_shared_kiln_is_run_for_its_largest_flask_as_the_others_hide_it() -> None:
    """But for night and turns it is just what the largest flask needs with two more beside it, and more than the small one."""
    plans = three()
    assert sorted(p.flask.id for p in plans) == ["50x55", "64x64", "64x64"]
    needs = []
    for flask in sorted((p.flask for p in plans), key=lambda flask: flask.diameter_mm)[::2]:
        case = case_of(
            LIBRARY.investment(plans[0].investment.id),
            pattern_material=LIBRARY.pattern("wax-injection"),
            flask=flask,
            flask_c=plans[0].temperatures.flask_c,
            kiln=SMALL.kiln,
            stones=False,
            library=LIBRARY,
            flasks_count=len(plans),
        )
        needs.append([s.hold_min for s in programme(case).segments[:-1]])
    small, large = needs
    assert small[0] < large[0]
    for plan in plans:
        holds = [s.hold_min for s in plan.programme.segments[:-1]]
        assert all(hold >= own for hold, own in zip(holds, large, strict=True))
        assert sum(holds) - sum(large) == plan.kiln_load.longer_for_hours_min, "only the night makes it longer"


def test_the_flasks_of_a_shared_kiln_wait_in_it_for_their_turn() -> None:
    plans = three()
    heat = plans[0].temperatures
    alone = run(size=(64, 64), flask_c=heat.flask_c).programme
    waited = round((plans[-1].pour_at - plans[0].pour_at).total_seconds() / 60)
    assert {p.kiln_load.longer_for_turns_min for p in plans} == {waited}
    for plan in plans:
        assert plan.programme.segments[-1].hold_min == alone.segments[-1].hold_min + waited
        assert plan.programme.total_min >= alone.total_min + waited + plan.kiln_load.longer_for_hours_min
        assert plan.programme.total_min == sum(s.ramp_min + s.hold_min for s in plan.programme.segments)
        assert plan.programme.energy_kwh > alone.energy_kwh
        assert plan.segments == plans[0].segments
        assert plan.segments[-1].ends_at == plans[-1].pour_at


def test_runs_are_numbered_on_from_the_one_asked_for() -> None:
    assert [p.number for p in three()] == [7, 8, 9]


def test_a_mixed_tree_is_poured_for_its_thinnest_kind_of_piece() -> None:
    walls = [p.piece.wall.typical_mm for plan in three() for p in plan.patterns]
    assert min(walls) < max(walls)
    assert {p.temperatures.section_mm for p in three()} == {min(walls)}


def test_entry_is_reckoned_for_the_thinnest_wall_in_the_flask_and_the_lowest_piece() -> None:
    """Washburn and hydrostatics by hand: 4 x 0.92 N/m over the wall; 88 kPa and 9.27 g/cm3 x 9.80665 m/s2 for the head."""
    for plan in three():
        thinnest = min(p.piece.wall.thinnest_mm for p in plan.patterns)
        assert plan.pour.entry_kpa == pytest.approx(4 * 0.92 / thinnest, abs=0.006)
        lowest = min(float(mesh.bounds[0][2]) for name, mesh in plan.tree_bodies if name.startswith("piece"))
        assert plan.pour.head_kpa == pytest.approx(88 + 9.27e-3 * 9.80665 * (lowest - plan.flask.base_depth_mm), abs=0.006)


def test_the_plan_of_a_shape_knows_all_and_is_called_by_its_pieces() -> None:
    both = next(p for p in three() if len(p.patterns) == 2)
    (a, b) = (p.piece for p in both.patterns)
    assert both.title == f"{a.count} plain-band, {b.count} stud"
    assert both.unknown == ()
    assert "flask-guessed" not in codes(both)


def test_patterns_are_looked_over_by_kind_and_resin_is_cured() -> None:
    for plan, resin_min in ((one(), 12 + 30 + 45), *((p, 0) for p in three())):
        line = next(e for e in plan.timeline if e.key == "patterns")
        assert (line.ends_at - line.starts_at) == timedelta(minutes=5 * len(plan.patterns) + resin_min)


def test_the_check_list_weighs_all_patterns_together_within_their_band() -> None:
    for plan in three():
        pieces = [p.piece for p in plan.patterns]
        step = step_of(plan, "Weigh all patterns together")
        low, high = (sum(p.count * end for p, end in zip(pieces, ends, strict=True)) for ends in _ends(pieces))
        assert step.plan == f"{{g:{low:.2f}}} to {{g:{high:.2f}}}"  # type: ignore[attr-defined]


def _ends(pieces: list) -> tuple[list[float], list[float]]:  # type: ignore[type-arg]
    return [p.pattern_low_g for p in pieces], [p.pattern_high_g for p in pieces]


def test_the_check_list_says_every_caution_of_the_resin_once() -> None:
    material, steps = LIBRARY.pattern("resin"), one().checklist
    ready = [next(s for s in steps if s.text == w.text) for w in material.preparation]
    told = [w.text for w in material.cautions]
    assert ready[0].caution == " ".join(told[:2])
    assert ready[-1].caution == " ".join(told[2:])


@pytest.mark.parametrize("name", ["resin", "resin-waxed"])
def test_eyes_are_covered_from_washing_to_curing_and_alcohol_meets_no_heat(name: str) -> None:
    material = LIBRARY.pattern(name)
    wash, dry, cure = (step.text for step in material.preparation)
    first, last = " ".join(c.text for c in material.cautions[:2]), " ".join(c.text for c in material.cautions[2:])
    assert wash.startswith("Wash")
    assert cure.startswith("Cure")
    assert "safety glasses at washing, taking off supports and curing" in first, "said where the work begins"
    assert "glasses on" in dry
    assert "UV lamp: lid shut, do not look in, cover the skin, safety glasses on." in last, "said at the step that uses it"
    assert "warm" not in dry
    for word in ("cold moving air", "outdoors or under extraction", "No heat gun, oven or lamp", "No smell of alcohol"):
        assert word in dry


def test_the_check_list_carries_the_tree_of_the_card() -> None:
    plan = three()[0]
    tree = plan.tree
    assert tree is not None
    limits = tree.clearances
    assert step_of(plan, "Weigh the tree").value == pytest.approx(tree.pattern_g, abs=0.006)  # type: ignore[attr-defined]
    rod = step_of(plan, "Try the room")
    assert rod.plan == f"{{l:{limits.wall_limit_mm:g}}}; {{l:{limits.tip_limit_mm:g}}}"  # type: ignore[attr-defined]
    assert step_of(plan, "Weigh the whole casting").value == pytest.approx(tree.metal_g, abs=0.06)  # type: ignore[attr-defined]
    assert step_of(plan, "Cut off, weigh").value == pytest.approx(tree.pieces_g, abs=0.06)  # type: ignore[attr-defined]


def test_a_plan_keeps_what_was_found_about_its_patterns() -> None:
    seen = Finding(code="size-odd", severity=Severity.WARN, where="A", says="odd", do="look", source="a test")
    (plan,) = planned((BAND[0], (seen,)), flask="64x64")
    assert seen in plan.findings


@pytest.mark.parametrize(("pattern", "base_g", "wax_g"), [("wax-sprue", 0.0, 0.0), ("wax-sprue", 6.5, 0.0), ("resin", 6.5, 3.0)])
def test_base_and_wax_are_taken_off_the_weight_and_the_button_is_put_on(pattern: str, base_g: float, wax_g: float) -> None:
    """Hand sum: pattern and sprue wax as their rows say, sterling 10.36 g/cm3; the button of 28 x 10 mm is a cap of 3.603 cm3."""
    plan = weighed(pattern=pattern, base_g=base_g, wax_g=wax_g)
    assert plan.weighed is not None
    assert (plan.weighed.pattern_g, plan.weighed.wax_g) == (20 - base_g, wax_g)
    own, wax = (LIBRARY.pattern(name).density_g_per_cm3.value for name in (pattern, "wax-sprue"))
    body = (20 - base_g - wax_g) / own + wax_g / wax
    assert plan.weighed.metal_g == pytest.approx((body + 3.603) * 10.36, abs=0.05)
    assert "weight-mixed" not in codes(plan)
    assert "weight-mixed" in codes(weighed(base_g=base_g))


def test_a_weight_leaves_open_what_only_a_shape_tells() -> None:
    plan = weighed()
    assert len(plan.unknown) == 5
    assert (plan.title, weighed(title="For the fair").title) == ("Tree of 20 g", "For the fair")
    assert {"patterns", "tree"}.isdisjoint(e.key for e in plan.timeline)
    assert "flask-guessed" not in codes(plan)
    assert "flask-guessed" in codes(weighed(flask=None))
    last = step_of(plan, "Weigh the whole casting")
    assert last.value == pytest.approx(plan.charge.total_g - plan.charge.melt_loss_g, abs=0.06)  # type: ignore[attr-defined]
    assert last.value < plan.charge.total_g  # type: ignore[attr-defined]


def test_returns_and_own_alloying_reach_the_charge() -> None:
    plan = weighed(returns_fraction=0.4, own_alloying=True)
    assert plan.charge.returns_g == pytest.approx(0.4 * plan.charge.total_g, abs=0.1)
    assert plan.charge.fine == "Ag"
    assert "fine Ag" in text_of(plan, "Weigh for the fresh metal")
    assert weighed().charge.fine == ""


def test_stones_reach_investment_temperature_and_quench() -> None:
    plan = weighed(stones=True, pattern="wax-injection")
    assert (plan.investment.id, plan.quench.way, plan.programme.id) == ("gypsum-stone", "air", "stone-wax")
    assert plan.temperatures.flask_c <= 454
    assert "investment-not-for-stones" in codes(weighed(stones=True, pattern="wax-injection", investment="gypsum-standard"))


def test_a_centrifuge_reaches_the_metal_temperature() -> None:
    spun = Studio(casting={"way": "centrifuge"}, time_zone="Europe/Lisbon")
    assert weighed(alloy="gold-750-yellow-3n", studio=spun).temperatures.metal_c == 945
    assert weighed(alloy="gold-750-yellow-3n").temperatures.metal_c > 945


def test_an_own_programme_counts_as_the_user_s_schedule() -> None:
    stone = {"investment": "gypsum-stone", "pattern": "resin"}
    assert "resin-without-schedule" in codes(weighed(**stone))
    assert "resin-without-schedule" not in codes(weighed(**stone, programme="gypsum-resin"))


def test_the_hours_are_those_of_the_studio_s_zone() -> None:
    tokyo = STUDIO.model_copy(update={"time_zone": "Asia/Tokyo"})
    plan = weighed(studio=tokyo)
    for moment in (plan.segments[-1].ends_at, plan.pour_at, plan.kiln_on_at):
        assert moment.utcoffset() == timedelta(hours=9)
    assert plan.pour_at.astimezone(ZoneInfo("UTC")) == POUR


def test_the_gravest_finding_stands_first() -> None:
    grave = [Severity.STOP, Severity.WARN, Severity.NOTE]
    plan = weighed(flask=None, investment="gypsum-stone", metal_c=1060, returns_fraction=0.7)
    places = [grave.index(f.severity) for f in plan.findings]
    assert set(places) == {0, 1, 2}
    assert places == sorted(places)


def test_a_pour_at_this_very_moment_is_in_the_past() -> None:
    with pytest.raises(BadRequestError, match="in the past"):
        weighed(pour_at=NOW)


def test_investing_that_begins_this_very_minute_is_in_time_and_a_minute_ago_is_not() -> None:
    wrap = next(e.starts_at for e in weighed().timeline if e.key == "wrap")
    request = Request(alloy="sterling-925", pour_at=POUR, **WEIGHT)  # type: ignore[arg-type]
    ask = {"studio": STUDIO, "library": LIBRARY, "tell": lambda _: None}
    (plan,) = plan_runs(request, (), now=wrap, **ask)  # type: ignore[arg-type]
    assert plan.pour_at == POUR
    with pytest.raises(BadRequestError, match="too soon"):
        plan_runs(request, (), now=wrap + timedelta(minutes=1), **ask)  # type: ignore[arg-type]


def test_the_first_flask_of_several_says_when_investing_must_begin() -> None:
    wraps = [next(e.starts_at for e in p.timeline if e.key == "wrap") for p in planned(times(BAND, 8), studio=SMALL)]
    assert wraps[0] < wraps[-1]
    request = Request(alloy="sterling-925", pour_at=POUR, pieces=({"file": "x.stl"},))  # type: ignore[arg-type]
    with pytest.raises(BadRequestError, match="too soon") as caught:
        plan_runs(
            request,
            (times(BAND, 8),),
            studio=SMALL,
            library=LIBRARY,
            now=wraps[0] + timedelta(minutes=5),
            tell=lambda _: None,
        )
    assert "Investing would have had to begin" in caught.value.why


def test_a_pour_at_night_is_told_with_a_calmer_hour() -> None:
    plan = weighed(pour_at=POUR.replace(hour=3))
    found = next(f for f in plan.findings if f.code == "day-outside-hours")
    assert found.do.startswith("Pour at ")


def test_the_largest_flask_says_how_much_room_there_would_be() -> None:
    """A flask of 76 mm less stem and clearances leaves 6 mm more beside the stem than one of 64 mm."""
    with pytest.raises(BadRequestError) as caught:
        planned(measured("plain-band", bore_mm=90.0))
    assert "there are 28 mm" in caught.value.why


@pytest.mark.parametrize("name", sorted(LIBRARY.programmes))
def test_a_programme_is_leaned_on_only_where_its_table_is_weak(name: str) -> None:
    told = leaned_on(recording(LIBRARY), (), programme=name)
    weak = LIBRARY.programme(name).grade in WEAK_GRADES
    assert [v.unit for v in told] == (["steps"] if weak else [])
    assert all(v.value == len(LIBRARY.programme(name).steps) for v in told)


def test_rules_are_leaned_on_when_they_were_read_and_are_weak() -> None:
    books = recording(LIBRARY)
    weak, firm = "bowl_film_mm", "cover_mm"
    assert books.rules[weak].grade in WEAK_GRADES
    assert books.rules[firm].grade not in WEAK_GRADES
    told = [v.what for v in leaned_on(books, (), programme="gypsum-wax")]
    assert LIBRARY.rules[weak].about in told
    assert LIBRARY.rules[firm].about not in told
    assert LIBRARY.rules["centrifuge_kpa"].about not in told
    assert (len(books.rules), set(books.rules)) == (len(LIBRARY.rules), set(LIBRARY.rules))


def test_every_row_of_the_job_is_leaned_on() -> None:
    rows = (LIBRARY.alloy("sterling-925"), LIBRARY.investment("gypsum-standard"), LIBRARY.pattern("resin"))
    told = [v.what for v in leaned_on(recording(LIBRARY), rows, programme="gypsum-wax")]
    expected = [f"{row.id}: {key}" for row in rows for key, _ in weak_values(row)]
    assert [w for w in told if w in expected] == expected
    assert {w.partition(":")[0] for w in expected} >= {"sterling-925", "gypsum-standard"}


def test_the_night_before_a_pour_asked_for_goes_into_drying_and_carbon() -> None:
    """Poured at noon, the flask would go in at night: it goes in within the hours, and stays longer where that does it good."""
    (short,) = (weighed(pour_at=POUR.replace(hour=18)),)
    plan = weighed(pour_at=POUR.replace(hour=10))
    longer = plan.kiln_load.longer_for_hours_min
    assert plan.pour_at == POUR.replace(hour=10)
    assert "day-outside-hours" not in {f.code for f in plan.findings} or longer == 0
    grown = [s.ruled_by for s in plan.programme.segments].count("your hours")
    assert (grown > 0) == (longer > 0)
    assert plan.programme.total_min - short.programme.total_min == longer - short.kiln_load.longer_for_hours_min


def test_each_flask_of_a_shared_kiln_is_told_by_its_own_computation() -> None:
    """One programme is typed for all, but the small flask is dry sooner, and its limits are its own."""
    small, large = sorted({p.flask.id: p for p in three()}.values(), key=lambda plan: plan.flask.diameter_mm)
    assert small.segments == large.segments
    assert small.programme.core_dry_late_min < large.programme.core_dry_late_min
    assert [v.measure for v in small.programme.verdicts] != [v.measure for v in large.programme.verdicts]


def test_one_s_own_programme_that_must_be_set_by_hand_in_the_night_stops_a_plan_too() -> None:
    hand = STUDIO.model_copy(update={"kiln": Kiln(segments_count=0)})
    plan = weighed(programme="gypsum-resin", studio=hand)
    (told,) = (f for f in plan.findings if f.code == "set-while-asleep")
    assert plan.stopped
    assert told.severity is Severity.STOP
    assert told.do.startswith("No pour in your working hours avoids it: change the holds")
    assert "set-while-asleep" not in codes(weighed(programme="gypsum-resin"))


def test_a_run_is_fired_in_the_kiln_that_it_names_and_by_that_kiln_s_figures():
    """One that is set by hand has settings by the clock; the sheet says in which kiln."""
    kilns = (Kiln(name="large"), Kiln(name="small", segments_count=0, fall_c_per_h=200.0))
    studio = Studio(time_zone="Europe/Lisbon", kilns=kilns)
    film = {"kind": "kiln", "measured_at": NOW, "way": "log", "fitted_from": "a log of the first kiln"}
    film |= {"film_ratio": {"value": 1.1, "uncertainty": 0.03, "unit": "1"}}
    library = replace(LIBRARY, calibrations=(Calibration.model_validate(film),))
    first, second = weighed(studio=studio, library=library), weighed(studio=studio, library=library, kiln="small")
    inside = [" ".join(plan.programme.inside.measured) for plan in (first, second)]
    assert ["film of the kiln" in words for words in inside] == [True, False], f"that was measured in the first: {inside}"
    assert (first.studio.kiln.name, second.studio.kiln.name) == ("large", "small")
    assert not first.programme.by_hand
    assert second.programme.by_hand
    assert kiln_view(second, Display("metric"))["kiln"] == "small"
    assert kiln_view(weighed(), Display("metric"))["kiln"] == "", "a studio with one kiln is asked for no name"
    with pytest.raises(BadRequestError, match="No kiln is called"):
        weighed(studio=studio, kiln="old")
