"""From nothing to the printed sheet, by hand on the pages."""

from urllib.request import urlopen

from tests.journeys.desk.conftest import SLOW_MS


def add_file(page, path, name):
    """Choose a file in the strip, and wait until its piece is in the library."""
    page.get_by_label("Pattern files").set_input_files(str(path))
    page.get_by_role("link", name=name).wait_for()
    page.wait_for_function("document.querySelectorAll('.piece img').length >= 1", timeout=3 * SLOW_MS)


def pdf_at(page, name):
    """The bytes behind a link."""
    href = page.get_by_role("link", name=name).get_attribute("href")
    with urlopen(page.desk.address + href) as answer:
        assert answer.headers["content-type"] == "application/pdf"
        return answer.read()


def test_first_start_says_what_to_do_and_offers_something_to_play_with(page):
    page.open("/")
    assert page.get_by_text("Your first run").is_visible()
    assert page.get_by_role("button", name="Try it with a run of four invented pieces").is_visible()
    assert page.get_by_label("Tree on the scale").is_visible()


def test_the_daily_question_is_answered_as_it_is_typed(page):
    page.open("/")
    weight = page.get_by_label("Tree on the scale")
    weight.press_sequentially("23,4")
    charge = page.locator(".answer dt:has-text('Charge') + dd")
    charge.wait_for()
    first = float(charge.inner_text().removesuffix("g"))
    assert 200 < first < 350
    page.get_by_label("Flask").select_option("76x76")
    page.get_by_text("Flask 76.2 \u00d7 76.2 mm").wait_for()
    weight.fill("heavy")
    page.get_by_text('"heavy" is no number').wait_for()
    assert weight.get_attribute("aria-invalid") == "true"
    assert not page.get_by_role("button", name="Print the card").is_visible()
    weight.fill("23.4")
    page.get_by_role("button", name="Print the card").wait_for()


def test_one_button_prints_the_card(page):
    page.open("/")
    page.get_by_label("Tree on the scale").fill("23.4")
    page.get_by_label("Flask").select_option("76x76")
    button = page.get_by_role("button", name="Print the card")
    button.wait_for()
    with page.context.expect_page() as opened:
        button.click()
        page.get_by_role("link", name="its card as PDF").wait_for()
    opened.value.close()
    assert pdf_at(page, "its card as PDF").startswith(b"%PDF")


def test_a_dropped_file_becomes_a_printed_sheet(page, band):
    page.open("/patterns")
    add_file(page, band, "Heddle band 54")
    page.get_by_role("link", name="Heddle band 54").click()
    page.locator("[data-ready=yes]").wait_for()
    assert page.get_by_text("Thinnest wall").is_visible()
    page.get_by_role("button", name="Plan a run with it").click()
    count = page.get_by_label("How many Heddle band 54")
    page.get_by_role("button", name="One more Heddle band 54").click()
    page.wait_for_function("[...document.querySelectorAll('.count input')].some((field) => field.value === '2')")
    count.fill("3")
    page.wait_for_timeout(600)
    page.get_by_label("Work out how it freezes").uncheck()
    page.get_by_role("button", name="Work it out").click()
    page.get_by_role("link", name="Open the run sheet").wait_for(timeout=4 * SLOW_MS)
    page.locator("[data-ready=yes]").wait_for()
    assert page.get_by_role("row", name="Powder").is_visible()
    assert page.get_by_text("Set the controller").is_visible()
    assert pdf_at(page, "Open the run sheet").startswith(b"%PDF")
    page.get_by_label("Flask", exact=True).select_option("89x102")
    page.get_by_text("Since then changed: flask").wait_for()
    assert page.get_by_role("button", name="Work it out again").is_visible()
