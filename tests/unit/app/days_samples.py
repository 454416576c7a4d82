"""The days ahead as the work gives them: two runs in a firing each, or together."""

from datetime import UTC, datetime, timedelta

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)
SEGMENT = {"number": 1, "ramp_c_per_h": 90.0, "target_c": 150.0, "hold_min": 120, "why": "resin swells slowly"}


def at(hours):
    return (NOW + timedelta(hours=hours)).isoformat(timespec="minutes")


def flask(number, pour_h, **more):
    out = {
        "number": number, "name": f"Studs {number}", "alloy_name": "sterling silver", "flask": "64x64", "mark": "",
        "flask_c": 540.0, "metal_c": 970.0, "kiln": "kiln", "kiln_on_at": at(pour_h - 17), "pour_at": at(pour_h), "bagged": False,
    }  # fmt: skip
    return out | more


def load(number, runs, *, on_h, **more):
    out = {
        "number": number, "kiln": "kiln", "runs": list(runs), "on_at": at(on_h), "off_at": at(on_h + 17), "free_at": at(on_h + 22),
        "programme": "resin in gypsum", "typed": "", "how": "Type into the controller", "longer_min": 0, "overnight": True,
        "segments": [SEGMENT], "settings": [], "curve": [{"at": at(on_h), "set_c": 20.0}, {"at": at(on_h + 17), "set_c": 540.0}],
    }  # fmt: skip
    return out | more


def job(hours, minutes, says, where, **more):
    return {"at": at(hours), "minutes": minutes, "key": "invest", "says": says, "where": where, "why": "", **more}


def placed(runs, loads, *, findings=()):
    day = NOW.replace(hour=0, minute=0)
    jobs = [
        job(2, 20, "Mix, pour the slurry", "run 1, Studs 1"),
        job(8, 0, "Kiln on: start the programme", "kiln, run 1", key="on", why="Extraction on."),
    ]
    block = {"run": 1, "word": "invest", "starts_at": at(2), "ends_at": at(2.3)}
    days = [
        {
            "starts_at": (day + timedelta(days=k)).isoformat(),
            "ends_at": (day + timedelta(days=k + 1)).isoformat(),
            "jobs": [],
            "blocks": [],
        }
        for k in range(3)
    ]
    days[0] |= {"jobs": jobs, "blocks": [block]}
    return {
        "title": "The days ahead", "says": "last pour Friday 27 November, 09:30: nothing sooner fits.", "made_at": at(0),
        "runs": runs, "loads": loads, "days": days, "closed_days": ["2026-11-28"], "work_hours": ["08:00:00", "19:00:00"],
        "overnight": "Extraction on.", "findings": list(findings),
    }  # fmt: skip


def apart():
    """Runs 1 and 2, one after the other."""
    return placed([flask(1, 25), flask(2, 49)], [load(1, [1], on_h=8), load(2, [2], on_h=32)])


def together():
    """Runs 1 and 2 in one firing, run 1 with two flasks."""
    return placed([flask(1, 25), flask(3, 26), flask(2, 27)], [load(1, [1, 3, 2], on_h=8)])


def answer(data):
    return {"data": data, "files": {"day.pdf": b"%PDF", "day.ics": b"BEGIN:VCALENDAR"}}


def nothing(*offers):
    return {"data": {"nothing": {"what": "Nothing fits.", "why": "No rota serves them.", "offers": list(offers)}}, "files": {}}


def offer(key, *, value="", pour_h=26):
    return {"key": key, "says": f"give up {key}", "buys": "pour Friday", "value": value, "pour_at": at(pour_h)}
