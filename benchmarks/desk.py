"""What the desk takes: `python benchmarks/desk.py WHAT`, one of start, frame, redraw, drop, reply, library, memory.

Starts a desk in an empty folder of its own, opens its pages in headless Chromium under software rendering, and prints as its last
line "measured S s, M MB": what was timed, and what the process of the pages holds at the end. Chromium is found by
POURWELL_CHROMIUM, else under its usual names. `redraw` fails if anything is drawn at rest.
"""

import argparse
import http.client
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "src")]

from benchmarks.pieces import ring, write_stl  # noqa: E402
from tests.journeys.desk.conftest import FLAGS, browser_path, watched  # noqa: E402
from tests.journeys.desk.desk_process import DeskProcess  # noqa: E402

LONG_MS = 120_000
PATTERNS = 200
TURNS = 12
REST_MS = 1000
ASKED_EVERY_S = 0.02
WARM_S = 12.0
"""A user has read the first page by then."""
REDRAW = """async (turns) => {
  const view = document.querySelector('.view'), canvas = view.querySelector('canvas'), gl = canvas.getContext('webgl2');
  const took = [];
  for (let k = 0; k < turns; k++) {
    const drawn = new Promise((done) => new MutationObserver(done).observe(view, { attributeFilter: ['data-frame'] }));
    const begun = performance.now();
    canvas.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowLeft', bubbles: true }));
    await drawn;
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
    took.push((performance.now() - begun) / 1000);
    await new Promise((done) => setTimeout(done, 50));
  }
  return took;
}"""
"""Turns the piece by keys; each turn counts until its picture is finished, not only asked for."""


@contextmanager
def opened(folder: Path) -> Iterator[tuple[DeskProcess, object]]:
    """A desk, and a page of it."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=browser_path(), args=list(FLAGS))
        with DeskProcess(folder) as desk, watched(browser, desk) as page:
            page.set_default_timeout(LONG_MS)
            yield desk, page
        browser.close()


def fine_ring(folder: Path, *, around: int = 250, across: int = 200) -> Path:
    """A ring of 2 * around * across triangles; 100,000 if nothing else is said."""
    return write_stl(folder / "fine-ring.stl", ring(bore_mm=17.3, width_mm=4.0, wall_mm=2.0, around=around, across=across))


def put_in(page, path: Path) -> None:
    """Drop a file, and wait until its piece is in the library."""
    page.open("/patterns")
    page.get_by_label("Pattern files").set_input_files(str(path))
    page.locator(".piece img").wait_for()


def start(folder: Path) -> tuple[float, float]:
    """From the start of the program to its first page, ready to be used."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=browser_path(), args=list(FLAGS))
        browser.new_page().close()
        begun = time.perf_counter()
        with DeskProcess(folder) as desk, watched(browser, desk) as page:
            page.open("/")
            page.get_by_label("Tree on the scale").wait_for()
            return time.perf_counter() - begun, memory_mb(desk.process.pid)


def frame(folder: Path) -> tuple[float, float]:
    """From the call of a pattern's page to its first picture."""
    with opened(folder) as (desk, page):
        put_in(page, fine_ring(folder))
        took = []
        for _ in range(3):
            begun = time.perf_counter()
            page.open("/patterns/1")
            page.locator("[data-ready=yes]").wait_for()
            took.append(time.perf_counter() - begun)
        return statistics.median(took), memory_mb(desk.process.pid)


def redraw(folder: Path) -> tuple[float, float]:
    """From a key to the finished picture. Raises RuntimeError if anything is drawn at rest."""
    with opened(folder) as (desk, page):
        put_in(page, fine_ring(folder))
        page.open("/patterns/1")
        page.locator("[data-ready=yes]").wait_for()
        page.wait_for_timeout(REST_MS)
        frames = page.locator(".view").get_attribute("data-frame")
        page.wait_for_timeout(REST_MS)
        if page.locator(".view").get_attribute("data-frame") != frames:
            raise RuntimeError("something is drawn at rest")
        return statistics.median(page.evaluate(REDRAW, TURNS)), memory_mb(desk.process.pid)


def dropped(folder: Path) -> tuple[float, float, float]:
    """From the drop of a file to its walls in colours; memory; and the slowest reply meanwhile."""
    with opened(folder) as (desk, page):
        page.open("/patterns")
        page.wait_for_timeout(WARM_S * 1000)
        with asked(desk.port) as replies:
            begun = time.perf_counter()
            page.get_by_label("Pattern files").set_input_files(str(fine_ring(folder)))
            page.locator(".piece img").wait_for()
            page.locator(".piece h3 a").click()
            page.locator("[data-ready=yes][data-field=wall]").wait_for()
            took = time.perf_counter() - begun
        print(f"{took:.2f} s; {len(replies)} replies, median {statistics.median(replies):.4f} s, slowest {max(replies):.3f} s")
        return took, memory_mb(desk.process.pid), max(replies)


