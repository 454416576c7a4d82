"""What can be changed on the page of a pattern: its ring size, its name, the unit of its file."""

from collections.abc import Callable, Mapping
from typing import Any, Final

from pourwell.app.desk_words import for_desk
from pourwell.errors import PourwellError
from pourwell.steps.pattern.sizes import diameter_of, sizes
from pourwell.store.model import KeptPattern
from pourwell.web.desk import parts
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here

FINISHED: Final = "finished bore"
"""The row of a check that only a piece with a finger's bore has."""
WAYS: Final = (("scale", "Scale the whole piece"), ("offset", "Move the bore alone"))
HOW: Final = 'with its system, as "ISO 54", "US 7" or "UK N"'
IN_MM: Final = 'with its system, as "ISO 54", "US 7", "UK N", or "17.3 mm"'
MM: Final = "mm"
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


def size_section(data: Mapping[str, Any], fit: Callable[[str, bool], Any]) -> None:
    """The size that is wanted, and the way there; `fit` gets both."""
    now = data["piece"]["bore"]["finished_sizes"]
    wanted = {"size": "", "way": "scale"}
    with parts.section("Ring size", f"finishes at ISO {now['iso']}, US {now['us']}, UK {now['uk']}"):
        with Tag("div", classes="fields"):

            def typed(text: str) -> None:
                wanted["size"] = text.strip()
                field.remark, fault = (told(text), "") if is_size(text) else (how(), why_not(text))
                field.tell(fault)

            def chosen(way: str) -> None:
                wanted["way"] = way

            field = parts.entry("Finished size wanted", "", typed, remark=how(), maxlength="20")
            parts.choice("How", "scale", chosen, options=WAYS)

        def press() -> None:
            if is_size(wanted["size"]):
                fit(wanted["size"], wanted["way"] == "offset")
            else:
                field.tell(why_not(wanted["size"]) or "Enter the size that is wanted.")

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


def why_not(text: str) -> str:
    """Why a text is no size; empty for no text."""
    if not text.strip():
        return ""
    try:
        diameter_of(text)
    except PourwellError as err:
        return for_desk(str(err))
    return ""


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
