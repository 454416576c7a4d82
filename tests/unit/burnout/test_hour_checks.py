"""Findings on the hours of a burnout: each fires and stays silent."""

from dataclasses import replace
from datetime import UTC, datetime, time

import pytest

from pourwell.steps.burnout.hour_checks import Hours, findings

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
