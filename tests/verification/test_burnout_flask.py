"""The flask in the kiln: wet moulds through whole programmes, against balances by hand, published firings and runs made apart."""

from itertools import pairwise

import numpy as np
import pytest

from pourwell.physics.burnout.march import Care, Programme, burn
from pourwell.physics.burnout.report import (
    at_depth,
    at_radius,
    dry_time,
    first_above,
    flux_while_wet,
    lag_in,
    lag_while_wet,
    release_time,
    settled_time,
    spread,
    time_between,
    wall_at,
    water_mass,
)
from pourwell.physics.burnout.setting import Face, Flask, Place, standing, view_past
from pourwell.physics.burnout.steam import overpressure
from pourwell.physics.burnout.substance import Mould
from pourwell.physics.mould import compose, enthalpy
from pourwell.units import k_from_c

MADE = compose(water_ratio=0.40, hemihydrate=0.30, powder_density=2550)
MOULD = Mould(composition=MADE)
OPEN = standing(convection=10.0, emissivity=0.75, shelf_convection=10.0, shelf_view=1.0)
REFERENCE = Programme(
    times=np.array([0, 30, 120, 180, 300, 390, 570, 660, 780]) * 60.0,
    temperatures=[k_from_c(c) for c in (20, 150, 150, 370, 370, 730, 730, 500, 500)],
)
HEIGHTS = {50: 60, 76: 100, 100: 130, 127: 180}
COARSE = Care(rings=12, layers=16, accuracy=5.0)


def flask(diameter_mm, height_mm=None, **more):
    return Flask(radius=diameter_mm / 2000, height=(height_mm or HEIGHTS[diameter_mm]) / 1000, **more)


def reference(diameter_mm, *, mould=MOULD, place=OPEN, care=None, **more):
    return burn(flask(diameter_mm, **more), mould, REFERENCE, place=place, start=k_from_c(20), care=care)


@pytest.fixture(scope="module")
def courses():
    return {d: reference(d) for d in HEIGHTS}


def steady(celsius, hours):
    return Programme(times=[0.0, hours * 3600.0], temperatures=[k_from_c(celsius)] * 2)


RELEASED = {50: 192, 76: 245, 100: 304, 127: 376}
HOT = {50: 392, 76: 404, 100: 422, 127: 464}


@pytest.mark.parametrize("diameter_mm", HEIGHTS)
def test_the_reference_schedule_agrees_with_runs_made_apart(courses, diameter_mm):
    """Code to code, 18 rings, no experiment: minutes to leave 100 degC and to pass 700; asked 10 %, held to 3 %."""
    course = courses[diameter_mm]
    released, hot = release_time(course) / 60, first_above(course, at_radius(course, 0.0), k_from_c(700)) / 60
    assert released == pytest.approx(RELEASED[diameter_mm], rel=0.03), f"observed {released:.1f}"
    assert hot == pytest.approx(HOT[diameter_mm], rel=0.03), f"observed {hot:.1f}"


def test_the_core_at_the_marks_of_the_reference_schedule_agrees_too(courses):
    """The same: core at the end of the 370 hold, when the kiln is first at 730, and at the end; 8 K."""
    marks = np.array([300, 390, 780]) * 60.0
    got = {d: np.interp(marks, c.time, at_radius(c, 0.0)) - k_from_c(0) for d, c in courses.items()}
    assert got[50] == pytest.approx([370, 694, 500], abs=6)
    assert got[76] == pytest.approx([368, 651, 500], abs=6)
    assert got[100] == pytest.approx([99, 599, 500], abs=8)
    assert got[127] == pytest.approx([99, 442, 504], abs=6)


@pytest.mark.parametrize(("diameter_mm", "minutes"), [(50, 174), (76, 215), (100, 259), (127, 323)])
def test_less_water_is_gone_sooner_as_in_those_runs(diameter_mm, minutes):
    """Code to code, 40 % of the free water gone beforehand; 3 %."""
    course = reference(diameter_mm, mould=Mould(composition=MADE, water_share=0.6), care=COARSE)
    assert release_time(course) / 60 == pytest.approx(minutes, rel=0.03)


