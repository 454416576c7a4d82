"""The way from the kiln to the pour: how the flask cools, and how long the way may take."""

import pytest

from pourwell.steps.pour.transfer import transfer
from tests.unit.burnout.case import flask_of, library, run


def cooled(diameter_mm=76.0, height_mm=100.0, *, flask_c=500.0, piece_depth_mm=6.0, perforated=False):
    return transfer(
        library().investment("gypsum-standard"),
        flask=flask_of(diameter_mm, height_mm, perforated=perforated),
        flask_c=flask_c,
        piece_depth_mm=piece_depth_mm,
        library=library(),
    )


def test_a_flask_of_500_cools_as_in_runs_made_apart():
    """Code to code, 76 mm: wall 420 and 380, 6 mm in 487 and 461, 12 mm 499 and 490, core 500 at 1 and 2 min; 10 K."""
    found = cooled()
    wall, near, deep, core = (depth.likely_c for depth in found.depths)
    at = [found.seconds_s.index(s) for s in (60, 120)]
    assert [wall[i] for i in at] == pytest.approx([420, 380], abs=10)
    assert [near[i] for i in at] == pytest.approx([487, 461], abs=10)
    assert [deep[i] for i in at] == pytest.approx([499, 490], abs=10)
    assert [core[i] for i in at] == pytest.approx([500, 500], abs=1)


def test_the_deeper_the_later_and_the_band_lies_under_the_likely():
    found = cooled()
    for i in range(1, len(found.seconds_s)):
        levels = [depth.likely_c[i] for depth in found.depths]
        assert levels == sorted(levels)
    assert all(low <= c for depth in found.depths for low, c in zip(depth.low_c, depth.likely_c, strict=True))
    assert [depth.depth_mm for depth in found.depths] == [None, 6, 12, 38]


def test_a_hotter_flask_and_pieces_nearer_to_the_wall_leave_less_time():
    usual = cooled().most_s
    assert cooled(flask_c=650).most_s < usual < cooled(flask_c=400).most_s
    assert cooled(piece_depth_mm=4.0).most_s < usual < cooled(piece_depth_mm=12.0).most_s
    assert 30 < usual < 90


def test_a_piece_in_the_middle_bears_the_whole_way_that_is_followed():
    assert cooled(102, 102, piece_depth_mm=45.0).most_s == 300


def test_a_perforated_flask_cools_faster_inside():
    assert cooled(perforated=True).most_s < cooled().most_s


def test_by_then_the_pieces_have_lost_what_they_may():
    found = cooled()
    before = max(s for s in found.seconds_s if s <= found.most_s)
    after = min(s for s in found.seconds_s if s >= found.most_s)
    near = found.depths[1].low_c
    assert near[found.seconds_s.index(before)] >= 500 - found.drop_k - 1
    assert near[found.seconds_s.index(after)] <= 500 - found.drop_k + 1


def test_the_pour_tells_it_and_never_allows_more_than_the_pieces_bear():
    made = run().pour
    assert made.transfer is not None
    assert made.transfer_s == 20 < made.transfer.most_s
    assert made.transfer.piece_depth_mm == library().rule("wall_gap_mm")
