"""What a programme does inside the flask, put together for the plan: curves, bands, and what is not modelled."""

import math
from collections.abc import Mapping
from functools import lru_cache
from typing import Final

import numpy as np

from pourwell.physics.burnout.march import Course
from pourwell.physics.burnout.report import at_radius, water_mass
from pourwell.physics.burnout.steam import overpressure
from pourwell.steps.burnout.inside import FAST, LIKELY, SLOW, Corners, End, Three, Traits, Which, run, three
from pourwell.steps.burnout.inside_checks import clock_words
from pourwell.steps.burnout.legs import Case
from pourwell.steps.burnout.model import Band, Curves, Inside, Programme, published_word
from pourwell.units import c_from_k, kpa_from_pa, s_from_min

STEP_MIN: Final = 10
"""Between two points of a curve. Own choice."""
NOT_MODELLED: Final = (
    "wicking and venting: water leaves by boiling at a front, so the hours of drying are an upper estimate",
    "steam that condenses in the core: it comes to 100 °C sooner than computed, and stays no shorter",
    "cracks: heat, steam and differences are held against what published programmes do, not against strength",
    "how resin swells, breaks down and burns: times at temperature only",
    "a thermocouple that is wrong while the mould inverts: the ceilings, the drying and the time for carbon reckon with its error; "
    "it moves the difference of rim and core by one to three times itself",
    "the tree in the mould, air through the sprue hole, and differences of temperature in the kiln beyond what studio.toml says",
)


def row_words(programme: Programme) -> str:
    """The published table as it stands, where this flask and kiln do not take it so; temperatures as quantities. Else empty."""
    if not programme.published:
        return ""
    rows = programme.published
    steps = "; ".join(
        f"{{k:{abs(s.ramp_c_per_h):g}}} an hour to {{t:{s.target_c:g}}}" + (f", {clock_words(s.hold_min)}" if s.hold_min else "")
        for s in rows
    )
    whole = clock_words(sum(s.ramp_min + s.hold_min for s in rows))
    what = published_word(programme.published_grade)
    held = clock_words(programme.published_min)
    return f"The table as it stands ({what}): {steps}. {whole} in all; held to what this flask and kiln take, {held}."


def inside(ends: Mapping[Which, End], found: Mapping[Which, Traits], corners: Corners, *, case: Case) -> Inside:
    """All of it for one course."""
    permeability = three(case.library.rules["permeability_m2"])
    curves, pressure = _read((ends[LIKELY], ends[SLOW], ends[FAST]), corners, permeability)

    def band(name: str, unit: str = "min") -> Band:
        values = [float(getattr(t, name)) for t in found.values()]
        return Band(low=min(values), likely=float(getattr(found[LIKELY], name)), high=max(values), unit=unit)

    return Inside(
        curves=curves,
        core_passes_100_min=band("released"),
        dry_min=band("dry"),
        steam_kw_per_m2=band("steam", "kW/m2"),
        pressure_kpa=pressure,
        cristobalite_lag_k=band("cristobalite", "K"),
        quartz_lag_k=band("quartz", "K"),
        softening_min=band("softening"),
        charring_min=band("charring"),
        carbon_min=band("carbon"),
        uneven_k=band("uneven", "K"),
        heat_kwh=band("heat_kwh", "kWh"),
        measured=case.known.names,
        not_modelled=NOT_MODELLED,
    )


@lru_cache(maxsize=512)
def _read(ends: tuple[End, End, End], corners: Corners, permeability: Three) -> tuple[Curves, Band]:
    """The curves of the likely, slow and fast end, and the greatest overpressure with its ends from the permeability."""
    courses = {which: run(end, corners) for which, end in zip((LIKELY, SLOW, FAST), ends, strict=True)}
    tight, usual, open_ = (_pressure(courses[LIKELY], value) for value in permeability)
    return _curves(courses, corners), Band(low=open_, likely=usual, high=tight, unit="kPa")


def _curves(courses: Mapping[Which, Course], corners: Corners) -> Curves:
    """The curves at even steps and at the corners of the kiln's course."""
    end = corners[-1][0]
    times = sorted({*range(0, math.floor(end) + 1, STEP_MIN), *(round(t) for t, _ in corners)})
    seconds = [s_from_min(t) for t in times]

    def read(which: Which, share: float) -> tuple[float, ...]:
        course = courses[which]
        levels = np.interp(seconds, course.time, at_radius(course, share))
        return tuple(round(c_from_k(float(k)), 1) for k in levels)

    def water(which: Which) -> tuple[float, ...]:
        mass = water_mass(courses[which])
        whole = float(mass[0]) or 1.0
        return tuple(round(float(m) / whole, 3) for m in np.interp(seconds, courses[which].time, mass))

    cold, hot = read(SLOW, 0.0), read(FAST, 0.0)
    return Curves(
        times_min=tuple(times),
        kiln_c=tuple(round(float(c), 1) for c in np.interp(times, *np.array(corners).T)),
        rim_c=read(LIKELY, 1.0),
        half_radius_c=read(LIKELY, 0.5),
        core_c=read(LIKELY, 0.0),
        core_low_c=tuple(map(min, cold, hot)),
        core_high_c=tuple(map(max, cold, hot)),
        water_fraction=water(LIKELY),
        water_high_fraction=water(SLOW),
    )


def _pressure(course: Course, permeability: float) -> float:
    """Greatest overpressure of the steam [kPa] in a mould of a permeability [m2]."""
    _, found = overpressure(course, permeability=permeability)
    return kpa_from_pa(float(found.max()))
