"""Findings of printing from plans made up: limits, counts and words."""

from dataclasses import replace
from functools import cache

import pytest

from pourwell.findings import Severity, spelt_out
from pourwell.materials.studio import Printer
from pourwell.steps.pattern.print_checks import CHECKS, CODES, MOST_PLACES, PrintFacts, place, print_findings
from pourwell.steps.pattern.print_model import Holds, MidAir, Steps
from tests.unit.geometry.distance_samples import box
from tests.unit.pattern.case import library
from tests.unit.pattern.printing import printed


@cache
def sound_plan():
    return printed(box((0, 0, 0), (4, 5, 6)), direction=(0, 0, 1))[0]


def facts(*, side_mm=6.0, units="mm", units_sure=False, unsound=(), left_out=(), footprint_mm=(4.0, 5.0), printer=None, **plan):
    """A sound block of 4 by 5 by 6, but for what is said."""
    return PrintFacts(
        plan=replace(sound_plan(), **plan),
        unsound=unsound,
        stand_in="the mesh closed by guess",
        left_out=left_out,
        side_mm=side_mm,
        units=units,
        units_sure=units_sure,
        footprint_mm=footprint_mm,
        printer=printer or Printer(),
        library=library(),
    )


def told(**made):
    """The findings, by code a list; each is whole and of a severity that its code has."""
    found = {}
    for finding in print_findings(facts(**made)):
        for text in (finding.says, finding.do, finding.measure):
            assert text
            assert "{" not in spelt_out(text)
        assert finding.severity in next(code.severities for code in CODES if code.code == finding.code)
        found.setdefault(finding.code, []).append(finding)
    return found


def island(k=0, **more):
    plain = {"at_mm": (float(k), 2.0, 3.0), "height_mm": 1.5, "first_mm2": 0.2, "largest_mm2": 4.0, "layers_count": 12}
    return MidAir(**{**plain, **more})


def hollow(kind, volume=9.0, k=0):
    return Holds(kind=kind, at_mm=(float(k), 0.0, 0.0), volume_mm3=volume, low_mm=1.0, high_mm=3.0, mouth_mm2=4.0)


def steps(reach, **more):
    plain = {"area_mm2": 50.0, "stepped_mm2": 20.0, "proud_mm": 0.03, "wide_mm": 0.1, "at_mm": (1.0, 2.0, 3.0), "seen_mm": 0.025}
    return Steps(reach=reach, **{**plain, **more})


def test_a_sound_block_raises_nothing():
    assert told() == {}
    assert len(CHECKS) == len(CODES)


# --- soundness and units ---


def test_of_many_unsound_bodies_the_first_few_are_named_and_all_are_counted():
    names = tuple(f"part {k}" for k in range(6))
    (finding,) = told(unsound=names)["print-unsound"]
    assert [name for name in names if f'"{name}"' in finding.says] == list(names[:MOST_PLACES])
    assert finding.measure == "6 not closed"
    assert "the mesh closed by guess" in finding.says


@pytest.mark.parametrize(
    ("side", "said"), [(0.012345, "0.01235 mm"), (999.9, "999.9 mm"), (12346.0, "12350 mm"), (0.5e-3, "0.0005 mm")]
)
def test_a_size_in_doubt_is_never_written_as_a_power_of_ten(side, said):
    (finding,) = told(side_mm=side)["print-units"]
    assert finding.severity is Severity.STOP
    assert said in spelt_out(finding.says)
    assert spelt_out(finding.measure) == said


def test_a_unit_that_the_user_said_is_not_doubted():
    assert told(side_mm=5000.0, units_sure=True) == {}


@pytest.mark.parametrize("end", ["low", "high"])
def test_the_ends_of_what_jewellery_measures_are_no_doubt(end):
    limit = getattr(library().rules["jewellery_side_mm"], end)
    assert told(side_mm=limit) == {}
    assert "print-units" in told(side_mm=limit * (0.99 if end == "low" else 1.01))


# --- islands and hollows ---


@pytest.mark.parametrize(("count", "more"), [(1, None), (2, None), (MOST_PLACES, None), (MOST_PLACES + 1, 1), (9, 6)])
def test_islands_are_counted_and_the_first_few_are_told(count, more):
    (finding,) = told(islands=tuple(island(k) for k in range(count)), others=())["print-island"]
    assert finding.measure == str(count)
    assert finding.says.count("grows to 4.0 mm²") == min(count, MOST_PLACES)
    assert (f"and {more} more" in finding.says) == (more is not None)
    assert ("One part begins" in finding.says) == (count == 1)
    assert finding.do.endswith("this place." if count == 1 else "each of these places.")
    assert finding.where == "near x 0, y 2, z 3"


