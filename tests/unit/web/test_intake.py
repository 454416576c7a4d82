"""Files that come in: whole, no longer than may be, under no name of their own."""

from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from fastapi import FastAPI

from pourwell.errors import BadFileError
from pourwell.web.intake import LIMIT_BYTES, MARK, MOST_COMING, MOST_WAITING, Gate, intake
from tests.unit.web.asgi import ask, leave

FROM_US = {MARK: "1"}


@dataclass
class FakeDesk:
    """Takes files in, and remembers them."""

    folder: Path
    taken: list[tuple[str, bytes]] = field(default_factory=list)
    crew: Any = field(default_factory=lambda: SimpleNamespace(jobs=[]))

    def take_in(self, path, file):
        content = path.read_bytes()
        if not content:
            raise BadFileError(f"{file} is empty.", try_this="Export it again.")
        self.taken.append((file, content))
        return SimpleNamespace(id=len(self.taken), name=file)


@pytest.fixture
def desk(tmp_path):
    return FakeDesk(tmp_path)


def put(desk, content, name="band.stl", headers=FROM_US, **how):
    app = FastAPI()
    app.include_router(intake(desk, **how))
    return ask(app, "PUT", "/incoming/pattern", params={"name": name}, content=content, headers=headers)


def test_a_file_comes_in_whole(desk):
    answer = put(desk, b"solid" * 1000)
    assert answer.status_code == 200
    assert answer.json() == {"pattern": 1, "name": "band.stl"}
    assert desk.taken == [("band.stl", b"solid" * 1000)]


def test_nothing_is_left_behind(desk):
    put(desk, b"solid")
    put(desk, b"x" * 100, limit_bytes=10)
    assert list(desk.folder.iterdir()) == []


def test_a_form_of_another_page_is_refused(desk):
    answer = put(desk, b"solid", headers={})
    assert answer.status_code == 403
    assert desk.taken == []


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("../../studio.toml", "studio.toml"),
        ("/etc/passwd", "etc_passwd"),
        ("C:\\rings\\a.stl", "C_rings_a.stl"),
        ("<img src=x onerror=alert(1)>.stl", "img src=x onerror=alert(1).stl"),
        ("\x00\n.stl", "pattern.stl"),
        ("...", "pattern."),
    ],
)
def test_no_name_leads_anywhere(desk, sent, kept):
    assert put(desk, b"solid", name=sent).status_code == 200
    name = desk.taken[0][0]
    assert not set(name) & set("/\\:<>\x00\n")
    assert name == kept


def test_a_file_that_says_it_is_too_long_is_refused_before_it_comes(desk):
    answer = put(desk, b"x", name="a.stl", headers={**FROM_US, "content-length": "300000000"})
    assert answer.status_code == 413
    assert "300 MB, and the limit is 256 MB" in answer.json()["why"]


def test_a_file_that_does_not_say_how_long_it_is_is_cut_off(desk):
    async def without_end():
        for _ in range(1000):
            yield b"x" * 1000

    answer = put(desk, without_end(), limit_bytes=50_000)
    assert answer.status_code == 413
    assert desk.taken == []


def test_what_the_desk_refuses_is_said_in_a_sentence(desk):
    answer = put(desk, b"")
    assert answer.status_code == 400
    assert answer.json() == {"why": "band.stl is empty. Export it again."}


def test_no_more_wait_than_anyone_looks_at(desk):
    waiting = SimpleNamespace(about=("pattern", 1), over=SimpleNamespace(is_set=lambda: False))
    desk.crew.jobs = [waiting] * MOST_WAITING
    answer = put(desk, b"solid")
    assert answer.status_code == 429
    assert "waiting already" in answer.json()["why"]


def test_files_that_are_coming_in_are_counted_too(desk, monkeypatch):
    waiting = SimpleNamespace(about=("pattern", 1), over=SimpleNamespace(is_set=lambda: False))
    desk.crew.jobs = [waiting] * (MOST_WAITING - 1)
    assert put(desk, b"solid").status_code == 200
    monkeypatch.setattr(Gate, "inside", property(lambda _: 1, lambda *_: None), raising=False)
    assert put(desk, b"solid").status_code == 429


def test_no_more_come_in_at_once_than_a_gate_lets_through(desk, monkeypatch):
    monkeypatch.setattr("pourwell.web.intake.MOST_COMING", 0)
    answer = put(desk, b"solid")
    assert answer.status_code == 429
    assert "are coming in already" in answer.json()["why"]
    assert desk.taken == []


def test_a_gate_holds_a_place_until_its_end_also_after_a_fault():
    gate = Gate(1)
    with gate.passing() as first, gate.passing() as second:
        assert (first, second, gate.inside) == (True, False, 1)
    with pytest.raises(ValueError, match="broken"), gate.passing():
        raise ValueError("broken")
    assert gate.inside == 0
    assert 1 < MOST_COMING < MOST_WAITING


def test_a_page_that_is_closed_in_the_middle_of_a_file_is_no_fault(desk):
    app = FastAPI()
    app.include_router(intake(desk))
    leave(app, "/incoming/pattern", headers=FROM_US)
    assert desk.taken == []
    assert list(desk.folder.iterdir()) == []


def test_the_limit_takes_the_largest_file_that_the_readers_take():
    assert 84 + 50 * 5_000_000 <= LIMIT_BYTES < 300_000_000
