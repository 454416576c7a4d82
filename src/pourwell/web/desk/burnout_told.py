"""What a burnout by itself does, told: hours, what was found, the controller, heat and water, each flask, measures and limits."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from pourwell.app.desk_words import DASH
from pourwell.web.desk import firing, kiln_told, parts, run_tables, when
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here

Found = Mapping[str, Any]
PLACES: Final = (
    ("Findings", "findings"),
    ("Controller", "controller"),
    ("Inside the flask", "inside"),
    ("Limits", "limits"),
    ("What goes in", "goes-in"),
)
"""The ways on a narrow page, where what is worked out comes before the form."""
BY_THE_DAY: Final = "a day of several runs is planned with that too."


def tell_burnout(found: Found, findings: Sequence[Found], page: Frame) -> None:
    """All of it; `findings` are those of the burnout and of the runs in hand, the worst first."""
    plan, told = found["plan"], found["told"]
    _hours(told, page)
    with Tag("div", id="findings"), parts.section("Findings", parts.counted(findings)):
        run_tables.finding_list(findings, lambda _: None)
    if len(told["out"]) > 1:
        _out(found, page)
    with Tag("div", id="controller"):
        kiln_told.controller(plan, page)
        _by_hand_rules(plan)
    with Tag("div", id="inside"):
        firing.curves_chart(plan, page)
        firing.figures(plan, page)
        if found["table"]:
            Tag("p", here().text(found["table"]), "small under")
    with Tag("div", id="limits"):
        if len(told["sizes"]) > 1:
            _sizes(plan, told, page)
        firing.verdicts(plan)
    firing.not_modelled(plan["burnout"]["inside"])


def _hours(told: Found, page: Frame) -> None:
    """When to be there; the figures one needs first."""
    now, zone = page.moment(), page.lists.zone
    on, ready, off = (when.told(text, zone) for text in (told["kiln_on_at"], told["ready_at"], told["out"][-1]["at"]))
    takes_min = (ready - on).total_seconds() / 60
    rows = [
        ("Kiln on", when.day_and_clock(on, now), ""),
        ("First pour", when.day_and_clock(ready, now), f"after {when.span(takes_min)}"),
        ("Kiln off at the mains", when.day_and_clock(off, now), ""),
        ("Peak", *here().degrees(told["programme"]["peak_c"])),
    ]
    with Tag("div", classes="act-keys hours-told"):
        parts.keys(rows)


def _out(found: Found, page: Frame) -> None:
    """Which flask comes out when, the hottest first."""
    now, zone = page.moment(), page.lists.zone
    with parts.section("Out of the kiln", "in this order"):
        with parts.wide_table("Flasks as they come out", "segs out-told"):
            parts.head_row(("Flask", ""), ("Out", "num"), ("At", "num"), ("Soaked", "num"))
            with Tag("tbody"):
                for one in found["told"]["out"]:
                    with Tag("tr"):
                        Tag("th", flask_name(one["label"], page), scope="row")
                        Tag("td", when.day_and_clock(when.told(one["at"], zone), now), "num")
                        parts.as_shown(*here().degrees(one["flask_c"]), tag="td", classes="num")
                        Tag("td", when.span(one["soak_min"]), "num")
        Tag("p", f"{found['turn']}: {BY_THE_DAY}", "small after-fields")


def flask_name(label: str, page: Frame) -> str:
    """A flask as the lists of the page call it; one that they have not by its own name."""
    return here().text(dict(page.lists.flasks).get(label, label))


def _by_hand_rules(plan: Found) -> None:
    """What rules the levels that are set by hand."""
    burnout = plan["burnout"]
    rows = burnout["segments"][plan["inputs"]["studio"]["kiln"]["segments_count"] :] if burnout["by_hand"] else []
    if not rows:
        return
    with parts.section("What rules the levels set by hand"), parts.wide_table("Levels set by hand"):
        parts.head_row(("Level", ""), ("To", "num"), ("Hold", "num"), ("Ruled by", ""))
        with Tag("tbody"):
            for one in rows:
                with Tag("tr"):
                    Tag("th", str(one["number"]), scope="row")
                    parts.as_shown(*here().degrees(one["target_c"]), tag="td", classes="num")
                    Tag("td", when.span(one["hold_min"]), "num")
                    Tag("td", here().text(one["ruled"]), "why")


def _sizes(plan: Found, told: Found, page: Frame) -> None:
    """What each kind of flask of the load bears."""
    heads = (
        ("Flask", ""),
        (here().text("Core passes 100 °C"), "num"),
        ("Water gone", "num"),
        ("Takes up", "num"),
        ("Least margin", ""),
    )
    with parts.section("Each flask of the load", "hours from kiln on; each until it comes out"):
        with parts.wide_table("What each flask bears", "segs stacked"):
            parts.head_row(*heads)
            with Tag("tbody"):
                for one in told["sizes"]:
                    with Tag("tr") as row:
                        _of_size(one, flask_name(one["label"], page))
                    for cell, (name, _) in zip(row.default_slot.children, heads, strict=True):
                        cell.props["data-label"] = name
        for one in told["sizes"]:
            with Tag("details", classes="notes"):
                name = f"Measures of {flask_name(one['label'], page)}"
                Tag("summary", name)
                firing.measures_table(plan, one["verdicts"], label=name)


def _of_size(one: Found, name: str) -> None:
    count = one["count"]
    Tag("th", f"{count} of {name}" if count > 1 else name, scope="row")
    for key in ("core_passes_100_min", "dry_min"):
        likely, band = firing.span_band(one[key])
        with Tag("td", likely, "num"):
            Tag("small", band, "band")
    heat = one["heat_kwh"]
    with parts.figure(f"{heat['likely']:.2f}", "kWh", tag="td", classes="num"):
        Tag("small", here().number(f"{heat['low']:.2f} to {heat['high']:.2f}") + (" each" if count > 1 else ""), "band")
    judged = [v for v in one["verdicts"] if v.get("judged", True)]
    least = min(judged, key=firing.margin_share, default=None)
    says = DASH
    if least:
        why = firing.why_none(least)
        says = f"{firing.margin_told(least)}{why and f', {why}'}: {here().text(least['what'])}"
    with Tag("td", says, "why"):
        if least and not firing.is_kept(least):
            parts.mark("warn")
