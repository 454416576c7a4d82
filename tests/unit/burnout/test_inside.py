"""The flask as a case of the solver: ends of the inputs, what was measured, neighbours, and what is told of a run."""

import math

import pytest

from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.inside import FAST, HIGH, LIKELY, LOW, SLOW, corners_of, ends_of, in_words, run, three, traits, windows
from pourwell.steps.burnout.model import Band, Factor, Measured, Verdict
from pourwell.steps.burnout.plan import case_of, programme
from tests.unit.burnout.case import flask_of, library

COURSE = ((0.0, 20.0), (52.0, 149.0), (172.0, 149.0), (261.0, 371.0), (400.0, 371.0), (490.0, 732.0), (640.0, 732.0))


def case(diameter_mm=76.0, height_mm=100.0, *, perforated=False, **more):
    given = {"flask_c": 540.0, "kiln": Kiln(), "stones": False, **more}
    return case_of(
        library().investment("gypsum-standard"),
        pattern_material=library().pattern("wax-injection"),
        flask=flask_of(diameter_mm, height_mm, perforated=perforated),
        library=library(),
        **given,
    )


def look(end, asked):
    return traits(end, COURSE, windows(asked))


def test_the_flask_goes_in_by_its_inside_and_its_wall():
    end = ends_of(case())[LIKELY]
    assert (end.flask.radius, end.flask.height, end.flask.wall) == pytest.approx((0.038, 0.1, 0.002))
    assert end.flask.open_share == 0
    assert ends_of(case(perforated=True))[LIKELY].flask.open_share == library().rule("wall_open_fraction")


def test_a_perforated_flask_dries_sooner():
    solid, holes = case(), case(perforated=True)
    assert look(ends_of(holes)[LIKELY], holes).dry < look(ends_of(solid)[LIKELY], solid).dry


def test_the_mould_conducts_less_cool_than_hot():
    dry = ends_of(case())[LIKELY].mould.dry
    assert [round(k, 2) for _, k in dry] == [0.40, 0.50]


def test_the_slow_end_is_the_worst_of_all_inputs_and_the_fast_the_best():
    ends = ends_of(case())
    assert ends[SLOW].mould.wet < ends[LIKELY].mould.wet < ends[FAST].mould.wet
    assert ends[SLOW].place.side.convection < ends[LIKELY].place.side.convection < ends[FAST].place.side.convection
    assert ends[SLOW].mould.free_water > ends[LIKELY].mould.free_water > ends[FAST].mould.free_water


def test_what_was_measured_replaces_the_default_band():
    found = Factor(value=1.2, low=1.1, high=1.3, source="log of 2026-11-20")
    asked = case(measured=Measured(conductivity=found))
    ends, usual = ends_of(asked), ends_of(case())
    assert ends[LIKELY].mould.wet == pytest.approx(1.2 * usual[LIKELY].mould.wet)
    assert ends[SLOW].mould.dry[1][1] == pytest.approx(1.1 / 1.3 * ends[FAST].mould.dry[1][1])
    assert ends[SLOW].place == usual[SLOW].place, "the film is still a guess"
    made = programme(asked)
    assert made.inside.measured == ("conductivity: log of 2026-11-20",)


def test_a_measured_water_narrows_the_hours_of_drying():
    water = Factor(value=0.7, low=0.68, high=0.72, source="weighed on 2026-11-20")
    wide, narrow = programme(case()).inside.dry_min, programme(case(measured=Measured(water=water))).inside.dry_min
    assert narrow.high - narrow.low < wide.high - wide.low
    assert narrow.likely < wide.likely


def test_all_three_measured_leave_a_narrow_band():
    near = Factor(value=1.0, low=0.97, high=1.03, source="a log")
    made = programme(
        case(measured=Measured(conductivity=near, film=near, water=Factor(value=0.9, low=0.88, high=0.92, source="scale")))
    )
    band = made.inside.core_passes_100_min
    assert (band.high - band.low) / band.likely < 0.12
    assert len(made.inside.measured) == 3


def test_no_measured_film_radiates_more_than_a_black_body():
    end = ends_of(case(measured=Measured(film=Factor(value=2.0, low=1.5, high=2.5, source="a log"))))[LIKELY]
    assert end.place.side.emissivity == 1.0


