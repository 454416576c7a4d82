"""Compiled: on which side of a plane a point lies, decided exactly for the numbers as they stand.

Source: Shewchuk, "Adaptive precision floating-point arithmetic and fast robust geometric predicates" (1997): sums and products of
doubles without error, and the bound below which the plain determinant is not believed.
"""

import numpy as np

from pourwell.geometry.kernels.compiled import compiled, compiled_lean
from pourwell.geometry.mesh import Floats

HALVES = 134217729.0
"""2^27 + 1: splits a double into two halves whose product has no rounding."""

DOUBT = (7 + 56 * 2.0**-53) * 2.0**-53
"""Share of the sum of absolute products below which rounding may have turned the sign: Shewchuk's bound A of orient3d."""

PARTS = 192
"""Products of the determinant, each difference as a number and its rounding: six terms, eight combinations, four parts."""

Corner = tuple[float, float, float]


@compiled_lean
def _two_sum(a: float, b: float) -> tuple[float, float]:
    """A sum and its rounding."""
    total = a + b
    other = total - a
    return total, (a - (total - other)) + (b - other)


@compiled_lean
def _two_product(a: float, b: float) -> tuple[float, float]:
    """A product and its rounding."""
    product = a * b
    c = HALVES * a
    high_a = c - (c - a)
    low_a = a - high_a
    c = HALVES * b
    high_b = c - (c - b)
    low_b = b - high_b
    return product, low_a * low_b - (((product - high_a * high_b) - low_a * high_b) - high_a * low_b)


@compiled_lean
def _grown(parts: Floats, count: int, more: float) -> int:
    """Add a number to an exact sum of parts that grow in size; how many parts there are then."""
    kept = 0
    for i in range(count):
        more, rounding = _two_sum(more, parts[i])
        if rounding != 0:
            parts[kept] = rounding
            kept += 1
    if more != 0:
        parts[kept] = more
        kept += 1
    return kept


@compiled
def _exact(a: Corner, b: Corner, rest: tuple[Corner, Corner]) -> int:
    """As `side_of`, whatever the rounding."""
    c, d = rest
    wide = np.empty((3, 3, 2))
    for k in range(3):
        wide[0, k, 0], wide[0, k, 1] = _two_sum(a[k], -d[k])
        wide[1, k, 0], wide[1, k, 1] = _two_sum(b[k], -d[k])
        wide[2, k, 0], wide[2, k, 1] = _two_sum(c[k], -d[k])
    parts = np.empty(PARTS + 1)
    count = 0
    for turn in range(6):
        i = turn % 3
        j = (i + 1) % 3 if turn < 3 else (i + 2) % 3
        k = 3 - i - j
        sign = 1.0 if turn < 3 else -1.0
        for which in range(8):
            x, y, z = wide[0, i, which & 1], wide[1, j, (which >> 1) & 1], wide[2, k, which >> 2]
            if x == 0 or y == 0 or z == 0:
                continue
            high, low = _two_product(x, y)
            one, two = _two_product(high, sign * z)
            three, four = _two_product(low, sign * z)
            count = _grown(parts, count, four)
            count = _grown(parts, count, three)
            count = _grown(parts, count, two)
            count = _grown(parts, count, one)
    if count == 0:
        return 0
    return 1 if parts[count - 1] > 0 else -1


@compiled_lean
def rough_side_of(a: Corner, b: Corner, rest: tuple[Corner, Corner]) -> int:
    """As `side_of` where plain arithmetic is sure; 2 where it is not."""
    c, d = rest
    ax, ay, az = a[0] - d[0], a[1] - d[1], a[2] - d[2]
    bx, by, bz = b[0] - d[0], b[1] - d[1], b[2] - d[2]
    cx, cy, cz = c[0] - d[0], c[1] - d[1], c[2] - d[2]
    bc, cb, ca, ac, ab, ba = bx * cy, cx * by, cx * ay, ax * cy, ax * by, bx * ay
    value = az * (bc - cb) + bz * (ca - ac) + cz * (ab - ba)
    bound = DOUBT * ((abs(bc) + abs(cb)) * abs(az) + (abs(ca) + abs(ac)) * abs(bz) + (abs(ab) + abs(ba)) * abs(cz))
    if value > bound:
        return 1
    if -value > bound:
        return -1
    return 0 if bound == 0 else 2


@compiled
def side_of(a: Corner, b: Corner, rest: tuple[Corner, Corner]) -> int:
    """The sign of the determinant of a - d, b - d, c - d, with c and d in `rest`.

    Parameters
    ----------
    a, b, rest : corners [mm]

    Returns
    -------
    1 where a, b, c turn anticlockwise seen from the side that d is not on, -1 where clockwise, 0 where all four lie in a plane
    """
    rough = rough_side_of(a, b, rest)
    return rough if rough != 2 else _exact(a, b, rest)
