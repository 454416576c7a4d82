"""Metal and flask temperature from alloy and section; the charge."""

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from pourwell.materials.library import Library
from pourwell.materials.model import Alloy, Investment, Quantity
from pourwell.materials.studio import Melting
from pourwell.physics.freezing import MouldSide, superheat_time
from pourwell.physics.mould import compose
from pourwell.steps.melt.model import Charge, Temperatures
from pourwell.units import k_from_c, kg_per_m3_from_g_per_cm3, m_from_mm

TEMPERATURE_STEP_C: Final = 5.0
"""What a temperature is given to."""

SECTIONS: Final = {"thin": "section_thin_mm", "medium": "section_medium_mm", "heavy": "section_heavy_mm"}
"""The sections in words, and the rules that say for which wall each stands."""
FINE: Final = {"silver": "Ag", "gold": "Au", "white gold": "Au", "platinum": "Pt", "palladium": "Pd"}
"""The element that an alloy's fineness counts."""
CENTRIFUGE_GOLD: Final = ("gold", "white gold")
"""Metals for which a lower superheat is published in a centrifuge."""


def section_of(section_mm: float | None, library: Library) -> str:
    """The section in words: that of the nearest anchor; "medium" when it is not known."""
    if section_mm is None:
        return "medium"
    return min(SECTIONS, key=lambda name: abs(library.rule(SECTIONS[name]) - section_mm))


def temperatures(
    alloy: Alloy,
    *,
    investment: Investment,
    section_mm: float | None,
    metal_c: float | None = None,
    flask_c: float | None = None,
    library: Library,
    way: str = "vacuum",
    stones: bool = False,
) -> Temperatures:
    """Metal and flask temperature at the pour, with the ends of their rows.

    `section_mm` is the wall that they are chosen for, None if not known; `metal_c` and `flask_c` the user's own figures, which win;
    `way` how the metal is driven ("vacuum", "centrifuge", "gravity"). The flask is not set over the investment's peak, nor, with
    stones in place, over their limit.
    """
    wall_mm = library.rule("section_medium_mm") if section_mm is None else section_mm
    liquidus_c = alloy.liquidus_c.value
    low_c, own_c, high_c = _metal(alloy, wall_mm, way=way, library=library)
    mould_max_c = investment.metal_max_c.value
    most_c = min(investment.peak_c.value, library.rule("stones_flask_c")) if stones else investment.peak_c.value
    cold_c, set_c, hot_c = (min(c, most_c) for c in flask_band(alloy, section_mm, library))
    return Temperatures(
        metal_c=own_c if metal_c is None else metal_c,
        metal_low_c=low_c,
        metal_high_c=max(min(high_c, mould_max_c), own_c),
        flask_c=set_c if flask_c is None else flask_c,
        flask_low_c=cold_c,
        flask_high_c=hot_c,
        liquidus_c=liquidus_c,
        section_mm=section_mm,
        section=section_of(section_mm, library),
        metal_from="library" if metal_c is None else "user",
        flask_from="library" if flask_c is None else "user",
        signs=alloy.torch_signs.text,
    )


def flask_band(alloy: Alloy, section_mm: float | None, library: Library) -> tuple[float, float, float]:
    """Low end, value and high end of the flask temperature that the section wants [degC], whatever mould and stones stand."""
    wall_mm = library.rule("section_medium_mm") if section_mm is None else section_mm
    return _along(wall_mm, (alloy.flask_thin_c, alloy.flask_medium_c, alloy.flask_heavy_c), library)


def has_metal_row(alloy: Alloy) -> bool:
    """Does the row give metal temperatures; if not, they come from the general rule over the liquidus."""
    return None not in (alloy.metal_thin_c, alloy.metal_medium_c, alloy.metal_heavy_c)


def mould_side(investment: Investment, flask_c: float, *, conductivity: float | None = None) -> MouldSide:
    """The burnt mould as the metal meets it; `conductivity` [W/(m K)] in place of the row's value, for the ends of a band."""
    mould = compose(
        water_ratio=investment.water_g_per_100_g.value / 100,
        hemihydrate=investment.hemihydrate_fraction.value,
        powder_density=kg_per_m3_from_g_per_cm3(investment.powder_density_g_per_cm3.value),
    )
    return MouldSide(
        conductivity=investment.conductivity_dry_w_per_m_k.value if conductivity is None else conductivity,
        density=mould.burnt,
        heat_capacity=investment.cp_dry_j_per_kg_k.value,
        temperature=k_from_c(flask_c),
    )


def superheat_s(wall_mm: float, *, metal_c: float, flask_c: float, alloy: Alloy, investment: Investment) -> float:
    """How long a wall stays over its liquidus [s] in perfect contact with the mould: for comparing, not for a promise."""
    return superheat_time(
        m_from_mm(wall_mm),
        heat_capacity=alloy.cp_liquid_j_per_kg_k.value,
        density=kg_per_m3_from_g_per_cm3(alloy.liquid_density_g_per_cm3.value),
        pour=k_from_c(metal_c),
        liquidus=k_from_c(alloy.liquidus_c.value),
        mould=mould_side(investment, flask_c),
    )


