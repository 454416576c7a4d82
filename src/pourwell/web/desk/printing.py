"""One pattern in the printer: which way it stands, what it takes in time and resin, where it needs supports, what goes wrong.

What stands in the fields stands in the address too, so that a page that is loaded anew has lost nothing.
"""

import time
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any, Final
from urllib.parse import urlencode

from nicegui import ui

from pourwell.app.crew import OVER, Job
from pourwell.app.desk import MATERIAL, Desk
from pourwell.app.desk_drafts import Draft
from pourwell.app.desk_words import AFTER, STILL_AFTER, for_desk, way_still
from pourwell.app.print_asked import LAYER, direction_of, points_somewhere
from pourwell.app.typed import NotYetError, number
from pourwell.errors import BadRequestError
from pourwell.store.model import KeptPattern
from pourwell.web.desk import parts, printing_told
from pourwell.web.desk.draft import place_told, printed, rows_table
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here
from pourwell.web.desk.viewer import Solid, Viewer
from pourwell.web.kept import draft_link

LOOK_S: Final = 0.3
SETTLED_S: Final = 0.7
"""What is typed is asked for when nothing more was typed for so long: a half figure is no wish."""
RESIN, LAYERS, WAY = "material", "layer", "direction"
"""The fields, as the address of the page has them."""
HOW: Final = "three numbers, as 0,0,1: this of the file's own ways points away from the plate; empty: the best way"
Told = Mapping[str, Any]


def printing_page(desk: Desk, pattern_id: int, given: Mapping[str, str]) -> None:
    """The page; `given` is what its address says. Raises BadRequestError if there is no such pattern."""
    pattern = desk.store.pattern(pattern_id)
    with frame(desk, at="/patterns", title=f"{pattern.name}: in the printer") as page:
        made = PrintingPage(desk, page, pattern=pattern, given=given)
        made.build()
        page.heard_of = made.again
        ui.timer(LOOK_S, made.look)


