"""What the desk has done in a process of its own: patterns checked, runs planned, questions answered. Plain data comes out."""

import io
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import numpy as np
from PIL import Image

from pourwell.app.checking import Checked, measure_pieces
from pourwell.app.costs import costs
from pourwell.app.desk_words import (
    FREEZING_HEAD,
    FREEZING_VIEW,
    HEAD,
    MEND,
    PICTURE,
    VIEW,
    GivenPattern,
    for_desk,
    safe_name,
)
from pourwell.app.freezing_view import freezing_page, freezing_view
from pourwell.app.frozen_patterns import frozen_patterns
from pourwell.app.own_rows import limit_source
from pourwell.app.planning import contents, plan_job
from pourwell.app.shop import Shop, open_shop
from pourwell.app.view_arrays import pattern_view, solid_view
from pourwell.files.job_toml import build_request
from pourwell.files.plan_json import plain, plan_data, to_bytes
from pourwell.findings import Finding, in_order, spelt_out
from pourwell.geometry.picture import seen_by
from pourwell.materials.library import Library
from pourwell.plan import Plan
from pourwell.request import PieceRequest, Request
from pourwell.sheets.colours import BODY
from pourwell.sheets.kiln_view import reading_of
from pourwell.sheets.scene import SIDES, Scene, camera_for, fitting, scene_of, walked
from pourwell.steps.day.clock import after, read
from pourwell.steps.day.night import OVERNIGHT
from pourwell.steps.day.week_runs import cooling_min

Tell = Callable[[str], None]
PICTURE_PX: Final = 480


def warm(*, tell: Tell) -> None:
    """Load what takes long to load, so that the first answer does not wait for it."""
    tell("Getting ready")
    open_shop()


@contextmanager
def named(given: Sequence[GivenPattern]) -> Iterator[list[Path]]:
    """The contents under their own names, for as long as they are read: readers tell formats by endings and speak of names."""
    with tempfile.TemporaryDirectory(prefix="pourwell-") as name:
        paths = []
        for number, one in enumerate(given):
            place = Path(name) / str(number) / safe_name(one.file)
            place.parent.mkdir()
            try:
                os.link(one.path, place)
            except OSError:
                shutil.copyfile(one.path, place)
            paths.append(place)
        yield paths


def piece_asked(given: GivenPattern, path: Path) -> PieceRequest:
    """A pattern in the words of a request; its content lies at `path` now."""
    return PieceRequest(
        file=path,
        count=given.count,
        name=given.name,
        units=given.units or None,
        sprue_at_mm=given.sprue_at_mm,
        size=given.size,
        leave_out=given.leave_out,
    )


def check_pattern(folder: Path, given: GivenPattern, wanted: Mapping[str, str], *, tell: Tell) -> dict[str, Any]:
    """A pattern measured and drawn, in the `alloy` and of the `material` that are wanted: `data` for the page, `files` by name.

    Raises what reading raises.
    """
    shop, alloy, material = open_shop(folder), wanted["alloy"], wanted["material"]
    row = shop.library.alloy(alloy)
    with named([given]) as paths:
        pieces = [piece_asked(given, paths[0])]
        pattern, found = measure_pieces(pieces, alloy=row, material=shop.library.pattern(material), shop=shop, tell=tell)[0]
    tell("Drawing it")
    one = Checked(pattern=pattern, findings=found, alloy_name=row.name)
    picture, mm_per_px = portrait(scene_of(pattern, as_read=True))
    view, head = pattern_view(pattern)
    data = {
        "piece": plain(pattern.piece),
        "rows": one.rows,
        "doubtful": one.doubtful,
        "alloy": alloy,
        "alloy_name": row.name,
        "findings": findings_data(found, shop.library),
        "mm_per_px": mm_per_px,
        "view": head,
    }
    return {"data": data, "files": {PICTURE: picture, VIEW: view}}


def findings_data(found: Sequence[Finding], library: Library) -> list[dict[str, Any]]:
    """Findings as pages show them: stops first, quantities spelt out; and `marked`, for whoever wants them in other units.

    The `source` of a limit is told as people say it.
    """
    return [
        plain(
            {
                "code": f.code,
                "severity": f.severity,
                "where": f.where,
                "says": for_desk(spelt_out(f.says)),
                "do": for_desk(spelt_out(f.do)),
                "measure": spelt_out(f.measure),
                "limit": spelt_out(f.limit),
                "source": limit_source(f.source, library) if f.source else "",
                "at_mm": f.at_mm,
                "mends": MEND.search(f.do) is not None,
                "marked": {key: for_desk(getattr(f, key)) for key in ("says", "do", "measure", "limit")},
            }
        )
        for f in in_order(found)
    ]


def portrait(scene: Scene, *, size: int = PICTURE_PX, scale: float | None = None) -> tuple[bytes, float]:
    """A piece in light and shade on nothing, as PNG, and the size of its pixels [mm]: as large as it fits, or of a given scale."""
    axes = walked(scene.axes, *SIDES["three-quarter"])
    mm_per_px = scale or fitting(scene.surface.points, [axes], size=size)
    seen = seen_by(camera_for(scene.surface.points, axes, size=size, mm_per_px=mm_per_px), scene.surface)
    rgba = np.zeros((*seen.shape, 4), dtype=np.uint8)
    rgba[..., :3] = (np.asarray(BODY) * seen.light[..., None]).round()
    rgba[..., 3] = (255 * seen.cover).round()
    out = io.BytesIO()
    Image.fromarray(rgba).save(out, "PNG")
    return out.getvalue(), mm_per_px


