"""The sheet of a run by URL: as it was made where nothing stands against it, stamped where something does, never bare."""

import pytest
import typst
from fastapi import FastAPI

from pourwell.app.crew import Job, _found
from pourwell.app.desk_runs import asked_of
from pourwell.errors import PourwellError
from pourwell.web.run_sheets import run_sheets, sheet_link
from tests.golden.sheets.reading import page_texts
from tests.unit.web.asgi import ask
from tests.unit.web.samples import NOW, at, finding, plan, step


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    path = tmp_path_factory.mktemp("typst") / "sheet.typ"
    path.write_text('#set page("a4")\nOne\n#pagebreak()\nTwo\n', encoding="utf-8")
    return typst.compile(path, format="pdf")


@pytest.fixture
def desk(still_desk):
    """A desk whose quick answers are given at once."""

    def answer(call, *given):
        job = Job("", call, given, then=lambda outcome: outcome)
        try:
            job.end("done", outcome=_found(call)(*given, tell=lambda text: None))
        except PourwellError as err:
            job.end("failed", fault=err)
        return job

    still_desk.crew.answer = answer
    return still_desk


@pytest.fixture
def get(desk):
    app = FastAPI()
    app.include_router(run_sheets(desk))
    return lambda path: ask(app, "GET", path)


def fired(desk, run, sheet, *, on_h, findings=()):
    """A run of two flasks whose kiln goes on so many hours from now."""
    made = plan(findings=findings, stopped=bool(findings))
    made["burnout"] |= {"starts_at": at(on_h), "ends_at": at(on_h + 16)}
    made["pour"] |= {"at": at(on_h + 16)}
    made["timeline"] = [step("kiln", on_h, on_h + 16, 0), step("pour", on_h + 16, on_h + 16.1, 5)]
    files = {"run-sheet.pdf": sheet, "2-run-sheet.pdf": sheet + b"\n"}
    desk.store.add_result(run_id=run.id, asked=asked_of(run), data={"plans": [made, made]}, files=files, now=NOW)


def test_a_sheet_that_nothing_stands_against_comes_as_it_was_made(desk, get, run, sheet):
    fired(desk, run, sheet, on_h=8)
    answer = get(sheet_link(run.id, 0))
    assert (answer.status_code, answer.content) == (200, sheet)
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["cache-control"] == "no-store", "what stands against it may come in a minute"
    assert get(sheet_link(run.id, 1)).content == sheet + b"\n"


def test_a_sheet_of_a_run_that_finds_the_kiln_taken_says_so_on_every_page(desk, get, run, band, sheet):
    other = desk.new_run(pieces=[(band.id, 2)])
    fired(desk, run, sheet, on_h=8)
    fired(desk, other, sheet, on_h=9)
    pages = page_texts(get(sheet_link(other.id, 0)).content)
    assert "The kiln is taken by run 1" in " ".join(pages[0].split())
    assert [page.count("DO NOT FIRE") for page in pages] == [4, 4, 4]
    first = page_texts(get(sheet_link(run.id, 0)).content)
    assert "Beside your other runs" in first[0]
    assert "Run 2 is planned into the kiln" in " ".join(first[0].split())
    assert "DO NOT" not in "".join(first)
    assert first[1:] == page_texts(sheet)


def test_a_sheet_of_a_run_that_was_changed_since_is_a_former_one(desk, get, run, sheet):
    fired(desk, run, sheet, on_h=8)
    desk.change_run(run.id, fields={"flask": "89x102"})
    pages = page_texts(get(sheet_link(run.id, 0)).content)
    assert "changed: flask." in " ".join(pages[0].split())
    assert [page.count("FORMER SHEET") for page in pages] == [4, 4, 4]


def test_a_sheet_that_is_stopped_by_itself_keeps_its_own_stamp_alone(desk, get, run, sheet):
    fired(desk, run, sheet, on_h=8, findings=[finding("stop", "The wall is open.")])
    desk.change_run(run.id, fields={"flask": "89x102"})
    pages = page_texts(get(sheet_link(run.id, 0)).content)
    assert "Former sheet" in pages[0]
    assert "FORMER SHEET" not in "".join(pages[1:])


def test_where_it_cannot_be_stamped_the_bare_sheet_is_not_given_out(desk, get, run, sheet):
    fired(desk, run, sheet, on_h=8)
    desk.change_run(run.id, fields={"flask": "89x102"})

    def refused(call, *given):
        job = Job("", call, given, then=lambda outcome: outcome)
        job.end("failed", fault=PourwellError("The memory is full."))
        return job

    desk.crew.answer = refused
    answer = get(sheet_link(run.id, 0))
    assert answer.status_code == 503
    assert answer.text.startswith("The sheet could not be made ready. The memory is full.\nDo not use it as it is.")
    assert "{" not in answer.text


@pytest.mark.parametrize("path", ["/runs/1/sheet.pdf", "/runs/99/sheet.pdf", f"/runs/{2**70}/sheet.pdf"])
def test_no_sheet_is_no_sheet(desk, get, run, path):
    assert get(path).status_code == 404


@pytest.mark.parametrize("flask", ["two", "1.5", "", "1%00"])
def test_a_flask_that_is_no_number_is_refused(desk, get, run, sheet, flask):
    fired(desk, run, sheet, on_h=8)
    assert get(f"/runs/{run.id}/sheet.pdf?flask={flask}").status_code == 422


def test_a_sheet_of_a_run_that_is_changed_back_is_as_it_was_made(desk, get, run, sheet):
    fired(desk, run, sheet, on_h=8)
    desk.change_run(run.id, fields={"flask": "89x102"})
    assert get(sheet_link(run.id, 0)).content != sheet
    desk.change_run(run.id, fields={"flask": run.form.get("flask", "")})
    assert get(sheet_link(run.id, 0)).content == sheet


def test_a_sheet_that_is_gone_from_the_disk_is_no_sheet(desk, get, run, sheet):
    fired(desk, run, sheet, on_h=8)
    files = desk.store.latest(run_id=run.id).files
    desk.store.shelf.path(files["run-sheet.pdf"]).unlink()
    assert get(sheet_link(run.id, 0)).status_code == 404


@pytest.mark.parametrize("flask", [-5, 0, 3, 99, 2**70])
def test_a_flask_that_the_run_does_not_have_gets_no_sheet_of_another(desk, get, run, sheet, flask):
    fired(desk, run, sheet, on_h=8)
    assert get(f"/runs/{run.id}/sheet.pdf?flask={flask}").status_code == 404
    assert get(f"/runs/{run.id}/sheet.pdf?flask=2").status_code == 200


def test_while_the_studio_s_file_cannot_be_read_no_sheet_is_given_out_and_it_says_why(desk, get, run, sheet):
    fired(desk, run, sheet, on_h=8)
    (desk.folder / "studio.toml").write_text("[kiln", encoding="utf-8")
    answer = get(sheet_link(run.id, 0))
    assert answer.status_code == 503
    assert answer.text.startswith("The sheet could not be made ready.\n")
    assert "studio.toml" in answer.text
