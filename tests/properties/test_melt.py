"""What must hold of any charge and any pair of temperatures."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.materials.studio import Melting
from pourwell.steps.melt.plan import charge, temperatures
from tests.unit.burnout.case import library, run

ALLOYS = st.sampled_from(sorted(library().alloys))
GRAMS = st.floats(0.5, 2000)
WALLS = st.floats(0.1, 12)


def mould(name):
    return library().investment("gypsum-standard" if library().alloy(name).mould == "gypsum" else "phosphate")


@given(ALLOYS, GRAMS, st.floats(0.9, 1.0), st.floats(1.0, 1.1), st.floats(0, 1), st.booleans())
def test_a_charge_is_enough_adds_up_and_keeps_its_fineness(name, metal_g, low, high, returns, own):
    alloy = library().alloy(name)
    made = charge(
        metal_g,
        low_g=metal_g * low,
        high_g=metal_g * high,
        alloy=alloy,
        melting=Melting(),
        returns_fraction=returns,
        own_alloying=own,
        library=library(),
    )
    assert made.total_g * (1 - alloy.melt_loss_fraction.value) >= metal_g - 1e-6
    assert made.total_g - metal_g < 0.02 * metal_g + 0.2 + alloy.melt_loss_fraction.value * metal_g
    assert made.low_g <= made.total_g <= made.high_g
    assert made.fresh_g + made.returns_g == pytest.approx(made.total_g)
    assert made.returns_g <= returns * made.total_g + 1e-9
    if made.parts_g:
        assert sum(made.parts_g.values()) == pytest.approx(made.fresh_g, abs=1e-6)
        assert min(made.parts_g.values()) >= 0
    if made.fine:
        assert made.fine_g + made.master_g == pytest.approx(made.fresh_g, abs=1e-6)


@given(ALLOYS, WALLS, WALLS)
def test_a_thicker_wall_never_gets_hotter_metal_or_a_hotter_flask(name, one, other):
    ask = {"investment": mould(name), "library": library()}
    thin, thick = (temperatures(library().alloy(name), section_mm=w, **ask) for w in sorted((one, other)))
    assert thick.metal_c <= thin.metal_c
    assert thick.flask_c <= thin.flask_c


@given(ALLOYS, WALLS)
def test_every_figure_lies_in_its_own_band_over_the_liquidus_and_under_what_the_mould_stands(name, wall_mm):
    made = temperatures(library().alloy(name), investment=mould(name), section_mm=wall_mm, library=library())
    assert made.metal_low_c <= made.metal_c <= made.metal_high_c
    assert made.flask_low_c <= made.flask_c <= made.flask_high_c
    assert made.metal_c >= made.liquidus_c + 30
    assert made.metal_c <= mould(name).metal_max_c.value
    assert made.flask_c <= mould(name).peak_c.value


@settings(max_examples=settings().max_examples // 4)
@given(st.floats(850, 1200), st.floats(20, 800))
def test_any_figures_of_the_user_give_a_plan_with_its_findings(metal_c, flask_c):
    made = run(metal_c=metal_c, flask_c=flask_c)
    assert (made.temperatures.metal_c, made.temperatures.flask_c) == (metal_c, flask_c)
    assert made.programme.segments[-1].target_c == flask_c
    in_band = 950 <= metal_c <= 990 and 510 <= flask_c <= 565
    invited = {"metal-hot", "metal-cold", "metal-not-liquid", "metal-over-mould", "flask-hot", "flask-cold", "flask-over-peak"}
    assert bool(invited & set(made.codes)) != in_band
