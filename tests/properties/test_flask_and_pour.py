"""What must hold of any flask's room and clock, and of any pour: orders, scales, monotony."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.materials.studio import Base, Studio
from pourwell.physics.freezing import MouldSide, cap_shape, freezing_time
from pourwell.steps.flask.plan import as_room
from pourwell.steps.pour.plan import heat_to_solid, vacuum_kpa
from tests.unit.burnout.case import altered, flask_of, library, run

STANDARD = library().investment("gypsum-standard")
ALLOYS = st.sampled_from(sorted(name for name, row in library().alloys.items() if row.mould == "gypsum"))
DIAMETERS, HEIGHTS = st.floats(30, 130), st.floats(30, 220)
PUMPS = st.builds(lambda bowl, flask: {"bowl": bowl, "flask": flask}, st.booleans(), st.booleans())
MOULDS = st.builds(
    MouldSide,
    conductivity=st.floats(0.2, 1.0),
    density=st.floats(1000, 1500),
    heat_capacity=st.floats(700, 1200),
    temperature=st.floats(600, 900),
)
METAL = {"heat": 1.7e5, "density": 9270.0, "front": 1075.0}


@given(DIAMETERS, HEIGHTS, PUMPS, st.booleans())
def test_the_room_of_a_tree_is_the_flask_less_what_base_cover_and_headspace_take(diameter_mm, height_mm, pumps, perforated):
    made = flask_of(diameter_mm, height_mm, studio=Studio(investing_vacuum=pumps), perforated=perforated)
    offered = as_room(made)
    assert offered.ceiling_mm - made.base_depth_mm == pytest.approx(made.usable_mm)
    assert offered.ceiling_mm - offered.floor_mm == pytest.approx(made.usable_mm - made.dome_height_mm)
    assert made.cover_mm >= 13
    assert made.headspace_mm in (0, 3)
    assert made.dome_diameter_mm <= 0.4 * diameter_mm + 0.05
    assert offered.radius_mm * 2 == diameter_mm


@settings(max_examples=15)
@given(st.floats(5, 20), PUMPS)
def test_the_stages_of_the_clock_follow_each_other_without_a_gap(gloss_off_min, pumps):
    made = run(investment=altered(STANDARD, gloss_off_min=gloss_off_min), studio=Studio(investing_vacuum=pumps)).mix
    stages = [s for s in made.clock if s.key not in ("finish", "gloss")]
    assert stages[0].at_s == 0
    for a, b in pairwise(stages):
        assert a.until_s == b.at_s
        assert a.until_s > a.at_s
    assert stages[-1].until_s == pytest.approx(60 * made.finish_min, abs=2.5)
    assert made.gloss_off_min - made.finish_min == pytest.approx(1.5)


@settings(max_examples=15)
@given(ALLOYS, DIAMETERS, st.floats(0, 80), st.floats(300, 600))
def test_a_hotter_pour_never_freezes_sooner_and_the_band_holds_the_middle(name, diameter_mm, hotter_k, flask_c):
    base = library().alloy(name).liquidus_c.value + 40
    cool, hot = (run(alloy=name, size=(diameter_mm, 100), metal_c=c, flask_c=flask_c).pour for c in (base, base + hotter_k))
    assert cool.button_solid_s <= hot.button_solid_s
    for made in (cool, hot):
        assert made.button_solid_low_s <= made.button_solid_s <= made.button_solid_high_s


@settings(max_examples=15)
@given(ALLOYS, DIAMETERS, DIAMETERS)
def test_a_larger_flask_never_waits_less_and_never_before_its_button_is_solid(name, one, other):
    small, large = (run(alloy=name, size=(d, 100)) for d in sorted((one, other)))
    assert small.quench.wait_min <= large.quench.wait_min
    for made in (small, large):
        assert made.quench.low_min <= made.quench.wait_min <= made.quench.high_min
        assert made.quench.low_min * 60 >= made.pour.button_solid_high_s


@given(ALLOYS, st.floats(0, 200), st.floats(0, 200))
def test_heat_to_solid_grows_by_the_superheat_alone(name, one, other):
    alloy = library().alloy(name)
    low, high = (heat_to_solid(alloy, alloy.liquidus_c.value + k) for k in sorted((one, other)))
    assert high - low == pytest.approx(alloy.cp_liquid_j_per_kg_k.value * abs(one - other), abs=1e-3)
    assert low >= 1000 * alloy.latent_kj_per_kg.value


@given(st.floats(-400, 6000), st.floats(-400, 6000), st.floats(20, 101))
def test_no_vacuum_is_more_than_the_air_and_less_of_it_is_had_higher_up(one, other, gauge_kpa):
    read = {"casting": {"vacuum_kpa": gauge_kpa}}
    for given_names in (frozenset(), frozenset({"casting.vacuum_kpa"})):
        low, high = (vacuum_kpa(Studio(**read, given=given_names, altitude_m=m)) for m in sorted((one, other)))
        assert high <= low <= gauge_kpa + 0.05


@given(MOULDS, st.floats(2e-4, 1e-2), st.floats(1.1, 4.0))
def test_freezing_goes_with_the_square_of_the_size(mould, modulus, times):
    """Chvorinov, and for similar bulges too: time scales with length squared wherever heat goes into the mould alone."""
    plate = freezing_time(modulus, **METAL, mould=mould)
    assert freezing_time(times * modulus, **METAL, mould=mould) == pytest.approx(times**2 * plate, rel=1e-6)
    ball = freezing_time(modulus, **METAL, mould=mould, curvature=1 / (3 * modulus))
    assert freezing_time(times * modulus, **METAL, mould=mould, curvature=1 / (3 * times * modulus)) == pytest.approx(
        times**2 * ball, rel=1e-6
    )
    assert ball < plate


@given(st.floats(5, 40), st.floats(1, 20))
def test_a_dome_lies_between_a_plate_of_half_its_height_and_the_ball_around_it(diameter_mm, height_mm):
    """Geometry: V/A of a cap is more than a third of its height and never more than half of it."""
    modulus, curvature = cap_shape(diameter_mm / 1000, height_mm / 1000)
    if height_mm <= diameter_mm / 2:
        assert height_mm / 3000 - 1e-12 <= modulus <= height_mm / 2000
    assert 0 < curvature * 1e-3 <= 2 / min(diameter_mm, height_mm)


@settings(max_examples=15)
@given(st.floats(10, 40), st.floats(3, 15))
def test_a_higher_dome_of_the_studio_s_takes_longer_to_freeze(dome_mm, height_mm):
    flat, high = (
        run(studio=Studio(bases=(Base(dome_diameter_mm=dome_mm, dome_height_mm=h),))).pour for h in (height_mm, height_mm + 2)
    )
    assert flat.button_solid_s <= high.button_solid_s
