"""A pattern that is not kept yet, beside the one that it came from: both by one camera, what changes, and the choice."""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from pourwell.app.desk_drafts import Draft
from pourwell.app.desk_words import AFTER, BEFORE, MINUS, STILL_AFTER, STILL_BEFORE, TIMES
from pourwell.app.letters import letter
from pourwell.web.desk import parts
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.units import here
from pourwell.web.desk.viewer import Solid, Viewer
from pourwell.web.kept import draft_link

ARROW: Final = "\u2192"
FALL: Final = re.compile(r"(?<![^\s(])-(?=\d)")
"""A minus before a figure; no hyphen."""


def show_draft(draft: Draft, *, keep: Callable[[], Any], leave: Callable[[], Any]) -> None:
    """The draft on the page of its pattern."""
    data = draft.data
    if not data["needed"]:
        with parts.empty("Nothing on it needs mending", "Its surface is closed and whole."):
            parts.button("Back to the pattern", leave)
        return
    before, after = data["heads"]
    flags = [
        {"letter": letter(k), "at": place["at_mm"], "says": place["says"], "what": place["what"], "on": place["on"]}
        for k, place in enumerate(data["places"])
    ]
    with Tag("div", classes="cols pattern"):
        with Tag("div", classes="stays"):
            Viewer(
                src=draft_link(draft, BEFORE),
                head=before,
                label=f"{draft.name}: before and after, in 3-D",
                title="As it is",
                beside=[
                    Solid(src=draft_link(draft, AFTER), head=after, title="As it would be", still=draft_link(draft, STILL_AFTER))
                ],
                still=draft_link(draft, STILL_BEFORE),
                flags=flags,
            )
        with Tag("div"):
            with parts.section(draft.name, "not kept yet", classes="draft"):
                if data["asks"]:
                    with Tag("div", classes="asks"):
                        parts.mark("warn")
                        with Tag("div"):
                            Tag("h3", "It changes more than mending may unasked")
                            Tag("p", here().text(data["asks"]))
                            Tag("p", "Look at the place in both, and keep it only if that is what you want.")
                with Tag("div", classes="acts"):
                    parts.button("Keep it all the same" if data["asks"] else "Keep it beside the original", keep, "btn main")
                    parts.button("Leave it", leave, "btn plain")
                Tag("p", "The original stays as it is.", "small")
            with parts.section("What changes"):
                rows_table(data["rows"])
            if data.get("findings"):
                with parts.section("Findings on it", parts.counted(data["findings"])), Tag("ul"):
                    for found in data["findings"]:
                        parts.finding(found)


def rows_table(rows: Sequence[Sequence[str]]) -> None:
    """Rows of what, figure and remark."""
    with Tag("table", classes="measures"), Tag("tbody"):
        for name, figure, remark in rows:
            with Tag("tr"):
                with Tag("th", scope="row", colspan=None if figure else "2"):
                    Tag("span", parts.capital(name))
                    Tag("small", here().text(printed(remark)))
                if figure:
                    Tag("td", here().text(printed(figure)), "num")


def printed(text: str) -> str:
    """A figure or a remark with the signs of print."""
    return FALL.sub(MINUS, parts.BETWEEN.sub(f" {TIMES} ", text.replace(" -> ", f" {ARROW} ")))


def place_told(in_file: str) -> str:
    """A place in the file's own figures ("x 8.2, y -2, z 2.9" [mm]) as the reader writes lengths."""
    show = here()
    each = [show.figure(printed(part), "mm")[0] for part in in_file.split(", ")]
    return f"{('; ' if show.display.comma else ', ').join(each)} {show.unit('mm')}"


def kept_line(name: str, href: str, *, new: bool) -> Mapping[str, str]:
    """What is said once a draft is kept: the sentence before its link, and the link."""
    return {"says": "Kept beside it:" if new else "The library has it already:", "name": name, "href": href}
