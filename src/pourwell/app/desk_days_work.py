"""What the desk has done for the days ahead: runs and trees that are not drawn yet placed over them. Plain data comes out."""

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any

from pourwell.app.days import contents, place_week, usual_of
from pourwell.app.days_told import goal_words
from pourwell.app.desk_words import DAYS_FILES, for_desk
from pourwell.app.desk_work import asked_of_run, findings_data, named
from pourwell.app.shop import Shop, open_shop
from pourwell.files.plan_json import plain
from pourwell.files.week_toml import build_run, build_week, requested
from pourwell.materials.library import Library
from pourwell.request import RunOfWeek, WeekRequest
from pourwell.sheets.week_sheet import how_typed
from pourwell.sheets.week_view import Day, blocks, days_of, jobs_by_day
from pourwell.steps.day.clock import after
from pourwell.steps.day.night import OVERNIGHT
from pourwell.steps.day.nothing_fits import NothingFitsError, bought
from pourwell.steps.day.week_fired import as_typed
from pourwell.steps.day.week_plan import PlannedLoad, WeekPlan

Tell = Callable[[str], None]
WHERE = "desk"


def place_days(folder: Path, asked: Mapping[str, Any], now: datetime, *, tell: Tell) -> dict[str, Any]:
    """Runs placed over the days: `data` for the page, `files` by name. `asked` holds `entries` and `week`, as the form was read.

    Where nothing fits, `data` says under `nothing` why, and what may be given up. Raises PourwellError for what cannot be placed.
    """
    shop = open_shop(folder)
    with ExitStack() as lying:
        request = week_of_form(asked, shop=shop, lying=lying)
        try:
            plan = place_week(request, shop=shop, now=now, tell=tell)
        except NothingFitsError as err:
            return {"data": {"nothing": _nothing(err)}, "files": {}}
        files = {name: content for name, content in contents(plan, shop, tell).items() if name in DAYS_FILES}
    return {"data": days_page(plan, library=shop.library, zone=shop.studio.zone), "files": files}


def week_of_form(asked: Mapping[str, Any], *, shop: Shop, lying: ExitStack) -> WeekRequest:
    """The request; pattern files lie under their own names until `lying` is closed."""
    runs = [_run(entry, shop=shop, lying=lying) for entry in asked["entries"]]
    said = {key: value for key, value in asked["week"].items() if value is not None}
    return build_week({**said, "runs": runs}, where=WHERE)


def _run(entry: Mapping[str, Any], *, shop: Shop, lying: ExitStack) -> RunOfWeek:
    """A run by its own form, or a tree that is not drawn yet."""
    own = {"number": entry["number"], **{key: value for key, value in entry["when"].items() if value is not None}}
    if "run_id" in entry:
        pieces = entry["pieces"]
        paths = lying.enter_context(named(pieces))
        request = asked_of_run(entry["request"], pieces, paths=paths, shop=shop, number=entry["number"])
        return build_run(own | {"request": request}, where=WHERE)
    counts = {key: entry[key] for key in ("name", "pieces_count", "flasks_count")}
    return build_run(own | counts | requested(entry["request"], where=WHERE, usual_weight_g=usual_of(shop)), where=WHERE)


def _nothing(err: NothingFitsError) -> dict[str, Any]:
    """Why nothing fits, and what may be given up: in words, with what that buys, and what a field would have to say."""
    offers = [
        {"key": one.key, "says": one.says, "buys": bought(one), "value": one.value, "pour_at": one.first_pour_at}
        for one in err.offers
    ]
    told: dict[str, Any] = plain({"what": err.what, "why": err.why, "offers": offers})
    return told


def days_page(plan: WeekPlan, *, library: Library, zone: tzinfo | None) -> dict[str, Any]:
    """A week as the page shows it."""
    days = days_of(plan, zone)
    jobs = {moment.date(): told for moment, told in jobs_by_day(plan)}
    told: dict[str, Any] = plain(
        {
            "title": plan.title,
            "says": goal_words(plan),
            "made_at": plan.made_at,
            "runs": [{name: getattr(run, name) for name in OF_A_RUN} for run in plan.runs],
            "loads": [_load(load, plan.loads) for load in plan.loads],
            "days": [_day(plan, day, jobs.get(day.starts_at.date(), []), zone=zone) for day in days],
            "closed_days": plan.closed_days,
            "work_hours": plan.work_hours,
            "overnight": OVERNIGHT if any(load.overnight for load in plan.loads) else "",
        }
    )
    return told | {"findings": findings_data(plan.findings, library)}


OF_A_RUN = ("number", "name", "alloy_name", "flask", "mark", "flask_c", "metal_c", "kiln", "kiln_on_at", "pour_at", "bagged")


def _day(plan: WeekPlan, day: Day, jobs: Sequence[Any], *, zone: tzinfo | None) -> dict[str, Any]:
    """A day: what is to be done on it, and its blocks of work."""
    return {
        "starts_at": day.starts_at,
        "ends_at": day.ends_at,
        "jobs": [
            {
                "at": job.at,
                "minutes": job.minutes,
                "key": job.key,
                "says": for_desk(job.says),
                "where": job.where,
                "why": for_desk(job.why),
            }
            for job in jobs
        ],
        "blocks": [
            {
                "run": block.run,
                "word": block.word,
                "starts_at": after(day.starts_at, block.from_min, zone=zone),
                "ends_at": after(day.starts_at, block.to_min, zone=zone),
            }
            for block in blocks(plan, day)
        ],
    }


def _load(load: PlannedLoad, loads: Sequence[PlannedLoad]) -> dict[str, Any]:
    """A firing: when, what goes in, what is typed or set by hand."""
    by_hand = bool(load.settings) and load.settings[0].at == load.on_at
    return {
        "number": load.number,
        "kiln": load.kiln,
        "runs": load.runs,
        "on_at": load.on_at,
        "off_at": load.off_at,
        "free_at": load.free_at,
        "programme": load.programme.name,
        "typed": as_typed(load, loads),
        "how": how_typed(load),
        "longer_min": load.longer_min,
        "overnight": load.overnight,
        "segments": () if by_hand else load.programme.segments,
        "settings": [
            {"at": one.at, "set_c": one.set_c, "seen_c": one.seen_c, "why": for_desk(one.why), "looks": one.looks}
            for one in load.settings
        ],
        "curve": load.curve,
    }
