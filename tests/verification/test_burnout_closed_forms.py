"""The flask in the kiln against closed forms: cylinders in a film, ramps, radiation, fronts, and its orders of convergence."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import erfc, j0, j1, jv

from pourwell.physics.burnout.march import Care, Programme, burn
from pourwell.physics.burnout.report import at_radius, dry_time, first_above, wall_at
from pourwell.physics.burnout.setting import Face, Flask, Place, view_past
from pourwell.physics.burnout.steam import overpressure, pressure_drop, steam_viscosity
from pourwell.physics.burnout.substance import Laws, Mould, Steel
from pourwell.physics.mould import Composition
from pourwell.units import k_from_c

SHUT = Face(convection=0.0, emissivity=0.0)
DENSITY, CAPACITY, CONDUCTIVITY = 1240.0, 1050.0, 0.45
DIFFUSIVITY = CONDUCTIVITY / DENSITY / CAPACITY
FINE = Care(rings=30, layers=2, accuracy=0.3, longest=60.0)


def plain(*, density=DENSITY, capacity=CAPACITY, conductivity=CONDUCTIVITY, wet=1.1, free_water=0.0):
    """A mould without binder or inversions, of one heat capacity: what closed forms are for."""
    made = Composition(
        slurry=density + free_water,
        powder=density,
        free_water=free_water,
        gypsum=0.0,
        bound_water=0.0,
        burnt=density,
        porosity=0.5,
    )
    laws = Laws(base=capacity, rise=0.0, cap=capacity, steps=(), inversions=())
    return Mould(composition=made, wet=wet, dry=((373.15, conductivity),), laws=laws)


def bare(diameter_mm, height_mm=100.0):
    return Flask(radius=diameter_mm / 2000, height=height_mm / 1000, wall=0.0)


def around(film, *, ends=False):
    face = Face(convection=film, emissivity=0.0)
    return Place(side=face, upper=face if ends else SHUT, lower=face if ends else SHUT)


def steady(celsius, seconds):
    return Programme(times=[0.0, seconds], temperatures=[k_from_c(celsius)] * 2)


def core_c(course, minutes):
    return np.interp(np.asarray(minutes) * 60.0, course.time, at_radius(course, 0.0)) - k_from_c(0)


def series(radius, film, seconds):
    """Excess of the axis over its beginning: Carslaw & Jaeger 1959, section 7.7, 60 terms."""
    biot = film * radius / CONDUCTIVITY

    def f(x):
        return x * j1(x) - biot * j0(x)

    grid = np.linspace(1e-9, 200.0, 8000)
    roots = [brentq(f, a, b) for a, b in pairwise(grid) if f(a) * f(b) < 0][:60]
    terms = [2 * biot / ((x * x + biot * biot) * j0(x)) * math.exp(-x * x * DIFFUSIVITY * seconds / radius**2) for x in roots]
    return sum(terms)


@pytest.mark.parametrize(
    ("diameter_mm", "printed"),
    [
        (50, (665.6, 698.8, 700.0)),
        (76, (515.6, 666.8, 698.9)),
        (100, (345.7, 578.7, 685.9)),
        (127, (192.6, 443.5, 637.7)),
    ],
)
def test_the_core_of_a_long_dry_cylinder_in_a_film_warms_as_its_series_says(diameter_mm, printed):
    """60 W/(m2 K) and 700 degC, after 30, 60 and 120 min; digits worked out apart from this code and again here; 1 K."""
    course = burn(bare(diameter_mm), plain(), steady(700, 7200), place=around(60.0), start=k_from_c(20), care=FINE)
    got = core_c(course, (30, 60, 120))
    exact = [700 - 680 * series(diameter_mm / 2000, 60.0, m * 60.0) for m in (30, 60, 120)]
    assert exact == pytest.approx(printed, abs=0.1)
    assert got == pytest.approx(printed, abs=1.0), f"observed {got}"


def test_the_core_of_a_short_cylinder_warms_as_the_product_of_two_series():
    """76 x 100 mm, all faces 60 W/(m2 K): 556.1, 683.6, 699.8 degC (Carslaw & Jaeger 1959, 1.15: products); 2 K."""
    course = burn(
        bare(76), plain(), steady(700, 7200), place=around(60.0, ends=True), start=k_from_c(20), care=Care(layers=30, accuracy=0.5)
    )
    got = core_c(course, (30, 60, 120))
    assert got == pytest.approx([556.1, 683.6, 699.8], abs=2.0), f"observed {got}"


def test_the_core_under_a_held_rim_follows_the_table_of_the_cylinder():
    """Rim held: theta at Fo 0.05 to 0.8 (Carslaw & Jaeger 1959, 7.6); 1 % of the whole."""
    fourier = np.array([0.05, 0.1, 0.2, 0.4, 0.8])
    times = fourier * 0.038**2 / DIFFUSIVITY
    course = burn(bare(76), plain(), steady(700, float(times[-1]) + 1), place=around(1e6), start=k_from_c(20), care=FINE)
    theta = (700 - core_c(course, times / 60)) / 680
    assert theta == pytest.approx([0.987099, 0.848355, 0.501487, 0.158489, 0.015681], abs=5e-3), f"observed {theta}"


@pytest.mark.parametrize(
    ("biot", "root", "factor"), [(0.5, 0.940771, 1.114255), (1.0, 1.255784, 1.207092), (5.0, 1.989815, 1.502869)]
)
def test_late_in_its_warming_the_core_follows_the_first_term_of_the_series(biot, root, factor):
    """theta = C1 exp(-zeta1^2 Fo) between Fo 0.4 and 0.8, zeta1, C1 as tabled (Incropera & DeWitt, table 5.1); 0.5, 1 %."""
    fourier = np.array([0.4, 0.8])
    times = fourier * 0.038**2 / DIFFUSIVITY
    place = around(biot * CONDUCTIVITY / 0.038)
    course = burn(bare(76), plain(), steady(700, float(times[-1]) + 1), place=place, start=k_from_c(20), care=FINE)
    logs = np.log((700 - core_c(course, times / 60)) / 680)
    found = math.sqrt((logs[0] - logs[1]) / 0.4)
    assert found == pytest.approx(root, rel=5e-3), f"observed {found}"
    assert math.exp(logs[0] + found**2 * 0.4) == pytest.approx(factor, rel=0.01), f"observed {math.exp(logs[0] + found**2 * 0.4)}"


@pytest.mark.parametrize(("biot", "root", "factor"), [(0.5, 0.6533, 1.0701), (1.0, 0.8603, 1.1191), (5.0, 1.3138, 1.2402)])
def test_late_in_its_warming_a_slab_follows_the_first_term_of_its_series(biot, root, factor):
    """The shut face of 40 mm: theta = C1 exp(-zeta1^2 Fo), Fo 0.6 to 1.2, as tabled (Incropera & DeWitt, table 5.1); 0.5, 1 %."""
    assert root * math.tan(root) == pytest.approx(biot, rel=1e-3)  # the digits are the table's, rounded
    depth = 0.04
    times = np.array([0.6, 1.2]) * depth**2 / DIFFUSIVITY
    place = Place(side=SHUT, upper=Face(convection=biot * CONDUCTIVITY / depth, emissivity=0.0), lower=SHUT)
    care = Care(rings=2, layers=40, accuracy=0.3, longest=60.0)
    course = burn(bare(20, 40), plain(), steady(700, float(times[-1]) + 1), place=place, start=k_from_c(20), care=care)
    shut = [np.interp(times, course.time, course.temperature[:, n, 0]) for n in (0, 1)]
    logs = np.log((k_from_c(700) - (9 * shut[0] - shut[1]) / 8) / 680)
    found = math.sqrt((logs[0] - logs[1]) / 0.6)
    assert found == pytest.approx(root, rel=5e-3), f"observed {found}"
    first = math.exp(logs[0] + found**2 * 0.6)
    assert first == pytest.approx(factor, rel=0.01), f"observed {first}"


@pytest.mark.parametrize(("minutes", "printed"), [(10, (188.55, 86.33)), (30, (327.01, 225.82)), (60, (408.69, 322.78))])
def test_a_deep_mould_in_a_film_warms_as_the_closed_form_says(minutes, printed):
    """erfc(X) - exp(hx/k + h^2 a t / k^2) erfc(X + h sqrt(a t) / k), 10 and 20 mm deep (Carslaw & Jaeger 1959, 2.7); 1 K of 680."""
    film = 25.0
    place = Place(side=SHUT, upper=Face(convection=film, emissivity=0.0), lower=SHUT)
    care = Care(rings=2, layers=150, accuracy=0.2, longest=30.0)
    course = burn(bare(20, 300), plain(), steady(700, 3600), place=place, start=k_from_c(20), care=care)
    ease, root = film / CONDUCTIVITY, math.sqrt(DIFFUSIVITY * minutes * 60)
    for depth, excess in zip((0.01, 0.02), printed, strict=True):
        x = depth / (2 * root)
        share = erfc(x) - math.exp(ease * depth + (ease * root) ** 2) * erfc(x + ease * root)
        got = at_radius(course, 0.0, height=1 - depth / 0.3)
        seen = float(np.interp(minutes * 60, course.time, got)) - k_from_c(20)
        assert 680 * share == pytest.approx(excess, abs=0.01)
        assert seen == pytest.approx(excess, abs=1.0), f"observed {seen:.2f}"


@pytest.mark.parametrize(("minutes", "left"), [(30, 0.6579), (60, 0.8719), (120, 0.9631)])
def test_a_rim_that_swings_reaches_the_core_as_much_as_kelvins_functions_say(minutes, left):
    """Swing of the core over that of the rim: 1 / |J0(R sqrt(-i w / a))|, periods of 30 to 120 min (Carslaw & Jaeger 1959, 7.6)."""
    radius, period = 0.025, minutes * 60.0
    exact = 1 / abs(jv(0, radius * (-2j * math.pi / period / DIFFUSIVITY) ** 0.5))
    assert exact == pytest.approx(left, abs=1e-4)
    times = np.linspace(0.0, 6 * period, 6 * 96 + 1)
    swing = Programme(times=times, temperatures=600 + 100 * np.sin(2 * math.pi * times / period))
    care = Care(rings=30, layers=2, accuracy=0.1, longest=period / 96)
    course = burn(bare(50), plain(), swing, place=around(1e6), start=600.0, care=care)
    even = np.linspace(5 * period, 6 * period, 97)[:-1]
    core = np.interp(even, course.time, at_radius(course, 0.0)) - 600
    found = 2 * abs(np.mean(core * np.exp(-2j * math.pi * even / period))) / 100
    assert found == pytest.approx(left, rel=0.01), f"observed {found:.4f}"


@pytest.mark.parametrize(("diameter_mm", "lag"), [(50, 37.67), (76, 87.04), (100, 150.69), (127, 243.06)])
def test_on_a_steady_ramp_rim_and_core_differ_by_the_closed_form(diameter_mm, lag):
    """5 K/min: beta R^2 / (4 alpha), and between kiln and rim beta R rho c / (2 h) (Carslaw & Jaeger 1959, 7.7); 1 %."""
    beta = 5.0 / 60
    longest = 2.5 * (diameter_mm / 2000) ** 2 / DIFFUSIVITY
    ramp = Programme(times=[0.0, longest], temperatures=[293.15, 293.15 + beta * longest])
    course = burn(bare(diameter_mm), plain(), ramp, place=around(60.0), start=293.15, care=FINE)
    rim = at_radius(course, 1.0)
    assert rim[-1] - at_radius(course, 0.0)[-1] == pytest.approx(lag, rel=0.01)
    film = beta * diameter_mm / 2000 * DENSITY * CAPACITY / (2 * 60.0)
    assert course.kiln[-1] - rim[-1] == pytest.approx(film, rel=0.02)


def test_what_conducts_well_warms_as_one_lump():
    """Biot number 0.0006: T = T_kiln - (T_kiln - T_0) exp(-2 h t / (rho c R)) (Incropera & DeWitt 5.1); 0.3 K of 180."""
    mould = plain(density=8500.0, capacity=400.0, conductivity=400.0, wet=400.0)
    tau = 8500.0 * 400.0 * 0.025 / (2 * 20.0)
    course = burn(bare(50), mould, steady(200, 2 * tau), place=around(20.0), start=k_from_c(20), care=FINE)
    times = np.array([0.25, 0.5, 1.0, 2.0]) * tau
    assert core_c(course, times / 60) == pytest.approx(200 - 180 * np.exp(-times / tau), abs=0.3)


@pytest.mark.parametrize(("start", "end", "seconds"), [(773.15, 473.15, 459.5), (973.15, 773.15, 63.18)])
def test_a_steel_wall_that_only_radiates_cools_as_one_lump(start, end, seconds):
    """2 mm of steel, 7850 J/(m2 K), emissivity 0.8, one side, 298.15 K (Incropera & DeWitt, eq. 5.18); 0.5 %."""
    radius = 20.0  # so large that the wall is flat
    flask = Flask(radius=radius, height=0.1, wall=0.002, contact=1e-6, steel=Steel(capacity=3.925e6, conductivity=25.0))
    place = Place(side=Face(convection=0.0, emissivity=0.8), upper=SHUT, lower=SHUT)
    away = Programme(times=[0.0, 600.0], temperatures=[298.15] * 2)
    care = Care(rings=2, layers=2, accuracy=0.001, first=0.1)
    course = burn(flask, plain(), away, place=place, start=start, care=care)
    assert first_above(course, -wall_at(course), -end) == pytest.approx(seconds, rel=5e-3)


def test_the_society_benchmark_of_radiation_is_met():
    """NAFEMS T2 (Cameron, Casey & Simpson 1986): 0.1 m, k 55.6, 1000 K at one end, emissivity 0.98 to 300 K: 927.0 K; 0.1 K."""
    mould = plain(density=7850.0, capacity=460.0, conductivity=55.6, wet=55.6)
    hot, grey = Face(convection=1e7, emissivity=0.0, outside=1000.0), Face(convection=0.0, emissivity=0.98)
    place = Place(side=SHUT, upper=grey, lower=hot)
    long = Programme(times=[0.0, 40000.0], temperatures=[300.0] * 2)
    course = burn(bare(20), mould, long, place=place, start=1000.0, care=Care(rings=2, layers=20, longest=4000.0))
    top = 1.5 * course.temperature[-1, -1, 0] - 0.5 * course.temperature[-1, -2, 0]
    assert top == pytest.approx(927.0, abs=0.1), f"observed {top:.3f} K"


def test_the_society_benchmark_of_an_end_that_swings_is_met():
    """NAFEMS T3 (the same): 0.1 m, k 35, rho 7200, c 440.5, one end 100 sin(pi t / 40), the other 0: 36.60 at 0.08 m, 32 s; 1 %."""
    mould = plain(density=7200.0, capacity=440.5, conductivity=35.0, wet=35.0)
    times = np.linspace(0.0, 32.0, 129)
    swing = Programme(times=times, temperatures=273.15 + 100 * np.sin(math.pi * times / 40))
    held = Face(convection=1e7, emissivity=0.0)
    place = Place(side=SHUT, upper=held, lower=Face(convection=1e7, emissivity=0.0, outside=273.15))
    care = Care(rings=2, layers=40, first=0.05, longest=0.25)
    course = burn(bare(20), mould, swing, place=place, start=273.15, care=care)
    got = float(at_radius(course, 0.0, height=0.8)[-1]) - 273.15
    assert got == pytest.approx(36.60, rel=0.01), f"observed {got:.3f}"


LATENT_HEAT = 434.0 * 2.257e6


@pytest.mark.parametrize(("celsius", "root"), [(150, 0.175995), (200, 0.246423), (300, 0.341952)])
def test_a_plane_front_in_a_mould_at_boiling_moves_as_the_exact_one(celsius, root):
    """One-phase front (Carslaw & Jaeger 1959, 11.2): depth 2 lambda sqrt(alpha t) after 1 h, alpha 3.632e-7; 2 %."""
    mould = plain(density=1239.0, capacity=1000.0, free_water=434.0)
    flask = bare(20, 40)
    place = Place(side=SHUT, upper=Face(convection=1e5, emissivity=0.0), lower=SHUT)
    care = Care(rings=2, layers=60, accuracy=0.3)
    start = 372.8
    course = burn(flask, mould, steady(celsius, 3600), place=place, start=start, care=care)
    depth = (1 - float((course.water[-1] * course.volume).sum() / course.volume.sum())) * flask.height
    assert depth == pytest.approx(2 * root * math.sqrt(0.45 / 1239e3 * 3600), rel=0.02), f"observed {depth * 1e3:.2f} mm"


@pytest.mark.parametrize(("celsius", "printed_mm"), [(150, 8.29), (200, 12.88), (300, 19.30), (500, 27.92), (700, 34.06)])
def test_a_plane_front_in_a_cold_wet_mould_moves_as_the_exact_one(celsius, printed_mm):
    """Two-region front (Neumann; Carslaw & Jaeger 1959, 11.2), wet 1.1 and 3.597e-7 m2/s, at 20 degC at first, after 1 h; 2 %.

    The water's heat capacity is that of the mould with it, 1.1 / 3.597e-7; so the solid takes what water at 4186 leaves.
    """
    wet = 1.1 / 3.597e-7
    free, solid = 434.0, 0.45 / 3.632e-7
    mould = plain(density=1239.0, capacity=solid / 1239.0, free_water=free)
    assert solid + free * 4186 == pytest.approx(wet, rel=0.01)
    place = Place(side=SHUT, upper=Face(convection=1e5, emissivity=0.0), lower=SHUT)
    flask = bare(20, 160)
    care = Care(rings=2, layers=160, accuracy=0.5)
    course = burn(flask, mould, steady(celsius, 3600), place=place, start=k_from_c(20), care=care)
    depth = (1 - float((course.water[-1] * course.volume).sum() / course.volume.sum())) * flask.height * 1e3
    assert depth == pytest.approx(printed_mm, rel=0.02), f"observed {depth:.2f} mm"


@pytest.mark.parametrize("diameter_mm", [50, 76, 100, 127])
@pytest.mark.parametrize(("celsius", "film"), [(150, 25.0), (200, 30.0), (250, 35.0), (370, 45.0)])
def test_a_cylinder_that_stores_nothing_dries_in_the_quasi_steady_time(diameter_mm, celsius, film):
    """L R^2 / (4 k (T - 100)) (1 + 2 k / (h R)) (Carslaw & Jaeger 1959, chapter 11), 0.6 to 19 h, exact as c goes to 0; 1.5 %."""
    mould = plain(density=1239.0, capacity=5.0, free_water=434.0)
    radius = diameter_mm / 2000
    wanted = LATENT_HEAT * radius**2 / (4 * 0.45 * (celsius - 100)) * (1 + 0.9 / (film * radius))
    course = burn(bare(diameter_mm), mould, steady(celsius, 1.1 * wanted), place=around(film), start=372.8, care=Care(layers=2))
    assert dry_time(course) == pytest.approx(wanted, rel=0.015), f"observed {dry_time(course) / 3600:.3f} h"


def halved(wanted, sizes):
    """Observed orders from the errors at sizes that are halved each time."""
    errors = [abs(wanted(n)) for n in sizes]
    return [math.log2(a / b) for a, b in pairwise(errors)], errors


def test_finer_rings_come_nearer_by_the_second_order():
    """The short cylinder's core after 30 min, against the product of the series."""

    def error(n):
        care = Care(rings=n, layers=2, accuracy=0.02, longest=20.0)
        course = burn(bare(76), plain(), steady(700, 1800), place=around(60.0), start=k_from_c(20), care=care)
        ring, radius = float(course.rings.middle[0]), 0.038
        core = course.temperature[-1, 0, 0] - (course.temperature[-1, 0, 1] - course.temperature[-1, 0, 0]) / 8
        assert ring == pytest.approx(radius / n / 2)
        return core - k_from_c(700 - 680 * series(radius, 60.0, 1800.0))

    orders, errors = halved(error, (5, 10, 20))
    assert min(orders) > 1.8, f"orders {orders}, errors {errors}"


