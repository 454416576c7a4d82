"""Hanging a piece: where its foot, its head and its thin side come to lie, and how near two come."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.geometry.gap import gap_mm
from pourwell.geometry.packing import after, moved
from pourwell.steps.tree.attach import site
from pourwell.steps.tree.hang import Neighbours, Style, extent, hanger, hung
from pourwell.steps.tree.probe import ready
from tests.unit.tree.making import library, shaped

STYLE = Style(tilt_deg=45.0, roll_deg=0.0, length_mm=8.0, start_mm=4.0)
ANGLES = st.integers(0, 359).map(float)


def made(name: str):
    piece = ready(shaped(name))
    return hanger(0, piece, site(piece, library()))


@pytest.fixture(scope="module")
def band():
    return made("plain-band")


def test_the_foot_lies_at_the_end_of_the_sprue():
    foot = moved(np.zeros((1, 3)), hung(STYLE, 0.0, 30.0))[0]
    reach = 8 * np.sqrt(0.5)
    assert foot == pytest.approx((0, 4 + reach, 30 + reach))


def test_azimuth_goes_clockwise_from_the_notch():
    east = moved(np.zeros((1, 3)), hung(STYLE, 90.0, 0.0))[0]
    assert east[0] > 9
    assert east[1] == pytest.approx(0, abs=1e-9)


@given(ANGLES, st.sampled_from([15.0, 45.0, 75.0, 90.0]), st.sampled_from([0.0, 90.0, 180.0, 270.0]))
def test_hanging_is_rigid_and_never_mirrors(azimuth, tilt, roll):
    transform = hung(Style(tilt_deg=tilt, roll_deg=roll, length_mm=8, start_mm=4), azimuth, 12.0)
    assert transform[:, :3] @ transform[:, :3].T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(transform[:, :3]) == pytest.approx(1)


def test_a_ring_hangs_with_its_head_outward_and_its_bore_round_the_stem():
    one = made("signet")
    style = Style(tilt_deg=45.0, roll_deg=one.roll_deg["radial"], length_mm=8.0, start_mm=4.0)
    turn = after(hung(style), one.frame)[:, :3]
    assert turn @ (0, 0, 1) == pytest.approx((0, np.sqrt(0.5), np.sqrt(0.5)), abs=0.02)
    assert np.abs(turn @ (0, 1, 0)) == pytest.approx((1, 0, 0), abs=0.02)


def test_turned_by_a_quarter_the_thin_side_looks_up():
    one = made("plain-band")
    style = Style(tilt_deg=0.0, roll_deg=one.roll_deg["tangential"], length_mm=8.0, start_mm=4.0)
    assert np.abs(after(hung(style), one.frame)[:, :3] @ (0, 1, 0)) == pytest.approx((0, 0, 1), abs=0.02)


def test_a_show_face_looks_up_rather_than_down():
    one = made("pendant")
    style = Style(tilt_deg=30.0, roll_deg=one.roll_deg["tangential"], length_mm=8.0, start_mm=4.0)
    assert (after(hung(style), one.frame)[:, :3] @ one.ready.faces.show)[2] > 0.5


def test_the_extent_of_a_band_is_that_of_its_circle(band):
    reach = extent(band, STYLE, stem_radius_mm=4.0, stem_end_mm=5.0)
    middle = 4 + (8 + 10.4) * np.sqrt(0.5)
    assert reach.far_mm == pytest.approx(np.hypot(middle + 10.4, 2), abs=0.05)
    assert reach.high_mm == pytest.approx(middle - 4 + 10.4, abs=0.05)
    assert reach.low_mm == pytest.approx(middle - 4 - 10.4, abs=0.05)
    assert reach.stem_mm == pytest.approx(middle - 10.4 - 4, abs=0.05)
    assert reach.stem_end_mm >= reach.stem_mm


@given(ANGLES, st.integers(-20, 20).map(float))
def test_a_pairing_is_the_same_seen_from_either_piece(turn, rise):
    near = Neighbours((), library=library())
    other = Style(tilt_deg=30.0, roll_deg=0.0, length_mm=6.0, start_mm=4.0)
    forth = near.key((0, STYLE), (1, other), turn_deg=turn, rise_mm=rise)
    back = near.key((1, other), (0, STYLE), turn_deg=-turn, rise_mm=-rise)
    assert forth == back or (turn % 180 == 0 and rise == 0)


@pytest.mark.parametrize(("turn", "rise"), [(40.0, 0.0), (60.0, 0.0), (30.0, 12.0), (0.0, 24.0), (180.0, 3.0)])
def test_nearness_is_that_of_the_placed_meshes(band, turn, rise):
    near = Neighbours((band,), library=library())
    found = near.near(near.key((0, STYLE), (0, STYLE), turn_deg=turn, rise_mm=rise)).pieces_mm
    meshes = [band.ready.mesh.moved(after(hung(STYLE, *at), band.frame)) for at in ((10.0, 30.0), (10.0 + turn, 30.0 + rise))]
    exact = min(gap_mm(*meshes, search_mm=50), near.reach_mm)
    assert exact - 1e-9 <= found <= exact + 0.3


def test_two_sprues_of_a_tier_come_nearest_where_they_leave_the_stem(band):
    near = Neighbours((band,), library=library())
    found = near.near(near.key((0, STYLE), (0, STYLE), turn_deg=60.0, rise_mm=0.0))
    assert found.feet_mm == pytest.approx(2 * 4 * np.sin(np.radians(30)) - 3, abs=0.05)
