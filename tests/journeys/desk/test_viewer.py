"""The viewer: it draws when something changes and not otherwise, and offers a picture where it cannot."""

from datetime import UTC, datetime
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from pourwell.app.shapes import build_shape
from pourwell.app.view_arrays import FieldGiven, solid_view
from pourwell.store.store import Store
from tests.journeys.desk.conftest import SLOW_MS, watched
from tests.unit.web.samples import checked


@pytest.fixture(scope="module")
def piece(browser, desk, band):
    """The address of a checked pattern."""
    with watched(browser, desk) as page:
        page.open("/patterns")
        page.get_by_label("Pattern files").set_input_files(str(band))
        page.locator(".piece img").wait_for(timeout=3 * SLOW_MS)
        return page.locator(".piece h3 a").get_attribute("href")


def frames(page):
    return int(page.locator(".view").get_attribute("data-frame"))


def ready(page, address):
    page.open(address)
    page.locator("[data-ready=yes]").wait_for()
    page.wait_for_timeout(300)


def colours(page):
    """How many colours the picture has: an empty tray has a handful."""
    picture = Image.open(BytesIO(page.locator(".view canvas").screenshot()))
    return len(picture.convert("RGB").getcolors(maxcolors=1 << 24))


def test_the_piece_is_drawn_with_its_walls_and_a_scale(page, piece):
    ready(page, piece)
    assert page.locator(".view").get_attribute("data-field") == "wall"
    assert page.locator(".legend b").inner_text() == "Wall, mm"
    assert colours(page) > 300
    assert page.locator(".scalebar").inner_text().endswith("mm")
    assert int(page.locator(".view").get_attribute("data-three")) >= 180


def test_nothing_is_drawn_at_rest(page, piece):
    ready(page, piece)
    before = frames(page)
    page.wait_for_timeout(1000)
    assert frames(page) == before


def drawn_after(page, before):
    page.wait_for_function(f"Number(document.querySelector('.view').dataset.frame) > {before}")
    return frames(page)


def test_all_of_it_is_reached_by_keys(page, piece):
    ready(page, piece)
    canvas, before = page.locator(".view canvas"), frames(page)
    canvas.focus()
    ring = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
    for key in ("ArrowLeft", "ArrowUp", "+", "Shift+ArrowRight", "2", "0"):
        page.keyboard.press(key)
        before = drawn_after(page, before)
    for _ in range(6):
        page.keyboard.press("]")
    drawn_after(page, before)
    assert page.locator(".view").get_attribute("data-section") == "12"
    assert page.locator(".cut output").inner_text() == "0.5 mm", "12 % of the band's 4 mm"
    page.get_by_label("Section from").select_option("Side")
    page.get_by_label("Section, how deep").press("Home")
    page.wait_for_function("document.querySelector('.cut output').innerText === 'off'")
    assert ring == "3px", "the focus is seen"


def test_two_points_are_measured_by_keys(page, piece):
    ready(page, piece)
    page.get_by_role("radio", name="Measure").check()
    said = page.locator(".measured")
    canvas = page.locator(".view canvas")
    canvas.focus()
    page.keyboard.press("1")
    page.keyboard.press("Enter")
    assert said.inner_text() == "from where?", "in the middle of a ring there is nothing to take"
    for _ in range(8):
        page.keyboard.press("Shift+ArrowDown")
        page.keyboard.press("Enter")
        if said.inner_text() == "and to where?":
            break
    page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("Enter")
    page.wait_for_function("document.querySelector('.measured').innerText.endsWith('mm')")
    page.keyboard.press("Escape")
    assert said.inner_text() == "from where?"


def test_plain_form_has_no_legend(page, piece):
    ready(page, piece)
    page.get_by_role("radio", name="Plain").check()
    page.locator(".legend").wait_for(state="detached")


def test_two_points_are_measured(page, piece):
    ready(page, piece)
    page.get_by_role("button", name="Front").click()
    page.get_by_role("radio", name="Measure").check()
    box = page.locator(".view canvas").bounding_box()
    middle, spots = box["y"] + box["height"] / 2, []
    for share in [k / 60 for k in range(61)]:
        page.mouse.click(box["x"] + share * box["width"], middle)
        said = page.locator(".measured")
        if said.count() and said.inner_text() != (spots[-1] if spots else ""):
            spots.append(said.inner_text())
        if spots and spots[-1].endswith("mm"):
            break
    assert spots[:2] == ["from where?", "and to where?"]
    assert 0 < float(spots[-1].removesuffix(" mm")) < 30


