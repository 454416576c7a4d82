"""How the loops are compiled: once a machine, kept on disk, and without Python's lock, so that threads run side by side."""

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba

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
    return int(numba.get_num_threads())
