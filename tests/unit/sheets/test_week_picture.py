"""The picture of the days: everything that is done is on it, in black and greys, as PNG and as SVG."""

from xml.etree import ElementTree

import numpy as np
import pytest

from pourwell.sheets.drawing import Box
from pourwell.sheets.week_picture import CLOSED, DASHES, HEAD, HOUR_PX, LEFT, NIGHT, STRIP, _dashed, week_picture
from pourwell.sheets.week_view import days_of
from tests.unit.day.weeks import ZONE, placed, planned, two_kilns

SVG = "{http://www.w3.org/2000/svg}"


def words(picture) -> list[str]:
    return [text.text or "" for text in ElementTree.fromstring(picture.svg).iter(f"{SVG}text")]


def test_each_day_is_a_strip_with_its_date_and_its_hours():
    picture = week_picture(planned("rings"), zone=ZONE)
    said = words(picture)
    assert {"Before the fair", "Mon 1 Mar", "Tue 2 Mar", "last pour 08:40, Tue 2 Mar"} <= set(said)
    assert said.count("08") == said.count("22") == 2
    assert picture.height > HEAD + 2 * STRIP


def test_every_run_and_every_pour_is_on_it():
    said = words(week_picture(planned("rings", "signets", "studs"), zone=ZONE))
    assert {"pour 1", "pour 2", "pour 3", "on", "1", "2", "3"} <= set(said)
    for word in ("patterns", "tree", "invest", "into kiln", "melt, pour", "quench", "cut"):
        assert any(word in one for one in said), word


def test_work_stands_at_its_hour():
    """Set-out at eight, so the block begins eight hours from midnight and lasts 43 min."""
    picture = week_picture(planned("rings"), zone=ZONE)
    ink = [p for p in picture.parts if isinstance(p, Box) and p.fill[0] < 50]
    assert any(abs(p.x - (LEFT + 8 * HOUR_PX)) <= 1 and abs(p.width - 43 / 60 * HOUR_PX) <= 2 for p in ink)


def test_the_night_is_darker_than_the_closed_bench_and_the_day_is_white():
    picture = week_picture(planned("rings"), zone=ZONE)
    pixels = picture.pixels
    y = HEAD + 60
    shade = {hour: tuple(pixels[y, int(LEFT + hour * HOUR_PX)]) for hour in (3.3, 7.5, 11.3, 20.3)}
    assert shade[3.3] == NIGHT
    assert shade[7.5] == shade[20.3] == CLOSED
    assert shade[11.3] == (255, 255, 255)


def test_it_is_legible_in_black_and_white():
    """Nothing is told by a hue: every pixel is near to grey."""
    pixels = week_picture(planned("rings", "signets"), zone=ZONE).pixels.astype(int)
    assert np.abs(pixels.max(axis=-1) - pixels.min(axis=-1)).max() <= 12


def test_png_and_svg_show_the_same_size():
    from io import BytesIO

    from PIL import Image

    picture = week_picture(planned("signets"), zone=ZONE)
    root = ElementTree.fromstring(picture.svg)
    assert Image.open(BytesIO(picture.png)).size == (picture.width, picture.height)
    assert (int(root.get("width")), int(root.get("height"))) == (picture.width, picture.height)


def test_the_lines_of_two_kilns_are_told_apart_by_their_dashes():
    plan = placed("rings", "signets", of=two_kilns(), pour_at=None)
    kilns = {load.kiln for load in plan.loads}
    said = words(week_picture(plan, zone=ZONE))
    assert kilns <= set(said)


@pytest.mark.parametrize("dash", [d for d in DASHES if d])
def test_dashes_have_ink_and_gap_in_their_shares_round_corners_too(dash):
    points = [(0.0, 0.0), (100.0, 0.0), (100.0, 250.0)]
    strokes = _dashed(points, dash)
    inked = np.hypot(*(strokes[:, 2:] - strokes[:, :2]).T).sum()
    assert inked == pytest.approx(350 * dash[0] / sum(dash), abs=sum(dash))
    assert _dashed(points, None).shape == (2, 4)


def test_some_days_alone_can_be_shown_without_a_title():
    plan = planned("rings")
    days = days_of(plan, ZONE)
    part = week_picture(plan, zone=ZONE, days=days[:1], titled=False)
    assert "Before the fair" not in words(part)
    assert "Tue 2 Mar" not in words(part)
    assert part.width == week_picture(plan, zone=ZONE).width


def test_the_picture_says_what_it_shows_to_who_cannot_see_it():
    root = ElementTree.fromstring(week_picture(planned("rings"), zone=ZONE).svg)
    assert root.find(f"{SVG}title").text == "Before the fair"
    assert "2 days: the kilns' temperature over the hands-on work" in root.find(f"{SVG}desc").text
