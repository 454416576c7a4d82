"""What must hold of any rota: a check that shares nothing with the solver finds no fault in it, whatever was asked."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.steps.day.rota import solve
from pourwell.steps.day.week_model import Calendar, Firing, WeekKiln
from tests.unit.day.week_case import ROOM_PARTS, faults, hours, line, odd_min, run, week

EFFORT = 0.6


@st.composite
def runs(draw, kilns=1):
    """One flask: how long everything takes, when it is wanted."""
    water = draw(st.booleans())
    lines = {
        "wrap": line(15, waits=draw(st.sampled_from([0, 30]))),
        "invest": line(draw(st.integers(16, 24))),
        "strip": line(15),
        "quench": line(15),
        "cut": line(draw(st.integers(15, 60))),
    }
    if draw(st.booleans()):
        lines |= {
            "patterns": line(draw(st.integers(5, 40)), waits=draw(st.sampled_from([0, 75]))),
            "tree": line(draw(st.integers(20, 180))),
        }
    set_min = draw(st.sampled_from([90, 120, 240]))
    by_hand = draw(st.sampled_from([*[()] * 6, (0, 90, 480)]))
    return run(
        alloy=draw(st.sampled_from(["silver", "gold"])),
        flask_c=draw(st.sampled_from([480.0, 540.0, 565.0])),
        lines=lines,
        set_min=set_min,
        stand_max_min=set_min + draw(st.integers(60, 300)),
        vacuum_min=draw(st.integers(0, 5)),
        cool_min=draw(st.integers(5, 25)) if water else draw(st.integers(30, 120)),
        water=water,
        firings=tuple(
            Firing(
                total_min=draw(st.integers(300, 1100)),
                set_at_min=by_hand,
                free_after_min=360,
                fall_c_per_h=120.0,
                room_parts=ROOM_PARTS // draw(st.integers(1, 4)),
            )
            if k == 0 or draw(st.booleans())
            else None
            for k in range(kilns)
        ),
        wait_max_min=draw(st.sampled_from([360, 240, 120])),
        ready_min=draw(st.sampled_from([0, 0, 0, 700, 1500])),
        pour_by_min=draw(st.sampled_from([*[None] * 5, 5000])),
    )


@st.composite
def weeks(draw):
    """One to three flasks in one or two kilns, with hours of their own."""
    kilns = draw(st.integers(1, 2))
    made = [draw(runs(kilns)) for _ in range(draw(st.integers(1, 3)))]
    opens, long = draw(st.integers(6, 10)) * 60, draw(st.integers(7, 14)) * 60
    work = hours(5, opens, opens + long, off=draw(st.sampled_from([(), (1,)])))
    easy = work if draw(st.booleans()) else tuple((a + 60, b - 60) for a, b in work)
    base = week(*made, days=5, share=draw(st.booleans()))
    return replace(
        base,
        kilns=tuple(WeekKiln(name=f"kiln {k}", delayed_start=draw(st.booleans())) for k in range(kilns)),
        calendar=Calendar(work=work, easy=easy, awake=hours(5, 360, 1410)),
        overnight=draw(st.sampled_from([True] * 6 + [False])),
        bag_damp=draw(st.booleans()),
        bag_max_min=1440,
        first_pour_min=draw(st.sampled_from([None] * 4 + [2880 + opens + 90, 2880 + opens + 63])),
    )


@settings(max_examples=25)
@given(weeks())
def test_no_rota_breaks_a_rule(asked):
    rota = solve(asked, effort=EFFORT)
    if not rota.fits:
        assert rota.status in ("nothing", "unknown")
        return
    assert faults(asked, rota) == []
    goals = {goal.key: goal for goal in rota.goals}
    assert goals["last_pour"].value == max(times.pour_min for times in rota.runs)
    if "odd" in goals:
        assert odd_min(asked, rota) <= goals["odd"].value
        assert goals["odd"].proven is False or odd_min(asked, rota) == goals["odd"].value
    if "bagged" in goals:
        assert sum(times.bagged for times in rota.runs) <= goals["bagged"].value


@settings(max_examples=6)
@given(weeks())
def test_the_same_week_gives_the_same_rota(asked):
    assert solve(asked, effort=EFFORT) == solve(asked, effort=EFFORT)


@settings(max_examples=8)
@given(weeks())
def test_more_room_and_longer_hours_never_make_the_last_pour_later(asked):
    before = solve(asked, tidy=False, effort=EFFORT, first_goal_only=True)
    if before.status != "proven":
        return
    looser = replace(asked, calendar=replace(asked.calendar, work=tuple((a - 30, b + 30) for a, b in asked.calendar.work)))
    after = solve(looser, tidy=False, effort=EFFORT, first_goal_only=True)
    assert not after.goals or after.goals[0].bound <= before.goals[0].value
