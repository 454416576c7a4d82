"""What a thermocouple in a flask tells of mould, kiln and water: factors on their defaults, with what they are worth. SI.

Three factors are looked for: of the mould's conductivity, of the film between kiln and flask (convection and radiation alike),
and the free water at the start over that of the mould as mixed. A factor that the record cannot tell keeps its default and says so;
what it may be off by then counts against the others. The kiln's own reading is the programme. Not looked for: heat capacity,
wet over dry conductivity, contact at the wall. The factors take up what these are off by: they belong to this model alone.
"""

import math
from collections.abc import Generator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadRequestError
from pourwell.physics.burnout.march import Care, Course, Programme, burn
from pourwell.physics.burnout.report import at_radius, wall_at
from pourwell.physics.burnout.setting import Face, Flask, Place
from pourwell.physics.burnout.substance import Mould
from pourwell.physics.descent import Question, Round, descend, slopes
from pourwell.units import ZERO_CELSIUS_K

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NAMES: Final = ("conductivity", "film", "water")
LOW, HIGH = (0.2, 0.15, 0.0), (4.0, 5.0, 1.0)
"""Between these the factors are looked for; a mould holds no more water than it was mixed with."""
FLOOR: Final = 1.5
"""Scatter that is expected of any reading [K]: tolerance of a class 1 type K thermocouple to 375 degC, IEC 60584-1:2013."""
TRUE_SHARE: Final = 0.0043
"""Standard uncertainty of a thermocouple along its scale, over degC: 0.75 % of class 2 as an even chance, IEC 60584-1:2013."""
CLOCK: Final = 30.0
"""A reading may belong to a moment so far from its own [s]; half of the usual interval: where all changes fast it says less."""
UNTOLD: Final = 0.6
"""A factor is told if its uncertainty comes under this share of what was known before: own choice."""
FLAT: Final = 1.0
"""A factor whose whole doubt moves the readings by less than this [K, root of the mean square] is not tried."""

PULL: Final = 0.7
"""Standard deviations by which a place is moved to see what it changes: on the axis it can be moved inward by no more."""
GRID: Final = 0.015
"""Of each factor: so far the solver is off by itself on grids that are used; docs/physics.md."""
KEPT: Final = 8
"""Runs that are kept, so that none is done twice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Factors:
    """Of the conductivity, wet and dry, and of the film, over their defaults; free water over that of the mould as mixed [-]."""

    conductivity: float = 1.0
    film: float = 1.0
    water: float = 1.0

    def on(self, mould: Mould, place: Place) -> tuple[Mould, Place]:
        """The mould and the place with these factors; no film radiates more than a black body."""
        dry = tuple((t, k * self.conductivity) for t, k in mould.dry)
        faces = (self._face(face) for face in (place.side, place.upper, place.lower))
        side, upper, lower = faces
        wet = mould.wet * self.conductivity
        return replace(mould, dry=dry, wet=wet, water_share=self.water), Place(side=side, upper=upper, lower=lower)

    def _face(self, face: Face) -> Face:
        return replace(face, convection=face.convection * self.film, emissivity=min(1.0, face.emissivity * self.film))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Probe:
    """A thermocouple's record: (n,) times [s] and temperatures [K], even in time but for what is missing; and where it sat."""

    name: str
    times: Floats
    temperatures: Floats
    radius_share: float = 0.0
    """From the axis (0) to the rim (1) of the mould; without meaning on the wall."""
    height_share: float = 0.5
    on_wall: bool = False
    placing: float = 0.002
    """Standard uncertainty of its place [m]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Firing:
    """A flask whose firing was recorded: default mould and place, the kiln's reading, and where the probes sat."""

    flask: Flask
    mould: Mould
    place: Place
    kiln: Programme
    start: float
    """All of it at the beginning [K]."""
    probes: tuple[Probe, ...]
    care: Care | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """What the record told."""

    factors: Factors
    uncertainty: Factors
    """Standard uncertainty of each; for one that was not told, the doubt that was there before."""
    told: tuple[str, ...]
    course: Course
    """The firing as computed with the factors."""
    given: tuple[Floats, ...]
    """What each probe should have read (n,) [K]."""
    scatter: tuple[float, ...]
    """Of each probe's readings about it, root of the mean square [K]."""
    together: float
    """Over how long the scatter hangs together [s]."""
    rounds: int
    ended: bool
    """The descent came to its end."""


