"""From where a piece is drawn: right-handed views that walk round it, and a size at which it fits."""

import dataclasses

import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.picture import extent
from pourwell.geometry.shapes import pendant_with_bail, plain_band, signet
from pourwell.sheets.scene import BEHIND, MARGIN_SHARE, SIDES, camera_for, cameras, fitting, scene_of, walked
from tests.unit.sheets.pieces import pattern, ring_bore

AXES = np.linalg.qr(np.random.default_rng(2).normal(size=(3, 3)))[0]
AXES = AXES * np.sign(np.linalg.det(AXES))


def bare(mesh: Mesh, **more):
    return pattern(mesh, wall_mm=np.ones(len(mesh.faces)), **more)


@pytest.mark.parametrize("way", [*SIDES.values(), BEHIND, (200.0, -80.0), (-45.0, 0.0)])
def test_whoever_walks_round_still_stands_upright_and_sees_no_mirror(way):
    axes = walked(AXES, *way)
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1)
    assert axes[0] @ AXES[1] == pytest.approx(0, abs=1e-12), "what is level stays level"
    assert axes[1] @ AXES[1] > -1e-12


def test_standing_still_changes_nothing_and_a_whole_turn_leads_back():
    assert walked(AXES, 0, 0) == pytest.approx(AXES)
    assert walked(AXES, 360, 0) == pytest.approx(AXES)
    assert walked(walked(AXES, 50, 0), -50, 0) == pytest.approx(AXES)


def test_walking_to_the_right_shows_the_right_side_and_up_the_upper():
    assert walked(AXES, 90, 0)[2] == pytest.approx(AXES[0])
    assert walked(AXES, 0, 90)[2] == pytest.approx(AXES[1])
    assert walked(AXES, 0, 90)[0] == pytest.approx(AXES[0]), "from above the right stays right"


def test_the_other_half_is_seen_from_the_opposite_of_the_usual_place():
    assert walked(AXES, *BEHIND)[2] == pytest.approx(-walked(AXES, *SIDES["three-quarter"])[2])


@pytest.mark.parametrize("size", [100, 333, 600])
def test_at_the_size_that_fits_the_widest_view_touches_the_margin_and_none_goes_beyond(size):
    scene = scene_of(bare(signet(), bore=ring_bore()))
    views = [walked(scene.axes, *way) for way in SIDES.values()]
    px = fitting(scene.surface.points, views, size=size)
    reached = []
    for axes in views:
        camera = camera_for(scene.surface.points, axes, size=size, mm_per_px=px)
        places = camera.place(scene.surface.points)
        assert places.min() >= MARGIN_SHARE * size - 1e-6
        assert places.max() <= (1 - MARGIN_SHARE) * size + 1e-6
        reached.append(places.min())
    assert min(reached) == pytest.approx(MARGIN_SHARE * size)


def test_the_middle_of_the_extent_is_the_middle_of_the_picture():
    points = np.random.default_rng(5).normal(size=(40, 3)) + np.array((100, -50, 7))
    camera = camera_for(points, AXES, size=80, mm_per_px=0.1)
    places = camera.place(points)
    assert (places.min(axis=0) + places.max(axis=0)) / 2 == pytest.approx([40, 40])


def test_a_piece_moved_far_away_is_drawn_at_the_same_size():
    """To within what a place a kilometre off can be told in double precision."""
    points = np.random.default_rng(6).normal(size=(40, 3))
    assert fitting(points + 1e6, [AXES], size=100) == pytest.approx(fitting(points, [AXES], size=100), rel=1e-8)
    assert fitting(3 * points, [AXES], size=100) == pytest.approx(3 * fitting(points, [AXES], size=100))


def test_a_single_point_has_a_size_of_pixel_nonetheless():
    assert fitting(np.zeros((1, 3)), [AXES], size=100) > 0


def test_the_cameras_of_a_piece_share_one_scale_and_one_size():
    made = cameras(scene_of(bare(pendant_with_bail())), size=150)
    assert list(made) == list(SIDES)
    assert len({camera.mm_per_px for camera in made.values()}) == 1
    assert {camera.shape for camera in made.values()} == {(150, 150)}


def test_a_scene_is_of_the_solid_unless_the_file_is_asked_for():
    band = plain_band()
    torn = Mesh(band.vertices, band.faces[:-30])
    stood_in = dataclasses.replace(bare(band, bore=ring_bore()), as_read=torn)
    assert scene_of(stood_in).mesh is band
    assert scene_of(stood_in, as_read=True).mesh is torn
    assert scene_of(bare(band, bore=ring_bore()), as_read=True).mesh is band, "a sound file is its own solid"
    assert scene_of(stood_in, as_read=True).axes == pytest.approx(scene_of(stood_in).axes), "seen from the same side"


@pytest.mark.parametrize(("name", "called"), [("Band", "A  Band"), ("", "A")])
def test_a_title_names_letter_and_piece(name, called):
    assert scene_of(bare(plain_band(), name=name)).called == called


def test_points_that_no_triangle_uses_do_not_shrink_the_picture():
    band = plain_band()
    stray = Mesh(np.vstack([band.vertices, [(500.0, 0, 0)]]), band.faces)
    low, high = extent(scene_of(bare(stray)).surface.points, np.eye(3))
    assert high - low == pytest.approx(band.envelope_mm)
