"""A size by hand: in every system, on a wide band, and with a gauge that is wide itself."""

import math

import pytest

from pourwell.app.ring_sizes import on_a_band, size_rows
from pourwell.errors import BadRequestError
from pourwell.materials.library import load_library
from pourwell.steps.pattern.sizes import diameter_of
from pourwell.steps.pattern.wide_bands import wide_around

US_7 = 17.32


def band(width_mm, **more):
    return on_a_band(US_7, width_mm, **{"comfort": False, **more})


def test_a_size_stands_in_every_system_with_its_diameter_and_circumference():
    """ISO 8653: the size is the inside circumference in mm; so 54 is 54 / pi mm across. Swiss: less 40."""
    rows = {name: figure for name, figure, _ in size_rows(diameter_of("ISO 54"))}
    assert rows["inside circumference"] == "54.0 mm"
    assert rows["inside diameter"] == f"{54 / math.pi:.2f} mm"
    assert (rows["ISO 8653"], rows["Switzerland, Italy, Spain"]) == ("54", "14")
    assert set(rows) >= {"US, Canada", "UK, Ireland, Australia", "Japan"}


def test_a_gauge_as_wide_as_the_band_tells_the_size_itself():
    """Common practice, no source: best is a gauge as wide as the band."""
    for width in (3.0, 6.0, 8.0, 20.0):
        same = band(width, gauge_mm=width)
        assert (same.around_mm, same.around_low_mm, same.around_high_mm) == (0, 0, 0)
        assert same.diameter_mm == US_7


def test_what_a_wide_gauge_has_taken_is_less_to_add():
    """From 4 mm on 0.38 mm around for every mm (rules/pattern.toml): from a gauge of 6 to a band of 8 mm that is 2 x 0.38."""
    assert band(8, gauge_mm=6).around_mm == pytest.approx(2 * 0.38)
    assert band(8, gauge_mm=3).around_mm == band(8).around_mm == pytest.approx(4 * 0.38)
    assert band(4, gauge_mm=7).around_mm == pytest.approx(-3 * 0.38), "a narrow band sits looser than a wide gauge"


@pytest.mark.parametrize("comfort", [False, True])
@pytest.mark.parametrize("gauge_mm", [0.0, 3.0, 5.5, 8.0, 12.0])
@pytest.mark.parametrize("width_mm", [2.0, 4.5, 8.0, 15.0])
def test_the_band_of_what_is_known_holds_the_value(width_mm, gauge_mm, comfort):
    value, low, high = wide_around(width_mm, load_library(), comfort=comfort, gauge_mm=gauge_mm)
    assert low <= value <= high


@pytest.mark.parametrize("gauge_mm", [-1.0, 41.0, math.nan])
def test_a_gauge_that_nobody_has_is_refused(gauge_mm):
    with pytest.raises(BadRequestError, match="No gauge is"):
        band(8, gauge_mm=gauge_mm)


def test_a_row_says_what_the_band_wants():
    ((name, figure, remark),) = band(8, gauge_mm=8).rows
    assert (name, figure) == ("a band of 8 mm", "+0.0 mm")
    assert "US 7," in remark
