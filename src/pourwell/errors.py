"""Faults of the request or of the machine. A fault of the job is a Finding, never an exception (conventions C11)."""

from collections.abc import Iterable
from difflib import get_close_matches
from unicodedata import category


def shown(text: str) -> str:
    """One line that can be shown and stored: nothing in it steers a terminal, and a byte that is no letter becomes "?"."""
    return "".join(c if c.isprintable() else "?" if "\ud800" <= c <= "\udfff" else " " for c in text)


BREAKS = ("Cc", "Zl", "Zp", "Cs")
"""Categories of Unicode that no line holds: control characters, ends of line and paragraph, halves of a pair."""


def in_one_line(value: object) -> None:
    """Raise ValueError if a text, or one of a list of texts, holds a line break or another control character."""
    for text in value if isinstance(value, tuple | list) else (value,):
        if isinstance(text, str) and any(category(c) in BREAKS for c in text):
            raise ValueError(
                f'a line break, a control character or a byte that is no letter is in "{shown(text)}"; write it in one line'
            )


class PourwellError(Exception):
    """A request that cannot be served: what went wrong, why, and what to try."""

    def __init__(self, what: str, *, why: str = "", try_this: str = "") -> None:
        self.what, self.why, self.try_this = what, why, try_this
        super().__init__(what)

    def __str__(self) -> str:
        return " ".join(part for part in (self.what, self.why, self.try_this) if part)


class BadRequestError(PourwellError):
    """What was asked for makes no sense: a negative count, a pour time in the past."""


class UnknownNameError(PourwellError):
    """An id that nothing carries; the nearest ones are offered."""

    def __init__(self, kind: str, name: str, known: Iterable[str]) -> None:
        names = sorted(known)
        near = get_close_matches(name.lower(), names, n=3, cutoff=0.5)
        ask = "Did you mean " + " or ".join(f'"{n}"' for n in near) + "?" if near else ""
        super().__init__(f'No {kind} is called "{name}".', why=ask, try_this="`pourwell materials` lists them all.")
        self.near = near


class BadFileError(PourwellError):
    """A file that is missing, empty, cut short, too large or not what its name says."""


class BadDataError(PourwellError):
    """A materials, studio or job file that does not say what it must."""


class OutputError(PourwellError):
    """The output folder exists already, or cannot be written."""


class UnsoundResultError(PourwellError):
    """A computation that came to no end that can be believed: it did not converge, or heat went missing."""
