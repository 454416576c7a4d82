"""A log of a firing read: dropped, looked at as curves, worked out beside the page, and what it tells kept only when asked.

What stands in the fields stands in the address, with the mark of the log; the log itself is held in memory.
"""

import asyncio
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlencode

from nicegui import ui

from pourwell.app.calibrating_cautions import CAUTIONS
from pourwell.app.crew import Job
from pourwell.app.desk import Desk
from pourwell.app.measuring import HeldLog
from pourwell.errors import PourwellError
from pourwell.files.log_table import MOST_BYTES
from pourwell.web.desk import measured, parts
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.in_turn import InTurn
from pourwell.web.desk.log_chart import log_chart
from pourwell.web.desk.log_form import LogForm, is_of_column, is_place
from pourwell.web.desk.measured import said
from pourwell.web.desk.tag import Drop, Tag
from pourwell.web.log_intake import picture_link

READ_S: Final = 60.0
"""A log that is not read by then is given up, with the process that reads it."""
LOOK_S: Final = 0.4
LOG: Final = "log"
ADDRESS: Final = "/materials/calibrations/log"
DROP: Final[dict[str, Any]] = {
    "to": "/incoming/log",
    "title": "Drop the logger's file here",
    "about": "CSV or text: one row a reading, the time, then a column for each thermocouple. It is only read, and kept nowhere.",
    "button": "Choose a log",
    "label": "Log",
    "single": True,
}
Shown = tuple[int, Sequence[Path]]
NOT_TOLD: Final[Shown] = (0, ())
NOTHING: Final[Mapping[str, Any]] = {"columns": (), "unit": None, "time_unit": None}


def log_page(desk: Desk, given: Mapping[str, str]) -> None:
    """The page; `given` is what its address says: the mark of a log, and fields."""
    with frame(desk, at="/materials", title="Read a log") as page:
        made = LogPage(desk, page, given)
        made.build()
        ui.timer(0.01, made.begin, once=True)
        ui.timer(LOOK_S, made.look)


