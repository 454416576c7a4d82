"""Two plans as rows of figures: what each has, what is different, and which is the better where that can be said."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any, Final

from pourwell.app.desk_words import DASH, MINUS, TIMES
from pourwell.web.desk import when

Plan = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure of both plans, as words; `better` is 0 or 1 for the plan that is, None where neither is or nobody can say."""

    what: str
    both: tuple[str, str]
    unit: str = ""
    difference: str = ""
    apart: str = ""
    """The unit of the difference: of temperatures it is K."""
    better: int | None = None

    @property
    def same(self) -> bool:
        """Do both say the same."""
        return self.both[0] == self.both[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A number of a plan: what it is, how it is read, and whether more of it is better (1), worse (-1), or neither (0)."""

    what: str
    read: Callable[[Plan], float | None]
    unit: str
    digits: int = 0
    more: int = 0


def _tree(key: str, factor: float = 1.0) -> Callable[[Plan], float | None]:
    return lambda plan: factor * plan["tree"][key] if plan.get("tree") else None


def _of(section: str, key: str) -> Callable[[Plan], float | None]:
    return lambda plan: plan[section].get(key)


def _found(severity: str) -> Callable[[Plan], float]:
    return lambda plan: float(sum(f["severity"] == severity for f in plan["findings"]))


def _not_fed(plan: Plan) -> float | None:
    froze = plan.get("freezing")
    return float(sum(clock["verdict"] != "fed" for clock in froze["clocks"])) if froze else None


APART: Final = {"°C": "K", "%": "points"}
"""The unit of a difference, where it is not that of the figures."""
FIGURES: Final = (
    Figure(what="Stops", read=_found("stop"), unit="", more=-1),
    Figure(what="Warnings", read=_found("warn"), unit="", more=-1),
    Figure(what="Pieces", read=lambda plan: sum(p["count"] for p in plan["pieces"]) if plan.get("pieces") else None, unit=""),
    Figure(what="Tree in metal", read=_tree("metal_g"), unit="g", digits=1),
    Figure(what="Yield", read=_tree("yield_fraction", 100), unit="%", more=1),
    Figure(what="Least clearance", read=_tree("clearance_mm"), unit="mm", digits=1, more=1),
    Figure(what="Pieces not surely fed", read=_not_fed, unit="", more=-1),
    Figure(what="Powder", read=_of("investment", "powder_g"), unit="g", digits=1),
    Figure(what="Water", read=_of("investment", "water_g"), unit="g", digits=1),
    Figure(what="Charge", read=_of("charge", "total_g"), unit="g", digits=1),
    Figure(what="Of it returns", read=_of("charge", "returns_g"), unit="g", digits=1),
    Figure(what="Metal at the pour", read=_of("pour", "metal_c"), unit="°C"),
    Figure(what="Flask at the pour", read=_of("pour", "flask_c"), unit="°C"),
    Figure(what="Highest in the kiln", read=_of("burnout", "peak_c"), unit="°C"),
    Figure(what="Energy", read=_of("burnout", "energy_kwh"), unit="kWh", digits=1, more=-1),
)
SPANS: Final = (
    Figure(what="Programme", read=_of("burnout", "total_min"), unit="", more=-1),
    Figure(what="Core dry after", read=_of("burnout", "core_dry_min"), unit=""),
    Figure(what="Your hands", read=lambda plan: sum(step["hands_on_min"] for step in plan["timeline"]), unit="", more=-1),
)


def rows(a: Plan, b: Plan, *, zone: Any) -> list[Row]:
    """All rows: what was chosen, then figures, then times."""
    out = [_words(what, a, b, read=read) for what, read in CHOSEN]
    out += [one for figure in FIGURES if (one := _row(figure, a, b, say=partial(_fixed, figure.digits)))]
    out += [one for figure in SPANS if (one := _row(figure, a, b, say=when.span))]
    for what, section, key in (("Kiln on", "burnout", "starts_at"), ("Pour", "pour", "at")):
        both = [when.told(plan[section][key], zone) for plan in (a, b)]
        out.append(_moments(what, both[0], both[1]))
    return out


TOGETHER: Final = frozenset(
    ("Stops", "Warnings", "Pieces", "Tree in metal", "Yield", "Pieces not surely fed", "Powder", "Water", "Charge", "Of it returns")
)
"""Figures that several flasks have together. Others are told flask by flask: a kiln is paid once for all that is in it."""


def rows_together(a: Sequence[Plan], b: Sequence[Plan], *, zone: Any) -> list[Row]:
    """Rows of two plans of which one at least takes several flasks: what all flasks of each have together."""
    one, other = together(a), together(b)
    out = [_words(what, one, other, read=read) for what, read in CHOSEN]
    summed = (figure for figure in FIGURES if figure.what in TOGETHER)
    out += [row for figure in summed if (row := _row(figure, one, other, say=partial(_fixed, figure.digits)))]
    for what, ends, section, key in (("First kiln on", min, "burnout", "starts_at"), ("Last pour", max, "pour", "at")):
        both = [ends(when.told(plan[section][key], zone) for plan in plans) for plans in (a, b)]
        out.append(_moments(what, both[0], both[1]))
    return out


def together(plans: Sequence[Plan]) -> Plan:
    """The flasks of a run as one plan, with what they have together and nothing else; a single one as it is.

    Yield is that of all metal: the metal of all pieces over that of all trees.
    """
    if len(plans) == 1:
        return plans[0]
    counts: dict[str, dict[str, Any]] = {}
    for piece in (piece for plan in plans for piece in plan.get("pieces") or ()):
        known = counts.setdefault(str(piece.get("id", piece.get("name"))), {**piece, "count": 0})
        known["count"] += piece["count"]
    whole: dict[str, Any] = {
        "pieces": list(counts.values()),
        "flasks": [plan["flask"] for plan in plans],
        "alloy": plans[0]["alloy"],
    }
    whole["findings"] = list({(f["code"], f["where"], f["says"]): f for plan in plans for f in plan["findings"]}.values())
    for section, keys in (("investment", ("powder_g", "water_g")), ("charge", ("total_g", "returns_g"))):
        whole[section] = {key: sum(plan[section][key] for plan in plans) for key in keys}
    for section in ("investment", "burnout"):
        names = dict.fromkeys(str(plan[section]["name"]) for plan in plans)
        whole[section] = {**whole.get(section, {}), "name": ", ".join(names)}
    trees = [plan["tree"] for plan in plans if plan.get("tree")]
    if trees:
        metal_g = sum(tree["metal_g"] for tree in trees)
        whole["tree"] = {"metal_g": metal_g, "yield_fraction": sum(t["yield_fraction"] * t["metal_g"] for t in trees) / metal_g}
    if all(plan.get("freezing") for plan in plans):
        whole["freezing"] = {"clocks": [clock for plan in plans for clock in plan["freezing"]["clocks"]]}
    return whole


def by_flask(plans: Sequence[Plan], *, zone: Any) -> list[tuple[str, str, list[str]]]:
    """What, unit, and the figure of each flask; of all figures that any of them has."""
    out = [("Flask", "", [flask_size(plan) for plan in plans])]
    for figure in (*FIGURES, *SPANS):
        say = partial(_fixed, figure.digits) if figure in FIGURES else when.span
        values = [figure.read(plan) for plan in plans]
        if any(value is not None for value in values):
            out.append((figure.what, figure.unit, [DASH if value is None else say(value) for value in values]))
    for what, section, key in (("Kiln on", "burnout", "starts_at"), ("Pour", "pour", "at")):
        out.append((what, "", [_moment(when.told(plan[section][key], zone)) for plan in plans]))
    return out


def _moments(what: str, a: datetime, b: datetime) -> Row:
    minutes = (b - a).total_seconds() / 60
    later = "" if not minutes else f"{when.span(abs(minutes))} {'later' if minutes > 0 else 'earlier'}"
    return Row(what=what, both=(_moment(a), _moment(b)), difference=later)


def _fixed(digits: int, value: float) -> str:
    return f"{value:.{digits}f}"


def _moment(moment: datetime) -> str:
    return f"{when.day(moment)} {when.clock(moment)}"


def _row(figure: Figure, a: Plan, b: Plan, *, say: Callable[[float], str]) -> Row | None:
    """A figure of both; None where neither has it."""
    values = [figure.read(plan) for plan in (a, b)]
    if all(value is None for value in values):
        return None
    both = tuple(DASH if value is None else say(value) for value in values)
    first, second = values
    if first is None or second is None or both[0] == both[1]:
        return Row(what=figure.what, both=(both[0], both[1]), unit=figure.unit)
    change = round(second, figure.digits) - round(first, figure.digits)  # as both are shown
    said = f"{'+' if change > 0 else MINUS}{say(abs(change))}"
    better = None if not figure.more else int(change * figure.more > 0)
    return Row(
        what=figure.what,
        both=(both[0], both[1]),
        unit=figure.unit,
        difference=said,
        apart=APART.get(figure.unit, figure.unit),
        better=better,
    )


def _words(what: str, a: Plan, b: Plan, *, read: Callable[[Plan], str]) -> Row:
    both = read(a), read(b)
    return Row(what=what, both=both, difference="" if both[0] == both[1] else "other")


def _pieces(plan: Plan) -> str:
    pieces: Sequence[Plan] = plan.get("pieces") or ()
    return ", ".join(f"{piece['count']} {TIMES} {piece.get('name', '')}".strip() for piece in pieces) or "a tree on the scale"


def flask_size(plan: Plan) -> str:
    """The flask of a plan in words; of several together each."""
    flasks: Sequence[Plan] = plan.get("flasks") or (plan["flask"],)
    return ", ".join(f"{flask['diameter_mm']:.0f} {TIMES} {flask['height_mm']:.0f} mm" for flask in flasks)


CHOSEN: Final[tuple[tuple[str, Callable[[Plan], str]], ...]] = (
    ("Goes in", _pieces),
    ("Alloy", lambda plan: str(plan["alloy"]["name"])),
    ("Investment", lambda plan: str(plan["investment"]["name"])),
    ("Flask", flask_size),
    ("Burnout", lambda plan: str(plan["burnout"]["name"])),
)
