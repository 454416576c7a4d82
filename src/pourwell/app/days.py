"""Several runs placed over several days, and the files that tell of them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any, Final

from pourwell.app.checking import measure_pieces
from pourwell.app.planning import SILENT, keep_inputs
from pourwell.app.shop import Shop, open_shop
from pourwell.errors import BadRequestError
from pourwell.files.folder import LIST, check_folder, write_folder
from pourwell.files.plan_json import plain, spelt, to_bytes
from pourwell.files.week_toml import UsualWeight, build_run, build_week, read_hour, read_week, requested
from pourwell.request import RunOfWeek, WeekRequest
from pourwell.sheets.display import display_of
from pourwell.sheets.week_calendar import week_calendar
from pourwell.sheets.week_picture import week_picture
from pourwell.sheets.week_sheet import week_sheet
from pourwell.steps.day.clock import local
from pourwell.steps.day.open_hours import read_soon
from pourwell.steps.day.week_plan import WeekPlan
from pourwell.week import plan_week, usual_weight_g

SCHEMA: Final = "pourwell.day"
SCHEMA_VERSION: Final = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class DayWishes:
    """What the command line says besides the files; None or False: nothing said."""

    alloy: str | None = None
    flask: str | None = None
    pattern: str | None = None
    investment: str | None = None
    pieces_count: int | None = None
    flasks_count: int | None = None
    weight_g: float | None = None
    pour_at: str | None = None
    start_at: str | None = None
    work_from: str | None = None
    work_to: str | None = None
    days_off: tuple[str, ...] = ()
    wait_max_min: int | None = None
    bag_damp: bool = False
    no_overnight: bool = False
    fire_apart: bool = False
    title: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A week that was placed, and where its files lie."""

    plan: WeekPlan
    paths: tuple[Path, ...]

    @property
    def data(self) -> dict[str, Any]:
        """The same for a program."""
        return day_data(self.plan) | ({"files": plain(list(self.paths))} if self.paths else {})


def day_data(plan: WeekPlan) -> dict[str, Any]:
    """A week as JSON's own types; docs/day.md says what the keys mean."""
    data: dict[str, Any] = spelt(
        plain({"schema": SCHEMA, "schema_version": SCHEMA_VERSION} | {f.name: getattr(plan, f.name) for f in fields(plan)})
    )
    return data


def week_of_words(files: Sequence[str], wishes: DayWishes, *, shop: Shop, now: datetime) -> WeekRequest:
    """The request from words of the command line; they win over those of the files.

    Raises BadDataError for a file that does not say what it must, BadRequestError where nothing is to be cast.
    """
    zone = shop.studio.zone

    usual = usual_of(shop)
    weeks = [read_week(Path(name), now=now, zone=zone, usual_weight_g=usual) for name in files]
    runs = [run for week in weeks for run in week.runs]
    own = {name: getattr(wishes, name) for name in ("alloy", "flask", "pattern", "investment", "weight_g")}
    own = {name: value for name, value in own.items() if value is not None}
    if own and files:
        raise BadRequestError(
            f"The files say themselves what is cast; --{next(iter(own)).removesuffix('_g')} is for a run without a file.",
            try_this="Leave it out, or write it into the file.",
        )
    if own or not files:
        if "alloy" not in own:
            raise BadRequestError(
                "There is nothing to cast.", try_this="Name a week's file or job files, or give --alloy and --flask."
            )
        counts = {name: getattr(wishes, name) for name in ("pieces_count", "flasks_count") if getattr(wishes, name) is not None}
        runs.append(build_run({**requested(own, where="command line", usual_weight_g=usual), **counts}, where="command line"))
    said: dict[str, Any] = {
        "bag_damp": wishes.bag_damp or any(week.bag_damp for week in weeks),
        "fire_apart": wishes.fire_apart or any(week.fire_apart for week in weeks),
    }
    for name in ("title", "start_at", "pour_at", "work_from", "work_to", "days_off", "overnight_firing", "wait_max_min"):
        said[name] = next(
            (value for week in weeks if (value := getattr(week, name)) not in (None, "")), WeekRequest.model_fields[name].default
        )
    return build_week(said | _said(wishes, now=now, shop=shop) | {"runs": runs}, where="command line")


