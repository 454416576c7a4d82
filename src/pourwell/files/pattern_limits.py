"""How much a pattern file may hold, and the errors for one that holds too much or makes no sense inside."""

from typing import Final

from pourwell.errors import BadFileError

LIMIT_COUNT: Final = 5_000_000
"""Triangles at most, by default: about 2 GB of memory."""

LIMIT_FILE_BYTES: Final = 1_000_000_000
"""A file larger than this is not opened: five million triangles take a quarter of it in any binary form."""

MOST_PARTS: Final = 100_000
"""Objects placed at most: components and instances may multiply without end."""

DEEPEST: Final = 100
"""Objects within objects at most; a drawing program nests a handful."""

TRY: Final = "Export it again, or save it as STL."


class DamagedError(Exception):
    """What is wrong inside a file, as half a sentence; its reader catches it and says it with the file's name."""

    def __init__(self, why: str, *, try_this: str = TRY) -> None:
        self.why, self.try_this = why, try_this
        super().__init__(why)

    def of(self, name: str) -> BadFileError:
        """The whole error for the file of this name."""
        return BadFileError(f"{name} cannot be read.", why=f"Inside, {self.why}.", try_this=self.try_this)


def too_many(name: str, count: int | None, limit_count: int) -> BadFileError:
    """The error for a file with more triangles than the limit; None: not counted, for the file is too long to be within it."""
    has = f"holds {count:,} triangles" if count is not None else "is too large"
    return BadFileError(
        f"{name} {has}.",
        why=f"The limit is {limit_count:,} triangles.",
        try_this="Export it coarser: a tolerance of 0.01 mm is finer than any printer.",
    )


def too_long(name: str, size: int, limit_bytes: int) -> BadFileError:
    """The error for a file of more bytes than the limit."""
    return BadFileError(
        f"{name} is too large.",
        why=f"It has {size / 1e6:,.0f} MB, and the limit is {limit_bytes / 1e6:,.0f} MB.",
        try_this="Export it coarser: a tolerance of 0.01 mm is finer than any printer.",
    )
