"""What journeys over the desk share: a server in a process of its own, a browser, pages that fail on any complaint.

Chromium is found by POURWELL_CHROMIUM, else under its usual names. Where it is missing these journeys are skipped and say so; where
POURWELL_NEEDS_BROWSER is set, as in `.ci/run`, they fail instead.
"""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from pourwell.app.shapes import build_shape, mesh_bytes
from tests.journeys.desk.desk_process import DeskProcess
from tests.journeys.desk.watched import Watched

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = (
    "--no-sandbox",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-gpu-compositing",  # views are drawn as ever; only pages are put together without it, at half the processor time
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)
DESK = {"width": 1440, "height": 900}
SLOW_MS = int(os.environ.get("POURWELL_PATIENCE_MS", "60000"))
"""A busy machine may take so long; a page that is right is there in a second."""


def browser_path() -> str | None:
    """Where the browser is, if there is one."""
    return os.environ.get("POURWELL_CHROMIUM") or next((path for name in NAMES if (path := shutil.which(name))), None)


@pytest.fixture(scope="session")
def chromium() -> str:
    """Where the browser is."""
    found = browser_path()
    if found is None:
        why = "no Chromium found: install it, or name it in POURWELL_CHROMIUM"
        if os.environ.get("POURWELL_NEEDS_BROWSER"):
            pytest.fail(why)
        pytest.skip(why)
    return found


@pytest.fixture(scope="module")
def browser(chromium: str):
    """One browser for the journeys of a file: while it is open its thread runs a loop, which other tests could not stand."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=chromium, args=list(FLAGS))
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def band(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A pattern file of our own."""
    path = tmp_path_factory.mktemp("files") / "heddle-band-54.stl"
    path.write_bytes(mesh_bytes(build_shape("plain-band", ("size=ISO 54", "width=4", "thickness=1.8")), ".stl"))
    return path


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, chromium: str) -> Iterator[DeskProcess]:
    """A desk with nothing on it, for the journeys of one file."""
    with DeskProcess(tmp_path_factory.mktemp("studio")) as running:
        yield running


@pytest.fixture
def page(browser, desk: DeskProcess) -> Iterator[Watched]:
    """A page that fails its journey on a console error, a page error, or a request that leaves the machine."""
    with watched(browser, desk) as one:
        yield one


def watched(browser, desk: DeskProcess, *, scheme: str = "light", size: dict[str, int] = DESK) -> Watched:
    """Another such page."""
    context = browser.new_context(viewport=size, color_scheme=scheme)
    made = context.new_page()
    made.set_default_timeout(SLOW_MS)
    return Watched(made, desk)
