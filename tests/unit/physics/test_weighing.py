"""The water that a flask brought into the kiln, from its weights."""

from dataclasses import replace

import pytest

from pourwell.errors import BadRequestError
from pourwell.physics.burnout.weighing import Weighing, water_share
from pourwell.physics.mould import compose

MADE = compose(water_ratio=0.40, hemihydrate=0.28, powder_density=2550)
WETTER = compose(water_ratio=0.41, hemihydrate=0.28, powder_density=2550)
LITRES = 0.45e-3


def weighed(share, *, empty=0.6, pattern=0.01, made=MADE):
    after = 0.6 + LITRES * made.burnt
    before = after + LITRES * (share * made.free_water + made.bound_water) + pattern
    return Weighing(before=before, after=after, empty=empty, pattern=pattern)


def told(weighing, **more):
    return water_share(weighing, MADE, volume=LITRES, doubts=more.get("doubts", {}), volume_off=more.get("volume_off", 0.05))


@pytest.mark.parametrize("share", [0.0, 0.4, 0.85, 1.0])
@pytest.mark.parametrize("empty", [None, 0.6])
def test_the_share_comes_back_with_or_without_the_empty_flask(share, empty):
    assert told(weighed(share, empty=empty)).share == pytest.approx(share, abs=1e-9)


def test_water_is_told_in_kilograms_too():
    found = told(weighed(0.5))
    assert found.free == pytest.approx(0.5 * LITRES * MADE.free_water)
    assert found.mixed == pytest.approx(LITRES * MADE.free_water)


def test_the_resolution_of_the_scale_is_an_even_chance():
    """JCGM 100:2008, 4.3.7: a step d is uncertain by d over the root of twelve; in share by the water mixed."""
    found = told(replace(weighed(0.8, empty=None), resolution=0.01), volume_off=0.0)
    assert abs(found.parts["scale before"]) == pytest.approx(0.01 / 12**0.5 / (LITRES * MADE.free_water), rel=1e-6)
    assert found.uncertainty == pytest.approx(2**0.5 * abs(found.parts["scale before"]), rel=1e-6)


def test_a_finer_scale_is_surer():
    coarse, fine = (told(replace(weighed(0.8), resolution=r)).uncertainty for r in (0.01, 0.001))
    assert fine < 0.2 * coarse


def test_a_guessed_volume_is_the_worst_part():
    found = told(weighed(0.8, empty=None))
    assert max(found.parts, key=lambda name: abs(found.parts[name])) == "volume"
    assert "volume" not in told(weighed(0.8)).parts


def test_doubts_of_the_mix_count_once_each():
    found = told(weighed(0.8), doubts={"water ratio": WETTER})
    alone = water_share(weighed(0.8), WETTER, volume=LITRES, doubts={}, volume_off=0.0).share
    assert found.parts["water ratio"] == pytest.approx(alone - found.share)
    assert found.uncertainty > abs(found.parts["water ratio"])


def test_a_pattern_of_unsure_weight_counts():
    assert "pattern" in told(replace(weighed(0.8), pattern_off=0.002)).parts
    assert "pattern" not in told(weighed(0.8)).parts


@pytest.mark.parametrize(
    "change",
    [{"before": 1.0, "after": 1.1}, {"after": 0.5}, {"empty": 5.0}, {"pattern": -0.1}, {"empty": -1.0}, {"before": 0.0}],
)
def test_weights_that_no_burnout_gives_are_refused(change):
    with pytest.raises(BadRequestError, match="was not burnt out"):
        told(replace(weighed(0.8), **change))
