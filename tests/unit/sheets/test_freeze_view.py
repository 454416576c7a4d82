"""The freezing page: its words, its section and its bands."""

import base64
import io
import re

import numpy as np
import pytest
from PIL import Image

from pourwell.sheets.display import Display
from pourwell.sheets.freeze_view import LINE, PX_MM, SHADES, bands, freeze_view, legend, section, shaded
from pourwell.steps.freeze.model import Fields
from tests.unit.freeze.made import change, clock, freezing, pool

METRIC, IMPERIAL = Display("metric"), Display("imperial")


def block_of(count=12, edge=1.0, time=lambda p: 5 + p[:, 2]):
    """A block of cubes about the axis, `count` high and five wide, whose times follow from their places."""
    axis = (np.arange(5) - 2) * edge
    centre = np.stack(np.meshgrid(axis, axis, 10 + edge * np.arange(count), indexing="ij"), axis=-1).reshape(-1, 3)
    n = len(centre)
    end = time(centre).astype(np.float32)
    flat = np.zeros(n, dtype=np.float32)
    return Fields(
        centre_mm=centre,
        size_mm=np.full(n, edge, dtype=np.float32),
        body=np.zeros(n, dtype=np.int32),
        begin_s=end / 2,
        end_s=end,
        rate_k_per_s=flat,
        gradient_k_per_mm=flat.copy(),
        niyama=flat.copy(),
        pool=np.zeros(n, dtype=np.int32),
        solid_fraction=np.array([0.0, 1.0], dtype=np.float32),
        passed_s=np.stack([end / 2, end], axis=1),
        curve_s=np.zeros(1, dtype=np.float32),
        curve_c=np.zeros((1, 1), dtype=np.float32),
        curve_names=("stem",),
        bodies=("stem",),
    )


def view(*clocks, show=METRIC, **given):
    return freeze_view(freezing(*clocks, **given), block_of(), show=show)


def test_the_verdict_stands_as_a_sentence_and_each_sprue_as_a_row():
    got = view(clock(1), clock(2, "B", "cut off", sprue=14.2, section=23.6, void=(1.0, 3.4)))
    assert got["verdict"] == "Piece 2 is cut off from the metal before it is solid."
    fed, lost = got["rows"]
    assert (fed["number"], fed["piece"], fed["sprue"], fed["section"]) == ("1", "A", "9 s", "8 s")
    assert (fed["verdict"], fed["missed"]) == ("fed", "")
    assert (lost["verdict"], lost["missed"]) == ("CUT OFF", "1.0 to 3.4 mm³ missed")
    assert lost["sprue_band"] == "10 s to 21 s"


def test_what_was_tried_is_told_with_what_it_gave_in_the_readers_units():
    tried = (change(helps=False, after=1.8), change(does="Pour into a flask at {t:450}."))
    assert [t["gave"] for t in view(changes=tried)["tried"]] == ["1.8 mm³ missed instead of 2.1", "stays fed"]
    assert view(changes=tried)["tried"][1]["does"].replace("\u00a0", " ") == "Pour into a flask at 450 °C."
    assert view(changes=tried, show=IMPERIAL)["tried"][1]["does"].replace("\u00a0", " ") == "Pour into a flask at 842 °F."


def test_button_glow_and_outside_have_their_bands():
    got = view()
    assert got["button"] == ["1 min", "53 s to 1.5 min"]
    assert got["dark"] == ["8 min", "7 min to 11 min"]
    assert got["outside"] == "418 to 436 °C"
    assert view(show=IMPERIAL)["outside"].endswith("°F")


def test_the_grid_and_what_is_not_computed_are_told():
    assert view()["grid"] == "Draft: cells of 1.00 mm. Not computed: filling; gas."
    assert view(fine=True)["grid"].startswith("Fine: ")


def test_pools_are_numbered_in_picture_and_words():
    got = view(clock(2, "B", "cut off"), pools=(pool(1, 2, at_mm=(0.0, 1.0, 15.0)),))
    (spot,) = got["spots"]
    assert spot["says"] == "1"
    assert got["pools"] == ["1: piece 2, 19 mm from its sprue; the way to it shuts after 7 s, it is solid after 10 s"]
    picture = got["picture"]
    assert 0 < spot["x"] < picture["width"]
    assert 0 < spot["y"] < picture["height"]