class PrintingPage:
    """The parts of the page that change while it is looked at."""

    def __init__(self, desk: Desk, page: Frame, *, pattern: KeptPattern, given: Mapping[str, str]) -> None:
        self.desk, self.page, self.pattern = desk, page, pattern
        self.typed = {RESIN: MATERIAL, LAYERS: "", WAY: ""} | {key: given[key] for key in (RESIN, LAYERS, WAY) if key in given}
        self.typed_s = 0.0
        self.turn = desk.turn
        self.asked: dict[str, Any] | None = None
        """What the work that goes on, or went on last, was asked; None: nothing, or its studio has changed since."""
        self.job: Job | None = None
        self.came: Draft | None = None
        """What came out of the work; set from its own thread."""
        self.draft: Draft | None = None
        """What is shown."""
        self.viewer: Viewer | None = None
        self.rows: dict[str, list[Tag]] = {}

    def build(self) -> None:
        """What stands there before anything is known."""
        with Tag("div", classes="head"):
            with Tag("div"):
                Tag("h1", f"{self.pattern.name} in the printer")
                self.sentence = Tag("p", "Which way it stands, what it takes, what goes wrong.")
            with Tag("div", classes="acts"):
                parts.link("Back to the pattern", f"/patterns/{self.pattern.id}", "btn")
        self.stop = Tag("div")
        self.jobs = parts.JobRows(self._mine, forget=self.desk.crew.forget)
        with Tag("div", classes="cols pattern"):
            self.tray = Tag("div", classes="stays")
            with Tag("div"):
                self.figures = Tag("div", classes="figures", aria_live="polite")
                with parts.section("Printed as"):
                    self._fields()
                self.found = Tag("div")
        self.below = Tag("div")
        with self.tray:
            self.waiting = Tag("p", "Ways to stand are being compared.", "quiet")
        self.look()

    def _mine(self) -> list[Job]:
        return [job for job in self.desk.crew.jobs if job.about == ("printer", self.pattern.id)]

    def _fields(self) -> None:
        resins = self.page.lists.resins
        if self.typed[RESIN] not in dict(resins):
            self.typed[RESIN] = MATERIAL
        with Tag("div", classes="fields"):
            parts.choice("Resin", self.typed[RESIN], self.changed(RESIN), options=resins)
            self.layer = parts.entry(
                "Layer", self.typed[LAYERS], self.changed(LAYERS), unit=LAYER.unit, inputmode="decimal", maxlength="12"
            )
            self.way = parts.entry("Away from the plate", self.typed[WAY], self.changed(WAY), remark=HOW, maxlength="60")
        self.way.whole.classes("across")
        with Tag("div", classes="acts after-fields"):
            self.best = parts.button("Take the best way", lambda: self.take(""))

    # ---- what is asked

    def changed(self, name: str) -> Any:
        """What happens when something is typed or chosen."""

        def keep(text: str) -> None:
            self.typed[name] = text
            self.typed_s = time.monotonic()
            self._remember()
            self.wanted()

        return keep

    def take(self, direction: str) -> None:
        """Have it stand another way; the best one for none."""
        self.typed[WAY] = direction
        self.way.control.set(direction)
        self._remember()
        self.look()
        self._to_the_piece()

    def _to_the_piece(self) -> None:
        """Bring the tray back into sight: what was pressed may stand far below it."""
        ui.run_javascript(f"document.getElementById('c{self.tray.id}').scrollIntoView({{block: 'nearest'}})")

    def _remember(self) -> None:
        said = {key: text for key, text in self.typed.items() if text.strip() and (key, text) != (RESIN, MATERIAL)}
        ui.navigate.history.replace(f"/patterns/{self.pattern.id}/printing{'?' if said else ''}{urlencode(said)}")

    def wanted(self) -> dict[str, Any] | None:
        """What the fields say; None where one is not right yet, which is told in place."""
        wanted: dict[str, Any] = {"material": self.typed[RESIN], "layer_mm": None, "direction": None}
        faults = {LAYERS: "", WAY: ""}
        if self.typed[LAYERS].strip():
            try:
                wanted["layer_mm"] = number(self.typed[LAYERS], LAYER)
            except NotYetError as err:
                faults[LAYERS] = err.what
        if self.typed[WAY].strip():
            try:
                direction = direction_of(self.typed[WAY])
            except BadRequestError as err:
                faults[WAY] = for_desk(str(err))
            else:
                assert direction is not None
                if points_somewhere(direction):
                    wanted["direction"] = ",".join(map(repr, direction))
                else:
                    faults[WAY] = "This points nowhere: one of the three is other than zero."
        self.layer.tell(faults[LAYERS])
        self.way.tell(faults[WAY])
        return None if any(faults.values()) else wanted

    def look(self) -> None:
        """Ask for what is wanted and not yet asked, and show what came."""
        came, self.came = self.came, None
        if came is not None:
            if self.draft is not None:
                self.desk.drafts.let_go(self.draft)
            self.draft = came
            self.show(came)
        self.jobs.look()
        if self.job is not None and self.job.state not in OVER:
            return
        if self.job is not None and self.job.state in ("failed", "stopped") and self.draft is None:
            self.waiting.set_text("It is not known how it prints." if self.job.state == "failed" else "It was stopped.")
        if time.monotonic() - self.typed_s < SETTLED_S:
            return
        if self.turn != self.desk.turn:
            self.turn, self.pattern = self.desk.turn, self.desk.store.pattern(self.pattern.id)
        wanted = self.wanted()
        if wanted is not None and {**wanted, "units": self.pattern.units} != self.asked:
            self._ask(wanted)

    def again(self) -> None:
        """The studio's files were changed: its printer may be another."""
        self.asked = None

    def _ask(self, wanted: dict[str, Any]) -> None:
        for job in self._mine():
            if job.state == "failed":
                self.desk.crew.forget(job.number)
        self.asked = {**wanted, "units": self.pattern.units}
        self.job = self.desk.drafts.stand(self.pattern, self.ready, wanted=wanted)
        self.jobs.look()

    def ready(self, draft: Draft) -> None:
        """It came out of the work."""
        self.came = draft

    # ---- what came

    def show(self, draft: Draft) -> None:
        """All of it."""
        data = draft.data
        self.rows = {}
        stands = data["ways"][0]
        why = f"{data['why']} {data['compared_count']} ways compared." if data["best"] else data["why"]
        self.sentence.set_text(here().text(f"{parts.capital(stands['words'])}: {parts.small(why)}"))
        parts.able(self.best, not data["best"])
        self._who(data)
        self._solid(draft)
        for box in (self.stop, self.figures, self.found, self.below):
            box.clear()
        with self.stop:
            printing_told.stopped(data["findings"])
        with self.figures:
            printing_told.figures(data)
        with self.found:
            self._findings(data["findings"], supported=data["supports"]["under_mm2"] >= printing_told.A_MM2)
        with self.below:
            self._below(draft)

    def _who(self, data: Told) -> None:
        """Who set the layer, and which figure that is where the field is empty."""
        typed = bool(self.typed[LAYERS].strip())
        assumed = any(one.startswith("layer ") for one in data["assumed"])
        who = "yours" if typed else "default" if assumed else "equipment"
        self.layer.set_by(who, "" if typed else here().figure(f"{data['time']['layer_mm']:g}", LAYER.unit)[0])

    def _solid(self, draft: Draft) -> None:
        """The piece on the plate, with its letters."""
        data = draft.data
        flags = [{"letter": p["letter"], "at": p["at_mm"], "says": p["says"], "what": "Place"} for p in data["places"]]
        solid = Solid(src=draft_link(draft, AFTER), head=data["head"], still=draft_link(draft, STILL_AFTER))
        if self.viewer is not None:
            self.viewer.show([solid], flags=flags)
            return
        self.tray.clear()
        with self.tray:
            self.viewer = Viewer(
                src=solid.src, head=solid.head, still=solid.still, flags=flags, picked=self.here,
                label=f"{self.pattern.name} as it stands in the printer, in 3-D",
            )  # fmt: skip
            Tag("p", "The line is the plate. Up is away from it, also where a printer hangs it upside down.", "small under-view")

    def here(self, which: str) -> None:
        """Mark what stands at a letter."""
        for name, rows in self.rows.items():
            for row in rows:
                row.classes(add="here" if name == which else "", remove="" if name == which else "here")

    def look_at(self, which: str) -> None:
        """Turn the piece to a letter."""
        if self.viewer is not None:
            self.viewer.look_at(which)
            self._to_the_piece()
        self.here(which)

    def _findings(self, found: Sequence[Told], *, supported: bool) -> None:
        with parts.section("Findings", parts.counted(found)):
            if not found:
                Tag("p", printing_told.NO_FAULT_BUT if supported else printing_told.NO_FAULT, "quiet")
                return
            with Tag("ul"):
                for one in found:
                    mine = one["letter"]
                    way = ("To the pattern", f"/patterns/{self.pattern.id}") if one["severity"] == "stop" else None
                    row = parts.finding(one, letter=mine, look=partial(self.look_at, mine) if mine else None, way=way)
                    self.rows.setdefault(mine, []).append(row)

    def _below(self, draft: Draft) -> None:
        data = draft.data
        with parts.section("Ways to stand", "the way shown first; then others, well apart"):
            self._ways(draft)
        with Tag("div", classes="cols low"):
            with Tag("div"), parts.section("Figures"):
                rows_table(data["rows"])
                printing_told.assumed_told(data["assumed"])
            with Tag("div"):
                if data["places"]:
                    with parts.section("Places", "in the file's own x, y and z"), Tag("ul", classes="places"):
                        for place in data["places"]:
                            self._place(place)
                printing_told.cautions(data["cautions"])

    def _place(self, place: Told) -> None:
        mine = place["letter"]
        with Tag("li", classes="place-row") as row:
            with Tag("button", classes="btn plain place-to", type="button").pressed(partial(self.look_at, mine)):
                Tag("span", mine, "letter")
                Tag("span", here().text(place["says"]))
            Tag("span", place_told(place["in_file"]), "small")
        self.rows.setdefault(mine, []).append(row)

    def _ways(self, draft: Draft) -> None:
        with parts.wide_table("Ways to stand, each with what it costs", "segs stands stacked"):
            parts.head_row(*printing_told.WAYS_HEAD)
            with Tag("tbody"):
                for k, one in enumerate(draft.data["ways"]):
                    with Tag("tr", classes="here" if k == 0 else "") as row:
                        with Tag("th", scope="row"), Tag("div", classes="way"):
                            Tag("img", src=draft_link(draft, way_still(k)), alt="", width="72", height="72")
                            with Tag("div"):
                                Tag("span", here().text(printed(parts.capital(one["words"]))))
                                if k:
                                    take = partial(self.take, one["asked"])
                                    parts.button("See it", take, "btn plain", aria_label=f"See it {one['words']}")
                                else:
                                    Tag("span", "shown above", "small")
                        for text, unit in printing_told.way_figures(one):
                            parts.figure(text, unit, tag="td", classes="num")
                    for cell, (name, _) in zip(row.default_slot.children, printing_told.WAYS_HEAD, strict=True):
                        cell.props["data-label"] = name
