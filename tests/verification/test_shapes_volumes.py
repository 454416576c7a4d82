"""Volumes of the parametric pieces against closed forms and independent integrals.

A polyhedron with its vertices on a smooth surface misses the volume by the square of its edges, so by the first power of the
chord error: quartering the chord halves the edges, and the miss falls fourfold (order two).
"""

from itertools import pairwise
from math import asin, atan, cos, hypot, pi, sqrt

import numpy as np
import pytest
from scipy.integrate import quad

from pourwell.geometry.shapes import (
    Fineness,
    about,
    bezel_ring,
    comfort_band,
    half_round_band,
    pendant_with_bail,
    plain_band,
    signet,
    stud_with_wire,
)

COARSEST_CHORD_MM = 0.02


def misses(make, truth_mm3: float, *, count: int = 4, **dimensions: float) -> list[float]:
    """Signed miss [mm3] of ever finer meshes, the edges halved each time; long edges are left to the shape."""
    fine = [Fineness(chord_mm=COARSEST_CHORD_MM / 4**k, longest_mm=1e3) for k in range(count)]
    return [truth_mm3 - make(**dimensions, fineness=f).volume_mm3 for f in fine]


def assert_second_order(errors: list[float], *, area_mm2: float) -> None:
    """The coarsest mesh misses less than the chord error over the whole surface, and halved edges quarter the miss.

    Segments are whole numbers, so that neighbouring meshes are not exactly twice as fine: 1.7 instead of 2.
    """
    assert abs(errors[0]) < COARSEST_CHORD_MM * area_mm2, f"observed {errors[0]:.3g} mm3"
    order = np.log(abs(errors[0] / errors[-1])) / np.log(2) / (len(errors) - 1)
    assert order > 1.7, f"observed mean order {order:.2f} of {errors}"


def segment_area(half_width: float, rise: float) -> tuple[float, float]:
    """Area of a circular segment and the distance of its centroid from the chord (closed forms)."""
    radius = (half_width**2 + rise**2) / (2 * rise)
    angle = 2 * asin(half_width / radius)
    area = radius**2 * (angle - np.sin(angle)) / 2
    return area, (2 * half_width) ** 3 / (12 * area) - (radius - rise)


@pytest.mark.parametrize("edge_mm", [0.0, 0.3])
def test_a_plain_band_holds_what_pappus_says(edge_mm):
    """Pappus' second theorem: V = 2 pi (middle radius) (area of the section), the section being a rounded rectangle."""
    truth = 2 * pi * (8.6 + 0.9) * (4.0 * 1.8 - (4 - pi) * edge_mm**2)
    errors = misses(plain_band, truth, bore_mm=17.2, width_mm=4.0, thickness_mm=1.8, edge_mm=edge_mm)
    assert all(error > 0 for error in errors), "vertices on a convex section never overstate"
    assert_second_order(errors, area_mm2=700)


def test_the_default_plain_band_is_within_a_permille():
    """The tessellation of the defaults costs less than the scale at the bench can show; so does asking for a count."""
    truth = 2 * pi * (8.6 + 0.9) * (4.0 * 1.8 - (4 - pi) * 0.2**2)
    assert plain_band().volume_mm3 == pytest.approx(truth, rel=1.2e-3)
    assert about(20_000, plain_band).volume_mm3 == pytest.approx(truth, rel=4e-4)


def test_a_sharp_comfort_band_holds_what_pappus_says():
    """Pappus on a rectangle with a circular segment on either long side (areas and centroids in closed form)."""
    inner, width, thickness, rise, crown = 8.6, 5.0, 2.0, 0.4, 0.3
    sides = thickness - rise - crown
    below, below_out = segment_area(width / 2, rise)
    above, above_out = segment_area(width / 2, crown)
    moment = (
        width * sides * (inner + rise + sides / 2) + below * (inner + rise - below_out) + above * (inner + rise + sides + above_out)
    )
    errors = misses(comfort_band, 2 * pi * moment, edge_mm=0.0)
    assert_second_order(errors, area_mm2=800)


