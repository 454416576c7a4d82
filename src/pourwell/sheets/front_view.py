"""The front: the seven figures one must not get wrong, what the run is, its findings, and what it leans on."""

from collections.abc import Callable, Iterator
from typing import Any

from pourwell.findings import Finding, Severity, in_order
from pourwell.materials.studio import Studio
from pourwell.plan import Plan
from pourwell.sheets.display import DASH, TIMES, Display, day, pieces, span
from pourwell.steps.melt.model import Charge
from pourwell.units import SUFFIXES


def figures(plan: Plan, show: Display) -> list[dict[str, Any]]:
    """The seven figures in the order of the bench, each with its band and, in an imperial sheet, its metric twin.

    The first three are weighed; the other four are read off a thermometer or a clock.
    """
    weighed = _in_doubt(plan, show) if plan.doubt else _weighed(plan, show)
    return [*weighed, *_heated(plan, show), *_timed(plan, show)]


def _figure(label: str, value: str, unit: str, *notes: str, also: str = "", day: str = "") -> dict[str, Any]:
    return {"label": label, "value": value, "unit": unit, "notes": [n for n in notes if n], "also": also, "day": day}


def _in_doubt(plan: Plan, show: Display) -> Iterator[dict[str, Any]]:
    """The figures that are weighed, as dashes: the doubt stands where nobody then finds a number to weigh by."""
    for label, unit in (("Charge", show.metal_unit), ("Powder", show.bulk_unit), ("Water", show.bulk_unit)):
        yield _figure(label, DASH, unit, plan.doubt)


def _weighed(plan: Plan, show: Display) -> Iterator[dict[str, Any]]:
    charge, mix = plan.charge, plan.mix
    yield _figure(
        "Charge",
        show.metal(charge.total_g),
        show.metal_unit,
        f"{show.metals(charge.low_g, charge.high_g)} by {_unsure(plan)}",
        _make_up(charge, show),
        also=f"{charge.total_g:.1f} g" if show.metal_unit != "g" else "",
    )
    yield _figure(
        "Powder",
        show.bulk(mix.powder_g),
        show.bulk_unit,
        f"makes {mix.slurry_cm3:.0f} cm³ of slurry",
        f"bowl of {mix.bowl_cm3 / 1000:.1f} litres or more",
        also=f"{mix.powder_g:.0f} g" if show.ounces else "",
    )
    yield _figure(
        "Water",
        show.bulk(mix.water_g),
        show.bulk_unit,
        _ratio(plan),
        show.temperatures(mix.water_low_c, mix.water_high_c),
        also=f"{mix.water_g:.0f} g" if show.ounces else "",
    )


def _unsure(plan: Plan) -> str:
    """What most of the charge's band comes from."""
    return "unknown wax share" if plan.weighed and plan.weighed.mixed else "density and loss"


def _make_up(charge: Charge, show: Display) -> str:
    """What the charge is weighed from, all parts as finely as the whole."""

    def weight(g: float) -> str:
        return show.metal(g, beside_g=charge.total_g)

    if charge.master_g:
        fresh = f"{weight(charge.fine_g)} fine {charge.fine} + {weight(charge.master_g)} master alloy"
    else:
        fresh = f"{weight(charge.fresh_g)} fresh"
    return f"{fresh} + {weight(charge.returns_g)} returns" if charge.returns_g else f"{fresh}, no returns"


def _ratio(plan: Plan) -> str:
    """Water to powder, with the ends of its range, or the bag's own word."""
    ratio = f"{plan.mix.ratio_g_per_100_g:g} to 100 of powder"
    if plan.mix.ratio_from == "bag":
        return f"{ratio}, from the bag"
    low, high = plan.investment.water_g_per_100_g.ends
    return f"{ratio} ({low:g} to {high:g})" if low < high else ratio


def _heated(plan: Plan, show: Display) -> Iterator[dict[str, Any]]:
    heat = plan.temperatures
    unit = show.temperature_unit
    yield _figure(
        "Flask temperature",
        show.temperature(heat.flask_c),
        unit,
        f"{show.temperatures(heat.flask_low_c, heat.flask_high_c, unit=False)} at the pour",
        "your own figure" if heat.flask_from == "user" else "",
        also=f"{heat.flask_c:.0f} °C" if show.fahrenheit else "",
    )
    yield _figure(
        "Metal temperature",
        show.temperature(heat.metal_c),
        unit,
        f"{show.temperatures(heat.metal_low_c, heat.metal_high_c, unit=False)} at the pour",
        "your own figure" if heat.metal_from == "user" else f"liquid from {show.temperature(heat.liquidus_c)}",
        also=f"{heat.metal_c:.0f} °C" if show.fahrenheit else "",
    )


def _timed(plan: Plan, show: Display) -> Iterator[dict[str, Any]]:
    for label, moment, note in (
        ("Kiln on", plan.kiln_on_at, f"programme of {span(plan.programme.total_min)} h{_shared(plan)}"),
        ("Pour", plan.pour_at, _way(plan)),
    ):
        clock, _, half = show.clock(moment).partition(" ")
        yield _figure(label, clock, half, note, day=day(moment))


def _way(plan: Plan) -> str:
    """How long the way from the kiln to the pour may take."""
    cooling, says = plan.pour.transfer, f"kiln to pour within {plan.pour.transfer_s} s"
    return f"{says}, {cooling.most_s} s at the most" if cooling and cooling.most_s > plan.pour.transfer_s else says


