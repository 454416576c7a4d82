"""A flask of the bench as a case of the solver: what is in it, how the kiln reaches it, and the ends of what nobody knows well."""

import math
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from pourwell.geometry.kernels.compiled import thread_count
from pourwell.materials.model import Quantity, Rule
from pourwell.physics.burnout import report
from pourwell.physics.burnout.march import Care, Course, Programme, burn
from pourwell.physics.burnout.setting import Flask, Place, standing, view_past
from pourwell.physics.burnout.substance import Mould
from pourwell.physics.mould import Composition, compose, heat_to_dry
from pourwell.steps.burnout.legs import Case
from pourwell.steps.burnout.model import Factor
from pourwell.units import k_from_c, kg_per_m3_from_g_per_cm3, kwh_from_j, m_from_mm, min_from_s, s_from_min

Which = tuple[int, int, int]
"""Ends of conductivity, film and water."""
LOW, MIDDLE, HIGH = 0, 1, 2
LIKELY = (MIDDLE, MIDDLE, MIDDLE)
SLOW, FAST = (LOW, LOW, HIGH), (HIGH, HIGH, LOW)
"""Where the mould dries last, and first."""
ALL: Final[tuple[Which, ...]] = (LIKELY, *((c, f, w) for c in (LOW, HIGH) for f in (LOW, HIGH) for w in (LOW, HIGH)))
"""As is likely, and all ends of conductivity, kiln's film and water together: every one is run, none is argued away."""
GRID: Final = Care(rings=14, layers=18, accuracy=3.0)
"""One grid for search, limits and print: what is printed was simulated, and held against the published one on the same grid.

Against 40 rings and 48 layers, at the likely inputs and at bad ends, a test
holds times, steam and heat to 3 %, differences to 4 % or 1 K.
"""
STEAM_OVER_MIN: Final = 20.0
"""Steam is the mean over so long: rings dry one by one, and the flux jumps with each. Own choice, by runs on four grids."""
COOL_C: Final = 150.0
HOT_C: Final = 600.0
"""Where the ratios of the rules for a cool and a hot mould hold."""

Corners = tuple[tuple[float, float], ...]
"""A kiln's course: minutes from the start and degC, straight between."""
Three = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """The flask at one end of its inputs, SI."""

    flask: Flask
    mould: Mould
    place: Place


class Windows(NamedTuple):
    """Levels between which times and lags are taken [degC]."""

    cristobalite: tuple[float, float]
    quartz: tuple[float, float]
    soft: tuple[float, float]
    char: tuple[float, float]
    carbon: float
    drain: float


class Traits(NamedTuple):
    """What a run at one end comes to: minutes, K, kW/m2; `_at` are minutes from the start."""

    released: float
    dry: float
    steam: float
    steam_at: float
    cristobalite: float
    cristobalite_at: float
    quartz: float
    quartz_at: float
    softening: float
    charring: float
    carbon: float
    draining: float
    uneven: float
    heat_kwh: float


def windows(case: Case) -> Windows:
    """Those of the rules; carbon burns off where even a kiln whose thermocouple reads high is hot enough."""
    rule = case.library.rule
    return Windows(
        cristobalite=(rule("cristobalite_from_c"), rule("cristobalite_to_c")),
        quartz=(rule("inversion_from_c"), rule("inversion_to_c")),
        soft=(rule("pattern_softens_c"), rule("pattern_soft_to_c")),
        char=(rule("char_from_c"), rule("char_to_c")),
        carbon=rule("carbon_from_c") + case.kiln.error_k,
        drain=rule("drain_to_c"),
    )


def ends_of(case: Case) -> dict[Which, End]:
    """The flask as is likely, then at every corner of its inputs.

    What was measured replaces the default and its band. Raises BadRequestError for a flask or film that cannot be.
    """
    return {which: _end(case, which) for which in ALL}


