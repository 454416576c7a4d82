"""One drawing as SVG and as PNG: sound XML with words as words, the same things at the same places."""

from io import BytesIO
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from pourwell.sheets.drawing import Box, Drawing, Raster, Strokes, Words, bar, circle, fitted, font_of, frame, shortened, wrapped

SVG = "{http://www.w3.org/2000/svg}"
RED, BLACK = (200, 0, 0), (0, 0, 0)


def drawing(*parts, title="A title", about="What it shows.") -> Drawing:
    return Drawing(width=120, height=80, title=title, about=about, parts=parts, mm_per_px=0.1)


def parsed(made: Drawing) -> ElementTree.Element:
    return ElementTree.fromstring(made.svg)


def test_an_svg_says_what_it_is_and_shows_before_anything_else():
    root = parsed(drawing(Box(x=0, y=0, width=120, height=80, fill=RED)))
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]
    assert [child.text for child in root][:2] == ["A title", "What it shows."]
    assert root.get("viewBox") == "0 0 120 80"


@pytest.mark.parametrize("words", ["<script>&\"'", "Ring «Nº 7» ñ € Ωβ", "戒指", "a\x00b\x1fc", ""])
def test_any_name_makes_sound_xml_and_stays_a_word(words):
    root = parsed(drawing(Words(x=5, y=20, text=words, size=12, halo=RED), title=words, about=words))
    written = root.find(f"{SVG}text")
    assert written is not None
    assert (written.text or "") == "".join(c for c in words if c >= " ")


def test_a_raster_is_carried_in_the_svg_pixel_by_pixel():
    rgb = np.random.default_rng(1).integers(0, 255, size=(20, 30, 3)).astype(np.uint8)
    image = parsed(drawing(Raster(x=7, y=9, rgb=rgb))).find(f"{SVG}image")
    assert image is not None
    assert (image.get("x"), image.get("y"), image.get("width"), image.get("height")) == ("7", "9", "30", "20")
    kind, data = str(image.get("href")).split(",", 1)
    assert kind == "data:image/png;base64"
    inside = np.asarray(Image.open(BytesIO(__import__("base64").b64decode(data))))
    np.testing.assert_array_equal(inside, rgb)
    np.testing.assert_array_equal(drawing(Raster(x=7, y=9, rgb=rgb)).pixels[9:29, 7:37], rgb)


def test_lines_are_paths_and_what_goes_on_is_one_line():
    lines = np.array([(0, 0, 10, 0), (10, 0, 10, 10), (50, 50, 60, 60)], dtype=float)
    path = parsed(drawing(Strokes(lines=lines, width=2.5, colour=RED, opacity=0.5))).find(f"{SVG}path")
    assert path is not None
    assert path.get("d") == "M0 0L10 0L10 10M50 50L60 60"
    assert (path.get("stroke"), path.get("stroke-width"), path.get("opacity"), path.get("fill")) == (
        "#c80000",
        "2.5",
        "0.5",
        "none",
    )


def test_pixels_show_boxes_lines_and_words_where_they_are():
    made = drawing(
        Box(x=10, y=10, width=20, height=5, fill=RED),
        Strokes(lines=np.array([(60.5, 40.5, 100.5, 40.5)]), width=3.0),
        Words(x=60, y=70, text="mmmm", size=14, anchor="middle"),
    ).pixels
    assert (made[10:15, 10:30] == RED).all()
    assert (made[9, 10:30] == 255).all()
    assert (made[40, 62:99] < 30).all()
    assert (made[37, 62:99] == 255).all()
    dark = np.argwhere(made[55:, :, 0] < 100)
    assert dark[:, 1].mean() == pytest.approx(60, abs=2)
    assert dark[:, 0].mean() + 55 == pytest.approx(70, abs=4)


def test_opacity_and_halo():
    half = drawing(Strokes(lines=np.array([(20.0, 20, 100, 20)]), width=6.0, colour=BLACK, opacity=0.5)).pixels
    assert half[20, 60].tolist() == [128, 128, 128]
    ground = Box(x=0, y=0, width=120, height=80, fill=BLACK)
    haloed = drawing(ground, Words(x=20, y=40, text="Wall", size=20, colour=BLACK, halo=(255, 255, 255))).pixels
    assert (haloed == 255).any()
    assert not (drawing(ground, Words(x=20, y=40, text="Wall", size=20, colour=BLACK)).pixels > 0).any()


def test_strokes_beyond_the_sheet_are_left_out():
    lines = np.array([(-50.0, -50, -20, -20), (200, 200, 300, 300)])
    assert (drawing(Strokes(lines=lines, width=4.0)).pixels == 255).all()
    assert (drawing(Strokes(lines=np.zeros((0, 4)), width=4.0)).pixels == 255).all()


def test_a_png_prints_at_twice_the_size_of_the_piece():
    image = Image.open(BytesIO(drawing(Box(x=0, y=0, width=9, height=9, fill=RED)).png))
    assert image.size == (120, 80)
    assert image.info["dpi"][0] == pytest.approx(25.4 / 0.1 / 2, rel=0.01)
    free = Drawing(width=10, height=10, title="t", about="a", parts=())
    assert "dpi" not in Image.open(BytesIO(free.png)).info


