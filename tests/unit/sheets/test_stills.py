"""Stills of a piece: its useful sides at one scale, its silhouette, before and after from the same place."""

from xml.etree import ElementTree

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.picture import seen_by
from pourwell.geometry.shapes import pendant_with_bail, plain_band, signet
from pourwell.geometry.solidity import from_manifold
from pourwell.sheets.colours import BLUE, BODY, GROUND, INK, RED, TRAY
from pourwell.sheets.drawing import Raster, Strokes, Words, font_of
from pourwell.sheets.scene import MARGIN_SHARE, SIDES, camera_for, cameras, fitting, scene_of, walked
from pourwell.sheets.stills import HEAD, before_and_after, for_one_ink, form, laid_on, lines_of, still, titled
from tests.unit.sheets.pieces import pattern, ring_bore

SIZE = 200


@pytest.fixture(scope="module")
def ring():
    return scene_of(pattern(signet(), bore=ring_bore(), name="Signet"))


def test_the_sides_are_the_three_of_a_drawing_and_one_aslant(ring):
    axes = {name: walked(ring.axes, *way) for name, way in SIDES.items()}
    assert axes["front"] == pytest.approx(ring.axes)
    assert axes["side"][2] == pytest.approx(ring.axes[0])
    assert axes["above"][2] == pytest.approx(ring.axes[1])
    assert axes["above"][1] == pytest.approx(-ring.axes[2]), "the front is at the lower edge"
    aslant = axes["three-quarter"][2] @ ring.axes.T
    assert (aslant > 0.3).all()
    for view in axes.values():
        assert view @ view.T == pytest.approx(np.eye(3))
        assert np.linalg.det(view) == pytest.approx(1)


def test_all_sides_have_one_scale_and_fit_with_a_margin(ring):
    views = cameras(ring, size=SIZE)
    assert len({camera.mm_per_px for camera in views.values()}) == 1
    fullest = 0.0
    for camera in views.values():
        places = camera.place(ring.surface.points)
        assert places.min() >= SIZE * MARGIN_SHARE - 1e-6
        assert places.max() <= SIZE * (1 - MARGIN_SHARE) + 1e-6
        fullest = max(fullest, float(np.ptp(places, axis=0).max()))
    assert fullest == pytest.approx(SIZE * (1 - 2 * MARGIN_SHARE))


def test_a_still_shows_the_piece_at_its_size_and_says_what_it_is(ring):
    camera = cameras(ring, size=SIZE)["front"]
    made = still(ring, camera, view="front")
    (raster,) = [part for part in made.parts if isinstance(part, Raster)]
    inside = np.abs(raster.rgb.astype(int) - TRAY).sum(axis=2) > 30
    rows, columns = np.nonzero(inside)
    wide, _, high = ring.mesh.envelope_mm
    assert (np.ptp(columns) + 1) * camera.mm_per_px == pytest.approx(wide, abs=2 * camera.mm_per_px)
    assert (np.ptp(rows) + 1) * camera.mm_per_px == pytest.approx(high, abs=2 * camera.mm_per_px)
    root = ElementTree.fromstring(made.svg)
    assert [child.text for child in root][:2] == [
        "A  Signet, front",
        "Light and shade and outlines of Signet, seen from its front.",
    ]
    assert [part.text for part in made.parts if isinstance(part, Words)] == ["A  Signet", "front", "5 mm"]


def test_the_bar_is_five_millimetres_of_the_piece(ring):
    camera = cameras(ring, size=SIZE)["front"]
    lines = [part.lines for part in still(ring, camera, view="front").parts if isinstance(part, Strokes) and len(part.lines) == 3]
    assert np.ptp(lines[0][:, [0, 2]]) * camera.mm_per_px == pytest.approx(5.0)


