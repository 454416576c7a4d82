"""Work on several pieces at once."""

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

A = TypeVar("A")
B = TypeVar("B")


def side_by_side(work: Callable[[A], B], things: Iterable[A]) -> list[B]:
    """The results of the same work on each thing, in their order, by as many threads as there are processors.

    Arrays and rays let go of the interpreter while they compute, so threads help and nothing need be copied. The first fault is
    raised once the work that was begun has ended; the rest is not begun.
    """
    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        return list(pool.map(work, things))  # map itself calls off what has not begun when one fails