def test_a_rounded_comfort_band_holds_its_integrated_section():
    """Washers integrated over the width: V = pi (outside^2 - inside^2), the edges being circles tangent to arc and side."""
    inner, half, thickness, rise, crown, edge = 8.6, 2.5, 2.0, 0.4, 0.3, 0.3

    def off(y: float, arch: float) -> float:
        """How far the section has left its middle height at y."""
        radius = (half**2 + arch**2) / (2 * arch)
        depth = sqrt((radius - edge) ** 2 - (half - edge) ** 2)
        if y < (half - edge) * radius / (radius - edge):  # before the point where the edge's circle touches the arc
            return radius - sqrt(radius**2 - y**2)
        return radius - depth - sqrt(max(edge**2 - (y - half + edge) ** 2, 0.0))

    def washer(y: float) -> float:
        return pi * ((inner + thickness - off(y, crown)) ** 2 - (inner + off(y, rise)) ** 2)

    truth = 2 * quad(washer, 0, half, points=[half - edge], epsabs=1e-9, limit=200)[0]
    assert_second_order(misses(comfort_band, truth, edge_mm=edge), area_mm2=800)


def test_a_half_round_band_holds_what_pappus_says():
    """Pappus on a rectangle with a circular segment outside."""
    area, out = segment_area(2.0, 0.9)
    moment = 4.0 * 1.0 * (8.6 + 0.5) + area * (8.6 + 1.0 + out)
    errors = misses(half_round_band, 2 * pi * moment, edge_mm=0.0)
    assert_second_order(errors, area_mm2=700)


@pytest.mark.parametrize("edge_mm", [0.0, 0.25])
def test_a_signet_holds_its_integrated_sections(edge_mm):
    """Sections in planes through the bore's axis: V = integral of (area of the section)(its middle radius) over the angle."""
    inner, height, half_length, width, back_width, back = 9.4, 11.8, 6.0, 10.0, 3.4, 1.7
    at = atan(half_length / height)
    end = hypot(height, half_length)

    def slice_of(angle: float) -> float:
        if angle <= at:
            outer, wide = height / cos(angle), width
        else:
            left = (1 - (angle - at) / (pi - at)) ** 2
            outer, wide = inner + back + (end - inner - back) * left, back_width + (width - back_width) * left
        return (wide * (outer - inner) - (4 - pi) * edge_mm**2) * (outer + inner) / 2

    truth = 2 * (quad(slice_of, 0, at)[0] + quad(slice_of, at, pi)[0])
    assert_second_order(misses(signet, truth, edge_mm=edge_mm), area_mm2=1100)


@pytest.mark.parametrize("edge_mm", [0.0, 0.3])
def test_a_bezel_ring_holds_shank_and_cup_without_what_they_share(edge_mm):
    """Shank (Pappus) less what the hole takes, plus the cup's wall from foot to rim less what lies in the shank (columns)."""
    inner, outer, wide, opening, wall, ledge, rim, cup = 8.3, 9.7, 2.0, 2.55, 0.9, 0.6, 1.2, 4.0
    reach, hole = opening + wall, opening - ledge

    def rounding(y: float) -> float:
        over = max(abs(y) - (wide / 2 - edge_mm), 0.0)
        return edge_mm - sqrt(max(edge_mm**2 - over**2, 0.0))

    def column(x: float, y: float, over: float) -> float:
        """Length of the shank along the head's axis, above a height."""
        off = rounding(y)
        return sqrt((outer - off) ** 2 - x**2) - max(sqrt((inner + off) ** 2 - x**2), over)

    def within(radius: float, over: float) -> float:
        """The shank's volume inside a cylinder about the head's axis, above a height."""
        y, weight = np.polynomial.legendre.leggauss(80)
        flat = wide / 2 - edge_mm
        parts = [(0.0, flat), (flat, wide / 2)] if edge_mm else [(0.0, flat)]
        return 4 * sum(
            w * (high - low) / 2 * quad(column, 0, sqrt(radius**2 - at**2), args=(at, over), limit=200)[0]
            for low, high in parts
            for at, w in zip((low + high) / 2 + (high - low) / 2 * y, weight, strict=True)
        )

    foot = inner + 0.25 * (outer - inner)
    shank = 2 * pi * (inner + outer) / 2 * (wide * (outer - inner) - (4 - pi) * edge_mm**2)
    drilled = within(hole, 0.0)
    shared = within(reach, foot) - within(hole, foot)
    tube = pi * (reach**2 - hole**2) * (inner + cup - foot)
    seat = pi * (opening**2 - hole**2) * rim
    errors = misses(bezel_ring, shank - drilled + tube - shared - seat, edge_mm=edge_mm)
    assert_second_order(errors, area_mm2=550)