def test_parts_can_stand_in_a_larger_drawing():
    parts = (
        Raster(x=1, y=2, rgb=np.zeros((3, 3, 3), dtype=np.uint8)),
        Box(x=1, y=2, width=3, height=3, fill=RED),
        Strokes(lines=np.array([(1.0, 2, 3, 4)]), width=1.0),
        Words(x=1, y=2, text="w", size=9, bold=True, anchor="end", halo=RED),
    )
    raster, box, strokes, words = drawing(*parts).part(10, 20)
    assert (raster.x, raster.y, box.x, box.y, words.x, words.y) == (11, 22, 11, 22, 11, 22)
    assert strokes.lines.tolist() == [[11, 22, 13, 24]]
    assert (words.bold, words.anchor, words.halo) == (True, "end", RED)


def test_a_circle_and_a_frame_are_closed():
    for lines in (circle(50, 40, 10), frame(5, 6, width=30, height=20)):
        assert lines[:, 2:] == pytest.approx(np.roll(lines[:, :2], -1, axis=0))
    assert np.hypot(circle(50, 40, 10)[:, 0] - 50, circle(50, 40, 10)[:, 1] - 40) == pytest.approx(np.full(48, 10.0))


def test_a_bar_is_as_long_as_it_says():
    under, line, name = bar(20, 60, length_mm=5.0, mm_per_px=0.1, size=12)
    assert np.ptp(line.lines[:, [0, 2]]) == pytest.approx(50)
    assert name.text == "5 mm"
    assert under.width > line.width


def test_long_words_are_wrapped_then_cut():
    text = "The wall is thin and the metal may not fill it, so thicken it in the drawing program or cast hotter"
    lines = wrapped(text, width=180, size=14, most=3)
    assert len(lines) == 3
    assert all(font_of(14).getlength(line) <= 180 for line in lines)
    assert lines[-1].endswith("…")
    assert wrapped("short", width=200, size=14) == ["short"]
    assert wrapped("", width=200, size=14) == []
    whole = wrapped(text, width=200, size=14, most=9)
    assert " ".join(whole) == text
    assert shortened("x" * 400, width=100, size=14).endswith("…")


def test_one_word_wider_than_the_line_is_cut():
    (line,) = wrapped("W" * 90, width=100, size=14)
    assert font_of(14).getlength(line) <= 100


@pytest.mark.parametrize(
    "text", ["short", "87 edges whose sides disagree which way is out", "A  ring-by-hand_rev.2-final", "W" * 120, ""]
)
@pytest.mark.parametrize("width", [60, 150, 400])
def test_what_is_fitted_is_no_wider_than_its_room_and_whole(text, width):
    size, lines = fitted(text, width=width, sizes=(24, 18, 12))
    assert all(font_of(size).getlength(line) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert (size == 24 and len(lines) == 1) or font_of(24).getlength(text) > width
    assert len(lines) == 1 or size == 12, "in lines only when the least size is too wide"


def test_the_largest_size_that_fits_is_taken():
    text = "4.0 times its width, limit 1.5 times its width"
    for size in (24, 18, 12):
        room = font_of(size, bold=True).getlength(text)
        assert fitted(text, width=room, sizes=(24, 18, 12), bold=True) == (size, [text])


def test_a_long_name_is_broken_after_a_mark_and_begins_beside_its_letter():
    name = "A  signet-with-engraving-and-a-table-of-stones"
    _, lines = fitted(name, width=150, sizes=(15,))
    assert len(lines) > 1
    assert lines[0].startswith("A  signet")
    assert all(line.endswith("-") for line in lines[:-1])
    assert "".join(lines) == name


def test_a_letter_wider_than_the_room_is_set_alone():
    assert fitted("WW", width=1, sizes=(20,))[1] == ["W", "W"]


def test_a_png_holds_the_pixels_of_the_drawing():
    random = np.random.default_rng(1)
    made = drawing(
        Raster(x=3, y=4, rgb=random.integers(0, 256, (40, 60, 3)).astype(np.uint8)), Words(x=9, y=60, text="mm", size=14)
    )
    np.testing.assert_array_equal(np.asarray(Image.open(BytesIO(made.png))), made.pixels)


def test_a_stroke_leaves_what_it_does_not_touch_as_it_was():
    ground = np.random.default_rng(2).integers(0, 256, (80, 120, 3)).astype(np.uint8)
    lines = np.array([(10.0, 10, 90, 60), (90, 10, 10, 60)])
    made = drawing(Raster(x=0, y=0, rgb=ground), Strokes(lines=lines, width=3.0, colour=RED, opacity=0.7)).pixels
    down, right = np.mgrid[:80, :120] + 0.5
    away = np.full((80, 120), np.inf)
    for ax, ay, bx, by in lines:
        along = np.clip(((right - ax) * (bx - ax) + (down - ay) * (by - ay)) / ((bx - ax) ** 2 + (by - ay) ** 2), 0, 1)
        away = np.minimum(away, np.hypot(right - ax - along * (bx - ax), down - ay - along * (by - ay)))
    np.testing.assert_array_equal(made[away > 2.01], ground[away > 2.01])
    inside = away < 0.9
    assert np.abs(made[inside] - (0.3 * ground[inside] + 0.7 * np.array(RED))).max() <= 0.51
