"""Every page can be used by everyone: no serious fault by axe, in light and dark, on a desk and a tablet."""

import pytest

from tests.journeys.desk.conftest import DESK, watched

TABLET = {"width": 1024, "height": 768}
PAGES = ("/", "/patterns", "/runs", "/runs/1", "/materials", "/materials/alloys", "/materials/alloys/sterling-925", "/settings")
GRAVE = ("serious", "critical")


@pytest.fixture(scope="module")
def run(desk, browser):
    """A run that is worked out from a weight, so that pages have something on them."""
    with watched(browser, desk) as page:
        page.open("/")
        page.get_by_label("Tree on the scale").fill("23.4")
        button = page.get_by_role("button", name="Print the card")
        button.wait_for()
        with page.context.expect_page() as opened:
            button.click()
            page.get_by_role("link", name="its card as PDF").wait_for()
        opened.value.close()


@pytest.mark.parametrize(("scheme", "size"), [("light", DESK), ("dark", TABLET)])
def test_no_page_has_a_serious_fault(browser, desk, run, scheme, size):
    from axe_playwright_python.sync_playwright import Axe

    with watched(browser, desk, scheme=scheme, size=size) as page:
        for path in PAGES:
            page.open(path)
            page.locator("main h1").wait_for()
            found = Axe().run(page.page).response["violations"]
            grave = [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found if one["impact"] in GRAVE]
            assert not grave, f"{path} in {scheme}: {grave}"


@pytest.mark.parametrize("size", [DESK, TABLET, {"width": 390, "height": 844}])
def test_no_page_scrolls_sideways(browser, desk, run, size):
    with watched(browser, desk, size=size) as page:
        for path in PAGES:
            page.open(path)
            page.locator("main h1").wait_for()
            wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            assert wide <= 0, f"{path} is {wide} px too wide at {size['width']}"


def test_the_first_stop_of_the_keyboard_leads_to_the_page(page):
    page.open("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the page"
    page.keyboard.press("Enter")
    assert page.url.endswith("#main")
