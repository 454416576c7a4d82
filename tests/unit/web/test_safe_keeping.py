"""The back-up by URL: made while in use and cleared away after, taken in only from a page of ours, refused in words."""

import io
import zipfile

import pytest
from fastapi import FastAPI

from pourwell.errors import OutputError
from pourwell.web import safe_keeping as ways
from pourwell.web.intake import MARK
from pourwell.web.safe_keeping import safe_keeping
from tests.unit.web.asgi import ask, leave

FROM_US = {MARK: "1"}


@pytest.fixture
def app(still_desk, run):
    made = FastAPI()
    made.include_router(safe_keeping(still_desk))
    return made


def litter(desk):
    return [path.name for path in desk.folder.iterdir() if path.name.startswith((".back-up-", ".incoming-"))]


def test_a_back_up_comes_as_one_file_under_the_studios_name_and_nothing_stays_behind(app, still_desk):
    (still_desk.folder / "studio.toml").write_text('name = "Quillmere \\"Studio\\""\n', encoding="utf-8")
    answer = ask(app, "GET", "/back-up")
    assert answer.status_code == 200
    assert "quillmere-_studio-2026-11-26.pourwell.zip" in answer.headers["content-disposition"]
    assert answer.headers["cache-control"] == "no-store"
    assert "studio.toml" in zipfile.ZipFile(io.BytesIO(answer.content)).namelist()
    assert litter(still_desk) == []


def test_a_back_up_that_cannot_be_written_says_why(app, still_desk, monkeypatch):
    def full(_store, out):
        raise OutputError(f"{out.name} cannot be written.", why="The system says: No space left on device.")

    monkeypatch.setattr(ways, "back_up", full)
    answer = ask(app, "GET", "/back-up")
    assert answer.status_code == 507
    assert "No space left on device" in answer.json()["detail"]
    assert litter(still_desk) == []


@pytest.mark.parametrize(
    "said",
    [{"sec-fetch-site": "cross-site"}, {"sec-fetch-site": "same-site"}, {"origin": "http://evil.example"}, {"origin": "null"}],
)
def test_no_page_of_another_can_have_a_back_up_made(app, monkeypatch, said):
    monkeypatch.setattr(ways, "back_up", lambda *_: pytest.fail("it was made"))
    assert ask(app, "GET", "/back-up", headers=said).status_code == 403


@pytest.mark.parametrize("said", [{"sec-fetch-site": "same-origin", "origin": "http://127.0.0.1:8321"}, {"sec-fetch-site": "none"}])
def test_a_page_of_ours_or_a_typed_address_gets_a_back_up(app, said):
    assert ask(app, "GET", "/back-up", headers=said).status_code == 200


def test_back_ups_are_made_one_at_a_time(app, still_desk, monkeypatch):
    second = []

    def meanwhile(_store, out):
        second.append(ask(app, "GET", "/back-up"))
        out.write_bytes(b"PK")

    monkeypatch.setattr(ways, "back_up", meanwhile)
    assert ask(app, "GET", "/back-up").status_code == 200
    assert [answer.status_code for answer in second] == [429]
    assert "is being made already" in second[0].json()["detail"]
    assert litter(still_desk) == []


def test_a_page_that_is_closed_in_the_middle_of_a_back_up_is_no_fault(app, still_desk):
    leave(app, "/incoming/back-up", headers=FROM_US)
    assert litter(still_desk) == []
    content = ask(app, "GET", "/back-up").content
    assert ask(app, "PUT", "/incoming/back-up", params={"name": "x"}, content=content, headers=FROM_US).status_code == 200


def test_a_back_up_is_taken_in_beside(app, still_desk):
    content = ask(app, "GET", "/back-up").content
    answer = ask(app, "PUT", "/incoming/back-up", params={"name": "x.zip"}, content=content, headers=FROM_US)
    assert answer.status_code == 200
    assert answer.json()["folder"] == str(still_desk.folder.parent / "studio-restored-2026-11-26")
    assert (answer.json()["patterns"], answer.json()["runs"], answer.json()["doubt"]) == (1, 1, "")
    assert litter(still_desk) == []


@pytest.mark.parametrize(
    ("headers", "content", "status", "why"),
    [
        ({}, b"PK", 403, "did not come from a page of the desk"),
        (FROM_US, b"PK", 400, "is no back-up, or is damaged"),
        (FROM_US, b"x" * 100, 413, "which no back-up is"),
    ],
)
def test_what_is_no_back_up_is_refused_and_leaves_nothing(app, still_desk, monkeypatch, headers, content, status, why):
    monkeypatch.setattr(ways, "LIMIT_BYTES", 50)
    answer = ask(app, "PUT", "/incoming/back-up", params={"name": "../../x"}, content=content, headers=headers)
    assert answer.status_code == status
    assert why in answer.json()["why"]
    assert litter(still_desk) == []
    assert not list(still_desk.folder.parent.glob("*restored*"))
