"""Thin edges: their width and length on bands whose sections are drawn, and none where there is none."""

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.edges import FEATHER_DEG, Places, feathers, thin_edge
from pourwell.geometry.rays import Caster
from pourwell.geometry.round_rims import across
from pourwell.geometry.shapes import SHAPES
from pourwell.geometry.solidity import from_manifold
from pourwell.geometry.thickness import sampled
from pourwell.geometry.touching import Touching
from tests.unit.geometry.test_thickness import ball, slab

BORE, HALF = 8.6, 2.0


def domed(edge, *, crown=1.6, count=41):
    """A band of 4 mm, flat inside, its outside a parabola from the edge up to the crown."""
    t = np.linspace(-1, 1, count)
    rise = edge + (crown - edge) * (1 - t**2)
    outside = list(zip(BORE + rise, HALF * t, strict=True))
    section = [(BORE, -HALF), *(outside if edge else outside[1:-1]), (BORE, HALF)]
    solid = manifold3d.Manifold.revolve(manifold3d.CrossSection([section]), 192)
    return from_manifold(solid)


def edge_of(mesh, *, below=1.0, length=5.0):
    rays = Caster(mesh)
    samples = sampled(mesh, rays)
    ball = Touching(mesh).balls(samples.points, samples.face).diameter_mm
    places = Places(points=samples.points, inward=samples.inward, area_mm2=samples.area_mm2, face=samples.face, ball_mm=ball)
    return thin_edge(mesh, rays, places, below_mm=below, length_mm=length)


@pytest.mark.parametrize("edge", [0.15, 0.4, 0.8])
def test_an_edge_is_as_thin_as_it_was_drawn_and_as_long_as_both_sides_of_the_band(edge):
    found = edge_of(domed(edge))
    assert found.width_mm == pytest.approx(edge, abs=0.02)
    assert found.length_mm == pytest.approx(2 * 2 * np.pi * (BORE + edge / 2), rel=0.1), "by area over width"
    assert abs(found.at_mm[2]) == pytest.approx(HALF, abs=0.01)


@pytest.mark.parametrize(("widens", "told"), [(0.6, 0.06), (1.9, 0.098)])
def test_what_widens_as_fast_as_a_rounding_is_as_wide_as_it_is_just_under_its_crest(widens, told):
    """A rim 0.06 wide, whose side slants so much a depth: 0.02 under it is 0.06 + 0.02 times that; a little slanted, it is 0.06."""
    section = [(BORE, -HALF), (BORE + 0.06, -HALF), (BORE + 0.06 + 0.8 * widens, 0.8 - HALF)]
    section += [(r, -z) for r, z in reversed(section)]
    found = edge_of(from_manifold(manifold3d.Manifold.revolve(manifold3d.CrossSection([section]), 192)), below=0.5)
    assert found.width_mm == pytest.approx(told, abs=0.01)


def test_a_feather_is_nothing_wide_and_as_long_as_its_rims():
    found = edge_of(domed(0.0))
    assert found.width_mm == 0.0
    assert found.length_mm == pytest.approx(2 * 2 * np.pi * BORE, rel=0.001)
    x, y, z = found.at_mm
    assert np.hypot(x, y) == pytest.approx(BORE, abs=0.01)
    assert abs(z) == pytest.approx(HALF, abs=0.01)


def test_an_edge_thicker_than_asked_for_is_none():
    assert edge_of(domed(0.8), below=0.7) is None


def test_short_edges_are_left_out():
    assert edge_of(domed(0.4), length=200.0) is None
    _, lengths, run = feathers(domed(0.0))
    each = np.bincount(run, weights=lengths)
    assert each[each > 0] == pytest.approx(2 * np.pi * BORE, rel=0.001), "each rim is 54 mm long, and they do not hang together"


@pytest.mark.parametrize("mesh", [ball(3.0), slab(0.4), slab(1.0)], ids=["ball", "thin slab", "slab"])
def test_a_ball_has_no_edge_and_the_rim_of_a_sheet_is_its_wall(mesh):
    assert edge_of(mesh) is None


def test_the_round_of_a_wire_is_no_edge_however_thin():
    wire = from_manifold(manifold3d.Manifold.cylinder(20, 0.2, 0.2, 32))
    found = edge_of(wire, below=0.35)
    assert found is None


@pytest.mark.parametrize("sides", [8, 12])
def test_the_facets_of_a_coarse_rounding_are_no_edges(sides):
    """A torus of few sides: each facet is narrow, and its neighbours turn by 30 or 45 degrees only."""
    turn = 2 * np.pi * (np.arange(sides) + 0.5) / sides
    section = list(zip(9 + 0.3 * np.cos(turn), 0.3 * np.sin(turn), strict=True))
    mesh = from_manifold(manifold3d.Manifold.revolve(manifold3d.CrossSection([section]), 128))
    assert edge_of(mesh, below=0.5) is None


