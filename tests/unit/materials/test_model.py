"""The form of a row: what a value must say, what a studio may write short."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from pourwell.materials.model import Alloy, Curve, FlaskRow, Grade, PatternMaterial, Programme, Quantity

DENSITY = {"value": 1.1, "low": 1.0, "high": 1.2, "unit": "g/cm3", "source": "x", "grade": "handbook"}
RESIN = {"id": "r", "name": "r", "family": "resin"}


def pattern(density, *, own=False, **more):
    return PatternMaterial.model_validate({**RESIN, "density_g_per_cm3": density, **more}, context={"own": own})


def test_a_value_knows_the_ends_of_its_range():
    assert pattern(DENSITY).density_g_per_cm3.ends == (1.0, 1.2)
    assert pattern({k: v for k, v in DENSITY.items() if k not in ("low", "high")}).density_g_per_cm3.ends == (1.1, 1.1)


@pytest.mark.parametrize("ends", [{"low": 1.15}, {"high": 1.05}, {"low": 1.3, "high": 1.2}])
def test_a_range_out_of_order_is_refused(ends):
    with pytest.raises(ValidationError, match="out of order"):
        pattern({**DENSITY, **ends})


@pytest.mark.parametrize("key", ["unit", "source", "grade", "value"])
def test_a_shipped_value_must_say_everything(key):
    with pytest.raises(ValidationError, match="Field required"):
        pattern({k: v for k, v in DENSITY.items() if k != key})


def test_a_shipped_value_may_not_be_a_bare_number():
    with pytest.raises(ValidationError):
        pattern(1.1)


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_no_value_is_infinite_or_no_number(value):
    with pytest.raises(ValidationError, match="finite"):
        pattern(value, own=True)


def test_a_bare_number_of_a_studio_is_its_own_figure_in_the_unit_of_the_key():
    density = pattern(1.17, own=True).density_g_per_cm3
    assert density == Quantity(value=1.17, unit="g/cm3", source="studio", grade=Grade.SUPPLIER)


def test_a_studio_may_give_a_range_without_unit_and_source():
    density = pattern({"value": 1.17, "low": 1.15, "high": 1.2}, own=True).density_g_per_cm3
    assert (density.ends, density.unit, density.source) == ((1.15, 1.2), "g/cm3", "studio")


@pytest.mark.parametrize("given", ["1.17", True, [1.17]])
def test_a_figure_that_is_no_number_is_refused_in_words(given):
    with pytest.raises(ValidationError, match="is not a number; write one in g/cm3"):
        pattern(given, own=True)


def test_a_unit_other_than_the_suffix_says_is_refused():
    with pytest.raises(ValidationError, match='given in "kg/m3" but the key ends in the suffix for "g/cm3"'):
        pattern({**DENSITY, "unit": "kg/m3"})


def test_an_unknown_key_is_refused():
    with pytest.raises(ValidationError, match="Extra inputs"):
        pattern(DENSITY, densty=1.0)


def test_a_studio_may_write_a_bare_sentence():
    words = pattern(1.1, own=True, cautions=["Mind the bag."]).cautions[0]
    assert (words.text, words.source, words.grade) == ("Mind the bag.", "studio", Grade.SUPPLIER)
    with pytest.raises(ValidationError):
        pattern(DENSITY, cautions=["Mind the bag."])


def test_a_row_cannot_be_changed():
    row = pattern(DENSITY)
    with pytest.raises(ValidationError, match="frozen"):
        row.name = "other"


def curve(*points):
    return Curve(table=points, x_unit="mm", unit="min", source="x", grade=Grade.PRACTICE)


def test_a_curve_runs_straight_between_its_points_and_level_beyond():
    holds = curve((50, 60), (100, 120))
    assert [holds.at(x) for x in (10, 50, 75, 100, 500)] == [60, 60, 90, 120, 120]


@given(
    st.lists(st.tuples(st.integers(0, 200), st.integers(0, 600)), min_size=1, max_size=6, unique_by=lambda p: p[0]),
    st.floats(-50, 300),
)
def test_a_curve_never_leaves_the_range_of_its_points(points, x):
    points = sorted(points)
    values = [y for _, y in points]
    assert min(values) - 1e-9 <= curve(*points).at(x) <= max(values) + 1e-9


@pytest.mark.parametrize("points", [(), ((2, 1), (1, 1)), ((1, 1), (1, 2))])
def test_a_curve_must_ascend(points):
    with pytest.raises(ValidationError, match="ascend"):
        curve(*points)


@pytest.mark.parametrize(
    ("recipe", "reason"),
    [
        ({"ag": 92.5}, "not the symbol of an element"),
        ({"Silver": 92.5}, "not the symbol of an element"),
        ({"Ag": 0}, "must lie above 0"),
        ({"Ag": -1}, "must lie above 0"),
        ({"Ag": 101}, "not above 100"),
        ({}, "names no element"),
    ],
)
def test_a_recipe_that_is_none_is_refused(recipe, reason):
    with pytest.raises(ValidationError, match=reason):
        Alloy.__pydantic_validator__.validate_assignment(Alloy.model_construct(), "composition_percent", recipe)


def test_a_programme_of_a_studio_is_a_few_numbers():
    """The maker's schedule as it stands on the bag: level, ramp, hold."""
    steps = [{"target_c": 150, "ramp_c_per_h": 100, "hold_min": 120}, {"target_c": "flask", "ramp_c_per_h": 120, "hold_min": 60}]
    programme = Programme.model_validate({"id": "bag", "name": "from the bag", "steps": steps}, context={"own": True})
    first = programme.steps[0]
    assert (first.hold_min.at(40), first.hold_min.at(130), first.hold_min.unit, first.ramp_c_per_h.unit) == (120, 120, "min", "K/h")
    assert programme.source == "studio"


def test_a_programme_without_steps_is_refused():
    with pytest.raises(ValidationError, match="at least 1 item"):
        Programme.model_validate({"id": "bag", "name": "from the bag", "steps": []}, context={"own": True})


@pytest.mark.parametrize(
    ("row", "name"),
    [
        ({"diameter_mm": 70.2, "height_mm": 90}, "70x90"),
        ({"diameter_mm": 70, "height_mm": 90, "perforated": True}, "70x90-perforated"),
        ({"diameter_mm": 70, "height_mm": 90, "id": "mine"}, "mine"),
    ],
)
def test_a_flask_without_an_id_is_called_by_its_size(row, name):
    assert FlaskRow.model_validate({**row, "wall_mm": 2}).id == name


def test_a_flask_without_size_is_refused():
    with pytest.raises(ValidationError):
        FlaskRow.model_validate({"wall_mm": 2})
