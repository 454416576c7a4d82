"""What the page of the days ahead shows, read again by somebody who knows nothing of how it came about.

Every rule of docs/day.md that can be seen in the figures of the page: hands, hours, kilns, pours, and that its parts agree.
"""

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from itertools import pairwise
from typing import Any

AT_THE_KILN = ("on", "set", "look", "mains")


def moment(text: str) -> datetime:
    return datetime.fromisoformat(text)


def minutes(start: str, end: str) -> float:
    return (moment(end) - moment(start)).total_seconds() / 60


def jobs_of(page: dict[str, Any]) -> list[dict[str, Any]]:
    return [job for day in page["days"] for job in day["jobs"]]


def faults(page: dict[str, Any]) -> list[str]:
    """Everything that the page breaks, in words; nothing for a good one."""
    return [*_hands(page), *_days(page), *_kilns(page), *_pours(page), *_picture(page)]


def _hands(page: dict[str, Any]) -> Iterator[str]:
    opens, closes = (time.fromisoformat(text) for text in page["work_hours"])
    work = [job for job in jobs_of(page) if job["minutes"]]
    for one, other in pairwise(work):
        if moment(one["at"]) + timedelta(minutes=one["minutes"]) > moment(other["at"]):
            yield f"hands at once: {one['says']} at {one['at']} and {other['says']} at {other['at']}"
    for job in work:
        start = moment(job["at"])
        end = start + timedelta(minutes=job["minutes"])
        if not opens <= start.time() or end.time() > closes or start.date() != end.date():
            yield f"{job['says']} at {start:%H:%M} to {end:%H:%M} lies outside the hours"
        if start.date().isoformat() in page["closed_days"]:
            yield f"{job['says']} lies on a day off"


def _days(page: dict[str, Any]) -> Iterator[str]:
    for one, other in pairwise(page["days"]):
        if one["ends_at"] != other["starts_at"]:
            yield f"no day follows {one['starts_at']}"
    for day in page["days"]:
        moments = [moment(job["at"]) for job in day["jobs"]]
        if moments != sorted(moments):
            yield f"the list of {day['starts_at']} is not by the clock"
        if any(not moment(day["starts_at"]) <= at < moment(day["ends_at"]) for at in moments):
            yield f"something stands on {day['starts_at']} that is done on another day"


def _kilns(page: dict[str, Any]) -> Iterator[str]:
    jobs = jobs_of(page)
    for load in page["loads"]:
        name = f"firing {load['number']}"
        if not any(job["key"] in ("on", "set") and job["at"] == load["on_at"] for job in jobs):
            yield f"nobody is told to switch {name} on"
        if not moment(load["on_at"]) < moment(load["off_at"]) < moment(load["free_at"]):
            yield f"{name} is free before it is over"
        curve = [(moment(point["at"]), point["set_c"]) for point in load["curve"]]
        if curve != sorted(curve, key=lambda point: point[0]):
            yield f"the line of {name} runs back"
        if abs(minutes(load["on_at"], load["curve"][0]["at"])) > 1 or abs(minutes(load["off_at"], load["curve"][-1]["at"])) > 1:
            yield f"the line of {name} is not as long as its firing"
        if load["segments"]:
            whole = sum(one["ramp_min"] + one["hold_min"] for one in load["segments"])
            if abs(whole - minutes(load["on_at"], load["off_at"])) > 2:
                yield f"what is typed for {name} takes {whole} min, and it is on for {minutes(load['on_at'], load['off_at'])}"
    for kiln in {load["kiln"] for load in page["loads"]}:
        mine = sorted((load for load in page["loads"] if load["kiln"] == kiln), key=lambda load: moment(load["on_at"]))
        for one, other in pairwise(mine):
            if moment(other["on_at"]) < moment(one["free_at"]):
                yield f"firing {other['number']} goes into {kiln} before it has cooled"


def _pours(page: dict[str, Any]) -> Iterator[str]:
    jobs, loads = jobs_of(page), page["loads"]
    for run in page["runs"]:
        mine = [load for load in loads if run["number"] in load["runs"]]
        if len(mine) != 1:
            yield f"run {run['number']} stands in {len(mine)} firings"
            continue
        (load,) = mine
        if run["kiln"] != load["kiln"] or run["kiln_on_at"] != load["on_at"]:
            yield f"run {run['number']} stands in another kiln than its firing"
        if not moment(load["on_at"]) < moment(run["pour_at"]) <= moment(load["off_at"]):
            yield f"run {run['number']} is poured when its kiln is off"
        if not any(job["key"] == "pour" and job["at"] == run["pour_at"] for job in jobs):
            yield f"nobody is told to pour run {run['number']}"
        if not any(job["key"] == "mains" and job["at"] == run["pour_at"] for job in jobs):
            yield f"the kiln is not off at the mains when run {run['number']} is taken out"
    for load in loads:
        poured = [next(run["pour_at"] for run in page["runs"] if run["number"] == number) for number in load["runs"]]
        if poured != sorted(poured, key=moment) or poured[-1] != load["off_at"]:
            yield f"the runs of firing {load['number']} are not in the order of their pours"


def _picture(page: dict[str, Any]) -> Iterator[str]:
    for day in page["days"]:
        worked = sum(job["minutes"] for job in day["jobs"])
        drawn = sum(minutes(block["starts_at"], block["ends_at"]) for block in day["blocks"])
        if abs(worked - drawn) > 1:
            yield f"on {day['starts_at']} {worked} min are worked and {drawn:.0f} drawn"
