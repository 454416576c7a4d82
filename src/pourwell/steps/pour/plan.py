"""From the kiln's door to the quench: transfer, vacuum until the button is solid, what drives the metal in, the wait."""

import math
from typing import Final

from pourwell.materials.library import Library
from pourwell.materials.model import Alloy, Investment, Quantity, Rule
from pourwell.materials.studio import Studio
from pourwell.physics.cooling import Lump, cooling_time, inner_resistance
from pourwell.physics.entry import entry_pressure, head_pressure
from pourwell.physics.freezing import cap_shape, face_flux, freezing_time
from pourwell.physics.water import SEA_LEVEL_PRESSURE, atmosphere
from pourwell.steps.burnout.energy import STEEL_J_PER_M3_K
from pourwell.steps.flask.model import Flask
from pourwell.steps.freeze.model import Spell
from pourwell.steps.melt.model import Temperatures
from pourwell.steps.melt.plan import mould_side
from pourwell.steps.pour.model import Pour, Quench
from pourwell.steps.pour.transfer import transfer
from pourwell.units import (
    k_from_c,
    kg_from_g,
    kg_per_m3_from_g_per_cm3,
    kpa_from_pa,
    m2_from_mm2,
    m3_from_mm3,
    m_from_mm,
    min_from_s,
)

