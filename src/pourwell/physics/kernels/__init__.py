"""Compiled loops of the freezing solver. Each has a readable twin in `_reference.py`; one test runs over both (conventions C19).

Compiled code is kept beside the source, or where that cannot be written in the user's cache folder, so that the second start pays
nothing; where neither can be written it is compiled afresh.
"""

from collections.abc import Callable
from typing import TypeVar, cast

import numba

F = TypeVar("F", bound=Callable[..., object])
LOOSE = {"reassoc", "contract", "nsz", "arcp"}
"""What the compiler may reorder: sums and products, but not the handling of NaN and infinity."""

numba.config.THREADING_LAYER = "workqueue"
"""Threads that sleep while they wait. The other layer spins, and on a busy machine every loop then waits for a whole time slice (twenty
times slower with two programs on two cores). This one must not be entered from two threads at once: one march a process."""


def compiled(*, parallel: bool = False) -> Callable[[F], F]:
    """Decorator: machine code for a loop, kept on disk where a folder can be written."""

    def wrap(function: F) -> F:
        options = {"parallel": parallel, "fastmath": LOOSE, "nogil": True}
        try:
            return cast(F, numba.njit(cache=True, **options)(function))
        except RuntimeError:  # no folder for the cache
            return cast(F, numba.njit(**options)(function))

    return wrap
