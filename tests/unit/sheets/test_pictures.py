"""Pictures of patterns for one ink and for the screen: sizes, tones, places, which way up, and bytes that stay the same."""

from io import BytesIO
from itertools import pairwise
from math import cos, inf, radians, sin

import manifold3d
import numpy as np
import pytest
from PIL import Image

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import bezel_ring, pendant_with_bail, plain_band, signet, stud_with_wire
from pourwell.geometry.solidity import from_manifold
from pourwell.sheets.pattern_view import Picture as PagePicture
from pourwell.sheets.pictures import FORM, TONES, front_and_side, tones, write_pictures
from pourwell.sheets.viewpoint import GAP_MM, MARGIN_MM, front_axes, views
from tests.unit.sheets.pieces import pattern, ring_bore

COARSE = 0.1
"""mm a pixel: quick, and fine enough for what is asked here."""


def pixels(png: bytes) -> np.ndarray:
    return np.asarray(Image.open(BytesIO(png)))


def inked(grey: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return np.nonzero(grey < 250)


def turned(mesh: Mesh, degrees: float) -> Mesh:
    """Leaning about the bore's axis, towards +x."""
    c, s = cos(radians(degrees)), sin(radians(degrees))
    return mesh.moved([[c, 0, s, 0], [0, 1, 0, 0], [-s, 0, c, 0]])


def test_front_and_side_lie_side_by_side_at_exactly_one_scale():
    ring = signet()
    printed = front_and_side(pattern(ring, bore=ring_bore()), mm_per_px=COARSE)
    grey = pixels(printed.png)
    rows, columns = grey.shape
    wide, deep, high = ring.envelope_mm
    assert (printed.width_mm, printed.height_mm) == pytest.approx((columns * COARSE, rows * COARSE))
    assert printed.height_mm == pytest.approx(high + 2 * MARGIN_MM, abs=COARSE)
    assert printed.width_mm == pytest.approx(wide + deep + GAP_MM + 4 * MARGIN_MM, abs=3 * COARSE)
    y, x = inked(grey)
    assert np.ptp(y) * COARSE == pytest.approx(high, abs=4 * COARSE)
    empty = np.flatnonzero((grey > 250).all(axis=0))
    gap = empty[(empty > 50) & (empty < columns - 50)]
    assert len(gap) * COARSE == pytest.approx(GAP_MM + 2 * MARGIN_MM, abs=4 * COARSE)
    assert (x > gap[-1]).any()
    assert (x < gap[0]).any()


def test_a_printed_picture_is_what_the_page_asks_for():
    printed: PagePicture = front_and_side(pattern(plain_band(), bore=ring_bore(), sprue=(0.0, 0.0, -10.4)), mm_per_px=COARSE)
    assert printed.png.startswith(b"\x89PNG")
    assert set(printed.points) == {"thinnest", "thickest", "sprue"}
    assert [limit for limit, _ in printed.tones] == pytest.approx([0.8, 1.6, 2.4, 4.0, inf])
    assert [grey for _, grey in printed.tones] == sorted(TONES)
    assert Image.open(BytesIO(printed.png)).mode == "L"


def test_tones_keep_apart_even_where_light_falls():
    """Neighbouring tones differ by more than light and shade may move both, so that the legend can be trusted."""
    assert min(b - a for a, b in pairwise(TONES)) > 2 * FORM
    assert [end for end, _ in tones(1.0)] == [1.0, 2.0, 3.0, 5.0, inf]


@pytest.mark.parametrize(("thickness_mm", "step"), [(1.2, 1), (2.0, 2), (3.0, 3)])
def test_a_band_is_shown_in_the_tone_of_its_wall(thickness_mm, step):
    """On the front one looks at the sides, 5 mm of metal: what counts is the wall."""
    printed = front_and_side(pattern(plain_band(thickness_mm=thickness_mm, width_mm=5.0), bore=ring_bore()), mm_per_px=COARSE)
    grey = pixels(printed.png)
    front = grey[:, : round((17.2 + 2 * thickness_mm) / COARSE)]
    body = front[(front > 40) & (front < 250)]
    assert np.median(body) == pytest.approx(TONES[step], abs=FORM + 1)


def test_a_wall_under_the_limit_is_black_and_a_sound_one_is_not():
    thin = plain_band(thickness_mm=0.6, edge_mm=0.1)
    sound = plain_band(thickness_mm=1.0, edge_mm=0.1)
    shares = []
    for band in (thin, sound):
        grey = pixels(front_and_side(pattern(band, bore=ring_bore()), mm_per_px=COARSE / 2).png)
        side = grey[:, -round(4.0 / COARSE * 2) :]
        shares.append((side < 20).mean())
    assert shares[0] > 0.8
    assert shares[1] < 0.2


def test_the_limit_of_a_run_can_be_given():
    ring = pattern(plain_band(), bore=ring_bore())
    assert front_and_side(ring, mm_per_px=COARSE, limit_mm=1.0).tones[0] == (1.0, 0)


def test_lines_on_black_are_white():
    """A thin band with a slit in it: on black metal a black line would be lost."""
    slit = manifold3d.Manifold.cube((1.5, 1.0, 8.0), center=True)
    sheet = manifold3d.Manifold.cube((14.0, 0.5, 14.0), center=True) + manifold3d.Manifold.cube((6.0, 1.0, 6.0), center=True) - slit
    grey = pixels(front_and_side(pattern(from_manifold(sheet), limit_mm=3.0), mm_per_px=COARSE / 2).png)
    middle = grey[40:-40, 40 : round(13.0 / COARSE * 2) - 40]
    assert middle.max() > 200
    assert np.median(middle) == 0


def test_an_edge_that_thicker_metal_carries_is_not_black():
    """A knife-edged disc tapers to nothing at its rim; the metal within a millimetre is thicker than the limit."""
    disc = manifold3d.Manifold.hull_points([*circle(8.0, 0.0), *circle(5.0, 1.2), *circle(5.0, -1.2)])
    grey = pixels(front_and_side(pattern(from_manifold(disc), limit_mm=0.5), mm_per_px=COARSE / 2).png)
    front = grey[:, : round(16.0 / COARSE * 2)]
    assert (front < 20).mean() < 0.06


def test_a_thin_rim_wider_than_the_reach_stays_black():
    sheet = manifold3d.Manifold.hull_points([*circle(8.0, 0.15), *circle(8.0, -0.15)])
    boss = manifold3d.Manifold.hull_points([*circle(3.0, 1.0), *circle(3.0, -1.0)])
    grey = pixels(front_and_side(pattern(from_manifold(sheet + boss), limit_mm=0.5), mm_per_px=COARSE / 2).png)
    middle = grey[grey.shape[0] // 2, : round(16.0 / COARSE * 2)]
    assert (middle[round(0.9 / COARSE * 2) : round(4.3 / COARSE * 2)] == 0).all()
    assert (middle[round(6.0 / COARSE * 2) : round(9.0 / COARSE * 2)] > 100).all()


def circle(radius_mm: float, y: float) -> list[tuple[float, float, float]]:
    angles = np.linspace(0, 2 * np.pi, 96, endpoint=False)
    return [(radius_mm * float(np.sin(a)), y, radius_mm * float(np.cos(a))) for a in angles]


def test_places_lie_where_they_are_on_the_piece():
    ring = plain_band()
    printed = front_and_side(
        pattern(ring, bore=ring_bore(), thinnest_at=(10.4, 0.0, 0.0)), mm_per_px=COARSE, sprue_at_mm=(0, 0, -10.4)
    )
    half = 10.4 + MARGIN_MM
    assert printed.points["sprue"] == pytest.approx((half, half + 10.4), abs=COARSE)
    assert printed.points["thinnest"] == pytest.approx((half + 10.4, half), abs=COARSE)
    assert printed.points["thickest"] == pytest.approx((half, half - 9.5), abs=COARSE)


def test_the_wire_of_a_stud_is_pointed_at_where_it_can_be_seen():
    """From the front the head hides the wire: its place is shown on the side, right of the gap."""
    stud = stud_with_wire()
    printed = front_and_side(pattern(stud, thinnest_at=(0.45, 6.0, 0.0)), mm_per_px=COARSE)
    assert printed.points["thinnest"][0] > 6.0 + 2 * MARGIN_MM + GAP_MM + 6.0
    assert printed.points["thickest"][0] < 6.0 + 2 * MARGIN_MM


@pytest.mark.parametrize("degrees", [0, 35, 90, 160, 250])
def test_a_ring_stands_with_its_head_up_however_its_file_lies(degrees):
    leaning = turned(signet(), degrees)
    axes = front_axes(pattern(leaning, bore=ring_bore()))
    head = turned(Mesh(np.array([[0, 0, 1.0]]), np.zeros((0, 3), dtype=int)), degrees).vertices[0]
    assert axes[1] @ head == pytest.approx(1, abs=0.03)
    assert abs(axes[2, 1]) == pytest.approx(1)


def test_a_slight_lean_is_left_as_the_file_stands():
    axes = front_axes(pattern(turned(signet(), 4.0), bore=ring_bore()))
    assert axes == pytest.approx(np.array([[1, 0, 0], [0, 0, 1], [0, -1, 0]]), abs=1e-9)


def test_a_ring_that_lies_on_its_side_is_seen_along_its_bore():
    """The file's z is the bore; the head points to +y."""
    lying = signet().moved([[1, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0]])
    axes = front_axes(pattern(lying, bore=ring_bore(axis=(0.0, 0.0, 1.0))))
    assert np.abs(axes[2]) == pytest.approx([0, 0, 1])
    assert axes[1] == pytest.approx([0, 1, 0], abs=1e-6)


def test_an_even_band_stands_on_its_sprue():
    axes = front_axes(pattern(plain_band(), bore=ring_bore(), sprue=(10.4, 0.0, 0.0)))
    assert axes[1] == pytest.approx([-1, 0, 0])


@pytest.mark.parametrize("lying", [False, True])
def test_other_pieces_show_their_broadest_side(lying):
    mesh = pendant_with_bail()
    if lying:
        mesh = mesh.moved([[1, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0]])
    axes = front_axes(pattern(mesh))
    assert axes[2] == pytest.approx([0, 0, 1] if lying else [0, -1, 0])
    assert axes[1] == pytest.approx([0, 1, 0] if lying else [0, 0, 1])


def test_a_slanted_plate_is_turned_to_face_the_viewer():
    plate = from_manifold(manifold3d.Manifold.cube((20.0, 2.0, 20.0), center=True).rotate((0, 0, 40)))
    axes = front_axes(pattern(plate))
    assert abs(axes[2] @ (-sin(radians(40)), cos(radians(40)), 0)) == pytest.approx(1, abs=1e-3)


def test_files_are_named_after_the_piece_and_hold_both_pictures():
    ring = pattern(bezel_ring(), bore=ring_bore(), sprue=(0.0, 0.0, -9.7))
    seen = views(ring, mm_per_px=COARSE)
    files = write_pictures(ring, seen=seen)
    assert set(files) == {"pattern-A-walls.png", "pattern-A-print.png"}
    assert files["pattern-A-print.png"] == front_and_side(ring, seen=seen).png
    colour = Image.open(BytesIO(files["pattern-A-walls.png"]))
    assert colour.mode == "RGB"
    assert colour.width > 2 * colour.height


def test_a_grey_picture_that_is_drawn_already_is_taken_as_it_is():
    ring = pattern(bezel_ring(), bore=ring_bore(), sprue=(0.0, 0.0, -9.7))
    seen = views(ring, mm_per_px=COARSE)
    assert write_pictures(ring, seen=seen, printed=front_and_side(ring, seen=seen)) == write_pictures(ring, seen=seen)
    other = front_and_side(ring, mm_per_px=2 * COARSE)
    assert write_pictures(ring, seen=seen, printed=other)["pattern-A-print.png"] == other.png


def test_the_same_pattern_gives_the_same_bytes():
    ring = pattern(plain_band(), bore=ring_bore())
    assert write_pictures(ring, mm_per_px=0.2) == write_pictures(ring, mm_per_px=0.2)


@pytest.mark.parametrize("name", ["R" * 300, "Ring «Nº 7» ñ € Ωβ", "", "戒指"])
def test_any_name_can_stand_in_the_title(name):
    assert len(write_pictures(pattern(plain_band(), bore=ring_bore(), name=name), mm_per_px=0.3)) == 2
