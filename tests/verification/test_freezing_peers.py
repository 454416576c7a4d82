"""The benchmark against other codes: its own parts, and the other codes' answers to the lone ring as frozen numbers."""

import json
import sys
from itertools import islice, pairwise

import numpy as np
import pytest

from benchmarks import peers
from pourwell.physics.mesh import METAL
from pourwell.physics.properties import inert, ranged
from pourwell.units import k_from_c
from tests.verification.freezing_cases import RANGED, STERLING
from tests.verification.freezing_truths import REFERENCE_S

FIPY_S = 6.440
"""FiPy 4.0.3 on cubes of 1 mm, steps of 0.06 t, backward Euler."""
SECTION_S = 6.155
"""scikit-fem 12.0.2 on the cross-section, steps of 0.015 t."""


@pytest.fixture(scope="module")
def metal():
    return peers.cubes(1e-3)


def test_this_solver_gives_what_fipy_gives_on_the_same_cubes(metal):
    """Code to code on one grid with two-point fluxes: 1 %, of which backward Euler's steps are most."""
    mean, unknowns, *_ = peers.ours(lambda: peers.even(metal), 0.06)
    assert unknowns == 64_000
    assert mean == pytest.approx(FIPY_S, rel=0.01), f"observed {mean:.3f} s"


def test_the_elements_of_another_code_come_to_the_reference():
    """Frozen number of a code that is not ours against the reference of a third: 0.5 %."""
    assert pytest.approx(REFERENCE_S, rel=5e-3) == SECTION_S
    assert peers.REFERENCE_S == REFERENCE_S


def test_the_even_cubes_are_a_closed_block_with_the_ring_in_it(metal):
    mesh = peers.even(metal)
    assert mesh.volume.sum() == pytest.approx(0.04**3)
    assert mesh.first.size == 3 * 39 * 40 * 40
    assert mesh.outer_cell.size == 0
    assert np.count_nonzero(mesh.kind == METAL) == metal.sum()
    ring = np.pi * (10.5**2 - 8.5**2) * 3
    assert metal.sum() == pytest.approx(ring, rel=0.05)
    steps = np.abs(mesh.centre[mesh.first] - mesh.centre[mesh.second])
    assert np.allclose(steps.max(axis=1), 1e-3)
    assert np.allclose(steps.sum(axis=1), 1e-3)


def test_the_peers_metal_is_ours():
    """The curve that the peers get, written without this program, against that of the solver's substance."""
    celsius = np.array([500.0, 801.0, 830.0, 870.0, 892.0, 950.0])
    heat, slope, conductivity = peers.melt(celsius)
    own = ranged(STERLING, solidus=k_from_c(peers.SOLID), liquidus=k_from_c(peers.LIQUID)).heat_at(k_from_c(celsius))
    assert np.diff(heat) == pytest.approx(np.diff(own), rel=1e-9)
    ahead = (peers.melt(celsius + 1e-3)[0] - heat) / 1e-3
    assert slope == pytest.approx(ahead, rel=1e-6)
    assert conductivity == pytest.approx(np.interp(celsius, [802, 893], [300, 170]))
    assert k_from_c(peers.SOLID) == pytest.approx(RANGED.solidus)
    mould = inert(density=1150, heat_capacity=1050, conductivity=0.5)
    assert mould.heat_at(2.0) - mould.heat_at(1.0) == pytest.approx(peers.MOULD_HEAT)


def test_the_peers_take_our_steps():
    taken = list(islice(peers.steps(0.06), 40))
    assert taken[0] == (0.05, 0.05)
    assert all(length == pytest.approx(max(0.05, 0.06 * before[0])) for before, (_, length) in pairwise(taken))
    assert all(now == pytest.approx(before[0] + length) for before, (now, length) in pairwise(taken))


def test_a_passing_is_noted_once_and_straight_within_its_step():
    end = np.array([np.nan, np.nan, 1.0])
    before, after = np.array([812.0, 820.0, 700.0]), np.array([792.0, 810.0, 690.0])
    assert peers.passing(end, before=before, after=after, span=(2.0, 0.4))
    assert end[0] == pytest.approx(2.2)
    assert np.isnan(end[1])
    assert end[2] == 1.0
    assert not peers.passing(end, before=after, after=np.full(3, 700.0), span=(2.4, 0.4))


def test_edges_of_the_cross_section_rise_from_end_to_end():
    edges = peers.graded((8.5e-3, 10.5e-3), (0, 34e-3), 0.1e-3)
    assert (edges[0], edges[-1]) == (0, 34e-3)
    assert np.all(np.diff(edges) > 0)
    inside = edges[(edges > 8.4999e-3) & (edges < 10.5001e-3)]
    assert inside.size == 21
    assert np.diff(edges)[np.searchsorted(edges, 10.4999e-3)] == pytest.approx(0.01e-3)


def test_a_line_of_the_table_says_how_far_it_is_from_the_reference():
    line = peers.row("some code", "even 1 mm", (6.132 * 1.05, 64000, 53, 157, 9.876, 9.5))
    assert line == "| some code | even 1 mm | 64,000 | 53 / 157 | 9.88 s | 9.50 s | 6.439 s | +5.0 % |"


def test_a_peer_that_fails_is_no_result(tmp_path):
    """The child must say what it computed; a Python without the peers says that it has none."""
    with pytest.raises(RuntimeError, match="fipy exits with"):
        peers.elsewhere("fipy", python=sys.executable, metal=np.zeros((2, 2, 2), dtype=bool), growth=0.06)
    fake = tmp_path / "fake.py"
    fake.write_text("#!" + sys.executable + "\nimport json\nprint('noise')\nprint(json.dumps([6.1, 8, 1, 2, 0.5, 0.4]))\n")
    fake.chmod(0o755)
    assert peers.elsewhere("fipy", python=fake, metal=np.zeros((2, 2, 2), dtype=bool), growth=0.06) == json.loads(
        "[6.1,8,1,2,0.5,0.4]"
    )
