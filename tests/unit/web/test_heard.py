"""What is done when something happens on a page: in the page itself, for a deed may clear the box that it stands in."""

import asyncio
import gc
import re
from pathlib import Path

import pytest
from nicegui import ui

import pourwell.web.desk
from pourwell.web.desk.tag import Choice, Drop, Entry, Tag, Tick
from tests.unit.web.built import Built, note_addresses


@pytest.fixture
def addresses(monkeypatch):
    taken = []
    note_addresses(monkeypatch, taken.append)
    return taken


def clearing(make, addresses):
    """A page with an element in a box; `make` gets a deed that clears the box and then speaks to the page."""
    boxes = []

    def deed(*_):
        boxes[0].clear()
        gc.collect()
        ui.navigate.history.replace("/after")
        ui.page_title("After")
        with boxes[0]:
            Tag("p", "drawn anew")

    def build():
        boxes.append(Tag("div"))
        with boxes[0], Tag("p"):
            make(deed)

    return Built(build)


@pytest.mark.parametrize(
    ("make", "tag", "event"),
    [
        (lambda deed: Tag("button", "Go").pressed(deed), "button", "click"),
        (lambda deed: Entry("", typed=deed), Entry, "typed"),
        (lambda deed: Entry("", typed=print, left=deed), Entry, "left"),
        (lambda deed: Choice("", [("a", "A")], chosen=deed), Choice, "chosen"),
        (lambda deed: Tick(False, ticked=deed), Tick, "ticked"),
        (lambda deed: Drop(limit_bytes=1, sent=deed), Drop, "sent"),
        (lambda deed: Drop(limit_bytes=1, took=deed), Drop, "took"),
    ],
)
def test_a_deed_that_clears_its_own_box_still_speaks_to_the_page(addresses, make, tag, event):
    page = clearing(make, addresses)
    page.happen(next(e for e in page.elements if e.tag == tag or (isinstance(tag, type) and isinstance(e, tag))), event, "x")
    assert (addresses, page.client.title, page.text) == (["/after"], "After", "drawn anew")


def test_what_a_deed_waits_for_is_done_in_the_page_too(addresses):
    boxes = []

    async def deed():
        boxes[0].clear()
        gc.collect()
        await asyncio.sleep(0)
        ui.navigate.history.replace("/after")

    def build():
        boxes.append(Tag("div"))
        with boxes[0], Tag("p"):
            Tag("button", "Go").pressed(deed)

    Built(build).press("Go")
    assert addresses == ["/after"]


def test_a_stroke_that_was_heard_is_no_news_and_a_value_set_since_then_stays_when_the_field_is_left():
    said = []
    page = Built(lambda: Entry("5", typed=lambda text: said.append(f"typed {text}"), left=lambda: said.append("left")))
    field = next(e for e in page.elements if isinstance(e, Entry))
    page.happen(field, "left", ["12 dwt", 7])
    assert (field.value, field.props["value"], field.props["heard"], said) == ("12 dwt", "12 dwt", 7, ["left"])
    with page.client:
        field.set("18.7")
    page.happen(field, "typed", ["12 dwt", 7])  # what the throttle held back comes after it
    page.happen(field, "left", ["12 dwt", 7])
    assert (field.value, field.props["value"], field.props["heard"], said) == ("18.7", "18.7", 7, ["left", "left"])
    page.happen(field, "typed", ["19", 8])
    assert (field.value, field.props["heard"], said[2:]) == ("19", 8, ["typed 19"])


def test_no_module_of_the_desk_listens_in_another_way():
    """`on` of the framework does a deed in the box of its element; only what the browser does by itself is said by it."""
    sources = {path.name: path.read_text(encoding="utf-8") for path in Path(pourwell.web.desk.__path__[0]).glob("*.py")}
    ways = [(name, line.strip()) for name, text in sources.items() for line in text.splitlines() if re.search(r"\.on\(", line)]
    assert [name for name, line in ways if "js_handler=" not in line] == ["tag.py"], ways
