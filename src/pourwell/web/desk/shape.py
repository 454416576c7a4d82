"""A piece from one of our own shapes: dimensions with their units, the piece beside them as one types, one button to keep it.

What stands in the fields stands in the address too, so that a page that is loaded anew has lost nothing.
"""

import asyncio
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final
from urllib.parse import urlencode

from nicegui import ui

from pourwell.app.crew import Job
from pourwell.app.desk import Desk
from pourwell.app.desk_drafts import Draft
from pourwell.app.desk_form import why_no_size
from pourwell.app.desk_words import AFTER, STILL_AFTER, TIMES, for_desk
from pourwell.app.typed import NotYetError, Span, number
from pourwell.errors import PourwellError
from pourwell.web.desk import parts
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.in_turn import InTurn
from pourwell.web.desk.pattern_change import is_size, told
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.viewer import Solid, Viewer
from pourwell.web.kept import draft_link

ANSWER_S: Final = 60.0
SIZE, BORE, SHAPE, NAME = "size", "bore", "shape", "name"
MM: Final = Span(low=0, high=300, unit="mm")
KEY: Final = re.compile(r"\b([a-z]+(?:_[a-z]+)*)_mm\b")
"""A dimension as the sentences of shapes name it."""


def shape_page(desk: Desk, given: Mapping[str, str]) -> None:
    """The page; `given` is what its address says: shape, name and dimensions."""
    with frame(desk, at="/patterns", title="A piece from a shape") as page:
        made = ShapePage(desk, page, given)
        made.build()
        ui.timer(0.01, made.begin, once=True)


