"""Which flask, the room in it, and the investment to mix for it."""

import math
import re
from collections.abc import Callable
from typing import Final

from pourwell.errors import BadRequestError
from pourwell.materials.library import Library
from pourwell.materials.model import STUDIO_SOURCE, FlaskRow, Grade, Investment
from pourwell.materials.studio import Base, Studio
from pourwell.physics.mould import powder_in_slurry
from pourwell.physics.water import boiling_vacuum, liquid_density
from pourwell.steps.flask.clock import working_clock
from pourwell.steps.flask.model import Flask, Mix
from pourwell.steps.tree.model import Room
from pourwell.units import (
    cm3_from_mm3,
    k_from_c,
    kg_per_m3_from_g_per_cm3,
    kpa_from_pa,
    mm3_from_cm3,
    mm_from_inch,
    s_from_min,
)

WEIGHED_AT_C: Final = 20.0
"""The water's temperature when it is measured by volume."""
POWDER_STEPS_G: Final = (1.0, 5.0)
WATER_STEPS_G: Final = (0.5, 1.0)
"""What powder and water are weighed to, for small flasks and for others."""
BOWL_STEP_CM3: Final = 100.0
COLLAR_STEP_MM: Final = 5.0
SET_STEP_H: Final = 0.25
"""What the sheet shows these to."""

_NUMBER = r"(\d+(?:[.,]\d+)?)"
_UNIT = r'(mm|cm|inch|in|")?'
_SIZE = re.compile(rf"{_NUMBER}\s*{_UNIT}\s*[x*\u00d7]\s*{_NUMBER}\s*{_UNIT}", re.IGNORECASE)
_TO_MM: Final[dict[str, Callable[[float], float]]] = {
    "mm": lambda value: value,
    "cm": lambda value: value * 10,
    "in": mm_from_inch,
    "inch": mm_from_inch,
    '"': mm_from_inch,
}


def flasks(studio: Studio, library: Library) -> tuple[FlaskRow, ...]:
    """The flasks to choose from, smallest first: the studio's own if it lists any, else the library's."""
    rows = studio.flasks or tuple(library.flasks.values())
    return tuple(sorted(rows, key=lambda r: (_volume_cm3(r), r.perforated, r.id)))


def parse_flask(text: str, studio: Studio, library: Library) -> FlaskRow:
    """The flask that an id or a size "76x100" (mm), "3x4in" means; a size in no list becomes a row with an assumed wall.

    Raises BadRequestError for what is neither an id nor a size, and for a size that no flask has.
    """
    known = {row.id: row for row in (*library.flasks.values(), *studio.flasks)}
    asked = text.strip()
    if asked.lower() in known:
        return known[asked.lower()]
    size = _SIZE.fullmatch(asked)
    if not size:
        raise BadRequestError(
            f'"{text}" is no flask.',
            why="It is neither a flask of the list nor a size.",
            try_this=f'Write inside diameter x height in mm, as "76x100", or "3x4in". Listed: {", ".join(sorted(known))}.',
        )
    across, first, tall, second = size.groups()
    unit = (second or first or "mm").lower()
    diameter_mm = _TO_MM[(first or unit).lower()](float(across.replace(",", ".")))
    height_mm = _TO_MM[unit](float(tall.replace(",", ".")))
    least, most = library.rule("flask_smallest_mm"), library.rule("flask_largest_mm")
    if not (least <= diameter_mm <= most and least <= height_mm <= most):
        raise BadRequestError(
            f'"{text}" is no flask.',
            why=f"It would be {diameter_mm:g} mm wide and {height_mm:g} mm high; flasks lie between {least:g} and {most:g} mm.",
            try_this='Write inside diameter x height in mm, as "76x100", or with its unit, as "3x4in".',
        )
    near = library.rule("flask_match_mm")
    for row in (*flasks(studio, library), *known.values()):
        if abs(row.diameter_mm - diameter_mm) <= near and abs(row.height_mm - height_mm) <= near:
            return row
    return FlaskRow(
        id=f"{diameter_mm:.4g}x{height_mm:.4g}",
        diameter_mm=diameter_mm,
        height_mm=height_mm,
        wall_mm=library.rule("flask_wall_mm"),
        grade=Grade.ESTIMATE,
    )


