"""A week as an iCalendar file: one event for each hands-on line and each firing, alarms before what is done by hand."""

from datetime import UTC, datetime, timedelta
from typing import Final
from uuid import NAMESPACE_URL, uuid5

from icalendar import Calendar as Book
from icalendar import Event

from pourwell.errors import shown
from pourwell.sheets.calendar import AT_ONCE, SETTING, SPACE, alarm, calendar_name
from pourwell.sheets.display import Display
from pourwell.steps.day.night import OVERNIGHT
from pourwell.steps.day.week_jobs import Job, work_of
from pourwell.steps.day.week_plan import PlannedLoad, WeekPlan

AT_LEAST: Final = timedelta(minutes=1)
AT_THE_MINUTE: Final = ("on", "set", "look")
"""What rings when it is to be done, not before: it takes no getting ready."""


def week_calendar(plan: WeekPlan) -> bytes:
    """The days as iCalendar; all times in UTC, so that a change of the clocks is right wherever it is read.

    An event keeps its number when a week of the same title is placed anew, so that reading the file again moves it.
    """
    book = Book()
    book.add("prodid", "-//Pourwell//day//EN")
    book.add("version", "2.0")
    book.add("method", "PUBLISH")
    book.add("x-wr-calname", calendar_name(plan.title))
    seen: dict[str, int] = {}
    for job in work_of(plan):
        name = f"{job.where}/{job.key}"
        seen[name] = seen.get(name, 0) + 1
        book.add_component(_job(plan, job, name=f"{name}/{seen[name]}"))
    for load in plan.loads:
        book.add_component(_load(plan, load))
    data: bytes = book.to_ical()
    return data


def _job(plan: WeekPlan, job: Job, *, name: str) -> Event:
    says = shown(f"{Display().text(job.says)} ({job.where})")
    end = job.at + (timedelta(minutes=job.minutes) if job.minutes else SETTING)
    event = _bare(plan, name, start=job.at, end=max(end, job.at + AT_LEAST))
    event.add("summary", says)
    event.add("transp", "OPAQUE")
    if job.why:
        event.add("description", Display().text(job.why))
    if job.key == "pour":
        run = next(run for run in plan.runs if run.number == job.run)
        event.add(
            "description", f"Flask temperature {run.flask_c:.0f} °C, metal temperature {run.metal_c:.0f} °C. {run.alloy_name}."
        )
    event.add_component(alarm(says, before=AT_ONCE) if job.key in AT_THE_MINUTE else alarm(says))
    return event


def _load(plan: WeekPlan, load: PlannedLoad) -> Event:
    """A firing, which leaves the hours free."""
    runs = ", ".join(map(str, load.runs))
    event = _bare(plan, f"firing/{load.kiln}/{runs}", start=load.on_at, end=load.off_at)
    event.add("summary", shown(f"{load.kiln}: {load.programme.name}, run{'s' if len(load.runs) > 1 else ''} {runs}"))
    event.add("transp", "TRANSPARENT")
    if load.overnight:
        event.add("description", OVERNIGHT)
    return event


def _bare(plan: WeekPlan, name: str, *, start: datetime, end: datetime) -> Event:
    event = Event()
    made_at = plan.made_at.astimezone(UTC)
    event.add("uid", str(uuid5(NAMESPACE_URL, f"{SPACE}{plan.studio}/{plan.title}/{name}")))
    event.add("dtstamp", made_at)
    event.add("sequence", int(made_at.timestamp()) // 60)
    event.add("dtstart", start.astimezone(UTC).replace(second=0, microsecond=0))
    event.add("dtend", end.astimezone(UTC).replace(second=0, microsecond=0))
    return event
