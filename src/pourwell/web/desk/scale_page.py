"""A flask weighed before and after its burnout: how much of its water went into the kiln, as one types; kept only when asked.

What stands in the fields stands in the address too, so that a page that is loaded anew has lost nothing.
"""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlencode

from nicegui import ui

from pourwell.app.calibrating_cautions import SCALE_CAUTIONS
from pourwell.app.desk import Desk
from pourwell.app.desk_form import Faults
from pourwell.app.desk_words import for_desk
from pourwell.app.typed import NotYetError, Span, number
from pourwell.web.desk import measured, parts
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.log_form import INVESTMENT, OTHER, by_default, field_of, flask_fields, flask_of
from pourwell.web.desk.measured import said
from pourwell.web.desk.tag import Tag

ADDRESS: Final = "/materials/calibrations/scale"
ANSWER_S: Final = 60.0
WEIGHT_G: Final = Span(low=0, high=50_000, unit="g")
STEP_G: Final = Span(low=0.001, high=100, unit="g")
STOOD_H: Final = Span(low=0, high=1000, unit="h")
WEIGHTS: Final = (
    ("before", "Before, as it goes into the kiln", "without its base"),
    ("after", "After, burnt out and cold", "the very same flask"),
    ("empty", "The steel alone", "empty: the mould's volume is guessed"),
    ("pattern", "What burns out", "patterns with their sprues; 0 if there are none"),
)
NEEDED: Final = ("before", "after", "pattern")
STEP: Final = "1"
"""Of a scale, until another is entered [g]; as the command line has it."""


def scale_page(desk: Desk, given: Mapping[str, str]) -> None:
    """The page; `given` is what its address says: fields."""
    with frame(desk, at="/materials", title="Weigh a flask") as page:
        made = ScalePage(desk, page, given)
        made.build()
        ui.timer(0.01, made.ask, once=True)


class ScalePage:
    """Weights, and what they tell."""

    def __init__(self, desk: Desk, page: Frame, given: Mapping[str, str]) -> None:
        self.desk, self.page, self.turn = desk, page, 0
        self.typed: dict[str, str] = dict(given)
        self.fields: dict[str, parts.Field] = {}
        self.told: Mapping[str, Any] | None = None
        self.kept: Sequence[Path] = ()

    def build(self) -> None:
        """Cautions, fields, room for the answer."""
        with Tag("div", classes="head"):
            with Tag("div"):
                Tag("h1", "Weigh a flask")
                Tag("p", "A kitchen scale tells how much of its water went into the kiln: weigh before the burnout, and after.")
            with Tag("div", classes="acts"):
                parts.link("Back to the calibrations", measured.LIST, "btn")
        measured.cautions("With a burnt flask", SCALE_CAUTIONS)
        with parts.section("On the scale"), Tag("div", classes="fields on-scale"):
            self.fields |= flask_fields(self.page, self.typed, self.changed)
            for name, label, remark in WEIGHTS:
                self._entry(name, label, unit="g", remark=remark)
            self._entry("step", "The scale shows steps of", unit="g")
            self._entry("stood", "It stood before the kiln", unit="h", remark="kept beside the value, for it decides it")
        by_default(self.fields["step"], self.typed.get("step", ""), STEP, unit="g")
        self.out = Tag("div", classes="answer", aria_live="polite")
        self.draw()

    def _entry(self, name: str, label: str, *, unit: str, remark: str = "") -> None:
        self.fields[name] = parts.entry(
            label, self.typed.get(name, ""), self.changed(name), unit=unit, remark=remark, inputmode="decimal", maxlength="20"
        )

    def changed(self, name: str) -> Callable[[str], Any]:
        """What happens when a field changes."""

        async def keep(text: str) -> None:
            self.typed[name] = text
            ui.navigate.history.replace(f"{ADDRESS}?{urlencode(self.typed)}")
            by_default(self.fields["step"], self.typed.get("step", ""), STEP, unit="g")
            if name == "flask":
                self.fields["size"].whole.set_visibility(text == OTHER)
            await self.ask()

        return keep

    def wish(self) -> tuple[dict[str, Any], Faults, bool]:
        """The words of a ScaleWish, what is not right yet, and whether all is there."""
        faults: Faults = {}

        def figure(name: str, span: Span, default: str = "") -> float | None:
            text = self.typed.get(name, "").strip() or default
            try:
                return number(text, span) if text else None
            except NotYetError as err:
                faults[name] = err.what
                return None

        weights = {name: figure(name, WEIGHT_G) for name, _, _ in WEIGHTS}
        flask = flask_of(self.typed)
        wish = {
            "weighed": ",".join(f"{name}={_plain(g)}" for name, g in weights.items() if g is not None),
            "flask": flask,
            "investment": self.typed.get("investment", INVESTMENT),
            "resolution_g": figure("step", STEP_G, STEP),
            "stood_h": figure("stood", STOOD_H),
        }
        return wish, faults, bool(flask) and all(weights[name] is not None for name in NEEDED)

    async def ask(self) -> None:
        """Answer what stands in the fields now; what is typed meanwhile is asked anew."""
        self.turn += 1
        turn = self.turn
        wish, faults, whole = self.wish()
        for name, field in self.fields.items():
            field.tell(faults.get(name, ""))
        self.told, self.kept, fault = None, (), ""
        if whole and not faults:
            job = self.desk.measuring.weigh(wish)
            await asyncio.to_thread(job.over.wait, ANSWER_S)
            if turn != self.turn:
                return
            self.told = job.outcome
            if job.outcome is None:
                fault = parts.why(job.fault) or "No answer came. Load the page again."
                at = field_of(str(job.fault))
                if at in self.fields:
                    self.fields[at].tell(for_desk(str(job.fault)))
                    fault = ""
        self.draw(fault)

    def draw(self, fault: str = "") -> None:
        """What it tells, or what is missing for it."""
        self.out.clear()
        with self.out:
            if fault:
                with Tag("div", classes="not-done", role="alert"):
                    Tag("h3", "That is no burnout")
                    Tag("p", said(fault))
            elif self.told is None:
                Tag("p", "Choose the flask and enter before, after and what burns out: the water stands here at once.", "quiet")
            else:
                measured.doubt(self.told)
                measured.values(self.told)
                measured.Keeping(self.page, self.told, kept=self.kept, now_kept=self._now_kept).build()

    def _now_kept(self, paths: Sequence[Path]) -> None:
        self.kept = paths
        self.draw()


def _plain(g: float) -> str:
    """A weight [g] to a thousandth, without digits that say nothing."""
    return f"{g:.3f}".rstrip("0").rstrip(".")
