"""What the journeys share: a caller, a studio folder of their own, sample patterns."""

from pathlib import Path

import pytest

from pourwell.app.shapes import build_shape, mesh_bytes
from tests.journeys.call import Caller


@pytest.fixture
def pourwell(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Caller:
    """The program, in an empty folder, with no studio of the machine's user."""
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("POURWELL_STUDIO", raising=False)
    monkeypatch.chdir(tmp_path)
    return Caller(monkeypatch, capsys)


@pytest.fixture(scope="session")
def shapes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Pattern files of our own shapes."""
    folder = tmp_path_factory.mktemp("shapes")
    wanted = {
        "band.stl": ("plain-band", ["size=ISO 54", "width=4", "thickness=1.8"]),
        "signet.3mf": ("signet", ["size=ISO 58"]),
        "pendant.ply": ("pendant", []),
        "stud.obj": ("stud", []),
    }
    out = {}
    for name, (shape, dimensions) in wanted.items():
        out[name] = folder / name
        out[name].write_bytes(mesh_bytes(build_shape(shape, dimensions), Path(name).suffix))
    return out
