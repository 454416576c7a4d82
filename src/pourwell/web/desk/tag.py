"""Plain HTML elements, and the three fields that keep what is being typed. Text given here is text, never HTML."""

import inspect
from collections.abc import Awaitable, Callable, Iterable, Mapping
from functools import partial
from typing import Any

from nicegui import Client, ui
from nicegui.elements.mixins.text_element import TextElement
from nicegui.events import GenericEventArguments

from pourwell.web.desk.units import here

KEPT_AFTER_S = 0.25
"""Typing is passed on so often: a page that is closed in mid-word loses no more."""


def listen(element: ui.element, event: str, deed: Callable[[GenericEventArguments], Any], **how: Any) -> None:
    """Do this when it happens: in the page, not in the box of the element.

    So a deed may clear the box it stands in and still speak to the page. What is passed on besides is for the framework.
    """
    element.on(event, partial(_in_page, deed), **how)


def _in_page(deed: Callable[[GenericEventArguments], Any], happened: GenericEventArguments) -> Any:
    """Do it where everything lives as long as the page does, also what of it is awaited."""
    with happened.client:
        answer = deed(happened)
    return _rest_in_page(answer, happened.client) if inspect.isawaitable(answer) else answer


def _plain(deed: Callable[[], Any], _: GenericEventArguments) -> Any:
    """A deed that asks for nothing of what happened."""
    return deed()


async def _rest_in_page(answer: Awaitable[Any], client: Client) -> Any:
    with client:
        return await answer


class Tag(TextElement):
    """An element of HTML with its classes, its text and its attributes (`_` stands for `-`)."""

    def __init__(self, tag: str, text: str = "", classes: str = "", **attributes: Any) -> None:
        super().__init__(tag=tag, text=text)
        if classes:
            self.classes(classes)
        for name, value in attributes.items():
            if value is not None and value is not False:
                self.props[name.strip("_").replace("_", "-")] = "" if value is True else value

    def pressed(self, deed: Callable[[], Any]) -> "Tag":
        """Do this when it is pressed."""
        listen(self, "click", partial(_plain, deed), args=[])
        return self


class Control(ui.element):
    """A native field that knows what stands in it."""

    def __init__(
        self,
        value: str,
        *,
        event: str,
        told: Callable[[str], Any],
        throttle_s: float,
        attributes: Mapping[str, Any],
        unit: str = "",
    ) -> None:
        super().__init__()
        self.value, self.unit, self.units = value, unit, here()
        """The text as it is kept; the field shows it in the units of its page."""
        self.props["value"] = self.units.field(value, unit) if unit else value
        for name, given in attributes.items():
            if given is not None:
                self.props[name.replace("_", "-")] = given

        def keep(happened: GenericEventArguments) -> Any:
            return told(self.value) if self.hear(happened.args) else None

        listen(self, event, keep, throttle=throttle_s, leading_events=not throttle_s)

    def hear(self, said: Any) -> bool:
        """Take what the browser says stands in it; False if that is no news."""
        typed = str(said)
        self.value = self.units.kept(typed, self.unit) if self.unit else typed
        self.props["value"] = typed
        return True

    def set(self, value: str) -> None:
        """Show another value."""
        self.value = value
        self.props["value"] = self.units.field(value, self.unit) if self.unit else value
        self.update()


class Entry(Control, component="entry.js"):
    """A field of one line. What stands in it stays there while the page is drawn again round it.

    With `left` it also says when it is left or Enter is pressed. What it says comes with the number of its last stroke: `entry.js`
    tells the rule.
    """

    def __init__(
        self, value: str, *, typed: Callable[[str], Any], left: Callable[[], Any] | None = None, unit: str = "", **attributes: Any
    ) -> None:
        super().__init__(value, event="typed", told=typed, throttle_s=KEPT_AFTER_S, attributes=attributes, unit=unit)
        if left is not None:
            listen(self, "left", lambda happened: self._left(happened.args, left))

    def hear(self, said: Any) -> bool:
        """Take a text with the number of its last stroke. One that was heard before is no news: a value set since then stays."""
        typed, stroke = said
        if stroke == self.props.get("heard"):
            return False
        self.props["heard"] = stroke
        return super().hear(typed)

    def _left(self, said: Any, left: Callable[[], Any]) -> Any:
        """The field is left: what stands in it now counts, also what the throttle still held back."""
        self.hear(said)
        return left()


class Choice(Control, component="choice.js"):
    """A field to choose from a list of (id, name)."""

    def __init__(self, value: str, options: Iterable[tuple[str, str]], *, chosen: Callable[[str], Any], **attributes: Any) -> None:
        super().__init__(value, event="chosen", told=chosen, throttle_s=0.0, attributes=attributes)
        self.props["options"] = [list(option) for option in options]


class Tick(ui.element, component="tick.js"):
    """A box to tick."""

    def __init__(self, value: bool, *, ticked: Callable[[bool], Any]) -> None:
        super().__init__()
        self.props["value"] = value
        listen(self, "ticked", lambda happened: self._told(bool(happened.args), ticked))

    def _told(self, value: bool, ticked: Callable[[bool], Any]) -> Any:
        self.props["value"] = value
        return ticked(value)

    def tick(self, value: bool) -> None:
        """Show it ticked, or not; right after it was pressed, what was pressed is taken back."""
        if self.props["value"] != value:
            self.props["value"] = value
            self.props["again"] = self.props.get("again", 0) + 1

    def able(self, able: bool) -> None:
        """Whether it can be pressed."""
        if self.props.get("disabled", False) is able:
            self.props.set_bool("disabled", not able)


class Narrow(ui.element, component="narrow.js"):
    """Hears whether the page is as narrow as a phone, so that what stands first for the eye stands first for keys."""

    def __init__(self, told: Callable[[bool], Any]) -> None:
        super().__init__()
        listen(self, "narrow", lambda happened: told(bool(happened.args)))


class Drop(ui.element, component="drop.js"):
    """Where files are dropped or chosen; each is sent by itself, and its way is shown. `took` gets the answer to each.

    Further words: `to`, `title`, `about`, `button`, `label` and `single`, where it is not for patterns.
    """

    def __init__(
        self,
        *,
        limit_bytes: int,
        sent: Callable[[], Any] | None = None,
        over: Callable[[], Any] | None = None,
        took: Callable[[str], Any] | None = None,
        **words: Any,
    ) -> None:
        super().__init__()
        self.props["limit"] = limit_bytes
        for name, given in words.items():
            self.props[name] = given
        for event, deed in (("sent", sent), ("over", over)):
            if deed is not None:
                listen(self, event, partial(_plain, deed), args=[])
        if took is not None:
            listen(self, "took", lambda happened: took(str(happened.args)))
