"""A run in depth: its sprue moved by hand and back, how it freezes over time, its burnout, and two of its plans side by side."""

import re
from io import BytesIO
from urllib.request import urlopen

import pytest
from PIL import Image

from tests.journeys.desk.conftest import DESK, SLOW_MS, watched

PHONE = {"width": 390, "height": 844}
JUDGED = "/burnout?flask1=64x76&level1=540&own=gypsum-wax&investment=gypsum-standard&pattern=wax-injection"
DAYS = "/runs/days?on=1"
PAGES = ("/runs/1", "/runs/1/sprues", "/runs/1/freezing", "/runs/1/burnout", "/runs/1/compare", JUDGED, DAYS)
ANSWERS = {JUDGED: ("See what it does", "Measures against their limits"), DAYS: ("Work the days out", "What to do when")}
"""Pages with something to work out: the button, and what stands there then."""


RESULTS_FIRST = """() => {
    const [found, form] = ["findings", "goes-in"].map((id) => document.getElementById(id));
    if (!found || !form || found.getBoundingClientRect().top > form.getBoundingClientRect().top) return false;
    return Boolean(found.compareDocumentPosition(form) & Node.DOCUMENT_POSITION_FOLLOWING);
}"""
"""Findings stand above the form for the eye and before it for keys."""


def worked_out(page):
    page.get_by_role("button", name=re.compile("Work it out")).click()
    page.get_by_role("link", name="Open the run sheet").wait_for(timeout=4 * SLOW_MS)


@pytest.fixture(scope="module")
def run(desk, browser, band):
    """A run of one band, planned, and planned again in another flask with its freezing."""
    with watched(browser, desk) as page:
        page.open("/patterns")
        page.get_by_label("Pattern files").set_input_files(str(band))
        page.locator(".piece img").wait_for(timeout=3 * SLOW_MS)
        page.open("/patterns/1")
        page.get_by_role("button", name="Plan a run with it").click()
        page.get_by_label("Flask", exact=True).wait_for()
        page.get_by_label("Flask", exact=True).select_option("76x76")
        page.get_by_label("Work out how it freezes").uncheck()
        worked_out(page)
        page.get_by_role("link", name="How it freezes").click()
        page.get_by_text("It was not asked for").wait_for()
        page.get_by_role("link", name="Back to the run").click()
        page.get_by_label("Flask", exact=True).select_option("64x76")
        page.get_by_label("Work out how it freezes").check()
        page.get_by_text("Since then changed: flask, freezing.").wait_for()
        worked_out(page)


def test_a_sprue_is_moved_on_the_piece_and_back(page, run):
    page.open("/runs/1")
    page.get_by_role("link", name="Sprue point").click()
    page.locator(".place-row.here").wait_for()
    grip = page.locator(".view .grip")
    grip.focus()
    if "behind" in grip.get_attribute("class"):
        page.keyboard.press("ArrowUp")
        page.wait_for_function("!document.querySelector('.grip').classList.contains('behind')")
    page.keyboard.press("Shift+ArrowRight")
    page.get_by_text("Set by you").wait_for()
    page.locator("header [role=status]", has_text="Saved").wait_for()
    page.get_by_role("link", name="Back to the run").click()
    page.get_by_text("Since then changed: sprue points.").wait_for()
    page.get_by_role("link", name="Sprue: yours").click()
    page.get_by_role("button", name="Back to the proposed place").click()
    page.get_by_text("Proposed by the shape of the piece").wait_for()
    page.get_by_role("link", name="Back to the run").click()
    page.get_by_role("link", name="Open the run sheet").wait_for()
    assert not page.get_by_text("Since then changed").is_visible()


def test_a_click_on_the_piece_sets_the_sprue_and_a_bad_place_is_told(page, run):
    page.open("/runs/1/sprues")
    page.locator(".place-row.here").wait_for()
    page.get_by_role("button", name="Above").click()
    page.get_by_role("radio", name="Set the sprue").check()
    box = page.locator(".view canvas").bounding_box()
    for share in (0.3, 0.36, 0.42, 0.48):
        page.mouse.click(box["x"] + share * box["width"], box["y"] + box["height"] / 2)
    page.get_by_text("Set by you").wait_for()
    assert page.locator(".view .grip").is_visible()
    page.get_by_role("button", name="Back to the proposed place").click()
    page.get_by_text("Proposed by the shape of the piece").wait_for()


def test_the_freezing_is_gone_through_by_its_slider(page, run):
    page.open("/runs/1/freezing")
    page.locator("[data-ready=yes]").wait_for()
    assert page.locator(".view").get_attribute("data-field") == "end"
    slider = page.get_by_role("slider", name="Time")
    whole = picture(page)
    slider.fill("60")
    page.wait_for_function("Number(document.querySelector('.view').dataset.time) > 0")
    page.wait_for_timeout(300)
    early = picture(page)
    assert warm(whole) != warm(early), "what is still liquid is coloured, what is solid is pale"
    page.get_by_role("button", name=re.compile("Show the hot spot")).first.click()
    page.locator("tr.here").wait_for()
    assert page.get_by_text("Every piece stays fed").or_(page.get_by_text("cut off")).first.is_visible()


def picture(page):
    return Image.open(BytesIO(page.locator(".view canvas").screenshot())).convert("HSV")


def warm(seen):
    """How many pixels have a colour of the scale: its grounds and pale metal have hardly any."""
    return sum(count for count, (_, saturation, _) in seen.getcolors(maxcolors=1 << 24) if saturation > 90)


