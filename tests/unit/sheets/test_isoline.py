"""Lines of one value in a raster, against circles and straight lines."""

from math import pi

import numpy as np
import pytest

from pourwell.sheets.isoline import isolines

FLAT = np.zeros((60, 80))


def lengths(lines) -> float:
    return float(np.hypot(*(lines[:, 2:] - lines[:, :2]).T).sum())


def test_a_cone_has_circles():
    rows, columns = np.indices((60, 80)) + 0.5
    away = np.hypot(rows - 30, columns - 40)
    lines = isolines(away, level=20.0, depth_mm=FLAT, step_mm=1.0)
    assert np.hypot(lines[:, 0] - 40, lines[:, 1] - 30) == pytest.approx(np.full(len(lines), 20.0), abs=0.02)
    assert lengths(lines) == pytest.approx(40 * pi, rel=0.002)


def test_a_slope_has_a_straight_line_from_edge_to_edge():
    columns = np.indices((60, 80))[1] + 0.5
    lines = isolines(columns.astype(float), level=33.3, depth_mm=FLAT, step_mm=1.0)
    assert lines[:, [0, 2]] == pytest.approx(33.3)
    assert lengths(lines) == pytest.approx(59)


def test_a_saddle_has_two_lines_in_its_square():
    values = np.array([[1.0, 0.0], [0.0, 1.0]])
    lines = isolines(values, level=0.5, depth_mm=np.zeros((2, 2)), step_mm=1.0)
    assert len(lines) == 2
    assert lengths(lines) == pytest.approx(2 * np.hypot(0.5, 0.5))


def test_no_line_where_something_is_not_known_or_lies_behind():
    columns = np.indices((60, 80))[1] + 0.5
    values = columns.astype(float)
    values[:30] = np.nan
    assert lengths(isolines(values, level=33.3, depth_mm=FLAT, step_mm=1.0)) == pytest.approx(29)
    step = np.where(columns > 33, 5.0, 0.0)
    assert not len(isolines(columns.astype(float), level=33.3, depth_mm=step, step_mm=1.0))
    assert not len(isolines(columns.astype(float), level=33.3, depth_mm=np.full((60, 80), np.inf), step_mm=1.0))


@pytest.mark.parametrize("level", [-1.0, 99.0])
def test_what_lies_all_on_one_side_has_no_line(level):
    assert isolines(FLAT + 5, level=level, depth_mm=FLAT, step_mm=1.0).shape == (0, 4)


def test_what_is_under_a_level_lies_on_one_side_of_its_line():
    """Each line's ends lie between two pixels of which one is under the level and the other is not."""
    random = np.random.default_rng(8)
    values = random.uniform(0, 1, (30, 40))
    lines = isolines(values, level=0.6, depth_mm=np.zeros((30, 40)), step_mm=1.0)
    assert len(lines) > 100
    for x, y in lines.reshape(-1, 2) - 0.5:
        low = values[int(np.floor(y + 1e-9)), int(np.floor(x + 1e-9))]
        high = values[int(np.ceil(y - 1e-9)), int(np.ceil(x - 1e-9))]
        assert min(low, high) <= 0.6 <= max(low, high)


def test_turning_values_over_leaves_the_lines_but_for_saddles():
    rows, columns = np.indices((60, 80)) + 0.5
    away = np.hypot(rows - 30, columns - 40)
    one = isolines(away, level=20.0, depth_mm=FLAT, step_mm=1.0)
    other = isolines(-away, level=-20.0, depth_mm=FLAT, step_mm=1.0)
    assert lengths(one) == pytest.approx(lengths(other))


@pytest.mark.parametrize("hole", [np.nan, np.inf, -np.inf])
def test_a_single_unknown_pixel_breaks_the_line_over_its_four_squares_alone(hole):
    columns = np.indices((60, 80))[1] + 0.5
    values = columns.astype(float)
    values[30, 33] = hole
    assert lengths(isolines(values, level=33.3, depth_mm=FLAT, step_mm=1.0)) == pytest.approx(59 - 2)


def test_a_raster_too_small_for_a_square_has_no_line():
    assert isolines(np.array([[0.0, 1.0]]), level=0.5, depth_mm=np.zeros((1, 2)), step_mm=1.0).shape == (0, 4)