def put_in(desk, view, head):
    """A pattern with a solid as its check, put into the store beside the desk; its address."""
    store = Store(desk.folder)
    pattern, _ = store.add_pattern(view, file="made.stl", name="Made", now=datetime.now(UTC))
    files = {"view.bin": view, "picture.png": b""}
    store.add_result(pattern_id=pattern.id, asked={}, data=checked() | {"view": head}, files=files, now=pattern.added_at)
    store.close()
    return f"/patterns/{pattern.id}"


@pytest.fixture(scope="module")
def timed(desk, piece):
    """The address of a piece whose last check has times on it: one field of times, one of three moments."""
    band = build_shape("plain-band", ("size=ISO 54", "width=4", "thickness=1.8"))
    height = band.centres[:, 2] - band.centres[:, 2].min()
    rows = np.stack([np.full(len(height), 20.0), 20 + 30 * height, np.full(len(height), 700.0)])
    fields = [
        FieldGiven(name="solid", title="Solid after", unit="s", values=height / 2, slide="Still liquid at"),
        FieldGiven(name="heat", title="Heat", unit="°C", values=rows, slide="At", moments_s=(0.0, 600.0, 7200.0)),
    ]
    view, head = solid_view([("piece", band)], fields=fields)
    store = Store(desk.folder)
    pattern, _ = store.add_pattern(b"solid of another kind", file="timed.stl", name="Timed band", now=datetime.now(UTC))
    store.add_result(
        pattern_id=pattern.id,
        asked={},
        data=checked() | {"view": head},
        files={"view.bin": view, "picture.png": b""},
        now=pattern.added_at,
    )
    store.close()
    return f"/patterns/{pattern.id}"


def test_times_are_gone_through_by_keys(page, timed):
    ready(page, timed)
    view, slider = page.locator(".view"), page.get_by_label("Still liquid at")
    assert slider.get_attribute("aria-valuetext") == "all"
    before = colours(page)
    slider.focus()
    for _ in range(3):
        page.keyboard.press("PageDown")
    page.wait_for_function("Number(document.querySelector('.view').dataset.time) < 9")
    assert slider.get_attribute("aria-valuetext").endswith(" s")
    page.wait_for_timeout(300)
    assert colours(page) != before, "what is solid by then is pale"
    page.get_by_role("radio", name="Heat").check()
    slider = page.get_by_label("At", exact=True)
    assert (view.get_attribute("data-time"), slider.get_attribute("aria-valuetext")) == ("0", "0.00 s")
    frame = frames(page)
    page.locator(".view canvas").focus()
    for _ in range(5):
        page.keyboard.press(".")
    drawn_after(page, frame)
    assert view.get_attribute("data-time") == "720", "a tenth of two hours, between the second moment and the third"
    assert slider.get_attribute("aria-valuetext") == "12.0 min"
    page.get_by_role("radio", name="Plain").check()
    assert page.get_by_label("At", exact=True).count() == 0


def test_what_is_thinned_for_the_picture_says_so(page, desk):
    view, head = solid_view([("piece", build_shape("stud", ()))])
    address = put_in(desk, view, head | {"triangle_count": 500_000})
    ready(page, address)
    assert page.locator(".view-said").inner_text().endswith("of its 500,000 triangles: its figures do not come from the picture.")


def test_without_webgl_a_still_picture_stands_in_its_place(browser, desk, piece):
    with watched(browser, desk) as page:
        page.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
        page.allowed = ("WebGL",)
        page.open(piece)
        page.locator("[data-ready=still]").wait_for()
        assert page.locator(".view-pic img").is_visible()
        assert page.get_by_text("draws no 3-D").is_visible()


def test_legend_scale_bar_section_and_measure_are_in_the_units_of_the_reader(page, desk, piece):
    (desk.folder / "studio.toml").write_text('[shown]\nlength = "inch"\ndecimal = "comma"\n', encoding="utf-8")
    ready(page, piece)
    assert page.locator(".legend b").inner_text() == "Wall, in"
    ticks = page.locator(".legend .scale > span:not(.limit)").all_inner_texts()
    assert ticks == ["0,00", "0,04", "0,06"], "round hundredths of an inch; one under the limit is left out"
    assert page.locator(".legend .limit").inner_text().split()[0] == "0,024", "0.6 mm"
    assert page.locator(".scalebar").inner_text() in ("0,2 in", "0,5 in")
    page.get_by_label("Section, how deep").fill("12")
    page.wait_for_function("document.querySelector('.cut output').innerText === '0,019 in'")