def test_shorter_steps_come_nearer_by_the_second_order():
    """The core on a ramp, in steps of one length, against steps of an eighth of the shortest."""

    def core(steps):
        length = 1800.0 / steps
        times = np.linspace(0.0, 1800.0, steps + 1)
        even = Programme(times=times, temperatures=293.15 + 0.1 * times)
        care = Care(rings=8, layers=2, accuracy=1e9, first=length, longest=length)
        return float(burn(bare(50), plain(), even, place=around(60.0), start=293.15, care=care).temperature[-1, 0, 0])

    best = core(640)
    orders, errors = halved(lambda n: core(n) - best, (20, 40, 80))
    assert min(orders) > 1.7, f"orders {orders}, errors {errors}"


def test_what_a_flask_sees_of_its_neighbour_is_the_integral_over_its_side():
    """Two equal long cylinders: the mean over the side of what the other fills of its view; touching (pi/2 - 1)/pi."""
    assert 1 - view_past(diameter=0.08, gap=0.0, neighbours=1) == pytest.approx((math.pi / 2 - 1) / math.pi)

    def seen(angle, distance):  # from a point of the unit circle, the other of radius 1 centred at (distance, 0)
        x, y = distance - math.cos(angle), -math.sin(angle)
        away, half = math.atan2(y, x) - angle, math.asin(min(1.0, 1 / math.hypot(x, y)))
        low, high = max(away - half, -math.pi / 2), min(away + half, math.pi / 2)
        return (math.sin(high) - math.sin(low)) / 2 if high > low else 0.0

    for gap in (0.01, 0.04, 0.16):
        distance = 2 + 2 * gap / 0.08
        part, _ = quad(lambda a, d=distance: seen(a, d), -math.pi, math.pi, limit=400)
        assert 1 - view_past(diameter=0.08, gap=gap, neighbours=2) == pytest.approx(2 * part / (2 * math.pi), rel=1e-4)


