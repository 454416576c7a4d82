"""Ring sizes by hand: a size in any system gives all of them, and what a wide band wants. It answers as one types.

What stands in the fields stands in the address of the page too.
"""

from collections.abc import Mapping
from typing import Any, Final
from urllib.parse import urlencode

from nicegui import ui

from pourwell.app.desk_form import why_no_size
from pourwell.app.ring_sizes import MEASURE, WIDEST_MM, OnABand, on_a_band, size_rows
from pourwell.app.typed import NotYetError, Span, number
from pourwell.steps.pattern.sizes import diameter_of
from pourwell.web.desk import parts
from pourwell.web.desk.draft import printed
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.pattern_change import how, is_size
from pourwell.web.desk.tag import Tag, Tick
from pourwell.web.desk.units import here

SIZE, GAUGE, WIDTH, COMFORT = "size", "gauge", "width", "comfort"
"""The fields, as the address of the page has them."""
WIDE: Final = Span(low=0.5, high=WIDEST_MM, unit="mm")


class RingSizes:
    """The fields and the answer."""

    def __init__(self, page: Frame, given: Mapping[str, str]) -> None:
        self.page = page
        self.typed = {key: given.get(key, "") for key in (SIZE, GAUGE, WIDTH, COMFORT)}

    def build(self) -> None:
        """The section on the page."""
        with parts.section("Ring sizes", "one size in every system", classes="sizes"):
            with Tag("div", classes="ask-size"):
                self.size = parts.entry("Size, or diameter", self.typed[SIZE], self.changed(SIZE), remark=how(), maxlength="20")
                self.gauge = self._wide("Gauge, width", GAUGE, "empty: a narrow one")
                self.width = self._wide("Band, width", WIDTH, "what size it wants on that finger")
                with Tag("label", classes="check"):
                    Tick(bool(self.typed[COMFORT]), ticked=lambda on: self.keep(COMFORT, "yes" if on else ""))
                    Tag("span", "Comfort curve inside")
            self.answer = Tag("div", classes="answer", aria_live="polite")
        self.tell()

    def _wide(self, label: str, name: str, remark: str) -> parts.Field:
        return parts.entry(
            label, self.typed[name], self.changed(name), unit=WIDE.unit, remark=remark, inputmode="decimal", maxlength="12"
        )

    def changed(self, name: str) -> Any:
        """What happens when something is typed."""
        return lambda text: self.keep(name, text)

    def keep(self, name: str, text: str) -> None:
        """Remember it in the address, and answer."""
        self.typed[name] = text
        said = {key: one for key, one in self.typed.items() if one.strip()}
        ui.navigate.history.replace(f"/{'?' if said else ''}{urlencode(said)}")
        self.tell()

    def tell(self) -> None:
        """The answer to what stands in the fields now; what is not yet right is told below its field."""
        size = self.typed[SIZE].strip()
        self.size.tell("" if is_size(size) else why_no_size(size))
        gauge, width = (_width(field, self.typed[name]) for field, name in ((self.gauge, GAUGE), (self.width, WIDTH)))
        self.answer.clear()
        with self.answer:
            if not is_size(size):
                Tag("p", "Enter a size: what it is in every system stands here at once.", "quiet")
                return
            diameter = diameter_of(size)
            show(size_rows(diameter))
            if width:
                band = on_a_band(
                    diameter, width, comfort=bool(self.typed[COMFORT]), gauge_mm=gauge or 0.0, folder=self.page.desk.folder
                )
                show_band(band)
            Tag("p", MEASURE, "small")


def _width(field: parts.Field, text: str) -> float | None:
    """A width [mm]; None where none stands, or one that is not right yet, which is told below."""
    try:
        value = number(text, WIDE) if text.strip() else None
    except NotYetError as err:
        field.tell(err.what)
        return None
    field.tell("")
    return value


def show(rows: list[tuple[str, str, str]]) -> None:
    """A size in every system, with its remarks below the figures."""
    with Tag("dl", classes="keys"):
        for name, figure, remark in rows:
            with Tag("div"):
                Tag("dt", parts.capital(name))
                parts.figure(figure)
                if remark:
                    Tag("dd", here().text(remark), "band")


def show_band(band: OnABand) -> None:
    """What a wide band wants, as figures."""
    over = f"a gauge of {band.gauge_mm:g} mm" if band.gauge_mm else "a narrow gauge"
    larger = f"{band.around_mm + 0.0:+.1f} mm around ({band.around_low_mm + 0.0:.1f} to {band.around_high_mm + 0.0:.1f} mm)"
    wants = f"ISO {band.sizes.iso}, US {band.sizes.us}, UK {band.sizes.uk}"
    with Tag("p", classes="band-wants"):
        Tag("b", here().text(f"A band of {band.width_mm:g} mm wants {wants}. "))
        Tag("span", here().text(printed(f"That is {larger} against {over}; common practice, with a wide range.")))