def test_pixels_and_svg_show_the_same_outlines(ring):
    camera = cameras(ring, size=SIZE)["three-quarter"]
    made, picture = still(ring, camera, view="three-quarter"), seen_by(camera, ring.surface)
    rows, columns = (picture.outline[:, k].astype(int) for k in (1, 0))
    dark = made.pixels[rows + HEAD, columns].mean(axis=1)
    assert np.median(dark) < 60
    paths = [p for p in ElementTree.fromstring(made.svg).iter() if p.tag.endswith("path")]
    drawn = " ".join(str(p.get("d")) for p in paths)
    x, y = picture.outline[0, :2] + (0, HEAD)
    assert f"{round(x, 2):g} {round(y, 2):g}" in drawn


def test_the_same_piece_gives_the_same_bytes(ring):
    camera = cameras(ring, size=SIZE)["side"]
    assert still(ring, camera, view="side").png == still(ring, camera, view="side").png
    assert still(ring, camera, view="side").svg == still(ring, camera, view="side").svg


def test_many_lines_on_little_are_drawn_thinner():
    grid = manifold3d.Manifold.compose(
        [manifold3d.Manifold.cube((0.3, 0.3, 0.3)).translate((0.5 * i, 0, 0.5 * k)) for i in range(30) for k in range(30)]
    )
    lace, ring = from_manifold(grid), plain_band()
    widths = []
    for mesh in (lace, ring):
        scene = scene_of(pattern(mesh, wall_mm=np.ones(len(mesh.faces)), bore=ring_bore()))
        picture = seen_by(cameras(scene, size=SIZE)["front"], scene.surface)
        widths.append([part.width for part in lines_of(picture) if isinstance(part, Strokes)])
    assert widths[0][1] < 0.7 * widths[1][1]
    assert widths[0][1] > 0.4


def test_on_paper_the_ground_is_white_and_hatching_black(ring):
    picture = seen_by(cameras(ring, size=SIZE)["front"], ring.surface)
    plain = for_one_ink(picture, under=np.zeros(picture.shape, dtype=bool))
    hatched = for_one_ink(picture, under=picture.hit)
    assert (plain[picture.cover == 0] == 255).all()
    assert plain[picture.cover == 1].min() > 110
    assert hatched[picture.cover == 1].min() == 0
    assert (np.ptp(hatched.astype(int), axis=2) == 0).all()


def test_before_and_after_are_seen_by_one_camera():
    """A pendant scaled by a tenth: its outline grows by a tenth about the file's origin, and the old one lies over it in blue."""
    mesh = pendant_with_bail()
    scene = scene_of(pattern(mesh))
    made = before_and_after(scene, mesh.scaled(1.1), says=("as drawn", "scaled"), size=SIZE)
    left, right = [part for part in made.parts if isinstance(part, Raster)]
    areas = [(np.abs(r.rgb.astype(int) - TRAY).sum(axis=2) > 30).sum() for r in (left, right)]
    assert areas[1] / areas[0] == pytest.approx(1.21, abs=0.04)
    (former,) = [part for part in made.parts if isinstance(part, Strokes) and part.colour == BLUE]
    assert former.lines[:, 0].min() > SIZE
    assert "as drawn" in made.title


def test_what_did_not_change_has_the_same_pixels_after():
    bar = manifold3d.Manifold.cube((16, 2, 6), center=True)
    before = from_manifold(bar)
    after = from_manifold(bar + manifold3d.Manifold.cube((1.0, 3.0, 1.0), center=True).translate((7.0, 0, 0)))
    scene = scene_of(pattern(before))
    made = before_and_after(scene, after, size=SIZE)
    left, right = (part.rgb.astype(int) for part in made.parts if isinstance(part, Raster))
    change = np.abs(left - right).sum(axis=2) > 0
    camera = camera_for(
        np.vstack([scene.surface.points, after.vertices]),
        walked(scene.axes, *SIDES["three-quarter"]),
        size=SIZE,
        mm_per_px=fitting(
            np.vstack([scene.surface.points, after.vertices]), [walked(scene.axes, *SIDES["three-quarter"])], size=SIZE
        ),
    )
    where = camera.place((7.0, 0, 0))[0]
    rows, columns = np.nonzero(change)
    assert len(rows) > 20
    assert np.hypot(rows - where[1], columns - where[0]).max() < 2.5 / camera.mm_per_px