def drop(folder: Path) -> tuple[float, float]:
    """From the drop of a file to its walls in colours."""
    return dropped(folder)[:2]


def reply(folder: Path) -> tuple[float, float]:
    """The slowest reply to something small while a file is taken in, checked and shown."""
    _, memory, slowest = dropped(folder)
    return slowest, memory


@contextmanager
def asked(port: int) -> Iterator[list[float]]:
    """Ask the desk something small again and again; how long each reply took [s]."""
    replies: list[float] = []
    over = threading.Event()

    def ask() -> None:
        with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=60)) as line:
            while not over.wait(ASKED_EVERY_S):
                begun = time.perf_counter()
                line.request("GET", "/fonts/none")
                line.getresponse().read()
                replies.append(time.perf_counter() - begun)

    thread = threading.Thread(target=ask, daemon=True)
    thread.start()
    try:
        yield replies
    finally:
        over.set()
        thread.join()


def furnished(folder: Path) -> None:
    """A studio with a library of checked patterns: each its own file, its own picture, its own solid."""
    from pourwell.app.desk_words import PICTURE, VIEW, GivenPattern
    from pourwell.app.desk_work import check_pattern
    from pourwell.store.store import Store

    path, now = fine_ring(folder, around=50, across=40), datetime.now(UTC)
    given = GivenPattern(path=path, file=path.name, name="Fine ring", units="")
    one = check_pattern(folder, given, {"alloy": "sterling-925", "material": "resin"}, tell=lambda _: None)
    store = Store(folder)
    for number in range(PATTERNS):
        mark = str(number).encode()
        pattern, _ = store.add_pattern(path.read_bytes() + mark, file=f"ring-{number}.stl", name=f"Ring {number}", now=now)
        files = {PICTURE: one["files"][PICTURE] + mark, VIEW: one["files"][VIEW] + mark}
        store.add_result(pattern_id=pattern.id, asked={}, data=one["data"], files=files, now=now)
    store.close()


def library(folder: Path) -> tuple[float, float]:
    """From the call of a library of 200 patterns until one is found in it by name."""
    furnished(folder)
    with opened(folder) as (desk, page):
        page.open("/")
        begun = time.perf_counter()
        page.open("/patterns")
        page.locator(".piece").nth(PATTERNS - 1).wait_for()
        shown = time.perf_counter() - begun
        page.get_by_label("Find a pattern").fill("Ring 137")
        page.wait_for_function("document.querySelectorAll('.piece').length === 1")
        took = time.perf_counter() - begun
        print(f"{shown:.2f} s until all stand there, {took:.2f} s until one is found")
        return took, memory_mb(desk.process.pid)


def memory(folder: Path) -> tuple[float, float]:
    """What the pages' process holds at rest with 200 patterns, their page open in two windows."""
    furnished(folder)
    begun = time.perf_counter()
    with opened(folder) as (desk, page):
        page.open("/patterns")
        other = page.context.new_page()
        other.goto(desk.address + "/patterns")
        page.wait_for_timeout(WARM_S * 1000)
        held = [memory_mb(child) for child in children(desk.process.pid)]
        print(f"workers beside it hold {', '.join(f'{mb:.0f} MB' for mb in held)}")
        return time.perf_counter() - begun, memory_mb(desk.process.pid)


def memory_mb(pid: int) -> float:
    """What a process holds now [MB]; 0 where the system does not say."""
    status = Path(f"/proc/{pid}/status")
    if not status.exists():
        return 0.0
    line = next((line for line in status.read_text().splitlines() if line.startswith("VmRSS")), "VmRSS: 0 kB")
    return int(line.split()[1]) / 1024


def children(pid: int) -> list[int]:
    """Processes that a process began; none where the system does not say."""
    listed = Path(f"/proc/{pid}/task").glob("*/children")
    return [int(child) for path in listed for child in path.read_text().split()]


WHAT: dict[str, Callable[[Path], tuple[float, float]]] = {
    "start": start,
    "frame": frame,
    "redraw": redraw,
    "drop": drop,
    "reply": reply,
    "library": library,
    "memory": memory,
}


def main() -> None:
    """Measure one thing."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=WHAT)
    with tempfile.TemporaryDirectory() as folder:
        seconds, mb = WHAT[parser.parse_args().what](Path(folder))
    print(f"measured {seconds:.4f} s, {mb:.0f} MB")


if __name__ == "__main__":
    main()
