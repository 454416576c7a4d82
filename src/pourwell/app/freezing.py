"""How a stored run, or a tree planned on the spot, freezes; and the files of it."""

import dataclasses
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from pourwell.app.pictures import write_freezing_map
from pourwell.app.planning import SILENT, Wishes, keep_inputs, plan_job, request_of
from pourwell.app.shop import open_shop
from pourwell.errors import BadDataError, BadRequestError
from pourwell.files.fields import COLOURED, fields_files, freezing_glb
from pourwell.files.folder import LIST, check_folder, write_folder
from pourwell.files.plan_json import SCHEMA_VERSION, plain, to_bytes
from pourwell.files.run_folder import StoredRun, is_run, read_run
from pourwell.findings import Severity, spelt_out
from pourwell.materials.library import Library
from pourwell.plan import Plan
from pourwell.steps.flask.model import Flask
from pourwell.steps.freeze.cast import Cast, fed_of, fed_of_data
from pourwell.steps.freeze.plan import Froze, freeze

SCHEMA = "pourwell.freezing"
OF_PATTERNS = ("pattern-", "units-")
"""How the codes of findings on a pattern's file begin."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """How one tree freezes, and which files tell of it."""

    title: str
    froze: Froze
    paths: tuple[Path, ...]

    @property
    def data(self) -> dict[str, Any]:
        """The same for a program."""
        out: dict[str, Any] = plain({"freezing": self.froze.freezing, "findings": self.froze.findings, "files": list(self.paths)})
        return out


def freeze_and_write(
    targets: Sequence[str],
    wishes: Wishes,
    *,
    edge_mm: float | None,
    out: Path | None,
    replace: bool,
    now: datetime,
    pictures: Path | None = None,
    tell: Callable[[str], None] = SILENT,
) -> Answer:
    """How a stored run freezes, its files written beside its plan; or pattern files, planned first, and written where `out` says.

    With `pictures` a map of when the metal is solid is written there, too.

    Raises PourwellError for what cannot be computed or written.
    """
    if pictures is not None:
        check_folder(pictures, replace=replace)
    if len(targets) == 1 and is_run(Path(targets[0])):
        answer, again = _stored(Path(targets[0]), wishes, edge_mm=edge_mm, out=out, replace=replace, tell=tell)
        return _pictured(answer, again, pictures, replace=replace)
    shop = open_shop()
    request = request_of(targets, wishes, shop).model_copy(update={"freeze": "none"})
    if out is not None:
        keep_inputs([*(piece.file for piece in request.pieces), *map(Path, targets)], out)
        check_folder(out, replace=replace)
    plans = plan_job(request, shop=shop, now=now, tell=tell)
    if len(plans) > 1:
        raise BadRequestError(
            f"These pieces take {len(plans)} flasks.", try_this="Plan them with `pourwell plan --fine`, or name fewer pieces."
        )
    plan = plans[0]
    _refuse_stopped([(f.code, spelt_out(f.says), spelt_out(f.do)) for f in plan.findings if f.severity is Severity.STOP])
    cast = cast_of_plan(plan)
    if cast is None:
        raise BadRequestError("A weight has no shape that could freeze.", try_this="Name pattern files.")
    froze = freeze(cast, fine=wishes.freeze == "fine", edge_mm=edge_mm, library=shop.library, tell=tell)
    paths: tuple[Path, ...] = ()
    if out is not None:
        files = _files(cast, froze)
        paths = write_folder(out, files | _listed(files), replace=replace)
    return _pictured(Answer(title=plan.title, froze=froze, paths=paths), cast, pictures, replace=replace)


def _pictured(answer: Answer, cast: Cast, folder: Path | None, *, replace: bool) -> Answer:
    """The answer with the files of a map of when the metal is solid, if one is wanted."""
    if folder is None:
        return answer
    drawn = write_freezing_map(cast.metal, answer.froze.fields, folder, title=answer.title, replace=replace)
    return dataclasses.replace(answer, paths=(*answer.paths, *drawn))


def _refuse_stopped(stops: Sequence[tuple[str, str, str]]) -> None:
    """Refuse a pattern that is stopped, by code, sentence and what to do: what is frozen would be a stand-in for it."""
    for code, says, do in stops:
        if code.startswith(OF_PATTERNS):
            raise BadRequestError("A pattern of this tree is stopped; it is not frozen.", why=says, try_this=do)


def cast_of_plan(plan: Plan) -> Cast | None:
    """What is cast in a plan; None where only a weight is known."""
    if plan.tree is None or plan.tree_cast is None:
        return None
    return Cast(
        bodies=plan.tree_bodies,
        metal=plan.tree_cast,
        fed=fed_of(plan.tree),
        flask=plan.flask,
        alloy=plan.alloy,
        investment=plan.investment,
        metal_c=plan.temperatures.metal_c,
        flask_c=plan.temperatures.flask_c,
        flask_band_c=(plan.temperatures.flask_low_c, plan.temperatures.flask_high_c),
    )


def _stored(
    target: Path, wishes: Wishes, *, edge_mm: float | None, out: Path | None, replace: bool, tell: Callable[[str], None]
) -> tuple[Answer, Cast]:
    """A run read back, frozen, and its files written beside it, or where `out` says; and what was cast."""
    unused = [name for name in ("alloy", "flask", "investment", "pattern") if getattr(wishes, name) is not None]
    if unused:
        raise BadRequestError(
            f"A plan says itself what it is cast in; --{unused[0]} is for pattern files.", try_this="Leave it out, or plan again."
        )
    if out is None and not replace and (wishes.metal_c is not None or wishes.flask_c is not None):
        raise BadRequestError(
            "At other temperatures than the plan's its freezing has no place beside the plan.",
            why="The run sheet would tell of one pour and the files of another.",
            try_this="Give --out FOLDER; or plan again at these temperatures.",
        )
    stored, library = read_run(target), open_shop().library
    stops = [f for f in stored.plan.get("findings", ()) if f.get("severity") == Severity.STOP.value]
    _refuse_stopped([(str(f.get("code")), spelt_out(str(f.get("says"))), spelt_out(str(f.get("do")))) for f in stops])
    check_folder(stored.whole if out is None else out, replace=replace or out is None)
    cast = cast_of_stored(stored, wishes, library=library)
    froze = freeze(cast, fine=wishes.freeze == "fine", edge_mm=edge_mm, library=library, tell=tell)
    files = _files(cast, froze)
    paths = _added(stored, files) if out is None else write_folder(out, files | _listed(files), replace=replace)
    return Answer(title=str(stored.plan["run"]["title"]), froze=froze, paths=paths), cast


def cast_of_stored(stored: StoredRun, wishes: Wishes, *, library: Library) -> Cast:
    """What is cast in a stored run; metal and flask temperature may be asked for anew.

    Raises BadDataError for a plan whose sections do not hold what they must, UnknownNameError for rows that the library has not.
    """
    plan = stored.plan
    try:
        flask = Flask(**plan["flask"])
        fed = tuple(fed_of_data(place, plan["tree"]["proposals"]) for place in plan["tree"]["places"])
        names = plan["alloy"]["id"], plan["investment"]["id"]
        heat = plan["pour"]["metal_c"], plan["pour"]["flask_c"]
        band = float(plan["pour"]["flask_low_c"]), float(plan["pour"]["flask_high_c"])
    except (KeyError, TypeError, ValueError) as err:
        raise BadDataError(
            f"The plan in {stored.folder} lacks what freezing needs.", why=f"It has no {err}.", try_this="Plan again."
        ) from err
    return Cast(
        bodies=stored.bodies,
        metal=stored.cast,
        fed=fed,
        flask=flask,
        alloy=library.alloy(names[0]),
        investment=library.investment(names[1]),
        metal_c=heat[0] if wishes.metal_c is None else wishes.metal_c,
        flask_c=heat[1] if wishes.flask_c is None else wishes.flask_c,
        flask_band_c=band,
    )


def _files(cast: Cast, froze: Froze) -> dict[str, bytes]:
    """The fields, and the tree coloured by them."""
    return {**fields_files(froze.fields, froze.freezing), COLOURED: freezing_glb(cast.bodies, froze.fields, froze.freezing)}


def _listed(files: Sequence[str] | dict[str, bytes]) -> dict[str, bytes]:
    """The list of a folder's own files, by which it may be replaced."""
    return {LIST: to_bytes({"schema": SCHEMA, "schema_version": SCHEMA_VERSION, "files": sorted([*files, LIST])})}


def _added(stored: StoredRun, files: dict[str, bytes]) -> tuple[Path, ...]:
    """Files added to a run's folder: the whole job's folder is written anew, so that it is never half changed."""
    inside = stored.folder.resolve().relative_to(stored.whole.resolve())
    fresh = {(inside / name).as_posix(): content for name, content in files.items()}
    job = json.loads((stored.whole / LIST).read_text(encoding="utf-8"))
    job["files"] = sorted({*job["files"], *fresh})
    kept = {name: (stored.whole / name).read_bytes() for name in job["files"] if name not in fresh and name != LIST}
    write_folder(stored.whole, kept | fresh | {LIST: to_bytes(job)}, replace=True)
    return tuple(stored.whole / name for name in fresh)
