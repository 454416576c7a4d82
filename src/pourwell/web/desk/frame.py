"""The frame of every page: the word, the pages on one line, what was saved when, and the day rail."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Final

from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.app.shown import shown_of
from pourwell.app.watch import Watch
from pourwell.errors import PourwellError
from pourwell.steps.day.clock import local
from pourwell.web.desk import parts
from pourwell.web.desk.rail import day_rail
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import show_in

PAGES: Final = (
    ("Studio", "/"),
    ("Patterns", "/patterns"),
    ("Runs", "/runs"),
    ("Materials", "/materials"),
    ("Settings", "/settings"),
)
RAIL_S: Final = 30.0
UNDO_S: Final = 10.0
FUNNEL: Final = ("M3 2h16l-5.5 8v14h-5V10z", "M6.2 6.6h9.6L13.5 10v14h-5V10z")


class Frame:
    """What a page needs of its frame: the studio's lists and clock, and where to say that something was saved."""

    state: Tag
    foot: Tag

    def __init__(self, desk: Desk) -> None:
        self.desk, self.lists, self.units = desk, desk.choices(), shown_of(desk.folder)
        self.redraw: Callable[[], None] = _nothing
        self.files = Watch(desk.folder)
        self.unread = ""
        """Why a file of the studio cannot be read now."""
        self.heard_of: Callable[[], None] = _nothing
        """What a page does when a file of the studio was changed, by another window or another program."""

    def heard(self) -> None:
        """Look again at the studio's files: other units load the page anew, for nothing on it would be right."""
        try:
            if shown_of(self.desk.folder) != self.units:
                ui.navigate.reload()
                return
            self.lists = self.desk.choices()
        except PourwellError as err:  # somebody is in the middle of writing it
            self.unread = err.what
            self.state.set_text(self.unread)
            return
        if self.unread and self.state.text == self.unread:
            self.state.set_text("")
        self.unread = ""
        self.heard_of()

    def moment(self) -> datetime:
        """Now on the studio's clock."""
        return local(self.desk.clock(), self.lists.zone)

    def saved(self, *, left: str = "") -> None:
        """Say that it was saved: only after a call that keeps has returned. `left`: what was left as it is, and why."""
        self.state.set_text(f"Saved {self.moment():%H:%M:%S}" + (f". Left as it is: {left}" if left else ""))

    def not_yet_saved(self) -> None:
        """Say that something is being typed that is written when its field is left."""
        self.state.set_text("Not saved yet")

    def not_saved(self, why: str) -> None:
        """Say that it was not."""
        self.state.set_text(f"Not saved: {why}")

    def undo(self, says: str, deed: Callable[[], None]) -> None:
        """A line at the foot with Undo, for ten seconds."""
        self.foot.clear()

        def back() -> None:
            self.foot.clear()
            deed()

        with self.foot, Tag("div", classes="undo"):
            Tag("span", says)
            parts.button("Undo", back, "btn plain")
            ui.timer(UNDO_S, self.foot.clear, once=True)


@contextmanager
def frame(desk: Desk, *, at: str, title: str) -> Iterator[Frame]:
    """A page: what is built inside is its main part."""
    ui.page_title(f"{title} · Pourwell")
    ui.query("body").classes("desk")
    made = Frame(desk)
    show_in(made.units)
    Tag("a", "To the page", "skip", href="#main")
    with Tag("header", classes="frame"):
        with Tag("div", classes="frame-top"):
            with Tag("a", classes="word", href="/"):
                with Tag("svg", viewBox="0 0 22 26", aria_hidden="true"):
                    Tag("path", d=FUNNEL[0], fill="none", stroke="currentColor", stroke_width="2", stroke_linejoin="round")
                    Tag("path", d=FUNNEL[1], fill="currentColor")
                Tag("span", "Pourwell")
            with Tag("nav", classes="nav", aria_label="Pages"):
                for name, href in PAGES:
                    Tag("a", name, href=href, aria_current="page" if href == at else None)
            with Tag("div", classes="frame-side"):
                Tag("span", made.lists.studio, "opt")
                made.state = Tag("span", "", role="status")
        rail = Tag("div", classes="rail-box")

    def draw() -> None:
        rail.clear()
        with rail:
            day_rail(desk.standings(), made.lists, made.moment())

    draw()
    seen = desk.turn

    def look() -> None:
        nonlocal seen
        seen = desk.turn
        draw()

    def when_kept() -> None:
        if desk.turn != seen:
            look()
        if made.files.changed():
            made.heard()

    ui.timer(RAIL_S, look)
    ui.timer(1.0, when_kept)
    made.foot = Tag("div", classes="foot", role="status")
    with Tag("main", classes="page", id="main"):
        yield made


def _nothing() -> None:
    """Until a page says how it is drawn anew."""
