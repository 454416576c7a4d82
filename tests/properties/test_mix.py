"""What must hold of any mix: a larger flask never takes less, powder and water keep their ratio, the bowl never boils over."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.errors import BadRequestError
from pourwell.materials.studio import Studio
from pourwell.steps.flask.plan import mix, parse_flask
from tests.unit.burnout.case import altered, flask_of, library

DIAMETERS = st.floats(30, 130)
HEIGHTS = st.floats(30, 220)
SECTIONS = st.sampled_from(["thin", "medium", "heavy"])
GRADES = st.sampled_from(sorted(library().investments))


def mixed(diameter_mm, height_mm, *, section="medium", grade="gypsum-standard", **more):
    investment = library().investment(grade) if isinstance(grade, str) else grade
    studio = Studio(**more)
    return mix(
        flask_of(diameter_mm, height_mm, studio=studio), investment=investment, section=section, studio=studio, library=library()
    )


@given(DIAMETERS, st.floats(0, 100), HEIGHTS, st.floats(0, 100), SECTIONS, GRADES)
def test_a_larger_flask_never_takes_less(diameter_mm, wider_mm, height_mm, taller_mm, section, grade):
    small = mixed(diameter_mm, height_mm, section=section, grade=grade)
    large = mixed(min(130, diameter_mm + wider_mm), height_mm + taller_mm, section=section, grade=grade)
    for figure in ("powder_g", "water_g", "water_ml", "bowl_cm3", "collar_mm", "set_h"):
        assert getattr(large, figure) >= getattr(small, figure), figure


@given(DIAMETERS, HEIGHTS, SECTIONS, GRADES)
def test_powder_and_water_keep_the_ratio_to_what_a_scale_shows(diameter_mm, height_mm, section, grade):
    made = mixed(diameter_mm, height_mm, section=section, grade=grade)
    step = 0.5 if made.powder_g <= 100 else 1.0
    assert abs(made.water_g - made.powder_g * made.ratio_g_per_100_g / 100) <= step / 2 + 1e-9


@given(DIAMETERS, HEIGHTS, SECTIONS, GRADES)
def test_the_slurry_always_fills_the_empty_flask_with_four_percent_to_spare(diameter_mm, height_mm, section, grade):
    made = mixed(diameter_mm, height_mm, section=section, grade=grade)
    volume = math.pi / 4 * diameter_mm**2 * height_mm / 1000
    assert 1.04 * volume < made.slurry_cm3 <= 1.13 * volume + 3
    assert made.bowl_cm3 >= 3 * made.slurry_cm3 - 0.5


@given(DIAMETERS, HEIGHTS, st.floats(34, 44))
def test_more_water_in_the_ratio_means_less_powder_for_the_same_flask(diameter_mm, height_mm, ratio):
    less = altered(library().investment("gypsum-standard"), water_g_per_100_g=ratio)
    more = altered(library().investment("gypsum-standard"), water_g_per_100_g=ratio + 2)
    assert mixed(diameter_mm, height_mm, grade=more).powder_g <= mixed(diameter_mm, height_mm, grade=less).powder_g


@given(st.floats(6, 20), st.booleans(), st.booleans())
def test_the_clock_never_runs_backwards_and_always_ends_before_the_gloss(gloss_off_min, bowl, flask):
    bag = altered(library().investment("gypsum-standard"), gloss_off_min=gloss_off_min)
    made = mixed(76, 100, grade=bag, investing_vacuum={"bowl": bowl, "flask": flask})
    moments = [t for step in made.clock for t in (step.at_s, step.until_s)]
    assert moments == sorted(moments)
    assert made.clock[0].at_s == 0
    finish = next(s for s in made.clock if s.key == "finish")
    assert finish.at_s == pytest.approx(60 * made.finish_min, abs=3)
    assert finish.at_s < 60 * gloss_off_min


@given(st.integers(20, 300), st.integers(20, 300))
def test_any_size_in_whole_millimetres_is_a_flask(diameter_mm, height_mm):
    row = parse_flask(f"{diameter_mm}x{height_mm}", Studio(), library())
    assert abs(row.diameter_mm - diameter_mm) <= 0.5
    assert abs(row.height_mm - height_mm) <= 0.5


@given(st.text(max_size=30))
def test_reading_a_flask_never_fails_in_another_way_than_a_sentence(text):
    try:
        across_mm = parse_flask(text, Studio(), library()).diameter_mm
    except BadRequestError as refused:
        across_mm = None
        said = str(refused)
    assert 20 <= across_mm <= 300 if across_mm is not None else "no flask" in said
