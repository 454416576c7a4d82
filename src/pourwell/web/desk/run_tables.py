"""A plan as tables and charts: what to weigh, what was found, figures, kiln and day."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, Final

from pourwell.app.desk_words import DASH, TIMES
from pourwell.app.in_hand import Step, forbids, settings_of, steps_of
from pourwell.web.desk import drawn, parts, when
from pourwell.web.desk.drawn import WIDE, Heat, TimeLine
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.plans import piece_names
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here

Plan = Mapping[str, Any]
HIGH: Final = 300
PLOT_TOP, PLOT_FOOT, HAND_TOP, HAND_HIGH = 22.0, 232.0, 244.0, 16.0
LABEL_Y: Final = 280
HOLD_SHOWN_MIN: Final = 45
"""Shorter holds are not named in the chart: the table has them."""


def to_weigh(plan: Plan, was: Plan) -> None:
    """What goes onto a scale, heavy and large; what changed is underlined."""
    mix, charge = plan["investment"], plan["charge"]
    old_mix, old_charge = was.get("investment", mix), was.get("charge", charge)
    changed = "changed figures are underlined" if was and (old_mix != mix or old_charge != charge) else ""
    with parts.section("To weigh", changed), Tag("table", classes="weigh"):
        with Tag("thead", classes="vh"), Tag("tr"):
            Tag("th", "What", scope="col")
            Tag("th", "How much", scope="col")
        with Tag("tbody"):
            _weigh("Powder", mix["name"], mix["powder_g"], before=old_mix["powder_g"], row="bulk")
            by = "the bag" if mix.get("ratio_from") == "bag" else "default"
            water = f"{mix['water_low_c']:g} to {mix['water_high_c']:g} °C, {mix['ratio_g_per_100_g']:g} : 100 by {by}"
            _weigh("Water", water, mix["water_g"], before=old_mix["water_g"], row="bulk")
        with Tag("tbody"):
            name = plan["alloy"]["name"]
            metal = _metal(name, charge, old_charge)
            for what, says, grams, before in metal if len(metal) > 1 else ():
                _weigh(what, says, grams, before=before)
            band = f"{charge['low_g']:.1f} to {charge['high_g']:.1f} g, melt loss included"
            if len(metal) == 1:  # the same figure is not written twice
                band = f"{metal[0][0].lower()}; {band}"
            _weigh("Charge", band, charge["total_g"], before=old_charge["total_g"], row="sum")


def _metal(name: str, charge: Plan, old: Plan) -> list[tuple[str, str, float, float]]:
    """What the charge is made of: what, a remark, grams now and before."""
    rows = []
    if charge["fine_g"]:
        rows.append((f"Fine {charge['fine']}", "", charge["fine_g"], old["fine_g"]))
        rows.append(("Master alloy", "", charge["master_g"], old["master_g"]))
    else:
        rows.append((f"Fresh {name}", "", charge["fresh_g"], old["fresh_g"]))
    if charge["returns_g"]:
        limit = f"clean, once cast; at most {100 * charge['returns_limit_fraction']:.0f} %"
        rows.append(("Returns", limit, charge["returns_g"], old["returns_g"]))
    return rows


def _weigh(what: str, says: str, grams: float, *, before: float, row: str = "") -> None:
    """One line; `row` bulk is powder or water, which some weigh in other units than metal."""
    units = here()
    now, was = (units.bulk(g) if row == "bulk" else units.figure(f"{g:.1f}", "g") for g in (grams, before))
    with Tag("tr", classes=row):
        with Tag("th", what, scope="row"):
            if says:
                Tag("small", units.text(says))
        parts.as_shown(*now, tag="td", classes=f"num {'changed' if was != now else ''}".strip())


def findings(plan: Plan, ways: Callable[[Plan], tuple[str, str] | None]) -> None:
    """What was found, stops first; a stop says that this is not to be poured. `ways`: where a finding can be mended."""
    found = plan["findings"]
    with parts.section("Findings", parts.counted(found)):
        if plan["run"]["stopped"] or forbids(found):
            Tag("p", f"{forbids(found) or 'Do not pour'}: a finding below stops this run.", "do-not-pour")
        finding_list(found, ways, names=piece_names(plan))


def finding_list(
    found: Sequence[Plan], ways: Callable[[Plan], tuple[str, str] | None], *, names: Mapping[str, str] | None = None
) -> None:
    """Findings, those that are only worth knowing folded away; pieces are called by their `names`, too, which go by letter."""
    grave = [f for f in found if f["severity"] != "note"]
    notes = [f for f in found if f["severity"] == "note"]
    with Tag("ul"):
        for one in grave:
            parts.finding(_by_name(one, names or {}), way=ways(one))
    if notes:
        with Tag("details", classes="notes"):
            Tag("summary", f"{len(notes)} note{'s' if len(notes) > 1 else ''}: worth knowing")
            with Tag("ul"):
                for one in notes:
                    parts.finding(_by_name(one, names or {}), way=ways(one))


def _by_name(found: Plan, names: Mapping[str, str]) -> Plan:
    """A finding that says of a piece what it is called, before its letter."""
    name = names.get(str(found["where"]).removeprefix("piece ").partition(",")[0])
    return {**found, "where": f"{name}, {found['where']}"} if name else found


def figures(plan: Plan, was: Plan) -> None:
    """The plan in figures; one that changed says what it was."""
    now = _figures(plan)
    before = {what: text for what, text, _ in _figures(was)} if was else {}
    with parts.section("The plan in figures"):
        parts.keys(now, was=before)


def _figures(plan: Plan) -> list[tuple[str, str, str]]:
    pour, tree, flask, quench = plan["pour"], plan.get("tree"), plan["flask"], plan["quench"]
    rows: list[tuple[str, str, str]] = []
    if tree:
        rows += [
            ("Pieces", str(sum(piece["count"] for piece in plan["pieces"])), ""),
            ("Tree in metal", f"{tree['metal_g']:.1f}", "g"),
            ("Yield", f"{100 * tree['yield_fraction']:.0f}", "%"),
            ("Least clearance", f"{tree['clearance_mm']:.1f}", "mm"),
        ]
    rows += [
        ("Flask", f"{flask['diameter_mm']:.0f} {TIMES} {flask['height_mm']:.0f}", "mm"),
        *([("Stones", "in place", "")] if plan["burnout"].get("stones") else ()),
        (f"Metal at the pour, {set_by(plan, 'metal')}", *here().degrees(pour["metal_c"])),
        (f"Flask at the pour, {set_by(plan, 'flask')}", *here().degrees(pour["flask_c"])),
        ("Quench after", f"{quench['low_min']:.0f} to {quench['high_min']:.0f}" if quench.get("low_min") else DASH, "min"),
    ]
    rows += [(f"{cost['what']}, price", f"{cost['money']:.2f}", cost["currency"]) for cost in plan.get("costs", ())]
    return rows


def set_by(plan: Plan, what: str) -> str:
    """Who set the temperature of the metal or the flask of a plan."""
    if plan["pour"].get(f"{what}_from") == "user":
        return "yours"
    return "computed" if plan.get("tree") else "default"


def kiln_and_day(plan: Plan, page: Frame, *, way: str) -> None:
    """One axis of time: the kiln as it is set and the core, hands-on time below; `way` leads to the run."""
    steps, now = steps_of(plan), page.moment()
    axis = TimeLine(
        start=steps[0].starts_at - timedelta(minutes=30),
        end=max(s.ends_at for s in steps) + timedelta(minutes=30),
        zone=page.lists.zone,
    )
    burnout = plan["burnout"]
    corners = drawn.kiln_points(burnout["segments"], burnout["start_c"])
    heat = _heat(burnout)
    on = when.told(burnout["starts_at"], page.lists.zone)
    energy = f"about {burnout['energy_kwh']:.0f} kWh"
    remark = f"on at {when.day_and_clock(on, now)} · {when.span(burnout['total_min'])} · {energy}"
    with parts.section("Kiln and day", remark), Tag("div", classes="chart timed"):
        with drawn.svg(HIGH, _chart_says(plan, page)):
            for a, b in axis.open_hours(page.lists.work_from, page.lists.work_to):
                drawn.box(WIDE * a, PLOT_TOP, width=WIDE * (b - a), height=HAND_TOP + HAND_HIGH - PLOT_TOP, classes="c-open")
            for c, _ in here().grid_c(heat.most_c):
                drawn.line([(0, heat.y(c)), (WIDE, heat.y(c))], "c-grid")
            drawn.line([(0, PLOT_FOOT), (WIDE, PLOT_FOOT)], "c-axis")
            drawn.line([(WIDE * x, heat.y(c)) for x, c in drawn.clipped(corners, axis)], "c-ink")
            _core(burnout, axis)
            for step in (*steps, *settings_of(plan)):
                if step.hands_on_min:
                    a, b = axis.x(step.starts_at), axis.x(step.hands_until)
                    drawn.box(WIDE * a, HAND_TOP, width=max(WIDE * (b - a), 3), height=HAND_HIGH, classes="c-hand")
            if axis.start < now < axis.end:
                drawn.line([(WIDE * axis.x(now), PLOT_TOP), (WIDE * axis.x(now), HAND_TOP + HAND_HIGH)], "c-now")
        _chart_words(plan, steps, axis)
    if burnout.get("inside"):
        with Tag("p", classes="small under"):
            Tag("span", "Solid: the kiln as it is set. Dashed: the core of the flask, with its band. ")
            parts.link("Inside the flask", f"{way}/burnout")


def _core(burnout: Plan, axis: TimeLine) -> None:
    """What the flask's core does meanwhile, with its band."""
    inside = burnout.get("inside")
    if inside is None:
        return
    curves, start, heat = inside["curves"], datetime.fromisoformat(burnout["starts_at"]), _heat(burnout)
    at = [WIDE * axis.x(start + timedelta(minutes=minute)) for minute in curves["times_min"]]
    high = [(x, heat.y(c)) for x, c in zip(at, curves["core_high_c"], strict=True)]
    low = [(x, heat.y(c)) for x, c in zip(at, curves["core_low_c"], strict=True)]
    drawn.area([*high, *reversed(low)], "c-band")
    drawn.line([(x, heat.y(c)) for x, c in zip(at, curves["core_c"], strict=True)], "c-acc")


