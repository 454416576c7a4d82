"""Every parametric piece: one closed solid that stands as told, sound by default, and refused in a sentence if impossible."""

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.geometry.mesh import Mesh
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import (
    FINE,
    SHAPES,
    Fineness,
    ImpossibleShapeError,
    about,
    bezel_ring,
    comfort_band,
    pendant_with_bail,
    plain_band,
    signet,
    stud_with_wire,
)

SOUND_WALL_MM = 0.8
RINGS = [name for name, shape in SHAPES.items() if shape.is_ring]


def as_solid(mesh: Mesh) -> manifold3d.Manifold:
    return manifold3d.Manifold(manifold3d.Mesh64(mesh.vertices.copy(), mesh.faces.astype(np.uint64)))


def edge_balance(mesh: Mesh) -> tuple[int, int]:
    """How many directed edges are not met exactly once by their reverse, and how many appear twice."""
    sides = np.stack([mesh.faces, np.roll(mesh.faces, -1, axis=1)], axis=-1).reshape(-1, 2)
    forward = sides[:, 0] * len(mesh.vertices) + sides[:, 1]
    backward = sides[:, 1] * len(mesh.vertices) + sides[:, 0]
    return len(np.setxor1d(forward, backward)), len(forward) - len(np.unique(forward))


def facing_walls(mesh: Mesh) -> np.ndarray:
    """Thickness straight through at every face whose ray leaves on a face that looks away (within 25 degrees)."""
    faces = np.arange(len(mesh.faces))
    distance, met = Caster(mesh).first(mesh.centres, -mesh.normals, leaving=faces)
    opposite = np.einsum("ij,ij->i", mesh.normals, mesh.normals[met]) < -0.9
    return distance[opposite]


@pytest.fixture(params=sorted(SHAPES))
def shape(request):
    return SHAPES[request.param]


def test_a_shape_is_one_closed_solid_wound_outwards(shape):
    mesh = shape.make()
    body = as_solid(mesh)
    assert body.status() == manifold3d.Error.NoError
    assert len(body.decompose()) == 1
    assert mesh.volume_mm3 > 0
    assert body.volume() == pytest.approx(mesh.volume_mm3, rel=1e-9)
    assert edge_balance(mesh) == (0, 0)


def test_a_shape_stays_closed_when_stored_in_single_precision(shape):
    """STL keeps single precision and no indices: corners that were apart must stay apart, or the file opens up."""
    mesh = shape.make()
    corners = mesh.corners.astype(np.float32).reshape(-1, 3)
    points, index = np.unique(corners, axis=0, return_inverse=True)
    again = Mesh(points, index.reshape(-1, 3))
    assert edge_balance(again) == (0, 0)
    assert len(points) == len(np.unique(mesh.faces))


def test_a_shape_has_the_holes_that_it_should(shape):
    """Genus: one for a finger bore or a loop, one more where the cup's hole opens into the bore."""
    assert as_solid(shape.make()).genus() == {"bezel-ring": 2, "stud": 0}.get(shape.name, 1)


def test_a_default_shape_has_no_wall_under_the_sound_one(shape):
    walls = facing_walls(shape.make())
    assert len(walls) > 500
    assert walls.min() > SOUND_WALL_MM - 0.02, f"observed {walls.min():.3f} mm"


def test_default_edges_are_short_and_faces_are_many_enough_to_measure(shape):
    mesh = shape.make()
    sides = np.linalg.norm(np.roll(mesh.corners, -1, axis=1) - mesh.corners, axis=2)
    assert sides.max() <= 2 * FINE.longest_mm * 1.05
    assert 2_000 < len(mesh.faces) < 15_000


@pytest.mark.parametrize("count", [2_000, 20_000])
def test_a_shape_can_be_had_with_about_so_many_triangles(shape, count):
    mesh = about(count, shape.make)
    assert len(mesh.faces) == pytest.approx(count, rel=0.1 if count > 2_000 else 0.3)
    assert mesh.volume_mm3 == pytest.approx(shape.make().volume_mm3, rel=0.03)


def test_a_large_count_keeps_the_dimensions():
    mesh = about(100_000, plain_band, bore_mm=20.0, width_mm=6.0)
    assert len(mesh.faces) == pytest.approx(100_000, rel=0.1)
    assert mesh.envelope_mm == pytest.approx((23.6, 6.0, 23.6))