@pytest.mark.parametrize("crown_mm", [0.0, 0.5])
def test_a_pendant_holds_disc_and_loop_without_what_they_share(crown_mm):
    """Disc: cylinder and two spherical caps; loop: Pappus; shared part: columns along the front's axis, integrated."""
    radius, rim, wire, bail = 9.0, 1.4, 0.8, 3.6
    turn = bail / 2 + wire
    middle = radius + turn - 0.75 * wire
    disc = pi * radius**2 * rim + 2 * pi * crown_mm / 6 * (3 * radius**2 + crown_mm**2)
    loop = 2 * pi**2 * turn * wire**2

    def half_thickness(r: float) -> float:
        if crown_mm == 0:
            return rim / 2
        ball = (radius**2 + crown_mm**2) / (2 * crown_mm)
        return rim / 2 + crown_mm - ball + sqrt(ball**2 - r**2)

    def shared_at(z: float, x: float) -> float:
        """Length along the front's axis that lies in disc and loop, on one side."""
        thick = sqrt(wire**2 - x**2)
        high = middle - z
        out = sqrt(max((turn + thick) ** 2 - high**2, 0.0))
        hollow = sqrt(max((turn - thick) ** 2 - high**2, 0.0))
        cap = half_thickness(hypot(x, z))
        return min(out, cap) - min(hollow, cap)

    x, x_weight = np.polynomial.legendre.leggauss(60)
    z, z_weight = np.polynomial.legendre.leggauss(400)
    shared = 0.0
    for xi, wx in zip(wire * x, wire * x_weight, strict=True):
        low, high = middle - turn - wire, sqrt(radius**2 - xi**2)
        heights = (low + high) / 2 + (high - low) / 2 * z
        shared += 2 * wx * (high - low) / 2 * sum(w * shared_at(h, xi) for h, w in zip(heights, z_weight, strict=True))
    assert 0.5 < shared < 5
    errors = misses(pendant_with_bail, disc + loop - shared, crown_mm=crown_mm)
    assert_second_order(errors, area_mm2=700)


def test_a_stud_holds_the_sum_of_its_turned_parts():
    """Cap pi h (3 a^2 + h^2) / 6, two cylinders, half a ball, and Pappus on the hollow's spandrel (centroid in closed form)."""
    radius, rim, crown, wire, length, hollow = 3.0, 1.0, 0.8, 0.45, 10.0, 0.4
    head = pi * radius**2 * rim + pi * crown * (3 * radius**2 + crown**2) / 6
    post = pi * wire**2 * (length - wire) + 2 / 3 * pi * wire**3
    spandrel = hollow**2 * (1 - pi / 4)
    centroid = wire + hollow * (10 - 3 * pi) / (12 - 3 * pi)
    errors = misses(stud_with_wire, head + post + 2 * pi * centroid * spandrel)
    assert_second_order(errors, area_mm2=115)


def test_neighbouring_orders_of_the_signet_approach_two():
    """Not only the mean: each halving of the edges quarters the miss."""
    reference = signet(fineness=Fineness(chord_mm=COARSEST_CHORD_MM / 4**6, longest_mm=1e3)).volume_mm3
    errors = misses(signet, reference)
    orders = [float(np.log(abs(a / b)) / np.log(2)) for a, b in pairwise(errors)]
    assert min(orders) > 1.7, f"observed {orders}"
