"""Time to print by hand: layers, the first layers, rounding."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.materials.studio import Printer
from pourwell.steps.pattern.print_time import print_time

PLAIN = Printer(layer_mm=0.05, light_s=2.0, lift_s=8.0, bottom_layers_count=4, bottom_light_s=32.0, stand_mm=5.0)
heights = st.floats(0.05, 80.0, allow_nan=False)
layers = st.sampled_from([0.01, 0.02, 0.025, 0.03, 0.05, 0.1])


def with_(**more):
    return Printer(**{**PLAIN.model_dump(), **more})


def test_by_hand():
    """10 mm and 5 mm of supports in layers of 0.05: 300 of 10 s, and four with 30 s more: 3,120 s."""
    told = print_time(10.0, PLAIN)
    assert (told.layer_mm, told.layers_count, told.bottom_layers_count) == (0.05, 300, 4)
    assert told.print_min == pytest.approx(52.0)


def test_a_print_lower_than_its_first_layers_has_only_those():
    told = print_time(0.1, with_(stand_mm=0.0))
    assert (told.layers_count, told.bottom_layers_count) == (2, 2)
    assert told.print_min == pytest.approx(2 * 40 / 60)


def test_without_first_layers_all_take_the_same():
    told = print_time(10.0, with_(bottom_layers_count=0))
    assert told.print_min == pytest.approx(300 * 10 / 60)


def test_a_part_of_a_layer_is_a_layer():
    assert print_time(10.01, PLAIN).layers_count == 301
    assert print_time(10.049, PLAIN).layers_count == 301


@pytest.mark.parametrize("height", [5.3, 12.35, 33.3, 98.7])
@pytest.mark.parametrize("layer_mm", [0.02, 0.025, 0.05, 0.1])
def test_what_single_precision_adds_to_a_height_is_no_layer(height, layer_mm):
    """A binary STL file holds 5.3 as 5.3000002."""
    exact = print_time(height, with_(layer_mm=layer_mm)).layers_count
    for read in (float(np.float32(height)), height * (1 + 6e-8), height * (1 - 6e-8)):
        assert print_time(read, with_(layer_mm=layer_mm)).layers_count == exact


@given(height=heights, layer_mm=layers)
def test_the_layers_reach_the_top_and_not_a_layer_more(height, layer_mm):
    count = print_time(height, with_(layer_mm=layer_mm)).layers_count
    assert (count - 1) * layer_mm < height + 5.0 <= (count + 1.001e-3) * layer_mm


@given(height=heights, more=st.floats(0.0, 20.0), layer_mm=layers)
def test_higher_takes_no_less_and_thinner_layers_take_no_less(height, more, layer_mm):
    assert print_time(height + more, with_(layer_mm=layer_mm)).print_min >= print_time(height, with_(layer_mm=layer_mm)).print_min
    assert print_time(height, with_(layer_mm=layer_mm / 2)).print_min >= print_time(height, with_(layer_mm=layer_mm)).print_min


def test_supports_count_as_height():
    assert print_time(10.0, PLAIN) == print_time(13.0, with_(stand_mm=2.0))
