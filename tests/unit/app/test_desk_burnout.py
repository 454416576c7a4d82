"""The form of a burnout by itself: what it asks, what it refuses beside which field, and what is held of its answers."""

from datetime import UTC, datetime

import pytest

from pourwell.app.desk import Desk
from pourwell.app.desk_burnout import MOST, burnout_of_form, rows_of
from tests.unit.app.fake_crew import FakeCrew

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)
ONE = {"flask1": "76x102", "level1": "540", "count1": "1"}


def asked(**form):
    return burnout_of_form(ONE | form, now=NOW, zone=UTC)


def test_a_form_becomes_the_words_of_the_command():
    words, faults = asked(
        flask3="50x55", level3="900 °F", count3="2", investment="gypsum-resin", pattern="resin", stones="yes", own="", shorter="",
        on_day="2026-11-27", on_hour="18", pour_day="2026-11-28", pour_hour="10:00",
    )  # fmt: skip
    assert not faults
    assert words == {
        "flasks": ("76x102:540", "50x55:482.222", "50x55:482.222"),
        "investment": "gypsum-resin",
        "pattern": "resin",
        "stones": True,
        "start": "2026-11-27T18:00:00+00:00",
        "ready": "2026-11-28T10:00:00+00:00",
    }


@pytest.mark.parametrize(
    ("form", "field", "says"),
    [
        ({"level1": ""}, "level1", "Enter the temperature of the flask at the pour."),
        ({"level1": "1500"}, "level1", "is above what can be"),
        ({"level1": "warm"}, "level1", "is no number"),
        ({"count1": "0"}, "count1", "is below what can be"),
        ({"count1": "2.5"}, "count1", "is no whole number"),
        ({"on_day": "2026-11-27"}, "on_hour", "The day needs an hour"),
        ({"pour_hour": "8:00"}, "pour_hour", "is over"),
        ({"on_hour": "18:00", "pour_hour": "17:00"}, "pour_hour", "lies before the kiln goes on"),
    ],
)
def test_what_cannot_be_is_told_beside_its_field(form, field, says):
    _, faults = asked(**form)
    assert list(faults) == [field]
    assert says in faults[field]


def test_no_more_rows_are_read_than_a_form_has():
    assert rows_of({f"flask{k}": "50x55" for k in (1, 3, 8, 9, 40)}) == [1, 3, 8]


@pytest.fixture
def desk(tmp_path):
    made = Desk(tmp_path / "studio", lambda: NOW, crew=FakeCrew())
    yield made
    made.close()


def test_the_same_is_not_begun_twice_and_its_answer_is_held_until_a_file_changes(desk):
    words, _ = asked()
    job = desk.burnouts.ask(words)
    assert desk.burnouts.ask(dict(words)) is job
    desk.crew.do({"told": {}})
    assert desk.burnouts.held(words) is job
    assert desk.burnouts.ask(words) is not job, "what is done may be asked anew"
    (desk.folder / "studio.toml").write_text('name = "Quillmere"\n', encoding="utf-8")
    assert desk.burnouts.held(words) is None


def test_only_the_last_answers_are_held(desk):
    words = [asked(level1=str(500 + k))[0] for k in range(MOST + 1)]
    for one in words:
        desk.burnouts.ask(one)
    assert [desk.burnouts.held(one) is not None for one in words] == [False] + [True] * MOST