def in_words(which: Which) -> str:
    """An end, as a jeweller reads it."""
    if which == LIKELY:
        return "with every input at its likely value"
    conducts, reaches, holds = (level == HIGH for level in which)
    return (
        f"mould conducts {'well' if conducts else 'poorly'}, kiln heats {'strongly' if reaches else 'weakly'}, "
        f"{'much' if holds else 'little'} water"
    )


def three(given: Rule | Quantity) -> Three:
    """Low end, value and high end of a rule or a figure; the value where no end is given."""
    low, high = given.low, given.high
    return (given.value if low is None else low, given.value, given.value if high is None else high)


def _scaled(values: Three, factor: Factor | None) -> Three:
    """A default band, or the likely default times what was measured."""
    middle = values[MIDDLE]
    return values if factor is None else (middle * factor.low, middle * factor.value, middle * factor.high)


def _end(case: Case, which: Which) -> End:
    """One end; each of the three at its low end, middle or high end."""
    conducts, reaches, holds = which
    rules, flask, measured = case.library.rules, case.flask, case.known
    made, share = _made(case, holds)
    wet = _scaled(three(rules["mould_wet_w_per_m_k"]), measured.conductivity)[conducts]
    mean = _scaled(three(case.investment.conductivity_dry_w_per_m_k), measured.conductivity)[conducts]
    dry = ((k_from_c(COOL_C), mean * rules["mould_cool_ratio"].value), (k_from_c(HOT_C), mean * rules["mould_hot_ratio"].value))
    air = _scaled(three(rules["kiln_convection_w_per_m2_k"]), measured.film)[reaches]
    grey = min(1.0, _scaled(three(rules["kiln_emissivity_fraction"]), measured.film)[reaches])
    other = MIDDLE if measured.film else reaches
    wall = Flask(
        radius=m_from_mm(flask.diameter_mm / 2),
        height=m_from_mm(flask.height_mm),
        wall=m_from_mm(flask.wall_mm),
        open_share=rules["wall_open_fraction"].value if flask.perforated else 0.0,
        contact=three(rules["mould_touch_w_per_m2_k"])[other],
    )
    place = standing(
        convection=air,
        emissivity=grey,
        beside=_beside(case),
        shelf_convection=air * three(rules["shelf_air_ratio"])[other],
        shelf_view=three(rules["shelf_view_fraction"])[other],
    )
    return End(flask=wall, mould=Mould(composition=made, water_share=share, wet=wet, dry=dry), place=place)


def _beside(case: Case) -> float:
    """What the side of the worst placed flask sees of the kiln past the others."""
    rules, flask = case.library.rules, case.flask
    neighbours = min(case.flasks_count - 1, round(rules["kiln_neighbours_count"].value))
    outside = m_from_mm(flask.diameter_mm + 2 * flask.wall_mm)
    return view_past(diameter=outside, gap=m_from_mm(rules["kiln_gap_mm"].value), neighbours=neighbours)


def _made(case: Case, holds: int) -> tuple[Composition, float]:
    """What the mould is made of and its share of water, by how much heat it takes to dry: least, likely, most."""
    investment = case.investment
    density = kg_per_m3_from_g_per_cm3(investment.powder_density_g_per_cm3.value)

    def mixed(water: float, binder: float) -> Composition:
        return compose(water_ratio=water / 100, hemihydrate=binder, powder_density=density)

    corners = [
        mixed(water, binder) for water in investment.water_g_per_100_g.ends for binder in investment.hemihydrate_fraction.ends
    ]
    likely = mixed(investment.water_g_per_100_g.value, investment.hemihydrate_fraction.value)
    if case.known.water:
        share = (case.known.water.low, case.known.water.value, case.known.water.high)[holds]
        return likely, min(1.0, share)
    made = (min(corners, key=heat_to_dry), likely, max(corners, key=heat_to_dry))[holds]
    return made, three(case.library.rules["water_share_fraction"])[holds]


