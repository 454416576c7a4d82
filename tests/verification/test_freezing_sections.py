"""Plates, rods, balls and bars freezing in plaster, by the freezing solver: closed forms, and another code's table for sterling."""

import numpy as np
import pytest

from pourwell.physics.boundary import Contact
from pourwell.physics.domain import Box
from pourwell.physics.feeding import Freeze
from pourwell.physics.grid import build
from pourwell.physics.march import Pace
from pourwell.physics.octree import Grading
from pourwell.physics.properties import Melt, freezing, inert, ranged
from pourwell.physics.solidify import solidify
from pourwell.units import k_from_c
from tests.verification.freezing_cases import ball, flat, growing, line, melted_at, poured, setting, shells
from tests.verification.freezing_truths import (
    DRY,
    MOULD_C,
    SILVER,
    SUPERHEAT_K,
    ball_time,
    film_time,
    plate_time,
    rod_time,
    superheat_time,
)

PLASTER = inert(**DRY)
EVERYWHERE = Grading(across=1e9)
AT_MELTING = SILVER["melting"] + 1e-6


def silver(*, latent=SILVER["latent"], conductivity=(360.0, 175.0)):
    """Pure silver."""
    melt = Melt(
        density=SILVER["density"],
        solid_heat_capacity=SILVER["heat_capacity"],
        liquid_heat_capacity=SILVER["heat_capacity"],
        latent=latent,
        solid_conductivity=conductivity[0],
        liquid_conductivity=conductivity[1],
    )
    return melted_at(SILVER["melting"], melt)


def heavy(conductivity=(360.0, 175.0)):
    """Silver at its melting point with the heat of its superheat as latent heat."""
    return silver(latent=SILVER["latent"] + SILVER["heat_capacity"] * SUPERHEAT_K, conductivity=conductivity)


def half_plate(width, cells):
    """From the middle of a plate into the mould, so many cells in all its width."""
    return line(growing((0, 2 * width), 0, 40 * width + 20e-3, step=width / cells, factor=1.04), lambda x: x < width / 2)


def last_end(mesh, metal, *, exact, pour=AT_MELTING, contact=None, growth=0.01):
    """When the last metal is solid [s]."""
    pace = Pace(first=1e-5 * exact, growth=growth)
    made = setting(metal, PLASTER, contact=contact)
    return float(solidify(mesh, made, poured(mesh, pour, MOULD_C), pace=pace).end.max())


PLATES = {0.5: 0.5704, 1: 2.2814, 2: 9.1258, 4: 36.503}


@pytest.mark.parametrize("width_mm", PLATES)
def test_a_plate_freezes_as_chvorinov_and_flemings_say(width_mm):
    """t = C (V/A)^2, C = 9.1258 s/mm2: silver 88 K over melting in plaster at 500 degC (Flemings 1974, chapter 1).

    The rule has its face at the melting point from the first and the superheat as latent heat: 1.5 % so; with true superheat, which
    the mould takes up a little faster, 3 % is asked.
    """
    exact = plate_time(width_mm * 1e-3)
    assert exact == pytest.approx(PLATES[width_mm], rel=1e-4)
    mesh = half_plate(width_mm * 1e-3, 20)
    same = last_end(mesh, heavy(), exact=exact)
    true = last_end(mesh, silver(), exact=exact, pour=SILVER["melting"] + SUPERHEAT_K)
    assert same == pytest.approx(exact, rel=0.015), f"observed {same:.4f} s, exact {exact:.4f}"
    assert true == pytest.approx(exact, rel=0.03), f"observed {true:.4f} s with superheat, rule {exact:.4f}"
    assert true < same


def test_the_rule_is_that_of_a_film_that_hinders_nothing():
    """The same 2 mm plate through a film of 1e6 W/(m2 K): within 1.5 % of the rule, and of the plate in perfect contact."""
    exact = plate_time(2e-3)
    seen = last_end(half_plate(2e-3, 20), heavy(), exact=exact, contact=Contact(solid_fraction=(0.0,), coefficient=(1e6,)))
    assert seen == pytest.approx(exact, rel=0.015), f"observed {seen:.4f} s"


