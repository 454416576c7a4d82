"""What takes a moment and is asked for with every letter that is typed."""

from collections.abc import Awaitable, Callable


class InTurn:
    """A deed that is done once at a time: what is asked for meanwhile is done next, and nothing in between."""

    def __init__(self, deed: Callable[[], Awaitable[None]]) -> None:
        self._deed = deed
        self._busy = False
        self.wanted = False
        """Whether it was asked for again since the deed began: what comes of this one is old."""

    async def ask(self) -> None:
        """Have it done, now or after the one that goes on; whoever began that one waits for both."""
        self.wanted = True
        if self._busy:
            return
        self._busy = True
        try:
            while self.wanted:
                self.wanted = False
                await self._deed()
        finally:
            self._busy = False
