"""Real pattern files by other people, which are not part of this project: what becomes of each.

They are looked for in the folder that POURWELL_REAL_MESHES names, else in `../shared/meshes` beside the checkout.
"""

import os
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from pourwell.errors import BadFileError
from pourwell.files.patterns import read_pattern
from pourwell.files.worker import read_safely
from pourwell.findings import Severity
from pourwell.geometry.solidity import faults
from tests.rules.source import ROOT
from tests.unit.pattern.case import library, measured

FOLDER = Path(os.environ.get("POURWELL_REAL_MESHES") or ROOT.parent / "shared" / "meshes")
pytestmark = pytest.mark.skipif(not FOLDER.is_dir(), reason="the folder of real meshes is not here")


@cache
def checked(name, units=None):
    """The pattern of a file, and the codes of its findings by severity."""
    file = read_pattern(FOLDER / name, units=units)
    pattern, found = measured(
        *file.bodies, units=file.units, units_from=file.units_from, own_units=file.own_units, remarks=file.remarks
    )
    return pattern, {severity: {c for c, f in found.items() if f.severity is severity} for severity in Severity}, found


def stops(name, units=None):
    return checked(name, units)[1][Severity.STOP]


def test_a_ring_whose_winding_is_inconsistent_is_never_weighed_in_silence():
    pattern, _, found = checked("bartmassey_ring_prong.stl")
    assert stops("bartmassey_ring_prong.stl") == {"pattern-unsound"}
    assert "87 edges" in found["pattern-unsound"].measure
    assert pattern.piece.volume_mm3 == pytest.approx(179, abs=4), "the stand-in lies near what engines disagree about"
    assert pattern.piece.bore.diameter_mm == pytest.approx(20.7, abs=0.1)
    assert "3 places where triangles disagree" in found["pattern-unsound"].says
    assert "near x -2.2, y -10.3, z -1.8" in found["pattern-unsound"].where, "along the bore"
    assert "`pourwell mend ring.stl`: it turns 29 triangles" in found["pattern-unsound"].do


def test_a_torus_that_says_millimetres_is_read_whole():
    pattern, by_severity, _ = checked("3mf_torus.3mf")
    assert not any(by_severity.values())
    assert pattern.piece.units == "mm"
    assert pattern.piece.volume_mm3 == pytest.approx(776.831, abs=0.001)
    assert pattern.piece.bore.diameter_mm == pytest.approx(16, rel=0.005)
    assert pattern.piece.wall.thickest_mm == pytest.approx(4, rel=0.02)


def test_forty_links_in_one_mesh_are_told_apart_and_stopped():
    pattern, _, found = checked("3mf_dodeca_chain_loop.3mf")
    assert stops("3mf_dodeca_chain_loop.3mf") == {"units-doubtful", "pattern-apart"}
    assert found["pattern-apart"].measure == "40 solids"
    assert len(pattern.piece.bodies) == 40
    assert pattern.piece.volume_mm3 == pytest.approx(32583.9, abs=0.1)
    assert stops("3mf_dodeca_chain_loop.3mf", "mm") == {"pattern-apart"}, "the user's word settles the unit"


def test_seventeen_gears_with_transforms_are_placed():
    pattern, _, _ = checked("3mf_cube_gears.3mf")
    assert len(pattern.piece.bodies) == 17
    assert pattern.piece.envelope_mm == pytest.approx((168, 125.1, 33.6), abs=0.1)
    assert "pattern-apart" in stops("3mf_cube_gears.3mf")


def test_a_small_organic_part_is_sound():
    pattern, by_severity, _ = checked("trimesh_busted.STL")
    assert not by_severity[Severity.STOP]
    assert not by_severity[Severity.WARN]
    assert pattern.piece.volume_mm3 == pytest.approx(526.449, abs=0.001)
    assert pattern.piece.bore is None


def test_one_part_in_inches_is_the_same_from_both_files_once_the_unit_is_said():
    stl, _, _ = checked("trimesh_featuretype.STL", "inch")
    threemf, _, _ = checked("trimesh_featuretype.3MF")
    assert threemf.piece.units == "inch"
    assert stl.piece.envelope_mm == pytest.approx(threemf.piece.envelope_mm, rel=1e-4)
    assert stl.piece.volume_mm3 == pytest.approx(11.6277 * 25.4**3, rel=1e-4)
    assert threemf.piece.volume_mm3 == pytest.approx(stl.piece.volume_mm3, rel=0.01), "the stand-in of the open one is near"
    assert stops("trimesh_featuretype.3MF") == {"pattern-unsound", "units-doubtful"}


def test_an_inch_part_without_a_unit_passes_as_five_millimetres_for_nothing_says_otherwise():
    pattern, by_severity, _ = checked("trimesh_featuretype.STL")
    assert pattern.piece.envelope_mm == pytest.approx((5, 2.5, 1.375))
    assert not by_severity[Severity.STOP]


