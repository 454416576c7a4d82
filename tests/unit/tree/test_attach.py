"""Where sprues go: outside the shank opposite the head, on others least seen, or the user's own place."""

from functools import cache
from math import cos, radians, sin

import manifold3d
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.solidity import from_manifold
from pourwell.steps.tree.attach import Sited, site, site_of_user
from pourwell.steps.tree.gauge import round_mm2
from pourwell.steps.tree.probe import Ready, ready
from tests.unit.tree.making import library, pattern, shape, shaped

M = manifold3d.Manifold
RINGS = ("plain-band", "comfort-band", "half-round-band", "signet", "bezel-ring")
ALL = (*RINGS, "pendant", "stud")


def band(**cuts: M) -> M:
    """A band about the z axis."""
    return M.cylinder(4, 10.4, 10.4, 160, True) - M.cylinder(8, 8.6, 8.6, 160, True)


def chosen(mesh: Mesh) -> Sited:
    return site(ready(pattern(mesh)), library())


@cache
def of_shape(name: str, **dimensions: float) -> tuple[Ready, Sited]:
    piece = ready(shaped(name, **dimensions))
    return piece, site(piece, library())


def by_user(name: str, wanted, **dimensions: float) -> tuple[Sited, Sited]:
    piece, ours = of_shape(name, **dimensions)
    return site_of_user(piece, wanted, ours=ours, library=library()), ours


@pytest.mark.parametrize("name", RINGS)
def test_on_a_ring_the_sprue_stands_outside_at_the_back_at_mid_width(name):
    piece, found = of_shape(name)
    low, _ = piece.mesh.bounds
    assert found.attachment.at_mm == pytest.approx((0, 0, low[2]), abs=0.05)
    assert found.attachment.normal == pytest.approx((0, 0, -1), abs=0.03)
    assert found.trouble == ""


@pytest.mark.parametrize("seed", range(3))
def test_the_place_goes_with_the_piece_when_it_is_turned(seed):
    turn = Rotation.random(random_state=seed).as_matrix()
    mesh = shape("signet").moved(np.column_stack((turn, (20, 5, -7))))
    found = chosen(mesh)
    assert found.attachment.at_mm == pytest.approx(turn @ (0, 0, -11.1) + (20, 5, -7), abs=0.15)
    assert found.attachment.words == "back of the shank, opposite the head"


@pytest.mark.parametrize("name", ALL)
def test_the_place_lies_on_the_surface_and_the_way_out_is_free(name):
    piece, found = of_shape(name)
    at, normal = np.array(found.attachment.at_mm), np.array(found.attachment.normal)
    rays = Caster(piece.mesh)
    down, _ = rays.first(at + normal, -normal)
    assert down[0] == pytest.approx(1, abs=0.02)
    assert rays.first(at + 0.05 * normal, normal)[0][0] == np.inf


@pytest.mark.parametrize("name", ALL)
def test_the_place_is_never_on_the_show_face(name):
    piece, found = of_shape(name)
    assert np.array(found.attachment.normal) @ piece.faces.show < 0.5


@pytest.mark.parametrize("name", ALL)
def test_section_gauge_and_ratio_belong_together(name):
    _, found = of_shape(name)
    assert 0.7 <= round_mm2(found.gauge_mm) / found.attachment.section_mm2 <= 1.5
    assert found.attachment.section_modulus_mm > 0.2


def test_the_section_of_a_shank_is_its_width_times_its_thickness():
    _, found = of_shape("signet")
    assert found.attachment.section_mm2 == pytest.approx(3.4 * 1.7, rel=0.02)
    assert found.gauge_mm == 3.0


def test_a_pendant_is_sprued_at_its_rim_away_from_the_loop():
    _, found = of_shape("pendant")
    assert found.attachment.words == "rim, at the bottom, flattened to the edge"
    assert abs(found.attachment.at_mm[1]) < 0.15
    assert found.attachment.at_mm[2] < -8


def test_a_stud_is_sprued_at_its_head_not_at_its_wire_and_not_in_front():
    _, found = of_shape("stud")
    x, y, z = found.attachment.at_mm
    assert np.hypot(x, z) == pytest.approx(3, abs=0.1)
    assert abs(y) < 0.6


def test_a_gap_at_the_back_is_stepped_round():
    cuff = band() - M.cube((6, 6, 10), True).translate((0, -9, 0))
    found = chosen(from_manifold(cuff))
    x, y, _ = found.attachment.at_mm
    assert abs(x) > 3.2
    assert y < -8
    assert found.trouble == ""


def test_engraving_at_the_back_is_stepped_aside():
    body = band()
    for k in range(-2, 3):
        body = body - M.cube((0.5, 0.5, 3), True).translate((0, -10.4, 0)).rotate((0, 0, 6 * k))
    found = chosen(from_manifold(body + M.sphere(2.5, 32).translate((0, 11, 0))))
    x, y, z = found.attachment.at_mm
    assert abs(np.degrees(np.arctan2(x, -y))) > 12 or abs(z) > 0.7
    assert found.trouble == ""


def test_a_ring_engraved_all_round_gets_the_best_of_a_bad_lot_and_says_so():
    body = band()
    for k in range(72):
        body = body - M.cube((0.6, 0.6, 5), True).translate((10.4 * cos(radians(5 * k)), 10.4 * sin(radians(5 * k)), 0))
    assert "best of a bad lot" in chosen(from_manifold(body)).trouble


def test_a_bowl_is_sprued_from_outside():
    bowl = M.sphere(10, 64) - M.sphere(8.5, 64) - M.cube((30, 30, 30), True).translate((0, 0, 15))
    found = chosen(from_manifold(bowl))
    assert np.linalg.norm(found.attachment.at_mm) > 9


def test_a_coarse_cube_is_sprued_in_the_middle_of_a_side():
    found = chosen(from_manifold(M.cube((6, 6, 6), True)))
    assert abs(found.attachment.at_mm[0]) < 0.7
    assert abs(found.attachment.at_mm[2]) < 0.7
    assert found.attachment.section_mm2 == pytest.approx(36, rel=0.01)


def test_a_place_of_the_users_own_is_moved_to_the_surface():
    found, _ = by_user("plain-band", (14.0, 0.3, 0.0))
    assert found.attachment.at_mm == pytest.approx((10.4, 0.3, 0), abs=0.02)
    assert found.attachment.chosen_by == "user"
    assert found.trouble == ""


def test_a_place_in_the_bore_is_not_used():
    found, ours = by_user("plain-band", (0, 0, 8.5))
    assert "bore" in found.trouble
    assert found.attachment == ours.attachment


def test_a_place_that_cannot_be_reached_is_not_used():
    found, ours = by_user("pendant", (0, 0, 10.3))
    assert "from outside" in found.trouble
    assert found.attachment == ours.attachment


def test_a_thin_place_is_used_and_told():
    found, ours = by_user("stud", (0, 10.5, 0), wire_mm=0.6)
    assert found.attachment.chosen_by == "user"
    assert found.thickness_mm < 0.6 * ours.thickness_mm
    assert "thick" in found.trouble


def test_a_place_as_thin_as_ours_is_not_told():
    found, _ = by_user("signet", (0, 0, -11.1))
    assert found.trouble == ""


def test_the_same_piece_gets_the_same_place():
    one, other = chosen(shape("pendant")), chosen(shape("pendant"))
    assert one.attachment == other.attachment
