"""What the studio measured, one row a measurement; one that is taken away comes back with Undo."""

from collections.abc import Mapping
from pathlib import Path
from typing import Final

from pourwell.errors import PourwellError
from pourwell.files.own_toml import bring_back, set_aside
from pourwell.materials.calibration import COVERS, Calibration, Measure, read_calibrations
from pourwell.web.desk import parts, when
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.tag import Tag

KINDS: Final = {"kiln": "Kiln", "flask": "Flask", "investment": "Investment"}
MEASURED: Final[Mapping[str, tuple[str, str]]] = {
    "film_ratio": ("Heat from kiln to flask, over the rules", ""),
    "fall_c_per_h": ("Falls, door shut", "°C/h"),
    "rise_c_per_h": ("Climbs at full power", "°C/h"),
    "overshoot_k": ("Overshoot", "K"),
    "swing_k": ("Swing", "K"),
    "water_ratio": ("Water that goes into the kiln, over the mix", ""),
    "conductivity_ratio": ("Conductivity of the mould, over its row", ""),
}


def calibrations(page: Frame) -> None:
    """The list, newest first."""
    found = sorted(read_calibrations(page.desk.folder), key=lambda pair: pair[1].measured_at, reverse=True)
    if not found:
        with (
            parts.empty(
                "Nothing is measured yet",
                "Log one firing with a thermocouple and read the log here, or weigh a flask before its burnout and after.",
            ),
            Tag("div", classes="acts"),
        ):
            parts.link("Read a log", "/materials/calibrations/log", "btn main")
            parts.link("Weigh a flask", "/materials/calibrations/scale", "btn")
        return
    with Tag("div", classes="acts ways-on"):
        parts.link("Read a log", "/materials/calibrations/log", "btn main")
        parts.link("Weigh a flask", "/materials/calibrations/scale", "btn")
    with parts.section("Measured", f"{len(found)}"), Tag("ul", classes="calibrations"):
        for path, one in found:
            with Tag("li"):
                _one(page, path, one)


def _one(page: Frame, path: Path, one: Calibration) -> None:
    at = one.measured_at.astimezone(page.moment().tzinfo)
    with Tag("div"):
        Tag("h3", " ".join(part for part in (KINDS[one.kind], one.of) if part))
        Tag("p", f"{when.day(at)} {at.year}, by {'a log' if one.way == 'log' else 'weighing'}", "small")
        Tag("p", one.fitted_from, "small")
    with Tag("div"):
        parts.keys((MEASURED[key][0], _value(measure), MEASURED[key][1]) for key, measure in one.measures.items())
    parts.button("Take it out", lambda: _take_out(page, path), "btn plain", aria_label=f"Take {path.stem} out")


def _value(measure: Measure) -> str:
    if not measure.uncertainty:
        return f"{measure.value:.3g}"
    low, high = max(0.0, measure.value - COVERS * measure.uncertainty), measure.value + COVERS * measure.uncertainty
    return f"{measure.value:.3g} ({low:.3g} to {high:.3g})"


def _take_out(page: Frame, path: Path) -> None:
    try:
        there = set_aside(path, page.desk.folder)
    except PourwellError as err:  # another window was faster
        page.not_saved(parts.why(err))
        page.redraw()
        return
    page.saved()
    page.redraw()

    def back() -> None:
        try:
            bring_back(there, path)
        except PourwellError as err:
            page.not_saved(parts.why(err))
            return
        page.saved()
        page.redraw()

    page.undo(f"{path.stem} is not used any more.", back)