def base_for(row: FlaskRow, studio: Studio, library: Library) -> tuple[Base, bool]:
    """The rubber base for a flask, and whether it is assumed.

    The studio's base that fits this diameter, else its base that fits any; else a common one, made smaller for a small flask.
    """
    near = library.rule("base_fit_mm")
    fitting = [b for b in studio.bases if b.fits_mm is not None and abs(b.fits_mm - row.diameter_mm) <= near]
    fitting += [b for b in studio.bases if b.fits_mm is None]
    if fitting:
        return fitting[0], False
    common = Base()

    def at_most(rule: str, mm: float) -> float:
        return round(min(mm, library.rule(rule) * row.diameter_mm), 1)

    return (
        Base(
            fits_mm=row.diameter_mm,
            depth_mm=at_most("base_depth_to_flask_ratio", common.depth_mm),
            dome_diameter_mm=at_most("base_dome_to_flask_ratio", common.dome_diameter_mm),
            dome_height_mm=at_most("base_dome_height_to_flask_ratio", common.dome_height_mm),
        ),
        True,
    )


def room(row: FlaskRow, base: Base, *, studio: Studio, library: Library) -> Flask:
    """The flask with the room in it: height less base, cover and headspace.

    The base counts as assumed if the studio lists no such base. A perforated flask is filled to its rim under a collar; so is any
    that does not go under vacuum.
    """
    large = row.diameter_mm >= library.rule("cover_large_from_mm")
    cover_mm = library.rule("cover_large_mm" if large else "cover_mm")
    seals = studio.investing_vacuum.flask and not row.perforated
    headspace_mm = library.rule("headspace_mm") if seals else 0.0
    return Flask(
        id=row.id,
        mark=row.mark,
        diameter_mm=row.diameter_mm,
        height_mm=row.height_mm,
        wall_mm=row.wall_mm,
        perforated=row.perforated,
        flange=row.flange,
        volume_cm3=_volume_cm3(row),
        base_depth_mm=base.depth_mm,
        dome_diameter_mm=base.dome_diameter_mm,
        dome_height_mm=base.dome_height_mm,
        socket_mm=base.socket_mm,
        base_assumed=base not in studio.bases,
        cover_mm=cover_mm,
        headspace_mm=headspace_mm,
        usable_mm=row.height_mm - base.depth_mm - cover_mm - headspace_mm,
    )


def as_room(flask: Flask) -> Room:
    """What the flask offers a tree, above the foot of the flask."""
    return Room(
        radius_mm=flask.diameter_mm / 2,
        floor_mm=flask.base_depth_mm + flask.dome_height_mm,
        ceiling_mm=flask.height_mm - flask.cover_mm - flask.headspace_mm,
        height_mm=flask.height_mm,
        base_depth_mm=flask.base_depth_mm,
        dome_diameter_mm=flask.dome_diameter_mm,
        dome_height_mm=flask.dome_height_mm,
        socket_mm=flask.socket_mm,
    )


def mix(flask: Flask, *, investment: Investment, section: str, studio: Studio, library: Library) -> Mix:
    """What to weigh and mix for a flask; `section` is "thin", "medium" or "heavy".

    Powder for the empty flask's slurry with some to spare and a film on the bowl, rounded up; water by the ratio.
    """
    ratio, ratio_from = _ratio(investment, section)
    powder_density = investment.powder_density_g_per_cm3.value
    powder_per_cm3 = powder_in_slurry(water_ratio=ratio / 100, powder_density=kg_per_m3_from_g_per_cm3(powder_density)) / 1e3
    poured_cm3 = flask.volume_cm3 * library.rule("spare_slurry_ratio")
    film_cm3 = _bowl_film_cm3(poured_cm3 * library.rule("bowl_size_ratio"), library.rule("bowl_film_mm"))
    wanted_g = (poured_cm3 + film_cm3) * powder_per_cm3
    powder_step, water_step = (steps[wanted_g > library.rule("powder_small_under_g")] for steps in (POWDER_STEPS_G, WATER_STEPS_G))
    powder_g = _up(wanted_g, powder_step)
    water_g = round(powder_g * ratio / 100 / water_step) * water_step
    slurry_cm3 = powder_g / powder_per_cm3
    vacuum = studio.investing_vacuum
    gloss_off_min = investment.gloss_off_min.value
    finish_min = gloss_off_min - library.rule("gloss_margin_min")
    cold_c, warm_c = investment.water_c.ends
    water_g_per_ml = liquid_density(k_from_c(WEIGHED_AT_C)) / 1e3
    return Mix(
        binder=investment.binder,
        id=investment.id,
        name=investment.name,
        powder_g=powder_g,
        water_g=water_g,
        water_ml=round(water_g / water_g_per_ml / water_step) * water_step,
        ratio_g_per_100_g=ratio,
        ratio_from=ratio_from,
        slurry_cm3=round(slurry_cm3, 1),
        bowl_cm3=_up(slurry_cm3 * library.rule("bowl_size_ratio"), BOWL_STEP_CM3),
        bowl_left_g=round(film_cm3 * powder_per_cm3, 1),
        collar_mm=_collar_mm(flask, studio, library),
        water_low_c=cold_c,
        water_high_c=warm_c,
        gloss_off_min=gloss_off_min,
        finish_min=finish_min,
        still_min=investment.still_min.value,
        set_h=_set_h(flask.diameter_mm, investment, library),
        stand_max_h=investment.stand_max_h.value if investment.stand_max_h else library.rule("stand_max_h"),
        bag_after_h=library.rule("stand_max_h"),
        vacuum=vacuum.bowl or vacuum.flask,
        boil_kpa=round(kpa_from_pa(boiling_vacuum(studio.altitude_m, k_from_c(cold_c))), 2),
        clock=working_clock(s_from_min(gloss_off_min), s_from_min(finish_min), vacuum=vacuum, library=library),
        wetting_min=0.0 if vacuum.bowl and vacuum.flask else library.rule("wetting_min"),
    )


