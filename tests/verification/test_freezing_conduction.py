"""The freezing solver's conduction alone, nothing freezes: textbook examples, benchmarks of a society, the flux of a cylinder."""

import math

import numpy as np
import pytest

from pourwell.physics.boundary import Film, Surroundings
from pourwell.physics.march import Marcher, Pace, march
from pourwell.physics.properties import inert
from pourwell.units import c_from_k, k_from_c
from tests.verification.freezing_cases import flat, growing, held, line, setting, shells
from tests.verification.freezing_truths import DIFFUSIVITY, DROP_K, DRY, MOULD_C, SILVER, Pipe, cylinder_flux, plate_corner


def nothing(x):
    return x < -1


def after(mesh, made, start, *, until, pace):
    """The march at a time."""
    marcher = Marcher(mesh, made, start, pace=pace)
    while marcher.time < until * (1 - 1e-12):
        moment = marcher.step(until - marcher.time)
    return moment


def test_the_lumped_thermocouple_warms_in_the_textbook_s_time():
    """Incropera & DeWitt 6th ed., Example 5.1: a junction of tau = 1 s goes from 25 to 199 degC in gas of 200 degC in 5.165 s.

    The example takes the junction for one lump, so its conductivity is put a hundred times higher here. 0.1 %.
    """
    diameter = 6 * 400 * 1.0 / (8500 * 400)
    metal = inert(density=8500, heat_capacity=400, conductivity=2000)
    mesh = line([0, diameter / 6], nothing)  # volume over area of a ball
    around = Surroundings(below=Film(coefficient=400, outside=k_from_c(200)))
    pace = Pace(first=1e-3, growth=0.01, longest=0.02, balance=1e-8, linear=1e-4)
    times, temperatures = [0.0], [k_from_c(25)]
    for moment in march(mesh, setting(mould=metal, around=around), np.array([k_from_c(25)]), pace=pace, until=6):
        times.append(moment.time)
        temperatures.append(moment.temperature[0])
    got = np.interp(k_from_c(199), temperatures, times)
    assert got == pytest.approx(math.log(175), rel=1e-3), f"observed {got:.4f} s"
    assert got == pytest.approx(5.165, rel=1e-3)


def test_the_pipe_wall_warms_as_in_the_textbook():
    """Incropera & DeWitt 6th ed., Example 5.4, by the full series: 43.0 and 45.4 degC, -7.32 kW/m2, -2.726e7 J/m. 0.5 %."""
    steel, deep, cells = inert(density=7832, heat_capacity=434, conductivity=63.9), 40e-3, 80
    truth = Pipe(biot=500 * deep / 63.9, fourier=63.9 / (7832 * 434) * 480 / deep**2)
    mesh = line(np.linspace(0, deep, cells + 1), nothing)
    around = Surroundings(above=Film(coefficient=500, outside=k_from_c(60)))
    start = np.full(cells, k_from_c(-20))
    got = after(mesh, setting(mould=steel, around=around), start, until=480, pace=Pace(first=0.05, growth=0.02))
    flux = (c_from_k(got.temperature[-1]) - 60) / (deep / cells / 2 / 63.9 + 1 / 500)
    inner, outer = c_from_k(got.temperature[0]), 60 + flux / 500
    said = f"observed {inner:.3f}, {outer:.3f} degC, {flux:.1f} W/m2, {math.pi * got.ledger.lost:.4e} J/m"
    assert (60 - 80 * truth.excess(0), 60 - 80 * truth.excess(1)) == pytest.approx((43.0, 45.4), abs=0.05)
    assert inner == pytest.approx(60 - 80 * truth.excess(0), abs=0.2), said
    assert outer == pytest.approx(60 - 80 * truth.excess(1), abs=0.2), said
    assert flux == pytest.approx(-7.32e3, rel=5e-3), said
    assert math.pi * got.ledger.lost == pytest.approx(-2.726e7, rel=5e-3), said
    assert got.ledger.lost == pytest.approx(-7832 * 434 * deep * 80 * (1 - truth.mean), rel=1e-3), said


def test_a_rod_that_radiates_ends_at_the_temperature_of_the_society_s_benchmark():
    """NAFEMS T2 (Cameron, Casey & Simpson 1986): k 55.6, 0.1 m, one end 1000 K, the other radiates to 300 K: 927.0 K. 0.1 K."""
    mesh = line(np.linspace(0, 0.1, 41), nothing)
    rod = inert(density=7850, heat_capacity=460, conductivity=55.6)
    around = Surroundings(below=Film(coefficient=1e9, outside=1000.0), above=Film(coefficient=0.0, outside=300.0, emissivity=0.98))
    made = setting(mould=rod, around=around)
    got = after(mesh, made, np.full(40, 1000.0), until=8000, pace=Pace(first=1, growth=0.2, balance=1e-4))
    slope = (got.temperature[-2] - got.temperature[-1]) / 2.5e-3
    face = got.temperature[-1] - slope * 1.25e-3
    assert face == pytest.approx(927.0, abs=0.1), f"observed {face:.3f} K"