def _heat(burnout: Plan) -> Heat:
    return Heat.over(*(segment["target_c"] for segment in burnout["segments"]), top=PLOT_TOP, foot=PLOT_FOOT)


def _chart_words(plan: Plan, steps: Sequence[Step], axis: TimeLine) -> None:
    units, heat = here(), _heat(plan["burnout"])
    grid = units.grid_c(heat.most_c)
    for c, says in grid:
        label = f"{says} {units.unit('°C')}" if says == grid[-1][1] else says
        drawn.word(label, 0.0, heat.y(c) - 16, classes="axis halo", anchor="start")
    for segment in plan["burnout"]["segments"]:
        if segment["hold_min"] >= HOLD_SHOWN_MIN:
            a, b = (axis.x(datetime.fromisoformat(segment[key])) for key in ("reached_at", "ends_at"))
            says = f"{' '.join(units.degrees(segment['target_c']))}, {when.span(segment['hold_min'])}"
            up = 6 if segment["ramp_c_per_h"] < 0 else -20  # on the side from which the curve does not come
            drawn.word(says, min(max((a + b) / 2, 0.06), 0.94), heat.y(segment["target_c"]) + up, classes="strong halo")
    drawn.hour_words(axis, LABEL_Y, when.clock)
    invest = next((s for s in steps if s.key == "invest"), None)
    pour = next((s for s in steps if s.key == "pour"), None)
    for step, anchor in ((invest, "start"), (pour, "end")):
        if step is not None:
            word = "Invest" if step.key == "invest" else "Pour"
            shown = when.clock(when.told(step.starts_at.isoformat(), axis.zone))
            drawn.word(f"{shown} {word}", axis.x(step.starts_at), HAND_TOP + HAND_HIGH + 3, classes="strong", anchor=anchor)


