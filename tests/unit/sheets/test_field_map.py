"""Fields in colours: values where they are, the limit seen without colour, the scale beside them, names that keep apart."""

import re
from dataclasses import replace

import numpy as np
import pytest

from pourwell.geometry.picture import look, seen_by
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import bezel_ring, plain_band, signet
from pourwell.sheets.colours import TRAY, UNKNOWN, WHITE, glow, scale_of
from pourwell.sheets.drawing import Raster, Strokes, Words, font_of
from pourwell.sheets.field_map import (
    AS_TOLD,
    LEGEND,
    LIT,
    coloured,
    field_map,
    field_named,
    flags,
    halves,
    legend,
    more_fields,
    painted_field,
    wall_field,
)
from pourwell.sheets.scene import cameras, scene_of
from pourwell.sheets.stills import HATCH_OPACITY, PAD, hatching
from pourwell.sheets.viewpoint import is_visible
from tests.unit.geometry.printed_samples import block, mesh
from tests.unit.sheets.pieces import pattern, ring_bore

SIZE = 240


@pytest.fixture(scope="module")
def band():
    return scene_of(pattern(plain_band(), bore=ring_bore()))


@pytest.fixture(scope="module")
def seen(band):
    return seen_by(cameras(band, size=SIZE)["three-quarter"], band.surface)


def words(parts) -> list[str]:
    return [part.text for part in parts if isinstance(part, Words)]


def test_a_field_is_seen_where_it_is(band, seen):
    """The height of every triangle, looked up in the picture, is the height of the place that the pixel shows."""
    field = field_named("height", band.mesh.centres[:, 2])
    values = field.seen(seen, band.surface)
    assert np.isnan(values[~seen.hit]).all()
    assert np.abs(values[seen.hit] - seen.places[:, 2]).max() < 0.3


def test_colours_are_those_of_the_map_in_full_light(band, seen):
    values = np.where(seen.hit, 1.0, np.nan)
    scale = scale_of(np.array([0.0, 2.0]), weights=np.ones(2), limit=None)
    painted = coloured(seen, values, scale=scale, limit=None).astype(float)
    bright = seen.hit & (seen.cover == 1) & (seen.light > 0.7)
    hue = painted[bright] / painted[bright].sum(axis=1, keepdims=True)
    told = glow(np.array(0.5))
    assert np.abs(hue - told / told.sum()).max() < 0.02
    assert (painted[seen.cover == 0] == TRAY).all()


def test_what_has_no_value_is_grey_without_a_hue(band, seen):
    scale = scale_of(np.array([0.0, 2.0]), weights=np.ones(2), limit=None)
    for nothing in (np.nan, np.inf):
        painted = coloured(seen, np.where(seen.hit, nothing, np.nan), scale=scale, limit=0.6)
        inside = painted[seen.hit & (seen.cover == 1)].astype(int)
        assert np.ptp(inside, axis=1).max() <= 3
        assert inside.max() <= max(UNKNOWN)


def test_what_is_under_the_limit_is_hatched_so_that_a_copy_in_grey_shows_it(seen):
    scale = scale_of(np.array([0.0, 2.0]), weights=np.ones(2), limit=0.6)
    grey = {}
    for value in (0.5, 0.7):
        painted = coloured(seen, np.where(seen.hit, value, np.nan), scale=scale, limit=0.6).astype(float)
        inside = seen.hit & (seen.light > 0.6)
        grey[value] = painted.mean(axis=2)[inside]
    assert grey[0.5].std() > 3 * grey[0.7].std()
    assert grey[0.5].max() > grey[0.7].max() + 40


def test_the_limit_is_a_white_line_where_the_values_pass_it(band, seen):
    heights = field_named("height", band.mesh.centres[:, 2] + 11, limit=11.0).seen(seen, band.surface)
    scale = scale_of(np.array([0.0, 22.0]), weights=np.ones(2), limit=11.0)
    parts = painted_field(seen, heights, scale=scale, limit=11.0)
    (line,) = [part for part in parts if isinstance(part, Strokes) and part.colour == WHITE]
    rows, columns = (line.lines[:, k].astype(int) for k in (1, 0))
    assert np.abs(heights[rows, columns] - 11.0).max() < 0.35
    assert len(line.lines) > 20
    assert not [p for p in painted_field(seen, heights, scale=scale, limit=None) if isinstance(p, Strokes) and p.colour == WHITE]