def corners_of(times: Sequence[float], levels: Sequence[float]) -> Corners:
    """Corners from times [min] and levels [degC], without those that add nothing."""
    out: list[tuple[float, float]] = []
    for corner in zip(times, levels, strict=True):
        if not out or corner != out[-1]:
            out.append((float(corner[0]), float(corner[1])))
    return tuple(out)


def colder(corners: Corners, by_k: float) -> Corners:
    """The course of a kiln whose thermocouple reads so much high [K]: so much colder all along, but never than at its start."""
    start_c = corners[0][1]
    return tuple((t, max(start_c, c - by_k)) for t, c in corners)


def run(end: End, corners: Corners, *, care: Care = GRID) -> Course:
    """Take the flask through a course; it starts at the course's first level. Raises as `burn`."""
    programme = Programme(
        times=np.array([s_from_min(t) for t, _ in corners]), temperatures=np.array([k_from_c(c) for _, c in corners])
    )
    return burn(end.flask, end.mould, programme, place=end.place, start=k_from_c(corners[0][1]), care=care)


@lru_cache(maxsize=4096)
def traits(end: End, corners: Corners, look: Windows) -> Traits:
    """What a course does at one end."""
    return traits_of(run(end, corners), look)


def all_traits(ends: Mapping[Which, End], corners: Corners, look: Windows) -> dict[Which, Traits]:
    """The same at all of them, side by side."""
    with ThreadPoolExecutor(thread_count()) as threads:
        found = threads.map(lambda end: traits(end, corners, look), ends.values())
        return dict(zip(ends, found, strict=True))


def traits_of(course: Course, look: Windows) -> Traits:
    """What a run comes to."""
    lags = {kind: _lag(course, *getattr(look, kind)) for kind in ("cristobalite", "quartz")}
    steam = report.running_mean(course, report.flux_while_wet(course), over=s_from_min(STEAM_OVER_MIN))
    peak = int(steam.argmax())
    carbon = report.time_between(course, k_from_c(look.carbon), math.inf)
    return Traits(
        released=min_from_s(report.release_time(course)),
        dry=min_from_s(report.dry_time(course)),
        steam=float(steam[peak]) / 1000,
        steam_at=min_from_s(float(course.time[peak])),
        cristobalite=lags["cristobalite"][0],
        cristobalite_at=lags["cristobalite"][1],
        quartz=lags["quartz"][0],
        quartz_at=lags["quartz"][1],
        softening=min_from_s(float(report.time_between(course, *map(k_from_c, look.soft)).max())),
        charring=min_from_s(float(report.time_between(course, *map(k_from_c, look.char)).min())),
        carbon=min_from_s(float(carbon.min())),
        draining=_drained(course, look),
        uneven=float(report.spread(course)[-1]),
        heat_kwh=kwh_from_j(report.heat_drawn(course)),
    )


def _lag(course: Course, low_c: float, high_c: float) -> tuple[float, float]:
    """Most that the rim is ahead of, or behind, the core while it crosses a window [K], and when [min]."""
    core = report.at_radius(course, 0.0)
    most = report.lag_in(course, k_from_c(low_c), k_from_c(high_c))
    within = np.flatnonzero((core >= k_from_c(low_c)) & (core <= k_from_c(high_c)))
    if not within.size:
        return most, math.inf
    ahead = np.abs(report.at_radius(course, 1.0) - core)[within]
    return most, min_from_s(float(course.time[within[int(ahead.argmax())]]))


def _drained(course: Course, look: Windows) -> float:
    """Minutes from when the coldest place is soft until the kiln is too hot for draining."""
    melted = report.first_above(course, report.coldest(course), k_from_c(look.soft[0]))
    over = report.first_above(course, course.kiln, k_from_c(look.drain))
    end = min(over, float(course.time[-1]))
    return min_from_s(max(0.0, end - melted))
