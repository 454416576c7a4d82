"""A burnout judged by itself: flasks of one load, what they are filled with, a programme; what it does inside each, and when.

What stands in the fields stands in the address too, so that a page that is loaded anew has lost nothing; its answer is held.
"""

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from functools import partial
from typing import Any, Final
from urllib.parse import urlencode

from nicegui import ui

from pourwell.app.crew import OVER, Job
from pourwell.app.desk import Desk
from pourwell.app.desk_burnout import BURNOUT, MOST_ROWS, burnout_of_form, rows_of
from pourwell.app.in_hand import worst_first
from pourwell.errors import PourwellError
from pourwell.web.desk import parts, when
from pourwell.web.desk.burnout_told import PLACES, tell_burnout
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.run_form import tick_box
from pourwell.web.desk.stopped import red_band
from pourwell.web.desk.tag import Narrow, Tag

LOOK_S: Final = 0.3
TITLE: Final = "A burnout by itself"
NEVER: Final = "Do not fire"
GROWN: Final = ("", "The safest for this load")
TO_THE_TOP: Final = "() => { if (window.matchMedia('(max-width: 700px)').matches) window.scrollTo(0, 0); }"
"""On a phone the button stands under the form; what is being done, and then the answer, stand above."""
OPEN: Final = "Left open"
USUAL_FLASK_MM: Final = 76.0
"""Of the flasks that there are, the one nearest to this diameter stands in the form at first."""
USUAL: Final = {"investment": "gypsum-resin", "pattern": "resin"}
"""What the command takes where nothing is said."""
LATE: Final = timedelta(minutes=5)
"""A kiln that was to go on now may go on so much later, while the answer is read; to five minutes hours are told. Own choice."""
HOW_SHORT: Final = "only where your own proven burnout, or logs of your flask, cover it"


def burnout_page(desk: Desk, given: Mapping[str, str]) -> None:
    """The page; `given` is what its address says."""
    with frame(desk, at="/materials", title=TITLE) as page:
        BurnoutPage(desk, page, given).build()


def at_first(page: Frame, given: Mapping[str, str]) -> dict[str, str]:
    """The fields as an address has them, and where it says no flask, the usual one at the usual alloy's temperature."""
    form = {**USUAL, **given}
    if not rows_of(form) and page.lists.flasks:
        flask_c = page.lists.flask_c.get(page.desk.usual_alloy())
        usual = min(page.lists.flasks, key=lambda one: abs(_across(one[1]) - USUAL_FLASK_MM))
        form |= {"flask1": usual[0], "level1": f"{flask_c:g}" if flask_c else ""}
    return {f"count{k}": "1" for k in rows_of(form)} | form


def _across(name: str) -> float:
    """The diameter with which the name of a flask begins; far away where it begins otherwise."""
    try:
        return float(name.split()[0])
    except ValueError:
        return float("inf")


