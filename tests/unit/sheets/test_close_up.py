"""A finding at its place: in the middle, unhidden, with its measure; and where that is on the whole piece."""

from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import manifold3d
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pourwell.findings import Severity
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.picture import Camera, seen_by
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import bezel_ring, pendant_with_bail, plain_band, signet, stud_with_wire
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.surface import smooth
from pourwell.sheets.close_up import (
    INSET,
    MOST_MM,
    PRINTED,
    SIZE,
    Spot,
    close_up,
    in_the_ring,
    inset,
    printed_close_up,
    span_of,
    view_of,
)
from pourwell.sheets.colours import BLUE, CUT
from pourwell.sheets.drawing import Raster, Strokes, Words, font_of
from pourwell.sheets.field_map import field_named, wall_field
from pourwell.sheets.scene import SIDES, camera_for, crossed, cut_open, fitting, scene_of, section_view, walked
from pourwell.sheets.stills import PAD, TITLE
from tests.unit.files.pattern_files import cube, joined
from tests.unit.sheets.pieces import pattern, ring_bore

PLACES = {
    "outside of a band": (plain_band, (8.6 + 1.8, 0.0, 0.0)),
    "inside of its bore": (plain_band, (0.0, 0.5, -8.6)),
    "table of a signet": (signet, (1.0, 2.0, 11.8)),
    "foot of a signet": (signet, (0.0, 0.0, -11.1)),
    "wire of a stud": (stud_with_wire, (0.45, 6.0, 0.0)),
    "back of a pendant": (pendant_with_bail, (0.0, 1.2, -2.0)),
}


def spot(at, *, says="The wall is thin.") -> Spot:
    return Spot(code="wall-thin", severity=Severity.WARN, at_mm=at, says=says, measure="0.35 mm", limit="0.6 mm")


def scene_with(make):
    mesh = make()
    ring = make in (plain_band, signet, bezel_ring)
    return scene_of(pattern(mesh, bore=ring_bore() if ring else None, wall_mm=np.ones(len(mesh.faces))))


@pytest.mark.parametrize("name", PLACES)
def test_the_view_of_a_place_shows_it(name):
    """Nothing lies in front of the place or, for most of the picture's middle, far behind it."""
    make, at = PLACES[name]
    scene = scene_with(make)
    span = span_of(scene)
    axes = view_of(scene, at, caster=Caster(scene.mesh), span_mm=span)
    picture = seen_by(Camera(axes=axes, middle=np.array(at), mm_per_px=span / 60, shape=(60, 60)), scene.surface)
    assert picture.depth_mm[28:32, 28:32].min() > picture.depths(at)[0] - 0.35
    assert picture.hit[25:35, 25:35].mean() > 0.3
    assert np.abs(axes[2] @ scene.axes.T).max() < 0.9, "aslant: never flat upon a side"


def test_of_views_that_show_a_place_the_usual_one_is_taken():
    scene = scene_with(signet)
    axes = view_of(scene, (1.0, 2.0, 11.8), caster=Caster(scene.mesh), span_mm=6.0)
    assert axes[2] @ walked(scene.axes, *SIDES["three-quarter"])[2] > 0.75


def test_a_place_at_the_ground_of_a_hole_is_looked_at_through_the_hole():
    block = manifold3d.Manifold.cube((12, 12, 12), center=True)
    bored = block - manifold3d.Manifold.cylinder(6.0, 2.5).rotate((90, 0, 0)).translate((0, 6.5, 0))
    scene = scene_of(pattern(from_manifold(bored), wall_mm=np.ones(len(from_manifold(bored).faces))))
    axes = view_of(scene, (0.0, 0.5, 0.0), caster=Caster(scene.mesh), span_mm=4.0)
    assert axes[2] @ (0, 1, 0) > 0.5


def test_a_close_up_is_of_what_one_would_hold_near():
    assert span_of(scene_with(plain_band)) == pytest.approx(0.32 * 20.6, rel=0.02)
    large = scene_of(pattern(plain_band().scaled(3.0), wall_mm=np.ones(len(plain_band().faces))))
    assert span_of(large) == MOST_MM
    huge = scene_of(pattern(plain_band().scaled(20.0), wall_mm=np.ones(len(plain_band().faces))))
    assert span_of(huge) > 4 * MOST_MM


