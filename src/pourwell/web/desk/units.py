"""The units of the page that is being built or told something: set by its frame, asked by everything that shows a figure."""

from weakref import WeakKeyDictionary

from nicegui import Client, ui

from pourwell.app.shown import Shown

_of: WeakKeyDictionary[Client, Shown] = WeakKeyDictionary()
WORKSHOP = Shown()
"""Of a page that says nothing: mm, degC, g."""


def show_in(shown: Shown) -> None:
    """Have this page show its figures so."""
    _of[ui.context.client] = shown


def here() -> Shown:
    """How this page shows its figures."""
    return _of.get(ui.context.client, WORKSHOP)
