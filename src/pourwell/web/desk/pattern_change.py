"""What can be changed on the page of a pattern: its ring size, which of its bodies are cast, its name, the unit of its file."""

from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from pourwell.app.desk_form import why_no_size
from pourwell.app.desk_words import for_desk
from pourwell.errors import PourwellError
from pourwell.steps.pattern.sizes import diameter_of, sizes
from pourwell.store.model import KeptPattern, KeptResult
from pourwell.web.desk import parts
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.tag import Tag, Tick
from pourwell.web.desk.units import here

FINISHED: Final = "finished bore"
"""The row of a check that only a piece with a finger's bore has."""
WAYS: Final = (("scale", "Scale the whole piece"), ("offset", "Move the bore alone"))
HOW: Final = 'with its system, as "ISO 54", "US 7" or "UK N"'
IN_MM: Final = 'with its system, as "ISO 54", "US 7", "UK N", or "17.3 mm"'
MM: Final = "mm"
BODIES, RING_SIZE = "bodies", "ring-size"
"""Where these sections are found on the page of a pattern."""
OF_BODIES: Final = ("bodies-left-out", "bodies-joined", "pattern-apart", "pattern-overlap")
"""Codes of findings that another choice of bodies may cure."""
FEW_BODIES: Final = 8
"""So many bodies are listed one by one."""
PLACES: Final = 3
"""Of mm³, to which a body is the same."""
MOST_ROWS: Final = 60
"""Bodies, or groups of them, that are listed, the largest first where there are more."""
UNITS: Final = (
    ("", "As the file says"),
    ("mm", "Millimetres"),
    ("cm", "Centimetres"),
    ("m", "Metres"),
    ("um", "Micrometres"),
    ("inch", "Inches"),
    ("foot", "Feet"),
)


def has_finger_bore(data: Mapping[str, Any]) -> bool:
    """Whether a checked piece is a ring for a finger."""
    return any(name == FINISHED for name, _, _ in data["rows"])


class RingSize:
    """The size that is wanted, at first the one `asked` for, and the way there; `fit` gets both.

    What was typed stays while the piece is checked anew.
    """

    def __init__(self, fit: Callable[[str, bool], Any], *, asked: str) -> None:
        self.fit, self.size, self.way = fit, asked, WAYS[0][0]
        with parts.section("Ring size") as self.whole:
            self.whole.props["id"] = RING_SIZE
            with self.whole.default_slot.children[0]:
                self.finishes = Tag("span", "", "small")
            with Tag("div", classes="fields"):
                self.field = parts.entry("Finished size wanted", asked, self._typed, remark=how(), maxlength="20")
                parts.choice("How", self.way, self._chosen, options=WAYS)
            with Tag("div", classes="acts after-fields"):
                parts.button("See it at that size", self._press)
                Tag("span", "nothing is kept before you say so", "small")

    def show(self, data: Mapping[str, Any]) -> None:
        """Say how the piece finishes; where no finger goes through it there is nothing to ask."""
        ring = has_finger_bore(data)
        self.whole.set_visibility(ring)
        if ring:
            now = data["piece"]["bore"]["finished_sizes"]
            self.finishes.set_text(f"finishes at ISO {now['iso']}, US {now['us']}, UK {now['uk']}")

    def _typed(self, text: str) -> None:
        self.size = text.strip()
        self.field.remark, fault = (told(text), "") if is_size(text) else (how(), why_no_size(text))
        self.field.tell(fault)

    def _chosen(self, way: str) -> None:
        self.way = way

    def _press(self) -> None:
        if is_size(self.size):
            self.fit(self.size, self.way == "offset")
        else:
            self.field.tell(why_no_size(self.size) or "Enter the size that is wanted.")


def how() -> str:
    """How a size is written; a diameter is read in mm alone, so nobody who thinks in another unit is offered one."""
    return IN_MM if here().unit(MM) == MM else HOW


def is_size(text: str) -> bool:
    """Whether a text is a ring size."""
    try:
        diameter_of(text)
    except PourwellError:
        return False
    return True


def told(text: str) -> str:
    """A size in other systems."""
    across = diameter_of(text)
    said = sizes(across)
    return f"{across:.2f} mm across: ISO {said.iso}, US {said.us}, UK {said.uk}"


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyRow:
    """A body, or several of one volume, in the list: their names and volume, the box, what is said of them."""

    names: Sequence[str]
    volume_mm3: float
    box: Tick
    says: Tag


