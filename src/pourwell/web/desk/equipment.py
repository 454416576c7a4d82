"""The studio's own gear: kilns, melting and vacuum, rubber bases, the printer. All of it stands in studio.toml."""

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from pourwell.app.asked import Asked
from pourwell.app.desk import Desk
from pourwell.app.gear import BASE, CASTING, KILN, MELTING, PLACE, PRINTER, VACUUM, Gear, GearLine
from pourwell.app.row_fields import groups
from pourwell.errors import PourwellError
from pourwell.files.own_toml import Key, value_at
from pourwell.materials.model import FlaskRow
from pourwell.web.desk import parts
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.materials import tabs
from pourwell.web.desk.own_fields import Rows
from pourwell.web.desk.tag import Tag

FLASK: Final = groups(FlaskRow)[0][1]


def equipment_page(desk: Desk) -> None:
    """The page."""
    with frame(desk, at="/materials", title="Materials and equipment") as page:
        with Tag("div", classes="head"), Tag("div"):
            Tag("h1", "Materials and equipment")
            Tag("p", "What you work with. What you do not say is assumed, as most small studios have it, and each plan says so.")
        tabs("/materials")
        Equipment(page).build()


class Equipment:
    """The fields, and the entries of lists that can be added and taken out."""

    def __init__(self, page: Frame) -> None:
        self.page, self.shape = page, ""
        self.rows: list[Rows] = []

    def build(self) -> None:
        """All sections."""
        self.body = Tag("div")
        self.page.redraw, self.page.heard_of = self.draw, self.look
        self.draw()

    def gear(self) -> Gear:
        """The file as it stands now."""
        return Gear(self.page.desk.folder)

    def draw(self) -> None:
        """All sections anew."""
        gear = self.gear()
        self.shape, self.rows = shape_of(gear), []
        self.body.clear()
        with self.body:
            self._kilns(gear)
            self._table("Melting", "What melts the metal, and what you can see of it.", MELTING, at=("melting",))
            self._table("Casting", "What drives the metal into the mould.", CASTING, at=("casting",))
            self._table("Vacuum for investing", "Bubbles stay where there is none.", VACUUM, at=("investing_vacuum",))
            self._bases(gear)
            self._flasks(gear)
            self._table(
                "Printer and prices", "Only printing leans on these. Prices stand with each material.", PRINTER, at=("printer",)
            )
            self._table("The studio", "Stands on each sheet.", PLACE, at=())

    def look(self) -> None:
        """Show what another hand has written."""
        if shape_of(self.gear()) != self.shape:
            self.draw()
            return
        for rows in self.rows:
            rows.look()

    def _fields(self, fields: Sequence[Asked], at: Key, of: str = "") -> None:
        def read() -> list[GearLine]:
            return self.gear().lines(tuple(fields), at)

        rows = Rows(self.page, read, save=lambda line, text: self.gear().set(line, text), of=of, changed=self.look)
        self.rows.append(rows)
        rows.build()

    def _table(self, title: str, why: str, fields: Sequence[Asked], *, at: Key) -> None:
        with parts.side(title, why):
            self._fields(fields, at)

    def _kilns(self, gear: Gear) -> None:
        places = gear.kilns()
        with parts.side("Kilns" if len(places) > 1 else "Kiln", "A single plan is fired in the first. A day uses all of them."):
            for place, at in enumerate(places):
                several = len(places) > 1
                name = gear.studio.all_kilns[place].name if several else ""
                with Tag("div", classes="one-of"):
                    if several:
                        self._one_head(name or "Kiln", at)
                    self._fields(KILN, at, of=name)
            parts.button("Add a kiln", self._deed(lambda: self.gear().add_kiln()), "btn")

    def _bases(self, gear: Gear) -> None:
        with parts.side(
            "Rubber bases", "Usable height is the flask less base, cover and headspace; the button is the dome as filled."
        ):
            places = gear.bases()
            if not places:
                Tag("p", "None yet: one is guessed for each flask. Measure yours, for its dome is weighed with the tree.", "quiet")
            for at in places:
                number = int(at[1]) + 1
                with Tag("div", classes="one-of"):
                    self._one_head(f"Base {number}", at)
                    self._fields(BASE, at, of=f"Base {number}")
            parts.button("Add a base", self._deed(lambda: self.gear().add_base()), "btn")

    def _flasks(self, gear: Gear) -> None:
        listed = gear.listed_flasks()
        with parts.side(
            "Flasks", "A copy of a flask of the library is your own too. Where one is, a plan chooses among your own only."
        ):
            for at, words in listed:
                with Tag("div", classes="one-of"):
                    self._one_head(self.page.units.text(words), at)
                    if isinstance(value_at(gear.table, at), Mapping):
                        self._fields(FLASK, at, of=words)
            if not listed:
                Tag("p", "None are listed here.", "quiet")
            parts.link("To the flasks", "/materials/flasks", "btn")

    def _one_head(self, name: str, at: Key) -> None:
        with Tag("div", classes="one-head"):
            Tag("h3", name)
            parts.button("Take out", self._taking(at, name), "btn plain", aria_label=f"Take {name} out")

    def _deed(self, deed: Callable[[], object]) -> Callable[[], None]:
        def done() -> None:
            try:
                deed()
            except PourwellError as err:
                self.page.not_saved(parts.why(err))
                return
            self.page.saved()
            self.draw()

        return done

    def _taking(self, at: Key, name: str) -> Callable[[], None]:
        def take() -> None:
            back = self.gear().remove(at)
            self.page.undo(f"{name} is taken out.", self._deed(back))

        return self._deed(take)


def shape_of(gear: Gear) -> str:
    """Which fields there are, not what stands in them."""
    return f"{gear.kilns()} {gear.bases()} {gear.listed_flasks()} {[kiln.name for kiln in gear.studio.kilns]}"
