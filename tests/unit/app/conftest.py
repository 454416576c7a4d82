"""What the tests of the use cases share: no studio of the machine's user, and a folder to write one."""

from collections.abc import Callable
from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def alone(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No studio anywhere, and an empty folder to work in."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("POURWELL_STUDIO", raising=False)
    (tmp_path / "work").mkdir()
    monkeypatch.chdir(tmp_path / "work")


@pytest.fixture
def studio(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[..., Path]:
    """Write the files of a studio's folder, which then is the studio."""

    def write(files: dict[str, str]) -> Path:
        folder = tmp_path / "studio"
        for name, text in files.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text, encoding="utf-8")
        monkeypatch.setenv("POURWELL_STUDIO", str(folder))
        return folder

    return write