@pytest.mark.parametrize("name", RINGS)
def test_the_bore_runs_along_y_and_is_as_asked(name):
    """No corner or facet is nearer to the y axis than the bore less the chord error."""
    mesh = SHAPES[name].make(bore_mm=18.0)
    near = np.hypot(mesh.vertices[:, 0], mesh.vertices[:, 2])
    assert near.min() == pytest.approx(9.0, abs=FINE.chord_mm)
    distance, _ = Caster(mesh).first([[0.001, 0.002, 0.003]] * 16, [(np.sin(a), 0, np.cos(a)) for a in np.linspace(2, 4, 16)])
    assert (np.abs(distance - 9.0) < FINE.chord_mm + 0.004).all()


@pytest.mark.parametrize("name", ["signet", "bezel-ring"])
def test_the_head_stands_towards_plus_z(name):
    low, high = SHAPES[name].make().bounds
    assert high[2] > -low[2] + 0.5
    assert high[0] == pytest.approx(-low[0], abs=1e-6)
    assert high[1] == pytest.approx(-low[1], abs=1e-6)


def test_a_pendant_hangs_by_its_loop_and_the_stud_shows_its_dome_in_front():
    low, high = pendant_with_bail().bounds
    assert (low[2], high[2]) == pytest.approx((-9.0, 9.0 + 3.6 + 2 * 1.6 - 1.75 * 0.8))
    low, high = stud_with_wire().bounds
    assert (low[1], high[1]) == pytest.approx((-0.5 - 0.8, 0.5 + 10.0))


def test_the_table_of_a_signet_is_flat_and_as_large_as_asked():
    ring = signet(table_length_mm=13.0, table_width_mm=9.0, head_mm=2.2, bore_mm=18.0, edge_mm=0.0)
    flat = ring.vertices[np.abs(ring.vertices[:, 2] - 11.2) < 1e-9]
    assert np.ptp(flat[:, 0]) == pytest.approx(13.0)
    assert np.ptp(flat[:, 1]) == pytest.approx(9.0)
    assert ring.vertices[:, 2].max() == pytest.approx(11.2)


def test_a_comfort_band_is_narrowest_in_the_middle_of_its_width():
    ring = comfort_band(edge_mm=0.0)
    away = np.hypot(ring.vertices[:, 0], ring.vertices[:, 2])
    middle, sides = np.abs(ring.vertices[:, 1]) < 0.01, np.abs(ring.vertices[:, 1]) > 2.499
    assert away[middle].min() == pytest.approx(8.6)
    assert away[sides].min() == pytest.approx(9.0)
    assert away[middle].max() == pytest.approx(10.6)
    assert away[sides].max() == pytest.approx(10.3)


def test_a_stone_of_the_named_size_drops_onto_the_seat():
    """A ball of the stone's size, lowered along the head's axis, rests on the ledge and not on the wall."""
    ring = bezel_ring(stone_mm=5.0)
    caster = Caster(ring)
    angles = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    from_above = [(2.5 * np.sin(a), 2.5 * np.cos(a), 20.0) for a in angles]
    distance, _ = caster.first(from_above, [0, 0, -1.0])
    assert 20 - distance == pytest.approx(np.full(40, 8.3 + 4.0 - 1.2))
    through, _ = caster.first([[0.1, 0.1, 20.0]], [0, 0, -1.0])
    assert through[0] > 25, "the cup is open to the bore"


def test_vertices_lie_on_the_true_surface_and_facets_within_the_chord():
    coarse = Fineness(chord_mm=0.05, longest_mm=3.0)
    ring = plain_band(edge_mm=0.0, fineness=coarse)
    away = np.hypot(ring.vertices[:, 0], ring.vertices[:, 2])
    assert np.abs(away[:, None] - [8.6, 10.4]).min(axis=1).max() < 1e-12
    outside = ring.centres[np.einsum("ij,ij->i", ring.centres, ring.normals) > 10]
    fallen = 10.4 - np.hypot(outside[:, 0], outside[:, 2])
    assert 0.02 < fallen.max() <= 0.05


