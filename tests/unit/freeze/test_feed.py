"""What is said of several runs at two limits."""

import numpy as np
import pytest

from pourwell.physics import feeding as flow
from pourwell.steps.freeze.cast import Fed
from pourwell.steps.freeze.feed import CUT, FED, _kin, _neck_words, verdict
from tests.unit.freeze import trees
from tests.unit.freeze.trees import LEVEL_MM, far_from


@pytest.mark.parametrize(
    ("starved", "said"),
    [
        ((0.0, 0.0, 0.0), "fed"),
        ((0.0, FED * 0.99), "fed"),
        ((0.0, FED), "uncertain"),
        ((0.0, 0.5), "uncertain"),
        ((CUT * 0.99, 0.5), "uncertain"),
        ((CUT, CUT), "cut off"),
        ((0.3, 0.2, 0.4, 0.15), "cut off"),
    ],
)
def test_a_verdict_is_firm_only_where_all_runs_agree(starved, said):
    assert verdict(starved) == said
    assert verdict(tuple(reversed(starved))) == said


def pool_of(cells, last):
    cells = np.array(cells)
    return flow.Pool(
        cells=cells, lost=1.0, end=2.0, volume=float(len(cells)), liquid=1.0, unfed=1.0, due=1.0, last=last, neck=0, neck_area=1.0
    )


def test_the_same_pool_in_another_run_is_the_smallest_that_holds_its_last_cell():
    mine = pool_of([3, 4, 5], 4)
    large, small, other = pool_of(range(10), 9), pool_of([4, 5, 6], 5), pool_of([7, 8], 7)
    assert _kin(mine, [large, other, small]) is small
    assert _kin(mine, [other]) is None


def test_a_plain_band_on_its_sprue_is_fed(froze, sound):
    """A verdict that flags ordinary bands is as wrong as one that misses the others."""
    assert [clock.verdict for clock in sound.freezing.clocks] == ["fed", "fed"]
    assert sound.freezing.pools == ()
    assert not sound.fields.pool.any()
    assert froze.freezing.clocks[0].verdict == "fed"


def test_a_fed_band_is_outlasted_by_its_sprue(sound):
    for clock in sound.freezing.clocks:
        assert clock.sprue.value_s > clock.section.value_s
        assert clock.void_low_mm3 == clock.void_high_mm3 == 0


def test_a_heavy_head_behind_a_thin_shank_is_not_called_fed(froze):
    clock = froze.freezing.clocks[1]
    assert clock.piece == "B"
    assert clock.verdict in ("cut off", "uncertain")
    assert clock.void_high_mm3 > 1.0


def test_the_pool_lies_in_the_head_and_its_neck_in_the_shank(froze):
    pool = froze.freezing.pools[0]
    head = (-(8.0 + 9.5 + 8.5), 0.0, LEVEL_MM)
    assert pool.place == 2
    assert far_from([pool.at_mm], head)[0] < 3.6, "within the ball"
    assert far_from([pool.neck_at_mm], head)[0] > 6.0
    assert pool.neck_mm == pytest.approx(2.76, abs=0.5), "the shank of 2 x 3 mm as a round"
    assert pool.where == "piece 2, {l:19} from its sprue"
    assert pool.neck_where.startswith(("in the piece, {l:", "where the sprue meets", "in sprue 2"))


@pytest.mark.parametrize(
    ("body", "away", "said"),
    [
        ("sprue 2", 1.0, "in sprue 2"),
        ("stem", 9.0, "in the stem"),
        ("piece 2 B", 2.4, "where the sprue meets the piece"),
        ("piece 2 B", 9.4, "in the piece, {l:9} from its sprue"),
    ],
)
def test_a_neck_is_told_by_where_it_lies(body, away, said):
    fed = Fed(
        number=2,
        piece="B",
        gauge_mm=2.5,
        area_ratio=1.0,
        from_mm=(0, 0, 0),
        to_mm=(8, 0, 0),
        second_mm=None,
        transform=trees.UNMOVED,
        second_gauge_mm=0,
    )
    assert _neck_words(body, fed=fed, away_mm=away) == said


def test_a_pool_is_lost_before_it_is_solid_and_holds_less_liquid_than_volume(froze):
    for pool in froze.freezing.pools:
        assert pool.lost.value_s < pool.solid.value_s
        assert 0 < pool.liquid_mm3 < pool.volume_mm3
        assert pool.void_low_mm3 <= pool.void_high_mm3 < 0.06 * pool.volume_mm3


def test_cells_carry_the_number_of_their_pool(froze):
    numbers = {pool.number for pool in froze.freezing.pools}
    assert set(np.unique(froze.fields.pool)) == {0, *numbers}
    mine = froze.fields.centre_mm[froze.fields.pool == 1]
    assert (mine[:, 0] < -8).all(), "all in the second piece"


def test_mirrored_pieces_are_alike(sound):
    """Left and right of the stem: the same times but for how the cells fall."""
    left, right = sound.freezing.clocks
    assert left.sprue.value_s == pytest.approx(right.sprue.value_s, rel=0.05)
    assert left.section.value_s == pytest.approx(right.section.value_s, rel=0.05)
