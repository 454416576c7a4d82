"""Pages built without a browser: what stands on them, and what happens when something is pressed or typed."""

import asyncio
import inspect
import itertools
import json
import re
from collections.abc import Callable
from functools import partial
from typing import Any, Final

import pytest
from nicegui import Client, ui
from nicegui.events import GenericEventArguments
from nicegui.slot import Slot

from pourwell.web.desk.tag import Entry

ADDRESS: Final = re.compile(r'history\.replaceState\(\{\}, "", (".*")\);')
"""The script by which a page takes another address."""
strokes = itertools.count(1)
"""A field to type into says with its text which stroke was the last."""


def note_addresses(monkeypatch: pytest.MonkeyPatch, taken: Callable[[str], Any]) -> None:
    """Tell which addresses pages take from now on. All is as with a browser, but that no script is sent to one."""

    def run_javascript(_client: Client, code: str, **_: Any) -> None:
        found = ADDRESS.fullmatch(code)
        if found:
            taken(json.loads(found[1]))

    monkeypatch.setattr(Client, "run_javascript", run_javascript)


class Built:
    """A page as its elements."""

    def __init__(self, build: Callable[[], Any]) -> None:
        self.client = Client(ui.page("/"), request=None)
        with self.client:
            build()

    @property
    def elements(self) -> list[Any]:
        """All elements that are shown, in the order of the page."""
        out: list[Any] = []

        def walk(element: Any) -> None:
            if not element.visible:
                return
            out.append(element)
            for child in element.default_slot.children:
                walk(child)

        walk(self.client.layout)
        return out

    @property
    def text(self) -> str:
        """All words that are shown."""
        return "\n".join(element.text for element in self.elements if getattr(element, "text", None))

    def all(self, tag: str, classes: str = "") -> list[Any]:
        """The elements of a tag that have these classes."""
        return [e for e in self.elements if e.tag == tag and set(classes.split()) <= set(e.classes)]

    @property
    def counts(self) -> list[str]:
        """What stands in the fields of how many."""
        return [e.value for e in self.elements if str(e.props.get("aria-label", "")).startswith("How many ")]

    def by(self, label: str) -> str:
        """Who set what counts in a field."""
        box = self.field(label).parent_slot.parent
        return next((child.text for child in box.default_slot.children if "by" in child.classes and child.visible), "")

    def words(self, element: Any) -> str:
        """What an element and all in it say."""
        inner = [self.words(child) for child in element.default_slot.children if child.visible]
        return " ".join(part for part in (getattr(element, "text", "") or "", *inner) if part)

    def button(self, name: str) -> Any:
        """The button that says this, or is labelled so."""
        return next(e for e in self.all("button") if name in (self.words(e), e.props.get("aria-label")))

    def field(self, label: str) -> Any:
        """The control of a label."""
        wanted = next(e for e in self.all("label") if e.text == label).props["for"]
        return next(e for e in self.elements if f"c{e.id}" == wanted)

    def help_of(self, label: str) -> str:
        """What stands below a field."""
        wanted = self.field(label).props["aria-describedby"]
        return next((e.text for e in self.elements if e.props.get("id") == wanted), "")

    def happen(self, element: Any, event: str, args: Any = None) -> None:
        """Let an event happen to an element, as the browser would send it: in the box where the element stands."""
        if isinstance(element, Entry) and isinstance(args, str):
            args = [args, next(strokes)]
        for listener in list(element._event_listeners.values()):
            if listener.type == event and listener.handler is not None:  # else it is the browser that does something
                arguments = GenericEventArguments(sender=element, client=self.client, args=args)
                self._in_its_box(
                    element,
                    partial(listener.handler, arguments) if inspect.signature(listener.handler).parameters else listener.handler,
                )

    def _in_its_box(self, element: Any, deed: Callable[[], Any]) -> None:
        """Do it where the framework does it: in the slot of the element, which the deed itself may take away."""
        slot = element.parent_slot or self.client.layout.default_slot
        with slot:
            answer = deed()
        if inspect.isawaitable(answer):
            asyncio.run(_waited(answer, slot))

    def press(self, name: str) -> None:
        """Press a button."""
        self.happen(self.button(name), "click")

    def leave(self, label: str, text: str) -> None:
        """Type into a field that is written when it is left, and leave it."""
        self.happen(self.field(label), "left", text)

    def go_round(self) -> None:
        """Let every timer of the page ring once, as a second or two of looking at it would."""
        for timer in [element for element in self.elements if isinstance(element, ui.timer) and element.active]:
            self._in_its_box(timer, timer.callback)

    @property
    def state(self) -> str:
        """What the head of the page says of saving."""
        return next(e.text for e in self.all("span") if e.props.get("role") == "status")

    def type(self, label: str, text: str) -> None:
        """Type into a field, or choose in one."""
        field = self.field(label)
        self.happen(field, "chosen" if "options" in field.props else "typed", text)


async def _waited(answer: Any, slot: Slot) -> Any:
    with slot:
        return await answer