def test_the_steam_of_a_front_meets_the_pressure_of_darcys_law():
    """19.5 kPa at 10 kW/m2 through 20 mm of 1e-13 m2 with 0.59 kg/m3 and 1.3e-5 Pa s (worked out apart from this code); 1 %."""
    got = [pressure_drop(q, depth=0.02, permeability=1e-13) / 1e3 for q in (1e3, 10e3, 30e3)]
    assert got == pytest.approx([1.95, 19.5, 58.6], rel=0.01)


def test_the_viscosity_of_steam_is_that_of_an_independent_library():
    """The formulation of the water and steam association as another package has it, at 1 atm; 2 %."""
    tables = pytest.importorskip("CoolProp.CoolProp")
    for t in (380.0, 473.15, 573.15, 773.15, 973.15):
        assert float(steam_viscosity(t)) == pytest.approx(tables.PropsSI("V", "T", t, "P", 101325, "Water"), rel=0.02)


def test_steam_that_leaves_by_a_drying_end_meets_darcys_law_along_the_dry_part():
    """A plane front h under the end: p^2 - p0^2 = 2 mu R T / (K M) flux h; 5 %, for the ring it is in."""
    mould = plain(density=1239.0, capacity=5.0, free_water=434.0)
    flask = bare(20, 60)
    place = Place(side=SHUT, upper=Face(convection=1e4, emissivity=0.0), lower=SHUT)
    course = burn(flask, mould, steady(200, 7200), place=place, start=372.8, care=Care(rings=2, layers=60, accuracy=0.3))
    walled = Flask(radius=0.010, height=0.060, wall=0.001)
    ends, over = overpressure(replace(course, flask=walled), permeability=1e-14, window=900.0)
    dry = 1 - np.interp(ends, course.time, (course.water * course.volume).sum(axis=(1, 2)) / course.volume.sum())
    flux = np.diff(np.concatenate([[0.0], dry])) * 0.06 * 434.0 / 900.0
    middle = (0.5 * (100 + 200)) + 273.15
    ease = 1e-14 * 18.015e-3 / (2 * float(steam_viscosity(middle)) * 8.314462618 * middle)
    exact = np.sqrt(101325.0**2 + flux / ease * dry * 0.06) - 101325.0
    assert over[3:] == pytest.approx(exact[3:], rel=0.05), f"observed {over}, exact {exact}"
