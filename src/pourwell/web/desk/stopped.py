"""What a finding forbids, said the same on every page of a run: a red band over all else, the head, the title of the window."""

from nicegui import ui

from pourwell.app.in_hand import forbids
from pourwell.web.desk import parts
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.tag import Tag

LOOK_S = 1.0


def red_band(why: str, *, way: str = "") -> None:
    """The band itself: what must not be done and why; `way` leads to the findings."""
    with Tag("p", classes="do-not-pour"):
        Tag("span", why)
        if way:
            parts.link("What to do", way)


class StopBand:
    """The band of a run, and its title. It is looked at anew as plans and other runs change: a clash passes with time."""

    def __init__(self, page: Frame, run_id: int, *, head: Tag, view: str = "") -> None:
        self.page, self.run_id, self.head, self.view = page, run_id, head, view
        """`view`: what of the run the page shows, "how it freezes"; empty on its own page."""
        self.number = page.desk.store.run(run_id).number
        self.shown: str | None = None
        self.state = ""

    def build(self) -> None:
        """The band, empty while nothing is stopped."""
        self.box = Tag("div")
        self.look()
        ui.timer(LOOK_S, self.look)

    def look(self) -> None:
        """Say what is forbidden now."""
        state = f"{self.page.desk.turn} {self.page.moment():%H:%M}"
        if state == self.state:
            return
        self.state = state
        standing = self.page.desk.standing_of(self.run_id)
        never, why = (forbids(standing.findings), standing.forbidden) if standing else ("", "")
        if why == self.shown:
            return
        self.shown = why
        run = f"run {self.number}, {self.view}" if self.view else f"run {self.number}"
        plain = parts.capital(run).replace(",", ":", 1)
        ui.page_title(f"{never}: {run} · Pourwell" if never else f"{plain} · Pourwell")
        self.head.set_text(f"{parts.capital(run)}: {parts.small(never)}" if never else plain)
        self.box.clear()
        if never:
            with self.box:
                red_band(self.page.units.text(why), way="#findings" if not self.view else f"/runs/{self.run_id}#findings")