def test_the_legend_has_its_ticks_at_their_values():
    field = field_named("wall", np.array([0.4, 1.0, 3.8]), limit=0.8)
    scale = scale_of(field.values, weights=np.ones(3), limit=0.8)
    parts = legend(field, scale, weights=np.ones(3))
    (ramp, *_) = [part for part in parts if isinstance(part, Raster)]
    placed = {part.text: part.y for part in parts if isinstance(part, Words)}
    assert {"Wall, mm", "limit 0.8", "under the limit", "0", "4"} <= set(placed)
    for value, name in ((0, "0"), (2, "2"), (4, "4"), (0.8, "limit 0.8")):
        assert placed[name] == pytest.approx(ramp.y + len(ramp.rgb) * (1 - value / 4))
    top, bottom = ramp.rgb[0, 0].astype(float), ramp.rgb[-1].astype(float)
    assert top == pytest.approx(glow(np.array(1.0)), abs=1)
    assert (np.abs(bottom - glow(np.array(0.0))).sum(axis=1) < 4).any()


def test_the_limit_is_named_even_where_a_tick_would_stand_on_it():
    field = field_named("wall", np.array([0.4, 3.8]), limit=1.0)
    scale = scale_of(field.values, weights=np.ones(2), limit=1.0)
    said = words(legend(field, scale, weights=np.ones(2)))
    assert "limit 1" in said
    assert "1" not in said


@pytest.mark.parametrize(
    ("values", "limit", "told", "untold"),
    [
        ([1.0, 2.0], 0.8, "under it: nowhere", "under the limit"),
        ([0.5, 2.0], 0.8, "under the limit", "not measured"),
        ([1.0, np.nan], None, "not measured", "under the limit"),
        ([1.0, np.inf], None, "not measured", "under it: nowhere"),
    ],
)
def test_the_legend_tells_what_is_in_the_picture_and_no_more(values, limit, told, untold):
    field = field_named("wall", np.array(values), limit=limit)
    said = words(legend(field, scale_of(field.values, weights=np.ones(2), limit=limit), weights=np.ones(2)))
    assert told in said
    assert untold not in said


def test_a_gap_that_has_no_other_side_is_open():
    field = field_named("gap", np.array([0.3, np.inf]), limit=0.3)
    said = words(legend(field, scale_of(field.values, weights=np.ones(2), limit=0.3), weights=np.ones(2)))
    assert "Gap outside, mm" in said
    assert "open" in said
    assert field_named("groove", np.ones(3)).title == "Groove"


def test_what_lies_beyond_the_scale_is_said():
    values = np.append(np.full(99, 1.5), 60.0)
    field = field_named("wall", values, limit=0.6)
    scale = scale_of(values, weights=np.append(np.ones(99), 0.1), limit=0.6)
    assert any(said.endswith(" and more") for said in words(legend(field, scale, weights=np.ones(100))))


def test_names_that_would_meet_move_apart_and_keep_their_rings():
    parts = flags([("one", 50, 100), ("two", 52, 103), ("three", 220, 101)], width=240)
    placed = {part.text: (part.x, part.y, part.anchor) for part in parts if isinstance(part, Words)}
    assert placed["two"][1] - placed["one"][1] > 15
    assert placed["three"][1] == 101
    assert (placed["one"][2], placed["three"][2]) == ("start", "end")
    assert flags([], width=240) == ()


def test_both_halves_stand_beside_the_scale_and_places_are_named_where_they_are_seen():
    ring = pattern(signet(), bore=ring_bore(), thinnest_at=(0.0, 0.0, -11.1), sprue=(0.0, 1.0, -11.1))
    scene = scene_of(ring)
    made = field_map(scene, wall_field(ring, scene.surface, Caster(scene.mesh)), size=SIZE)
    assert made.height < made.width / 2
    placed = {part.text: part.x for part in made.parts if isinstance(part, Words)}
    assert SIZE < placed["thinnest 1.70"] < 2 * SIZE, "the foot of a ring is seen from below"
    assert "sprue" in placed
    assert {"Wall, mm", "limit 0.8"} <= set(placed)
    assert "1.7" in made.about or "1.6" in made.about


def split(gap_mm):
    """A block in two halves on a foot, an even gap between them."""
    made = block((0, 0, 0), (8, 4, 6)) - block((4 - gap_mm / 2, -1, 1), (4 + gap_mm / 2, 5, 7))
    return mesh(made)


