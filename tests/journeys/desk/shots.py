"""Pictures of every page of the desk, in light and dark, on a desk, a tablet and a phone: `make shots` writes them into ./shots."""

import sys
import tempfile
from pathlib import Path

from tests.journeys.desk.conftest import DESK, FLAGS, browser_path, watched
from tests.journeys.desk.desk_process import DeskProcess
from tests.unit.app.firing_logs import log_bytes

TABLET = {"width": 1024, "height": 768}
PHONE = {"width": 390, "height": 844}
LOOKS = (
    ("desk-light", "light", DESK),
    ("desk-dark", "dark", DESK),
    ("tablet-light", "light", TABLET),
    ("tablet-dark", "dark", TABLET),
    ("phone-light", "light", PHONE),
    ("phone-dark", "dark", PHONE),
)
JUDGED = "/burnout?flask1=76x102&level1=540&count1=2&flask2=50x55&level2=480"
FIRST_DAY = (("first-day", "/"),)
PAGES = (
    ("studio", "/?size=US+7&width=8"),
    ("patterns", "/patterns"),
    ("pattern", "/patterns/2"),
    ("printing", "/patterns/2/printing"),
    ("shape", "/patterns/new?shape=bezel-ring&stone=6&size=ISO+54"),
    ("runs", "/runs"),
    ("days", "/runs/days?trees=1&t1.alloy=gold-585-yellow&t1.pattern=resin&t1.flask=64x64&t1.flasks=1&on=1"),
    ("run", "/runs/1"),
    ("sprues", "/runs/1/sprues?piece=2"),
    ("freezing", "/runs/1/freezing"),
    ("burnout", "/runs/1/burnout"),
    ("compare", "/runs/1/compare"),
    ("judged", JUDGED),
    ("new-run", "/runs/2"),
    ("equipment", "/materials"),
    ("alloys", "/materials/alloys"),
    ("alloy", "/materials/alloys/sterling-925"),
    ("own-alloy", "/materials/alloys/sterling-925-own"),
    ("flasks", "/materials/flasks"),
    ("programme", "/materials/programmes/gypsum-wax"),
    ("calibrations", "/materials/calibrations"),
    ("log", "/materials/calibrations/log?flask=other&size=50x60"),
    ("scale", "/materials/calibrations/scale?flask=76x100&before=1364.3&after=1155&empty=600&pattern=10&step=0.1&stood=3"),
    ("sources", "/materials/sources"),
    ("settings", "/settings"),
)
LONG_MS = 600_000


def drop_log(page) -> None:
    """Our invented firing, on the page of logs."""
    log = {"name": "firing-50.csv", "mimeType": "text/csv", "buffer": log_bytes("kiln", "core", "half")}
    page.get_by_label("Log", exact=True).set_input_files(log)
    page.locator(".timed.log").wait_for()


def furnish(page) -> None:
    """Four pieces, a run of them that is worked out, one that is not, an alloy of one's own, and a log that is worked out."""
    page.open("/patterns")
    page.get_by_role("button", name="Try it with four invented pieces").click()
    page.wait_for_function("document.querySelectorAll('.piece img').length === 4", timeout=LONG_MS)
    page.open("/patterns/3")
    page.get_by_role("button", name="Plan a run with it").click()
    page.get_by_label("Add a piece").wait_for()
    for number in ("1", "2", "4"):
        page.get_by_label("Add a piece").select_option(number)
        page.wait_for_function(f"![...document.querySelectorAll('select option')].some((one) => one.value === '{number}')")
    page.get_by_role("button", name="One more Larch band 60").click()
    page.get_by_label("Work out how it freezes").uncheck()
    page.get_by_role("button", name="Work it out").click()
    page.get_by_role("link", name="Open the run sheet").wait_for(timeout=LONG_MS)
    page.get_by_label("Flask", exact=True).select_option("89x102")
    page.get_by_label("Work out how it freezes").check()
    page.get_by_text("Since then changed: flask, freezing.").wait_for()
    page.get_by_role("button", name="Work it out again").click()
    page.get_by_role("link", name="Open the run sheet").wait_for(timeout=LONG_MS)
    page.open("/runs")
    page.get_by_role("button", name="Plan a run").click()
    page.get_by_label("Tree on the scale").wait_for()
    page.open(dict(PAGES)["days"])
    page.get_by_role("button", name="Work the days out").click()
    page.get_by_role("heading", name="What to do when", exact=True).wait_for(timeout=LONG_MS)
    page.open("/materials/alloys/sterling-925")
    page.get_by_role("button", name="Make a copy of my own").click()
    page.get_by_role("heading", name="Sterling silver, own").wait_for()
    page.open(dict(PAGES)["log"])
    drop_log(page)
    page.get_by_role("button", name="Work it out").click()
    page.get_by_role("button", name="Keep it").wait_for(timeout=LONG_MS)
    page.open(JUDGED)
    page.get_by_role("button", name="See what it does").click()
    page.get_by_text("Measures against their limits").wait_for(timeout=LONG_MS)


def picture(page, path: Path) -> None:
    """The whole page as a picture."""
    page.screenshot(path=path, full_page=True)
    print(path, flush=True)


def draft(page) -> None:
    """A signet that is made to another size, before it is kept."""
    page.open("/patterns/2")
    page.get_by_label("Finished size wanted").fill("ISO 60")
    page.get_by_text("19.10 mm across").wait_for()
    page.get_by_role("button", name="See it at that size").click()
    page.get_by_role("radio", name="As it would be").wait_for(timeout=LONG_MS)
    page.locator("[data-ready=yes]").wait_for()
    page.wait_for_timeout(500)


def take(browser, desk, out: Path, *, empty: bool) -> None:
    """All pages, in all looks."""
    pages = FIRST_DAY if empty else PAGES
    for look, scheme, size in LOOKS:
        with watched(browser, desk, scheme=scheme, size=size) as page:
            for name, path in pages:
                page.open(path)
                page.locator("main h1").wait_for()
                if name in ("pattern", "printing", "shape", "run", "sprues", "freezing", "compare"):
                    page.locator("[data-ready=yes]").first.wait_for()
                if name == "log":
                    drop_log(page)
                if name in ("log", "scale"):
                    page.get_by_role("button", name="Keep it").wait_for()
                if name == "sprues":
                    page.locator(".place-row").first.wait_for()
                page.wait_for_timeout(500)
                picture(page, out / f"{name}-{look}.png")
            if not empty:
                draft(page)
                picture(page, out / f"draft-{look}.png")


def main() -> None:
    """Open a desk in an empty folder, furnish it, take the pictures."""
    from playwright.sync_api import sync_playwright

    found = browser_path()
    if found is None:
        sys.exit("No Chromium found: install it, or name it in POURWELL_CHROMIUM.")
    out = Path(sys.argv[1] if len(sys.argv) > 1 else "shots")
    out.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as name, DeskProcess(Path(name)) as desk, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=list(FLAGS))
        take(browser, desk, out, empty=True)
        with watched(browser, desk) as page:
            page.set_default_timeout(LONG_MS)
            furnish(page)
        take(browser, desk, out, empty=False)
        browser.close()


if __name__ == "__main__":
    main()