def test_the_ring_and_its_ticks_stand_round_the_place_in_the_middle():
    ring = pattern(bezel_ring(wall_mm=0.35), bore=ring_bore(), limit_mm=0.6)
    scene = scene_of(ring)
    caster = Caster(scene.mesh)
    made = close_up(scene, spot((2.8, 0.0, 11.6)), caster=caster, field=wall_field(ring, scene.surface, caster), letter="A1")
    top = 2 * PAD + TITLE
    rings = [part.lines for part in made.parts if isinstance(part, Strokes) and len(part.lines) == 52]
    assert len(rings) == 2, "white under dark"
    for lines in rings:
        middle = (lines[:, :2].min(axis=0) + lines[:, :2].max(axis=0)) / 2
        assert middle == pytest.approx([SIZE / 2, top + SIZE / 2], abs=1)
    said = [part.text for part in made.parts if isinstance(part, Words)]
    assert {"WARN", "A1  0.35 mm, limit 0.6 mm", "The wall is thin.", "Wall, mm", "limit 0.6"} <= set(said)
    assert made.title == "A  Band, wall-thin"
    assert "0.35 mm" in made.about
    ElementTree.fromstring(made.svg)


def test_without_a_field_there_is_light_and_shade_and_no_scale():
    scene = scene_with(signet)
    made = close_up(scene, spot((1.0, 2.0, 11.8)), caster=Caster(scene.mesh))
    assert made.width == SIZE
    raster = next(part for part in made.parts if isinstance(part, Raster))
    assert np.ptp(raster.rgb.astype(int), axis=2).max() < 12


def test_the_small_picture_frames_what_the_large_one_shows():
    scene = scene_with(signet)
    at = (1.0, 2.0, 11.8)
    axes = view_of(scene, at, caster=Caster(scene.mesh), span_mm=6.0)
    parts = inset(scene, axes, at, span_mm=6.0)
    (window,) = [part.lines for part in parts if isinstance(part, Strokes) and part.colour == BLUE]
    px = fitting(scene.surface.points, [axes], size=INSET)
    where = camera_for(scene.surface.points, axes, size=INSET, mm_per_px=px).place(at)[0]
    low, high = window[:, :2].min(axis=0), window[:, :2].max(axis=0)
    assert (low < where).all()
    assert (high > where).all()
    assert high - low == pytest.approx(np.full(2, 6.0 / px), abs=1e-6)


@pytest.mark.parametrize("severity", list(Severity))
def test_a_severity_is_a_word_before_it_is_a_colour(severity):
    scene = scene_with(plain_band)
    found = Spot(code="x", severity=severity, at_mm=(10.4, 0, 0), says="word " * 90)
    made = close_up(scene, found, caster=Caster(scene.mesh), letter="B2")
    said = [part.text for part in made.parts if isinstance(part, Words)]
    assert said[0] == ("note" if severity is Severity.NOTE else severity.value.upper())
    assert any(text.endswith("…") for text in said), "what is longer than four lines is cut; it stands in the findings in full"


def head_of(made):
    """The words above the picture, those at the left and those at the right; and where the picture begins."""
    top = next(part.y for part in made.parts if isinstance(part, Raster))
    words = [part for part in made.parts if isinstance(part, Words) and part.y < top]
    return [w for w in words if w.anchor == "start"], [w for w in words if w.anchor == "end"], top


LONG = "87 edges whose sides disagree which way is out, and more"


@pytest.mark.parametrize("measure", ["0.35 mm", "87 edges whose sides disagree", LONG, 3 * LONG])
@pytest.mark.parametrize("name", ["Band", "a-rather-long-name-of-a-signet-with-engraving-rev-12", "N" * 200])
def test_nothing_in_a_head_is_cut_or_meets_what_is_beside_it(measure, name):
    mesh = plain_band()
    scene = scene_of(pattern(mesh, bore=ring_bore(), name=name, wall_mm=np.ones(len(mesh.faces))))
    found = Spot(code="x", severity=Severity.STOP, at_mm=(10.4, 0, 0), says="", measure=measure)
    made = close_up(scene, found, caster=Caster(mesh), letter="A1")
    left, right, top = head_of(made)
    assert "".join(w.text for w in left).replace(" ", "") == f"A1{measure}".replace(" ", "")
    assert "".join(w.text for w in right).replace(" ", "") == f"A{name}".replace(" ", "")
    ends = max(w.x + font_of(w.size, bold=w.bold).getlength(w.text) for w in left)
    begins = min(w.x - font_of(w.size).getlength(w.text) for w in right)
    assert ends + PAD / 2 <= begins
    for words in (left, right):
        rows = [w.y for w in words]
        assert all(b - a >= words[0].size for a, b in pairwise(rows)), "lines do not meet"
        assert rows[0] - words[0].size / 2 >= 0
        assert rows[-1] + words[-1].size / 2 <= top


