"""Where a second sprue runs, and that it heals heavy-thin-heavy."""

from dataclasses import replace

import numpy as np
import pytest

from pourwell.geometry.distance import SignedDistance
from pourwell.geometry.joints import bar
from pourwell.geometry.solidity import from_manifold
from pourwell.steps.freeze import change as changing
from pourwell.steps.freeze.cast import metal_substance
from pourwell.steps.freeze.route import ASIDE_MM, CLEAR_MM, LEAN, rod, route
from tests.unit.freeze import trees

LIBRARY = trees.LIBRARY
SIDE = (-26.0, 3.55, trees.LEVEL_MM)
"""On the head, at the side that looks along the bore."""
SHOULDER = (-10.8, 0.0, 32.7)


def verdicts(cast):
    metal = metal_substance(cast.alloy, LIBRARY)
    clocks, _ = changing._frozen(cast, "B", edge_mm=1.5, metal=metal, library=LIBRARY, tell=lambda _: None)
    return [clock.verdict for clock in clocks], clocks[-1].void_high_mm3


def two_sprued(gauge):
    """The heavy head with a sprue of its own, bent round the band."""
    knee = (-20.0, 10.0, trees.LEVEL_MM)
    bent = bar((0, 0, trees.LEVEL_MM), knee, diameter_mm=gauge) + bar(
        (-19.5, 10.5, trees.LEVEL_MM), (-26, 2, trees.LEVEL_MM), diameter_mm=gauge
    )
    return changing._with(trees.cast(), [("sprue 2 second", from_manifold(bent))])


def test_heavy_thin_heavy_is_not_fed_through_the_thin_and_two_sprues_heal_it():
    """Beside it an ordinary band on an ordinary sprue is fed either way."""
    (band, head), lost = verdicts(trees.cast())
    assert band == "fed"
    assert head != "fed"
    (band, head), left = verdicts(two_sprued(6.0))
    assert (band, head) == ("fed", "fed")
    assert left == 0 < lost


def test_a_way_is_straight_clear_of_all_pieces_and_not_too_slanting():
    cast = trees.cast(second_mm=SHOULDER)
    fed = cast.fed[1]
    way = route(cast, fed)
    assert way is not None
    length = np.linalg.norm(way.end - way.begin)
    along = np.arange(0.0, length - (fed.second_gauge_mm / 2 + CLEAR_MM) / LEAN - 1.0, 0.5)
    points = way.begin + along[:, None] / length * (way.end - way.begin)
    pieces = SignedDistance([mesh for name, mesh in cast.bodies if name.startswith("piece")])
    assert pieces(points).min() > fed.second_gauge_mm / 2
    assert np.linalg.norm(way.end - SHOULDER) < ASIDE_MM + 1.0


def test_where_the_stem_is_too_short_it_is_carried_on_as_far_as_needed():
    """To the top of the ring, which no straight line from the stem as it is meets steeply enough."""
    cast = trees.cast(second_mm=(-17.5, 0.0, 35.4))
    way = route(cast, cast.fed[1])
    assert way is not None
    assert way.stem_top > 36.0
    assert way.stem_top < cast.tip_mm
    first = next(changing._tries(cast, "B", LIBRARY))
    assert "from a stem carried on by" in first.does
    assert dict(first.cast.bodies)["stem"].bounds[1][2] == pytest.approx(way.stem_top)
    assert first.cast.metal.bounds[1][2] == pytest.approx(way.stem_top)


def test_a_place_in_the_bore_is_no_place_for_a_sprue():
    cast = trees.cast(second_mm=(-24.9, 0.0, 28.0), pieces=((1, 0.0), (-1, 1.2)))
    way = route(cast, cast.fed[1])
    assert way is None or np.hypot(way.end[0] + 17.45, way.end[2] - trees.LEVEL_MM) > 9.0


def test_a_place_is_told_in_the_frame_of_the_patterns_file():
    turned = ((0.0, -1.0, 0.0, 10.0), (1.0, 0.0, 0.0, 20.0), (0.0, 0.0, 1.0, 30.0))
    fed = replace(trees.cast().fed[0], transform=turned)
    assert fed.in_pattern(np.array([10.0 - 2.0, 20.0 + 1.0, 33.0])) == pytest.approx((1.0, 2.0, 3.0))


def test_a_rod_goes_on_into_what_it_meets():
    made = rod(np.zeros(3), np.array([0.0, 0.0, 10.0]), 3.0)
    assert made.bounds[1][2] == pytest.approx(11.5)


@pytest.mark.parametrize(("ratio", "gauge"), [(0.5, 3.5), (0.82, 3.0), (1.1, None)])
def test_a_sprue_is_made_thicker_only_within_the_published_share_of_its_section(ratio, gauge):
    """0.7 to 1.5 of the section fed; of a thin shank a thicker sprue would only melt the shank."""
    mine = [replace(trees.cast().fed[0], area_ratio=ratio)]
    assert changing._thicker(mine, LIBRARY) == gauge


@pytest.mark.parametrize(("now", "cooler", "hotter"), [(500.0, "450", "550"), (420.0, "400", "470"), (530.0, "480", "560")])
def test_the_flask_stays_within_the_band_of_the_plan(now, cooler, hotter):
    does = [attempt.does for attempt in changing._tries(trees.cast(flask_c=now, gauge=12.0), "B", LIBRARY)]
    assert [f"{{t:{cooler}}}" in does[0], f"{{t:{hotter}}}" in does[1]] == [True, True]
    coldest = trees.cast(flask_c=400.0, gauge=12.0)
    assert all("thin walls" not in attempt.does for attempt in changing._tries(coldest, "B", LIBRARY))