@pytest.mark.parametrize("name", SHAPES)
def test_our_own_pieces_have_no_feathers(name):
    assert feathers(SHAPES[name].make())[1].sum() < 5.0


@pytest.mark.parametrize(("deg", "sharp"), [(30, True), (60, True), (70, False), (90, False)])
def test_faces_leave_a_feather_where_they_meet_at_less_than_64_degrees(deg, sharp):
    """A prism of 10 mm: one edge at the angle, the others are square or blunter but for the one opposite."""
    angle = np.radians(deg)
    corners = [(0, 0), (10, 0), (10 * np.cos(angle), 10 * np.sin(angle))]
    mesh = from_manifold(manifold3d.Manifold.extrude(manifold3d.CrossSection([corners]), 10))
    middles, lengths, _ = feathers(mesh)
    at_apex = np.hypot(middles[:, 0], middles[:, 1]) < 0.01
    assert lengths[at_apex].sum() == pytest.approx(10 if sharp else 0, abs=1e-6)


def test_a_sharp_groove_is_no_edge():
    """Its corner lies in the air: the faces look at each other."""
    block = manifold3d.Manifold.cube((10, 6, 4), True)
    prism = manifold3d.Manifold.extrude(manifold3d.CrossSection([[(-0.5, 3), (0.0, 0.5), (0.5, 3)]]), 20, 0, 0, (1, 1))
    cut = block - prism.translate((0, 0, -10))
    assert feathers(from_manifold(cut))[1].sum() == 0


def test_the_way_across_is_taken_under_the_place_and_is_endless_under_a_round():
    mesh = domed(0.4)
    rays = Caster(mesh)
    at, inward = np.array([[BORE + 0.2, 0.0, HALF]]), np.array([[0.0, 0.0, -1.0]])
    width, heading = across(rays, at + 0.02 * inward, inward, sharp_deg=FEATHER_DEG)
    assert width[0] == pytest.approx(0.4, abs=0.04)
    assert abs(heading[0]) == pytest.approx([1, 0, 0], abs=0.2), "along the radius"
    whole = ball(3.0)
    top = np.array([[0.0, 0.0, whole.bounds[1][2]]])
    assert across(Caster(whole), top + 0.02 * inward, inward, sharp_deg=FEATHER_DEG)[0][0] == np.inf
    assert np.isfinite(across(Caster(whole), top + 0.02 * inward, inward)[0][0])


def brute_feathers(mesh):
    """Edge by edge, by a dictionary: both ends of every outer edge whose faces meet at less than 64 degrees."""
    about = {}
    for face, corners in enumerate(mesh.faces.tolist()):
        for k in range(3):
            a, b, c = (corners[(k + j) % 3] for j in range(3))
            about.setdefault((min(a, b), max(a, b)), []).append((face, c))
    found = []
    for (a, b), sides in sorted(about.items()):
        (one, _), (other, over) = sides
        sharp = mesh.normals[one] @ mesh.normals[other] < -np.cos(np.radians(64))
        if sharp and mesh.normals[one] @ (mesh.vertices[over] - mesh.vertices[a]) < 0:
            found.append((a, b))
    return found


@pytest.mark.parametrize("lot", [7, 10**9])
@pytest.mark.parametrize("seed", range(3))
def test_feathers_of_a_hacked_ball_are_those_found_edge_by_edge_whatever_the_lots(seed, lot, monkeypatch):
    monkeypatch.setattr("pourwell.geometry.edges.LOT", lot)
    rng = np.random.default_rng(seed)
    solid = manifold3d.Manifold.sphere(5.0, 24)
    for _ in range(3):
        solid -= manifold3d.Manifold.sphere(float(rng.uniform(2, 6)), 20).translate(tuple(rng.uniform(-5, 5, 3)))
    mesh = from_manifold(solid)
    wanted = brute_feathers(mesh)
    assert wanted, "the case has feathers"
    middles, lengths, run = feathers(mesh)
    ends = mesh.vertices[np.array(wanted)]
    np.testing.assert_allclose(middles, ends.mean(axis=1))
    np.testing.assert_allclose(lengths, np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1))
    joined = {end for pair, of in zip(wanted, run, strict=True) if of == run[0] for end in pair}
    apart = {end for pair, of in zip(wanted, run, strict=True) if of != run[0] for end in pair}
    assert not joined & apart, "edges that share an end hang together"
