"""The viewer: solids in 3-D with their fields. Its arrays come by URL; what is drawn, and when, is its own affair.

What a page gives it:

- `src` and `head`: the numbers of a solid by URL, and the head that `app/view_arrays.py` makes with them; `{"url": ...}` where the
  head lies in a file of its own. `title` is its name on the switch where there are others `beside` it: all are seen by one camera.
- `flags`: places with a letter, each a dict of `letter`, `at` (x, y, z in mm), `says`; with `what` the word before the letter (else
  "Finding"), and `on`, the number of the solid that it stands on (else on all).
- `placing`: the words of a third thing that a click can do, beside turning and measuring. `placed` is then called with the point.
  With `offer` there is such a point already, to be dragged, or moved by arrow keys.

A field of the head is shown with its legend. One with `slide` has a slider of that name: with `moments_s` it holds a value for each
of them, and what lies between two is blended; without, its values are times themselves, and what is over by then is pale.

Numbers come in the workshop's units. Legend, limit, section, scale bar and what is measured are shown in those of the page.

What it tells: `picked` with the letter of a flag that was pressed, `placed` with a `Place`. On the page it is `.view`, with
`data-ready` (no, yes, still, failed), `data-frame` (how often it was drawn), `data-field`, `data-time`, `data-section`,
`data-solid`.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nicegui import ui
from nicegui.elements import scene as scene_package

from pourwell.web.desk.tag import listen
from pourwell.web.desk.units import here

SCENE = Path(scene_package.__file__).parent / "dist"
STAGE = Path(__file__).parent / "stage"
Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """A solid for the viewer: its numbers by URL, their head, its name on the switch, a picture where none can be drawn."""

    src: str
    head: Mapping[str, Any]
    title: str = ""
    still: str = ""

    @property
    def plain(self) -> dict[str, Any]:
        """As the component takes it."""
        return {"src": self.src, "head": dict(self.head), "title": self.title, "still": self.still}


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A point that was taken on the surface: on which part, where, and which way is out of the metal there."""

    part: str
    at_mm: Point
    out: Point


class Viewer(ui.element, component="viewer.js", esm={"nicegui-scene": str(SCENE), "pourwell-stage": str(STAGE)}):
    """Solids on a tray. The module says what goes in and what comes out."""

    def __init__(
        self,
        *,
        src: str,
        head: Mapping[str, Any],
        label: str,
        title: str = "",
        beside: Sequence[Solid] = (),
        still: str = "",
        flags: Sequence[Mapping[str, Any]] = (),
        picked: Callable[[str], Any] | None = None,
        placing: str = "",
        placed: Callable[[Place], Any] | None = None,
    ) -> None:
        super().__init__()
        self._units = here()
        self.props["scales"] = {"units": self._units.scales(), "comma": self._units.display.comma}
        self.props["solids"] = [one.plain for one in (Solid(src=src, head=head, title=title), *beside)]
        self.props["label"], self.props["still"] = label, still
        self.props["flags"] = self._told(flags)
        self.props["placing"] = placing
        if picked is not None:
            listen(self, "picked", lambda event: picked(str(event.args)))
        if placed is not None:
            listen(self, "placed", lambda event: placed(_place(event.args)))

    def _told(self, flags: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
        """Flags whose words are in the units of the page."""
        return [{**flag, "says": self._units.text(flag["says"])} for flag in flags]

    def look_at(self, letter: str) -> None:
        """Turn to a flag."""
        self.run_method("lookAt", letter)

    def offer(self, flags: Sequence[Mapping[str, Any]], *, grip: Sequence[float] | None) -> None:
        """Show other flags on the same solids, and a point that can be moved."""
        self.props["flags"] = self._told(flags)
        self.props["grip"] = list(grip) if grip is not None else None
        self.update()

    def show_field(self, name: str, *, at: float | None = None) -> None:
        """Show a field, "" for none, and its slider at a time."""
        self.run_method("showField", name, at)

    def show(self, solids: Sequence[Solid], *, flags: Sequence[Mapping[str, Any]] = ()) -> None:
        """Show other solids on the same tray, seen as the ones before."""
        self.props["solids"] = [one.plain for one in solids]
        self.props["flags"] = self._told(flags)
        self.update()


def _place(said: Mapping[str, Any]) -> Place:
    x, y, z = (float(value) for value in said["at"])
    a, b, c = (float(value) for value in said["out"])
    return Place(part=str(said["part"]), at_mm=(x, y, z), out=(a, b, c))
