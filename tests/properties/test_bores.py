"""Bores do not depend on where a piece lies, how large it is, or which triangles it is made of; fitting hits what it aims at."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.geometry.bore import find_bore
from pourwell.geometry.bore_offset import MOST_SHARE, wall_behind, with_bore_moved
from pourwell.geometry.bore_shape import bore_shape
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.refine import refined
from pourwell.geometry.shapes import Fineness, comfort_band, plain_band
from pourwell.materials.library import load_library
from pourwell.steps.pattern.bore_plan import finished_bore_mm, growths, offset_for, scale_for, shrinkage
from tests.properties.test_pattern_solids import shuffled, turned

SEEDS = st.integers(0, 10_000)
COARSE = Fineness(chord_mm=0.01, longest_mm=2.0)
LIBRARY = load_library()
ALLOYS = st.sampled_from(sorted(LIBRARY.alloys))
MATERIALS = st.sampled_from(sorted(LIBRARY.patterns))


def told(mesh):
    rays = Caster(mesh)
    bore = find_bore(mesh, rays)
    return bore, bore_shape(rays, bore)


@settings(max_examples=12)
@given(SEEDS, SEEDS, st.floats(13, 23), st.floats(2.5, 10), st.booleans())
def test_neither_place_nor_triangles_change_what_is_told(seed, order, bore_mm, width_mm, curved):
    make = comfort_band if curved else plain_band
    mesh = make(bore_mm=bore_mm, width_mm=width_mm, fineness=COARSE)
    one = told(mesh)
    two = told(turned(shuffled(refined(mesh, lambda a, b: np.linalg.norm(a - b, axis=1) > 1.1), order), seed))
    assert abs(two[0].diameter_mm - one[0].diameter_mm) < 3e-3
    assert two[1].profile == one[1].profile
    assert abs(two[1].width_mm - one[1].width_mm) < 0.02
    assert abs(two[1].rise_mm - one[1].rise_mm) < 0.02
    assert two[1].out_of_round_mm < 0.05
    assert two[1].open_deg == two[1].pierced_deg == 0


@settings(max_examples=10)
@given(st.floats(0.3, 5), st.floats(13, 23))
def test_a_larger_piece_has_a_larger_bore_in_proportion(factor, bore_mm):
    mesh = plain_band(bore_mm=bore_mm, fineness=COARSE)
    one, two = told(mesh), told(mesh.scaled(factor))
    assert np.isclose(two[0].diameter_mm, factor * one[0].diameter_mm, rtol=1e-4)
    assert np.isclose(two[1].width_mm, factor * one[1].width_mm, rtol=1e-3)


@settings(max_examples=10)
@given(SEEDS, st.floats(-0.3, MOST_SHARE), st.floats(1.2, 3.0))
def test_an_offset_widens_the_bore_by_twice_itself(seed, share, thickness_mm):
    mesh = turned(plain_band(thickness_mm=thickness_mm, fineness=COARSE), seed)
    bore = find_bore(mesh)
    wall = wall_behind(Caster(mesh), bore)
    moved = with_bore_moved(mesh, bore, by_mm=share * wall, wall_mm=wall)
    assert abs(find_bore(moved).diameter_mm - bore.diameter_mm - 2 * share * wall) < 5e-3
    assert np.sign(moved.volume_mm3 - mesh.volume_mm3) in (0, -np.sign(share)) or abs(share) < 1e-6


@given(ALLOYS, MATERIALS, st.floats(12, 26), st.floats(12, 26))
def test_whatever_is_cast_a_fitted_pattern_finishes_at_its_size(alloy, material, drawn, wanted):
    net = shrinkage(growths(LIBRARY.pattern(material), LIBRARY.alloy(alloy), LIBRARY))
    assert -0.01 < net.high <= net.value <= net.low < 0.06
    scale = scale_for(wanted, drawn, shrinkage=net.value, finishing_mm=0.14)
    offset = offset_for(wanted, drawn, shrinkage=net.value, finishing_mm=0.14)
    assert np.isclose(finished_bore_mm(drawn * scale, net.value, 0.14), wanted)
    assert np.isclose(drawn * scale, drawn + 2 * offset)


@settings(max_examples=15)
@given(SEEDS, st.floats(0.4, 3))
def test_a_refined_mesh_is_the_same_closed_surface(seed, longest):
    rng = np.random.default_rng(seed)
    mesh = Mesh(plain_band(fineness=COARSE).vertices * rng.uniform(0.5, 2, 3), plain_band(fineness=COARSE).faces)
    fine = refined(mesh, lambda a, b: np.linalg.norm(a - b, axis=1) > longest)
    sides = np.linalg.norm(np.roll(fine.corners, -1, axis=1) - fine.corners, axis=2)
    assert sides.max() <= longest
    assert np.isclose(fine.volume_mm3, mesh.volume_mm3)
    assert np.isclose(fine.area_mm2, mesh.area_mm2)
    edges = np.sort(np.stack((fine.faces, np.roll(fine.faces, -1, axis=1)), axis=2).reshape(-1, 2), axis=1)
    assert (np.unique(edges, axis=0, return_counts=True)[1] == 2).all()