def _shared(plan: Plan) -> str:
    others = len(plan.kiln_load.runs) - 1
    return f", shared with {others} other run{'s' if others > 1 else ''}" if others else ""


def run_facts(plan: Plan, show: Display) -> list[tuple[str, str, str]]:
    """What the run is, in four short lines: label, text in bold, text after it."""
    flask = plan.flask
    return [
        ("Metal", headed(plan.alloy.name), ""),
        ("Mould", headed(plan.mix.name), ""),
        ("Flask", flask_words(plan, show), ", perforated" if flask.perforated else ""),
        ("On it", *_load(plan, show)),
    ]


def headed(name: str) -> str:
    """A name with a capital, as it stands alone."""
    return name[:1].upper() + name[1:]


def flask_words(plan: Plan, show: Display) -> str:
    """The flask's inside diameter and height."""
    return f"{show.height(plan.flask.diameter_mm)} {TIMES} {show.height(plan.flask.height_mm)} {show.length_unit}"


def _load(plan: Plan, show: Display) -> tuple[str, str]:
    if plan.weighed is not None:
        return f"a tree of {show.metal(plan.weighed.pattern_g)} {show.metal_unit}", ", known by its weight alone"
    count = sum(p.piece.count for p in plan.patterns)
    return pieces(count), ": " + ", ".join(f"{p.piece.count} {p.piece.id}" for p in plan.patterns)


def findings_view(plan: Plan, show: Display) -> list[dict[str, str]]:
    """Findings with their quantities written out, stops first."""
    return [
        {
            "severity": f.severity.value,
            "says": show.text(f.says),
            "do": show.text(f.do),
            "foot": show.text(_foot(f)),
        }
        for f in in_order(plan.findings)
    ]


def _foot(finding: Finding) -> str:
    """Place, measure, limit and where the limit comes from, in one line."""
    limit = f"limit {finding.limit}" if finding.limit else ""
    if finding.source:
        limit = f"{limit} [{finding.source}]".strip()
    return "; ".join(part for part in (finding.where, finding.measure, limit) if part)


def counts(plan: Plan) -> dict[str, int]:
    """How many findings of each severity."""
    return {s.value: sum(f.severity is s for f in plan.findings) for s in Severity}


def leaned(plan: Plan) -> list[str]:
    """The values of weak grade that the plan leaned on, with unit and grade."""
    return [f"{_spoken(v.what)}: {v.value:.4g}{UNITS.get(v.unit, ' ' + v.unit)} ({v.grade})" for v in plan.leaned]


UNITS = {"1": "", "degC": " °C", "g/cm3": " g/cm³", "W/(m2 K)": " W/(m² K)", "mm2": " mm²", "mm3": " mm³", "cm3": " cm³"}
"""Units of the data files as they are printed; the others as they are."""


def _spoken(what: str) -> str:
    """A name from the data in words: "gypsum: metal_max_c" becomes "gypsum, metal max"."""

    def word(name: str) -> str:
        endings = [s for s in SUFFIXES if name.endswith("_" + s)] if "_" in name else []
        return name.removesuffix("_" + max(endings, key=len)) if endings else name

    return " ".join(word(part) for part in what.replace(": ", ", ").split(" ")).replace("_", " ")


ASSUMED: dict[str, Callable[[Studio, Display], str]] = {
    "casting.way": lambda s, _: {"vacuum": "cast with vacuum", "centrifuge": "cast by centrifuge", "gravity": "cast by gravity"}[
        s.casting.way
    ],
    "melting.way": lambda s, _: {"torch": "melted by torch", "electric": "electric melt", "induction": "induction melt"}[
        s.melting.way
    ],
    "melting.crucible_cm3": lambda s, _: "crucible of unknown size" if s.melting.crucible_cm3 is None else "",
    "investing_vacuum": lambda s, _: _vacuums(s),
    "kiln.segments_count": lambda s, _: (
        f"controller of {s.kiln.segments_count} segments" if s.kiln.segments_count else "kiln set by hand"
    ),
    "kiln.fall_c_per_h": lambda s, d: f"kiln falls {d.difference(s.kiln.fall_c_per_h)} {d.temperature_unit} an hour",
    "kiln.error_k": lambda s, d: f"thermocouple within {d.difference(s.kiln.error_k)} {d.temperature_unit}",
    "kiln.holding_kw": lambda s, _: f"kiln draws {s.kiln.holding_kw:g} kW when holding",
    "altitude_m": lambda s, _: "at sea level" if not s.altitude_m else f"at {s.altitude_m:g} m",
}
"""Equipment by the name it has in studio.toml, and how the sheet calls what is assumed of it."""


def _vacuums(studio: Studio) -> str:
    under = [name for name, on in (("bowl", studio.investing_vacuum.bowl), ("flask", studio.investing_vacuum.flask)) if on]
    return " and ".join(under) + " under vacuum while investing" if under else "invested without vacuum"


def assumed(plan: Plan, show: Display) -> list[str]:
    """The equipment that the studio's file does not give."""
    words = [say(plan.studio, show) for name, say in ASSUMED.items() if not plan.studio.is_given(name)]
    if plan.flask.base_assumed:
        flask = plan.flask
        unit = show.length_unit
        dome = f"{show.height(flask.dome_diameter_mm)} {TIMES} {show.height(flask.dome_height_mm)} {unit}"
        words.append(f"rubber base {show.height(flask.base_depth_mm)} {unit} deep, dome {dome}")
    return [w for w in words if w]
