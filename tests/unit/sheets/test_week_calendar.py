"""A week as iCalendar: times, alarms before hands-on work, numbers that outlive a new rota."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

from icalendar import Calendar

from pourwell.materials.studio import Kiln
from pourwell.sheets.week_calendar import week_calendar
from pourwell.steps.day.week_jobs import work_of
from tests.unit.day.weeks import entry, placed, planned, studio


def events(plan) -> list:
    return list(Calendar.from_ical(week_calendar(plan)).walk("VEVENT"))


def test_every_piece_of_work_is_an_event_with_an_alarm():
    plan = planned("rings", "signets")
    work = [e for e in events(plan) if e["transp"] == "OPAQUE"]
    assert [e["dtstart"].dt for e in work] == [job.at for job in work_of(plan)]
    for event, job in zip(work, work_of(plan), strict=True):
        (alarm,) = event.walk("VALARM")
        assert alarm["trigger"].dt == timedelta(minutes=0 if job.key == "on" else -10), job.key


def test_a_firing_leaves_the_hours_free_and_rings_nothing():
    plan = planned("rings", "signets")
    (firing,) = [e for e in events(plan) if e["transp"] == "TRANSPARENT"]
    assert (firing["dtstart"].dt, firing["dtend"].dt) == (plan.loads[0].on_at, plan.loads[0].off_at)
    assert not list(firing.walk("VALARM"))
    assert "runs 2, 1" in str(firing["summary"])
    assert ("carbon monoxide" in str(firing.get("description", ""))) == plan.loads[0].overnight
    assert plan.loads[0].overnight, "else this says nothing"


def test_the_pour_tells_its_temperatures():
    plan = planned("rings")
    pour = next(e for e in events(plan) if str(e["summary"]).startswith("Pour"))
    assert "Flask temperature 540 °C, metal temperature" in str(pour["description"])


def test_whoever_reaches_into_a_kiln_is_told_what_to_set_it_to_for_the_flask_that_stays():
    """Runs 2 at 565 and 1 at 540 degC share a kiln: after the first it is set by hand to what the second is poured at."""
    plan = planned("rings", "signets")
    first, last = [e for e in events(plan) if "mains" in str(e["summary"])]
    assert [e["dtstart"].dt for e in (first, last)] == [r.pour_at for r in sorted(plan.runs, key=lambda r: r.pour_at)]
    assert "run 2 out, door shut, kiln on again, by hand to 540 °C and hold" in str(first["summary"])
    assert "segment 1" in str(first["description"])
    assert "it stays off: run 1 is the last" in str(last["summary"])


def test_times_are_universal():
    plan = placed("rings", now=datetime(2027, 6, 1, 7, 0, tzinfo=UTC))
    pour = next(e for e in events(plan) if str(e["summary"]).startswith("Pour"))
    assert plan.runs[0].pour_at.hour == 8
    assert pour["dtstart"].dt == datetime(2027, 6, 2, 7, 40, tzinfo=UTC)
    assert b"DTSTART:20270602T074000Z" in week_calendar(plan)


def test_numbers_stay_when_the_week_is_placed_anew_and_differ_among_events():
    early, late = planned("rings"), placed("rings", now=datetime(2027, 3, 1, 9, 30, tzinfo=UTC))
    first, second = ([str(e["uid"]) for e in events(plan)] for plan in (early, late))
    assert first == second
    assert len(set(first)) == len(first)
    assert events(late)[0]["sequence"] > events(early)[0]["sequence"]
    other = replace(early, title="Another week")
    assert not {str(e["uid"]) for e in events(other)} & set(first)


def test_every_setting_of_a_kiln_by_hand_rings():
    awake = {"sleep_from": time(0), "sleep_to": time(1)}
    plan = placed(entry("stones"), of=studio(kiln=Kiln(segments_count=0), **awake))
    starts = ("Kiln on: set it to", "Set the kiln to")
    settings = [e for e in events(plan) if any(words in str(e["summary"]) for words in starts)]
    assert len(settings) == sum(not s.looks for s in plan.loads[0].settings) > 3
    assert {a["trigger"].dt for e in settings for a in e.walk("VALARM")} == {timedelta(0)}
    assert {s.at.minute % 5 for s in plan.loads[0].settings[1:]} == {0}
    assert "{t:" not in str(settings[0]["summary"])
    assert all("it shows about" in str(e["summary"]) for e in settings)
    assert "slowly" in str(settings[0]["description"])


def test_the_last_look_of_a_day_rings_as_a_look_and_sets_nothing():
    plan = placed(entry("studs"), of=studio(kiln=Kiln(segments_count=0)))
    (look,) = [e for e in events(plan) if str(e["summary"]).startswith("Look before you sleep: it must show")]
    (point,) = [s for s in plan.loads[0].settings if s.looks]
    assert look["dtstart"].dt == point.at
    assert {a["trigger"].dt for a in look.walk("VALARM")} == {timedelta(0)}


def test_a_kiln_that_fires_at_night_carries_its_cautions_where_it_is_begun_and_before_bed():
    for of in (None, studio(kiln=Kiln(segments_count=0))):
        plan = placed(entry("studs"), of=of)
        assert plan.loads[0].overnight
        starts = ("Kiln on", "Look before you sleep", "kiln: ")
        told = [e for e in events(plan) if str(e["summary"]).startswith(starts)]
        assert len(told) >= 2
        for event in told:
            for words in ("Extraction on", "smoke alarm", "carbon monoxide", "nothing flammable", "solvent", "Local rules"):
                assert words in str(event["description"]), event["summary"]
        assert any(f.code == "week-overnight" and "carbon monoxide" in f.do for f in plan.findings)


def test_a_title_that_is_no_plain_line_does_not_break_the_file():
    made = replace(planned("rings"), title="Rings\r\nBEGIN:VEVENT")
    assert len(events(made)) == len(events(planned("rings")))
