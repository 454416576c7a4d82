"""Findings on the hours of a burnout: each fires and stays silent."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest

from pourwell.steps.burnout.hour_checks import Hours, findings, later_by_min

NOON, NIGHT = datetime(2026, 11, 27, 12, 0, tzinfo=UTC), datetime(2026, 11, 27, 23, 30, tzinfo=UTC)
DAY = Hours(
    on_at=datetime(2026, 11, 27, 8, 0, tzinfo=UTC),
    off_at=datetime(2026, 11, 27, 18, 0, tzinfo=UTC),
    settings=(NOON,),
    pours=(datetime(2026, 11, 27, 18, 0, tzinfo=UTC),),
    sleeps=(time(22, 30), time(6, 30)),
    asleep=(),
    outside=(),
    works=(time(8, 0), time(19, 0)),
    overnight=False,
    allowed=True,
    cautions="Smoke alarm.",
)


def told(**changes):
    return {f.code: f for f in findings(replace(DAY, **changes))}


def test_set_while_asleep_fires():
    found = told(settings=(NOON, NIGHT), asleep=(NIGHT,))["set-while-asleep"]
    assert found.severity == "stop"
    assert "Fri 23:30" in found.says
    assert (found.measure, found.limit) == ("1 of 2 settings", "none from 22:30 to 06:30")


def test_a_setting_in_the_night_names_the_pour_that_has_none():
    told_better = told(settings=(NOON, NIGHT), asleep=(NIGHT,), better_by_min=150)["set-while-asleep"]
    assert told_better.do.startswith("Pour on Fri at 20:30: then none falls into the night.")
    now_min = round((DAY.pours[0] - DAY.on_at).total_seconds() / 60)
    longer = told(settings=(NOON, NIGHT), asleep=(NIGHT,), better_by_min=150, better_takes_min=37 * 60 + 5)["set-while-asleep"]
    now = f"{now_min // 60} h {now_min % 60:02d} min"
    assert f"into the night (the burnout then takes 37 h 05 min, now {now})." in longer.do
    assert told(settings=(NIGHT,), asleep=(NIGHT,))["set-while-asleep"].do.startswith("No pour in your working hours avoids it:")


def test_how_much_later_a_course_must_be_is_found_in_quarters_of_an_hour():
    """Settings at noon and half past eleven at night; asleep from 22:30 to 6:30: seven hours later the night's one is past it."""

    def later(*settings, works=(time(0), time(23, 59))):
        def fits(by):
            return all(time(6, 30) <= (moment + timedelta(minutes=by)).time() <= time(22, 30) for moment in settings)

        return later_by_min(fits, pour_at=NOON, works=lambda moment: works[0] <= moment.time() <= works[1])

    assert later(NOON, NIGHT) == 7 * 60
    assert later(NOON) == 0
    assert later(*(NOON + timedelta(hours=6 * k) for k in range(4))) is None
    assert later(NOON, works=(time(14), time(19))) == 2 * 60, "in working hours, if that can be had"
    assert later(NOON, works=(time(3), time(4))) is None, "nobody is sent to the metal at night"


def test_kiln_on_asleep_fires():
    """On at half past two, up at half past six: four hours later it goes on by day, and is poured four hours later."""
    early, up = datetime(2026, 11, 27, 2, 30, tzinfo=UTC), datetime(2026, 11, 27, 6, 30, tzinfo=UTC)
    found = told(on_at=early, wakes_at=up)["kiln-on-asleep"]
    assert found.severity == "warn"
    assert "02:30 on Friday" in found.says
    assert found.do.startswith("Pour on Fri at 22:00 or later: then it goes on at 06:30.")
    assert "delayed_start" in found.do


def test_kiln_on_asleep_stays_silent():
    assert "kiln-on-asleep" not in told(on_at=datetime(2026, 11, 27, 2, 30, tzinfo=UTC))


def test_set_while_asleep_stays_silent():
    assert "set-while-asleep" not in told()


@pytest.mark.parametrize(("allowed", "severity"), [(True, "note"), (False, "warn")])
def test_burnout_overnight_fires(allowed, severity):
    found = told(overnight=True, allowed=allowed)["burnout-overnight"]
    assert found.severity == severity
    assert found.do.startswith("Smoke alarm.")
    assert ("forbids" in found.says) is not allowed


def test_burnout_overnight_stays_silent():
    assert "burnout-overnight" not in told(allowed=False)


def test_burnout_pour_late_fires():
    found = told(outside=(NIGHT,))["burnout-pour-late"]
    assert found.severity == "note"
    assert "Fri 23:30" in found.says
    assert found.limit == "08:00 to 19:00"


def test_burnout_pour_late_stays_silent():
    assert told() == {}
