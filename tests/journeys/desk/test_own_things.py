"""Own materials, equipment and settings: copied, changed, refused in place, noticed from outside, kept safe."""

import os
import re
import subprocess
import sys
import tomllib
import zipfile

import pytest

from pourwell.app.desk import Desk
from tests.journeys.desk.conftest import DESK, watched
from tests.journeys.desk.desk_process import START
from tests.unit.app.firing_logs import kiln_log

NAME = "<script>window.stolen = 1</script> house"
WEIGHED = "/materials/calibrations/scale?flask=76x100&before=1364.3&after=1155&empty=600&pattern=10&step=0.1&stood=3"
PHONE = {"width": 390, "height": 800}


def leave(page, label, text):
    """Type into a field, and leave it by the keyboard."""
    page.get_by_label(label, exact=True).fill(text)
    page.get_by_label(label, exact=True).press("Tab")


def fair(page):
    """Axe finds nothing serious, and nothing is wider than the page."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page.page).response["violations"]
    grave = [(one["id"], one["nodes"][0]["html"][:200]) for one in found if one["impact"] in ("serious", "critical")]
    assert not grave
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


def saved(page):
    page.locator("header [role=status]", has_text="Saved").wait_for()


def test_an_alloy_is_copied_changed_and_chosen_and_a_wrong_figure_refused_in_its_place(page, desk):
    page.open("/materials/alloys")
    page.get_by_role("link", name="Sterling silver").click()
    page.get_by_role("button", name="Make a copy of my own").press("Enter")
    page.get_by_role("heading", name="Sterling silver, own").wait_for()
    page.wait_for_function("window.did_handshake === true")
    path = desk.folder / "alloys" / "sterling-925-own.toml"
    leave(page, "Price", "1,15")
    leave(page, "Liquidus", "1640 °F")
    saved(page)
    leave(page, "Solidus", "8020")
    page.get_by_text("8020 is above what can be. Enter 200 to 2,500 °C.").wait_for()
    assert page.get_by_label("Solidus", exact=True).get_attribute("aria-invalid") == "true"
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    assert (table["price_per_g"], table["liquidus_c"], table["solidus_c"]["value"]) == (1.15, 893.333333, 802)
    leave(page, "Name", NAME)
    saved(page)
    page.open("/runs")
    page.get_by_role("button", name="Plan a run").click()
    page.get_by_label("Alloy", exact=True).select_option("sterling-925-own")
    saved(page)
    assert page.evaluate("window.stolen") is None
    assert NAME in page.get_by_label("Alloy", exact=True).inner_text()


def test_a_change_from_outside_is_shown_and_its_comments_stay(page, desk):
    path = desk.folder / "studio.toml"
    path.write_text("# ours\n[kiln]\nerror_k = 4   # new thermocouple\n", encoding="utf-8")
    page.open("/materials")
    path.write_text("# ours\n[kiln]\nerror_k = 3   # newer still\nhottest_c = 1200\n", encoding="utf-8")
    page.wait_for_function("[...document.querySelectorAll('input')].some((field) => field.value === '1200')")
    leave(page, "Overshoot", "2")
    saved(page)
    text = path.read_text(encoding="utf-8")
    assert text == "# ours\n[kiln]\nerror_k = 3   # newer still\nhottest_c = 1200\novershoot_k = 2\n"
    page.get_by_role("button", name="Add a kiln").click()
    page.get_by_role("button", name="Take kiln 2 out").click()
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("button", name="Take kiln 2 out").wait_for()


def test_other_units_hold_on_the_run_and_on_its_sheet(page, browser, desk):
    page.open("/settings")
    page.get_by_label("Temperatures").select_option("F")
    page.get_by_label("Metal weights").select_option("dwt")
    page.get_by_text("Powder and water are shown in ounces").wait_for()
    page.open("/")
    page.get_by_label("Tree on the scale").fill("15")
    page.locator(".act-keys").get_by_text("1778").wait_for()
    figures = page.locator(".act-keys").inner_text()
    page.get_by_role("button", name="Print the card").click()
    page.get_by_role("link", name="its card as PDF").wait_for()
    href = page.get_by_role("link", name="its card as PDF").get_attribute("href")
    sheet = text_of(page.request.get(desk.address + href).body())
    charge = re.search(r"Charge\s*([\d.]+)", figures)[1]
    assert "dwt" in figures
    for said in (charge, "dwt", "1778", "°F"):
        assert said in sheet, (said, sheet)
    with watched(browser, desk) as other:
        other.open("/runs")
        other.get_by_role("link", name="Run 2", exact=True).click()
        other.get_by_text("1778").first.wait_for()
        assert other.get_by_label("Tree on the scale").input_value() == "15"
        assert charge in other.locator("tr.sum").inner_text()


def text_of(pdf):
    """The words of a PDF."""
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    return "\n".join(document[k].get_textpage().get_text_bounded() for k in range(len(document)))


def test_a_back_up_is_loaded_down_and_brought_in_beside(page, desk, tmp_path):
    page.open("/settings")
    with page.expect_download() as loading:
        page.get_by_role("link", name="Make a back-up").click()
    file = tmp_path / loading.value.suggested_filename
    loading.value.save_as(file)
    assert "alloys/sterling-925-own.toml" in zipfile.ZipFile(file).namelist()
    broken = tmp_path / "broken.zip"
    broken.write_bytes(file.read_bytes()[:-300])
    page.allowed = ("status of 400",)
    page.get_by_label("Back-up file").set_input_files(broken)
    page.get_by_text("is no back-up, or is damaged", exact=False).wait_for()
    page.get_by_role("button", name="Close").click()
    page.get_by_label("Back-up file").set_input_files(file)
    page.get_by_text("It is whole").wait_for()
    made = next(desk.folder.parent.glob(f"{desk.folder.name}-restored-*"))
    page.get_by_text(f"It lies in {made}.", exact=False).wait_for()
    again = Desk(made, lambda: None, crew=object())
    assert [run.form["alloy"] for run in again.store.runs()][-1] == "sterling-925-own"
    again.store.close()


def test_a_second_desk_on_the_same_folder_is_refused_with_the_address_of_the_first(desk):
    env = {**os.environ, "POURWELL_STUDIO": str(desk.folder), "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    command = [sys.executable, "-c", START, "desk", "--no-browser"]
    second = subprocess.run(command, env=env, capture_output=True, text=True, timeout=120, check=False)
    assert second.returncode != 0
    said = " ".join(second.stderr.split())
    assert f"It is open at {desk.address}/ (process {desk.process.pid})." in said
    assert "Traceback" not in said


def test_a_log_is_worked_out_kept_and_taken_back_and_a_reload_loses_nothing(page, desk, tmp_path):
    page.open("/materials/calibrations")
    page.get_by_role("link", name="Read a log").click()
    page.wait_for_function("window.did_handshake === true")
    log = {"name": f"{NAME}.csv", "mimeType": "text/csv", "buffer": kiln_log()}
    page.get_by_label("Log", exact=True).set_input_files(log)
    page.get_by_role("img", name="The log over 9.0 h").wait_for()
    page.get_by_label("Read only so far").fill("8.5")
    page.locator(".timed.log").get_by_text("read up to 8.5 h").wait_for()
    page.reload()
    page.get_by_role("img", name="The log over 9.0 h").wait_for()
    assert page.get_by_label("Read only so far").input_value() == "8.5"
    page.get_by_role("button", name="Work it out").click()
    page.get_by_role("button", name="Keep it").wait_for()
    with page.expect_download() as loading:
        page.get_by_role("link", name="SVG").click()
    loading.value.save_as(tmp_path / "log.svg")
    assert b"<svg" in (tmp_path / "log.svg").read_bytes()
    page.get_by_role("button", name="Keep it").click()
    page.get_by_text("Kept as kiln-").wait_for()
    saved(page)
    (kept,) = (desk.folder / "calibrations").iterdir()
    assert "8.5 h" in tomllib.loads(kept.read_text(encoding="utf-8"))["fitted_from"]
    fair(page)
    page.emulate_media(color_scheme="dark", reduced_motion="reduce")
    page.set_viewport_size(PHONE)
    fair(page)
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("button", name="Keep it").wait_for()
    assert not kept.exists()
    assert page.evaluate("window.stolen") is None


def test_the_fields_of_an_own_row_are_accessible_on_a_phone_in_the_dark(browser, desk):
    with watched(browser, desk, scheme="dark", size=PHONE) as page:
        page.open("/materials/alloys/sterling-925-own")
        page.locator("main h1").wait_for()
        fair(page)


@pytest.mark.parametrize(("scheme", "size"), [("light", DESK), ("dark", PHONE)])
def test_a_weighed_flask_tells_its_water_and_is_accessible(browser, desk, scheme, size):
    with watched(browser, desk, scheme=scheme, size=size) as page:
        page.open(WEIGHED)
        page.get_by_text("Water that went into the kiln").wait_for()
        fair(page)