def test_a_mesh_with_holes_and_one_inside_out_can_be_drawn():
    band = plain_band()
    whole = scene_of(pattern(band, bore=ring_bore()))
    camera = cameras(whole, size=SIZE)["three-quarter"]
    outside = form(seen_by(camera, whole.surface))
    turned = Mesh(band.vertices, band.faces[:, ::-1])
    inside_out = scene_of(pattern(turned, wall_mm=np.ones(len(band.faces)), bore=ring_bore()))
    assert np.abs(form(seen_by(camera, inside_out.surface)).astype(int) - outside).max() <= 1
    opened = Mesh(band.vertices, band.faces[300:])
    holed = scene_of(pattern(opened, wall_mm=np.ones(len(opened.faces)), bore=ring_bore()))
    assert len(still(holed, camera, view="front").svg) > 1000


def test_the_rim_of_a_hole_is_thick_and_red_and_in_one_ink_thick():
    band = plain_band()
    opened = Mesh(band.vertices, band.faces[300:])
    scene = scene_of(pattern(opened, wall_mm=np.ones(len(opened.faces)), bore=ring_bore()))
    views = [seen_by(camera, scene.surface) for camera in cameras(scene, size=SIZE).values()]
    picture = max(views, key=lambda seen: len(seen.fault))
    coloured, printed = lines_of(picture), lines_of(picture, one_ink=True)
    assert [part.colour for part in coloured][-1] == RED
    assert [part.colour for part in printed][-1] == INK
    assert coloured[-1].width > 1.5 * coloured[1].width
    whole = scene_of(pattern(band, bore=ring_bore()))
    assert len(lines_of(seen_by(cameras(whole, size=SIZE)["front"], whole.surface))) == 2


def titles(view_name: str, title: str, width: int = 600):
    left = [part for part in titled(title, view_name, width=width) if part.anchor == "start"]
    (right,) = [part for part in titled(title, view_name, width=width) if part.anchor == "end"]
    return left, right


@pytest.mark.parametrize("title", ["A  Band", "A  a-rather-long-name-of-a-signet-with-engraving-rev-12", "A  " + "N" * 150])
@pytest.mark.parametrize("remark", ["front", "three-quarter", "before, and after with the former outline in blue"])
def test_a_long_title_is_set_smaller_and_in_lines_and_keeps_clear_of_the_remark(title, remark):
    width = 600 if len(remark) < 20 else 1200
    left, right = titles(remark, title, width)
    assert "".join(part.text for part in left).replace(" ", "") == title.replace(" ", "")
    ends = max(part.x + font_of(part.size, bold=True).getlength(part.text) for part in left)
    assert ends < right.x - font_of(right.size).getlength(remark)
    assert left[0].y - left[0].size / 2 >= 0
    assert left[-1].y + left[-1].size / 2 <= HEAD


def test_only_a_title_without_end_is_cut():
    left, _ = titles("front", "N" * 2000)
    assert left[-1].text.endswith("…")
    assert left[-1].y + left[-1].size / 2 <= HEAD


def test_light_and_shade_cover_their_share_of_each_pixel():
    """A second way: the whole raster at once."""
    band = scene_of(pattern(plain_band(), bore=ring_bore(), wall_mm=np.ones(len(plain_band().faces))))
    picture = seen_by(cameras(band, size=90)["three-quarter"], band.surface)
    cover = picture.cover[..., None]
    whole = (np.asarray(BODY) * picture.light[..., None] * cover + np.asarray(GROUND) * (1 - cover)).round()
    assert np.abs(form(picture, ground=GROUND).astype(int) - whole).max() <= 1
    assert (form(picture, ground=GROUND)[picture.cover == 0] == GROUND).all()


def test_colours_are_laid_on_only_where_they_belong():
    there = np.array([[True, False], [True, True]])
    cover = np.array([[1.0, 0.0], [0.5, 0.0]])
    made = laid_on((100, 100, 100), np.array([(0, 0, 0), (200, 0, 50), (9, 9, 9.0)]), cover=cover, there=there)
    assert made.tolist() == [[[0, 0, 0], [100] * 3], [[150, 50, 75], [100] * 3]]
    assert made.dtype == np.uint8
