"""`pourwell mix`: what stands before the clock."""

from pathlib import Path

import pytest

from tests.journeys.call import Caller


def test_without_a_pump_the_tree_is_dipped_and_dried_before_the_clock(
    pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "wetting agent" not in pourwell("mix", "76x100").out
    (tmp_path / "bench").mkdir()
    (tmp_path / "bench" / "studio.toml").write_text("[investing_vacuum]\nbowl = false\nflask = false\n", encoding="utf-8")
    monkeypatch.setenv("POURWELL_STUDIO", str(tmp_path / "bench"))
    told = pourwell("mix", "76x100").out
    assert "15 min" in told
    assert told.index("Dip the tree in wetting agent") < told.index("0:00")
