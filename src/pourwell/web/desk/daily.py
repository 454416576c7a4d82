"""The daily question without a file: weight on the scale, flask, hour of the pour. Answers as typed; one button makes the card."""

import asyncio
from collections.abc import Mapping
from typing import Any, Final

from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.app.desk_form import request_of_form
from pourwell.app.desk_words import TIMES
from pourwell.app.in_hand import forbidden, worst_first
from pourwell.web.desk import parts, when
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.stopped import red_band
from pourwell.web.desk.tag import Tag
from pourwell.web.run_sheets import sheet_link

ANSWER_S: Final = 60.0
CARD_S: Final = 120.0
FINDINGS: Final = "daily-findings"
"""Where on the page they stand."""


class Daily:
    """The question and its answer on the page."""

    def __init__(self, desk: Desk, page: Frame) -> None:
        self.desk, self.page, self.turn = desk, page, 0
        self.form: dict[str, Any] = {"alloy": desk.usual_alloy(), "flask": "", "weight": "", "pour_day": "", "pour_hour": ""}
        self.form |= {"pattern": "resin"}

    def build(self) -> None:
        """The section on the page."""
        lists = self.page.lists
        with parts.section("What to weigh, and when the kiln goes on", "without a file", classes="daily"):
            with Tag("div", classes="ask"):
                self.weight = parts.entry(
                    "Tree on the scale", "", self.typed("weight"), unit="g", remark="without its base", inputmode="decimal"
                )
                flasks = [("", "The usual one"), *lists.flasks]
                self.flask = parts.choice("Flask", "", self.typed("flask"), options=flasks)
                self.day = parts.choice("Pour on", "", self.typed("pour_day"), options=when.days(self.page.moment()))
                self.hour = parts.entry("at", "", self.typed("pour_hour"), inputmode="numeric", remark="as 10:00")
                self.alloy = parts.choice("Alloy", self.form["alloy"], self.typed("alloy"), options=lists.alloys)
            self.answer = Tag("div", classes="answer", aria_live="polite")
            self.acts = Tag("div", classes="acts")
            with self.acts:
                self.card = parts.button("Print the card", self.print_card, "btn main")
                self.said = Tag("span", "", "small", role="status")
        self.tell_what_is_needed()

    def typed(self, name: str) -> Any:
        """What happens when a field changes."""

        async def keep(value: str) -> None:
            self.form[name] = value
            self.weight.set_by("yours" if str(self.form["weight"]).strip() else "")
            await self.ask()

        return keep

    def tell_what_is_needed(self) -> None:
        """Before there is anything to answer."""
        self.acts.set_visibility(False)
        self.answer.clear()
        with self.answer:
            Tag(
                "p",
                "Enter what the scale shows: powder, water, charge and the kiln stand here at once.",
                "quiet",
            )

    async def ask(self) -> None:
        """Answer what stands in the fields now; what is typed meanwhile is asked anew."""
        self.turn += 1
        turn = self.turn
        request, faults = request_of_form(self.form, by_weight=True, now=self.desk.clock(), zone=self.page.lists.zone)
        blank = not str(self.form["weight"]).strip()
        self.weight.tell("" if blank else faults.get("weight", ""))
        self.hour.tell(faults.get("pour_hour", ""))
        if faults:
            self.tell_what_is_needed()
            if not blank:
                self.answer.clear()
            return
        job = self.desk.ask(request)
        await asyncio.to_thread(job.over.wait, ANSWER_S)
        if turn != self.turn:
            return
        self.answer.clear()
        self.acts.set_visibility(job.outcome is not None)
        with self.answer:
            if job.outcome is not None:
                self.show(job.outcome)
            else:
                Tag("p", parts.why(job.fault) or "No answer came. Try again.", "fault")

    def show(self, plan: Mapping[str, Any]) -> None:
        """What is forbidden, figures, findings, the button. What is stopped stands in no large type: it is no invitation."""
        now, zone, units = self.page.moment(), self.page.lists.zone, self.page.units
        mix, charge, pour, burnout = plan["investment"], plan["charge"], plan["pour"], plan["burnout"]
        on, at = when.told(burnout["starts_at"], zone), when.told(pour["at"], zone)
        rows = [
            ("Powder", *units.bulk(mix["powder_g"])),
            ("Water", *units.bulk(mix["water_g"])),
            ("Charge", f"{charge['total_g']:.1f}", "g"),
            ("Kiln on", when.day_and_clock(on, now), ""),
            ("Pour", when.day_and_clock(at, now), ""),
            ("Metal temperature", *units.degrees(pour["metal_c"])),
            ("Flask temperature", *units.degrees(pour["flask_c"])),
        ]
        grave = [f for f in worst_first(self.desk.kiln_clashes(plan), plan["findings"]) if f["severity"] != "note"]
        why = forbidden(grave)
        if why:
            red_band(units.text(why), way=f"#{FINDINGS}")
        self.card.classes(add="" if why else "main", remove="main" if why else "")
        with Tag("div", classes="" if why else "act-keys"):
            parts.keys(rows)
        flask = plan["flask"]
        band = f"Charge {charge['low_g']:.1f} to {charge['high_g']:.1f} g"
        by = "the bag" if mix.get("ratio_from") == "bag" else "default"
        mixed = f"{parts.capital(mix['name'])}, {mix['ratio_g_per_100_g']:g} : 100 by {by}; both temperatures by default"
        Tag("p", units.text(f"{band}. {mixed}. Flask {flask['diameter_mm']:g} {TIMES} {flask['height_mm']:g} mm."), "small")
        if plan.get("overnight"):
            Tag("p", f"It fires while you sleep. {plan['overnight']}", "caution")
        if grave:
            with Tag("ul", id=FINDINGS):
                for found in grave:
                    parts.finding(found)

    async def print_card(self) -> None:
        """Make a run of it, and its sheet."""
        request, faults = request_of_form(self.form, by_weight=True, now=self.desk.clock(), zone=self.page.lists.zone)
        if faults:
            return
        self.said.set_text("Setting the card")
        run = self.desk.new_run(fields={**self.form, "title": ""})
        self.page.saved()
        job = self.desk.plan(run, request)
        await asyncio.to_thread(job.over.wait, CARD_S)
        result = self.desk.store.latest(run_id=run.id)
        if result is None:
            self.said.set_text(parts.why(job.fault) or "It takes longer than it should: look among the runs.")
            return
        href = sheet_link(run.id, 0)
        self.said.set_text("")
        self.said.clear()
        with self.said:
            Tag("a", f"Run {run.number}: its card as PDF", href=href, target="_blank")
        ui.navigate.to(href, new_tab=True)
