"""When the core is dry: the bookkeeping of `physics.drying` along the legs of a burnout, at the ends of its inputs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pourwell.materials.model import Investment
from pourwell.physics.drying import Floats, film, rate, reached, shares, wet_volume
from pourwell.physics.mould import compose, heat_to_dry
from pourwell.steps.burnout.legs import Case, Leg, whole_hold_min
from pourwell.units import k_from_c, kg_per_m3_from_g_per_cm3, m_from_mm, min_from_s, s_from_min


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """What the bookkeeping works with, in SI units."""

    radius: float
    conductivity: float
    heat: float
    convection: float
    emissivity: float

    def along(self, legs: Sequence[Leg]) -> tuple[Floats, Floats]:
        """Times [s] and dry shares along the legs."""
        times, levels = course(legs)
        return shares(
            [s_from_min(t) for t in times],
            [k_from_c(c) for c in levels],
            radius=self.radius,
            conductivity=self.conductivity,
            heat=self.heat,
            convection=self.convection,
            emissivity=self.emissivity,
        )

    def gained(self, kiln_c: float) -> float:
        """Dry share gained in a second at one kiln temperature."""
        return float(
            rate(
                k_from_c(kiln_c),
                radius=self.radius,
                conductivity=self.conductivity,
                heat=self.heat,
                convection=self.convection,
                emissivity=self.emissivity,
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The same at the fast end of all inputs, as they are, and at the slow end."""

    early: Inputs
    likely: Inputs
    late: Inputs


def course(legs: Sequence[Leg]) -> tuple[list[float], list[float]]:
    """Corners of the kiln's course: minutes from the start, and degC."""
    times, levels = [0.0], [legs[0].start_c]
    for leg in legs:
        times += [times[-1] + leg.ramp_min, times[-1] + leg.minutes]
        levels += [leg.target_c, leg.target_c]
    return times, levels


def passes_min(legs: Sequence[Leg], level_c: float) -> float:
    """Minutes from the start until the kiln first passes a level; inf if it never does."""
    start = 0.0
    for leg in legs:
        if leg.target_c > level_c:
            climb = max(0.0, level_c - leg.start_c) / (leg.target_c - leg.start_c) if leg.target_c > leg.start_c else 0.0
            return start + climb * leg.ramp_min
        start += leg.minutes
    return math.inf


def inputs(case: Case) -> Band:
    """The bookkeeping's inputs and the ends of their ranges: conductivity, water, binder, convection, emissivity."""
    library, investment = case.library, case.investment
    air, grey = library.rules["kiln_convection_w_per_m2_k"], library.rules["kiln_emissivity_fraction"]
    slow, fast = investment.conductivity_dry_w_per_m_k.ends
    heats = [
        _heat(investment, water, binder)
        for water in investment.water_g_per_100_g.ends
        for binder in investment.hemihydrate_fraction.ends
    ]
    likely = Inputs(
        radius=m_from_mm(case.flask.diameter_mm / 2),
        conductivity=investment.conductivity_dry_w_per_m_k.value,
        heat=_heat(investment, investment.water_g_per_100_g.value, investment.hemihydrate_fraction.value),
        convection=air.value,
        emissivity=grey.value,
    )
    return Band(
        early=replace(
            likely, conductivity=fast, heat=min(heats), convection=air.high or air.value, emissivity=grey.high or grey.value
        ),
        likely=likely,
        late=replace(
            likely, conductivity=slow, heat=max(heats), convection=air.low or air.value, emissivity=grey.low or grey.value
        ),
    )


def _heat(investment: Investment, water_g_per_100_g: float, hemihydrate: float) -> float:
    """Heat that a volume of mould takes until it is dry [J/m3]."""
    return heat_to_dry(
        compose(
            water_ratio=water_g_per_100_g / 100,
            hemihydrate=hemihydrate,
            powder_density=kg_per_m3_from_g_per_cm3(investment.powder_density_g_per_cm3.value),
        )
    )


def dry_min(legs: Sequence[Leg], given: Inputs) -> float:
    """Minutes from the start until the core is dry; inf if it is not dry at the end."""
    return min_from_s(reached(*given.along(legs)))


def wet_share(legs: Sequence[Leg], given: Inputs, *, at_min: float, kiln_c: float) -> float:
    """What part of the mould is still wet at a moment when the kiln is at `kiln_c`."""
    times, share = given.along(legs)
    coefficient = float(film(k_from_c(kiln_c), convection=given.convection, emissivity=given.emissivity))
    ratio = 2 * given.conductivity / (coefficient * given.radius)
    return wet_volume(float(np.interp(s_from_min(at_min), times, share)), film_ratio=ratio)


def dried(legs: tuple[Leg, ...], case: Case) -> tuple[Leg, ...]:
    """The legs, with the drying hold made longer if the core might still be wet when the kiln passes 400 degC.

    The drying hold is the hottest one between the rules' two levels. It grows until the core is dry at the slow end of all inputs,
    but not beyond what the rules call sane.
    """
    rules = case.library.rule
    before_c = rules("dry_before_c")
    below = [i for i, leg in enumerate(legs) if rules("drying_hold_from_c") <= leg.target_c <= before_c and leg.hold_min]
    passed = passes_min(legs, before_c)
    if not below or math.isinf(passed):
        return legs
    index = max(below, key=lambda i: legs[i].target_c)
    hold, slow = legs[index], inputs(case).late
    times, share = slow.along(legs)
    missing = 1 - float(np.interp(s_from_min(passed), times, share))
    more_min = min_from_s(max(0.0, missing) / slow.gained(hold.target_c))
    longest = max(hold.hold_min, whole_hold_min(rules("drying_hold_longest_min")))
    grown = replace(hold, hold_min=min(longest, whole_hold_min(hold.hold_min + more_min)))
    return (*legs[:index], grown, *legs[index + 1 :])
