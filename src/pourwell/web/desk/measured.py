"""What a log or a weighing told: values with what they may be off by, what becomes measured by it, and the button that keeps it."""

import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from pourwell.errors import PourwellError
from pourwell.materials.calibration import Calibration, read_calibrations
from pourwell.web.desk import parts
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here

Told = Mapping[str, Any]
LIST: Final = "/materials/calibrations"
DIFFERENCE: Final = re.compile(r"(?<![\w.,])(\d+(?:\.\d+)?) K(/h)?(?![\w/(])")
"""A difference of temperature in a sentence, or a pace."""
PER_HOUR: Final = {"K/h": "°C/h"}
"""Units of values, as pages know them."""


def said(sentence: str) -> str:
    """A sentence with its quantities in the units of the page, differences of temperature too."""
    units = here()

    def shown(found: re.Match[str]) -> str:
        return " ".join(units.figure(found[1], "°C/h" if found[2] else "K")) if units.display.fahrenheit else found[0]

    return units.text(DIFFERENCE.sub(shown, sentence))


def cautions(title: str, sentences: Sequence[str]) -> None:
    """What to mind before the work, at the head of its page."""
    with parts.section(title, classes="minded"), Tag("ul", classes="doubts"):
        for sentence in sentences:
            Tag("li", here().text(sentence))


def doubt(data: Told) -> None:
    """The band over a result that must not be kept; nothing where nothing speaks against it."""
    if data["doubtful"]:
        Tag("p", f"Not to be kept: {parts.small(said(data['doubtful']))}", "do-not-pour", role="alert")


def values(data: Told) -> None:
    """The table of what was told."""
    with parts.section("What it tells", "± holds 95 of 100 cases"):
        with Tag("table", classes="measures told"), Tag("tbody"):
            for row in data["values"]:
                with Tag("tr"):
                    with Tag("th", scope="row"):
                        Tag("span", parts.capital(said(row["what"])))
                        Tag("small", said(row["says"]))
                    parts.figure(row["figure"], PER_HOUR.get(row["unit"], row["unit"]), tag="td", classes="num nowrap")
        for note in data["notes"]:
            Tag("p", said(note), "small")


class Keeping:
    """What would become measured, and the button that keeps it; or that it is kept."""

    def __init__(self, page: Frame, data: Told, *, kept: Sequence[Path], now_kept: Callable[[Sequence[Path]], None]) -> None:
        self.page, self.data, self.kept, self.now_kept = page, data, kept, now_kept
        """`now_kept` is told where it is kept, or with nothing that it is kept no more."""

    def build(self, *, stale: str = "") -> None:
        """The section; `stale`: why what stands here may not be kept as it is."""
        if self.data["doubtful"] or not self.data["calibrations"]:
            if not self.data["doubtful"]:
                Tag("p", "Nothing was measured that could be kept: it takes a fall, or a probe in the flask.", "quiet")
            return
        with parts.section("Measured now" if self.kept else "Would become measured", classes="draft"):
            Tag("p", parts.capital(self.data["becomes"]))
            if self.kept:
                with Tag("p", classes="kept-line", role="status"):
                    Tag("span", f"Kept as {', '.join(path.name for path in self.kept)}.")
                    parts.link("To the calibrations", LIST)
                return
            Tag("p", f"It is written into the folder calibrations of the studio: {', '.join(self.data['files'])}.", "small")
            for sentence in self.replaced():
                Tag("p", sentence, "small")
            if self.data["of_kiln"]:
                Tag("p", self.data["of_kiln"], "caution")
            with Tag("div", classes="acts after-fields"):
                able = parts.button("Keep it", lambda: None if stale else self.keep(), "btn main")
                parts.able(able, not stale)
                Tag("span", stale or "nothing is kept before you say so", "small")

    def replaced(self) -> list[str]:
        """Which older measurements count no more where these say something."""
        try:
            there = read_calibrations(self.page.desk.folder)
        except PourwellError as err:
            return [parts.why(err)]
        newest = {(one.kind, one.of): path.name for path, one in there}
        found = [Calibration.model_validate(one) for one in self.data["calibrations"]]
        old = [newest[one.kind, one.of] for one in found if (one.kind, one.of) in newest]
        return [f"Of each value the newest counts: these go before {', '.join(old)}, which stay."] if old else []

    def keep(self) -> None:
        """Keep it, with the way back."""
        measuring = self.page.desk.measuring
        try:
            paths = measuring.keep(self.data)
        except PourwellError as err:
            self.page.not_saved(parts.why(err))
            return
        self.page.saved()
        self.now_kept(paths)

        def back() -> None:
            try:
                measuring.take_back(paths)
            except PourwellError as err:
                self.page.not_saved(parts.why(err))
                return
            self.page.saved()
            self.now_kept(())

        self.page.undo("It is measured now.", back)
