"""Materials and equipment: the rows of the library beside the studio's own, and the way to each."""

from collections.abc import Callable, Sequence
from typing import Any, Final

from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.app.desk_words import DASH, TIMES
from pourwell.app.gear import Gear
from pourwell.app.own_rows import GRADES, OWN, TITLES, Entry, OwnRows, told_source, weak_count
from pourwell.app.shown import Shown
from pourwell.errors import BadRequestError
from pourwell.materials.model import Grade, Programme, Quantity
from pourwell.web.desk import parts
from pourwell.web.desk.calibrations import calibrations
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.own_fields import grade_mark
from pourwell.web.desk.tag import Tag

TABS: Final = (
    ("Equipment", "/materials"),
    *((title, f"/materials/{shelf}") for shelf, title in TITLES.items()),
    ("Calibrations", "/materials/calibrations"),
    ("Sources", "/materials/sources"),
)
ABOUT: Final = {
    "alloys": "What melts where, and what it weighs. The refiner's sheet wins: copy a row and enter it.",
    "investments": "What the bag says wins: copy a row and enter it.",
    "patterns": "What a pattern is made of, and what it costs.",
    "flasks": "As soon as one flask is your own, a plan chooses among your own only.",
    "programmes": "Published burnout programmes, with the holds of a 76 mm flask. Copy one to enter what your bag says.",
}
SHOWN_FLASK_MM: Final = 76.0
"""Holds of a programme are told for a flask of this diameter."""
Cell = tuple[str, str]
"""A figure and its unit."""
NOTHING: Final[Cell] = (DASH, "")


def tabs(at: str) -> None:
    """The parts of these pages on one line."""
    with Tag("nav", classes="tabs", aria_label="Materials and equipment"):
        for name, href in TABS:
            Tag("a", name, href=href, aria_current="page" if href == at else None)


def shelf_page(desk: Desk, shelf: str) -> None:
    """One shelf of the library. Raises BadRequestError for one that there is not."""
    if shelf not in TITLES:
        raise BadRequestError("There is no such page.", try_this="Look among the materials.")
    with frame(desk, at="/materials", title=TITLES[shelf]) as page:
        with Tag("div", classes="head"), Tag("div"):
            Tag("h1", TITLES[shelf])
            Tag("p", ABOUT[shelf])
            if shelf == "programmes":
                with Tag("p"):
                    parts.link("See what a burnout does in your flasks", "/burnout")
        tabs(f"/materials/{shelf}")
        body = Tag("div")

        def draw() -> None:
            entries = OwnRows(desk.folder).entries(shelf)
            body.clear()
            with body:
                _own(page, shelf, [one for one in entries if one.own])
                if shelf == "flasks":
                    _listed(page)
                _table(page, "Of the library", [one for one in entries if not one.own], shelf=shelf)

        page.redraw = page.heard_of = draw
        draw()


def _own(page: Frame, shelf: str, entries: Sequence[Entry]) -> None:
    if entries:
        _table(page, "Your own", entries, shelf=shelf)
        return
    with parts.section("Your own"):
        Tag("p", "None yet. Open a row of the library below and make a copy of your own.", "quiet")


def _listed(page: Frame) -> None:
    """The flasks that studio.toml itself lists."""
    names = [page.units.text(words) for _, words in Gear(page.desk.folder).listed_flasks()]
    if names:
        with parts.section("Listed in studio.toml", f"{len(names)}"), Tag("p"):
            Tag("span", f"{'; '.join(names)}. ")
            parts.link("They are changed among the equipment", "/materials")


def _table(page: Frame, title: str, entries: Sequence[Entry], *, shelf: str) -> None:
    heads = HEADS[shelf]
    with (
        parts.section(title, f"{len(entries)}"),
        Tag("div", classes="scroll", tabindex="0", role="region", aria_label=title),
        Tag("table", classes="stock shelf"),
    ):
        with Tag("thead"), Tag("tr"):
            for k, head in enumerate(("Name", *heads, "Values")):
                Tag("th", head, "num" if 0 < k <= len(heads) else "", scope="col")
        with Tag("tbody"):
            for entry in entries:
                with Tag("tr"):
                    with Tag("th", scope="row"):
                        parts.link(page.units.text(called(entry)), f"/materials/{shelf}/{entry.id}")
                    for (text, unit), head in zip(CELLS[shelf](entry.row, page.units), heads, strict=True):
                        cell = parts.as_shown(text, unit, tag="td", classes="num nowrap")
                        cell.props["data-label"] = head
                    _values(entry)


def _values(entry: Entry) -> None:
    """How far a row's values can be trusted, in a word."""
    weak = weak_count(entry)
    with Tag("td", classes="nowrap", data_label="Values"):
        if entry.own:
            Tag("span", "own" if not entry.over_shipped else "own, over the library's", "grade own")
        elif weak:
            Tag("span", f"{weak} estimated or remembered", "quiet")
        else:
            Tag("span", "published", "quiet")


def called(entry: Entry) -> str:
    """How a row is called in a list."""
    row = entry.row
    if entry.shelf == "flasks":
        return f"{row.diameter_mm:g} {TIMES} {row.height_mm:g} mm" + (", perforated" if row.perforated else "")
    return parts.capital(entry.name)