def test_a_short_head_is_set_large_on_one_line():
    scene = scene_with(plain_band)
    left, right, top = head_of(close_up(scene, spot((10.4, 0, 0)), caster=Caster(scene.mesh), letter="A1"))
    assert [(w.text, w.size) for w in left] == [("A1  0.35 mm, limit 0.6 mm", TITLE)]
    assert [w.text for w in right] == ["A  Band"]
    assert top == 2 * PAD + TITLE


def test_a_limit_of_none_is_left_to_the_finding():
    scene = scene_with(plain_band)
    found = Spot(code="x", severity=Severity.STOP, at_mm=(10.4, 0, 0), says="", measure="3 open edges", limit="none")
    left, _, _ = head_of(close_up(scene, found, caster=Caster(scene.mesh)))
    assert [w.text for w in left] == ["3 open edges"]


def test_on_the_run_sheet_it_is_grey_hatched_under_the_limit_and_without_words():
    ring = pattern(bezel_ring(wall_mm=0.35), bore=ring_bore(), limit_mm=0.6)
    scene = scene_of(ring)
    caster = Caster(scene.mesh)
    field = wall_field(ring, scene.surface, caster)
    made = printed_close_up(scene, spot((2.8, 0.0, 11.6)), caster=caster, field=field, letter="A1")
    root = ElementTree.fromstring(made.svg)
    assert not [child for child in root.iter() if child.tag.endswith("text")]
    assert root.get("width") == root.get("height") == str(PRINTED)
    assert "#26389b" not in made.svg, "one ink"
    assert (made.letter, made.measure, made.limit) == ("A1", "0.35 mm", "0.6 mm")
    assert made.span_mm == pytest.approx(span_of(scene))
    plain = printed_close_up(scene, spot((2.8, 0.0, 11.6)), caster=caster, field=None, letter="A1")
    assert plain.svg != made.svg


def test_the_ring_stands_round_the_middle_of_a_thin_wire_and_round_the_skin_of_anything_else():
    scene = scene_with(stud_with_wire)
    caster, skin = Caster(scene.mesh), (0.45, 6.0, 0.0)
    wire = replace(spot(skin), code="wire-thin")
    assert in_the_ring(scene, wire, caster) == pytest.approx([0, 6, 0], abs=0.04)
    assert in_the_ring(scene, spot(skin), caster) == pytest.approx(skin)
    band = scene_with(plain_band)
    thick = replace(spot((0.0, 2.0, 9.5)), code="wire-thin")
    assert in_the_ring(band, thick, Caster(band.mesh)) == pytest.approx([0.0, 2.0, 9.5]), "4 mm wide: no wire"
    for made in (close_up(scene, each, caster=caster) for each in (wire, spot(skin))):
        assert made.mm_per_px > 0
    assert close_up(scene, wire, caster=caster).svg != close_up(scene, spot(skin), caster=caster).svg


def block(*cuts):
    whole = manifold3d.Manifold.cube((12, 12, 12), center=True)
    for cut in cuts:
        whole -= cut
    mesh = from_manifold(whole)
    return scene_of(pattern(mesh, wall_mm=np.ones(len(mesh.faces))))


def test_into_a_narrow_slot_it_is_looked_from_where_the_place_is_seen():
    scene = block(manifold3d.Manifold.cube((6, 0.3, 20), center=True))
    at = (0.4, 0.15, 4.2)
    axes = view_of(scene, at, caster=Caster(scene.mesh), span_mm=4.0)
    seen = seen_by(Camera(axes=axes, middle=np.array(at), mm_per_px=0.02, shape=(60, 60)), scene.surface)
    assert seen.depth_mm[30, 30] == pytest.approx(seen.depths(at)[0], abs=0.25)
    assert axes[2] @ (0, -1, 0) > 0.05, "not along the side itself"


def test_what_nobody_can_see_is_cut_open():
    scene = block(manifold3d.Manifold.cube((3, 3, 3), center=True))
    made = close_up(scene, spot((1.5, 0.1, 0.2), says="A closed hollow."), caster=Caster(scene.mesh))
    assert "Cut open to show it." in " ".join(part.text for part in made.parts if isinstance(part, Words))
    outside = close_up(scene, spot((6.0, 0.1, 0.2)), caster=Caster(scene.mesh))
    assert "Cut open" not in " ".join(part.text for part in outside.parts if isinstance(part, Words))
    assert made.mm_per_px == pytest.approx(2.5 * outside.mm_per_px)


