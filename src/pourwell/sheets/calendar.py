"""The day as an iCalendar file: one event for each line of the timeline, an alarm before hands-on work."""

from collections import Counter
from datetime import UTC, timedelta
from uuid import NAMESPACE_URL, uuid5

from icalendar import Alarm, Event
from icalendar import Calendar as Book

from pourwell.findings import Severity, in_order
from pourwell.plan import Plan
from pourwell.sheets.display import Display, span
from pourwell.steps.day.model import Entry

ALARM_BEFORE = timedelta(minutes=10)
SPACE = "https://pourwell.invalid/run/"
"""Made part of every event's own number, so that it is like no other program's."""


def calendar(plan: Plan) -> bytes:
    """The timeline as iCalendar; all times in UTC, so that a change of the clocks is right wherever it is read.

    An event keeps its number when the run is planned anew, so that reading the file again moves it instead of doubling it.
    """
    book = Book()
    book.add("prodid", "-//Pourwell//run sheet//EN")
    book.add("version", "2.0")
    book.add("method", "PUBLISH")
    book.add("x-wr-calname", f"Run {plan.number}: {plan.title}")
    seen: Counter[str] = Counter()
    for entry in plan.timeline:
        seen[entry.key] += 1
        book.add_component(_event(plan, entry, nth=seen[entry.key]))
    data: bytes = book.to_ical()
    return data


def _event(plan: Plan, entry: Entry, *, nth: int) -> Event:
    made_at = plan.made_at.astimezone(UTC)
    event = Event()
    event.add("uid", str(uuid5(NAMESPACE_URL, f"{SPACE}{plan.studio.name}/{plan.number}/{plan.title}/{entry.key}/{nth}")))
    event.add("dtstamp", made_at)
    event.add("sequence", int(made_at.timestamp()) // 60)
    event.add("dtstart", entry.starts_at.astimezone(UTC))
    event.add("dtend", entry.ends_at.astimezone(UTC))
    event.add("summary", _summary(plan, entry))
    event.add("description", _description(plan, entry))
    event.add("transp", "OPAQUE" if entry.hands_on_min else "TRANSPARENT")
    if entry.hands_on_min:
        event.add_component(_alarm(_summary(plan, entry)))
    return event


def _summary(plan: Plan, entry: Entry) -> str:
    stamp = "DO NOT POUR: " if plan.stopped else ""
    return f"{stamp}{Display().text(entry.says)} (run {plan.number})"


def _description(plan: Plan, entry: Entry) -> str:
    show, heat = Display(), plan.temperatures
    lines = [f"Hands on {span(entry.hands_on_min)} h." if entry.hands_on_min else "Waiting."]
    if entry.key == "pour":
        lines.append(f"Flask temperature {heat.flask_c:.0f} °C, metal temperature {heat.metal_c:.0f} °C.")
        lines.append(f"Charge {show.metal(plan.charge.total_g)} g.")
    lines += [f"STOP: {show.text(f.says)}" for f in in_order(plan.findings) if f.severity is Severity.STOP]
    return "\n".join(lines)


def _alarm(says: str) -> Alarm:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", says)
    alarm.add("trigger", -ALARM_BEFORE)
    return alarm