@pytest.mark.parametrize(("gap_mm", "limit", "hatched"), [(0.2, 0.4, True), (0.4, 0.4, False), (1.0, 0.4, False)])
def test_an_even_gap_is_measured_and_hatched_where_it_is_under_its_limit(gap_mm, limit, hatched):
    """Both its walls are the narrowest and the widest gap of the piece: no ball as wide as that may be passed over as open."""
    what = split(gap_mm)
    walls = (np.abs(what.centres[:, 0] - 4) < gap_mm) & (np.abs(what.normals[:, 0]) > 0.9)
    values = np.where(walls, gap_mm, np.inf)
    piece = replace(pattern(what), gap_mm=values, gap_limit_mm=limit, gap_open_mm=4.0)
    scene = scene_of(piece)
    (field,) = more_fields(piece, scene.surface)
    assert (field.name, field.limit) == ("gap", limit)
    picture = look(what, (-0.6, -0.2, -1.0), (0.0, 1.0, 0.0), width_px=300, height_px=200, mm_per_px=0.05)
    found = field.seen(picture, scene.surface)
    on_wall = picture.hit & np.isin(picture.face, np.flatnonzero(walls))
    assert on_wall.sum() > 50
    inner = on_wall & np.isfinite(found)
    assert inner.sum() > 0.7 * on_wall.sum()
    assert np.median(found[inner]) == pytest.approx(gap_mm, abs=0.01)
    plain, judged = (coloured(picture, found, scale=field.scale(scene.surface), limit=at).astype(int) for at in (None, limit))
    assert bool((plain[inner] != judged[inner]).mean() > 0.1) == hatched


def test_one_figure_for_an_even_wall():
    band = pattern(plain_band(), bore=ring_bore())
    piece = band.piece
    even = type(band)(
        piece=type(piece)(**{name: getattr(piece, name) for name in piece.__slots__ if name != "wall"}, wall=same(piece.wall)),
        mesh=band.mesh,
        wall_mm=band.wall_mm,
    )
    scene = scene_of(even)
    field = wall_field(even, scene.surface, Caster(scene.mesh))
    assert [name for name, _ in field.marked] == ["thinnest 1.70"]


def same(wall):
    return type(wall)(**{name: getattr(wall, name) for name in wall.__slots__ if name != "thickest_mm"}, thickest_mm=1.7)