def test_the_section_is_cut_toward_the_first_pool():
    """A pool at +x lies right of the axis, as far from it as it is."""
    got = view(pools=(pool(1, 2, at_mm=(2.0, 0.0, 12.0)),))
    (spot,) = got["spots"]
    assert spot["x"] - got["picture"]["width"] / 2 == pytest.approx(2.0, abs=PX_MM)


def test_times_of_the_section_are_those_of_the_cells_and_nothing_lies_outside():
    cut = section(block_of(), toward=(1.0, 0.0))
    rows, columns = cut.times_s.shape
    metal = np.isfinite(cut.times_s)
    assert metal.sum() * PX_MM**2 == pytest.approx(5.2 * 12.2, rel=0.03), "five by twelve cells with a tenth of slack round them"
    middle = cut.times_s[:, columns // 2]
    z = cut.top_mm - PX_MM * (np.arange(rows) + 0.5)
    inner = np.isfinite(middle) & (z > 11) & (z < 20)
    assert middle[inner] == pytest.approx(5 + z[inner], abs=0.4)
    assert not metal[:, 0].any()


def test_a_cut_at_an_angle_shows_the_other_plane():
    wide = section(block_of(time=lambda p: 10 + p[:, 1]), toward=(0.0, 1.0))
    row = wide.times_s[wide.times_s.shape[0] // 2]
    seen = row[np.isfinite(row)]
    assert seen[-1] - seen[0] == pytest.approx(4.0, abs=0.6), "it rises along y, two cells to each side"
    across = section(block_of(time=lambda p: 10 + p[:, 1]), toward=(1.0, 0.0))
    assert np.nanmax(across.times_s) - np.nanmin(across.times_s) < 2.5
    assert (wide.azimuth_deg, across.azimuth_deg) == (0.0, 90.0)


def test_bands_grow_by_one_ratio_from_first_to_last():
    edges = bands(np.array([[np.nan, 2.0], [256.0, 7.0]]))
    assert len(edges) == len(SHADES) - 1
    assert edges[1:] / edges[:-1] == pytest.approx(2.0)
    assert (edges[0], edges[-1]) == pytest.approx((4.0, 128.0))


def test_the_legend_names_every_band_in_seconds_as_long_as_they_tell_more():
    said = legend(np.array([4.0, 8.0, 16.0, 32.0, 64.0, 200.0]))
    assert said == ["before 4 s", "4 s to 8 s", "8 s to 16 s", "16 s to 32 s", "32 s to 64 s", "64 s to 3.5 min", "after 3.5 min"]
    assert len(said) == len(SHADES)


def test_later_bands_are_darker_and_lines_part_them():
    """It is printed in one ink: lightness falls from band to band."""
    assert list(SHADES) == sorted(SHADES, reverse=True)
    cut = section(block_of(), toward=(1.0, 0.0))
    image = np.asarray(shaded(cut, bands(cut.times_s)))
    column = image[:, image.shape[1] // 2]
    inside = [grey for grey in column[np.isfinite(cut.times_s[:, image.shape[1] // 2])] if grey != LINE]
    assert inside == sorted(inside), "tip up: what is higher freezes later here"
    assert (column == LINE).sum() >= len(SHADES)
    assert image[0, 0] == 255


def test_the_picture_is_a_raster_within_svg_of_the_size_told():
    picture = view()["picture"]
    data = base64.b64decode(re.search(r"base64,([^\"]+)", picture["svg"])[1])
    image = Image.open(io.BytesIO(data))
    assert image.width * PX_MM == pytest.approx(picture["width"])
    assert image.height * PX_MM == pytest.approx(picture["height"])
    assert image.mode == "L"


def test_every_band_of_the_legend_has_its_grey():
    greys = [band["grey"] for band in view()["bands"]]
    assert greys == sorted(greys, reverse=True)
    assert greys[0] == 100
    assert len(greys) == len(SHADES)