def test_the_first_other_way_without_fault_is_offered_as_it_is_typed():
    way = sound_plan().way
    faulty = replace(way, words="first", islands_count=1)
    clean = replace(way, words="second", direction=(0.0, -0.0, -1.0))
    also = replace(way, words="third")
    (finding,) = told(islands=(island(),), others=(faulty, clean, also))["print-island"]
    assert "another way to stand: second (--direction 0.000,0.000,-1.000)." in finding.do
    (alone,) = told(islands=(island(),), others=(faulty, replace(way, cups_count=2)))["print-island"]
    assert "another way" not in alone.do


@pytest.mark.parametrize("kind", ["suction", "bowl", "closed"])
def test_hollows_of_a_kind_are_one_finding_with_its_own_cure(kind):
    (finding,) = told(cups=tuple(hollow(kind, 9.0 - k, k) for k in range(5)))["print-cup"]
    assert finding.measure == "9.0 mm³"
    assert "and 2 more" in finding.says
    assert f"{library().rule('drain_hole_mm'):g} mm" in spelt_out(finding.do)


def test_hollows_of_different_kinds_are_told_apart():
    found = told(cups=(hollow("bowl"), hollow("closed"), hollow("suction"), hollow("bowl", 3.0)))["print-cup"]
    assert [finding.says.split()[2] for finding in found] == ["is", "hangs", "is"]
    assert len({finding.do for finding in found}) == 3


# --- steps ---


def off():
    """What finishing takes off on one side."""
    return library().rules["finishing_bore_mm"].value / 2


@pytest.mark.parametrize("reach", ["open", "bore"])
def test_steps_are_told_where_they_are_deeper_than_finishing(reach):
    assert told(steps=(steps(reach, proud_mm=off()),)) == {}
    (finding,) = told(steps=(steps(reach, proud_mm=off() * 1.2),))["print-steps"]
    assert finding.severity is Severity.NOTE
    assert "finishing takes off" in finding.says
    assert finding.limit == f"{{l:{off():g}}}"
    assert finding.says.startswith("The bore shows" if reach == "bore" else "Open faces show")


def test_steps_out_of_reach_are_told_however_small_for_nothing_takes_them_off():
    (finding,) = told(steps=(steps("recess", proud_mm=0.026),))["print-steps"]
    assert "the casting keeps them" in finding.says
    assert finding.limit == f"{{l:{library().rule('print_step_seen_mm'):g}}}"


@pytest.mark.parametrize("reach", ["open", "bore", "recess"])
def test_a_speck_of_steps_is_not_told(reach):
    told_mm2 = library().rule("print_steps_told_mm2")
    assert told(steps=(steps(reach, proud_mm=9.0, stepped_mm2=told_mm2 * 0.99),)) == {}
    assert "print-steps" in told(steps=(steps(reach, proud_mm=9.0, stepped_mm2=told_mm2),))


def test_each_reach_has_a_finding_of_its_own():
    found = told(steps=tuple(steps(reach, proud_mm=0.4) for reach in ("open", "bore", "recess")))["print-steps"]
    assert len({finding.says.partition(" the steps")[0] for finding in found}) == 3


# --- what the printer holds ---


def test_what_the_studio_does_not_say_is_not_checked():
    assert told(footprint_mm=(900.0, 900.0), printer=Printer()) == {}
    found = told(footprint_mm=(900.0, 900.0), printer=Printer(depth_mm=100))["print-too-large"]
    assert spelt_out(found[0].says) == "As it stands it is 900.00 mm deep of 100 mm that the printer has."


def test_supports_count_to_the_height():
    assert told(printer=Printer(stand_mm=4, height_mm=10)) == {}
    (finding,) = told(printer=Printer(stand_mm=4.5, height_mm=10))["print-too-large"]
    assert (spelt_out(finding.measure), spelt_out(finding.limit)) == ("10.50 mm", "10 mm")


@pytest.mark.parametrize(
    ("wide", "large"), [(9.0, False), (9.0000004, False), (9.004, False), (9.015, False), (9.03, True), (9.3, True)]
)
def test_a_piece_as_wide_as_the_plate_fits_and_rounding_makes_it_no_wider(wide, large):
    """Turned on the plate, or read from single precision, nine millimetres are 9.0000004."""
    found = told(footprint_mm=(wide, 5.0), printer=Printer(width_mm=9))
    assert ("print-too-large" in found) == large
    if large:
        assert spelt_out(found["print-too-large"][0].measure) != "9.00 mm"


def test_all_that_is_too_large_is_told_in_one_finding():
    (finding,) = told(footprint_mm=(8.0, 9.0), printer=Printer(width_mm=5, depth_mm=5, height_mm=5))["print-too-large"]
    assert [word in finding.says for word in ("wide", "deep", "high with its supports")] == [True] * 3
    assert finding.measure.count(",") == finding.limit.count(",") == 2


def test_places_are_told_without_minus_zero():
    assert place((-0.01, 2.04, -3.06)) == "x 0, y 2, z -3.1"
