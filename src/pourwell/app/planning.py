"""Plan a job and write its folder."""

import re
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, fields
from datetime import datetime
from pathlib import Path
from typing import Any

from pourwell.app.checking import measure_pieces, unit_of_files
from pourwell.app.pictures import printed_close_ups
from pourwell.app.shop import Shop, open_shop
from pourwell.app.work import side_by_side
from pourwell.errors import BadRequestError, OutputError
from pourwell.files.fields import COLOURED, fields_files, freezing_glb
from pourwell.files.folder import LIST, check_folder, write_folder
from pourwell.files.job_toml import build_request, read_job
from pourwell.files.plan_json import job_data, plan_data, to_bytes
from pourwell.files.solids import tree_glb, tree_stl
from pourwell.job import plan_runs
from pourwell.plan import Plan
from pourwell.request import Request
from pourwell.sheets.calendar import calendar
from pourwell.sheets.close_up import PrintedCloseUp
from pourwell.sheets.display import display_of
from pourwell.sheets.pictures import PrintedPictures, front_and_side, write_pictures
from pourwell.sheets.run_sheet import boxes, run_sheet
from pourwell.sheets.viewpoint import views
from pourwell.steps.day.clock import local, read
from pourwell.steps.pattern.model import Pattern

COUNTED = re.compile(r"(.+):(-?\d+)", re.DOTALL)
SILENT: Callable[[str], None] = lambda _: None  # noqa: E731


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the command line says besides the files; None or False: nothing said, so a job file decides."""

    weight_g: float | None = None
    base_g: float | None = None
    wax_g: float | None = None
    alloy: str | None = None
    pattern: str | None = None
    investment: str | None = None
    flask: str | None = None
    pour_at: str | None = None
    metal_c: float | None = None
    flask_c: float | None = None
    returns_fraction: float | None = None
    own_alloying: bool = False
    stones: bool = False
    programme: str | None = None
    kiln: str | None = None
    size: str | None = None
    units: str | None = None
    title: str | None = None
    run_number: int | None = None
    freeze: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What was planned and where it lies."""

    plans: tuple[Plan, ...]
    paths: tuple[Path, ...]
    data: list[dict[str, Any]] = field(default_factory=list)

    @property
    def stopped(self) -> bool:
        """Does a finding stop one of the runs."""
        return any(p.stopped for p in self.plans)


def split_count(text: str) -> tuple[str, int]:
    """A file and its count from "FILE" or "FILE:COUNT"; the last colon before digits splits, so a Windows drive is no count.

    Raises BadRequestError for a count under one.
    """
    match = COUNTED.fullmatch(text)
    if match is None or Path(text).exists():
        return text, 1
    name, count = match[1], int(match[2])
    if count < 1:
        raise BadRequestError(f'"{text}" asks for {count} pieces.', try_this=f"Write a count of one or more, as {name}:2.")
    return name, count


def request_of(files: Sequence[str], wishes: Wishes, shop: Shop) -> Request:
    """The request from words of the command line; they win over those of a job file."""
    zone = shop.studio.zone
    said = {f.name: getattr(wishes, f.name) for f in fields(wishes) if f.name not in ("size", "units", "pour_at")}
    said = {k: v for k, v in said.items() if v is not None and v is not False}
    if wishes.pour_at is not None:
        said["pour_at"] = read(wishes.pour_at, zone=zone)
    every = {"units": unit_of_files(wishes.units), "size": wishes.size}
    if len(files) == 1 and files[0].lower().endswith(".toml"):
        job = read_job(Path(files[0]), zone=zone)
        base = {name: getattr(job, name) for name in type(job).model_fields}
        if job.freeze is not None and wishes.freeze == "draft":  # which the command line says of itself
            said.pop("freeze")
        base["pieces"] = [piece.model_copy(update={k: v for k, v in every.items() if v}) for piece in job.pieces]
        return build_request(base | said, where="command line")
    if not files and wishes.weight_g is None:
        raise BadRequestError("There is nothing to cast.", try_this="Name pattern files, or give --weight of a tree on the scale.")
    if "alloy" not in said:
        raise BadRequestError("No alloy is named.", try_this="Add --alloy, for example --alloy sterling-925.")
    pieces = [dict(zip(("file", "count"), split_count(f), strict=True)) | every for f in files]
    return build_request(said | ({"pieces": pieces} if pieces else {}), where="command line")


def plan_job(request: Request, *, shop: Shop, now: datetime, tell: Callable[[str], None] = SILENT) -> tuple[Plan, ...]:
    """Read, measure and plan; one plan a run. Raises PourwellError for what cannot be planned."""
    alloy, material = shop.library.alloy(request.alloy), shop.library.pattern(request.pattern)
    measured = measure_pieces(request.pieces, alloy=alloy, material=material, shop=shop, tell=tell)
    return plan_runs(request, measured, studio=shop.studio, library=shop.library, now=local(now, shop.studio.zone), tell=tell)


