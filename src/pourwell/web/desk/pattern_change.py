"""What can be changed on the page of a pattern: its ring size, which of its bodies are cast, its name, the unit of its file."""

from collections.abc import Callable, Mapping, Sequence
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


def size_section(data: Mapping[str, Any], fit: Callable[[str, bool], Any], *, asked: str = "") -> None:
    """The size that is wanted, at first the one `asked` for, and the way there; `fit` gets both."""
    now = data["piece"]["bore"]["finished_sizes"]
    wanted = {"size": asked, "way": "scale"}
    with parts.section("Ring size", f"finishes at ISO {now['iso']}, US {now['us']}, UK {now['uk']}") as whole:
        whole.props["id"] = RING_SIZE
        with Tag("div", classes="fields"):

            def typed(text: str) -> None:
                wanted["size"] = text.strip()
                field.remark, fault = (told(text), "") if is_size(text) else (how(), why_no_size(text))
                field.tell(fault)

            def chosen(way: str) -> None:
                wanted["way"] = way

            field = parts.entry("Finished size wanted", asked, typed, remark=how(), maxlength="20")
            parts.choice("How", "scale", chosen, options=WAYS)

        def press() -> None:
            if is_size(wanted["size"]):
                fit(wanted["size"], wanted["way"] == "offset")
            else:
                field.tell(why_no_size(wanted["size"]) or "Enter the size that is wanted.")

        with Tag("div", classes="acts after-fields"):
            parts.button("See it at that size", press)
            Tag("span", "nothing is kept before you say so", "small")


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


def bodies_section(page: Frame, pattern: KeptPattern, result: KeptResult) -> None:
    """Which of several bodies are cast."""
    piece = result.data["piece"]
    bodies = [one for one in piece.get("bodies") or () if one["volume_mm3"] > 0]  # a hollow goes with the body that it lies in
    if len(bodies) < 2:
        return
    g_per_mm3 = piece["metal_g"] / piece["volume_mm3"] if piece.get("volume_mm3") and not result.data["doubtful"] else None
    by_name = {one["name"] for one in bodies if not one["kept"]} - set(result.asked.get("leave_out", ()))
    with parts.section("Bodies", "untick a stone or a support: it is not cast") as whole:
        whole.props["id"] = BODIES
        rows = Tag("ul", classes="bodies")

    def draw() -> None:
        out = page.desk.store.pattern(pattern.id).leave_out
        rows.clear()
        with rows:
            groups = gathered(bodies)
            for alike in groups[:MOST_ROWS]:
                first = alike[0]["name"]
                g = g_per_mm3 and g_per_mm3 * alike[0]["volume_mm3"]
                _body(alike, g, cast=first not in {*out, *by_name}, fixed=first in by_name, let=let)
            if len(groups) > MOST_ROWS:
                Tag("li", f"and {sum(map(len, groups[MOST_ROWS:])):,} smaller ones, as they are", "quiet")

    def let(names: Sequence[str], cast: bool) -> None:
        others = [name for name in page.desk.store.pattern(pattern.id).leave_out if name not in names]
        try:
            page.desk.leave_out(pattern.id, others if cast else [*others, *names])
        except PourwellError as err:
            page.not_saved(for_desk(str(err)))
            draw()  # a browser's box shows what was pressed until it is another one
            return
        page.saved()

    draw()


def _body(
    alike: Sequence[Mapping[str, Any]], g: float | None, *, cast: bool, fixed: bool, let: Callable[[Sequence[str], bool], None]
) -> None:
    """A body, or several of one volume, with its box; `fixed`: it is not cast by its name; `g`: what one weighs in metal."""
    names = [one["name"] for one in alike]
    each = " each" if len(names) > 1 else ""
    with Tag("li"):
        with Tag("label", classes="check"):
            box = Tick(cast, ticked=partial(let, names))
            if fixed:
                box.props["disabled"] = True
            Tag("span", names[0] if not each else f"{len(names)} alike: {names[0]} to {names[-1]}")
        weighs = " ".join(here().figure(f"{g:.2f}", "g")) if g else ""
        says = " · ".join(part for part in (f"{alike[0]['volume_mm3']:.1f} mm³", weighs) if part)
        Tag("small", f"{says}{each}{', not cast by its name' if fixed else ''}")


def gathered(bodies: Sequence[Mapping[str, Any]]) -> list[list[Mapping[str, Any]]]:
    """The bodies one by one; of many those of one volume, cast or not alike, together: nobody unticks fifty stones singly."""
    if len(bodies) <= FEW_BODIES:
        return [[one] for one in bodies]
    groups: dict[tuple[float, bool], list[Mapping[str, Any]]] = {}
    for one in bodies:
        groups.setdefault((round(one["volume_mm3"], 2), one["kept"]), []).append(one)
    found = list(groups.values())
    return found if len(found) <= MOST_ROWS else sorted(found, key=lambda alike: -abs(alike[0]["volume_mm3"]))


def name_and_unit(page: Frame, pattern: KeptPattern) -> None:
    """What a pattern is called, and how its file is read."""
    desk = page.desk
    with parts.section("Name and unit"), Tag("div", classes="fields"):

        def name(text: str) -> None:
            if text.strip():
                desk.rename_pattern(pattern.id, text)
                page.saved()
                called.tell("")
            else:
                called.tell("A pattern needs a name.")

        def units(unit: str) -> None:
            desk.set_units(pattern.id, unit)
            page.saved()

        called = parts.entry("Name", pattern.name, name, maxlength="100")
        parts.choice("Unit of the file's numbers", pattern.units, units, options=UNITS, remark="it is checked anew")
