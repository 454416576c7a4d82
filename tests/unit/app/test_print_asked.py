"""What is asked of a print in words: directions as people write them, layers as printers have them, times as they are said."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from pourwell.app.gear import PRINTER
from pourwell.app.print_asked import LAYER, direction_of, hours, numbers, points_somewhere
from pourwell.app.typed import NotYetError, number
from pourwell.errors import BadRequestError
from pourwell.materials.studio import Printer

UNITS = st.floats(-1, 1).map(lambda value: round(value, 3))


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("0;0;1", (0, 0, 1)),
        ("0,5; 0; 1", (0.5, 0, 1)),
        ("-0,25;1.5;\u22122", (-0.25, 1.5, -2)),
        (" 1e-1 , 0, 1", (0.1, 0, 1)),
    ],
)
def test_a_direction_may_have_decimal_commas_between_semicolons(text, found):
    assert direction_of(text) == pytest.approx(found)


@pytest.mark.parametrize("text", ["0,5 0 1", "0,0,5,1", "0;0", "0;0;1;2", ";;", "0;up;1", "z"])
def test_what_is_not_three_numbers_is_refused_with_an_example(text):
    with pytest.raises(BadRequestError, match="is no direction") as caught:
        direction_of(text)
    assert "0,0,1" in caught.value.try_this


@given(UNITS, UNITS, UNITS)
def test_a_direction_that_is_told_is_the_one_that_is_asked_for(x, y, z):
    """Rows and tables of ways say a direction so that it can be typed: to a thousandth it is the same."""
    told = numbers((x, y, z))
    assert direction_of(told) == (x, y, z)
    assert "-0.000" not in told, "no minus before nothing"


@pytest.mark.parametrize(
    ("direction", "somewhere"),
    [((0, 0, 1), True), ((0, 0, -1e-9), True), ((0, 0, 0), False), ((float("nan"), 0, 1), False), ((0, float("inf"), 1), False)],
)
def test_a_direction_without_length_points_nowhere(direction, somewhere):
    assert points_somewhere(direction) is somewhere


def test_a_layer_in_a_field_is_one_that_the_equipment_takes_and_so_does_the_file_of_the_studio():
    asked = next(one for one in PRINTER if one.key == ("layer_mm",))
    assert asked.span == LAYER
    assert Printer(layer_mm=LAYER.low).layer_mm == LAYER.low
    assert Printer(layer_mm=LAYER.high).layer_mm == LAYER.high
    with pytest.raises(ValidationError):
        Printer(layer_mm=LAYER.high + 1e-6)


@pytest.mark.parametrize(("text", "layer_mm"), [("0.05", 0.05), ("0,05", 0.05), ("0.002 in", 0.0508), ("0.5 mm", 0.5)])
def test_a_layer_is_read_with_patience(text, layer_mm):
    """An inch is 25.4 mm by definition."""
    assert number(text, LAYER) == pytest.approx(layer_mm)


@pytest.mark.parametrize("text", ["0", "-0.05", "0.6", "1 in", "thin", "nan", "50 g"])
def test_a_layer_that_no_printer_makes_is_refused_with_the_range(text):
    with pytest.raises(NotYetError, match=r"Enter 0\.005 to 0\.5 mm"):
        number(text, LAYER)


@given(st.floats(0, 20_000))
def test_a_time_says_minutes_below_sixty_and_is_within_half_a_minute(minutes):
    said = hours(minutes)
    whole, _, part = said.rpartition(" h ")
    rest = int((part or said).removesuffix(" min"))
    assert 0 <= rest < 60
    assert abs(60 * int(whole or 0) + rest - minutes) <= 0.5