def contents(plan: Plan, tell: Callable[[str], None] = SILENT) -> dict[str, bytes]:
    """The files of one run by name."""
    sprues = {place.piece: place.sprue.attachment.at_mm for place in (plan.tree.places if plan.tree else ())}

    def pictured(pattern: Pattern) -> tuple[PrintedPictures, dict[str, bytes], tuple[PrintedCloseUp, ...]]:
        tell(f"Drawing {pattern.piece.name}")
        seen, sprue = views(pattern), sprues.get(pattern.piece.id)
        grey = front_and_side(pattern, sprue_at_mm=sprue, seen=seen)
        return grey, write_pictures(pattern, sprue_at_mm=sprue, seen=seen, printed=grey), printed_close_ups(pattern, plan.findings)

    with ThreadPoolExecutor(1) as beside:
        solids = beside.submit(_solids, plan, tell)
        pictures = dict(zip((p.piece.id for p in plan.patterns), side_by_side(pictured, plan.patterns), strict=True))
    printed = {piece: grey for piece, (grey, _, _) in pictures.items()}
    close_ups = {piece: found for piece, (_, _, found) in pictures.items()}
    out = {"plan.json": to_bytes(plan_data(plan))}
    tell("Setting the run sheet")
    how = plan.studio
    out["run-sheet.pdf"] = run_sheet(plan, paper=how.paper, display=display_of(how), pictures=printed, close_ups=close_ups)
    out["day.ics"] = calendar(plan)
    for _, files, _ in pictures.values():
        out |= files
    out |= solids.result()
    if plan.fields is not None and plan.freezing is not None:
        tell("Writing how it freezes")
        out |= fields_files(plan.fields, plan.freezing)
        out[COLOURED] = freezing_glb(plan.tree_bodies, plan.fields, plan.freezing)
    return out


def _solids(plan: Plan, tell: Callable[[str], None]) -> dict[str, bytes]:
    """The files of the tree as solids; none if it is known by its weight alone."""
    out = {}
    if plan.tree_bodies:
        tell("Writing the tree")
        out["tree.glb"] = tree_glb(plan.tree_bodies)
    if plan.tree_cast is not None:
        out["tree.stl"] = tree_stl(plan.tree_cast)
    return out


def plan_and_write(
    files: Sequence[str],
    wishes: Wishes,
    *,
    out: Path,
    replace: bool,
    now: datetime,
    tell: Callable[[str], None] = SILENT,
) -> Written:
    """From words of the command line to a folder, whole or not at all. Raises PourwellError for what cannot be done."""
    shop = open_shop()
    request = request_of(files, wishes, shop)
    keep_inputs([*(piece.file for piece in request.pieces), *map(Path, files), *([shop.folder] if shop.folder else [])], out)
    check_folder(out, replace=replace)
    return write(plan_job(request, shop=shop, now=now, tell=tell), out=out, replace=replace, tell=tell)


def keep_inputs(inputs: Sequence[Path], out: Path) -> None:
    """Raise OutputError if the plan is made from something in the folder that it would replace."""
    folder = out.resolve()
    for path in inputs if folder.is_dir() else ():
        if path.exists() and path.resolve().is_relative_to(folder):
            raise OutputError(
                f"{path} lies in the folder {out}.",
                why="The plan is made from it, and the whole folder would be replaced.",
                try_this="Name another folder with --out.",
            )


def write(
    plans: tuple[Plan, ...],
    *,
    out: Path,
    replace: bool,
    beside: Mapping[str, bytes] | None = None,
    tell: Callable[[str], None] = SILENT,
) -> Written:
    """Write the plans of a job, and other files beside them, into one folder."""
    single = len(plans) == 1
    folders = ["."] if single else [f"run-{p.number}" for p in plans]
    files: dict[str, bytes] = {}
    for plan, folder in zip(plans, folders, strict=True):
        files |= {name if single else f"{folder}/{name}": data for name, data in contents(plan, tell).items()}
    files |= dict(beside or {})
    files[LIST] = to_bytes(job_data(plans, folders, files=[*files, LIST]))
    paths = write_folder(out, files, replace=replace)
    return Written(plans=plans, paths=paths, data=[plan_data(p) for p in plans])


def unprintable(plans: Sequence[Plan]) -> str:
    """Characters that no font on this machine has; they print as boxes on the sheets."""
    return "".join(sorted({c for p in plans for c in boxes(p)}))