def charge(
    metal_g: float,
    *,
    low_g: float,
    high_g: float,
    alloy: Alloy,
    melting: Melting,
    returns_fraction: float,
    own_alloying: bool,
    library: Library,
) -> Charge:
    """What to weigh for a tree of `metal_g`, with the ends of its mass; rounded up to what the scale shows.

    The charge is the tree over what the melt leaves. Fresh metal is split into fine metal and master alloy if the user alloys.
    """
    step_g = library.rule("charge_step_g")
    loss = alloy.melt_loss_fraction
    loss_low, loss_high = loss.ends
    total_g = _up(metal_g / (1 - loss.value), step_g)
    returns_g = _down(total_g * returns_fraction, step_g)
    fresh_g = round(total_g - returns_g, 1)
    fine = FINE.get(alloy.metal, "")
    own = own_alloying and fresh_g > 0
    parts_g = split(fresh_g, alloy.composition_percent, first=fine, step_g=library.rule("parts_step_g")) if own else {}
    fine_g = parts_g.get(fine, 0.0)
    return Charge(
        total_g=total_g,
        low_g=_up(low_g / (1 - loss_low), step_g),
        high_g=_up(high_g / (1 - loss_high), step_g),
        fresh_g=fresh_g,
        returns_g=returns_g,
        returns_limit_fraction=alloy.returns_limit_fraction.value,
        melt_loss_g=round(total_g - metal_g, 2),
        crucible_cm3=melting.crucible_cm3,
        liquid_cm3=round(total_g / alloy.liquid_density_g_per_cm3.value, 2),
        parts_g=parts_g,
        fine=fine if parts_g else "",
        fine_g=fine_g,
        master_g=round(fresh_g - fine_g, 2) if fine and parts_g else 0.0,
    )


def split(mass_g: float, composition_percent: dict[str, float], *, first: str, step_g: float) -> dict[str, float]:
    """The elements of a mass, largest first, rounded to what a fine scale shows [g] so that they add up to the mass.

    The element of the fineness is rounded up, never down, for fineness has no minus tolerance (ISO 9202); the largest of the others
    takes up what the rounding leaves.
    """
    whole = sum(composition_percent.values())
    parts = {e: mass_g * percent / whole for e, percent in sorted(composition_percent.items(), key=lambda item: -item[1])}
    rounded = {e: _up(g, step_g) if e == first else round(g, 2) for e, g in parts.items()}
    others = [e for e in rounded if e != first] or list(rounded)
    rest = mass_g - sum(rounded.values())
    rounded[others[0]] = round(rounded[others[0]] + rest, 2)
    return rounded


def _metal(alloy: Alloy, wall_mm: float, *, way: str, library: Library) -> tuple[float, float, float]:
    """Low end, value and high end of the metal temperature: by the published centrifuge rule, the row, or the general rule."""
    liquidus_c = alloy.liquidus_c.value
    thin, medium, heavy = alloy.metal_thin_c, alloy.metal_medium_c, alloy.metal_heavy_c
    if way == "centrifuge" and alloy.metal in CENTRIFUGE_GOLD:
        rule = library.rules["superheat_centrifuge_k"]
        low_k, high_k = rule.low or rule.value, rule.high or rule.value
        over_k = _read(wall_mm, (high_k, rule.value, low_k), library)
        return _to_step(liquidus_c + low_k), _to_step(liquidus_c + over_k), _to_step(liquidus_c + high_k)
    if thin is None or medium is None or heavy is None:
        rule = library.rules["superheat_any_k"]
        low_k, high_k = rule.low or rule.value, rule.high or rule.value
        return _to_step(liquidus_c + low_k), _to_step(liquidus_c + rule.value), _to_step(liquidus_c + high_k)
    return _along(wall_mm, (thin, medium, heavy), library)


def _along(wall_mm: float, anchors: tuple[Quantity, Quantity, Quantity], library: Library) -> tuple[float, float, float]:
    """Low end, value and high end at a wall between the anchors thin, medium and heavy, in the steps of a dial."""
    reads: tuple[Callable[[Quantity], float], ...] = (lambda q: q.ends[0], lambda q: q.value, lambda q: q.ends[1])
    low, value, high = (_read(wall_mm, (get(anchors[0]), get(anchors[1]), get(anchors[2])), library) for get in reads)
    return _to_step(low), _to_step(value), _to_step(high)


def _read(wall_mm: float, values: tuple[float, float, float], library: Library) -> float:
    """Straight lines between the anchors, level beyond them."""
    return float(np.interp(wall_mm, [library.rule(name) for name in SECTIONS.values()], values))


def _to_step(c: float) -> float:
    return round(c / TEMPERATURE_STEP_C) * TEMPERATURE_STEP_C


def _up(value: float, step: float) -> float:
    """Rounded up to a multiple of the step; a hair over counts as the multiple itself."""
    return round(math.ceil(round(value / step, 6)) * step, 2)


def _down(value: float, step: float) -> float:
    return round(math.floor(round(value / step, 6)) * step, 2)