class BurnoutPage:
    """The parts of the page that change while it is looked at."""

    def __init__(self, desk: Desk, page: Frame, given: Mapping[str, str]) -> None:
        self.desk, self.page = desk, page
        self.form = at_first(page, given)
        self.fields: dict[str, parts.Field] = {}
        self.job: Job | None = None
        self.shown: Mapping[str, Any] | None = None
        """What is asked in the answer that stands there."""
        self.is_narrow, self.drawn = False, False
        self.state = ""

    def build(self) -> None:
        """Head, band, form, answer."""
        with Tag("div", classes="head"), Tag("div"):
            self.title = Tag("h1", TITLE)
            self.sentence = Tag("p", "")
        self.band = Tag("div")
        self.jobs = parts.JobRows(self._mine, forget=self.desk.crew.forget)
        Narrow(self.narrow)
        self.whole = Tag("div")
        with self.whole:
            with Tag("nav", classes="ways", aria_label="On this page"):
                for name, place in PLACES:
                    parts.link(name, f"#{place}")
            self.cols = Tag("div", classes="cols judged")
        with self.cols:
            with Tag("div", classes="in", id="goes-in") as self.inputs:
                self._form()
                with Tag("div", classes="acts") as self.acts:
                    self.button = parts.button("See what it does", self.ask, "btn main")
                    self.button.on("click", js_handler=TO_THE_TOP)
            self.out = Tag("div", classes="out", aria_live="polite")
        with self.out:
            parts.empty(
                "What it does stands here",
                "Say which flasks go in together and how hot each is to be at its pour; then one button works out the kiln, and "
                "heat and water inside each flask.",
            )
        asked, faults = self.asked()
        self._tell_typed(faults)
        self.job = None if faults else self.desk.burnouts.held(asked)
        self.shown = asked if self.job is not None else None
        self.page.heard_of = self._heard
        self.look()
        ui.timer(LOOK_S, self.look)

    def narrow(self, narrow: bool) -> None:
        """On a narrow page the answer comes before the form, for eyes and for keys."""
        self.is_narrow = narrow
        self.inputs.move(target_index=1 if narrow and self.drawn else 0)

    # ---- the form

    def _form(self) -> None:
        lists = self.page.lists
        with parts.section("Flasks of one load", "all go in together"):
            self.rows = Tag("div", classes="flask-rows")
            self.more = parts.button("Another flask", self._add, "btn plain")
        self._rows()
        with parts.section("In them"), Tag("div", classes="fields one"):
            self._choice("investment", "Investment", lists.investments)
            self._choice("pattern", "Pattern material", lists.materials)
            self.stones = tick_box("Stones are in place", self.form.get("stones"), partial(self._ticked, "stones"))
        with parts.section("Burnout"), Tag("div", classes="fields one"):
            options = (GROWN, *((key, f"{name}, yours") for key, name in lists.programmes), *lists.published)
            self._choice("own", "Programme", options, remark="one that is chosen is judged as it stands")
            if kilns := lists.kilns_with(self.form.get("kiln", "")):
                self._choice("kiln", "Kiln", kilns)
            self.shorter = tick_box("Shorter than published", self.form.get("shorter"), partial(self._ticked, "shorter"))
            Tag("p", HOW_SHORT, "small")
        with parts.section("Hours", "either may be left open"), Tag("div", classes="fields one"):
            now = self.page.moment()
            for key, label in (("on", "Kiln on"), ("pour", "First pour on")):
                with Tag("div", classes="two"):
                    self._choice(f"{key}_day", label, [("", OPEN), *when.days(now, self.form.get(f"{key}_day", ""))[1:]])
                    self._entry(f"{key}_hour", "at", inputmode="numeric", remark="as 10:00")
            Tag("p", "With neither the kiln goes on now. With both, the time between goes into drying and carbon.", "small")

    def _rows(self) -> None:
        """A row a kind of flask."""
        self.rows.clear()
        for name in [name for name in self.fields if name[-1].isdigit()]:
            del self.fields[name]
        numbers = rows_of(self.form)
        with self.rows:
            for place, k in enumerate(numbers, 1):
                with Tag("div", role="group", aria_label=f"Flask {place}"):
                    self._choice(f"flask{k}", "Flask", self.page.lists.flasks)
                    self._entry(f"level{k}", "At the pour", unit="°C", inputmode="decimal")
                    self._entry(f"count{k}", "How many", inputmode="numeric", maxlength="2")
                    if len(numbers) > 1:
                        parts.button("Take it out", partial(self._out, k), "btn plain", aria_label=f"Take flask {place} out")
        self.more.set_visibility(len(numbers) < MOST_ROWS)

    def _choice(self, name: str, label: str, options: Any, *, remark: str = "") -> None:
        value = self.form.get(name, "")
        if value and value not in dict(options):  # what a link or an older address names is shown, and refused by the work
            options = [*options, (value, value)]
        self.form.setdefault(name, value)
        self.fields[name] = parts.choice(label, value, self.typed(name), options=options, remark=remark)

    def _entry(self, name: str, label: str, **how: Any) -> None:
        self.fields[name] = parts.entry(label, self.form.get(name, ""), self.typed(name), **how)

    def typed(self, name: str) -> Callable[[str], None]:
        """What happens when something is typed or chosen."""

        def keep(text: str) -> None:
            self.form[name] = text[:100]
            self._changed()

        return keep

    def _ticked(self, name: str, on: bool) -> None:
        self.form[name] = "yes" if on else ""
        self._changed()

    def _add(self) -> None:
        """One more flask, like the last."""
        rows = rows_of(self.form)
        free = next(k for k in range(1, MOST_ROWS + 1) if k not in rows)
        last = rows[-1] if rows else None
        for name in ("flask", "level"):
            self.form[f"{name}{free}"] = self.form.get(f"{name}{last}", "")
        self.form[f"count{free}"] = "1"
        self._rows()
        self._changed()

    def _out(self, k: int) -> None:
        for name in ("flask", "level", "count"):
            self.form.pop(f"{name}{k}", None)
        self._rows()
        self._changed()

    def _changed(self) -> None:
        said = {key: text for key, text in self.form.items() if text}
        ui.navigate.history.replace(f"/burnout?{urlencode(said)}")
        self._tell(self.asked()[1])
        self.look()

    def asked(self) -> tuple[dict[str, Any], dict[str, str]]:
        """What is asked now, and what is not yet right."""
        lists = self.page.lists
        return burnout_of_form(self.form, now=self.desk.clock(), zone=lists.zone, kilns=lists.kiln_names)

    def _tell(self, faults: Mapping[str, str]) -> None:
        for name, field in self.fields.items():
            field.tell(faults.get(name, ""))

    def _tell_typed(self, faults: Mapping[str, str]) -> None:
        """Tell what is not right of what stands there; what is still empty is no fault of a page just opened."""
        self._tell({name: fault for name, fault in faults.items() if self.form.get(name)})

    def _heard(self) -> None:
        """A file of the studio was changed: a kiln may be no more."""
        self._tell_typed(self.asked()[1])
        self.look()

    def ask(self) -> None:
        """Have it judged, if all that takes is there."""
        asked, faults = self.asked()
        self._tell(faults)
        if faults or (self.job is not None and self.job.state not in OVER):
            return
        self.job, self.shown = self.desk.burnouts.ask(asked), asked
        self.look()

    # ---- the answer

    def _mine(self) -> list[Job]:
        """The work in hand; a refusal is told where the answer would stand."""
        return [
            job for job in self.desk.crew.jobs if job is self.job and job.about == (BURNOUT, job.number) and job.state not in OVER
        ]

    def look(self) -> None:
        """Tell what has changed; fields and buttons stay the same elements."""
        self.jobs.look()
        job = self.job
        busy = job is not None and job.state not in OVER
        asked, _ = self.asked()
        late = not busy and job is not None and job.outcome is not None and self._late(job.outcome)
        fresh = self.shown is not None and self.desk.burnouts.held(asked) is job and not late
        self.button.set_text("Being worked out" if busy else "See what it does")
        self.acts.set_visibility(busy or not fresh or job is None or job.state != "done")
        parts.able(self.button, not busy)
        self.sentence.set_text(self._sentence(job, fresh=fresh, late=late))
        state = f"{job.number} {job.state} {self.desk.turn}" if job is not None else ""
        if job is None or busy or state == self.state:
            return
        self.state = state
        if job.outcome is not None:
            self._draw(job.outcome)
        elif job.state == "failed":
            self._refuse(job.fault)
        self.narrow(self.is_narrow)

    def _late(self, found: Mapping[str, Any]) -> bool:
        """Whether its kiln should have gone on by now."""
        return datetime.fromisoformat(found["told"]["kiln_on_at"]) + LATE < self.desk.clock()

    def _sentence(self, job: Job | None, *, fresh: bool, late: bool) -> str:
        if job is None or job.outcome is None:
            return "Computed are heat and water in the mould while the kiln runs: the safest burnout, or one of yours as it stands."
        at = when.day_and_clock(when.told(job.outcome["made_at"], self.page.lists.zone), self.page.moment())
        over = " Its first step is over by now." if late else " Since then something was changed: work it out again."
        since = "" if fresh else over
        return f"{parts.capital(job.outcome['plan']['burnout']['name'])}. Worked out {at}.{since}"

    def _forbid(self, why: str) -> None:
        """What stops it stands over all else, and in the title."""
        ui.page_title(f"{NEVER}: {parts.small(TITLE)} · Pourwell" if why else f"{TITLE} · Pourwell")
        self.title.set_text(f"{TITLE}: {parts.small(NEVER)}" if why else TITLE)
        self.band.clear()
        if why:
            with self.band:
                red_band(f"{NEVER}: {why}", way="#findings")

    def _refuse(self, fault: PourwellError | None) -> None:
        self._forbid("")
        self.out.clear()
        with self.out, Tag("div", classes="not-done", role="alert"):
            Tag("h2", "It cannot be worked out so")
            Tag("p", self.page.units.text(parts.why(fault)))

    def _draw(self, found: Mapping[str, Any]) -> None:
        plan = found["plan"]
        findings = worst_first(self.desk.burnouts.clashes(plan), plan["findings"])
        stops = [one for one in findings if one["severity"] == "stop"]
        more = f" (and {len(stops) - 1} more)" if len(stops) > 1 else ""
        says = {**stops[0], **stops[0].get("marked", {})}["says"] if stops else ""
        self._forbid(self.page.units.text(f"{says.rstrip('.')}{more}.") if stops else "")
        self.out.clear()
        self.drawn = True
        self.whole.classes(add="planned")
        with self.out:
            tell_burnout(found, findings, self.page)