def test_the_burnout_and_two_plans_are_shown_and_the_sheet_is_a_pdf(page, run):
    page.open("/runs/1")
    page.get_by_role("link", name="Inside the flask").click()
    page.get_by_text("Measures against their limits").wait_for()
    assert page.locator(".firing polyline.c-acc").count() == 1
    page.open("/runs/1/compare")
    page.get_by_text("Chosen otherwise: flask, freezing.").wait_for()
    page.locator("[data-ready=yes]").nth(1).wait_for()
    assert page.get_by_role("row", name=re.compile("^Powder")).locator("td").count() == 3
    page.get_by_label("Plan A", exact=True).select_option(index=0)
    page.wait_for_url(re.compile(r"a=\d+"))
    page.get_by_role("link", name="Back to the run").click()
    sheet = page.get_by_role("link", name=re.compile("Open the .*sheet"))
    sheet.wait_for()
    with urlopen(page.desk.address + sheet.get_attribute("href")) as answer:
        assert answer.read().startswith(b"%PDF")


def test_the_days_ahead_are_worked_out_kept_over_a_reload_and_taken_into_the_run(page, run):
    page.open("/runs")
    page.get_by_role("link", name="Place them over the days").click()
    page.get_by_label("Run 1", exact=True).check()
    page.get_by_label("At work from").fill("7:30")
    page.wait_for_url(re.compile("work_from=7%3A30"))
    page.get_by_role("button", name="Add a tree that is not drawn yet").click()
    page.get_by_role("button", name="Take tree 1 away").click()
    page.get_by_role("button", name="Undo").click()
    page.wait_for_url(re.compile("trees=1"))
    page.get_by_role("button", name="Take tree 1 away").click()
    page.wait_for_function("!location.search.includes('trees')")
    page.get_by_role("button", name="Work the days out").click()
    page.get_by_role("heading", name="What to do when", exact=True).wait_for(timeout=4 * SLOW_MS)
    page.reload()
    page.get_by_role("heading", name="What to do when", exact=True).wait_for()
    assert page.get_by_label("At work from").input_value() == "7:30"
    for name, begins in (("Open the sheet", b"%PDF"), ("Load the calendar", b"BEGIN:VCALENDAR")):
        with urlopen(page.desk.address + page.get_by_role("link", name=name).get_attribute("href")) as answer:
            assert answer.read().startswith(begins)
    page.get_by_role("button", name="Take these hours into the runs").click()
    page.get_by_role("button", name="Undo").click()
    page.get_by_text("would pour").wait_for()
    page.reload()
    page.get_by_role("button", name="Take these hours into the runs").click()
    page.locator("header [role=status]", has_text="Saved").wait_for()
    page.get_by_text("has its pour").wait_for()
    page.locator("main").get_by_role("link", name="Run 1", exact=True).last.click()
    page.get_by_text("hour of the pour").wait_for()
    assert re.fullmatch(r"\d\d:\d\d", page.get_by_label("at", exact=True).input_value())


def test_a_burnout_is_judged_by_itself_and_outlives_a_reload(page, run):
    page.open("/materials/programmes/gypsum-wax")
    page.get_by_role("link", name="See what it does in a flask").click()
    page.get_by_label("Programme", exact=True).wait_for()
    page.open(JUDGED)
    page.get_by_role("button", name="See what it does").click()
    page.get_by_text("Measures against their limits").wait_for(timeout=2 * SLOW_MS)
    assert page.locator(".firing polyline.c-acc").count() == 1
    page.get_by_label("How many").fill("2")
    page.get_by_text("Since then something was changed").wait_for()
    page.wait_for_url(re.compile("count1=2"))
    page.get_by_label("How many").fill("1")
    page.wait_for_url(re.compile("count1=1"))
    page.get_by_role("button", name="Another flask").click()
    page.wait_for_url(re.compile("flask2="))
    page.get_by_role("button", name="Take flask 2 out").click()
    page.wait_for_function("!location.search.includes('flask2')")
    page.reload()
    page.get_by_text("Measures against their limits").wait_for()
    assert page.get_by_label("At the pour").input_value() == "540", "of one flask: there is only one such field"
    page.set_viewport_size(PHONE)
    page.wait_for_function(RESULTS_FIRST)
    page.open("/runs/1")
    page.wait_for_function(RESULTS_FIRST)


def answered(page, button, heading):
    """What the page works out stands on it, by a journey before this one or by now."""
    if page.get_by_role("button", name=button).is_visible():
        page.get_by_role("button", name=button).click()
    page.get_by_role("heading", name=heading, exact=True).wait_for(timeout=4 * SLOW_MS)


@pytest.mark.parametrize(("scheme", "size"), [("light", DESK), ("dark", PHONE)])
def test_these_pages_have_no_serious_fault_and_fit(browser, desk, run, scheme, size):
    from axe_playwright_python.sync_playwright import Axe

    with watched(browser, desk, scheme=scheme, size=size) as page:
        for path in PAGES:
            page.open(path)
            page.locator("main h1").wait_for()
            if path.endswith("sprues"):
                page.locator(".place-row").first.wait_for()
            if path in ANSWERS:
                answered(page, *ANSWERS[path])
            found = Axe().run(page.page).response["violations"]
            grave = [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found if one["impact"] in ("serious", "critical")]
            assert not grave, f"{path} in {scheme}: {grave}"
            wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            assert wide <= 0, f"{path} is {wide} px too wide"