def usual_of(shop: Shop) -> UsualWeight:
    """What a usual tree in a flask weighs in this shop."""
    return partial(_usual_g, shop)


def _usual_g(shop: Shop, flask: str | None, pattern: str) -> float:
    return usual_weight_g(flask, pattern=pattern, studio=shop.studio, library=shop.library)


def _said(wishes: DayWishes, *, now: datetime, shop: Shop) -> dict[str, Any]:
    """What the command line says of the week itself."""
    zone = shop.studio.zone
    said: dict[str, Any] = {
        "title": wishes.title,
        "start_at": None if wishes.start_at is None else read_soon(wishes.start_at, now=now, zone=zone),
        "pour_at": None if wishes.pour_at is None else read_soon(wishes.pour_at, now=now, zone=zone),
        "work_from": None if wishes.work_from is None else read_hour(wishes.work_from),
        "work_to": None if wishes.work_to is None else read_hour(wishes.work_to),
        "days_off": wishes.days_off or None,
        "overnight_firing": False if wishes.no_overnight else None,
        "wait_max_min": wishes.wait_max_min,
    }
    return {name: value for name, value in said.items() if value is not None}


def place_week(request: WeekRequest, *, shop: Shop, now: datetime, tell: Callable[[str], None] = SILENT) -> WeekPlan:
    """Read, measure and place. Raises PourwellError for what cannot be placed."""
    measured = [_measured(run, shop=shop, tell=tell) for run in request.runs]
    return plan_week(request, measured, studio=shop.studio, library=shop.library, now=local(now, shop.studio.zone), tell=tell)


def _measured(run: RunOfWeek, *, shop: Shop, tell: Callable[[str], None]) -> Any:
    alloy, material = shop.library.alloy(run.request.alloy), shop.library.pattern(run.request.pattern)
    return tuple(measure_pieces(run.request.pieces, alloy=alloy, material=material, shop=shop, tell=tell))


def contents(plan: WeekPlan, shop: Shop, tell: Callable[[str], None] = SILENT) -> dict[str, bytes]:
    """The files of a week by name."""
    tell("Drawing the days")
    zone = shop.studio.zone
    picture = week_picture(plan, zone=zone)
    files = {
        "day.json": to_bytes(day_data(plan)),
        "day.ics": week_calendar(plan),
        "day.png": picture.png,
        "day.svg": picture.svg,
    }
    tell("Setting the sheet")
    files["day.pdf"] = week_sheet(plan, zone=zone, paper=shop.studio.paper, display=display_of(shop.studio))
    listed = {"schema": SCHEMA, "schema_version": SCHEMA_VERSION, "files": sorted([*files, LIST])}
    return files | {LIST: to_bytes(listed)}


def place_and_write(
    files: Sequence[str],
    wishes: DayWishes,
    *,
    out: Path | None,
    replace: bool,
    now: datetime,
    tell: Callable[[str], None] = SILENT,
) -> Placed:
    """From words of the command line to a week, written into a folder if one is named. Raises PourwellError for what cannot be."""
    shop = open_shop()
    request = week_of_words(files, wishes, shop=shop, now=local(now, shop.studio.zone))
    if out is not None:
        keep_inputs([*(p.file for run in request.runs for p in run.request.pieces), *map(Path, files)], out)
        check_folder(out, replace=replace)
    plan = place_week(request, shop=shop, now=now, tell=tell)
    paths = () if out is None else write_folder(out, contents(plan, shop, tell), replace=replace)
    return Placed(plan=plan, paths=paths)
