"""What the burnout does inside the flask: curves over one line of time with limits and hands, water left, measures."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, Final

from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.app.desk_words import MINUS, TIMES, for_desk
from pourwell.app.in_hand import settings_of, steps_of
from pourwell.steps.burnout.model import SLACK, published_word
from pourwell.web.desk import drawn, parts, when
from pourwell.web.desk.drawn import WIDE, Heat, TimeLine
from pourwell.web.desk.frame import Frame, frame
from pourwell.web.desk.kiln_told import cautions
from pourwell.web.desk.plans import NOT_YET, flask_ways, placed, plan_anew
from pourwell.web.desk.stopped import StopBand
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here

Plan = Mapping[str, Any]
HIGH: Final = 420
TOP, FOOT, HAND_TOP, HAND_HIGH, LABEL_Y = 16.0, 352.0, 364.0, 16.0, 398
WATER_HIGH: Final = 120
WATER_FOOT: Final = 104.0
LINES: Final = (
    ("kiln_c", "kiln", "c-ink"),
    ("rim_c", "rim", "c-rim"),
    ("half_radius_c", "half radius", "c-ink dotted"),
    ("core_c", "core", "c-acc"),
)
NAMED_AT: Final = {"kiln_c": 0.16, "rim_c": 0.3, "half_radius_c": 0.42, "core_c": 0.24}
"""Where along the time a line bears its name: each at another place, so that none covers another."""
OWN_TIME: Final = "its table's own time"


def firing_page(desk: Desk, run_id: int, *, flask: int = 1) -> None:
    """The page. Raises BadRequestError if there is no such run."""
    run, result = desk.store.run(run_id), desk.store.latest(run_id=run_id)
    with frame(desk, at="/runs", title=f"Run {run.number}: inside the flask") as page:
        plan, place = placed(result, flask - 1)
        with Tag("div", classes="head"):
            with Tag("div"):
                head = Tag("h1", f"Run {run.number}: inside the flask")
                Tag(
                    "p",
                    page.units.text(_sentence(plan)) if plan else "Computed are heat and water in the mould while the kiln runs.",
                )
            with Tag("div", classes="acts"):
                parts.link("Back to the run", f"/runs/{run_id}", "btn")
        StopBand(page, run_id, head=head, view="inside the flask").build()
        if plan:
            cautions(plan)
        inside = plan["burnout"].get("inside") if plan else None
        if result is None or plan is None or inside is None:
            _not_there(page, run_id, older=result is not None)
            return
        flask_ways(result, f"/runs/{run_id}/burnout", place)
        curves_chart(plan, page)
        figures(plan, page)
        verdicts(plan)
        not_modelled(inside)


def _not_there(page: Frame, run_id: int, *, older: bool) -> None:
    """Why nothing stands here, and the way to it."""

    def work_out() -> None:
        if plan_anew(page, page.desk.store.run(run_id)):
            ui.navigate.to(f"/runs/{run_id}")
        else:
            says.set_text(NOT_YET)

    title = "This plan does not hold it" if older else "Nothing is computed yet"
    why = "It is older than this page, or its burnout could not be computed: its findings say so then. " if older else ""
    with parts.empty(title, f"{why}One press works the run out; its burnout stands here then."):
        says = Tag("p", "")
        with Tag("div", classes="acts"):
            parts.button("Work it out again" if older else "Work it out", work_out, "btn main")
            parts.link("To the run", f"/runs/{run_id}", "btn")


def _sentence(plan: Plan) -> str:
    burnout, flask = plan["burnout"], plan["flask"]
    size = f"{flask['diameter_mm']:.0f} {TIMES} {flask['height_mm']:.0f} mm"
    return f"{parts.capital(burnout['name'])}, flask {here().text(size)}. Bands are the ends of what nobody knows well."


def curves_chart(plan: Plan, page: Frame) -> None:
    """Kiln, rim, half radius and core at half height, over the time; below hands, then water."""
    burnout, steps = plan["burnout"], steps_of(plan)
    curves, start = burnout["inside"]["curves"], datetime.fromisoformat(burnout["starts_at"])
    end = max(datetime.fromisoformat(burnout["ends_at"]), *(s.hands_until for s in steps if s.key == "pour"))
    axis = TimeLine(start=start - timedelta(minutes=20), end=end + timedelta(minutes=20), zone=page.lists.zone)
    at = [axis.x(start + timedelta(minutes=minute)) for minute in curves["times_min"]]
    limits = _limits(burnout)
    heat = Heat.over(burnout["peak_c"], *(c for _, c in limits), top=TOP, foot=FOOT)
    y = heat.y

    with parts.section("Heat", f"{page.units.unit('°C')}, at half height of the flask"), Tag("div", classes="chart timed firing"):
        with drawn.svg(HIGH, _says(burnout)):
            for a, b in axis.open_hours(page.lists.work_from, page.lists.work_to):
                drawn.box(WIDE * a, TOP, width=WIDE * (b - a), height=HAND_TOP + HAND_HIGH - TOP, classes="c-open")
            drawn.line([(0, y(0.0)), (WIDE, y(0.0))], "c-axis")
            for level, _ in page.units.grid_c(heat.most_c):
                drawn.line([(0, y(level)), (WIDE, y(level))], "c-grid")
            for _, c in limits:
                drawn.line([(0, y(c)), (WIDE, y(c))], "c-limit")
            band = [(WIDE * x, y(c)) for x, c in zip(at, curves["core_high_c"], strict=True)]
            band += [(WIDE * x, y(c)) for x, c in reversed(list(zip(at, curves["core_low_c"], strict=True)))]
            drawn.area(band, "c-band")
            for key, _, style in LINES:
                drawn.line([(WIDE * x, y(c)) for x, c in zip(at, curves[key], strict=True)], style)
            for step in (*steps, *settings_of(plan)):
                if step.hands_on_min and step.hands_until > axis.start and step.starts_at < axis.end:
                    a, b = max(axis.x(step.starts_at), 0.0), min(axis.x(step.hands_until), 1.0)
                    drawn.box(WIDE * a, HAND_TOP, width=max(WIDE * (b - a), 3), height=HAND_HIGH, classes="c-hand")
            _now(axis, page, foot=HAND_TOP + HAND_HIGH)
        for level, says in page.units.grid_c(heat.most_c):
            drawn.word(says, 0.0, y(level) - 16, classes="axis halo", anchor="start")
        for k, (says, c) in enumerate(limits):
            over = k == len(limits) - 1
            drawn.word(
                f"{says} {' '.join(page.units.degrees(c))}", 0.06, y(c) - 15 if over else y(c) + 3, classes="halo", anchor="start"
            )
        for key, says, _ in LINES:
            k = int(NAMED_AT[key] * (len(at) - 1))
            drawn.word(says, at[k], y(curves[key][k]) - (20 if key in ("kiln_c", "rim_c") else -5), classes="strong halo")
        _dry(burnout, axis, start=start, y=y)
        drawn.hour_words(axis, LABEL_Y, when.clock)
    _water(burnout, axis, at=at, page=page)


def _limits(burnout: Plan) -> list[tuple[str, float]]:
    """What the mould bears: lines across, the lower first; one where they are one."""
    warn, stop = burnout["warn_c"], burnout["stop_c"]
    return [("mould suffers over", stop)] if warn >= stop else [("warning over", warn), ("mould suffers over", stop)]


def _now(axis: TimeLine, page: Frame, *, foot: float) -> None:
    x = axis.x(page.moment())
    if 0 < x < 1:
        drawn.line([(WIDE * x, TOP), (WIDE * x, foot)], "c-now")


def _dry(burnout: Plan, axis: TimeLine, *, start: datetime, y: Callable[[float], float]) -> None:
    """The open dot where the core is dry."""
    minutes = burnout.get("core_dry_min")
    if minutes is None:
        return
    moment = start + timedelta(minutes=minutes)
    curves = burnout["inside"]["curves"]
    near = min(range(len(curves["times_min"])), key=lambda k: abs(curves["times_min"][k] - minutes))
    drawn.dot(axis.x(moment), y(curves["core_c"][near]))
    drawn.word(
        f"core dry {when.clock(when.told(moment.isoformat(), axis.zone))}",
        axis.x(moment),
        y(curves["core_c"][near]) + 8,
        classes="halo",
        anchor="start",
    )


def _water(burnout: Plan, axis: TimeLine, *, at: Sequence[float], page: Frame) -> None:
    """Free water left, over that at the start."""
    curves = burnout["inside"]["curves"]

    def y(share: float) -> float:
        return WATER_FOOT - (WATER_FOOT - TOP) * share

    says = f"Free water left in the mould, from all to none {_clock_band(burnout, axis)}."
    with parts.section("Water left", "share of the free water; the band is the slow end"), Tag("div", classes="chart timed water"):
        with drawn.svg(WATER_HIGH, says):
            for share in (0.0, 0.5, 1.0):
                drawn.line([(0, y(share)), (WIDE, y(share))], "c-grid" if share else "c-axis")
            likely = [(WIDE * x, y(w)) for x, w in zip(at, curves["water_fraction"], strict=True)]
            slow = [(WIDE * x, y(w)) for x, w in zip(at, curves["water_high_fraction"], strict=True)]
            drawn.area([*likely, *reversed(slow)], "c-band")
            drawn.line(likely, "c-acc")
            _now(axis, page, foot=WATER_FOOT)
        for share in (0.5, 1.0):
            drawn.word(f"{100 * share:.0f} %", 0.0, y(share) + 2, classes="axis", anchor="start")


def _clock_band(burnout: Plan, axis: TimeLine) -> str:
    start = datetime.fromisoformat(burnout["starts_at"])
    ends = [burnout.get(key) for key in ("core_dry_early_min", "core_dry_late_min")]
    clocks = [when.clock(when.told((start + timedelta(minutes=m)).isoformat(), axis.zone)) for m in ends if m is not None]
    return f"between {clocks[0]} and {clocks[1]}" if len(clocks) == 2 else "after the end of the programme"


def figures(plan: Plan, page: Frame) -> None:
    """What one asks of a burnout."""
    burnout = plan["burnout"]
    start, now = datetime.fromisoformat(burnout["starts_at"]), page.moment()

    def moment(key: str) -> str:
        minutes = burnout.get(key)
        return (
            "not before the end"
            if minutes is None
            else when.day_and_clock(when.told((start + timedelta(minutes=minutes)).isoformat(), page.lists.zone), now)
        )

    over = burnout["total_min"] - burnout["published_min"]
    than = "this is no longer" if not over else f"this is {when.span(abs(over))} {'longer' if over > 0 else 'shorter'}"
    rows = [
        ("Core dry", moment("core_dry_min"), ""),
        *_inside_rows(burnout["inside"]),
        ("Drying takes at least", when.span(burnout["least_drying_min"]), ""),
        ("Programme", when.span(burnout["total_min"]), ""),
        (_compared(burnout), when.span(burnout["published_min"]), than),
        ("Shortest found that keeps the limits", when.span(burnout["shortest_min"]), "about, no advice"),
        ("Energy", f"{burnout['energy_kwh']:.1f}", f"kWh, {burnout['energy_low_kwh']:.1f} to {burnout['energy_high_kwh']:.1f}"),
    ]
    with parts.section(
        "In figures", f"core dry {_clock_band(burnout, TimeLine(start=start, end=start + timedelta(days=1), zone=page.lists.zone))}"
    ):
        parts.keys(rows)


def _inside_rows(inside: Plan) -> list[tuple[str, str, str]]:
    """What one asks of the flask itself, each with its ends; of a plan that holds it."""
    rows = []
    if "core_passes_100_min" in inside:
        rows.append((here().text("Core passes 100 °C after"), *span_band(inside["core_passes_100_min"])))
        rows.append(("Water gone after", *span_band(inside["dry_min"])))
        rows.append(("The flask takes up", *_banded(inside["heat_kwh"], "kWh", digits=2)))
        rows.append(("Steam pressure in the mould", *_banded(inside["pressure_kpa"], "kPa", digits=0)))
    return rows


def span_band(band: Plan) -> tuple[str, str]:
    """Minutes from the start, and their ends; None: not before the end."""
    likely, low, high = ("not before the end" if band.get(k) is None else when.span(band[k]) for k in ("likely", "low", "high"))
    return likely, f"{low} to {high}"


def _banded(band: Plan, unit: str, *, digits: int) -> tuple[str, str]:
    likely, low, high = (f"{band[k]:.{digits}f}" for k in ("likely", "low", "high"))
    return likely, f"{unit}, {low} to {high}"


def _compared(burnout: Plan) -> str:
    """What the programme that this one is compared with is to be called, by the grade of its table."""
    word = published_word(burnout.get("published_grade", ""))
    return "Published programme" if word == "published" else f"Table, {word}"


def verdicts(plan: Plan) -> None:
    """Each measure against its limit, and what the programme that it is compared with does."""
    with parts.section("Measures against their limits", "at the worst end of the inputs"):
        measures_table(plan, plan["burnout"]["verdicts"], label="Measures of the burnout")


def measures_table(plan: Plan, judged: Sequence[Plan], *, label: str) -> None:
    """The table of them."""
    heads = (
        ("What", ""),
        ("Here", "num"),
        ("Limit", "num"),
        ("Margin", "num"),
        (_compared(plan["burnout"]), "num"),
        ("Worst where", ""),
        ("Limit from", ""),
    )
    with parts.wide_table(label, "segs stacked"):
        parts.head_row(*heads)
        with Tag("tbody"):
            for one in judged:
                with Tag("tr") as row:
                    _verdict(plan, one)
                for cell, (name, _) in zip(row.default_slot.children, heads, strict=True):
                    cell.props["data-label"] = name


def _verdict(plan: Plan, one: Plan) -> None:
    """The cells of one measure."""
    Tag("th", here().text(parts.capital(one["what"])), scope="row")
    parts.figure(_figure(one["measure"]), one["unit"], tag="td", classes="num")
    with parts.figure(_limit(one, one["limit"]), one["unit"], tag="td", classes="num limit-told"):
        _more_of_the_limit(one)
    with Tag("td", margin_told(one), "num"):
        if why_none(one):
            Tag("small", why_none(one), "band")
        if not is_kept(one):
            parts.mark("warn")
    parts.figure(_figure(one["published"]), one["unit"], tag="td", classes="num limit-told")
    Tag("td", here().text(one["at_end"]), "why")
    Tag("td", _sources(plan, one), "why quiet")


def _asked(one: Plan) -> float:
    """What a measure is held to: its limit, or its table's longer time."""
    return float(one["limit"] if one.get("held_to") is None else one["held_to"])


