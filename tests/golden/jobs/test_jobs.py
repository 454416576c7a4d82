"""Whole jobs from their files to plans, kept as text that a jeweller can read (convention C20).

`pytest tests/golden --update-golden` (or UPDATE_GOLDEN=1) writes the texts anew; the change is read, never rubber-stamped.
"""

import difflib
import os
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pourwell.app.planning import plan_job
from pourwell.app.shop import open_shop
from pourwell.files.job_toml import read_job
from pourwell.plan import Plan
from tests.golden.jobs.patterns import put_pattern
from tests.golden.jobs.words import told

HERE = Path(__file__).parent
NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
JOBS = sorted(path.parent.name for path in HERE.glob("*/job.toml"))


def planned(name: str, folder: Path) -> tuple[Plan, ...]:
    """The plans of a job, read from a folder as a user has it: studio and job file, patterns beside it."""
    for file in ("studio.toml", "job.toml"):
        shutil.copy(HERE / name / file, folder / file)
    shop = open_shop(folder)
    request = read_job(folder / "job.toml", zone=shop.studio.zone)
    for path in {piece.file for piece in request.pieces}:
        put_pattern(path)
    return plan_job(request, shop=shop, now=NOW)


@pytest.mark.parametrize("name", JOBS)
def test_the_plan_is_the_one_that_was_approved(name: str, tmp_path: Path, request: pytest.FixtureRequest) -> None:
    kept, now = HERE / name / "plan.txt", told(planned(name, tmp_path))
    if request.config.getoption("--update-golden") or os.environ.get("UPDATE_GOLDEN"):
        kept.write_text(now, encoding="utf-8", newline="\n")
    assert kept.is_file(), f"{name} has no plan.txt yet; write it with --update-golden and read it"
    before = kept.read_text(encoding="utf-8")
    change = "\n".join(difflib.unified_diff(before.splitlines(), now.splitlines(), "approved", "now", lineterm="", n=2))
    assert not change, f"{change}\n\nIf this is meant: pytest tests/golden --update-golden, and read the difference."
