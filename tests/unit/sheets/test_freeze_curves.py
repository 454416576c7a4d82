"""The cooling curves of the freezing page."""

from dataclasses import replace

import numpy as np
import pytest

from pourwell.sheets.display import Display
from pourwell.sheets.freeze_curves import BEYOND, MOST_TICKS, curves_view, told_place
from tests.unit.freeze.made import clock, freezing, pool, spell
from tests.unit.sheets.frozen import block

METRIC, IMPERIAL = Display("metric"), Display("imperial")


def curves(*clocks, show=METRIC, fields=None, **given):
    return curves_view(freezing(*clocks, **given), fields or block(), show=show)


def height(got, y):
    """What a share of the plot's height reads."""
    low, high = (float(got["levels"][k]["label"]) for k in (0, -1))
    return low + y * (high - low)


def test_the_piece_of_the_worst_pool_is_told_else_the_one_that_needs_feed_longest():
    assert told_place(freezing(clock(1), clock(2, section=30.0), pools=(pool(1, 1),))) == 1
    assert told_place(freezing(clock(1), clock(2, section=30.0), clock(3))) == 2


def test_the_piece_its_sprue_the_stem_and_the_button_are_drawn():
    lines = curves(clock(1), clock(2, section=30.0))["lines"]
    assert [line["style"] for line in lines] == ["piece", "sprue", "stem", "button"]
    assert [line["says"] for line in lines] == ["piece 2, its thickest place", "sprue 2, middle", "stem", "button, middle"]


def test_number_one_is_not_number_eleven():
    fields = replace(block(), curve_names=("piece 11 A", "sprue 11", "piece 1 A", "sprue 1", "stem", "button", "mould at the wall"))
    (piece, *_) = curves(clock(1), fields=fields)["lines"]
    got = curves(clock(1), fields=fields)
    assert height(got, piece["points"][10][1]) == pytest.approx(980 - 10 * 10 / 3, abs=0.5), "the third curve"


def test_a_line_goes_through_what_was_read():
    got = curves(clock(1))
    ends = 68.0 * BEYOND
    (x, y) = got["lines"][0]["points"][20]
    assert x == pytest.approx(20 / ends, abs=1e-4)
    assert height(got, y) == pytest.approx(780.0, abs=0.1)
    assert got["lines"][0]["points"][-1][0] == pytest.approx(1.0)


def test_liquidus_and_solidus_are_lines_with_their_names():
    got = curves()
    assert [mark["says"] for mark in got["marks"]] == ["liquidus 896 °C", "solidus 779 °C"]
    assert [height(got, mark["y"]) for mark in got["marks"]] == pytest.approx([896, 779])
    assert curves(show=IMPERIAL)["marks"][1]["says"] == "solidus 1434 °F"


def test_a_pure_metal_has_one_line():
    (mark,) = curves(liquidus_c=961.8, solidus_c=961.7)["marks"]
    assert mark["says"] == "freezes at 962 °C"


def test_the_moment_at_which_a_place_is_solid_is_marked():
    """The first curve falls 10 K a second from 980: it passes 779 after 20.1 s."""
    lines = curves(clock(1))["lines"]
    assert lines[0]["solid"] == pytest.approx(20.1 / (68.0 * BEYOND), rel=5e-3)
    assert lines[3]["solid"] is None, "the button's curve does not come there within the plot"


def test_a_standing_temperature_that_wobbles_is_not_yet_solid():
    fields = block()
    held = np.array(fields.curve_c)
    held[:, 0] = np.where(fields.curve_s < 40, 778.6, 700.0)
    held[0, 0] = 980
    (piece, *_) = curves(clock(1), fields=replace(fields, curve_c=held.astype(np.float32)))["lines"]
    assert piece["solid"] == pytest.approx(39 / (68.0 * BEYOND), rel=0.03)


def test_the_band_lies_round_the_pieces_line():
    got = curves(clock(1))
    upper, lower = got["band"][: len(got["band"]) // 2], got["band"][len(got["band"]) // 2 :][::-1]
    middle = got["lines"][0]["points"]
    assert len(upper) == len(lower) == len(middle)
    assert all(low[1] < mid[1] < high[1] for low, mid, high in zip(lower, middle, upper, strict=True))


def test_a_run_that_has_ended_does_not_break_the_band():
    fields = block()
    cut = np.where(fields.curve_s[:, None] > 50, np.nan, fields.curve_low_c).astype(np.float32)
    assert all(np.isfinite(point).all() for point in curves(clock(1), fields=replace(fields, curve_low_c=cut))["band"])


@pytest.mark.parametrize(("button", "unit"), [(20.0, "s"), (68.0, "s"), (400.0, "min"), (1500.0, "min")])
def test_time_is_told_in_few_ticks_in_seconds_or_minutes(button, unit):
    got = curves(button=spell(button))
    assert got["clock"] == unit
    assert 3 <= len(got["ticks"]) <= MOST_TICKS + 1
    assert got["ticks"][0] == {"x": 0.0, "label": "0"}
    assert all(0 <= tick["x"] <= 1 for tick in got["ticks"])


def test_levels_are_round_in_the_readers_degrees_and_hold_all_that_is_drawn():
    for show, step in ((METRIC, 50), (IMPERIAL, 100)):
        got = curves(show=show)
        labels = [int(level["label"]) for level in got["levels"]]
        assert set(np.diff(labels)) == {step}
        assert all(0 <= mark["y"] <= 1 for mark in got["marks"])
        assert got["lines"][0]["points"][0][1] <= 1
    assert curves()["unit"] == "°C"
