"""What the tests of the command line share: the program in an empty folder, with no studio of the machine's user."""

from pathlib import Path

import pytest

from tests.journeys.call import Caller


@pytest.fixture
def pourwell(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Caller:
    """The program, in an empty folder."""
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("POURWELL_STUDIO", raising=False)
    (tmp_path / "work").mkdir()
    monkeypatch.chdir(tmp_path / "work")
    return Caller(monkeypatch, capsys)
