"""Where runs stand by their plans, and what comes next."""

from datetime import UTC, datetime, timedelta

import pytest

from pourwell.app.in_hand import settings_of, soonest, standing, steps_of
from pourwell.store.model import KeptResult, KeptRun

START = datetime(2026, 11, 26, 12, 0, tzinfo=UTC)
DAY = (("invest", 0, 20, 20), ("set", 20, 140, 0), ("strip", 140, 155, 15), ("kiln", 155, 1000, 0), ("pour", 1000, 1005, 5))
"""Key, begin and end in minutes, minutes with hands on."""


def plan(shift_min=0):
    def at(minutes):
        return (START + timedelta(minutes=minutes + shift_min)).isoformat(timespec="minutes")

    entries = [
        {"key": key, "says": f"{key.capitalize()} it", "starts_at": at(a), "ends_at": at(b), "hands_on_min": hands}
        for key, a, b, hands in DAY
    ]
    findings = [{"severity": "warn", "says": "Thin"}, {"severity": "note", "says": "Worth it"}]
    return {"timeline": entries, "findings": findings}


def run(number=1):
    return KeptRun(id=number, number=number, form={}, pieces=(), made_at=START, changed_at=START)


def result(shift_min=0):
    return KeptResult(id=1, asked={}, data={"plans": [plan(shift_min)]}, made_at=START)


def after(minutes, shift_min=0):
    return standing(run(), result(shift_min), START + timedelta(minutes=minutes))


def test_the_day_of_a_plan_is_read():
    steps = steps_of(plan())
    assert [s.key for s in steps] == [key for key, *_ in DAY]
    assert steps[0].hands_until == START + timedelta(minutes=20)


def test_the_steps_of_a_second_flask_are_in_hand_too_and_what_both_do_at_once_stands_once():
    """The second flask is poured 30 min after the first; both are invested at once."""
    first, second = plan(), plan()
    later = (START + timedelta(minutes=1030)).isoformat(timespec="minutes")
    second["timeline"][-1] = second["timeline"][-1] | {"starts_at": later, "ends_at": later}
    second["findings"] = [{"severity": "stop", "says": "Open"}, {"severity": "note", "says": "Worth it"}]
    both = KeptResult(id=1, asked={}, data={"plans": [first, second]}, made_at=START)
    one = standing(run(), both, START + timedelta(minutes=1002))
    assert [s.says for s in one.steps].count("Invest it") == 1
    assert one.doing == "pour it (flask 1)"
    now = standing(run(), both, START + timedelta(minutes=1010))
    assert now.next.says == "Pour it (flask 2)"
    assert not standing(run(), both, START + timedelta(minutes=1130)).over, "two hours after the last step of all"
    assert [f["severity"] for f in one.findings] == ["stop", "warn", "note"]


def test_a_run_that_is_not_worked_out_says_so():
    one = standing(run(), None, START)
    assert (one.doing, one.next, one.plan, one.over) == ("not worked out yet", None, None, False)
    assert one.findings == ()


@pytest.mark.parametrize(
    ("minutes", "doing", "following"),
    [
        (-60, "planned, can still change", "invest"),
        (5, "invest it", "invest"),
        (60, "setting", "strip"),
        (141, "strip it", "strip"),
        (500, "in the kiln", "pour"),
        (1004, "pour it", "pour"),
        (1010, "done, by plan", None),
    ],
)
def test_what_it_does_and_what_comes_next_follow_the_clock(minutes, doing, following):
    one = after(minutes)
    assert one.doing == doing
    assert (one.next.key if one.next else None) == following


@pytest.mark.parametrize(("minutes", "over"), [(0, False), (1100, False), (1124, False), (1126, True)])
def test_a_run_stays_in_hand_for_two_hours_after_its_last_step(minutes, over):
    assert after(minutes).over is over


def test_findings_are_those_of_its_plan():
    assert [f["severity"] for f in after(0).findings] == ["warn", "note"]


def test_the_soonest_is_the_run_whose_hands_are_wanted_first():
    now = START - timedelta(minutes=10)
    first, second = standing(run(1), result(30), now), standing(run(2), result(0), now)
    idle = standing(run(3), None, now)
    assert soonest([first, second, idle]) is second
    assert soonest([idle]) is None
    assert soonest([]) is None


def test_a_run_that_is_over_is_not_the_soonest():
    assert soonest([after(5000)]) is None


def by_hand():
    """The same day with a kiln that is set at 155, 275 and 600 min, 4 min each."""
    told = plan()
    moments = [(START + timedelta(minutes=minute)).isoformat(timespec="minutes") for minute in (155, 275, 600)]
    told["timeline"][3] |= {"hands_on_min": 12, "moments": moments}
    return told


def test_a_kiln_that_is_set_by_hand_takes_hands_at_each_setting_and_not_at_its_start():
    assert settings_of(plan()) == ()
    settings = settings_of(by_hand())
    assert [(step.starts_at - START) / timedelta(minutes=1) for step in settings] == [155, 275, 600]
    assert {step.hands_on_min for step in settings} == {4}
    kiln = steps_of(by_hand())[3]
    assert (kiln.hands_on_min, kiln.ends_at - kiln.starts_at) == (0, timedelta(minutes=845))


@pytest.mark.parametrize(("minutes", "starts"), [(150, 140), (200, 275), (276, 275), (300, 600), (700, 1000)])
def test_the_next_setting_of_such_a_kiln_is_what_comes_next(minutes, starts):
    kept = KeptResult(id=1, asked={}, data={"plans": [by_hand()]}, made_at=START)
    one = standing(run(), kept, START + timedelta(minutes=minutes))
    assert one.next is not None
    assert one.next.starts_at == START + timedelta(minutes=starts)
    assert one.doing == ("strip it" if minutes == 150 else "in the kiln")