@pytest.mark.parametrize(
    ("conductivity", "convection", "emissivity", "minutes"),
    [(0.30, 10, 0.75, 275), (0.60, 10, 0.75, 229), (0.45, 5, 0.6, 261), (0.45, 25, 0.9, 227)],
)
def test_the_ends_of_the_inputs_move_the_release_as_in_those_runs(conductivity, convection, emissivity, minutes):
    """Code to code, 76 mm; 3 %."""
    face = Face(convection=convection, emissivity=emissivity)
    mould = Mould(composition=MADE, dry=((373.15, conductivity),))
    course = reference(76, mould=mould, place=Place(side=face, upper=face, lower=face), care=COARSE)
    assert release_time(course) / 60 == pytest.approx(minutes, rel=0.03)


@pytest.mark.parametrize(
    ("diameter_mm", "height_mm", "minutes"), [(30, 55, 18.5), (40, 50, 26.0), (50, 55, 35.8), (65, 55, 48.8), (80, 80, 78.0)]
)
def test_a_plunge_to_700_heats_the_core_as_in_those_runs(diameter_mm, height_mm, minutes):
    """Code to code: core over 690 degC, 0.5 mm ring; 6 %. The end is flat, so films that differ by 5 % show in full."""
    course = burn(flask(diameter_mm, height_mm, wall=0.0005), MOULD, steady(700, 2), place=OPEN, start=k_from_c(20), care=COARSE)
    assert first_above(course, at_radius(course, 0.0), k_from_c(690)) / 60 == pytest.approx(minutes, rel=0.06)


def test_a_published_rapid_firing_is_long_enough_for_its_ring():
    """Dental rings of about 40 mm are sold for 700 degC for 30 min: their core is hot by then, and not long before."""
    course = burn(flask(40, 50, wall=0.0005), MOULD, steady(700, 2), place=OPEN, start=k_from_c(20), care=COARSE)
    assert 20 < first_above(course, at_radius(course, 0.0), k_from_c(690)) / 60 < 30


def test_a_larger_mould_has_the_colder_core_at_all_times(courses):
    """Eleven thermocouples in rings of several sizes found it (Journal of the Japanese Society for Dental Materials 27(4))."""
    times = np.linspace(0.0, 34200.0, 200)
    cores = [np.interp(times, c.time, at_radius(c, 0.0)) for c in courses.values()]
    for small, large in pairwise(cores):
        assert float((large - small).max()) < 1.0


def test_heat_to_730_is_that_of_the_budget_by_hand():
    """Mould and steel, 76 x 100 mm, soaked at 730 degC: 0.1 % of our budget, 1 % of one made apart (2.299 GJ/m3)."""
    course = burn(flask(76), MOULD, steady(730, 12), place=OPEN, start=k_from_c(20), care=COARSE)
    steel = np.pi * (0.040**2 - 0.038**2) * 0.1 * 3.925e6 * 710
    volume = np.pi * 0.038**2 * 0.1
    assert course.taken[-1] == pytest.approx(steel + volume * enthalpy(MADE, k_from_c(730)), rel=1e-3)
    assert course.taken[-1] == pytest.approx(steel + volume * 2.299e9, rel=0.01)
    assert course.missing < 1e-4


def test_where_the_water_is_gone_the_heat_is_that_of_the_temperatures(courses):
    """At the core's release: what was taken is the sum over all rings of another module's budget at their temperatures; 0.2 %.

    It bears out the plateau: (H(101) - H(20)) times the wet volume has gone in, no less and no more.
    """
    for course in courses.values():
        i = int(np.searchsorted(course.time, dry_time(course)))
        mould = sum(v * enthalpy(MADE, float(t)) for v, t in zip(course.volume.ravel(), course.temperature[i].ravel(), strict=True))
        ring = np.pi * (2 * course.flask.radius + 0.002) * 0.002 * course.flask.height / course.wall.shape[1]
        steel = float((course.wall[i] - k_from_c(20)).sum()) * ring * 3.925e6
        assert course.taken[i] == pytest.approx(mould + steel, rel=2e-3)


def test_no_ring_passes_100_before_its_water_is_gone(courses):
    """The plateau: from 95 degC to the last of its water every ring stands between 95 and 100.3, and the core longest."""
    for course in courses.values():
        wet = course.water > 0
        assert float(course.temperature[wet].max()) < k_from_c(100.3)
        core = at_radius(course, 0.0)
        on = (course.time > first_above(course, core, k_from_c(95))) & (course.time < release_time(course))
        assert core[on].min() > k_from_c(95) - 1e-6
        assert core[on].max() < k_from_c(100.3)