FILMS = {
    0.5: {500: 1.7831, 1000: 1.1146, 1500: 0.8801, 3000: 0.6349},
    1: {500: 4.4583, 1000: 3.0368, 1500: 2.5397, 3000: 2.0251},
    2: {500: 12.147, 1000: 9.1397, 1500: 8.1002, 3000: 7.0374},
}


@pytest.mark.parametrize(("width_mm", "film"), [(width, film) for width, row in FILMS.items() for film in row])
def test_a_plate_at_its_melting_point_freezes_through_a_film_as_the_closed_form_says(width_mm, film):
    """Pure silver: Q = (k^2 dT/(h alpha)) (erfcx B - 1 + 2 B/sqrt pi), B = h sqrt(alpha t)/k (Carslaw & Jaeger 1959, 2.7). 1 %."""
    exact = film_time(width_mm * 1e-3, film)
    assert exact == pytest.approx(FILMS[width_mm][film], rel=1e-4)
    contact = Contact(solid_fraction=(0.0,), coefficient=(float(film),))
    seen = last_end(half_plate(width_mm * 1e-3, 10), silver(), exact=exact, contact=contact)
    assert seen == pytest.approx(exact, rel=0.01), f"observed {seen:.4f} s, exact {exact:.4f}"


SUPERHEAT = {
    (0.5, None): 0.04074,
    (1, None): 0.16298,
    (2, None): 0.65192,
    (0.5, 1500): 0.18523,
    (1, 1500): 0.46574,
    (2, 1500): 1.27961,
}


@pytest.mark.parametrize(("width_mm", "film"), SUPERHEAT)
def test_superheat_is_lost_as_the_closed_form_says(width_mm, film):
    """Lumped plate, film and half-space by inversion of its transform; without film theta = erfcx(sqrt tau). 1.5 %."""
    exact = superheat_time(width_mm * 1e-3, film)
    assert exact == pytest.approx(SUPERHEAT[width_mm, film], rel=2e-4)
    melt = Melt(
        density=SILVER["density"],
        solid_heat_capacity=300,
        liquid_heat_capacity=300,
        latent=105e3,
        solid_conductivity=300,
        liquid_conductivity=300,
    )
    metal = ranged(melt, solidus=k_from_c(880), liquidus=k_from_c(896))
    mesh = half_plate(width_mm * 1e-3, 20)
    made = setting(metal, PLASTER, contact=Contact(solid_fraction=(0.0,), coefficient=(float(film),)) if film else None)
    got = solidify(mesh, made, poured(mesh), pace=Pace(first=1e-4 * exact, growth=0.02), until=2 * exact)
    seen = float(np.mean(got.begin))
    assert seen == pytest.approx(exact, rel=0.015), f"observed {seen:.5f} s, exact {exact:.5f}"


BALLS = {1: 0.1331, 2: 0.5323, 3: 1.1978, 4: 2.1293, 6: 4.7910}
RODS = {1: 0.3486, 2: 1.3945, 3: 3.1376, 4: 5.5780, 6: 12.5505}
EVEN = (3600.0, 3600.0)
"""W/(m K), ten times silver's: the closed forms take the metal to be of one temperature, and their front ends in a point."""


def in_shells(diameter, power, exact):
    """A ball (2) or a rod (1) as shells of a thirty-second of its diameter."""
    radius = diameter / 2
    edges = growing((0, 2 * radius), 0, 40 * radius, step=radius / 16, factor=1.04)
    return last_end(shells(edges, lambda r: r < radius, power=power), heavy(EVEN), exact=exact, growth=0.005)


