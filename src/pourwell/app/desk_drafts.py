"""Patterns that are looked at before they are kept: mended, made to a size, made from a shape, or as they stand in the printer.

The last few are held in memory.

Nothing of them is called saved. Kept, each is a new pattern beside the one that it came from.
"""

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from pourwell.app.crew import OVER, Job
from pourwell.app.desk_words import DRAFTS, LONGEST_NAME, MADE, PRINTS, safe_name
from pourwell.app.held import Held
from pourwell.errors import BadRequestError
from pourwell.store.model import KeptPattern

if TYPE_CHECKING:
    from pourwell.app.desk import Desk

MOST: Final = 8
"""Drafts that are held: one a window that is looked at, and some."""
MOST_BYTES: Final = 100_000_000
"""All of them together take no more memory, the newest always excepted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A pattern that is not kept yet."""

    number: int
    name: str
    """How it would be called."""
    data: Mapping[str, Any]
    files: Mapping[str, bytes]

    @property
    def size_bytes(self) -> int:
        """What it takes."""
        return sum(map(len, self.files.values()))


class Drafts:
    """The drafts of a desk."""

    numbers = itertools.count(1)

    def __init__(self, desk: "Desk") -> None:
        self.desk = desk
        self.held: Held[int, Draft] = Held(most=MOST, most_bytes=MOST_BYTES)

    def hold(self, answer: Mapping[str, Any], *, name: str) -> Draft:
        """Hold what came out of the work, and let go of the oldest."""
        draft = Draft(number=next(self.numbers), name=name, data=answer["data"], files=answer["files"])
        self.held.hold(draft.number, draft, size_bytes=draft.size_bytes)
        return draft

    def get(self, number: int) -> Draft:
        """One of them. Raises BadRequestError if it is held no more."""
        draft = self.held.get(number)
        if draft is None:
            raise BadRequestError("That is not held any more.", try_this="Have it made again.")
        return draft

    def let_go(self, draft: Draft) -> None:
        """Forget one."""
        self.held.let_go(draft.number)

    def keep(self, draft: Draft, *, name: str = "") -> tuple[KeptPattern, bool]:
        """Keep one as a pattern of its own, under its own or another name, and have it checked; and whether it is new.

        Raises OutputError.
        """
        desk, name = self.desk, name or draft.name
        file = safe_name(f"{name.lower().replace(' ', '-')}.{MADE.rpartition('.')[2]}")
        pattern, new = desk.store.add_pattern(
            draft.files[MADE], file=file, name=name[:LONGEST_NAME], units=draft.data["units"], now=desk.clock()
        )
        desk.turn += 1
        if desk.store.latest(pattern_id=pattern.id) is None and desk.being_checked(pattern.id) is None:
            desk.check(pattern)
        return pattern, new

    def mend(self, pattern: KeptPattern, ready: Callable[[Draft], None]) -> Job:
        """Have a pattern mended; it is seen as it is seen on its page."""
        result = self.desk.store.latest(pattern_id=pattern.id)
        front = result.data["view"].get("front") if result else None
        return self._work(pattern, f"{DRAFTS}:mend_pattern", (front,), name=f"{pattern.name}, mended", ready=ready)

    def fit(self, pattern: KeptPattern, ready: Callable[[Draft], None], *, size: str, offset: bool) -> Job:
        """Have a pattern made to a ring size, in the alloy that it was checked in."""
        wanted = {"size": size, "offset": offset, **self.desk.usual()}
        return self._work(pattern, f"{DRAFTS}:fit_pattern", (wanted,), name=f"{pattern.name}, {size}", ready=ready)

    def stand(self, pattern: KeptPattern, ready: Callable[[Draft], None], *, wanted: Mapping[str, Any]) -> Job:
        """Have it told how a pattern is printed: which way it stands, what it takes, what goes wrong."""
        job = self._work(pattern, f"{PRINTS}:print_pattern", (wanted,), name=f"{pattern.name}, in the printer", ready=ready)
        job.about = ("printer", pattern.id)
        return job

    def _work(self, pattern: KeptPattern, call: str, more: tuple[Any, ...], *, name: str, ready: Callable[[Draft], None]) -> Job:
        given = self.desk.given(pattern)

        def hold(answer: Mapping[str, Any]) -> Draft:
            draft = self.hold(answer, name=name)
            ready(draft)
            return draft

        job = self.desk.crew.work(name, call, self.desk.folder, given, *more, then=hold)
        job.about = ("draft", pattern.id)
        return job

    def being_made(self, pattern_id: int) -> Job | None:
        """The job that makes one from a pattern now."""
        mine = ("draft", pattern_id)
        return next((job for job in self.desk.crew.jobs if job.about == mine and job.state not in OVER), None)

    def ask_shapes(self) -> Job:
        """Our own shapes, from the quick lane."""
        return self.desk.crew.answer(f"{DRAFTS}:shapes")

    def ask_shape(self, shape: str, dimensions: Sequence[str]) -> Job:
        """A piece from one of them, from the quick lane."""
        asked = {"shape": shape, "dimensions": tuple(dimensions), "alloy": self.desk.usual_alloy()}
        return self.desk.crew.answer(f"{DRAFTS}:make_shape", self.desk.folder, asked)
