"""Files that come in: whole, no longer than may be, under no name of their own."""

from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from fastapi import FastAPI

from pourwell.errors import BadFileError
from pourwell.web.intake import LIMIT_BYTES, MARK, MOST_WAITING, intake
from tests.unit.web.asgi import ask

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


def test_the_limit_takes_the_largest_file_that_the_readers_take():
    assert 84 + 50 * 5_000_000 <= LIMIT_BYTES < 300_000_000
