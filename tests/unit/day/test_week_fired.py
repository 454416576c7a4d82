"""A week tells all that a burnout tells, of each flask in each load, and stops where a burnout stops."""

import pytest

from pourwell.findings import Severity, spelt_out
from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.legs import Leg
from pourwell.steps.burnout.sizes import until_legs
from tests.unit.day.weeks import entry, placed, planned, studio

LEGS = (
    Leg(start_c=20, target_c=140, ramp_c_per_h=120, hold_min=30, why="dry"),
    Leg(start_c=140, target_c=540, ramp_c_per_h=200, hold_min=90, why="soak"),
)


def codes(plan, severity=Severity.STOP):
    return {finding.code: finding for finding in plan.findings if finding.severity == severity}


def test_stones_in_place_on_resin_stop_a_week_as_they_stop_a_burnout():
    stop = codes(placed(entry("stones", pattern="resin")))["stones-without-schedule"]
    assert stop.where == "kiln, run 1: burnout"


def test_a_kiln_that_cannot_reach_the_programme_stops_a_week():
    cold = studio(kiln=Kiln(hottest_c=650.0))
    stop = codes(placed("rings", of=cold))["kiln-cannot-reach"]
    assert spelt_out(stop.limit) == "650 °C"
    assert "kiln-cannot-reach" not in codes(planned("rings"))


def test_a_usual_week_has_no_stop_and_tells_each_thing_of_a_load_once():
    plan = planned("rings", "signets")
    assert not codes(plan)
    said = [(finding.where.split(",")[0], finding.code, finding.says) for finding in plan.findings]
    assert len(said) == len(set(said))


def test_a_programme_of_the_users_own_is_judged_for_each_flask_of_its_load():
    """A low cycle for wax in a large flask beside a small one: what it does in each is told."""
    plan = placed(entry("bronze", flask="102x203", programme="stone-wax"), entry("bronze", programme="stone-wax"))
    told = [finding for finding in plan.findings if finding.where.endswith(": burnout")]
    assert any("run 1" in finding.where for finding in told)
    assert any(finding.severity in (Severity.STOP, Severity.WARN) for finding in told)


def test_what_is_wrong_with_several_flasks_of_a_load_is_told_once_with_its_places():
    runs = [entry("bronze", flask=flask, programme="stone-wax") for flask in ("102x203", "89x102", "76x100")]
    plan = placed(*runs)
    told = [f for f in plan.findings if f.where.endswith(": burnout")]
    load_of = {f"kiln, run {run}: burnout": load.number for load in plan.loads for run in load.runs}
    kinds = [(load_of[f.where], f.code, f.severity, f.do) for f in told]
    assert len(kinds) == len(set(kinds))
    assert any("Likewise kiln, run" in f.says for f in told), [f.says for f in told]


@pytest.mark.parametrize(("minutes", "holds"), [(90, (30,)), (75, (15,)), (300, (30, 90)), (270, (30, 60)), (999, (30, 90))])
def test_legs_until_a_pour_are_cut_in_the_hold_that_it_falls_into(minutes, holds):
    """An hour's climb and 30 min, then two hours' climb and 90 min."""
    assert tuple(leg.hold_min for leg in until_legs(LEGS, minutes)) == holds