class Bodies:
    """Which of several bodies are cast. While the bodies are the same, so are their boxes, or keys would lose their place."""

    def __init__(self, page: Frame, pattern_id: int) -> None:
        self.page, self.pattern_id = page, pattern_id
        self.whole = Tag("div")
        self.listed: list[tuple[str, float]] = []
        self.rows: list[BodyRow] = []
        self.by_name: Set[str] = frozenset()
        """Those that are not cast by their name."""

    def show(self, result: KeptResult) -> None:
        """The bodies that a check found; a file of one has nothing to choose."""
        piece = result.data["piece"]
        bodies = [one for one in piece.get("bodies") or () if one["volume_mm3"] > 0]  # a hollow goes with the body that it lies in
        self.by_name = {one["name"] for one in bodies if not one["kept"]} - set(result.asked.get("leave_out", ()))
        listed = [(one["name"], round(one["volume_mm3"], PLACES)) for one in bodies]
        if listed != self.listed:
            self.listed = listed
            self._list(bodies)
        g_per_mm3 = piece["metal_g"] / piece["volume_mm3"] if piece.get("volume_mm3") and not result.data["doubtful"] else None
        for row in self.rows:
            self._say(row, g_per_mm3 and g_per_mm3 * row.volume_mm3)
        self._tick()

    def _list(self, bodies: Sequence[Mapping[str, Any]]) -> None:
        self.whole.clear()
        self.rows = []
        if len(bodies) < 2:
            return
        groups, out = gathered(bodies, by_name=self.by_name), self._out()
        with self.whole, parts.section("Bodies", "untick a stone or a support: it is not cast") as section:
            section.props["id"] = BODIES
            with Tag("ul", classes="bodies"):
                self.rows = [self._row(alike, cast=alike[0]["name"] not in out) for alike in groups[:MOST_ROWS]]
                if len(groups) > MOST_ROWS:
                    Tag("li", f"and {sum(map(len, groups[MOST_ROWS:])):,} smaller ones, as they are", "quiet")

    def _row(self, alike: Sequence[Mapping[str, Any]], *, cast: bool) -> BodyRow:
        names = [one["name"] for one in alike]
        with Tag("li"):
            with Tag("label", classes="check"):
                box = Tick(cast, ticked=partial(self._let, names))
                Tag("span", names[0] if len(names) == 1 else f"{len(names)} alike: {names[0]} to {names[-1]}")
            says = Tag("small")
        return BodyRow(names=names, volume_mm3=alike[0]["volume_mm3"], box=box, says=says)

    def _say(self, row: BodyRow, g: float | None) -> None:
        """How large it is; `g`: what one weighs in metal."""
        weighs = " ".join(here().figure(f"{g:.2f}", "g")) if g else ""
        says = " · ".join(part for part in (f"{row.volume_mm3:.1f} mm³", weighs) if part)
        by_name = ", not cast by its name" if row.names[0] in self.by_name else ""
        row.says.set_text(f"{says}{' each' if len(row.names) > 1 else ''}{by_name}")

    def _out(self) -> Set[str]:
        """What is not cast, as it is kept."""
        return self.by_name | set(self.page.desk.store.pattern(self.pattern_id).leave_out)

    def _tick(self) -> None:
        """Show what is kept."""
        out = self._out()
        for row in self.rows:
            row.box.tick(row.names[0] not in out)
            row.box.able(row.names[0] not in self.by_name)

    def _let(self, names: Sequence[str], cast: bool) -> None:
        others = [name for name in self.page.desk.store.pattern(self.pattern_id).leave_out if name not in names]
        try:
            self.page.desk.leave_out(self.pattern_id, others if cast else [*others, *names])
        except PourwellError as err:
            self.page.not_saved(for_desk(str(err)))
            self._tick()
            return
        self.page.saved()


def gathered(bodies: Sequence[Mapping[str, Any]], *, by_name: Set[str] = frozenset()) -> list[list[Mapping[str, Any]]]:
    """The bodies one by one; of many those of one volume, cast or not alike, together: nobody unticks fifty stones singly.

    Those that are left out `by_name` stand apart from those that a user left out: their box is not to be ticked.
    """
    if len(bodies) <= FEW_BODIES:
        return [[one] for one in bodies]
    groups: dict[tuple[float, bool, bool], list[Mapping[str, Any]]] = {}
    for one in bodies:
        groups.setdefault((round(one["volume_mm3"], 2), one["kept"], one["name"] in by_name), []).append(one)
    found = list(groups.values())
    return found if len(found) <= MOST_ROWS else sorted(found, key=lambda alike: -abs(alike[0]["volume_mm3"]))


class NameAndUnit:
    """What a pattern is called, and how its file is read. What is being typed stays while it is checked anew."""

    def __init__(self, page: Frame, pattern: KeptPattern) -> None:
        self.page, self.pattern_id, self.name = page, pattern.id, pattern.name
        with parts.section("Name and unit"), Tag("div", classes="fields"):
            self.called = parts.entry("Name", pattern.name, self._rename, maxlength="100")
            self.unit = parts.choice(
                "Unit of the file's numbers", pattern.units, self._set_unit, options=UNITS, remark="it is checked anew"
            )

    def show(self, pattern: KeptPattern) -> None:
        """Show what another window made of it."""
        if pattern.name != self.name:
            self.name = pattern.name
            self.called.control.set(pattern.name)
            self.called.tell("")
        if pattern.units != self.unit.control.value:
            self.unit.control.set(pattern.units)

    def _rename(self, text: str) -> None:
        if not text.strip():
            self.called.tell("A pattern needs a name.")
            return
        self.name = self.page.desk.rename_pattern(self.pattern_id, text).name
        self.page.saved()
        self.called.tell("")

    def _set_unit(self, unit: str) -> None:
        self.page.desk.set_units(self.pattern_id, unit)
        self.page.saved()
