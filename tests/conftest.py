"""What all tests share: how hypothesis looks for counter-examples; what Python need not look through; how many threads.

`make test` looks at the same examples every time, so that a red run means a changed program; `make long` looks at many new ones.
"""

import gc
import os
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

if "PYTEST_XDIST_WORKER" in os.environ:
    # Side by side each has one thread, and so has what it starts: sharing a loop among more threads than there are free cores takes
    # more than twice the processor time. `test_kernels_shared.py` tries the loops with two.
    os.environ.setdefault("NUMBA_NUM_THREADS", "1")


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[None]:
    """Find the ten thousand tests without looking for garbage among them, then or later: it takes 7 of 18 s of processor time."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.collect()
        gc.freeze()
        gc.enable()


FIRST = ("tests/rules/", "tests/unit/web/", "tests/unit/materials/", "tests/unit/store/")
"""What needs few compiled loops comes first: meanwhile `start.py test` has them compiled, once for all."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files in their order, but for those that come first."""
    items.sort(key=lambda item: not item.nodeid.startswith(FIRST))


def pytest_unconfigure() -> None:
    """At the end of the process all is looked through as ever."""
    gc.unfreeze()


settings.register_profile(
    "everyday",
    deadline=None,
    derandomize=True,
    database=None,
    max_examples=40,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("long", settings.get_profile("everyday"), derandomize=False, max_examples=1500, print_blob=True)
settings.load_profile("everyday")
