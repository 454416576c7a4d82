"""How one pattern is printed, told: what stops it, the figures one asks first, what each way to stand costs, what can hurt."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from pourwell.app.desk_words import DASH
from pourwell.web.desk import parts
from pourwell.web.desk.draft import printed
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here

WAYS_HEAD: Final = (
    ("Way to stand", ""), ("Time", "num"), ("Height", "num"), ("In mid-air", "num"), ("Holds resin", "num"),
    ("Steps, mean", "num"), ("On supports", "num"),
)  # fmt: skip
A_MM2: Final = 1.0
"""Supports that cover less are not told: as the command line has it of those inside."""
NO_FAULT: Final = "No fault was found."
NO_FAULT_BUT: Final = "No fault was found; see what needs supports."
CAUTION: Final = "Uncured resin sensitises the skin for life, and the alcohol that washes it burns: gloves, glasses, air, no flame."
HURTS: Final = "hurts"
"""Where on the page the cautions stand."""
TURNED: Final = "in the print program"
Told = Mapping[str, Any]


def way_figures(one: Told) -> list[tuple[str, str]]:
    """What a way to stand costs: figures with their units, in the order of the table."""
    holds = f"{one['cups_count']}: {one['held_mm3']:.0f} mm³" if one["cups_count"] else "none"
    inside = f", {one['hidden_mm2']:.0f} mm² inside" if one["hidden_mm2"] >= A_MM2 else ""
    return [
        (one["time"], ""),
        (f"{one['height_mm']:.1f}", "mm"),
        (f"{one['islands_count']}" if one["islands_count"] else "none", ""),
        (holds, ""),
        (f"{one['proud_mm']:.3f}", "mm"),
        (f"{one['under_fraction'] * 100:.0f} %{inside}", ""),
    ]


def stopped(found: Sequence[Told]) -> None:
    """What forbids to print it, at the head: it cannot be put aside."""
    stops = [one for one in found if one["severity"] == "stop"]
    if not stops:
        return
    with Tag("section", classes="ahead held-up", aria_label="Stopped"), Tag("ul"):
        for one in stops:
            marked = {**one, **one["marked"]}
            with Tag("li"), Tag("div"):
                Tag("h2", "Do not print it yet")
                Tag("p", here().text(marked["says"]))
                Tag("p", here().text(f"Do: {parts.small(marked['do'])}"), "in")


def figures(data: Told) -> None:
    """What one asks first, each with its range or what it rests on."""
    stands, resin, took, under = data["ways"][0], data["resin"], data["time"], data["supports"]
    piece = f"piece {resin['piece_low_g']:.2f} to {resin['piece_high_g']:.2f} g"
    waste = f"{resin['waste_low_fraction'] * 100:.0f} to {resin['waste_high_fraction'] * 100:.0f} % more for supports and vat"
    rows = [
        ("Time", stands["time"], "", "without washing and curing"),
        ("Resin", f"{resin['used_g']:.2f}", "g", f"{piece}, {waste}"),
        _cost(resin),
        ("Turn about x", _degrees(stands["turn_x_deg"]), "", TURNED),
        ("Then about y", _degrees(stands["turn_y_deg"]), "", TURNED),
        (
            "Needs supports",
            f"{under['under_mm2']:.0f} mm²" if under["under_mm2"] >= A_MM2 else "none",
            "",
            f"undersides flatter than {under['under_deg']:g}° to the level",
        ),
        ("Layers", f"{took['layers_count']:,}", "", f"of {took['layer_mm']:g} mm, supports included"),
    ]
    with Tag("dl", classes="keys"):
        for what, text, unit, remark in rows:
            with Tag("div"):
                Tag("dt", what)
                parts.figure(text, unit)
                Tag("dd", here().text(remark), "band")
    with Tag("p", classes="caution"):
        Tag("span", f"{CAUTION} ")
        parts.link("What else can hurt you", f"#{HURTS}")


def _cost(resin: Told) -> tuple[str, str, str, str]:
    if resin.get("cost_money") is None:
        return "Cost", DASH, "", "no price is known: see Figures"
    unit = f" {resin['currency']}" if resin.get("currency") else ""
    band = f"{resin['cost_low_money']:.2f} to {resin['cost_high_money']:.2f} by waste, resin alone"
    return "Cost", f"{resin['cost_money']:.2f}{unit}", "", band


def _degrees(value: float) -> str:
    return printed(f"{round(value, 1) + 0.0:g}°")


def assumed_told(assumed: Sequence[str]) -> None:
    """The figures of the printer that nobody has entered, and where they are kept."""
    with Tag("p", classes="small"):
        if assumed:
            Tag("span", here().text(f"Assumed of your printer: {', '.join(assumed)}. "))
        parts.link("Your printer", "/materials")
        Tag("span", " and ")
        parts.link("the prices of resins", "/materials/patterns")
        Tag("span", " are kept among materials and equipment.")


def cautions(said: Sequence[str]) -> None:
    """What can hurt whoever prints, washes and cures it."""
    with parts.section("Resin can hurt you", "local rules come first"), Tag("ul", classes="stack", id=HURTS):
        for one in said:
            Tag("li", here().text(one))
