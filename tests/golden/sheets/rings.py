"""Invented rings by closed formulas: outline, width, weight, silhouettes on a tree, and a simple picture. No geometry engine."""

import io
import math
from collections.abc import Callable
from dataclasses import dataclass

from PIL import Image, ImageDraw

from pourwell.steps.tree.model import Outline, Polygon

Vector = tuple[float, float, float]
HOLE_FROM_MM2 = 4.0
TONES = ((0.8, 0), (1.5, 148), (2.5, 189), (4.0, 224), (float("inf"), 255))


def hull(points: list[tuple[float, float]]) -> Polygon:
    """The convex hull, anticlockwise."""
    ordered = sorted({(round(x, 3), round(y, 3)) for x, y in points})

    def half(run: list[tuple[float, float]]) -> list[tuple[float, float]]:
        out: list[tuple[float, float]] = []
        for p in run:
            while len(out) > 1 and cross(out[-2], out[-1], p) <= 0:
                out.pop()
            out.append(p)
        return out[:-1]

    return tuple(half(ordered) + half(ordered[::-1]))


def cross(a: tuple[float, float], b: tuple[float, float], p: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])


def clip(subject: Polygon, window: Polygon) -> Polygon:
    """What two convex polygons share."""
    out = list(subject)
    for a, b in zip(window, window[1:] + window[:1], strict=True):
        kept: list[tuple[float, float]] = []
        for p, q in zip(out, out[1:] + out[:1], strict=True):
            sp, sq = cross(a, b, p), cross(a, b, q)
            if sp >= 0:
                kept.append(p)
            if (sp >= 0) != (sq >= 0):
                t = sp / (sp - sq)
                kept.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
        out = kept
    return tuple(out)


def area(polygon: Polygon) -> float:
    return abs(sum(p[0] * q[1] - q[0] * p[1] for p, q in zip(polygon, polygon[1:] + polygon[:1], strict=True))) / 2


@dataclass(frozen=True)
class Ring:
    """A ring around a bore; with a head, a flat table whose flanks run into the shank. Angles from the head [deg]."""

    bore_mm: float
    thick_mm: float
    width_mm: float
    head: tuple[float, float, float] | None = None
    """Length, rise over the bore and width of the table."""

    def outer(self, deg: float) -> float:
        """Radius of the outline."""
        base = self.bore_mm / 2 + self.thick_mm
        if self.head is None:
            return base
        high, half = self.bore_mm / 2 + self.head[1], self.head[0] / 2
        turn = abs(math.radians((deg + 180) % 360 - 180))
        end, far = math.atan2(half, high), math.hypot(half, high)
        flank = math.acos(base / far)
        if turn <= end:
            return high / math.cos(turn)
        return base / math.cos(end + flank - turn) if turn <= end + flank else base

    def wide(self, deg: float) -> float:
        """Width along the finger."""
        if self.head is None:
            return self.width_mm
        f = min(1.0, max(0.0, (abs((deg + 180) % 360 - 180) - 28) / 112))
        smooth = f * f * (3 - 2 * f)
        return self.head[2] * (1 - smooth) + self.width_mm * smooth

    def wall(self, deg: float) -> float:
        """Wall thickness."""
        return min(self.outer(deg) - self.bore_mm / 2, self.wide(deg))

    @property
    def volume_mm3(self) -> float:
        """By a sum over degrees."""
        inner = self.bore_mm / 2
        return sum((self.outer(d + 0.5) ** 2 - inner**2) / 2 * self.wide(d + 0.5) * math.radians(1) for d in range(360))

    @property
    def envelope_mm(self) -> Vector:
        """Across, high, wide."""
        across = 2 * max(abs(self.outer(d) * math.sin(math.radians(d))) for d in range(0, 360, 4))
        return across, self.outer(0) + self.outer(180), max(self.wide(d) for d in range(0, 360, 4))