class ShapePage:
    """Fields and piece."""

    def __init__(self, desk: Desk, page: Frame, given: Mapping[str, str]) -> None:
        self.desk, self.page = desk, page
        self.typed: dict[str, str] = dict(given)
        self.shapes: dict[str, Mapping[str, Any]] = {}
        self.fields: dict[str, parts.Field] = {}
        self.draft: Draft | None = None
        self.viewer: Viewer | None = None
        self.making = InTurn(self._make)

    def build(self) -> None:
        """What stands there before the shapes are known."""
        with Tag("div", classes="head"):
            with Tag("div"):
                Tag("h1", "A piece from a shape")
                Tag("p", "Give its dimensions: the piece stands beside them as you type.")
            with Tag("div", classes="acts"):
                self.button = parts.button("Keep it in the library", self.keep, "btn main")
        self.line = Tag("p", classes="kept-line", role="status")
        with Tag("div", classes="cols pattern"):
            self.tray = Tag("div", classes="stays")
            self.side = Tag("div")
        self.button.set_visibility(False)
        with self.tray:
            Tag("p", "The shapes are being got ready.", "quiet")

    async def begin(self) -> None:
        """Ask for the shapes, then show the one that is wanted."""
        job = self.desk.drafts.ask_shapes()
        await asyncio.to_thread(job.over.wait, ANSWER_S)
        self.tray.clear()
        if job.outcome is None:
            with self.tray:
                Tag("p", parts.why(job.fault) or "No answer came. Load the page again.", "fault")
            return
        self.shapes = {shape["name"]: shape for shape in job.outcome}
        self.draw()
        await self.ask()

    @property
    def shape(self) -> Mapping[str, Any]:
        """The one that is chosen, else the first."""
        return self.shapes.get(self.typed.get(SHAPE, ""), next(iter(self.shapes.values())))

    def draw(self) -> None:
        """The fields of the shape."""
        self.side.clear()
        self.fields = {}
        options = [(name, called_shape(name)) for name in self.shapes]
        with self.side:
            self.figures = Tag("div", classes="figures")
            with parts.section("Shape"):
                parts.choice("Made as", self.shape["name"], self.choose, options=options, remark=self.shape["about"])
            with parts.section("Dimensions"), Tag("div", classes="fields"):
                for one in self.shape["parameters"]:
                    self._field(one)
            self.fault = Tag("p", "", "fault", role="status")
            with parts.section("Name"), Tag("div", classes="fields"):
                self.fields[NAME] = parts.entry(
                    "Name", self.typed.get(NAME, ""), self.changed(NAME), remark=self.name(), maxlength="100"
                )

    def _field(self, one: Mapping[str, Any]) -> None:
        name = one["name"]
        default = f"{one['default']:g}" if name != SIZE else ""
        label = "Ring size, of the bore" if name == SIZE else parts.capital(name.replace("_", " "))
        self.fields[name] = parts.entry(
            label, self.typed.get(name, default), self.changed(name), unit=one["unit"], remark=one["about"],
            inputmode=None if name == SIZE else "decimal", maxlength="20",
        )  # fmt: skip

    def changed(self, name: str) -> Any:
        """What happens when something is typed."""

        async def keep(text: str) -> None:
            self.typed[name] = text
            self._remember()
            if name == NAME:
                return
            await self.ask()

        return keep

    async def choose(self, shape: str) -> None:
        """Another shape, with its own dimensions; the bore stays."""
        self.typed = {SHAPE: shape} | {key: self.typed[key] for key in (SIZE, BORE) if key in self.typed}
        self._remember()
        self.draw()
        await self.ask()

    def _remember(self) -> None:
        ui.navigate.history.replace(f"/patterns/new?{urlencode(self.typed)}")

    # ---- the piece

    def dimensions(self) -> list[str] | None:
        """What the fields say, as NAME=VALUE; None where one is not right yet, which is told in place."""
        words, right = [], True
        size = self.typed.get(SIZE, "").strip()
        for one in self.shape["parameters"]:
            name, text = one["name"], self.typed.get(one["name"], "").strip()
            fault, remark = "", one["about"]
            if name == SIZE:
                fault = "" if is_size(text) else why_no_size(text)
                remark = told(text) if is_size(text) else remark
            elif name == BORE and size:
                text, remark = "", "as the ring size says"
            elif text:
                try:
                    text = f"{number(text, MM):g}"
                except NotYetError as err:
                    fault = err.what
            self.fields[name].remark = remark
            self.fields[name].tell(fault)
            right = right and not fault
            if text and not fault:
                words.append(f"{name}={text}")
        return words if right else None

    async def ask(self) -> None:
        """Have the piece made; what is typed meanwhile is made next."""
        await self.making.ask()

    async def _make(self) -> None:
        words = self.dimensions()
        if words is None:
            self.button.set_visibility(False)
            return
        job = self.desk.drafts.ask_shape(self.shape["name"], words)
        await asyncio.to_thread(job.over.wait, ANSWER_S)
        if not self.making.wanted:
            self.show(job)

    def show(self, job: Job) -> None:
        """The piece, or why there is none."""
        self.button.set_visibility(job.outcome is not None)
        self.figures.clear()
        if job.outcome is None:
            self._refuse(job.fault)
            with self.figures:
                Tag("p", "What is shown is the last piece that could be made.", "quiet")
            return
        self.fault.set_text("")
        if self.draft is not None:
            self.desk.drafts.let_go(self.draft)
        self.draft = self.desk.drafts.hold(job.outcome, name=self.name())
        data = job.outcome["data"]
        solid = Solid(src=draft_link(self.draft, AFTER), head=data["heads"][0], still=draft_link(self.draft, STILL_AFTER))
        if self.viewer is None:
            with self.tray:
                self.viewer = Viewer(src=solid.src, head=solid.head, still=solid.still, label="The piece in 3-D")
        else:
            self.viewer.show([solid])
        x, y, z = data["envelope_mm"]
        with self.figures:
            parts.keys([
                (f"In {data['alloy_name']}", f"{data['metal_g']:.2f}", "g"),
                ("Volume", f"{data['volume_mm3']:.0f}", "mm³"),
                ("Size", f"{x:.1f} {TIMES} {y:.1f} {TIMES} {z:.1f}", "mm"),
            ])  # fmt: skip
        self.fields[NAME].remark = self.name()
        self.fields[NAME].tell("")

    def _refuse(self, fault: PourwellError | None) -> None:
        """Tell it at the field that it names first, else below the fields."""
        said = KEY.sub(lambda found: found[1].replace("_", " "), for_desk(str(fault))) if fault else "No answer came. Try again."
        named = next((found[1] for found in KEY.finditer(str(fault)) if found[1] in self.fields), None)
        self.fault.set_text("" if named else said)
        if named:
            self.fields[named].tell(said)

    def name(self) -> str:
        """What it is called if nothing is typed."""
        said = self.typed.get(NAME, "").strip()
        size = self.typed.get(SIZE, "").strip()
        return said or " ".join(filter(None, (called_shape(self.shape["name"]), size if is_size(size) else "")))

    def keep(self) -> None:
        """Keep it as a pattern, and have it checked."""
        if self.draft is None:
            return
        try:
            kept, new = self.desk.drafts.keep(self.draft, name=self.name())
        except PourwellError as err:
            self.page.not_saved(err.what)
            return
        self.page.saved()
        self.line.clear()
        with self.line:
            Tag("span", "It is in the library and being checked:" if new else "The library has it already:")
            parts.link(kept.name, f"/patterns/{kept.id}")
        if new:
            self.page.undo(f"{kept.name} is in the library.", lambda: self._take_back(kept.id))

    def _take_back(self, pattern_id: int) -> None:
        self.desk.remove_pattern(pattern_id)
        self.page.saved()
        self.line.clear()


def called_shape(name: str) -> str:
    """A shape's name in words."""
    return parts.capital(name.replace("-", " "))


def only_words(given: Sequence[tuple[str, str]], *, most: int = 40) -> dict[str, str]:
    """What an address says, no more of it than a page has fields."""
    return {key: value[:100] for key, value in given[:most]}
