"""The map for fields and its scale: for every colour vision, in grey, and with ends and ticks that a reader can use."""

from itertools import pairwise

import numpy as np
import pytest

from pourwell.sheets.colours import BODY, GLOW, GROUND, INK, INK_2, MOST_TICKS, TRAY, UNKNOWN, WHITE, glow, hexed, scale_of

STOPS = np.array([list(bytes.fromhex(stop)) for stop in GLOW.split()], dtype=float)

MACHADO = {
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritan": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
"""Severity 1, in linear RGB: Machado, Oliveira and Fernandes 2009, IEEE Trans. Visualization and Computer Graphics 15, 1291."""

VIENOT = {"protan": (0.11238, 0.88762), "deutan": (0.29275, 0.70725)}
"""How much of red and green the cone that is left sees: Vienot, Brettel and Mollon 1999, Color Research and Application 24, 243."""

VISIONS = ["full", "machado protan", "machado deutan", "machado tritan", "vienot protan", "vienot deutan"]


def linear(rgb):
    """sRGB, 0 to 255, to linear light (IEC 61966-2-1)."""
    c = np.asarray(rgb, dtype=float) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def seen(rgb, vision: str):
    """Linear RGB as somebody of that vision sees it."""
    light = linear(rgb)
    if vision.startswith("machado"):
        return np.clip(light @ np.array(MACHADO[vision.split()[1]]).T, 0, 1)
    if vision.startswith("vienot"):
        yellow = light[..., :2] @ VIENOT[vision.split()[1]]
        return np.stack([yellow, yellow, light[..., 2]], axis=-1)
    return light


def lab(light):
    """CIE 1976 L*a*b* of linear sRGB light under its own white (CIE 15)."""
    matrix = np.array([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]])
    xyz = light @ matrix.T / matrix.sum(axis=1)
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)


def contrast(one, other) -> float:
    """Contrast by WCAG 2.2: of relative luminances."""
    light, dark = sorted((float(linear(c) @ (0.2126, 0.7152, 0.0722)) for c in (one, other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("vision", VISIONS)
def test_lightness_rises_in_even_steps_for_every_colour_vision(vision):
    lightness = lab(seen(STOPS, vision))[:, 0]
    steps = np.diff(lightness)
    assert steps.min() > 2.0, f"observed {steps.round(1)}"
    assert steps.max() < 3 * steps.min(), f"observed {steps.round(1)}"
    assert np.ptp(lightness) > 60


@pytest.mark.parametrize("vision", VISIONS)
def test_colours_a_quarter_apart_are_never_taken_for_each_other(vision):
    """Every two stops four or more apart differ by 12 units of CIE 1976 at least: five times what is just seen."""
    places = lab(seen(STOPS, vision))
    apart = np.linalg.norm(places[:, None] - places[None], axis=2)
    far = np.abs(np.subtract.outer(np.arange(len(STOPS)), np.arange(len(STOPS)))) >= 4
    assert apart[far].min() > 12, f"observed {apart[far].min():.1f}"
    assert min(apart[k, k + 1] for k in range(len(STOPS) - 1)) > 2.0


@pytest.mark.parametrize("vision", VISIONS)
def test_grey_for_nothing_known_is_no_colour_of_the_map(vision):
    unknown = lab(seen(np.array(UNKNOWN), vision))
    assert np.linalg.norm(lab(seen(STOPS, vision)) - unknown, axis=1).min() > 7


def test_words_stand_out_from_their_grounds():
    for ground in (GROUND, TRAY, WHITE):
        assert contrast(INK, ground) > 12
        assert contrast(INK_2, ground) > 7
    assert contrast(BODY, INK) > 12


def test_white_hatching_stands_out_on_what_is_under_a_limit():
    """The limit lies in the lower half of the scale: hatched colours are dark."""
    for stop in STOPS[:7]:
        assert contrast(stop, WHITE) > 3


def test_the_map_is_held_at_its_ends_and_passes_its_stops():
    assert glow(np.array([-1.0, 0.0])) == pytest.approx(np.tile(STOPS[0], (2, 1)))
    assert glow(np.array([1.0, 9.0])) == pytest.approx(np.tile(STOPS[-1], (2, 1)))
    assert glow(np.linspace(0, 1, len(STOPS))) == pytest.approx(STOPS, abs=0.2)
    assert hexed((53, 43, 136)) == "#352b88"


@pytest.mark.parametrize(
    ("values", "limit", "low", "high"),
    [
        ([1.7, 2.0, 3.7], 0.6, 0.0, 4.0),
        ([0.35, 1.4], 0.6, 0.0, 1.5),
        ([18.0, 19.0, 22.0], None, 18.0, 22.0),
        ([-2.0, 3.0], None, -2, 3),
    ],
)
def test_a_scale_begins_at_nothing_unless_that_is_far_off_and_ends_round(values, limit, low, high):
    scale = scale_of(np.array(values), weights=np.ones(len(values)), limit=limit)
    assert (scale.low, scale.high) == pytest.approx((low, high))
    assert scale.ticks[0] == scale.low
    assert scale.ticks[-1] == scale.high


@pytest.mark.parametrize("top", [0.013, 0.7, 1.0, 3.78, 9.99, 42.0, 880.0])
def test_ticks_are_round_even_and_few(top):
    scale = scale_of(np.array([0.0, top]), weights=np.ones(2), limit=None)
    steps = {round(b - a, 9) for a, b in pairwise(scale.ticks)}
    assert len(steps) == 1
    mantissa = float(f"{steps.pop():e}".split("e")[0])
    assert mantissa in (1, 2, 5)
    assert 3 <= len(scale.ticks) <= MOST_TICKS + 2
    assert scale.high >= top
    assert len({scale.words(tick) for tick in scale.ticks}) == len(scale.ticks)


def test_one_thick_place_does_not_take_all_the_colours():
    values, weights = np.append(np.full(99, 1.5), 60.0), np.append(np.full(99, 1.0), 0.5)
    assert scale_of(values, weights=weights, limit=0.6).high <= 2.0


def test_what_is_not_finite_has_no_say_and_nothing_at_all_still_has_a_scale():
    known = scale_of(np.array([1.0, 2.0, np.inf, np.nan]), weights=np.ones(4), limit=None)
    assert known.high == pytest.approx(2.0)
    empty = scale_of(np.array([np.nan]), weights=np.ones(1), limit=0.6)
    assert (empty.low, empty.high) == (0, 1)
    even = scale_of(np.array([2.0, 2.0]), weights=np.ones(2), limit=None)
    assert even.low < even.high


def test_a_scale_goes_well_beyond_its_limit():
    assert scale_of(np.array([0.3, 0.5]), weights=np.ones(2), limit=0.6).high >= 1.5
    assert scale_of(np.array([0.3, 0.5]), weights=np.ones(2), limit=0.6).share(np.array([-1.0, 99.0])).tolist() == [0, 1]


def test_a_length_begins_at_nothing_however_far_off_that_is():
    values = np.array([0.91, 0.97, 0.98])
    assert scale_of(values, weights=np.ones(3), limit=None, from_nothing=True).low == 0
    assert scale_of(values, weights=np.ones(3), limit=None).low > 0.8
