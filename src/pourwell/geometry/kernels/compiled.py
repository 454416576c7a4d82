"""How the loops are compiled: once a machine, kept on disk, and without Python's lock, so that threads run side by side."""

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """The function as machine code. Division by zero follows IEEE 754 and raises nothing."""
    return cast("Function", numba.njit(cache=True, nogil=True, error_model="numpy")(function))


def compiled_lean(function: Function) -> Function:
    """As `compiled`, for inner loops that make no array: they do not count who holds which, which threads would wait for."""
    uncounted: dict[str, Any] = {"_nrt": False}
    return cast("Function", numba.njit(cache=True, nogil=True, error_model="numpy", **uncounted)(function))


def thread_count() -> int:
    """How many threads the caller has granted to compiled loops."""
    return int(numba.get_num_threads())