REFERENCE_FLASK_MM: Final = 64.0
QUENCH_POWER: Final = 1.5
"""Waiting before the quench: t = t0 (D / 64 mm)^1.5, common practice, no source."""
ROOM_C: Final = 20.0
"""The air that the button's face looks into."""
STONES: Final = "Stones crack in water: never quench, let the flask cool by itself."
Minutes = tuple[float, float, float]
"""A time with its low and its high end, in this order."""
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
    solid: Spell | None = None,
    piece_depth_mm: float | None = None,
    studio: Studio,
    library: Library,
) -> Pour:
    """The pour of one flask; `piece_depth_mm` is how far the pieces nearest to the wall are from it, None: not known.

    `solid` is the button's freezing where it was computed with its tree; without it the button is taken alone, see below.

    `thinnest_mm` is the thinnest section of any piece, taken as a wire, and `head_mm` how far the metal stands over it at the
    least; None where no shape is known, and then nothing is said of entry.
    """
    alone = button_solid_s(alloy, investment=investment, temperatures=temperatures, flask=flask, library=library)
    mid_s, low_s, high_s = (round(t) for t in (solid.value_s, solid.low_s, solid.high_s)) if solid else alone
    entry_kpa = None
    if thinnest_mm is not None:
        tension = alloy.surface_tension_n_per_m.value
        entry_kpa = kpa_from_pa(entry_pressure(tension, m_from_mm(thinnest_mm)))
    drive_kpa = None
    if head_mm is not None:
        density = kg_per_m3_from_g_per_cm3(alloy.liquid_density_g_per_cm3.value)
        drive_kpa = kpa_from_pa(head_pressure(density, m_from_mm(head_mm))) + _push_kpa(studio, library)
    depth_mm = library.rule("wall_gap_mm") if piece_depth_mm is None else piece_depth_mm
    cooling = transfer(investment, flask=flask, flask_c=temperatures.flask_c, piece_depth_mm=depth_mm, library=library)
    return Pour(
        transfer_s=min(round(library.rule("transfer_s")), cooling.most_s),
        transfer=cooling,
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


def quench(
    *,
    alloy: Alloy,
    investment: Investment,
    temperatures: Temperatures,
    flask: Flask,
    metal_g: float,
    pour: Pour,
    stones: bool,
    dark: Spell | None = None,
    library: Library,
) -> Quench:
    """When the flask goes into water, or when it has cooled by itself: at the ends of the alloy's own range, by size.

    The whole band is moved behind the button's freezing, its slow end too. Where it was computed when nothing of the metal glows
    any more (`dark`), no end of the wait for water comes before the same end of that. Alloys that must never be quenched, moulds
    that must not be, and any flask with stones in place cool in air; a time that is published is never scaled below itself.
    """
    rule, mould = alloy.quench, investment.cool_in_air
    waits = _waits(alloy, flask=flask, pour=pour, stones=stones, library=library)
    if dark is not None and rule.way == "water":
        waits = (
            max(waits[0], min_from_s(dark.value_s)),
            max(waits[1], min_from_s(dark.low_s)),
            max(waits[2], min_from_s(dark.high_s)),
        )
    if not stones and rule.way == "water" and mould is None:
        return _told("water", waits, waits, about=rule.about.text)
    cool = cooling_min(investment=investment, temperatures=temperatures, flask=flask, alloy=alloy, metal_g=metal_g, library=library)
    opened = max(cool[0], waits[0]), max(cool[1], waits[1]), max(cool[2], waits[2])
    about = rule.about.text if rule.way == "air" or mould is None else mould.text
    return _told("air", waits, opened, about=STONES if stones else about)


def _waits(alloy: Alloy, *, flask: Flask, pour: Pour, stones: bool, library: Library) -> Minutes:
    """Until it goes into water or may be moved, with the low and high end."""
    rule = alloy.quench
    scale = (flask.diameter_mm / REFERENCE_FLASK_MM) ** QUENCH_POWER
    if stones:
        waits = _spread(library.rules["stones_wait_min"])
    elif rule.way == "air":
        waits = _scaled(rule.wait_64_mm_min, max(scale, 1.0))
    else:
        waits = _scaled(rule.wait_64_mm_min, scale)
        if rule.latest_c is None:
            waits = waits[0], waits[1], max(waits[2], _ends(library.rules["small_flask_wait_min"])[1])
    solid_min = min_from_s(pour.button_solid_high_s) * library.rule("quench_margin_ratio")
    later = max(0.0, solid_min - waits[1])
    return waits[0] + later, waits[1] + later, waits[2] + later


def cooling_min(
    *, investment: Investment, temperatures: Temperatures, flask: Flask, alloy: Alloy, metal_g: float, library: Library
) -> Minutes:
    """Minutes until a flask that stands in the air can be opened by hand, and the low and high end.

    Mould, steel and metal as one lump at the flask temperature, made hotter by the heat that the metal brings; it loses heat
    through its side and its open end, the other stands on the bench. Run at the ends of the mould's conductivity, of the air and
    the radiation at its side, and of what a hand bears.
    """
    side = mould_side(investment, temperatures.flask_c)
    volume = m3_from_mm3(math.pi / 4 * flask.diameter_mm**2 * flask.height_mm)
    outer_mm = flask.diameter_mm + 2 * flask.wall_mm
    steel = m3_from_mm3(math.pi * (flask.diameter_mm + flask.wall_mm) * flask.wall_mm * flask.height_mm) * STEEL_J_PER_M3_K
    surface = m2_from_mm2(math.pi * outer_mm * (flask.height_mm + outer_mm / 4))
    kilograms = kg_from_g(metal_g)
    capacity = volume * side.density * side.heat_capacity + steel + kilograms * alloy.cp_solid_j_per_kg_k.value
    brought = heat_to_solid(alloy, temperatures.metal_c) + alloy.cp_solid_j_per_kg_k.value * (
        alloy.solidus_c.value - temperatures.flask_c
    )
    start = k_from_c(temperatures.flask_c + kilograms * max(0.0, brought) / capacity)

    def minutes(conductivity: float, air: float, *, grey: float, hand_c: float) -> float:
        inner = inner_resistance(volume / surface, conductivity)
        body = Lump(capacity=capacity, surface=surface, inner=inner)
        return min_from_s(cooling_time(body, start=start, end=k_from_c(hand_c), room=k_from_c(ROOM_C), film=air, emissivity=grey))

    film, shine, hand = (
        library.rules["flask_air_w_per_m2_k"],
        library.rules["flask_emissivity_fraction"],
        library.rules["open_below_c"],
    )
    k = investment.conductivity_dry_w_per_m_k
    (slow_k, fast_k), (still, drawn), (dull, bright), (cold_c, warm_c) = k.ends, _ends(film), _ends(shine), _ends(hand)
    middle = minutes(k.value, film.value, grey=shine.value, hand_c=hand.value)
    return middle, minutes(fast_k, drawn, grey=bright, hand_c=warm_c), minutes(slow_k, still, grey=dull, hand_c=cold_c)


def _scaled(figure: Quantity, scale: float) -> Minutes:
    low, high = figure.ends
    return figure.value * scale, low * scale, high * scale


def _spread(rule: Rule) -> Minutes:
    return rule.value, *_ends(rule)


def _told(way: str, waits_min: Minutes, opened_min: Minutes, *, about: str) -> Quench:
    wait, low, high = (math.ceil(round(w, 3)) for w in waits_min)
    cool, cool_low, cool_high = (math.ceil(round(w, 3)) for w in opened_min)
    return Quench(
        way=way,
        wait_min=wait,
        low_min=low,
        high_min=high,
        cool_min=cool,
        cool_low_min=cool_low,
        cool_high_min=cool_high,
        sign=SIGN,
        about=about,
    )


def _ends(row: Quantity | Rule) -> tuple[float, float]:
    return row.value if row.low is None else row.low, row.value if row.high is None else row.high