def read_by(probe: Probe, course: Course, flask: Flask, *, off: float = 0.0) -> Floats:
    """What a probe would read in a course at its own times (n,) [K], `off` standard deviations farther out than is likely.

    The square of its distance from the axis has the mean r^2 + s^2 and the variance 4 r^2 s^2 + 2 s^4 for a place r that is
    uncertain by s: so a probe on the axis is likely a little off it, and never on its other side.
    """
    if probe.on_wall:
        trace = wall_at(course, height=probe.height_share)
    else:
        r, s = probe.radius_share * flask.radius, probe.placing
        square = r**2 + s**2 + off * math.sqrt(4 * r**2 * s**2 + 2 * s**4)
        trace = at_radius(course, min(1.0, math.sqrt(max(0.0, square)) / flask.radius), height=probe.height_share)
    return np.asarray(np.interp(probe.times, course.time, trace), dtype=np.float64)


def run(firing: Firing, factors: Factors, *, kiln: Programme | None = None) -> Course:
    """The firing computed with factors, under its own kiln or another."""
    mould, place = factors.on(firing.mould, firing.place)
    return burn(firing.flask, mould, kiln or firing.kiln, place=place, start=firing.start, care=firing.care)


def fit(firing: Firing, *, default: Factors, doubt: Factors) -> Generator[Round, None, Fitted]:
    """Look for the factors from their default, about which there was some doubt (a standard deviation each).

    Yields a Round for each round of the descent and returns what the record told. Raises BadRequestError for a record without a
    probe or that begins hot, UnsoundResultError if a run fails.
    """
    _refuse(firing)
    record = _Record(firing, default=default, doubt=doubt)
    free = record.steep()
    while free.size:
        last = yield from _descent(record, free)
        share = np.sqrt(np.diag(last.covariance)) / record.doubt[free]
        worst = int(np.argmax(share))
        if share[worst] <= UNTOLD:
            return record.fitted(record.whole(free, last.parameters), free, last=last)
        free = np.delete(free, worst)
    return record.fitted(record.default, free)


def _descent(record: "_Record", free: Ints) -> Generator[Round, None, Round]:
    """The rounds of a descent in some of the parameters, and its last one."""
    rounds = descend(record.question(free), record.default[free])
    last = next(rounds)
    yield last
    for last in rounds:
        yield last
    return last


def _refuse(firing: Firing) -> None:
    if not firing.probes or not sum(probe.times.size for probe in firing.probes):
        raise BadRequestError(
            "Nothing was read in the flask.",
            why="The kiln's own reading says nothing of the mould.",
            try_this="Name a column for core, wall or a depth.",
        )
    if firing.start >= firing.mould.boiling:
        raise BadRequestError(
            f"The record begins at {firing.start - ZERO_CELSIUS_K:.0f} °C in the flask.",
            why="What water was left then is not known.",
            try_this="Take a record that begins with the flask cold.",
        )


