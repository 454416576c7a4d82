"""The flask in the kiln against worked examples of a textbook: one lump, a panel in two stages, a wall, the ground in winter.

Source of all: Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, 6th edition, chapter 5; digits derived afresh.
"""

import math

import numpy as np
import pytest

from pourwell.physics.burnout.march import Care, Programme, burn
from pourwell.physics.burnout.report import at_radius, first_above
from pourwell.physics.burnout.setting import Face, Flask, Place
from pourwell.physics.burnout.substance import Laws, Mould
from pourwell.physics.mould import Composition
from pourwell.units import k_from_c

SHUT = Face(convection=0.0, emissivity=0.0)


def solid(*, density, capacity, conductivity):
    """What neither melts, boils nor changes."""
    made = Composition(slurry=density, powder=density, free_water=0.0, gypsum=0.0, bound_water=0.0, burnt=density, porosity=0.0)
    laws = Laws(base=capacity, rise=0.0, cap=capacity, steps=(), inversions=())
    return Mould(composition=made, wet=conductivity, dry=((300.0, conductivity),), laws=laws)


def held(celsius, seconds):
    return Programme(times=[0.0, seconds], temperatures=[k_from_c(celsius)] * 2)


def mean(course):
    return np.tensordot(course.temperature, course.volume, axes=2) / course.volume.sum()


JUNCTION = solid(density=8500.0, capacity=400.0, conductivity=20.0)
DIAMETER = 6 * 400.0 * 1.0 / (8500.0 * 400.0)
"""m: with 400 W/(m2 K) its time constant is 1 s."""
SMALL = Care(rings=3, layers=3, accuracy=0.05, first=0.01, longest=0.1)


def bead(height):
    """A cylinder whose volume over the area of its side is that of the bead."""
    return Flask(radius=DIAMETER / 3, height=height, wall=0.0)


def test_a_junction_in_hot_gas_takes_its_time_constant():
    """Example 5.1: from 25 to 199 degC in gas of 200 degC: 5.165 s; 0.5 %."""
    assert pytest.approx(7.06e-4, rel=1e-3) == DIAMETER
    place = Place(side=Face(convection=400.0, emissivity=0.0), upper=SHUT, lower=SHUT)
    course = burn(bead(1e-3), JUNCTION, held(200, 7), place=place, start=k_from_c(25), care=SMALL)
    assert first_above(course, mean(course), k_from_c(199)) == pytest.approx(5.165, rel=5e-3)


def test_a_junction_between_gas_and_hotter_walls_settles_between_them():
    """Example 5.2: emissivity 0.9, walls at 400 degC: settles at 218.7 degC, within 1 K of it after 4.99 s; 1 %.

    The gas is at the side, the walls at the ends: as high as 0.9 radii, the ends are 1/0.9 of the side and need 0.81.
    """
    flask = bead(0.9 * DIAMETER / 3)
    wall = Face(convection=0.0, emissivity=0.81, outside=k_from_c(400))
    place = Place(side=Face(convection=400.0, emissivity=0.0), upper=wall, lower=wall)
    course = burn(flask, JUNCTION, held(200, 15), place=place, start=k_from_c(25), care=SMALL)
    settled = float(mean(course)[-1])
    assert settled == pytest.approx(k_from_c(218.7), abs=0.3), f"observed {settled}"
    assert first_above(course, mean(course), settled - 1.0) == pytest.approx(4.99, rel=0.01)


def test_a_panel_is_cured_and_cooled_in_the_times_of_the_book():
    """Example 5.3: 3 mm of aluminium, emissivity 0.8: 123.0 s to 150 degC, 174.7 degC after 300 s more, 37 degC at 986 s; 1 %."""
    panel = solid(density=2770.0, capacity=875.0, conductivity=177.0)
    sheet = Flask(radius=0.01, height=0.003, wall=0.0)
    care = Care(rings=2, layers=4, accuracy=0.1, first=0.2, longest=4.0)
    oven, room = Face(convection=40.0, emissivity=0.8), Face(convection=10.0, emissivity=0.8)
    inside, away = (Place(side=SHUT, upper=f, lower=f) for f in (oven, room))
    warm = burn(sheet, panel, held(175, 600), place=inside, start=k_from_c(25), care=care)
    reached = first_above(warm, mean(warm), k_from_c(150))
    assert reached == pytest.approx(123.0, rel=0.01)
    cured = burn(sheet, panel, held(175, reached + 300.0), place=inside, start=k_from_c(25), care=care)
    assert float(mean(cured)[-1]) == pytest.approx(k_from_c(174.7), abs=0.2)
    cooled = burn(sheet, panel, held(25, 900), place=away, start=cured.end, care=care)
    whole = reached + 300.0 + first_above(cooled, -mean(cooled), -k_from_c(37))
    assert whole == pytest.approx(986.0, rel=0.01), f"observed {whole:.1f} s"


def test_a_pipe_wall_that_hot_oil_reaches_has_warmed_after_eight_minutes():
    """Example 5.4: 40 mm of steel, 500 W/(m2 K), from -20 in 60 degC, 480 s: 43.0 and 45.4 degC, 7.32 kW/m2, 27.3 MJ/m; 0.5 %."""
    steel = solid(density=7832.0, capacity=434.0, conductivity=63.9)
    wall = Flask(radius=0.02, height=0.04, wall=0.0)
    place = Place(side=SHUT, upper=Face(convection=500.0, emissivity=0.0), lower=SHUT)
    care = Care(rings=2, layers=24, accuracy=0.1, first=0.5, longest=10.0)
    course = burn(wall, steel, held(60, 480), place=place, start=k_from_c(-20), care=care)
    faces = [float(at_radius(course, 0.0, height=h)[-1]) - k_from_c(0) for h in (0.0, 1.0)]
    assert faces == pytest.approx([43.0, 45.4], abs=0.15), f"observed {faces}"
    area = math.pi * 0.02**2
    flux = (course.taken[-1] - course.taken[-2]) / (course.time[-1] - course.time[-2]) / area
    assert flux == pytest.approx(7.32e3, rel=0.02)
    assert course.taken[-1] / area * math.pi * 1.0 == pytest.approx(2.726e7, rel=5e-3)


def test_the_ground_freezes_to_the_depth_of_the_error_function():
    """Example 5.6: soil at 20 degC, its surface at -15 degC for 60 days: 0 degC stands at 0.677 m; 0.5 %."""
    soil = solid(density=2050.0, capacity=1840.0, conductivity=0.52)
    ground = Flask(radius=0.05, height=6.0, wall=0.0)
    place = Place(side=SHUT, upper=Face(convection=1e5, emissivity=0.0), lower=SHUT)
    care = Care(rings=2, layers=240, accuracy=0.05, first=60.0, longest=86400.0)
    course = burn(ground, soil, held(-15, 60 * 86400.0), place=place, start=k_from_c(20), care=care)
    depth = 6.0 - course.rings.level
    profile = course.temperature[-1, :, 0]
    frozen = float(np.interp(-k_from_c(0), -profile, depth))
    assert frozen == pytest.approx(0.677, rel=5e-3), f"observed {frozen:.4f} m"