def daily(folder: Path, asked: Mapping[str, Any], now: datetime, *, tell: Tell) -> dict[str, Any]:
    """The daily question: a weight on the scale, a flask, an hour of the pour; what to weigh, and when the kiln goes on."""
    shop = open_shop(folder)
    plan = plan_job(build_request(words(asked, shop), where="desk"), shop=shop, now=now)[0]
    told = {"findings": findings_data(plan.findings, shop.library), "overnight": OVERNIGHT if plan.fires_overnight else ""}
    return plan_data(plan) | told | {"kiln_free_at": plain(kiln_free_at(plan, shop.library))}


def words(asked: Mapping[str, Any], shop: Shop) -> dict[str, Any]:
    """What a form holds, as the words of a request: empty fields are not said, the hour is read on the studio's clock."""
    said = {key: value for key, value in asked.items() if value not in ("", None)}
    if "pour_at" in said:
        said["pour_at"] = read(str(said["pour_at"]), zone=shop.studio.zone)
    return said


def plan_run(folder: Path, run: Mapping[str, Any], pieces: Sequence[GivenPattern], *, tell: Tell) -> dict[str, Any]:
    """A run planned: `data` for the page, `files` by name; several flasks make several plans under one number.

    `run` holds its `form` in the words of a request, its `number`, and what time it is `now`.
    """
    shop = open_shop(folder)
    with named(pieces) as paths:
        request = asked_of_run(run["form"], pieces, paths=paths, shop=shop, number=run["number"])
        plans = plan_job(request, shop=shop, now=run["now"], tell=tell)
        files: dict[str, bytes] = {}
        for place, plan in enumerate(plans):
            files |= {_file(name, place): content for name, content in contents(plan, tell).items()}
            files |= _drawn(plan, place)
            files = frozen_patterns(plan) | files  # the first flask that holds a piece tells of it
    return {"data": {"plans": [_page(plan, shop.library) for plan in plans]}, "files": files}


def asked_of_run(
    form: Mapping[str, Any], pieces: Sequence[GivenPattern], *, paths: Sequence[Path], shop: Shop, number: int
) -> Request:
    """The request of a run: its `form` in the words of one, its pieces, which lie at `paths` now. Raises BadDataError."""
    asked = words(form, shop) | {"run_number": number}
    if pieces:
        asked["pieces"] = [piece_asked(one, path) for path, one in zip(paths, pieces, strict=True)]
    return build_request(asked, where="desk")


def _file(name: str, place: int) -> str:
    """A plan's file in a run of several flasks: the first keeps its name."""
    return name if place == 0 else f"{place + 1}-{name}"


def _drawn(plan: Plan, place: int) -> dict[str, bytes]:
    if not plan.tree_bodies:
        return {}
    view, head = solid_view(plan.tree_bodies)
    flask = {"diameter_mm": plan.flask.diameter_mm, "height_mm": plan.flask.height_mm}
    files = {_file(VIEW, place): view, _file(HEAD, place): to_bytes(plain(head | {"flask": flask}))}
    froze = freezing_view(plan)
    if froze is not None:
        files |= {_file(FREEZING_VIEW, place): froze[0], _file(FREEZING_HEAD, place): to_bytes(plain(froze[1]))}
    return files


def _page(plan: Plan, library: Library) -> dict[str, Any]:
    """A plan as the page shows it."""
    return plan_data(plan) | {
        "findings": findings_data(plan.findings, library),
        "limit_sources": {
            key: limit_source(key, library) for v in plan.programme.verdicts for key in (v.source, v.held_source) if key
        },
        "costs": costs(plan.alloy, plan.investment, charge=plan.charge, mix=plan.mix, currency=plan.studio.printer.currency),
        "kiln_on_at": plain(plan.kiln_on_at),
        "pour_at": plain(plan.pour_at),
        "kiln_free_at": plain(kiln_free_at(plan, library)),
        "overnight": OVERNIGHT if plan.fires_overnight else "",
        "reading_c": {"never_above": reading_of(plan).never_over_c, "off": reading_of(plan).off_c},
        "frozen": plain(freezing_page(plan)),
    }


def kiln_free_at(plan: Plan, library: Library) -> datetime:
    """When the kiln has fallen far enough after the pour of this flask for a damp one to go in, with its door shut."""
    minutes = cooling_min(plan.temperatures.flask_c, kiln=plan.studio.kiln, library=library)
    return after(plan.pour_at, library.rule("pour_min") + minutes, zone=plan.studio.zone)


def example_patterns(*, tell: Tell) -> list[tuple[str, bytes]]:
    """Our own pieces to play with, as files that a user could have."""
    from pourwell.app.demo import PATTERNS
    from pourwell.app.shapes import build_shape, mesh_bytes

    tell("Making pieces to try")
    return [(name, mesh_bytes(build_shape(shape, dimensions), Path(name).suffix)) for name, shape, dimensions in PATTERNS]
