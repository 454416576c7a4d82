"""From the kiln's door to the quench: transfer, vacuum until the button is solid, what drives the metal in, the wait."""

import math
from typing import Final

from pourwell.materials.library import Library
from pourwell.materials.model import Alloy, Investment, Quantity, Rule
from pourwell.materials.studio import Studio
from pourwell.physics.entry import entry_pressure, head_pressure
from pourwell.physics.freezing import cap_shape, face_flux, freezing_time
from pourwell.physics.water import SEA_LEVEL_PRESSURE, atmosphere
from pourwell.steps.flask.model import Flask
from pourwell.steps.melt.model import Temperatures
from pourwell.steps.melt.plan import mould_side
from pourwell.steps.pour.model import Pour, Quench
from pourwell.units import k_from_c, kg_per_m3_from_g_per_cm3, kpa_from_pa, m_from_mm, min_from_s

REFERENCE_FLASK_MM: Final = 64.0
QUENCH_POWER: Final = 1.5
"""Waiting before the quench: t = t0 (D / 64 mm)^1.5, common practice, no source."""
ROOM_C: Final = 20.0
"""The air that the button's face looks into."""
SIGN: Final = "no red left on the button, seen in shade"
"""The bench sign that stands beside every time for the quench."""


def pour(
    *,
    alloy: Alloy,
    investment: Investment,
    temperatures: Temperatures,
    flask: Flask,
    thinnest_mm: float | None,
    head_mm: float | None,
    studio: Studio,
    library: Library,
) -> Pour:
    """The pour of one flask.

    `thinnest_mm` is the thinnest section of any piece, taken as a wire, and `head_mm` how far the metal stands over it at the
    least; None where no shape is known, and then nothing is said of entry.
    """
    mid_s, low_s, high_s = button_solid_s(alloy, investment=investment, temperatures=temperatures, flask=flask, library=library)
    entry_kpa = None
    if thinnest_mm is not None:
        tension = alloy.surface_tension_n_per_m.value
        entry_kpa = kpa_from_pa(entry_pressure(tension, m_from_mm(thinnest_mm)))
    drive_kpa = None
    if head_mm is not None:
        density = kg_per_m3_from_g_per_cm3(alloy.liquid_density_g_per_cm3.value)
        drive_kpa = kpa_from_pa(head_pressure(density, m_from_mm(head_mm))) + _push_kpa(studio, library)
    return Pour(
        transfer_s=round(library.rule("transfer_s")),
        vacuum_kpa=vacuum_kpa(studio) if studio.casting.way == "vacuum" else None,
        button_solid_s=mid_s,
        button_solid_low_s=low_s,
        button_solid_high_s=high_s,
        entry_kpa=entry_kpa if entry_kpa is None else round(entry_kpa, 2),
        head_kpa=drive_kpa if drive_kpa is None else round(drive_kpa, 2),
    )


def vacuum_kpa(studio: Studio) -> float:
    """Gauge vacuum under the flask: what the studio says; where it does not, the common figure in proportion to the air there."""
    air = atmosphere(studio.altitude_m)
    if studio.is_given("casting.vacuum_kpa"):
        return min(studio.casting.vacuum_kpa, kpa_from_pa(air))
    return round(min(1.0, air / SEA_LEVEL_PRESSURE) * studio.casting.vacuum_kpa, 1)


def _push_kpa(studio: Studio, library: Library) -> float:
    """What drives the metal besides its own weight."""
    if studio.casting.way == "vacuum":
        return vacuum_kpa(studio)
    return library.rule("centrifuge_kpa") if studio.casting.way == "centrifuge" else 0.0


def button_solid_s(
    alloy: Alloy, *, investment: Investment, temperatures: Temperatures, flask: Flask, library: Library
) -> tuple[int, int, int]:
    """Time until the button is solid throughout [s], and its low and high end.

    The button is a spherical cap, the dome of the rubber base, that loses heat through its dome into the mould and through its open
    face into the air. Run at the ends of the mould's conductivity and of what the face loses. The metal counts as solid when heat
    down to its solidus is gone, and the front stands at the solidus: so the tail of the freezing range is in it.
    """
    modulus, curvature = cap_shape(m_from_mm(flask.dome_diameter_mm), m_from_mm(flask.dome_height_mm))
    dome = math.pi * (flask.dome_diameter_mm**2 / 4 + flask.dome_height_mm**2)
    open_share = math.pi / 4 * flask.dome_diameter_mm**2 / dome
    grey, air = library.rules["button_emissivity_fraction"], library.rules["button_air_w_per_m2_k"]
    front = k_from_c(alloy.solidus_c.value)

    def solid(conductivity: float, emissivity: float, coefficient: float) -> int:
        return round(
            freezing_time(
                modulus,
                heat=heat_to_solid(alloy, temperatures.metal_c),
                density=kg_per_m3_from_g_per_cm3(alloy.liquid_density_g_per_cm3.value),
                front=front,
                mould=mould_side(investment, temperatures.flask_c, conductivity=conductivity),
                curvature=curvature,
                aside=open_share * face_flux(front, k_from_c(ROOM_C), emissivity=emissivity, coefficient=coefficient),
            )
        )

    k = investment.conductivity_dry_w_per_m_k
    (slow_k, fast_k), (dull, bright), (still, drawn) = k.ends, _ends(grey), _ends(air)
    return solid(k.value, grey.value, air.value), solid(fast_k, bright, drawn), solid(slow_k, dull, still)


def heat_to_solid(alloy: Alloy, metal_c: float) -> float:
    """Heat that a kilogram gives off from the pour until it is solid [J/kg]: superheat, latent heat, the range between."""
    liquidus, solidus = alloy.liquidus_c.value, alloy.solidus_c.value
    superheat = alloy.cp_liquid_j_per_kg_k.value * max(0.0, metal_c - liquidus)
    between = alloy.cp_solid_j_per_kg_k.value * (liquidus - solidus)
    return superheat + between + 1000 * alloy.latent_kj_per_kg.value


def quench(*, alloy: Alloy, flask: Flask, pour: Pour, stones: bool, library: Library) -> Quench:
    """When the flask goes into water, if it does: by size, at the ends of the alloy's own range, never before the button is solid.

    Alloys that must never be quenched, and any flask with stones in place, cool in air.
    """
    rule = alloy.quench
    if stones:
        wait = library.rules["stones_wait_min"]
        low_min, high_min = _ends(wait)
        return _told("air", (wait.value, low_min, high_min), "Stones crack in water: never quench, let the flask cool by itself.")
    scale = (flask.diameter_mm / REFERENCE_FLASK_MM) ** QUENCH_POWER
    solid_min = min_from_s(pour.button_solid_high_s) * library.rule("quench_margin_ratio")
    low_min, high_min = rule.wait_64_mm_min.ends
    waits = (rule.wait_64_mm_min.value * scale, low_min * scale, high_min * scale)
    return _told(rule.way, (max(waits[0], solid_min), max(waits[1], solid_min), max(waits[2], solid_min)), rule.about.text)


def _told(way: str, waits_min: tuple[float, float, float], about: str) -> Quench:
    wait, low, high = (math.ceil(round(w, 3)) for w in waits_min)
    return Quench(way=way, wait_min=wait, low_min=low, high_min=high, sign=SIGN, about=about)


def _ends(row: Quantity | Rule) -> tuple[float, float]:
    return row.value if row.low is None else row.low, row.value if row.high is None else row.high