def test_walls_on_large_triangles_are_measured_where_they_are_looked_at():
    """The cup of a bezel has long triangles from rim to seat: over the ledge it is thin, below it is not, with a sharp change."""
    ring = pattern(bezel_ring(wall_mm=0.35), bore=ring_bore(), limit_mm=0.6)
    scene = scene_of(ring)
    picture = seen_by(cameras(scene, size=SIZE)["front"], scene.surface)
    values = wall_field(ring, scene.surface, Caster(scene.mesh)).seen(picture, scene.surface)
    column = values[:, SIZE // 2]
    cup = column[np.isfinite(column)][: round(3.6 / picture.mm_per_px)]
    thin = cup < 0.6
    assert thin[:4].all()
    assert not thin[-4:].any()
    assert np.abs(np.diff(thin.astype(int))).sum() == 1
    assert np.median(cup[thin]) == pytest.approx(0.35, abs=0.03)


def test_two_cameras_between_them_see_a_piece_all_round(band):
    """Every triangle that faces neither lies edge-on to both; at one scale, and the piece fits both."""
    first, second = halves(band, size=120)
    assert first.axes[2] == pytest.approx(-second.axes[2])
    assert first.mm_per_px == second.mm_per_px
    for camera in (first, second):
        places = camera.place(band.surface.points)
        assert places.min() > 0
        assert places.max() < 120


def test_fields_that_share_what_was_seen_are_drawn_as_if_each_had_looked(band):
    fields = [field_named("height", band.mesh.centres[:, 2] + 20), field_named("ball", np.full(len(band.mesh.faces), 1.5))]
    both = [seen_by(camera, band.surface) for camera in halves(band, size=120)]
    for field in fields:
        assert field_map(band, field, size=120, both=both).svg == field_map(band, field, size=120).svg


@pytest.mark.parametrize("limit", [None, 0.8])
def test_colours_are_laid_on_as_if_the_whole_raster_were_reckoned(band, seen, limit):
    """A second way: lit, hatched and laid on the tray over all pixels at once."""
    values = np.where(seen.hit, seen.depth_mm / 10, np.nan)
    values[::7] = np.nan
    scale = scale_of(values[np.isfinite(values)], weights=np.ones(int(np.isfinite(values).sum())), limit=limit)
    known = np.isfinite(values)
    colour = np.where(known[..., None], glow(scale.share(np.where(known, values, 0))), UNKNOWN)
    if limit:
        ink = (hatching(seen.shape) * HATCH_OPACITY * (np.where(known, values, np.inf) < limit * AS_TOLD))[..., None]
        colour = colour * (1 - ink) + 255 * ink
    lit = colour * (1 - LIT * (1 - seen.light[..., None]))
    cover = (seen.cover * seen.hit)[..., None]
    whole = (lit * cover + np.asarray(TRAY) * (1 - cover)).round()
    assert np.abs(coloured(seen, values, scale=scale, limit=limit).astype(int) - whole).max() <= 1


@pytest.mark.parametrize(("name", "told"), [("ball", True), ("wall", False), ("gap", True), ("anything", False)])
def test_how_a_field_is_to_be_read_stands_under_its_scale_and_nothing_there_is_too_wide(name, told):
    field = field_named(name, np.array([0.4, 1.0, np.nan]), limit=0.8)
    parts = legend(field, field_scale(field), weights=np.ones(3))
    assert ("no fault" in " ".join(words(parts))) == told
    for part in parts:
        if isinstance(part, Words):
            assert part.x + font_of(part.size, bold=part.bold).getlength(part.text) <= LEGEND - PAD, part.text
    rows = sorted(part.y for part in parts if isinstance(part, Words))[-3:]
    assert rows == sorted(set(rows)), "no two words at the foot stand on one line"


def field_scale(field):
    return scale_of(field.values, weights=np.ones(len(field.values)), limit=field.limit)


def test_a_field_without_any_value_has_a_map_that_says_so(band):
    nowhere = field_named("gap", np.full(len(band.mesh.faces), np.inf))
    made = field_map(band, nowhere, size=100)
    assert "open" in words(made.parts)
    assert "The least" not in made.about
    even = field_named("gap", np.full(len(band.mesh.faces), 1.25))
    assert "The least" not in field_map(band, even, size=100).about, "of a gap the least may be any inner corner"
    assert "The least but for edges is 1.20 mm." in field_map(band, replace(even, least=1.2), size=100).about


def test_a_field_that_nobody_knows_by_name_is_called_by_it():
    field = field_named("porosity", [1, 2])
    assert (field.title, field.unit, field.unknown, field.note) == ("Porosity", "mm", "not measured", "")
    assert field.values.dtype == np.float64


# --- names stand only where the place is seen ---


def test_a_place_that_neither_side_shows_is_not_named(band):
    """In the middle of the bore nothing is; in the middle of the band's metal there is a place that no side shows."""
    hidden, bare = (9.5, 0.0, 0.0), field_named("height", band.mesh.centres[:, 2])
    named = replace(bare, marked=(("hidden", hidden),))
    pictures = [seen_by(camera, band.surface) for camera in halves(band, size=SIZE)]
    behind = [not is_visible(picture, hidden) for picture in pictures]
    assert all(behind), "0.8 mm of metal lie before it from both sides"
    assert "hidden" not in words(field_map(band, named, size=SIZE, both=pictures).parts)
    deep = replace(named, deep_mm={"hidden": 1.5})
    assert "hidden" in words(field_map(band, deep, size=SIZE, both=pictures).parts)


def test_the_thickest_is_named_on_the_side_that_shows_its_metal():
    made = pattern(signet(), bore=ring_bore())
    at = tuple(made.mesh.centres[np.argmax(made.mesh.centres[:, 2])] - (0, 0, 0.8))
    wall = type(made.piece.wall)(
        **{name: getattr(made.piece.wall, name) for name in made.piece.wall.__slots__ if name != "thickest_at_mm"},
        thickest_at_mm=at,
    )
    made = replace(made, piece=replace(made.piece, wall=wall))
    scene = scene_of(made)
    field = wall_field(made, scene.surface, Caster(scene.mesh))
    pictures = [seen_by(camera, scene.surface) for camera in halves(scene, size=SIZE)]
    ((label, deep),) = field.deep_mm.items()
    shown = [is_visible(picture, at, deep_mm=deep) for picture in pictures]
    assert any(shown)
    drawing = field_map(scene, field, size=SIZE, both=pictures)
    (flag,) = (part for part in drawing.parts if isinstance(part, Words) and part.text == label)
    assert (flag.x < SIZE + 60) == shown[0]


# --- a scale says millimetres only where they are sure ---


def bar_of(doubt, units):
    made = pattern(plain_band(), bore=ring_bore())
    scene = scene_of(replace(made, piece=replace(made.piece, doubt=doubt, units=units)))
    field = field_named("height", scene.mesh.centres[:, 2])
    return words(field_map(scene, field, size=SIZE).parts)


def test_a_scale_is_in_the_files_own_numbers_where_their_unit_is_in_doubt():
    assert "5 mm" in bar_of("", "mm")
    told = bar_of("unit", "m")
    assert "0.005 in the file's numbers" in told
    assert not any(re.fullmatch(r"[0-9.]+ mm", text) for text in told)
    assert "5 in the file's numbers" in bar_of("unit", "mm")
    assert "5 mm" in bar_of("hull", "mm"), "a skin is as large as the piece"