def _figure(value: Quantity | None, unit: str, units: Shown, *, digits: str = "g") -> Cell:
    if value is None:
        return NOTHING
    return units.figure(format(value.value, digits), unit)


def _alloy(row: Any, units: Shown) -> list[Cell]:
    low, high = f"{row.solidus_c.value:.0f}", f"{row.liquidus_c.value:.0f}"
    melts = units.figure(low if low == high else f"{low} to {high}", "°C")
    return [
        (str(row.fineness_permille), "") if row.fineness_permille else NOTHING,
        melts,
        _figure(row.metal_medium_c, "°C", units, digits=".0f"),
        _figure(row.density_g_per_cm3, "g/cm³", units, digits=".2f"),
        _figure(row.price_per_g, "", units),
    ]


def _investment(row: Any, units: Shown) -> list[Cell]:
    return [
        (units.number(f"{row.water_g_per_100_g.value:g} : 100"), ""),
        _figure(row.gloss_off_min, "min", units),
        _figure(row.peak_c, "°C", units, digits=".0f"),
        _figure(row.metal_max_c, "°C", units, digits=".0f"),
        _figure(row.price_per_kg, "", units),
    ]


def _pattern(row: Any, units: Shown) -> list[Cell]:
    price = row.price_per_kg or row.price_per_l
    return [(row.family, ""), _figure(row.density_g_per_cm3, "g/cm³", units, digits=".2f"), _figure(price, "", units)]


def _flask(row: Any, units: Shown) -> list[Cell]:
    return [
        units.figure(f"{row.diameter_mm:g}", "mm"),
        units.figure(f"{row.height_mm:g}", "mm"),
        units.figure(f"{row.wall_mm:.1f}", "mm"),
        (row.mark or DASH, ""),
    ]


def _programme(row: Programme, units: Shown) -> list[Cell]:
    levels = [units.degrees(step.target_c)[0] for step in row.steps if not isinstance(step.target_c, str)]
    holds = sum(step.hold_min.at(SHOWN_FLASK_MM) for step in row.steps)
    return [(" · ".join(levels), units.unit("°C")), (f"{holds / 60:.1f}", "h")]


HEADS: Final = {
    "alloys": ("Fineness", "Melts", "Metal, medium", "Density", "Price a gram"),
    "investments": ("Water", "Gloss-off", "Peak", "Metal, at most", "Price a kilogram"),
    "patterns": ("Family", "Density", "Price"),
    "flasks": ("Inside", "Height", "Wall", "Stamped"),
    "programmes": ("Levels", "Holds"),
}
CELLS: Final[dict[str, Callable[[Any, Shown], list[Cell]]]] = {
    "alloys": _alloy,
    "investments": _investment,
    "patterns": _pattern,
    "flasks": _flask,
    "programmes": _programme,
}


def calibrations_page(desk: Desk) -> None:
    """What the studio measured of its own kiln, flasks and investments."""
    with frame(desk, at="/materials", title="Calibrations") as page:
        with Tag("div", classes="head"), Tag("div"):
            Tag("h1", "Calibrations")
            Tag("p", "What you measured of your kiln, flasks and investments. Of one thing the newest is used.")
        tabs("/materials/calibrations")
        body = Tag("div")

        def draw() -> None:
            body.clear()
            with body:
                calibrations(page)

        page.redraw = page.heard_of = draw
        draw()


def sources_page(desk: Desk) -> None:
    """Where the library's values come from."""
    with frame(desk, at="/materials", title="Sources"):
        with Tag("div", classes="head"), Tag("div"):
            Tag("h1", "Sources")
            Tag(
                "p",
                "Where the library's figures come from. Judge them: your bag and your refiner's sheet win.",
            )
        tabs("/materials/sources")
        library = OwnRows(desk.folder).library
        with parts.section("How far a value can be trusted"), Tag("dl", classes="grades"):
            for word, says in GRADE_WORDS:
                with Tag("div"):
                    with Tag("dt"):
                        grade_mark(Tag("span"), word)
                    Tag("dd", says)
        with parts.section("Sources", f"{len(library.sources)}"), Tag("ul", classes="sources"):
            for key in sorted(library.sources, key=lambda name: library.sources[name].author.lower()):
                one = library.sources[key]
                with Tag("li"):
                    Tag("span", told_source(key, library))
                    Tag("small", one.licence)


GRADE_WORDS: Final = (
    (OWN, "your own figure: the bag, the refiner's sheet, your scale"),
    (GRADES[Grade.MEASURED], "measured, in a paper that was read"),
    (GRADES[Grade.HANDBOOK], "from a handbook, a standard, a data sheet, or mixed from such"),
    (GRADES[Grade.SUPPLIER], "printed by a supplier, refiner or maker"),
    (GRADES[Grade.PRACTICE], "common practice of the trade, without a source"),
    (GRADES[Grade.MEMORY], "remembered from the source named, not read again"),
    (GRADES[Grade.ESTIMATE], "our own estimate: an own figure is better"),
    ("assumed", "your equipment as most small studios have it, until you say"),
)


def to_entry(shelf: str, name: str) -> None:
    """Go to the page of a row."""
    ui.navigate.to(f"/materials/{shelf}/{name}")
