"""Kept files by URL: what a result names, and nothing else."""

from datetime import UTC, datetime

import pytest
from fastapi import FastAPI

from pourwell.app.desk import Desk
from pourwell.app.desk_days import Placing
from pourwell.web.kept import days_link, draft_link, kept, link
from tests.unit.web.asgi import ask

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)


@pytest.fixture
def desk(tmp_path):
    made = Desk(tmp_path / "studio", lambda: NOW)
    yield made
    made.close()


@pytest.fixture
def result(desk):
    pattern, _ = desk.store.add_pattern(b"solid", file="a.stl", name="A", now=NOW)
    files = {"run-sheet.pdf": b"%PDF-1.7", "picture.png": b"\x89PNG", "day.ics": b"BEGIN:VCALENDAR", "a b<c>.html": b"<script>"}
    return desk.store.add_result(pattern_id=pattern.id, asked={}, data={}, files=files, now=NOW)


@pytest.fixture
def get(desk):
    app = FastAPI()
    app.include_router(kept(desk))
    return lambda path: ask(app, "GET", path)


@pytest.mark.parametrize(
    ("name", "kind", "content"),
    [("run-sheet.pdf", "application/pdf", b"%PDF-1.7"), ("picture.png", "image/png", b"\x89PNG")],
)
def test_a_file_comes_as_what_it_is(get, result, name, kind, content):
    answer = get(link(result, name))
    assert answer.status_code == 200
    assert answer.headers["content-type"] == kind
    assert answer.content == content
    assert "immutable" in answer.headers["cache-control"]
    assert "content-disposition" not in answer.headers


def test_the_files_of_the_days_ahead_come_while_they_are_held(get, desk):
    files = {"day.pdf": b"%PDF", "day.ics": b"BEGIN:VCALENDAR"}
    placing = Placing(number=7, data={}, files=files, runs={}, asked={}, signature="", made_at=NOW)
    assert get(days_link(placing, "day.pdf")).status_code == 404
    desk.days.hold(placing)
    sheet, dates = (get(days_link(placing, name)) for name in files)
    assert (sheet.content, sheet.headers["content-type"], sheet.headers["cache-control"]) == (
        b"%PDF",
        "application/pdf",
        "no-store",
    )
    assert dates.headers["content-type"].startswith("text/calendar")
    assert get("/days/7/day.json").status_code == 404


def test_what_no_browser_shows_is_saved_under_a_name_of_ours(get, result):
    answer = get(link(result, "day.ics"))
    assert answer.headers["content-disposition"].startswith("attachment; filename=")
    assert answer.headers["content-disposition"].endswith('.ics"')


def test_a_page_in_a_result_is_never_shown_as_a_page(get, result):
    answer = get(link(result, "a b<c>.html"))
    assert answer.headers["content-type"] == "application/octet-stream"
    assert "attachment" in answer.headers["content-disposition"]


@pytest.mark.parametrize(
    "path",
    [
        "/kept/1/0123456789abcdef/none.png",
        "/kept/99/0123456789abcdef/picture.png",
        "/kept/1/0123456789abcdef/..%2F..%2Fstore.sqlite3",
        "/kept/1/../../store.sqlite3",
        "/kept/../store.sqlite3",
        "/kept/99999999999999999999/0123456789abcdef/picture.png",
        "/kept/x/0123456789abcdef/picture.png",
    ],
)
def test_nothing_else_can_be_had(get, result, path):
    assert get(path).status_code in (404, 422)


def test_another_studios_result_of_the_same_number_is_never_had_under_one_url(desk, get, result, tmp_path):
    """A browser keeps what it got for ever: the URL must not mean another content in another studio, or after a restore."""
    other = Desk(tmp_path / "other", lambda: NOW)
    pattern, _ = other.store.add_pattern(b"solid", file="a.stl", name="A", now=NOW)
    theirs = other.store.add_result(pattern_id=pattern.id, asked={}, data={}, files={"run-sheet.pdf": b"%PDF of theirs"}, now=NOW)
    other.close()
    assert theirs.id == result.id
    assert link(theirs, "run-sheet.pdf") != link(result, "run-sheet.pdf")
    assert get(link(theirs, "run-sheet.pdf")).status_code == 404
    assert get(f"/kept/{result.id}/run-sheet.pdf").status_code == 404
    assert get(link(result, "none.png")).status_code == 404


def test_a_draft_is_sent_and_never_kept_by_a_browser(desk, get):
    draft = desk.drafts.hold({"data": {}, "files": {"after.bin": b"123"}}, name="A")
    answer = get(draft_link(draft, "after.bin"))
    assert answer.content == b"123"
    assert answer.headers["cache-control"] == "no-store"
    assert get(draft_link(draft, "before.bin")).status_code == 404
    desk.drafts.let_go(draft)
    assert get(draft_link(draft, "after.bin")).status_code == 404


def test_a_file_that_is_gone_from_the_folder_is_not_there(desk, get, result):
    desk.store.shelf.path(result.files["picture.png"]).unlink()
    assert get(link(result, "picture.png")).status_code == 404
    assert get(link(result, "run-sheet.pdf")).status_code == 200