def fit_out(row: FlaskRow, studio: Studio, library: Library) -> Flask:
    """A flask with its base, and the room in it."""
    base, _ = base_for(row, studio, library)
    return room(row, base, studio=studio, library=library)


def tree_room_cm3(flask: Flask, library: Library) -> float:
    """What base, cover and the distance to the wall leave for a tree; at least a cubic centimetre."""
    wide_mm = flask.diameter_mm - 2 * library.rule("wall_gap_mm")
    high_mm = flask.height_mm - flask.base_depth_mm - flask.cover_mm
    return max(1.0, cm3_from_mm3(math.pi / 4 * max(wide_mm, 0.0) ** 2 * max(high_mm, 0.0)))


def _volume_cm3(row: FlaskRow) -> float:
    return cm3_from_mm3(math.pi / 4 * row.diameter_mm**2 * row.height_mm)


def _up(value: float, step: float) -> float:
    """Rounded up to a multiple of the step; a hair over counts as the multiple itself."""
    return math.ceil(round(value / step, 6)) * step


def _ratio(investment: Investment, section: str) -> tuple[float, str]:
    """Water per 100 of powder by mass, and where it comes from: the bag wins, else the section decides."""
    nominal = investment.water_g_per_100_g
    if nominal.source == STUDIO_SOURCE:
        return nominal.value, "bag"
    heavy = (investment.water_heavy_g_per_100_g or nominal).value
    fine = (investment.water_fine_g_per_100_g or nominal).value
    return {"heavy": heavy, "medium": (heavy + fine) / 2, "thin": fine}[section], "library"


def _bowl_film_cm3(bowl_cm3: float, film_mm: float) -> float:
    """Slurry that stays in a bowl: a film on the whole inside of a half ball of this volume, for under vacuum it is all wetted.

    A slurry with a yield stress leaves on an upright wall the depth that it can hold against gravity, whatever the bowl's size.
    """
    radius_mm = (3 * mm3_from_cm3(bowl_cm3) / (2 * math.pi)) ** (1 / 3)
    return cm3_from_mm3(2 * math.pi * radius_mm**2 * film_mm)


def _collar_mm(flask: Flask, studio: Studio, library: Library) -> float:
    """How far the collar stands over the rim: for the rise under vacuum, or to seal the wrap of a perforated flask."""
    if studio.investing_vacuum.flask:
        rise_mm = library.rule("collar_to_height_ratio") * flask.height_mm
        return _up(max(library.rule("collar_least_mm"), rise_mm), COLLAR_STEP_MM)
    return library.rule("collar_wrap_mm") if flask.perforated else 0.0


def _set_h(diameter_mm: float, investment: Investment, library: Library) -> float:
    """How long it stands before the kiln: a straight line between small and large flasks."""
    small_mm, large_mm = library.rule("set_small_to_mm"), library.rule("set_large_from_mm")
    short_h, long_h = investment.set_small_h.value, investment.set_large_h.value
    share = min(1.0, max(0.0, (diameter_mm - small_mm) / (large_mm - small_mm)))
    return _up(short_h + share * (long_h - short_h), SET_STEP_H)