def test_flasks_side_by_side_hide_the_kiln_from_each_other_and_dry_later():
    alone, five, twelve = case(), case(flasks_count=5), case(flasks_count=12)
    views = [ends_of(c)[LIKELY].place.side.view for c in (alone, five, twelve)]
    assert views[0] == 1.0
    assert 0.3 < views[1] < 1.0
    assert views[1] == views[2], "no more than four stand next to one"
    assert look(ends_of(five)[LIKELY], five).dry > look(ends_of(alone)[LIKELY], alone).dry


def test_a_course_is_told_once_for_each_corner():
    assert corners_of([0, 10, 10, 20], [20, 100, 100, 100]) == ((0.0, 20.0), (10.0, 100.0), (20.0, 100.0))


def test_an_end_is_told_in_words():
    assert in_words(LIKELY) == "with every input at its likely value"
    assert in_words((LOW, HIGH, HIGH)) == "mould conducts poorly, kiln heats strongly, much water"


def test_a_rule_without_ends_is_its_own_band():
    assert three(library().rules["drain_to_c"]) == (150, 180, 180)
    assert three(library().rules["char_to_c"]) == (550, 550, 550)


def test_a_run_says_what_happened_to_pattern_and_mould():
    asked = case()
    found = look(ends_of(asked)[LIKELY], asked)
    assert found.released < found.dry < 400
    assert found.steam_at < found.dry
    assert found.released < found.cristobalite_at < found.quartz_at
    assert 0 < found.draining < 172
    assert 60 < found.carbon < 180
    assert 0.2 < found.heat_kwh < 0.4


def test_a_kiln_that_never_gets_hot_never_chars_the_pattern():
    asked = case()
    found = traits(ends_of(asked)[LIKELY], ((0.0, 20.0), (60.0, 149.0), (300.0, 149.0)), windows(asked))
    assert (found.charring, found.carbon, found.cristobalite) == (0, 0, 0)
    assert found.cristobalite_at == math.inf
    assert found.dry == math.inf


def test_the_curves_are_equally_long_and_the_core_lies_in_its_band():
    told = programme(case()).inside
    curves = told.curves
    rows = [curves.kiln_c, curves.rim_c, curves.half_radius_c, curves.core_c, curves.core_low_c, curves.core_high_c]
    assert {len(row) for row in (*rows, curves.water_fraction, curves.water_high_fraction)} == {len(curves.times_min)}
    assert list(curves.times_min) == sorted(set(curves.times_min))
    assert all(
        low <= c + 3 and c <= high + 3 for low, c, high in zip(curves.core_low_c, curves.core_c, curves.core_high_c, strict=True)
    )
    assert curves.water_fraction[0] == 1.0
    assert curves.water_fraction[-1] == 0.0
    assert all(a >= b for a, b in zip(curves.water_fraction, curves.water_fraction[1:], strict=False))
    assert curves.kiln_c[0] == 20
    assert curves.core_c[-1] == pytest.approx(540, abs=2)


def test_bands_are_in_order_and_what_is_left_out_is_said():
    told = programme(case()).inside
    for name in ("core_passes_100_min", "dry_min", "steam_kw_per_m2", "pressure_kpa", "carbon_min", "uneven_k", "heat_kwh"):
        band: Band = getattr(told, name)
        assert band.low <= band.likely <= band.high, name
    assert any("wicking" in line for line in told.not_modelled)
    assert told.measured == ()


def test_a_verdict_allows_for_what_two_grids_differ_by():
    base = {"key": "steam", "what": "steam", "unit": "kW/m²", "published": 4.0, "at_end": "", "source": ""}
    assert Verdict(measure=5.1, limit=5.0, at_most=True, **base).keeps
    assert not Verdict(measure=5.3, limit=5.0, at_most=True, **base).keeps
    assert Verdict(measure=4.9, limit=5.0, at_most=False, **base).keeps
    assert not Verdict(measure=4.7, limit=5.0, at_most=False, **base).keeps


def test_a_run_starts_at_the_level_its_course_starts_from():
    course = run(ends_of(case())[LIKELY], ((0.0, 30.0), (30.0, 100.0)))
    assert float(course.temperature[0].max()) == pytest.approx(303.15)