def test_a_slow_schedule_is_gentle_and_a_plunge_is_not(courses):
    """Code to code: 3.5 to 5.5 kW/m2 into the wet mould on the schedule, about 45 on a plunge, which breaks common investment."""
    gentle = [float(flux_while_wet(c).max()) / 1e3 for c in courses.values()]
    assert gentle == pytest.approx([3.5, 4.6, 5.1, 5.5], rel=0.16)
    plunge = burn(flask(40, 50, wall=0.0005), MOULD, steady(700, 1), place=OPEN, start=k_from_c(20), care=COARSE)
    assert float(flux_while_wet(plunge).max()) / 1e3 == pytest.approx(45, rel=0.15)


def test_rim_and_core_part_most_when_the_last_water_goes(courses):
    """Code to code: 221, 238, 248, 518 K; 9 %, for here the rim is the mould's face, there the middle of its last ring."""
    assert [lag_while_wet(c) for c in courses.values()] == pytest.approx([221, 238, 248, 518], rel=0.09)
    quartz = [lag_in(c, k_from_c(560), k_from_c(590)) for c in courses.values()]
    last_ring = (35 / 36) ** 2  # of the parabola, at the middle of the last of 18 rings
    assert [last_ring * quartz[0], last_ring * quartz[2]] == pytest.approx([27, 107], rel=0.06), f"observed {quartz}"
    assert quartz == sorted(quartz)


def test_a_flask_in_the_air_cools_as_a_cylinder_model_says():
    """Code to code, 76 mm from 500 degC: wall 380, 6 mm in 461, 12 mm 490, core 500 after 2 min; 8 K at 8 W/(m2 K).

    With the 12 W/(m2 K) at the other end of that model's range the wall is at 363: its film was not given.
    """
    burnt = Mould(composition=MADE, water_share=0.0)
    soaked = burn(flask(76), burnt, steady(500, 12), place=OPEN, start=k_from_c(20))
    seen = {}
    for film in (8.0, 12.0):
        face = Face(convection=film, emissivity=0.8)
        room = Programme(times=[0.0, 300.0], temperatures=[k_from_c(25)] * 2)
        course = burn(flask(76), burnt, room, place=Place(side=face, upper=face, lower=face), start=soaked.end)
        traces = (wall_at(course), at_depth(course, 0.006), at_depth(course, 0.012), at_radius(course, 0.0))
        seen[film] = [float(np.interp(120, course.time, t)) - k_from_c(0) for t in traces]
    assert seen[8.0] == pytest.approx([380, 461, 490, 500], abs=8), f"observed {seen[8.0]}"
    assert seen[12.0][0] == pytest.approx(363, abs=2)
    assert seen[12.0][3] == pytest.approx(500, abs=0.5)


def test_more_rings_and_closer_steps_change_the_release_by_less_than_two_percent():
    """76 x 100 mm: the usual grid against twice as fine, and a coarse one for hundreds of runs."""
    usual, coarse = release_time(reference(76)), release_time(reference(76, care=COARSE))
    fine = release_time(reference(76, care=Care(rings=30, layers=40, accuracy=0.8)))
    assert usual == pytest.approx(fine, rel=5e-3), f"observed {usual / fine - 1:+.4f}"
    assert coarse == pytest.approx(fine, rel=0.012), f"observed {coarse / fine - 1:+.4f}"


def test_a_hotter_kiln_leaves_no_ring_colder():
    """Heat flows one way: the same programme 20 K hotter after its start, at all times and places."""
    warmer = Programme(times=REFERENCE.times, temperatures=REFERENCE.temperatures + 20.0 * (REFERENCE.times > 0))
    cool = reference(76, care=COARSE)
    hot = burn(flask(76), MOULD, warmer, place=OPEN, start=k_from_c(20), care=COARSE)
    times = np.linspace(0.0, REFERENCE.times[-1], 150)
    for layer, ring in ((0, 0), (8, 0), (8, 6), (8, 11), (15, 11)):
        low, high = (np.interp(times, c.time, c.temperature[:, layer, ring]) for c in (cool, hot))
        assert float((high - low).min()) > -1.5