def _chart_says(plan: Plan, page: Frame) -> str:
    """The chart in a sentence; its numbers stand in the table below."""
    zone = page.lists.zone
    burnout = plan["burnout"]
    on, pour = when.told(burnout["starts_at"], zone), when.told(plan["pour"]["at"], zone)
    holds = ", ".join(f"{' '.join(here().degrees(s['target_c']))} for {when.span(s['hold_min'])}" for s in burnout["segments"])
    return f"Kiln on {when.day(on)} {when.clock(on)}; holds at {holds}; pour {when.day(pour)} {when.clock(pour)}."


def day(plan: Plan, page: Frame, clashes: Sequence[Plan] = ()) -> None:
    """The day as a list: filled where somebody must be there; over it `clashes`, what other runs want at the same time."""
    zone, now = page.lists.zone, page.moment()
    date = None
    steps = steps_of(plan)
    following = next((s for s in steps if s.hands_on_min and s.hands_until > now), None)
    with parts.section("The day", "filled: your hands are needed"):
        for one in clashes:
            with Tag("p", classes="clash"):
                parts.mark(one["severity"])
                Tag("span", here().text(one["says"]))
        with Tag("ol", classes="day"):
            for step in steps:
                at = when.told(step.starts_at.isoformat(), zone)
                clock = when.clock(at) if at.date() == date else f"{when.day(at).rpartition(' ')[0]} {when.clock(at)}"
                date = at.date()
                kind = "hand" if step.hands_on_min else ""
                with Tag("li", classes=f"{kind} {'next' if step is following else ''}".strip()):
                    Tag("span", clock, "t")
                    Tag("i")
                    settings = len(settings_of(plan)) if step.key == "kiln" else 0
                    Tag("span", f"{step.says}: set by hand {settings} times, by the clock" if settings else step.says, "w")
                    minutes = step.hands_on_min or (step.ends_at - step.starts_at).total_seconds() / 60
                    Tag("span", when.span(minutes), "d")
