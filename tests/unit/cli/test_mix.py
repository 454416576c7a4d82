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


def test_who_wins_is_said_before_the_figures_and_for_phosphate_whose_the_liquid_is(pourwell: Caller) -> None:
    gypsum, phosphate = pourwell("mix", "76x100").out, pourwell("mix", "76x100", "--investment", "phosphate").out
    assert gypsum.index("refiner's sheet win over") < gypsum.index("powder")
    assert "Phosphate-bonded" not in gypsum
    assert phosphate.index("liquid and ratio are its maker's") < phosphate.index("powder  ")
    weighed = pourwell("weigh", "14.3", "--alloy", "sterling-925").out
    assert weighed.index("refiner's sheet win over") < weighed.index("charge")
    assert "its share of wax is unknown" in weighed
    assert "is unknown" not in pourwell("weigh", "14.3", "--wax", "4", "--alloy", "sterling-925").out
