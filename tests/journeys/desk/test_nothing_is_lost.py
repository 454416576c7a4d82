"""What was typed stays: over a reload, over another window, over the end of the server."""

import re

from tests.journeys.desk.conftest import watched


def new_run(page):
    """A fresh run; its address."""
    page.open("/runs")
    page.get_by_role("button", name="Plan a run").click()
    page.wait_for_url(re.compile(r"/runs/\d+"))
    page.wait_for_function("window.did_handshake === true")
    page.get_by_label("Tree on the scale").wait_for()
    return page.url.removeprefix(page.desk.address)


def saved(page):
    """Wait until the page says that what was typed is kept."""
    page.locator("header [role=status]", has_text="Saved").wait_for()


def test_a_reload_in_mid_edit_loses_nothing(page):
    new_run(page)
    page.get_by_label("Tree on the scale").press_sequentially("41.2")
    page.get_by_label("at", exact=True).press_sequentially("9:3")
    page.get_by_label("Flask", exact=True).select_option("76x100")
    saved(page)
    page.wait_for_timeout(400)
    page.reload()
    page.get_by_label("Tree on the scale").wait_for()
    assert page.get_by_label("Tree on the scale").input_value() == "41.2"
    assert page.get_by_label("at", exact=True).input_value() == "9:3"
    assert page.get_by_label("Flask", exact=True).input_value() == "76x100"


def test_what_is_not_yet_right_is_kept_and_told_in_place(page):
    new_run(page)
    field = page.get_by_label("Returns in the charge")
    field.fill("140")
    page.get_by_text("140 is above what can be. Enter 0 to 100 %.").wait_for()
    page.get_by_role("button", name="Work it out").click()
    page.get_by_text("Put the tree on the scale and enter what it shows.").wait_for()
    assert field.input_value() == "140"


def test_two_windows_on_one_run_show_each_others_changes_and_lose_none(page, browser, desk):
    address = new_run(page)
    with watched(browser, desk) as other:
        other.open(address)
        other.get_by_label("Tree on the scale").wait_for()
        page.get_by_label("Tree on the scale").fill("30")
        other.get_by_label("Flask", exact=True).select_option("64x76")
        other.wait_for_function("[...document.querySelectorAll('input')].some((field) => field.value === '30')")
        page.wait_for_function("[...document.querySelectorAll('select')].some((field) => field.value === '64x76')")
        assert page.get_by_label("Tree on the scale").input_value() == "30"


def comes_from(other, page, text, flask):
    """Another window fills in a weight; it has come to this one, where the cursor stands in that field, with the flask after it."""
    other.get_by_label("Tree on the scale").fill(text)
    other.get_by_label("Tree on the scale").blur()
    other.wait_for_timeout(400)
    other.get_by_label("Flask", exact=True).select_option(flask)
    page.wait_for_function(f"[...document.querySelectorAll('select')].some((field) => field.value === '{flask}')")


def shows(page, text):
    """Wait until the weight is this."""
    page.wait_for_function(f"[...document.querySelectorAll('input')].some((field) => field.value === '{text}')")


def test_a_field_that_is_left_shows_what_came_meanwhile_and_what_is_typed_after_that_wins(page, browser, desk):
    address = new_run(page)
    field = page.get_by_label("Tree on the scale")
    with watched(browser, desk) as other:
        other.open(address)
        other.get_by_label("Tree on the scale").wait_for()
        field.press_sequentially("20")
        shows(other, "20")
        comes_from(other, page, "5", "64x76")
        assert field.input_value() == "20", "nobody's typing is changed under the cursor"
        page.keyboard.type("1")
        shows(other, "201")
        comes_from(other, page, "6", "76x100")
        field.blur()
        shows(page, "6")


def test_the_end_of_the_server_loses_nothing_that_was_saved(page, desk):
    address = new_run(page)
    page.get_by_label("Tree on the scale").fill("55.5")
    saved(page)
    page.wait_for_timeout(400)
    page.allowed = ("WebSocket", "ERR_CONNECTION", "Failed to load resource", "socket.io")
    page.evaluate("window.before = true")
    desk.restart()
    page.wait_for_function("!window.before && window.did_handshake === true")
    assert page.url == desk.address + address, "the page that was open loads itself anew"
    page.get_by_label("Tree on the scale").wait_for()
    assert page.get_by_label("Tree on the scale").input_value() == "55.5"


def test_a_run_that_is_laid_away_can_be_taken_up_again(page):
    address = new_run(page)
    number = address.rpartition("/")[2]
    page.open("/runs")
    page.get_by_role("button", name=f"Lay run {number} away").click()
    page.get_by_role("link", name=f"Run {number}", exact=True).wait_for(state="detached")
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("link", name=f"Run {number}", exact=True).wait_for()