def margin_share(one: Plan) -> float:
    """What a measure leaves of what it is held to, as a share of that."""
    asked = _asked(one)
    room = (asked - one["measure"]) * (1 if one["at_most"] else -1)
    return float(room / asked) if asked else 0.0


def margin_told(one: Plan) -> str:
    """The same in words."""
    if not one.get("judged", True):
        return "not judged"
    share = 100 * margin_share(one)
    return f"{share:+.0f} %".replace("-", MINUS) if round(share) else "none"


def why_none(one: Plan) -> str:
    """Why nothing may be spared of a measure that is over its limit; empty where that is not so."""
    return OWN_TIME if margin_told(one) == "none" and one.get("held_to") is not None else ""


def is_kept(one: Plan) -> bool:
    """Is what a measure is held to kept, as far as figures are shown."""
    asked = _asked(one)
    short = (asked - one["measure"]) * (1 if one["at_most"] else -1)
    return not one.get("judged", True) or short >= -SLACK * abs(asked)


def _limit(one: Plan, value: float) -> str:
    return f"{'at most' if one['at_most'] else 'at least'} {_figure(value)}"


def _more_of_the_limit(one: Plan) -> None:
    """What it is at other ends of the inputs, and to what the table's own course holds it."""
    widest, held = one.get("widest"), one.get("held_to")
    shown = {value: here().figure(_figure(value), one["unit"])[0] for value in (widest, held) if value is not None}
    if widest is not None:
        Tag("small", f"{'up' if one['at_most'] else 'down'} to {shown[widest]} at other ends", "band")
    if one.get("reached") is not None:
        reached, rule = (here().figure(_figure(one[key]), one["unit"])[0] for key in ("reached", "rule"))
        Tag("small", f"reaches {reached} at its highest, over the rule's own {rule}", "band")
    if held is not None:
        Tag("small", f"held to {shown[held]}, {OWN_TIME}", "band")


