"""The benchmarks' own parts: rings of a known volume, budgets that bite, commands that may not fail unseen."""

import math
import sys
import tomllib

import numpy as np
import pytest

from benchmarks import pieces, run
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.solidity import bodies, faults

BUDGETS = tomllib.loads((run.HERE / "budgets.toml").read_text(encoding="utf-8"))


def result(**changes):
    given = dict(name="x", about="", seconds=(1.0, 3.0, 2.0), peak_mb=100.0, over_s=0.0, median_limit_s=None, peak_limit_mb=None)
    return run.Result(**(given | changes))


@pytest.mark.parametrize(("around", "across"), [(125, 80), (250, 200)])
def test_a_ring_has_its_triangles_and_nearly_the_volume_of_its_torus(around, across):
    """Pappus: section times the way of its centroid; a chord polygon of n sides lies under the circle by about 2/3 (pi/n)^2."""
    corners = pieces.ring(bore_mm=17.3, width_mm=4.0, wall_mm=2.0, around=around, across=across)
    mesh = Mesh(corners.reshape(-1, 3), np.arange(3 * len(corners)))
    torus_mm3 = math.pi / 4 * 4.0 * 2.0 * math.pi * (17.3 + 2.0)
    missing = 1 - mesh.volume_mm3 / torus_mm3
    assert len(corners) == 2 * around * across
    assert 0 < missing < 1.05 * (2 / 3) * ((math.pi / around) ** 2 + (math.pi / across) ** 2), f"observed {missing}"


def test_a_bead_is_a_closed_ball_and_a_paved_ring_is_as_many_bodies():
    """A ball's polyhedron of n sides and m rows holds less than the ball: the missing share falls as 1/n^2 and 1/m^2."""
    corners = pieces.bead(at=np.array([3.0, 0, 0]), radius_mm=0.5)
    mesh = Mesh(corners.reshape(-1, 3), np.arange(3 * len(corners)))
    assert faults(mesh).sound
    assert 0.75 < mesh.volume_mm3 / (4 / 3 * math.pi * 0.5**3) < 1
    paved = pieces.paved(6)
    assert len(bodies(Mesh(paved.reshape(-1, 3), np.arange(3 * len(paved))))) == 7


def test_a_torn_ring_lacks_triangles_and_has_some_turned():
    whole = pieces.ring(bore_mm=17, width_mm=3, wall_mm=2, around=40, across=20)
    told = faults(Mesh(pieces.torn(whole, lost=5, turned=3).reshape(-1, 3), np.arange(3 * (len(whole) - 5))))
    assert told.triangle_count == len(whole) - 5
    assert told.open_edge_count > 0
    assert told.inconsistent_edge_count > 0


def test_a_ring_is_written_as_a_binary_stl_file_that_says_its_length(tmp_path):
    path = pieces.write_stl(tmp_path / "ring.stl", pieces.ring(bore_mm=17, width_mm=3, wall_mm=2, around=12, across=8))
    written = path.read_bytes()
    assert int.from_bytes(written[80:84], "little") == 192
    assert len(written) == 84 + 50 * 192


def test_every_benchmark_has_a_budget_and_every_budget_a_benchmark():
    assert set(BUDGETS) == set(run.BENCHMARKS)
    assert all("median_s" in budget for name, budget in BUDGETS.items() if name != "empty-typer")


def test_what_a_benchmark_is_measured_over_is_a_benchmark():
    assert {budget["over"] for budget in BUDGETS.values() if "over" in budget} <= set(run.BENCHMARKS)


def test_a_benchmark_measured_over_itself_takes_about_nothing():
    empty = run.measure("empty-typer", {"about": "twice the same", "over": "empty-typer", "runs_count": 3})
    assert len(empty.seconds) == 3
    assert abs(empty.median_s) < max(empty.seconds)


@pytest.mark.parametrize(
    ("limits", "kept"),
    [
        ({}, True),
        ({"median_limit_s": 2.0, "peak_limit_mb": 100.0}, True),
        ({"median_limit_s": 1.9}, False),
        ({"median_limit_s": 1.9, "over_s": 0.2}, True),
        ({"peak_limit_mb": 99.0}, False),
    ],
)
def test_a_budget_is_kept_or_not(limits, kept):
    assert result(**limits).kept is kept


def test_a_result_over_its_budget_is_seen_in_the_table():
    said = run.table([result(about="slow", median_limit_s=1.0), result(about="fast", median_limit_s=9.0)])
    assert "| slow | 2.00 s | 1 s | 100 MB |  | NO |" in said
    assert "| fast | 2.00 s | 9 s | 100 MB |  | yes |" in said


def test_a_command_is_timed_with_its_memory():
    seconds, peak_mb = run.timed([sys.executable, "-c", "x = bytearray(50_000_000)"])
    assert seconds > 0
    assert peak_mb > 50 or peak_mb == 0


def test_what_a_command_says_itself_it_measured_is_taken():
    said = "print('measured 9 s, 9 MB'); print('settled'); print('measured 0.0421 s, 131 MB')"
    assert run.timed([sys.executable, "-c", said]) == (0.0421, 131.0)


def test_every_measure_of_the_desk_is_a_benchmark():
    from benchmarks.desk import WHAT

    assert {f"desk-{what}" for what in WHAT} == {name for name in run.BENCHMARKS if name.startswith("desk-")}
    assert run.BENCHMARKS["desk-drop"](run.HERE)[-1] == "drop"


def test_a_command_that_fails_is_no_measurement():
    with pytest.raises(RuntimeError, match=r"exits with 3: no metal"):
        run.timed([sys.executable, "-c", "print('no metal'); raise SystemExit(3)"])
