"""A desk with nobody to work for it, a pattern and a run."""

from urllib.parse import parse_qs, urlparse

import pytest
from nicegui import Client

from pourwell.app.desk import Desk
from tests.unit.app.fake_crew import FakeCrew
from tests.unit.web.built import note_addresses
from tests.unit.web.samples import NOW, checked


@pytest.fixture
def still_desk(tmp_path):
    made = Desk(tmp_path / "studio", lambda: NOW, crew=FakeCrew())
    yield made
    made.close()


@pytest.fixture
def band(still_desk):
    pattern, _ = still_desk.store.add_pattern(b"solid", file="band.stl", name="<i>Heddle</i> band", now=NOW)
    still_desk.store.add_result(
        pattern_id=pattern.id, asked={}, data=checked(), files={"picture.png": b"PNG", "view.bin": b""}, now=NOW
    )
    return pattern


@pytest.fixture
def run(still_desk, band):
    return still_desk.new_run(pieces=[(band.id, 3)])


@pytest.fixture
def address(monkeypatch):
    """What the page wrote into its address last, and where it went."""
    said = {"to": ""}
    note_addresses(monkeypatch, lambda path: said.update(said=parse_qs(urlparse(path).query)))
    monkeypatch.setattr(Client, "open", lambda _client, path, *_: said.update(to=path))
    return said


@pytest.fixture
def two(still_desk):
    """Two runs in hand, by weight."""
    return [still_desk.new_run(fields={"weight": weight, "flask": "64x64", "title": "Studs"}) for weight in ("11", "12")]
