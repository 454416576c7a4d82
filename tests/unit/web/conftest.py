"""A desk with nobody to work for it, a pattern and a run."""

import pytest

from pourwell.app.desk import Desk
from tests.unit.app.fake_crew import FakeCrew
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
