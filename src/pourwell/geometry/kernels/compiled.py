"""How the loops are compiled: once a machine, kept on disk, and without Python's lock, so that threads run side by side."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from functools import cache
from typing import Any, Final, TypeVar, cast

import numba

FEWEST: Final = 512
"""Less work than this for one thread is done sooner than the thread has begun."""

EACH: Final = 2
"""Parts for every thread: where one is kept by other work, the others take some of its."""

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """The function as machine code. Division by zero follows IEEE 754 and raises nothing."""
    return _machine_code(function)


def compiled_lean(function: Function) -> Function:
    """As `compiled`, for inner loops that make no array: they do not count who holds which, which threads would wait for."""
    return _machine_code(function, _nrt=False)


def _machine_code(function: Function, **more: Any) -> Function:
    """Machine code, kept on disk where a folder can be written, else made afresh at every start."""
    options = {"nogil": True, "error_model": "numpy", **more}
    try:
        return cast("Function", numba.njit(cache=True, **options)(function))
    except RuntimeError:  # no folder for the cache
        return cast("Function", numba.njit(**options)(function))


def thread_count() -> int:
    """How many threads the caller has granted to compiled loops."""
    config: Any = numba.config  # what is asked of numba itself begins its threads, which nobody here uses
    return int(config.NUMBA_NUM_THREADS)


@cache
def _helpers(count: int) -> ThreadPoolExecutor:
    """Threads that help whoever has work for them; made once, for making them takes as long as a small piece of work."""
    return ThreadPoolExecutor(count)


def in_parts(work: Callable[[slice], None], count: int, *, most: int) -> None:
    """Do the same work on so many things, some at a time, in as many threads as the caller has granted, the calling one among them.

    A helper that is busy elsewhere is not waited for: whoever is free takes the next part. After a fault no new part is begun.

    Parameters
    ----------
    work : is called for slices that between them hold every number from 0 to `count`
    most : things that a thread takes at a time, at most
    """
    threads = thread_count()
    size = min(most, max(-(-count // (threads * EACH)), FEWEST))
    parts = iter([slice(begin, min(begin + size, count)) for begin in range(0, count, size)])

    def take() -> None:
        for part in parts:
            try:
                work(part)
            except BaseException:
                for _ in parts:
                    pass
                raise

    helpers = [_helpers(threads - 1).submit(take) for _ in range(min(threads, -(-count // size)) - 1)]
    try:
        take()
    finally:
        begun = [helper for helper in helpers if not helper.cancel()]
        wait(begun)
    for helper in begun:
        helper.result()
