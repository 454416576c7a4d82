"""What pages are made of: sections on ruled lines, key figures, findings, fields, jobs. Each looks the same everywhere."""

import itertools
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, Final

from pourwell.app.crew import Job
from pourwell.app.desk_words import TIMES, for_desk
from pourwell.errors import PourwellError
from pourwell.web.desk.tag import Choice, Entry, Tag
from pourwell.web.desk.units import here

MARKS: Final = {"stop": "Stop", "warn": "Warn", "note": "Note"}
BETWEEN: Final = re.compile(r"(?<=\d) x (?=\d)")
"""Between the sides of something."""
numbers = itertools.count(1)


@contextmanager
def section(title: str, remark: str = "", *, classes: str = "") -> Iterator[Tag]:
    """A part of a page: a scribed line with its tick, a title, one remark at the right."""
    name = f"s-{next(numbers)}"
    with Tag("section", classes=f"sec {classes}".strip(), aria_labelledby=name) as whole:
        with Tag("div", classes="sec-head"):
            Tag("h2", title, id=name)
            if remark:
                Tag("span", remark, "small")
        yield whole


@contextmanager
def side(title: str, why: str) -> Iterator[Tag]:
    """A section with its title and why at the left, what is built in it at the right."""
    name = f"s-{next(numbers)}"
    with Tag("section", classes="sec side", aria_labelledby=name):
        with Tag("div", classes="side-head"):
            Tag("h2", title, id=name)
            Tag("p", here().text(why), "small")
        with Tag("div", classes="side-body") as body:
            yield body


def link(text: str, href: str, classes: str = "", **attributes: Any) -> Tag:
    """A way to another page."""
    return Tag("a", text, classes, href=href, **attributes)


def button(text: str, deed: Callable[[], Any], classes: str = "btn", **attributes: Any) -> Tag:
    """A button that says its deed."""
    return Tag("button", text, classes, type="button", **attributes).pressed(deed)


def able(one: Tag, able: bool) -> None:
    """A button that has nothing to do now stays where it is, so that keys do not lose their place."""
    said = None if able else "true"
    if one.props.get("aria-disabled") != said:
        if said:
            one.props["aria-disabled"] = said
        else:
            one.props.pop("aria-disabled", None)
        one.update()


def figure(text: str, unit: str = "", *, tag: str = "dd", classes: str = "") -> Tag:
    """A figure with its unit behind it, small: given in mm, degC or g, it is shown in the units of the page.

    Without a unit it may be words with quantities in them.
    """
    shown, its = here().figure(text, unit) if unit else (here().text(text), "")
    return as_shown(shown, its, tag=tag, classes=classes)


def as_shown(text: str, unit: str, *, tag: str = "dd", classes: str = "") -> Tag:
    """A figure that is in the units of the page already."""
    with Tag(tag, text, classes) as made:
        if unit:
            Tag("span", unit, "unit")
    return made


def keys(rows: Iterable[tuple[str, str, str]], *, was: Mapping[str, str] | None = None) -> None:
    """Key figures: (what, figure, unit); one that was otherwise before is underlined and says so."""
    with Tag("dl", classes="keys"):
        for what, text, unit in rows:
            with Tag("div"):
                Tag("dt", what)
                before = (was or {}).get(what, text)
                with figure(text, unit, classes="changed" if before != text else ""):
                    pass
                if before != text:
                    Tag("dd", here().figure(before, unit)[0] if unit else here().number(before), "was")


def mark(severity: str, *, word: str = "") -> None:
    """A punch mark: its word, its outline, its colour, in this order."""
    Tag("span", word or MARKS[severity], f"mark {severity}")


def tally(findings: Sequence[Mapping[str, Any]]) -> None:
    """The worst mark and how many bear it."""
    if findings:
        worst = findings[0]["severity"]
        with Tag("span", classes="tally"):
            mark(worst)
            Tag("span", str(sum(f["severity"] == worst for f in findings)))


def counted(findings: Sequence[Mapping[str, Any]]) -> str:
    """How many of each kind, in words."""
    of = {kind: sum(f["severity"] == kind for f in findings) for kind in MARKS}
    return ", ".join(f"{count} {kind}{'s' if count > 1 else ''}" for kind, count in of.items() if count) or "nothing found"


def finding(
    found: Mapping[str, Any],
    *,
    letter: str = "",
    look: Callable[[], Any] | None = None,
    classes: str = "",
    way: tuple[str, str] | None = None,
) -> Tag:
    """One finding: what is wrong, where, measure against limit, what to do. A stop cannot be put aside.

    `way`: words and address of the page where it can be mended.
    """
    words = {key: here().text(text) for key, text in {**found, **found.get("marked", {})}.items() if isinstance(text, str)}
    with Tag("li", classes=f"find {classes}".strip()) as row:
        mark(found["severity"])
        with Tag("div"):
            Tag("h3", capital(words["says"]))
            limits = "; ".join(p for p in (words.get("measure", ""), words.get("limit") and f"limit {words['limit']}") if p)
            with Tag("p", classes="place"):
                if look is not None:
                    with Tag("button", classes="btn plain place-to", type="button").pressed(look):
                        if letter:
                            Tag("span", letter, "letter")
                        Tag("span", f"Show {found['where']}")
                    if limits:
                        Tag("span", limits, "quiet")
                else:
                    Tag("span", " · ".join(p for p in (capital(found["where"]), limits) if p), "quiet")
            with Tag("p", classes="do"):
                Tag("b", "Do: ")
                Tag("span", words["do"])
            if found.get("source") and limits:
                Tag("p", f"The limit: {found['source']}", "src")
            if way is not None:
                link(*way, "btn")
    return row