class LogPage:
    """The log, its fields and what it told."""

    def __init__(self, desk: Desk, page: Frame, given: Mapping[str, str]) -> None:
        self.desk, self.page = desk, page
        self.typed: dict[str, str] = dict(given)
        self.form = LogForm(page, self.typed, self.changed)
        self.log: HeldLog | None = None
        self.read: Mapping[str, Any] | None = None
        self.fault = ""
        self.shown: Shown = NOT_TOLD
        """What it told and where that is kept, as they stand on the page."""
        self.reading = InTurn(self._read_it)

    def build(self) -> None:
        """What stands there before a log is."""
        with Tag("div", classes="head"):
            with Tag("div"):
                Tag("h1", "Read a log")
                Tag("p", "One thermocouple in one dummy flask, for one firing, makes the bands of a burnout narrow.")
            with Tag("div", classes="acts"):
                self.button = parts.button("Work it out", self.work_out, "btn main")
                parts.link("Back to the calibrations", measured.LIST, "btn")
        measured.cautions("With a probe in kiln and flask", CAUTIONS)
        self.jobs = parts.JobRows(self._going, forget=self.desk.crew.forget)
        Drop(limit_bytes=MOST_BYTES, took=self.took, **DROP)
        self.file = Tag("div", role="status")
        with Tag("div", classes="cols measuring"):
            self.out, self.side = Tag("div"), Tag("div")
        self.button.set_visibility(False)

    async def begin(self) -> None:
        """Show the log that the address names."""
        key = self.typed.get(LOG, "")
        if not key:
            return
        self.log = self.desk.measuring.get(key)
        if self.log is None:
            with self.file:
                parts.empty("This log is not held any more", "Drop it again: what you entered stands there then.")
            return
        await self.open()

    async def took(self, answer: str) -> None:
        """A log came: look at it. Columns of another one say nothing of it."""
        key = str(json.loads(answer)[LOG])
        if key != self.typed.get(LOG):
            for name in list(filter(is_of_column, self.typed)):
                del self.typed[name]
        self.typed[LOG] = key
        self._remember()
        self.log = self.desk.measuring.get(key)
        await self.open()

    def _remember(self) -> None:
        ui.navigate.history.replace(f"{ADDRESS}?{urlencode(self.typed)}")

    async def open(self) -> None:
        """The log's columns, and fields for them; or why it is none."""
        if self.log is None:
            return
        self.read, self.shown = None, NOT_TOLD
        self.side.clear()
        read = await self._ask({**NOTHING, "unit": self.typed.get("unit") or None, "time_unit": self.typed.get("time") or None})
        self.file.clear()
        with self.file, Tag("div", classes="log-file"):
            Tag("h2", self.log.file)
            if read is not None:
                Tag("span", f"{read['rows_count']} rows; time in \u201c{read['time']['name'] or 'column 1'}\u201d: "
                    f"{'; '.join(read['time']['first'])} \u2026", "small")  # fmt: skip
        self.button.set_visibility(read is not None)
        if read is not None:
            with self.side:
                self.form.build(read)
                with Tag("div", classes="acts on-phone"):
                    parts.button("Work it out", self.work_out)
            if any(map(is_place, self.typed)):
                await self.ask()
                return
            self.read = read
            self._refuse(read["refused"])
        self.draw()

    async def _ask(self, wish: Mapping[str, Any]) -> Mapping[str, Any] | None:
        """Have the log read; None and a fault where it cannot be."""
        if self.log is None:
            return None
        job = self.desk.measuring.read(self.log, wish)
        if not await asyncio.to_thread(job.over.wait, READ_S):
            job.stop()
            self.fault = f"Reading it takes longer than {READ_S:.0f} s. Export one firing alone, with fewer readings a minute."
            return None
        self.fault = "" if job.outcome is not None else parts.why(job.fault) or "No answer came. Load the page again."
        answer: Mapping[str, Any] | None = job.outcome
        return answer

    def _refuse(self, refused: str | None) -> None:
        """Tell why readings cannot be used so: at the field that it is of, else over the curves."""
        for name in ("unit", "time"):
            self.form.refused.pop(name, None)
            self.form.fields[name].tell("")
        self.fault = ""
        if refused:
            self.fault = self.form.said({}) if self.form.refuse(refused) else parts.why(PourwellError(refused))

    async def changed(self, name: str) -> None:
        """A field was changed: what is read changes with columns and units, the drawing with the rest."""
        self._remember()
        faults = self.form.wish()[1]
        self.form.tell(faults, but=[one for one in ("flask", "size") if one != name or one in faults])
        if is_of_column(name) or name in ("unit", "time"):
            await self.ask()
        else:
            self.draw()

    async def ask(self) -> None:
        """Read it as the fields say now; what is changed meanwhile is read next."""
        await self.reading.ask()
        self.draw()

    async def _read_it(self) -> None:
        wish, faults = self.form.reading()
        if faults:
            self.fault = self.form.said(faults)
            return
        if not wish["columns"]:
            self.fault = "No column is used: choose which one sat in the kiln."
            return
        read = await self._ask(wish)
        if read is not None:
            self.read = read
            self._refuse(read["refused"])

    # ---- what it tells

    def _going(self) -> Sequence[Job]:
        return [job for job in self.desk.measuring.jobs(self.log) if job.state != "failed"] if self.log else []

    def work_out(self) -> None:
        """Have it worked out as the fields say."""
        if self.log is None:
            return
        wish, faults = self.form.wish()
        self.form.tell(faults)
        self.fault = self.form.said(faults) if faults else ""
        if faults:
            self.draw()
            return
        self.desk.measuring.work_out(self.log, wish)
        self.draw()
        self.look()

    def look(self) -> None:
        """Draw anew when the work has ended, or another window kept what it told."""
        self.jobs.look()
        if self.log is None or self.read is None:
            return
        failed = [job for job in self.desk.measuring.jobs(self.log) if job.state == "failed"]
        for job in failed:
            self.desk.crew.forget(job.number)
            self.fault = self.form.said({}) if self.form.refuse(str(job.fault)) else parts.why(job.fault)
        if failed or self._now(self.log) != self.shown:
            self.draw()

    @staticmethod
    def _now(log: HeldLog) -> Shown:
        return (log.told.number if log.told else 0, log.kept_now())

    def draw(self) -> None:
        """Faults, then what it told if it was worked out, else its curves."""
        self.out.clear()
        log = self.log
        self.shown = self._now(log) if log else NOT_TOLD
        with self.out:
            if self.fault:
                with Tag("div", classes="not-done", role="alert"):
                    Tag("h3", "Not yet" if self.read else "It cannot be read")
                    Tag("p", said(self.fault))
            told = log.told if log else None
            if log and told:
                self._told(log)
            elif self.read:
                self._curves(self.read["curves"])
            if self.read:
                self._remarks(told.data["remarks"] if told else self.read["remarks"])
        self.button.set_text("Work it out again" if log and log.told else "Work it out")
        ahead = bool(log and log.told and not self._stale(log) and not log.told.data["doubtful"])
        self.button.classes(add="" if ahead else "main", remove="main" if ahead else "")

    def _stale(self, log: HeldLog) -> bool:
        """Whether fields were changed since it was worked out; what is not right yet is a change."""
        wish, faults = self.form.wish()
        return log.told is not None and (bool(faults) or wish != log.told.wish)

    def _told(self, log: HeldLog) -> None:
        told = log.told
        if told is None:
            return
        stale = self._stale(log)
        if stale:
            Tag("p", "Changed since it was worked out: what stands here is of before.", "caution")
        measured.doubt(told.data)
        measured.values(told.data)
        keeping = measured.Keeping(self.page, told.data, kept=log.kept_now(), now_kept=self._now_kept)
        keeping.build(stale="work it out again first" if stale else "")
        self._curves(told.data["curves"], about=told.data["about"])
        with Tag("p", classes="acts ways-on"):
            for name in told.files:
                words = f"Load the picture down, {name.rpartition('.')[2].upper()}"
                Tag("a", words, "btn", href=picture_link(log, name), download=name)

    def _now_kept(self, paths: Sequence[Path]) -> None:
        if self.log and self.log.told:
            self.log.kept[self.log.told.number] = paths
        self.draw()

    def _curves(self, curves: Sequence[Mapping[str, Any]], *, about: str = "") -> None:
        """The curves, with the cut that stands in its field."""
        if not curves:
            return
        cut_h, fall_c, _ = self.form.drawing()
        model = any(curve.get("model") for curve in curves)
        remark = "hours from the first reading"
        with parts.section(
            "Log against model" if model else "What was read", f"dots: read; lines: computed; {remark}" if model else remark
        ):
            log_chart(curves, cut_h=cut_h, fall_c=fall_c)
            if about:
                Tag("p", parts.capital(said(f"{about}.")), "small")

    def _remarks(self, remarks: Sequence[Mapping[str, Any]]) -> None:
        if not remarks:
            return
        with parts.section("Set right or left out", f"{len(remarks)}"), Tag("ul", classes="log-said"):
            for one in remarks:
                Tag("li", (f"Line {one['line']}: " if one["line"] else "") + said(one["says"]), "small")