@pytest.mark.parametrize("diameter_mm", BALLS)
def test_a_ball_freezes_in_the_time_of_the_exact_flux(diameter_mm):
    """q = k dT (1/R + 1/sqrt(pi alpha t)) outside a ball (Carslaw & Jaeger 1959, section 9.10). 2 %."""
    exact = ball_time(diameter_mm * 1e-3)
    assert exact == pytest.approx(BALLS[diameter_mm], rel=4e-4)
    seen = in_shells(diameter_mm * 1e-3, 2, exact)
    assert seen == pytest.approx(exact, rel=0.02), f"observed {seen:.4f} s, exact {exact:.4f}"


@pytest.mark.parametrize("diameter_mm", RODS)
def test_a_rod_freezes_in_the_time_of_jaeger_s_flux(diameter_mm):
    """The flux outside a cylinder summed to the rod's heat, Fo = 0.48197 (Carslaw & Jaeger 1959, section 13.5). 2 %."""
    exact = rod_time(diameter_mm * 1e-3)
    assert exact == pytest.approx(RODS[diameter_mm], rel=2e-4)
    seen = in_shells(diameter_mm * 1e-3, 1, exact)
    assert seen == pytest.approx(exact, rel=0.02), f"observed {seen:.4f} s, exact {exact:.4f}"


def on_the_octree(box, away, *, exact, spacing=0.25e-3):
    """When the last metal of a shape is solid, cells as the product makes them [s]."""
    grid = build(box, away, spacing, grading=EVERYWHERE)
    made = setting(heavy((1200.0, 1200.0)), PLASTER)
    pace = Pace(first=1e-3 * exact, growth=0.02)
    return float(solidify(grid.mesh, made, poured(grid.mesh, AT_MELTING, MOULD_C), pace=pace).end.max())


def test_a_ball_on_the_octree_freezes_in_that_time():
    """6 mm, cells of 0.25 mm: 4.791 s, 2 %."""
    box = Box(lower=(-12e-3, -12e-3, 0), upper=(12e-3, 12e-3, 24e-3))
    exact = ball_time(6e-3)
    seen = on_the_octree(box, lambda p: ball(p, radius=3e-3, middle=(0.1e-3, -0.05e-3, 12.07e-3)), exact=exact)
    assert seen == pytest.approx(exact, rel=0.02), f"observed {seen:.4f} s"


def test_a_rod_on_the_octree_freezes_in_that_time():
    """3 mm, through the whole block, cells of 0.25 mm: 3.138 s, 2 %."""
    box = Box(lower=(-12e-3, -12e-3, 0), upper=(12e-3, 12e-3, 4e-3))
    exact = rod_time(3e-3)
    seen = on_the_octree(box, lambda p: np.hypot(p[:, 0] - 0.07e-3, p[:, 1] + 0.04e-3) - 1.5e-3, exact=exact)
    assert seen == pytest.approx(exact, rel=0.02), f"observed {seen:.4f} s"


def test_a_rod_freezes_about_twice_as_fast_as_a_plate_of_its_modulus():
    """Divergent heat: rod of 3 mm 3.138 s, plate of the same V/A 5.133 s by closed form; the solver's ratio within 2 % of that."""
    mesh = half_plate(1.5e-3, 20)
    plate = last_end(mesh, heavy(EVEN), exact=plate_time(1.5e-3))
    rod = in_shells(3e-3, 1, rod_time(3e-3))
    assert plate_time(1.5e-3) / rod_time(3e-3) == pytest.approx(5.1333 / 3.1376, rel=1e-3)
    assert plate / rod == pytest.approx(5.1333 / 3.1376, rel=0.02), f"observed {plate / rod:.4f}"


def scheil():
    """Sterling by its effective Scheil curve: k0 = 0.313, liquidus 896 degC, 14.6 % eutectic at 779 degC."""
    celsius = np.linspace(779, 896, 60)
    liquid = ((938.60 - celsius) / (938.60 - 896)) ** (1 / (0.313 - 1))
    fractions = np.concatenate([[1.0], np.clip(1 - liquid, 0, 1)])
    fractions[-1] = 0.0
    melt = Melt(
        density=9300,
        solid_heat_capacity=282,
        liquid_heat_capacity=300,
        latent=112e3,
        solid_conductivity=330,
        liquid_conductivity=170,
    )
    return freezing(melt, temperature=k_from_c(np.concatenate([celsius[:1], celsius])), solid_fraction=fractions)