def test_a_rod_with_a_swinging_end_is_within_a_percent_of_the_society_s_benchmark():
    """NAFEMS T3 (same source): k 35, rho 7200, c 440.5, T(0.1 m) = 100 sin(pi t / 40), other end 0: 36.60 degC at 0.08 m, 32 s."""
    rod = inert(density=7200, heat_capacity=440.5, conductivity=35)
    mesh = line(np.linspace(0, 0.1, 41), nothing)
    time = 0.0
    around = Surroundings(below=held(0), above=held(0))
    marcher = Marcher(mesh, setting(mould=rod, around=around), np.full(40, k_from_c(0)), pace=Pace(first=0.1, growth=0.0))
    while time < 32 - 1e-9:
        time += 0.1
        marcher.balance.outer_rows[1, 4] = k_from_c(100 * math.sin(math.pi * time / 40))
        moment = marcher.step(1.0)
    got = c_from_k(float(np.interp(0.08, mesh.centre[:, 0], moment.temperature)))
    assert got == pytest.approx(36.60, rel=0.01), f"observed {got:.3f} degC"


def test_a_plate_between_a_hot_base_and_two_cool_sides_is_as_in_the_society_s_benchmark():
    """NAFEMS T4 (same source): 0.6 x 1.0 m, k 52, base 100 degC, h 750 to 0 degC on two sides, one insulated: 18.25 degC. 1 %.

    At (0.6, 0.2), on the cooled side; the series of its closed form says 18.254.
    """
    many = 24
    x, y = np.linspace(0, 0.6, 3 * many + 1), np.linspace(0, 1, 5 * many + 1)
    mesh = flat(x, y, lambda a, b: np.full(np.broadcast(a, b).shape, False))
    cool = Film(coefficient=750, outside=k_from_c(0))
    made = setting(
        mould=inert(density=7850, heat_capacity=460, conductivity=52), around=Surroundings(below=held(100), side=cool, above=cool)
    )
    got = after(mesh, made, np.full(mesh.volume.size, k_from_c(50)), until=3e6, pace=Pace(first=100.0, growth=0.3))
    column = got.temperature.reshape(3 * many, 5 * many)[-1] - k_from_c(0)
    side = column / (1 + 750 * (x[1] - x[0]) / 2 / 52)
    seen = float(np.exp(np.interp(0.2, 0.5 * (y[1:] + y[:-1]), np.log(side))))
    assert plate_corner(0.6, 0.2) == pytest.approx(18.254, abs=5e-4)
    assert seen == pytest.approx(18.254, rel=0.01), f"observed {seen:.3f} degC"


JAEGER = {0.01: 6.1289, 0.1: 2.2488, 0.5: 1.2336, 1: 0.98377, 2: 0.80058, 5: 0.62818, 10: 0.53392, 100: 0.34556, 1000: 0.25096}
"""q R / (k dT) against alpha t / R^2."""


@pytest.mark.parametrize(("fourier", "flux"), JAEGER.items())
def test_the_integral_of_a_cylinder_s_flux_is_the_published_table(fourier, flux):
    """The truth of the test below, not the solver: Carslaw & Jaeger 1959, section 13.5 (2.249, .984, .534, .346, .251)."""
    assert cylinder_flux(fourier) == pytest.approx(flux, rel=5e-5)


def test_the_flux_outside_a_hot_rod_is_jaeger_s_from_a_hundredth_to_a_thousand():
    """A rod of 3 mm held at its melting point in endless plaster, shells from its face outwards (same source). 0.5 %."""
    radius = 1.5e-3
    edges = growing((radius, 2 * radius), radius, 400 * radius, step=radius / 40, factor=1.05)
    mesh = shells(edges, lambda r: r < 0, power=1)
    made = setting(mould=inert(**DRY), around=Surroundings(below=held(SILVER["melting"])))
    unit = radius**2 / DIFFUSIVITY
    pace = Pace(first=1e-6 * unit, growth=0.02, balance=1e-6, linear=1e-3)
    marcher = Marcher(mesh, made, np.full(mesh.volume.size, k_from_c(MOULD_C)), pace=pace)
    seen = {}
    for fourier in JAEGER:
        while marcher.time < fourier * unit * (1 - 1e-12):
            moment = marcher.step(fourier * unit - marcher.time)
        seen[fourier] = (k_from_c(SILVER["melting"]) - moment.temperature[0]) / mesh.outer_depth[0] * radius / DROP_K
    worst = max(abs(seen[fourier] / cylinder_flux(fourier) - 1) for fourier in JAEGER)
    assert worst < 5e-3, f"observed {seen}, off by {worst:.4f}"