@pytest.mark.parametrize(
    ("make", "dimensions", "says"),
    [
        (plain_band, {"bore_mm": 0.0}, "bore_mm is 0, but it must be above zero"),
        (plain_band, {"width_mm": -4.0}, "width_mm is -4"),
        (plain_band, {"thickness_mm": float("nan")}, "thickness_mm is nan"),
        (plain_band, {"edge_mm": -0.1}, "edge_mm is -0.1"),
        (plain_band, {"bore_mm": 17200.0}, "no flask holds more than 300 mm"),
        (signet, {"shank_thickness_mm": float("inf")}, "shank_thickness_mm is inf"),
        (plain_band, {"edge_mm": 2.0}, "leaves room for less than 2"),
        (plain_band, {"edge_mm": 1.0}, "edges alone take 2 mm"),
        (comfort_band, {"rise_mm": 3.0}, "half a circle rises 2.5"),
        (comfort_band, {"rise_mm": 1.2, "crown_mm": 1.0}, "make it thicker"),
        (signet, {"table_length_mm": 30.0}, "shorten the table"),
        (signet, {"shank_width_mm": 0.4}, "leaves room for less than 0.2"),
        (bezel_ring, {"ledge_mm": 2.6}, "the ledge closes the cup"),
        (bezel_ring, {"stone_mm": 16.0}, "smaller stone"),
        (bezel_ring, {"cup_mm": 1.3}, "raise the cup"),
        (pendant_with_bail, {"bail_bore_mm": 17.0}, "make the loop smaller"),
        (pendant_with_bail, {"crown_mm": 12.0}, "flatter crown_mm"),
        (stud_with_wire, {"wire_mm": 5.5}, "finer wire_mm"),
        (stud_with_wire, {"wire_length_mm": 0.5}, "longer wire_length_mm"),
    ],
)
def test_impossible_dimensions_are_refused_in_a_sentence(make, dimensions, says):
    with pytest.raises(ImpossibleShapeError, match=says) as caught:
        make(**dimensions)
    assert isinstance(caught.value, ValueError)
    assert str(caught.value).startswith("This piece cannot be made: ")
    assert str(caught.value).endswith(".")


def test_the_register_tells_every_dimension_with_its_default_and_unit(shape):
    assert shape.about.startswith(("A ", "An "))
    assert {p.unit for p in shape.parameters} == {"mm"}
    assert all(p.name.endswith("_mm") and p.about and p.default > 0 for p in shape.parameters)
    asked = shape.make(**{p.name: p.default for p in shape.parameters})
    assert asked.volume_mm3 == shape.make().volume_mm3


def test_the_register_knows_which_shapes_are_rings():
    assert RINGS == ["plain-band", "comfort-band", "half-round-band", "signet", "bezel-ring"]


@given(
    bore_mm=st.floats(12, 24),
    thickness_mm=st.floats(0.5, 4),
    width_mm=st.floats(1, 12),
    edge=st.just(0.0) | st.floats(0.05, 0.45),
)
@settings(max_examples=40, deadline=None)
def test_a_wider_or_thicker_band_of_any_size_is_closed_and_heavier(bore_mm, thickness_mm, width_mm, edge):
    size = {"bore_mm": bore_mm, "thickness_mm": thickness_mm, "edge_mm": edge * min(width_mm, thickness_mm)}
    band = plain_band(width_mm=width_mm, **size)
    assert edge_balance(band) == (0, 0)
    assert plain_band(width_mm=width_mm + 0.5, **size).volume_mm3 > band.volume_mm3 > 0


@given(
    bore_mm=st.floats(15, 22),
    length=st.floats(5, 16),
    width=st.floats(4, 14),
    head_mm=st.floats(1.2, 4),
)
@settings(max_examples=25, deadline=None)
def test_a_signet_of_any_size_is_a_sound_solid(bore_mm, length, width, head_mm):
    ring = signet(bore_mm=bore_mm, table_length_mm=length, table_width_mm=width, head_mm=head_mm)
    body = as_solid(ring)
    assert body.status() == manifold3d.Error.NoError
    assert body.genus() == 1
    assert ring.volume_mm3 > 0


@given(bore_mm=st.floats(14, 22), stone_mm=st.floats(2.5, 8), cup_mm=st.floats(2.8, 6))
@settings(max_examples=25, deadline=None)
def test_a_bezel_ring_of_any_size_is_one_sound_solid(bore_mm, stone_mm, cup_mm):
    ring = bezel_ring(bore_mm=bore_mm, stone_mm=stone_mm, cup_mm=cup_mm)
    body = as_solid(ring)
    assert body.status() == manifold3d.Error.NoError
    assert len(body.decompose()) == 1
    assert edge_balance(ring) == (0, 0)


@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_any_dimensions_give_one_solid_or_a_refusal(data):
    """Every dimension from nothing to four times its default, drawn apart: never a broken mesh, never another error."""
    shape = SHAPES[data.draw(st.sampled_from(sorted(SHAPES)))]
    size = {p.name: data.draw(st.floats(0, 4 * p.default), label=p.name) for p in shape.parameters}
    try:
        mesh = shape.make(**size, fineness=Fineness(chord_mm=0.05, longest_mm=4.0))
    except ImpossibleShapeError:
        return
    body = as_solid(mesh)
    assert body.status() == manifold3d.Error.NoError
    assert len(body.decompose()) == 1
    assert mesh.volume_mm3 > 0