def test_two_like_ends_give_two_like_halves_and_turning_the_flask_turns_the_field():
    course = reference(50, care=COARSE)
    np.testing.assert_allclose(course.temperature, course.temperature[:, ::-1], atol=0.05)
    shelf = Face(convection=3.0, emissivity=0.75, view=0.3)
    down = reference(50, place=Place(side=OPEN.side, upper=OPEN.upper, lower=shelf), care=COARSE)
    up = reference(50, place=Place(side=OPEN.side, upper=shelf, lower=OPEN.lower), care=COARSE)
    a = down.temperature[-1], np.interp(12000.0, down.time, down.temperature[:, 0, 5])
    b = up.temperature[-1], np.interp(12000.0, up.time, up.temperature[:, -1, 5])
    np.testing.assert_allclose(a[0], b[0][::-1], atol=0.05)
    assert a[1] == pytest.approx(b[1], abs=1.0)
    assert release_time(down) > release_time(course)


def test_time_goes_with_the_square_of_length():
    """Without radiation a flask twice as large, with half the film, contact and wall conductance, takes four times as long."""
    small = Face(convection=40.0, emissivity=0.0)
    large = Face(convection=20.0, emissivity=0.0)
    got = []
    for size, face, contact in ((1, small, 500.0), (2, large, 250.0)):
        times = REFERENCE.times * size**2
        course = burn(
            Flask(radius=0.02 * size, height=0.05 * size, wall=0.002 * size, contact=contact),
            Mould(composition=MADE),
            Programme(times=times, temperatures=REFERENCE.temperatures),
            place=Place(side=face, upper=face, lower=face),
            start=k_from_c(20),
            care=Care(rings=12, layers=12, first=5.0 * size**2, longest=900.0 * size**2),
        )
        got.append(release_time(course) / size**2)
    assert got[0] == pytest.approx(got[1], rel=1e-6)


def test_flasks_that_shade_one_another_are_later_and_holes_in_the_wall_let_steam_out(courses):
    shaded = standing(
        convection=10.0,
        emissivity=0.75,
        beside=view_past(diameter=0.08, gap=0.02, neighbours=3),
        shelf_convection=5.0,
        shelf_view=0.5,
    )
    later = reference(76, place=shaded)
    assert release_time(later) > release_time(courses[76]) + 120
    holes = reference(76, open_share=0.3)
    solid, vented = (overpressure(c, permeability=1e-13)[1].max() for c in (courses[76], holes))
    assert vented < 0.6 * solid
    tight = overpressure(courses[76], permeability=1e-14)[1].max()
    assert tight > 3 * solid
    assert abs(release_time(holes) - release_time(courses[76])) < 0.05 * release_time(courses[76])


def test_a_firing_that_is_broken_off_loses_no_water_twice():
    """Down to 30 degC in the middle of drying, with jumps of the kiln: no water comes back, and none boils while it is cold."""
    broken = Programme(
        times=np.array([0, 60, 180, 200, 500, 501, 800, 800, 1000, 1001, 1400]) * 60.0,
        temperatures=[k_from_c(c) for c in (20, 150, 150, 30, 30, 200, 200, 700, 700, 20, 20)],
    )
    course = burn(flask(76), MOULD, broken, place=OPEN, start=k_from_c(20))
    left = water_mass(course)
    assert float(np.diff(left).max()) <= 0.0
    held = np.interp(np.array([300, 500]) * 60.0, course.time, left)
    assert held[1] == pytest.approx(held[0], rel=1e-9)
    assert left[-1] == 0.0
    assert course.missing < 1e-4
    burnt = np.pi * 0.038**2 * 0.1 * (enthalpy(MADE, k_from_c(200)) - MADE.burnt * 760 * 186)
    assert course.taken[-1] == pytest.approx(burnt, rel=0.02)
    assert float(spread(course)[-1]) < 0.1


def test_the_last_hold_makes_the_flask_even_and_the_worst_part_has_its_hours(courses):
    """All of a 76 mm mould within 5 K of 500 degC for the last 40 min, and over 650 for 3.5 h, less than the kiln."""
    course = courses[76]
    since = settled_time(course, k_from_c(500), within=5.0)
    assert 660 * 60 < since < 740 * 60
    over = time_between(course, k_from_c(650), 2000.0) / 3600
    kiln = (570 - 390) / 60 + 90 * (80 / 360 + 80 / 230) / 60
    assert 3.4 < over.min() <= over.max() < kiln + 0.1