def test_two_named_solids_keep_their_names():
    pattern, _, found = checked("trimesh_multibody.stl")
    assert {body.name for body in pattern.piece.bodies} == {"bodyB", "bodyA"}
    assert stops("trimesh_multibody.stl") == {"pattern-unsound", "units-doubtful"}
    assert "cm would make it" in found["units-doubtful"].do


def test_loose_triangles_are_stopped_with_their_hull_for_a_stand_in():
    _, _, found = checked("trimesh_soup.stl")
    assert stops("trimesh_soup.stl") == {"pattern-unsound", "units-doubtful"}
    assert "skin stretched tight" in found["pattern-unsound"].says


def test_a_knot_with_seams_left_open_is_welded_whole():
    pattern, by_severity, found = checked("trimesh_quadknot.obj")
    assert by_severity[Severity.STOP] == {"units-doubtful"}
    assert len(pattern.piece.bodies) == 1
    assert "No other unit" in found["units-doubtful"].do
    assert pattern.piece.bore is None, "a cylinder between its strands is no finger bore"


def test_a_closed_surface_that_crosses_itself_is_stopped():
    _, _, found = checked("manifold_self_intersectA.obj")
    assert stops("manifold_self_intersectA.obj") == {"units-doubtful", "pattern-crosses-itself"}
    assert "weighed twice" in found["pattern-crosses-itself"].says
    assert "near x 0.1, y 0.4, z 0.6" in found["pattern-crosses-itself"].where


def test_a_plate_with_edges_of_four_triangles_is_stopped():
    pattern, _, found = checked("manifold_openscad-nonmanifold-crash.obj")
    assert stops("manifold_openscad-nonmanifold-crash.obj") == {"pattern-unsound"}
    assert "18 edges of more than two triangles" in found["pattern-unsound"].measure
    assert pattern.piece.volume_mm3 < 468


def test_a_ring_of_sixty_centimetres_is_not_believed():
    """A solitaire whose file says metres: 0.607 x 0.742 x 0.289 of them, open, with its stone as a body."""
    pattern, _, found = checked("ccby_ring/scene.gltf")
    assert {"units-doubtful", "pattern-unsound"} <= stops("ccby_ring/scene.gltf")
    assert "as the file says (m)" in found["units-doubtful"].says
    assert "No unit fits" in found["units-doubtful"].do, "in cm its bore is that of a bail, in inches no finger goes through"
    assert pattern.piece.doubt == "unit"
    assert sorted(pattern.piece.envelope_mm) == pytest.approx([289, 607, 742], abs=1)
    file = read_pattern(FOLDER / "ccby_ring/scene.gltf")
    assert file.triangle_count == 105_003
    assert [body.name for body in file.bodies] == ["Object_3", "Object_4", "Object_5"]


def test_the_same_part_comes_out_of_its_step_file():
    pytest.importorskip("cascadio", reason="the add-on that reads STEP is not here")
    file = read_safely(FOLDER / "trimesh_featuretype.STEP")
    assert (file.own_units, file.units_from) == ("inch", "file")
    stl = read_pattern(FOLDER / "trimesh_featuretype.STL", units="inch").bodies[0].mesh
    (body,) = file.bodies
    assert np.allclose(body.mesh.bounds, stl.bounds, atol=0.01)
    assert faults(body.mesh).sound
    assert body.mesh.volume_mm3 == pytest.approx(stl.volume_mm3, rel=5e-4), "the STL was cut coarser"


@pytest.mark.parametrize("name", ["bartmassey_ring_prong.stl", "3mf_torus.3mf", "ccby_ring/scene.gltf", "trimesh_quadknot.obj"])
def test_a_process_of_its_own_reads_the_same(name):
    one, other = read_pattern(FOLDER / name), read_safely(FOLDER / name)
    assert (one.units, one.triangle_count, one.remarks) == (other.units, other.triangle_count, other.remarks)
    assert all(np.array_equal(a.mesh.corners, b.mesh.corners) for a, b in zip(one.bodies, other.bodies, strict=True))


@pytest.mark.parametrize(("name", "words"), [("MANIFEST.md", "no pattern file"), ("ccby_ring", "folder")])
def test_other_files_are_refused_in_a_sentence(name, words):
    with pytest.raises(BadFileError) as caught:
        read_safely(FOLDER / name)
    assert words in str(caught.value)


@pytest.mark.parametrize("alloy", ["sterling-925", "gold-750-yellow-3n", "bronze-silicon-873"])
def test_a_sound_file_is_weighed_in_any_alloy(alloy):
    file = read_pattern(FOLDER / "trimesh_busted.STL")
    piece = measured(*file.bodies, alloy=alloy)[0].piece
    assert piece.metal_g == pytest.approx(0.526449 * library().alloy(alloy).density_g_per_cm3.value, rel=1e-5)