@contextmanager
def wide_table(label: str, classes: str = "segs") -> Iterator[Tag]:
    """A table that scrolls by itself where the page is narrower."""
    with Tag("div", classes="scroll", tabindex="0", role="region", aria_label=label), Tag("table", classes=classes) as table:
        yield table


def head_row(*names: tuple[str, str]) -> None:
    """The names of the columns of a table, each with its class."""
    with Tag("thead"), Tag("tr"):
        for word, classes in names:
            Tag("th", word, classes, scope="col")


def capital(sentence: str) -> str:
    """With a large first letter."""
    return sentence[:1].upper() + sentence[1:]


def small(sentence: str) -> str:
    """With a small first letter, as it goes on behind a colon."""
    return sentence[:1].lower() + sentence[1:]


class Field:
    """A labelled field with its unit inside and its fault below. Made by `entry` and `choice`."""

    def __init__(self, label: str, *, unit: str = "", remark: str = "") -> None:
        self.label, self.remark, self.units = label, remark, here()
        self.whole = Tag("div", classes="field")
        with self.whole:
            self._label = Tag("label", label)
            self.box = Tag("div", classes="box")
            self.help = Tag("p", self.units.text(remark), "help")
        self.help.set_visibility(bool(remark))
        with self.box:
            self.by = Tag("span", "", "by")
        self.by.set_visibility(False)
        if unit:
            with self.box:
                self._unit = Tag("span", here().unit(unit), "unit")

    def hold(self, control: Any) -> None:
        """Put the control into the box, and tie the label to it."""
        control.move(self.box, target_index=0)
        self._label.props["for"] = f"c{control.id}"
        self.help.props["id"] = f"h{control.id}"
        control.props["aria-describedby"] = f"h{control.id}"
        self.control = control

    def set_by(self, who: str, figure: str = "") -> None:
        """Say in the box who set what counts (yours, default, bag, computed), and where it is empty which figure that is."""
        self.by.set_text(who)
        self.by.set_visibility(bool(who))
        if self.control.props.get("placeholder", "") != figure:
            self.control.props["placeholder"] = figure
            self.control.update()

    def since(self, changed: bool) -> None:
        """Mark a field that was changed since the last calculation."""
        self.whole.classes(add="since" if changed else "", remove="" if changed else "since")

    def tell(self, fault: str) -> None:
        """Say below what is not yet right, or nothing."""
        self.whole.classes(add="bad" if fault else "", remove="" if fault else "bad")
        self.help.set_text(self.units.text(fault or self.remark))
        self.help.set_visibility(bool(fault or self.remark))
        wrong = "true" if fault else "false"
        if self.control.props.get("aria-invalid", "false") != wrong:
            self.control.props["aria-invalid"] = wrong
            self.control.update()


def entry(label: str, value: str, typed: Callable[[str], Any], *, unit: str = "", remark: str = "", **attributes: Any) -> Field:
    """A field to type into. Its value is the kept text, which is in the unit given here unless it says another."""
    field = Field(label, unit=unit, remark=remark)
    with field.box:
        field.hold(Entry(value, typed=typed, autocomplete="off", unit=unit, **attributes))
    return field


def choice(
    label: str, value: str, chosen: Callable[[str], Any], *, options: Iterable[tuple[str, str]], remark: str = "", **attributes: Any
) -> Field:
    """A field to choose in."""
    field = Field(label, remark=remark)
    with field.box:
        field.hold(Choice(value, [(key, here().text(name)) for key, name in options], chosen=chosen, **attributes))
    return field


class JobRows:
    """Work in hand: what, how far, a way to stop it; or why it failed.

    Rows stay the same elements while they tell more: a press on a button that is drawn anew in that moment would be lost.
    """

    def __init__(self, jobs: Callable[[], Sequence[Job]], *, forget: Callable[[int], Any]) -> None:
        self.jobs, self.forget = jobs, forget
        self.box = Tag("div", classes="jobs")
        self.rows: dict[tuple[int, bool], tuple[Tag, Tag]] = {}

    def look(self) -> None:
        """Tell what has changed."""
        shown = {(job.number, job.state == "failed"): job for job in self.jobs() if job.state in ("waiting", "working", "failed")}
        for key in [key for key in self.rows if key not in shown]:
            self.rows.pop(key)[0].delete()
        for key, job in shown.items():
            if key not in self.rows:
                with self.box:
                    self.rows[key] = self._failed(job) if key[1] else self._going(job)
            elif not key[1] and self.rows[key][1].text != job.says:
                self.rows[key][1].set_text(job.says)

    def _going(self, job: Job) -> tuple[Tag, Tag]:
        with Tag("div", classes="job") as row:
            Tag("h3", job.title)
            Tag("progress", aria_label=job.title)
            button("Stop", job.stop, "btn plain", aria_label=f"Stop {job.title}")
            says = Tag("span", job.says, "small")
        return row, says

    def _failed(self, job: Job) -> tuple[Tag, Tag]:
        def close() -> None:
            self.forget(job.number)
            self.look()

        with Tag("div", classes="job", role="alert") as row:
            Tag("h3", job.title)
            Tag("span", "Not done", "small fault")
            button("Close", close, "btn plain", aria_label=f"Close {job.title}")
            says = Tag("span", here().text(why(job.fault)), "small")
        return row, says


def why(fault: PourwellError | None) -> str:
    """What was wrong and what to do, in words of the page."""
    return BETWEEN.sub(f" {TIMES} ", for_desk(str(fault))) if fault is not None else ""


def empty(title: str, says: str) -> Tag:
    """An empty place: what to do. Ways on are added inside."""
    with Tag("div", classes="empty") as whole:
        Tag("h2", title)
        Tag("p", says)
    return whole
