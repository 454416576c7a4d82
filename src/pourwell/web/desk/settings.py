"""Settings: hours at work, days off, units, numbers, paper, back-up. They stand in studio.toml like the rest of the equipment."""

import json
from collections.abc import Callable
from typing import Any, Final

from pourwell.app.asked import Asked
from pourwell.app.desk import Desk
from pourwell.app.gear import HOURS, NIGHT, PAPER, SHOWN, Gear, GearLine
from pourwell.errors import PourwellError
from pourwell.web.desk import parts
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.own_fields import Rows
from pourwell.web.desk.tag import Drop, Tag, Tick
from pourwell.web.safe_keeping import LIMIT_BYTES

WEEK: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
RESTORE: Final[dict[str, Any]] = {
    "to": "/incoming/back-up",
    "title": "Bring a back-up in",
    "about": "It goes into a new folder beside this one. Nothing here is overwritten.",
    "button": "Choose a back-up",
    "label": "Back-up file",
}


def settings_page(desk: Desk) -> None:
    """The page."""
    with frame(desk, at="/settings", title="Settings") as page:
        with Tag("div", classes="head"), Tag("div"):
            Tag("h1", "Settings")
            Tag("p", f"All of it is kept on this machine, in {desk.folder}.")
        Settings(page).build()


class Settings:
    """The fields of the page."""

    def __init__(self, page: Frame) -> None:
        self.page = page
        self.rows: list[Rows] = []

    def gear(self) -> Gear:
        """The file as it stands now."""
        return Gear(self.page.desk.folder)

    def build(self) -> None:
        """All sections."""
        with parts.side("Hours", "Hands-on steps are placed at work. A run that does not fit says so."):
            self._fields(HOURS, "hours")
        with parts.side("Days off", "A day of pours keeps off them, and nobody sets a kiln while all sleep."):
            self._week()
            self._fields(NIGHT)
        with parts.side("Units", "Shown and read in these, here and on the sheet. Files keep millimetres, °C and grams."):
            self._fields(SHOWN)
            Tag("p", self._bulk(), "small")
        with parts.side("Numbers and paper", "For each page and each sheet."):
            self._fields(PAPER)
        with parts.side("Back-up", "One file with patterns, runs, results, equipment and materials. Keep it on another disk."):
            self._back_up()
        self.page.heard_of = self.look

    def _bulk(self) -> str:
        """In what powder and water are shown, which is no choice of its own."""
        unit = "ounces (28.35 each)" if self.page.units.display.ounces else "grams"
        return f"Powder and water are shown in {unit}. A weight may be typed in another unit: 12 dwt, 18.7 g."

    def look(self) -> None:
        """Show what another hand has written."""
        for rows in self.rows:
            rows.look()
        self._look_week()

    def _fields(self, fields: tuple[Asked, ...], classes: str = "", *, changed: Callable[[], Any] | None = None) -> None:
        def read() -> list[GearLine]:
            return self.gear().lines(fields)

        rows = Rows(self.page, read, save=lambda line, text: self.gear().set(line, text), changed=changed)
        self.rows.append(rows)
        rows.build(classes, grades=False)

    def _week(self) -> None:
        off = self.gear().weekdays_off()
        self.boxes: list[Tick] = []
        with Tag("fieldset", classes="week"):
            Tag("legend", "At work on")
            for number, name in enumerate(WEEK):
                with Tag("label", classes="check"):
                    box = Tick(not off[number], ticked=self._ticked(number))
                    Tag("span", name)
                self.boxes.append(box)
        self.kept_dates = self.gear().dates_off()
        self.dates = parts.entry(
            "Single days off",
            self.kept_dates,
            lambda _: self.page.not_yet_saved(),
            left=self._dates_left,
            remark="as 2026-12-24, 2026-12-31",
        )

    def _ticked(self, number: int) -> Callable[[bool], None]:
        def tick(at_work: bool) -> None:
            self._keep(lambda: self.gear().set_weekday_off(number, off=not at_work))

        return tick

    def _dates_left(self) -> None:
        text = self.dates.control.value
        if text == self.kept_dates:
            self.dates.tell("")
            return
        there = self.gear().dates_off()
        if there != self.kept_dates:
            self.kept_dates = there
            now = f"the file says {there or 'none'} now"
            self.dates.tell(f"It was changed elsewhere meanwhile: {now}. Enter yours again to put it in its place.")
            self.page.not_saved("look at Single days off")
            return
        fault = self._keep(lambda: self.gear().set_dates_off(text))
        self.dates.tell(fault)
        if not fault:
            self._show_dates()

    def _show_dates(self) -> None:
        self.kept_dates = self.gear().dates_off()
        self.dates.control.set(self.kept_dates)

    def _keep(self, deed: Callable[[], None]) -> str:
        """Do it and say so; why not, if not."""
        try:
            deed()
        except PourwellError as err:
            self.page.not_saved(parts.why(err))
            return parts.why(err)
        self.page.saved()
        return ""

    def _look_week(self) -> None:
        gear = self.gear()
        for box, off in zip(self.boxes, gear.weekdays_off(), strict=True):
            box.tick(not off)
        if self.dates.control.value == self.kept_dates:
            self._show_dates()

    def _back_up(self) -> None:
        with Tag("div", classes="acts"):
            Tag("a", "Make a back-up", "btn main", href="/back-up", download=True)
            Tag("span", "It may be made while you work.", "small")
        Drop(limit_bytes=LIMIT_BYTES, took=self._taken_in, single=True, **RESTORE)
        self.result = Tag("div", role="status")

    def _taken_in(self, answer: str) -> None:
        """Say what came, and how it is opened."""
        made = json.loads(answer)
        folder = self.page.desk.folder
        self.result.clear()
        says = f"{_counted(made['patterns'], 'pattern')} and {_counted(made['runs'], 'run')}, in {_counted(made['files'], 'file')}."
        with self.result, parts.empty("It is whole", says):
            Tag("p", f"It lies in {made['folder']}. This studio stays as it is until you change over:")
            with Tag("ol", classes="first"):
                Tag("li", "Close this desk: Ctrl-C in its window.")
                Tag("li", f"Rename the folder {folder.name} to {folder.name}-before.")
                Tag("li", f"Rename the new one to {folder.name}, and open the desk as always.")
            Tag("p", "To look into it first, set POURWELL_STUDIO to the new folder and open a second desk.", "small")
            if made["doubt"]:
                Tag("p", f"One of its own files does not say what it must: {made['doubt']}", "fault")


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