class _Record:
    """A record with its model: parameters are the logarithms of the first two factors, and the share of water."""

    def __init__(self, firing: Firing, *, default: Factors, doubt: Factors) -> None:
        self.firing = firing
        self.seen = np.concatenate([probe.temperatures for probe in firing.probes])
        ends = np.cumsum([0, *(probe.times.size for probe in firing.probes)])
        self.slices = [slice(int(a), int(b)) for a, b in pairwise(ends)]
        self.default = _parameters(default)
        self.doubt = np.array([doubt.conductivity / default.conductivity, doubt.film / default.film, doubt.water])
        self.courses: dict[bytes, Course] = {}

    def course(self, at: Floats) -> Course:
        """The firing at parameters (3,); the last few are kept."""
        key = at.tobytes()
        if key not in self.courses:
            while len(self.courses) >= KEPT:
                del self.courses[next(iter(self.courses))]
            self.courses[key] = run(self.firing, _factors(at))
        return self.courses[key]

    def read(self, course: Course) -> Floats:
        """What all probes would read (n,) [K]."""
        return np.concatenate([read_by(probe, course, self.firing.flask) for probe in self.firing.probes])

    def whole(self, free: Ints, some: Floats) -> Floats:
        """All parameters, from those that are free."""
        out = self.default.copy()
        out[free] = some
        return out

    def steep(self) -> Ints:
        """The parameters whose doubt moves the readings."""
        given = self.read(self.course(self.default))
        moved = slopes(self.question(np.arange(3)), self.default, given) * self.doubt
        return np.flatnonzero(np.sqrt(np.mean(moved**2, axis=0)) > FLAT)

    def question(self, free: Ints) -> Question:
        """What is asked of the readings in some of the parameters."""
        return Question(
            seen=self.seen,
            model=lambda some: self.read(self.course(self.whole(free, some))),
            weights=lambda some: self.weights(self.course(self.whole(free, some))),
            low=_parameters(Factors(**dict(zip(NAMES, LOW, strict=True))))[free],
            high=_parameters(Factors(**dict(zip(NAMES, HIGH, strict=True))))[free],
            scale=self.doubt[free],
            shapes=lambda some: self.shapes(free, self.whole(free, some)),
            records=self.slices,
        )

    def weights(self, course: Course) -> Floats:
        """One over the scatter expected of each reading (n,) [1/K]: the instrument's, and more where place or moment matter."""
        parts = []
        for probe in self.firing.probes:
            here = read_by(probe, course, self.firing.flask)
            pace = np.gradient(here, probe.times) if here.size > 1 else np.zeros(here.size)
            parts.append(1 / np.sqrt(FLOOR**2 + self.displaced(probe, course) ** 2 + (CLOCK * pace) ** 2))
        return np.concatenate(parts)

    def displaced(self, probe: Probe, course: Course) -> Floats:
        """What a standard deviation of a probe's place changes in its reading (n,) [K]."""
        if probe.on_wall:
            return np.zeros(probe.times.size)
        out, into = (read_by(probe, course, self.firing.flask, off=off) for off in (PULL, -PULL))
        return np.asarray((out - into) / (2 * PULL), dtype=np.float64)

    def shapes(self, free: Ints, at: Floats) -> Floats:
        """What one standard deviation of each error that holds for all of the record adds to the readings (n, q) [K].

        Each probe's place and scale, the kiln's scale, and the factors that are not looked for.
        """
        course = self.course(at)
        given, out = self.read(course), []
        for probe, part in zip(self.firing.probes, self.slices, strict=True):
            for shape in (self.displaced(probe, course), TRUE_SHARE * (probe.temperatures - ZERO_CELSIUS_K)):
                out.append(np.zeros(self.seen.size))
                out[-1][part] = shape
        kiln = self.firing.kiln
        hotter = replace(kiln, temperatures=kiln.temperatures + TRUE_SHARE * (kiln.temperatures - ZERO_CELSIUS_K))
        out.append(self.read(run(self.firing, _factors(at), kiln=hotter)) - given)
        held = np.setdiff1d(np.arange(3), free)
        moved = slopes(self.question(np.arange(3)), at, given) if held.size else np.zeros((0, 3))
        return np.column_stack(out + [moved[:, i] * self.doubt[i] for i in held])

    def fitted(self, at: Floats, free: Ints, *, last: Round | None = None) -> Fitted:
        """What came of it, in words of factors; without a last round nothing was told."""
        factors, course = _factors(at), self.course(at)
        off = self.doubt.copy()
        if last:
            off[free] = np.sqrt(np.diag(last.covariance) + GRID**2)
        given = [read_by(probe, course, self.firing.flask) for probe in self.firing.probes]
        steps = [float(np.median(np.diff(p.times))) for p in self.firing.probes if p.times.size > 1]
        return Fitted(
            factors=factors,
            uncertainty=Factors(
                conductivity=float(factors.conductivity * off[0]), film=float(factors.film * off[1]), water=float(off[2])
            ),
            told=tuple(NAMES[i] for i in free),
            course=course,
            given=tuple(given),
            scatter=tuple(
                float(np.sqrt(np.mean((p.temperatures - g) ** 2))) for p, g in zip(self.firing.probes, given, strict=True)
            ),
            together=(last.together if last else 1.0) * max(steps, default=0.0),
            rounds=last.number if last else 0,
            ended=last.ended if last else True,
        )


def _parameters(factors: Factors) -> Floats:
    return np.array([math.log(factors.conductivity), math.log(factors.film), factors.water])


def _factors(at: Floats) -> Factors:
    return Factors(conductivity=math.exp(at[0]), film=math.exp(at[1]), water=float(at[2]))
