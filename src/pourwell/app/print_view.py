"""How a pattern is printed, as a page shows it: what the command line says, the piece as it stands, letters at its places."""

import re
from collections.abc import Callable, Iterator, Mapping
from math import radians
from pathlib import Path
from typing import Any, Final

import numpy as np

from pourwell.app.desk_words import AFTER, STILL_AFTER, GivenPattern, for_desk, way_still
from pourwell.app.desk_work import findings_data, named, portrait
from pourwell.app.gear import PRINTER
from pourwell.app.letters import letter
from pourwell.app.print_asked import hours, numbers
from pourwell.app.printing import Printed, print_file
from pourwell.app.shop import open_shop
from pourwell.app.view_arrays import FieldGiven, solid_view
from pourwell.files.plan_json import plain
from pourwell.findings import in_order
from pourwell.geometry.mesh import Floats, Mesh
from pourwell.geometry.orient import proud
from pourwell.geometry.surface import Surface, smooth
from pourwell.materials.studio import Printer
from pourwell.sheets.scene import SIDES, Scene, fitting, walked
from pourwell.steps.pattern.model import Point
from pourwell.steps.pattern.print_checks import place
from pourwell.steps.pattern.print_model import PrintPlan, Way

Tell = Callable[[str], None]
NEAR: Final = re.compile(r"near (x -?\d+(?:\.\d+)?, y -?\d+(?:\.\d+)?, z -?\d+(?:\.\d+)?)")
"""A place in the file's own figures, as findings and rows of printing say it."""
PERCENT: Final = re.compile(r"(?<=\d)%")
MOST_PLACES: Final = 24
"""Places of one kind that bear a letter: more than anyone looks at."""
STEEP_DEG: Final = 75.0
"""Undersides steeper than this to the level are not coloured: own choice, they print as walls do."""
WAY_PX: Final = 160
"""Edge of the picture of a way to stand."""
PLATE_SHARE: Final = 1.2
"""The line of the plate goes so many times as far round as the piece: own choice, it is seen from all sides."""
HOLLOWS: Final[Mapping[str, str]] = {
    "suction": "A hollow that the film seals",
    "bowl": "A hollow that hangs like a bowl",
    "closed": "A hollow that is closed all round",
}
STEPS: Final[Mapping[str, str]] = {"open": "on open faces", "bore": "in the bore", "recess": "out of reach"}


def print_pattern(folder: Path, given: GivenPattern, wanted: Mapping[str, Any], *, tell: Tell) -> dict[str, Any]:
    """How a pattern is printed of the `material`, in layers of `layer_mm` and in the `direction` that are wanted (None: the usual).

    Gives `data` for the page and `files` by name. Raises what reading and printing raise.
    """
    shop = open_shop(folder)
    with named([given]) as (path,):
        printed = print_file(
            str(path),
            pattern=wanted["material"],
            units=given.units or None,
            layer_mm=wanted["layer_mm"],
            direction=wanted["direction"],
            leave_out=given.leave_out,
            tell=tell,
            shop=shop,
        )
    tell("Drawing it")
    plan, printer = printed.plan, shop.studio.printer
    frame = standing(printed.subject.mesh, plan.way, stand_mm=printer.stand_mm)
    places = _places(plan)
    letters = {at: letter(k) for k, at in enumerate(places)}
    view, head = _view(printed, frame)
    stills = _stills(smooth(printed.subject.mesh), (plan.way, *plan.others))
    found = zip(in_order(printed.findings), findings_data(printed.findings, shop.library), strict=True)
    data = {
        "file": plan.file,
        "material": plan.material,
        "why": plan.why,
        "best": plan.chosen == "best",
        "compared_count": plan.compared_count,
        "time": plan.time,
        "supports": {"under_mm2": plan.under_mm2, "under_deg": plan.under_deg},
        "resin": plan.resin,
        "ways": [_way(one) for one in (plan.way, *plan.others)],
        "rows": [(name, figure, lettered(for_desk(remark), letters)) for name, figure, remark in _rows(printed)],
        "findings": [_lettered(told, one.at_mm, letters) for one, told in found],
        "places": [
            {"letter": letters[at], "at_mm": _moved(frame, point), "in_file": at, "says": "; ".join(says)}
            for at, (point, says) in places.items()
        ],
        "assumed": _assumed(plan, printer),
        "cautions": plan.cautions,
        "head": head,
    }
    return {"data": plain(data), "files": {AFTER: view} | stills}


def _rows(printed: Printed) -> list[tuple[str, str, str]]:
    """The rows of the command line but for the way to stand and its turns, which a page tells otherwise."""
    return [(name, PERCENT.sub(" %", figure), PERCENT.sub(" %", remark)) for name, figure, remark in printed.rows[2:]]


def standing(mesh: Mesh, way: Way, *, stand_mm: float) -> Floats:
    """(4, 4): how a file is brought onto the plate, z up: turned about x, then about y, its middle over that of the plate.

    Parameters
    ----------
    stand_mm : height of the supports under its lowest point [mm]
    """
    turn = turn_of(way)
    points = mesh.vertices[np.unique(mesh.faces)] @ turn.T
    low, high = points.min(axis=0), points.max(axis=0)
    frame = np.eye(4)
    frame[:3, :3] = turn
    frame[:3, 3] = (-(low[0] + high[0]) / 2, -(low[1] + high[1]) / 2, stand_mm - low[2])
    return frame


