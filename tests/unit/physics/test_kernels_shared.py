"""Loops shared among threads: two processes that test side by side have a thread each, so a third tries them with two."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
LOOPS = [f"tests/unit/physics/test_kernels{part}.py" for part in ("", "_state", "_cells")]
MARCH = "tests/verification/test_freezing_orders.py::test_a_hotter_flask_freezes_slower"
APART = "test_several_threads_may_march_at_once"
"""It begins a process of its own already."""


def test_every_loop_and_a_march_through_a_tree_hold_with_two_threads():
    env = {key: value for key, value in os.environ.items() if not key.startswith("PYTEST_")}
    words = ["-q", "-p", "no:xdist", "-p", "no:cacheprovider", "-k", f"not {APART}", *LOOPS, MARCH]
    run = subprocess.run(
        [sys.executable, "-m", "pytest", *words],
        cwd=ROOT,
        env={**env, "NUMBA_NUM_THREADS": "2"},
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    assert run.returncode == 0, run.stdout[-4000:] + run.stderr[-2000:]
