"""The option that writes golden texts anew."""

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--update-golden`, for runs that name this folder (`pytest tests/golden --update-golden`)."""
    parser.addoption("--update-golden", action="store_true", default=False, help="write the kept texts anew")