def bar(a, b):
    """A rectangle a x b [m] in mould, cells of 0.1 mm at its faces."""
    x, y = (growing((-s / 2, s / 2), -25e-3, 25e-3, step=0.1e-3, factor=1.08) for s in (a, b))
    return flat(x, y, lambda p, q: (abs(p) < a / 2) & (abs(q) < b / 2))


def rod(diameter):
    radius = diameter / 2
    return shells(growing((0, 2 * radius), 0, radius + 40e-3, step=radius / 10, factor=1.06), lambda r: r < radius, power=1)


def clocks(mesh, mould=MOULD_C):
    """Mean times at the liquidus, at solid fractions of 0.3 and 0.7, and the last end [s]: sterling, 1000 degC, 1500 W/(m2 K)."""
    made = setting(scheil(), PLASTER, contact=Contact(solid_fraction=(0.0,), coefficient=(1500.0,)))
    got = solidify(mesh, made, poured(mesh, 1000.0, mould), pace=Pace(first=2e-3, growth=0.03))
    freeze, weights = Freeze(levels=got.levels, passed=got.passed), mesh.volume[got.cells]
    return (*(float(np.average(freeze.when(level), weights=weights)) for level in (0.0, 0.3, 0.7)), float(got.end.max()))


TABLE = {
    "plate 1": (half_plate(1e-3, 20), 500, (0.466, 1.64, 4.99, 12.0)),
    "plate 2": (half_plate(2e-3, 20), 500, (1.28, 5.09, 17.0, 43.5)),
    "plate 2 hot": (half_plate(2e-3, 20), 600, (1.95, 8.45, 30.9, 95.4)),
    "rod 2": (rod(2e-3), 500, (0.423, 1.31, 3.26, 6.15)),
    "rod 3": (rod(3e-3), 500, (0.748, 2.45, 6.37, 12.4)),
    "rod 4": (rod(4e-3), 500, (1.14, 3.89, 10.5, 20.7)),
    "rod 3 hot": (rod(3e-3), 600, (1.08, 3.69, 9.94, 21.0)),
    "bar 1 x 3": (bar(3e-3, 1e-3), 500, (0.31, 0.95, 2.44, 4.77)),
    "bar 2 x 4": (bar(4e-3, 2e-3), 500, (0.67, 2.24, 6.06, 12.2)),
    "bar 3 x 3": (bar(3e-3, 3e-3), 500, (0.78, 2.66, 7.19, 14.4)),
}
"""To the liquidus, to 0.3, to 0.7 and to the solid [s], computed by another code before this one; its grid is good to 3 %."""


@pytest.mark.parametrize("name", TABLE)
def test_sterling_sections_freeze_as_in_the_other_code(name):
    """Code to code, 3 % (that code's own)."""
    mesh, mould, expected = TABLE[name]
    seen = clocks(mesh, float(mould))
    assert seen == pytest.approx(expected, rel=0.03), f"observed {np.round(seen, 3)}"


def test_alone_a_sprue_of_3_mm_outlasts_a_bar_of_2_by_4_and_one_of_2_5_does_not():
    """To a solid fraction of 0.7: 6.37 s, 6.06 s and 4.7 s in that code. On a tree the last order turns, see the orders' tests."""
    thick, section, thin = (clocks(mesh)[2] for mesh in (rod(3e-3), bar(4e-3, 2e-3), rod(2.5e-3)))
    assert thick > section > thin, f"observed {thick:.2f}, {section:.2f}, {thin:.2f} s"
    assert thin == pytest.approx(4.7, rel=0.03)