def turn_of(way: Way) -> Floats:
    """(3, 3): the two turns that a user types, the one about x first."""
    a, b = radians(way.turn_x_deg), radians(way.turn_y_deg)
    about_x = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
    about_y = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
    turned: Floats = about_y @ about_x
    return turned


def _moved(frame: Floats, at: Point) -> list[float]:
    moved: list[float] = (frame[:3, :3] @ np.array(at) + frame[:3, 3]).tolist()
    return moved


def _view(printed: Printed, frame: Floats) -> tuple[bytes, dict[str, Any]]:
    """The solid on the plate, in the colours of its undersides and of its steps."""
    plan, mesh = printed.plan, printed.subject.mesh
    down = -(mesh.normals @ np.array(plan.way.direction))
    level = np.degrees(np.arccos(np.clip(down, -1, 1)))
    fields = [
        FieldGiven(
            name="under",
            title="Undersides",
            unit="° to the level",
            values=np.where(level < STEEP_DEG, level, np.nan),
            limit=plan.under_deg,
            limit_says="flatter: supports",
        ),
        FieldGiven(
            name="steps",
            title="Steps",
            unit="mm",
            values=proud(mesh, plan.way.direction) * plan.time.layer_mm,
            limit=plan.steps[0].seen_mm,
            limit_says="less does not show",
        ),
    ]
    stood = mesh.moved(frame)
    view, head = solid_view([("piece", stood)], fields=fields)
    radius = float(np.linalg.norm(stood.vertices[:, :2], axis=1).max())
    return view, head | {"plate": {"radius_mm": PLATE_SHARE * radius}}


def _stills(surface: Surface, ways: tuple[Way, ...]) -> dict[str, bytes]:
    """A picture of each way to stand, all at one scale; of the first a large one too."""
    scenes = []
    for way in ways:
        across, beside, up = turn_of(way)
        scenes.append(Scene(id="", name="", surface=surface, axes=np.array([across, up, -beside])))
    sides = [walked(scene.axes, *SIDES["three-quarter"]) for scene in scenes]
    scale = fitting(surface.points, sides, size=WAY_PX)
    files = {way_still(k): portrait(scene, size=WAY_PX, scale=scale)[0] for k, scene in enumerate(scenes)}
    return files | {STILL_AFTER: portrait(scenes[0])[0]}


def _places(plan: PrintPlan) -> dict[str, tuple[Point, list[str]]]:
    """What lies at which place, by the place's own figures: one letter for all that lies there."""
    found: dict[str, tuple[Point, list[str]]] = {}
    for at, says in _said(plan):
        found.setdefault(place(at), (at, []))[1].append(says)
    return found


def _said(plan: PrintPlan) -> Iterator[tuple[Point, str]]:
    for island in plan.islands[:MOST_PLACES]:
        yield island.at_mm, f"Begins in mid-air, {island.height_mm:.2f} mm up"
    for cup in plan.cups[:MOST_PLACES]:
        yield cup.at_mm, f"{HOLLOWS[cup.kind]}, {cup.volume_mm3:.1f} mm³"
    if plan.hidden_at_mm is not None:
        yield plan.hidden_at_mm, "Supports inside a hollow"
    if plan.under_at_mm is not None:
        yield plan.under_at_mm, "Largest patch that needs supports"
    if plan.ceiling_at_mm is not None:
        yield plan.ceiling_at_mm, f"Largest ceiling, {plan.ceiling_mm2:.1f} mm² in one layer"
    for steps in plan.steps:
        if steps.at_mm is not None:
            yield steps.at_mm, f"Steps {STEPS[steps.reach]}, the largest patch"


def lettered(text: str, letters: Mapping[str, str]) -> str:
    """A sentence with letters for the places that bear one."""
    return NEAR.sub(lambda near: f"at {letters[near[1]]}" if near[1] in letters else near[0], text)


def _lettered(found: Mapping[str, Any], at_mm: Point | None, letters: Mapping[str, str]) -> dict[str, Any]:
    """A finding with the letter of its place, unrounded, and letters in its sentences."""
    mine = letters.get(place(at_mm), "") if at_mm is not None else ""
    said = {key: lettered(found[key], letters) for key in ("says", "do")}
    marked = {key: lettered(text, letters) for key, text in found["marked"].items()}
    return {**found, **said, "marked": marked, "letter": mine, "where": "its place" if mine else found["where"]}


def _way(way: Way) -> dict[str, Any]:
    """A way to stand, with its time in words and its direction as it is asked for."""
    told: dict[str, Any] = plain(way)
    return told | {"time": hours(way.print_min), "asked": numbers(way.direction)}


def _assumed(plan: PrintPlan, printer: Printer) -> list[str]:
    """The figures of the printer that nobody has entered, as the page of the equipment calls them."""
    fields = {str(asked.key[-1]): asked for asked in PRINTER}
    return [f"{fields[key].label.lower()} {getattr(printer, key):g} {fields[key].unit}".rstrip() for key in plan.assumed]