@dataclass(frozen=True)
class Hung:
    """A ring on a stem: where its sprue leaves, how it leans, where it meets the ring."""

    ring: Ring
    sprue_deg: float
    azimuth_deg: float
    height_mm: float
    tilt_deg: float
    length_mm: float
    gauge_mm: float
    stem_mm: float

    def _frame(self) -> tuple[Vector, Vector, Vector]:
        a, t = math.radians(self.azimuth_deg), math.radians(self.tilt_deg)
        out = (math.sin(a), math.cos(a))
        along = (math.cos(t) * out[0], math.cos(t) * out[1], math.sin(t))
        across = (-math.sin(t) * out[0], -math.sin(t) * out[1], math.cos(t))
        return along, across, (out[1], -out[0], 0.0)

    def _along(self, way: float) -> Vector:
        along, _, _ = self._frame()
        a, r = math.radians(self.azimuth_deg), self.stem_mm / 2
        x, y, z = along
        return r * math.sin(a) + way * x, r * math.cos(a) + way * y, self.height_mm + way * z

    @property
    def centre(self) -> Vector:
        """The middle of the bore."""
        return self._along(self.length_mm + self.ring.outer(self.sprue_deg))

    def point(self, radius: float, deg: float, side: float) -> Vector:
        """A point of the ring in the tree's frame."""
        along, across, normal = self._frame()
        turn = math.radians(deg - self.sprue_deg)
        u, v = -radius * math.cos(turn), radius * math.sin(turn)
        x, y, z = (c + u * a + v * b + side * n for c, a, b, n in zip(self.centre, along, across, normal, strict=True))
        return x, y, z

    def body(self) -> list[Vector]:
        """Points all over the outside."""
        ring = self.ring
        return [self.point(ring.outer(d), d, s * ring.wide(d) / 2) for d in range(0, 360, 4) for s in (-1, 1)]

    def seen(self, view: Callable[[Vector], tuple[float, float]]) -> tuple[Outline, Polygon]:
        """Silhouette of the ring with its hole, and of the sprue."""
        ring = self.ring
        rims = [hull([view(self.point(ring.bore_mm / 2, d, s * ring.wide(d) / 2)) for d in range(0, 360, 6)]) for s in (-1, 1)]
        hole = clip(*rims) if min(map(len, rims)) > 2 else ()
        outline = hull([view(p) for p in self.body()])
        (x0, y0), (x1, y1) = view(self._along(-0.35 * self.stem_mm)), view(self._along(self.length_mm + 0.4))
        long = math.hypot(x1 - x0, y1 - y0) or 1.0
        px, py = -(y1 - y0) / long * self.gauge_mm / 2, (x1 - x0) / long * self.gauge_mm / 2
        sprue = ((x0 + px, y0 + py), (x1 + px, y1 + py), (x1 - px, y1 - py), (x0 - px, y0 - py))
        return Outline(polygons=(outline, hole) if hole and area(hole) > HOLE_FROM_MM2 else (outline,)), sprue


@dataclass(frozen=True)
class Drawn:
    """A picture as the patterns page takes it."""

    png: bytes
    width_mm: float
    height_mm: float
    points: dict[str, tuple[float, float]]
    tones: tuple[tuple[float, int], ...] = TONES


def picture(ring: Ring, sprue_deg: float, px_per_mm: int = 12) -> Drawn:
    """Front and side drawn from the formulas."""
    across, _, wide = ring.envelope_mm
    up, down, between = ring.outer(0), ring.outer(180), 4.0
    width, height = across + between + wide, up + down
    image = Image.new("L", (round(width * px_per_mm), round(height * px_per_mm)), 255)
    draw = ImageDraw.Draw(image)

    def at(radius: float, deg: float) -> tuple[float, float]:
        a = math.radians(deg)
        return across / 2 + radius * math.sin(a), up - radius * math.cos(a)

    def pixels(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
        return [(x * px_per_mm, y * px_per_mm) for x, y in points]

    for d in range(0, 360, 3):
        grey = next(g for limit, g in TONES if ring.wall(d) < limit)
        inner = ring.bore_mm / 2
        draw.polygon(
            pixels([at(inner, d - 2), at(ring.outer(d - 2), d - 2), at(ring.outer(d + 2), d + 2), at(inner, d + 2)]), fill=grey
        )
    for radius in (ring.outer, lambda _: ring.bore_mm / 2):
        draw.line(pixels([at(radius(d), d) for d in range(0, 363, 3)]), fill=0, width=2)
    side = [(s * ring.wide(d) / 2, ring.outer(d) * math.cos(math.radians(d))) for d in range(0, 360, 3) for s in (-1, 1)]
    middle = across + between + wide / 2
    outline = [(middle + x, up - y) for x, y in hull(side)]
    draw.line(pixels([*outline, outline[0]]), fill=0, width=2)
    out = io.BytesIO()
    image.save(out, "PNG")
    walls = [(ring.wall(d), d) for d in range(0, 360, 4)]
    spots = {"thinnest": min(walls)[1], "thickest": max(walls)[1], "sprue": sprue_deg}
    return Drawn(out.getvalue(), width, height, {name: at(ring.outer(d), d) for name, d in spots.items()})
