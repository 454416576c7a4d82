"""Logs that come in: into memory, no longer than may be, under no name of their own; and what is loaded down of them."""

import pytest
from fastapi import FastAPI

from pourwell.app.measuring import ToldLog
from pourwell.web.intake import MARK
from pourwell.web.log_intake import logs, picture_link
from tests.unit.web.asgi import ask, leave

FROM_US = {MARK: "1"}


@pytest.fixture
def desk(still_desk):
    return still_desk


def put(desk, content, name="firing.csv", headers=FROM_US, **how):
    app = FastAPI()
    app.include_router(logs(desk, **how))
    return ask(app, "PUT", "/incoming/log", params={"name": name}, content=content, headers=headers)


def get(desk, path):
    app = FastAPI()
    app.include_router(logs(desk))
    return ask(app, "GET", path)


def test_a_log_comes_in_whole_and_is_written_nowhere(desk):
    before = sorted(desk.folder.rglob("*"))
    answer = put(desk, b"Time,Kiln\n" * 1000)
    assert answer.status_code == 200
    log = desk.measuring.get(answer.json()["log"])
    assert (log.file, log.given.content) == ("firing.csv", b"Time,Kiln\n" * 1000)
    assert sorted(desk.folder.rglob("*")) == before


def test_a_form_of_another_page_is_refused(desk):
    assert put(desk, b"Time,Kiln", headers={}).status_code == 403


@pytest.mark.parametrize(
    ("sent", "held"),
    [
        ("../../studio.toml", "studio.toml"),
        ("<img src=x onerror=alert(1)>.csv", "img src=x onerror=alert(1).csv"),
        ("\x00.csv", "log.csv"),
        ("x" * 400 + ".csv", "x" * 91 + ".csv"),
    ],
)
def test_no_name_leads_anywhere(desk, sent, held):
    assert put(desk, b"Time,Kiln", name=sent).json()["name"] == held


def test_a_log_that_says_it_is_too_long_is_refused_before_it_comes(desk):
    answer = put(desk, b"x", headers={**FROM_US, "content-length": "51000000"})
    assert answer.status_code == 413
    assert "the limit is 50 MB" in answer.json()["why"]


def test_a_log_that_does_not_say_how_long_it_is_is_cut_off(desk):
    async def without_end():
        for _ in range(1000):
            yield b"x" * 1000

    answer = put(desk, without_end(), limit_bytes=50_000)
    assert answer.status_code == 413


def test_an_empty_log_is_refused_in_a_sentence(desk):
    answer = put(desk, b"")
    assert answer.status_code == 400
    assert answer.json() == {"why": "firing.csv is empty. Export the log again."}


def test_no_more_come_in_at_once_than_memory_is_for(desk, monkeypatch):
    monkeypatch.setattr("pourwell.web.log_intake.MOST_COMING", 0)
    assert put(desk, b"Time,Kiln").status_code == 429


def test_a_page_that_is_closed_in_the_middle_of_a_log_is_no_fault(desk):
    app = FastAPI()
    app.include_router(logs(desk))
    leave(app, "/incoming/log", headers=FROM_US)


def test_a_picture_is_loaded_down_under_our_name_and_never_shown_as_a_page(desk):
    log = desk.measuring.take_in(b"Time,Kiln", "firing.csv")
    log.told = ToldLog(number=7, wish={}, data={}, files={"log-against-model.svg": b"<svg/>"})
    answer = get(desk, picture_link(log, "log-against-model.svg"))
    assert answer.content == b"<svg/>"
    assert answer.headers["content-type"] == "image/svg+xml"
    assert answer.headers["content-disposition"] == 'attachment; filename="log-against-model.svg"'
    assert answer.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    "path", ["/log/{key}/7/other.svg", "/log/{key}/6/log-against-model.svg", "/log/no/7/log-against-model.svg"]
)
def test_nothing_else_can_be_had(desk, path):
    log = desk.measuring.take_in(b"Time,Kiln", "firing.csv")
    assert get(desk, path.format(key=log.key)).status_code == 404
    log.told = ToldLog(number=7, wish={}, data={}, files={"log-against-model.svg": b"<svg/>"})
    assert get(desk, path.format(key=log.key)).status_code == 404


def test_a_log_that_was_refused_leaves_room_for_the_next_ones(desk):
    app = FastAPI()
    app.include_router(logs(desk, limit_bytes=20))
    for _ in range(5):
        assert ask(app, "PUT", "/incoming/log", params={"name": "a.csv"}, content=b"x" * 50, headers=FROM_US).status_code == 413
        leave(app, "/incoming/log", headers=FROM_US)
    assert ask(app, "PUT", "/incoming/log", params={"name": "a.csv"}, content=b"Time,Kiln", headers=FROM_US).status_code == 200


@pytest.mark.parametrize("length", ["-1", "many", "9" * 30])
def test_a_length_that_is_no_length_is_not_believed(desk, length):
    answer = put(desk, b"Time,Kiln", headers={**FROM_US, "content-length": length})
    assert answer.status_code == (413 if length.isdigit() else 200)


def test_the_same_log_of_two_windows_is_held_once_and_another_name_is_another_log(desk):
    keys = [put(desk, b"Time,Kiln", name=name).json()["log"] for name in ("a.csv", "a.csv", "b.csv")]
    assert keys[0] == keys[1] != keys[2]
    assert len(desk.measuring.held) == 2


def test_a_picture_of_an_answer_that_was_replaced_is_not_given_out_for_the_new_one(desk):
    log = desk.measuring.take_in(b"Time,Kiln", "firing.csv")
    log.told = ToldLog(number=7, wish={}, data={}, files={"log-against-model.svg": b"<svg/>"})
    before = picture_link(log, "log-against-model.svg")
    log.told = ToldLog(number=8, wish={}, data={}, files={"log-against-model.svg": b"<svg id='new'/>"})
    assert get(desk, before).status_code == 404
    assert get(desk, picture_link(log, "log-against-model.svg")).content == b"<svg id='new'/>"


@pytest.mark.parametrize("number", ["x", "7.5", "-7"])
def test_a_number_that_is_none_gets_nothing(desk, number):
    log = desk.measuring.take_in(b"Time,Kiln", "firing.csv")
    log.told = ToldLog(number=7, wish={}, data={}, files={"log-against-model.svg": b"<svg/>"})
    assert get(desk, f"/log/{log.key}/{number}/log-against-model.svg").status_code in (404, 422)
