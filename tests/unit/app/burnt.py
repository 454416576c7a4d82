"""A burnout by itself, worked out once for several tests: a table as it stands, two flasks, a controller that takes half of it."""

from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from pourwell.app.burning_page import burn

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)
ASKED = {
    "flasks": ("50x55:540", "64x64:480"), "investment": "gypsum-standard", "pattern": "wax-injection", "own": "gypsum-wax",
    "ready": "2026-11-28T10:00:00+00:00",
}  # fmt: skip


@cache
def burnt() -> dict[str, Any]:
    """The answer, of a studio whose controller takes two segments."""
    with TemporaryDirectory() as name:
        (Path(name) / "studio.toml").write_text("[kiln]\nsegments_count = 2\n", encoding="utf-8")
        return burn(Path(name), ASKED, NOW, tell=lambda _: None)
