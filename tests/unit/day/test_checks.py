"""Findings of the day: each fires and stays silent."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

from pourwell.findings import Finding
from pourwell.materials.studio import Studio
from pourwell.steps.day.checks import Facts, findings
from pourwell.steps.day.plan import Found
from tests.unit.day.case import HOURS, POUR, entries_of, run

LONG_AGO = datetime(2027, 1, 1, tzinfo=UTC)
KNOWN = Studio(
    given=frozenset(
        {
            "casting.way",
            "melting.way",
            "melting.crucible_cm3",
            "investing_vacuum",
            "kiln.segments_count",
            "kiln.fall_c_per_h",
            "kiln.error_k",
            "altitude_m",
            "work_from",
            "flasks",
        }
    )
)


def found(**changes: object) -> dict[str, Finding]:
    """The findings of a quiet day with something changed, by code."""
    quiet = entries_of(run(pattern="resin"))
    facts = Facts(entries=quiet, hours=HOURS, studio=KNOWN, base_assumed=False, calmer=None, now=LONG_AGO)
    return {f.code: f for f in findings(replace(facts, **changes))}  # type: ignore[arg-type]


def test_a_quiet_day_in_a_known_studio_has_no_finding() -> None:
    assert found() == {}


def test_day_begun_fires() -> None:
    entries = entries_of(run(pattern="resin"), kinds=1)
    late = found(entries=entries, now=entries[0].starts_at + timedelta(minutes=5))
    assert late["day-begun"].severity == "warn"
    assert "patterns" in late["day-begun"].says


def test_day_begun_stays_silent() -> None:
    entries = entries_of(run(pattern="resin"), kinds=1)
    assert "day-begun" not in found(entries=entries, now=entries[0].starts_at)


def test_day_outside_hours_fires() -> None:
    night = entries_of(run(pattern="resin"), pour_at=POUR + timedelta(hours=17))
    told = found(entries=night, calmer=Found(pour_at=POUR, longer_min=0))["day-outside-hours"]
    assert told.severity == "warn"
    assert "Fri" in told.says or "Sat" in told.says
    assert "10:00" in told.do
    assert "longer" in found(entries=night)["day-outside-hours"].do


def test_another_pour_is_offered_with_the_length_of_its_burnout_where_that_is_another() -> None:
    night = entries_of(run(pattern="resin"), pour_at=POUR + timedelta(hours=17))
    lines = {entry.key: entry for entry in night}
    now_min = round((lines["pour"].starts_at - lines["kiln"].starts_at).total_seconds() / 60)
    told = found(entries=night, calmer=Found(pour_at=POUR, longer_min=0, burnout_min=37 * 60))["day-outside-hours"]
    assert f"instead (the burnout then takes 37 h 00 min, now {now_min // 60} h {now_min % 60:02d} min), or" in told.do
    same = found(entries=night, calmer=Found(pour_at=POUR, longer_min=0, burnout_min=now_min))["day-outside-hours"]
    assert "takes" not in same.do


def test_one_late_step_is_told_in_the_singular_and_whose_hours_they_are() -> None:
    quiet = entries_of(run(pattern="resin"))
    last = tuple(replace(e, starts_at=e.starts_at + timedelta(hours=14)) if e.key == "cut" else e for e in quiet)
    told = found(entries=last)["day-outside-hours"]
    assert told.says.startswith("1 hands-on step falls outside your hours: Cut off")
    assert (told.limit, told.source) == ("08:00 to 19:00", "the studio's hours")
    assert found(entries=last, studio=Studio())["day-outside-hours"].source == "assumed"
    night = found(entries=entries_of(run(pattern="resin"), pour_at=POUR + timedelta(hours=17)))["day-outside-hours"]
    assert "hands-on steps fall outside" in night.says


def test_a_step_that_has_begun_but_not_ended_is_told_too() -> None:
    entries = entries_of(run(pattern="resin"), kinds=1)
    told = found(entries=entries, now=entries[0].ends_at - timedelta(minutes=1))["day-begun"]
    assert f"{entries[0].starts_at:%H:%M}" in told.says


def test_day_outside_hours_names_the_longer_hold_that_helps() -> None:
    night = entries_of(run(pattern="resin"), pour_at=POUR + timedelta(hours=17))
    told = found(entries=night, calmer=Found(pour_at=POUR, longer_min=150))["day-outside-hours"]
    assert "2 h 30 min longer" in told.do
    assert "10:00" in told.do


def test_settings_of_the_kiln_in_the_night_are_the_same_stop_as_of_a_burnout_by_itself() -> None:
    by_hand = entries_of(run(pattern="resin", studio=Studio(kiln={"segments_count": 0})))
    told = found(entries=by_hand)["set-while-asleep"]
    assert told.severity == "stop"
    assert "while you sleep" in told.says
    assert "controller" in told.do
    assert told.says.count(":") >= 4
    assert "day-outside-hours" not in found(entries=by_hand)


def test_the_pour_that_has_no_setting_in_the_night_is_named_where_there_is_one() -> None:
    """One setting, an hour after bedtime: seven and a half hours later it comes as he has risen, and so does the pour."""
    entries = entries_of(run(pattern="resin"))
    kiln = next(e for e in entries if e.key == "kiln")
    late = datetime.combine(kiln.starts_at.date(), time(23), tzinfo=kiln.starts_at.tzinfo)
    told = found(entries=tuple(replace(e, moments=(late,)) if e.key == "kiln" else e for e in entries))["set-while-asleep"]
    assert told.do.startswith("Pour on Fri at 17:30: then none falls into the night.")
    lasting = tuple(replace(e, moments=(late,)) if e.key == "kiln" else e for e in entries)
    longer = found(entries=lasting, takes=lambda by_min: 37 * 60 if by_min >= 60 else None)["set-while-asleep"]
    assert longer.do.startswith("Pour on Fri at 11:00: then none falls into the night (the burnout then takes 37 h 00 min, now ")


def test_a_setting_in_the_evening_is_no_night_work() -> None:
    """At the bench till seven, awake till half past ten: the kiln may be set at nine."""
    studio = Studio(kiln={"segments_count": 0})
    made = entries_of(run(pattern="resin", studio=studio))
    kiln = next(e for e in made if e.key == "kiln")
    evening, night = (datetime.combine(kiln.starts_at.date(), time(hour), tzinfo=kiln.starts_at.tzinfo) for hour in (21, 23))

    def told(*moments: datetime) -> set[str]:
        return set(found(entries=tuple(replace(e, moments=moments) if e.key == "kiln" else e for e in made), studio=studio))

    assert "set-while-asleep" not in told(evening)
    assert "set-while-asleep" in told(evening, night)


def test_day_outside_hours_stays_silent() -> None:
    assert "day-outside-hours" not in found()


def test_day_clock_change_fires() -> None:
    autumn = entries_of(run(pattern="resin"), pour_at=datetime(2027, 10, 31, 10, tzinfo=UTC))
    assert "back by 60 min" in found(entries=autumn)["day-clock-change"].says
    spring = entries_of(run(pattern="resin"), pour_at=datetime(2027, 3, 28, 10, tzinfo=UTC))
    assert "forward by 60 min" in found(entries=spring)["day-clock-change"].says


def test_day_clock_change_stays_silent() -> None:
    assert "day-clock-change" not in found()


def test_studio_assumed_fires() -> None:
    told = found(studio=Studio(), base_assumed=True)["studio-assumed"]
    assert told.severity == "note"
    for word in ("vacuum", "torch", "{k:120} an hour", "right to {k:5.5}", "sea level", "rubber base"):
        assert word in told.says


def test_studio_assumed_stays_silent() -> None:
    assert "studio-assumed" not in found()


def test_stands_long_fires() -> None:
    """Five flasks of one load: the first waits for the other four."""
    entries = entries_of(run(pattern="resin"))
    stands_h = next((e.ends_at - e.starts_at) / timedelta(hours=1) for e in entries if e.key == "set")
    told = found(stand_max_h=stands_h - 0.1)["stands-long"]
    assert told.severity == "warn"
    assert "damp cloth" in told.do


def test_stands_long_stays_silent() -> None:
    assert "stands-long" not in found(stand_max_h=3.0)


def test_fires_overnight_fires() -> None:
    """A usual burnout of sixteen hours, in a studio that forbids the night."""
    told = found(studio=KNOWN.model_copy(update={"overnight_firing": False}))["fires-overnight"]
    assert told.severity == "warn"
    assert "forbids firing overnight" in told.says
    assert "pourwell day" in told.do


def test_fires_overnight_stays_silent() -> None:
    assert "fires-overnight" not in found()
    awake = {"overnight_firing": False, "sleep_to": time(0), "sleep_from": time(23, 59)}
    kiln, pour = (next(e for e in entries_of(run(pattern="resin")) if e.key == key) for key in ("kiln", "pour"))
    assert ("fires-overnight" in found(studio=KNOWN.model_copy(update=awake))) is (kiln.starts_at.date() != pour.starts_at.date())