def _sources(plan: Plan, one: Plan) -> str:
    """Where the limit comes from, and what it is held to beyond that."""
    told: Mapping[str, str] = plan.get("limit_sources") or {}
    keys = dict.fromkeys(str(one.get(key)) for key in ("source", "held_source"))
    return "; ".join(told[key] for key in keys if key in told)


def _figure(value: float) -> str:
    return f"{value:.0f}" if abs(value) >= 20 else f"{value:.1f}"


def not_modelled(inside: Plan) -> None:
    """What was measured of what it rests on, and what no figure holds."""
    with parts.section("What is computed, and what is not"):
        measured = "; ".join(inside["measured"])
        Tag(
            "p",
            f"Measured in this studio: {here().text(measured)}."
            if measured
            else "Nothing of it was measured in this studio yet: a log of your kiln narrows the bands.",
            "small",
        )
        with Tag("ul", classes="said"):
            for one in inside["not_modelled"]:
                Tag("li", here().text(parts.capital(for_desk(one))), "small")


def _says(burnout: Plan) -> str:
    """The chart in a sentence; its numbers stand in the tables."""
    curves = burnout["inside"]["curves"]
    kiln, core = (" ".join(here().degrees(max(curves[key]))) for key in ("kiln_c", "core_c"))
    return f"Kiln up to {kiln}, core up to {core}, between the start and the pour."