@pytest.mark.parametrize(("gap_mm", "turn"), [(0.25, (0, 0, 0)), (0.4, (90, 0, 0)), (0.25, (0, 90, 0)), (0.3, (25, 40, 10))])
def test_a_gap_shut_in_is_cut_across_and_is_as_wide_in_the_picture_as_it_is(gap_mm, turn):
    """A slot of known width in the middle of a block, by construction; looked at aslant a cut is true to 7 %: 1 - cos 16 cos 12."""
    shut = manifold3d.Manifold.cube((12, 12, 12), center=True) - manifold3d.Manifold.cube((8, 8, gap_mm), center=True)
    mesh = from_manifold(shut.rotate(turn))
    scene = scene_of(pattern(mesh, wall_mm=np.ones(len(mesh.faces))))
    out = Rotation.from_euler("xyz", turn, degrees=True).apply((0.0, 0.0, 1.0))
    at = tuple(-gap_mm / 2 * out)
    field = field_named("gap", np.full(len(mesh.faces), gap_mm), limit=0.5)
    made = close_up(
        scene, Spot(code="gap-narrow", severity=Severity.WARN, at_mm=at, says="Narrow."), caster=Caster(mesh), field=field
    )
    said = " ".join(part.text for part in made.parts if isinstance(part, Words))
    assert "Cut open to show it." in said
    assert "Gap outside" not in said, "no scale of colours beside what is measured in the cut"
    rgb = next(part for part in made.parts if isinstance(part, Raster) and part.rgb.shape[0] == SIZE).rgb.astype(int)
    metal = np.abs(rgb - CUT).max(axis=2) <= 1
    middle = metal[SIZE // 2 - 100 : SIZE // 2 + 100, SIZE // 2 - 100 : SIZE // 2 + 100]
    across_mm = min((~middle).sum(axis=k)[90:110].mean() for k in (0, 1)) * made.mm_per_px
    slant = 1.45 if turn == (25, 40, 10) else 1.08  # a slot aslant in the picture is longer along rows and columns
    assert 0.9 * gap_mm <= across_mm <= slant * gap_mm


@pytest.mark.parametrize("outward", [(1, 0, 0), (0, 1, 0), (0, 0, -1), (0.6, 0.64, 0.48), (0.531, 0.438, 0.719)])
def test_a_section_holds_the_way_out_of_the_place_and_is_seen_all_but_squarely(outward):
    out = np.array(outward) / np.linalg.norm(outward)
    towards, view = section_view(np.eye(3), out)
    assert towards @ out == pytest.approx(0, abs=1e-9)
    assert np.linalg.norm(towards) == pytest.approx(1)
    assert 0.93 < view[2] @ towards < 0.97
    assert view @ view.T == pytest.approx(np.eye(3), abs=1e-9)


def test_only_the_face_of_the_cut_counts_as_cut():
    scene = block(manifold3d.Manifold.cube((3, 3, 3), center=True))
    left = cut_open(scene, np.array((1.0, 0.0, 0.0)), np.array((1.0, 0.0, 0.0)))
    assert left.surface.areas[left.cut].sum() == pytest.approx(12 * 12 - 3 * 3)
    assert scene.cut is None


def test_the_cut_goes_through_the_place_and_leaves_what_lies_behind():
    scene = block(manifold3d.Manifold.cube((3, 3, 3), center=True))
    left = cut_open(scene, np.array((1.5, 0.0, 0.0)), np.array((1.0, 0.0, 0.0)))
    assert left.mesh.bounds[1][0] == pytest.approx(1.5)
    assert left.mesh.bounds[0][0] == pytest.approx(-6)
    open_mesh = Mesh(scene.mesh.vertices, scene.mesh.faces[1:])
    assert cut_open(replace(scene, surface=smooth(open_mesh)), np.zeros(3), np.array((1.0, 0.0, 0.0))) is None


def test_the_lines_along_which_a_surface_crosses_itself_are_drawn_as_faults():
    two = joined(cube(4), cube(4, (2, 1, 1)))
    plain = replace(block(), surface=smooth(two))
    red = crossed(plain)
    shown = [seen_by(camera_for(two.vertices, s.axes, size=120, mm_per_px=0.1), s.surface).fault for s in (plain, red)]
    assert len(shown[0]) == 0
    assert np.hypot(*(shown[1][:, 2:] - shown[1][:, :2]).T).sum() > 20
    assert crossed(block()) is not red
    assert len(crossed(block()).surface.crossing_mm) == 0
