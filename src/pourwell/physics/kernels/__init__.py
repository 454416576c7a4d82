"""Compiled loops of the freezing solver. Each has a readable twin in a `_reference*.py`; one test runs over both (conventions C19).

Compiled code is kept beside the source, or where that cannot be written in the user's cache folder, so that the second start pays
nothing; where neither can be written it is compiled afresh.
"""

from collections.abc import Callable
from threading import Lock
from types import FunctionType
from typing import Any, Final, TypeVar, cast

import numba
import numpy as np

F = TypeVar("F", bound=Callable[..., object])
LOOSE: Final = {"reassoc", "contract", "nsz", "arcp"}
"""What the compiler may reorder: sums and products, but not the handling of NaN and infinity."""
WORTH_SHARING: Final = 16384
"""Fewest entries of an array for which a loop is shared among threads: to hand one over takes some microseconds."""

_numba: Any = numba  # its types are not those of its call


ONE_AT_A_TIME: Final = Lock()
"""Held while a loop is shared: not every way that numba shares a loop bears two callers at once."""


def _machine_code(function: Callable[..., Any], *, parallel: bool) -> Callable[..., Any]:
    """Machine code for a loop, kept on disk where a folder can be written."""
    options = {"parallel": parallel, "fastmath": LOOSE, "nogil": True}
    try:
        made: Callable[..., Any] = _numba.njit(cache=True, **options)(function)
    except RuntimeError:  # no folder for the cache
        made = _numba.njit(**options)(function)
    return made


def _namesake(function: Callable[..., Any]) -> Callable[..., Any]:
    """The same function under a second name: the cache goes by the name, and would give one form's machine code to the other."""
    own = cast(FunctionType, function)
    twin = FunctionType(own.__code__, own.__globals__, f"{own.__name__}_shared", own.__defaults__, own.__closure__)
    twin.__kwdefaults__, twin.__module__, twin.__doc__ = own.__kwdefaults__, own.__module__, own.__doc__
    twin.__qualname__ = f"{own.__qualname__}_shared"
    return twin


def forms(function: Callable[..., Any]) -> tuple[Callable[..., Any], Callable[..., Any]]:
    """Machine code for a loop, for one thread and shared among threads: for other compiled code to choose from."""
    return _machine_code(function, parallel=False), _machine_code(_namesake(function), parallel=True)


def compiled(*, parallel: bool = False) -> Callable[[F], F]:
    """Decorator: machine code for a loop; a parallel one is shared among threads if its largest array is worth it."""

    def wrap(function: F) -> F:
        if not parallel:
            return cast(F, _machine_code(function, parallel=False))
        alone, shared = forms(function)

        def call(*given: Any, **named: Any) -> object:
            largest = max(a.size for a in (*given, *named.values()) if isinstance(a, np.ndarray))
            if largest < WORTH_SHARING:
                return alone(*given, **named)
            with ONE_AT_A_TIME:
                return shared(*given, **named)

        call.__doc__ = function.__doc__
        return cast(F, call)

    return wrap
