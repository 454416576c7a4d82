"""Patterns by hand: a broken one mended, a ring sized and stood in the printer, a piece made from a shape; a file too large."""

import numpy as np

from benchmarks.pieces import ring, torn, write_stl
from tests.journeys.desk.conftest import DESK, SLOW_MS, watched
from tests.unit.files.pattern_files import cube

PHONE = {"width": 390, "height": 844}
GRAVE = ("serious", "critical")
LONG_MS = 3 * SLOW_MS


def ready(page):
    page.locator("[data-ready=yes]").wait_for(timeout=LONG_MS)


def put_in(page, path, name):
    """Drop a file, wait for its check, and open its page."""
    page.open("/patterns")
    page.get_by_label("Pattern files").set_input_files(str(path))
    page.get_by_role("link", name=name, exact=True).wait_for()
    page.locator(".piece", has_text=name).locator("img").wait_for(timeout=LONG_MS)
    page.get_by_role("link", name=name, exact=True).click()
    ready(page)


def fair(page, what):
    """Nothing is wider than the page, and axe finds nothing serious."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page.page).response["violations"]
    grave = [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found if one["impact"] in GRAVE]
    assert not grave, f"{what}: {grave}"
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0, what


def test_a_broken_pattern_is_mended_beside_the_original(page, tmp_path):
    small = ring(bore_mm=17.3, width_mm=4.0, wall_mm=2.0, around=60, across=30)
    put_in(page, write_stl(tmp_path / "alder-ring.stl", torn(small, lost=6, turned=4)), "Alder ring")
    page.get_by_role("button", name="See it mended").click()
    page.get_by_role("radio", name="As it would be").wait_for(timeout=LONG_MS)
    ready(page)
    fair(page, "a draft")
    before = page.evaluate("document.querySelectorAll('.view button.letter').length")
    page.get_by_role("radio", name="As it would be").check()
    page.wait_for_function("document.querySelector('.view').dataset.solid === '1'")
    assert page.locator(".legend b").inner_text() == "Off the old surface, mm"
    assert before > 6, "each hole and each turned triangle bears a letter"
    assert page.get_by_text("It changes more than mending may unasked").is_visible()
    page.get_by_role("button", name="Keep it all the same").click()
    page.get_by_role("link", name="Alder ring, mended").click()
    page.get_by_text("Nothing was found that needs care.").wait_for(timeout=LONG_MS)
    page.open("/patterns")
    assert page.get_by_role("link", name="Alder ring", exact=True).is_visible(), "the original is there"


def test_a_stone_that_bears_no_name_is_left_out_and_a_run_wants_another_size(page, tmp_path):
    stone = cube(2, (-1, 11.5, -1))
    both = [ring(bore_mm=17.3, width_mm=4.0, wall_mm=2.0, around=60, across=30), stone.vertices[stone.faces]]
    put_in(page, write_stl(tmp_path / "birch-set.stl", np.concatenate(both)), "Birch set")
    assert "2 solids that do not touch" in page.locator(".find").first.inner_text()
    page.get_by_label("(2)").uncheck()
    page.get_by_text("is not cast: you left it out").wait_for(timeout=LONG_MS)
    assert page.get_by_label("(2)").evaluate("box => box === document.activeElement"), "keys keep their place when the check comes"
    assert page.locator(".find").count() == 1
    page.get_by_label("(1)").click()
    page.get_by_text("Every body of the file would be left out").wait_for()
    assert page.get_by_label("(1)").is_checked(), "what is shown is what is kept"
    fair(page, "a pattern of two bodies")
    page.get_by_role("button", name="Plan a run with it").click()
    page.get_by_label("Size wanted", exact=True).fill("57")
    page.locator(".plist .field.bad").wait_for()
    page.get_by_label("Size wanted", exact=True).fill("US 8")
    page.locator(".plist .field.bad").wait_for(state="detached")
    fair(page, "a run that wants a size")
    page.reload()
    page.wait_for_function("document.querySelector('.plist .field input')?.value === 'US 8'")
    way = page.locator(".name").first.get_attribute("href")
    page.open(f"{way}?size=US+8#ring-size")
    page.wait_for_function("document.getElementById('ring-size')?.getBoundingClientRect().top < innerHeight / 2")
    assert page.get_by_label("Finished size wanted").input_value() == "US 8", "the part that the address names, and its field"


def test_a_ring_is_sized_and_the_new_one_taken_back(page, band):
    put_in(page, band, "Heddle band 54")
    fair(page, "a pattern")
    field = page.get_by_label("Finished size wanted")
    field.fill("fifty")
    page.get_by_text("Not yet:").or_(page.locator(".field.bad")).first.wait_for()
    field.fill("ISO 57")
    page.get_by_text("18.14 mm across").wait_for()
    page.get_by_role("button", name="See it at that size").click()
    page.get_by_role("radio", name="As it would be").wait_for(timeout=LONG_MS)
    finished = page.get_by_role("row", name="Finished bore")
    assert "18.14 mm" in finished.inner_text()
    page.get_by_role("button", name="Keep it beside the original").click()
    page.get_by_role("link", name="Heddle band 54, ISO 57").wait_for()
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("link", name="Heddle band 54, ISO 57").wait_for(state="detached")
    page.open("/patterns")
    page.get_by_role("link", name="Heddle band 54", exact=True).wait_for()
    assert page.get_by_role("link", name="Heddle band 54, ISO 57").count() == 0


def test_a_ring_is_stood_in_the_printer_another_way_and_stands_so_after_a_reload(browser, desk, band):
    with watched(browser, desk, size=PHONE) as page:
        put_in(page, band, "Heddle band 54")
        page.get_by_role("link", name="In the printer").click()
        page.get_by_role("button", name="See it standing, the bore level").click(timeout=LONG_MS)
        page.get_by_text("Standing, the bore level: as you asked.").wait_for(timeout=LONG_MS)
        fair(page, "a print on a phone")
        ways = page.locator(".scroll:has(.stands)")
        assert ways.evaluate("box => box.scrollWidth - box.clientWidth") <= 0, "the ways stand row by row, and none is cut"
        page.reload()
        page.get_by_text("Standing, the bore level: as you asked.").wait_for(timeout=LONG_MS)
        ready(page)
        assert page.locator(".view").get_attribute("data-field") == "under"
        page.locator(".places").get_by_role("button", name="Largest ceiling").click()
        page.locator(".places li.here").wait_for()
        page.wait_for_function("document.querySelector('.view').getBoundingClientRect().bottom > 0")
        page.emulate_media(color_scheme="dark", reduced_motion="reduce")  # no colour is half-way when axe looks
        page.set_viewport_size(DESK)
        fair(page, "a print on a desk in the dark")
        page.set_viewport_size(PHONE)
        page.open("/?size=US+7")
        page.get_by_label("Band, width").fill("8")
        page.get_by_text("A band of 8 mm wants ISO 55.9").wait_for()
        assert page.url.endswith("/?size=US+7&width=8")


def test_a_piece_is_made_from_a_shape_as_one_types_kept_and_found(browser, desk):
    with watched(browser, desk, scheme="dark", size=PHONE) as page:
        page.set_default_timeout(LONG_MS)
        page.open("/patterns/new")
        ready(page)
        page.get_by_label("Made as").select_option("signet")
        weight = page.locator(".figures dd").first
        page.get_by_label("Head", exact=True).fill("2,9")
        page.wait_for_function("location.search.includes('head')")
        page.get_by_label("Edge").fill("9")
        page.get_by_text("This piece cannot be made: edge is 9").wait_for()
        page.reload()
        page.get_by_text("This piece cannot be made: edge is 9").wait_for()
        assert page.get_by_label("Head", exact=True).input_value() == "2,9", "a page that is loaded anew has lost nothing"
        fair(page, "a shape on a phone")
        page.get_by_label("Edge").fill("0.3")
        weight.wait_for()
        page.get_by_role("button", name="Keep it in the library").click()
        page.get_by_role("link", name="Signet", exact=True).wait_for()
        page.open("/patterns")
        page.get_by_label("Find a pattern").fill("signet 57")
        page.get_by_text("No pattern is called so.").wait_for()
        page.get_by_label("Find a pattern").fill("signet")
        page.wait_for_function("document.querySelectorAll('.piece').length === 1")
        page.locator(".piece img").wait_for()
        fair(page, "the library on a phone")


def test_three_hundred_megabytes_are_not_taken(page, tmp_path):
    large = tmp_path / "boulder.stl"
    with large.open("wb") as file:
        file.truncate(300_000_000)
    page.open("/patterns")
    page.get_by_label("Pattern files").set_input_files(str(large))
    page.get_by_text("Not taken: 300 MB, and the limit is 256 MB. Export it coarser.").wait_for()
    page.get_by_role("button", name="Close").click()
    assert page.get_by_text("Not taken").count() == 0
