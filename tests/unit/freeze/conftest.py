"""Trees frozen once for all tests of the step."""

import pytest

from pourwell.steps.freeze import plan
from tests.unit.freeze import trees


@pytest.fixture(scope="session")
def told():
    """What was heard while `froze` was computed."""
    return []


@pytest.fixture(scope="session")
def froze(told):
    """The small tree in sterling at 1.5 mm, with all its runs."""
    return plan.freeze(trees.cast(), fine=False, library=trees.LIBRARY, tell=told.append, edge_mm=1.5)


@pytest.fixture(scope="session")
def sound():
    """A tree of two plain bands."""
    return plan.freeze(
        trees.cast(pieces=((1, 0.0), (-1, 0.0))), fine=False, library=trees.LIBRARY, tell=lambda _: None, edge_mm=1.5
    )
