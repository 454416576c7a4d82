"""A tree from the pour to solid metal: when each place freezes, how fast and how steeply, and what probes would read. SI."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import BadRequestError, UnsoundResultError
from pourwell.physics.conduction import Setting
from pourwell.physics.feeding import LEVELS
from pourwell.physics.kernels.feeding import mark_levels
from pourwell.physics.kernels.record import Marks, mark, slopes
from pourwell.physics.kernels.state import solid_fractions
from pourwell.physics.march import Ledger, Marcher, Moment, Pace
from pourwell.physics.mesh import METAL, Mesh

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Watch:
    """What to look at on the way.

    probes: points [m], each read in the cell whose middle is nearest. times: moments [s] at which `see` is given the time and the
    solid fraction (q,) of the metal cells, straight between steps. each: called after every step with the state; what it does with
    it, or raises, is the caller's affair.
    """

    probes: tuple[tuple[float, float, float], ...] = ()
    times: tuple[float, ...] = ()
    see: Callable[[float, Floats], None] | None = None
    each: Callable[[Moment], None] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frozen:
    """How the metal froze; arrays (q,) go with `cells`, NaN where it did not freeze in time."""

    cells: NDArray[np.int32]
    """(q,) metal cells of the mesh."""
    begin: Floats
    """Time at which each falls below the liquidus [s]."""
    end: Floats
    """Time at which each is solid [s]."""
    levels: Floats
    """(k,) solid fractions from 0 to 1."""
    passed: Floats
    """(q, k) when each cell passes them, the last time that it does [s]."""
    rate: Floats
    """Cooling rate over the step in which it became solid [K/s]."""
    gradient: Floats
    """Size of the temperature's gradient before that step [K/m]."""
    probe_times: Floats
    """(s,) [s]."""
    probe_temperatures: Floats
    """(s, p) [K]."""
    temperature: Floats
    """(n,) of all cells at the end [K]."""
    time: float
    ledger: Ledger
    steps: int
    newton: int
    products: int
    liquid_left: float
    """Volume of metal that is not solid at the end [m3]."""

    @property
    def local_time(self) -> Floats:
        """Local freezing time, from liquidus to solid (q,) [s]."""
        local: Floats = self.end - self.begin
        return local


def solidify(
    mesh: Mesh, setting: Setting, start: Floats, *, pace: Pace | None = None, watch: Watch | None = None, until: float = math.inf
) -> Frozen:
    """March from temperatures `start` (n,) [K] until all metal is solid, or to a time [s].

    Raises
    ------
    BadRequestError
        If there is no metal, it does not melt, it is not liquid at the start, or nothing would ever cool it.
    UnsoundResultError
        If a step does not converge, or heat goes missing.
    """
    metal = setting.substances[METAL]
    cells, seen = mesh.metal, watch or Watch()
    _refuse(mesh, setting, start)
    marcher = Marcher(mesh, setting, start, pace=pace or Pace())
    marks = _unmarked(cells.size)
    nearest = [mesh.nearest(place) for place in seen.probes]
    times, readings, waiting = [0.0], [start[nearest]], sorted(seen.times)
    levels = np.array(LEVELS)
    heats, passed = metal.heat_at_solid(levels), np.full((cells.size, levels.size), np.nan)
    steps, left, moment = 0, cells.size, None
    rows, centre, kind = marcher.balance.rows, np.array(mesh.centre), np.array(mesh.kind)
    while left and marcher.time < until * (1 - 1e-12):
        moment = marcher.step(until - marcher.time)
        span = (moment.time - moment.step, moment.step)
        fresh = np.isnan(marks.end)
        mark_levels(passed, cells, moment.heat, before=moment.heat_before, fall=marks.fall, span=span, heats=heats)
        left = mark(marks, cells, moment.heat, before=moment.heat_before, span=span, ends=(metal.liquid_heat, metal.solid_heat))
        ended = np.flatnonzero(fresh & ~np.isnan(marks.end))
        marks.rate[ended] = (moment.temperature_before[cells[ended]] - moment.temperature[cells[ended]]) / moment.step
        slopes(marks, ended, cells[ended], rows=rows, temperature=moment.temperature_before, centre=centre, kind=kind)
        steps += 1
        times.append(moment.time)
        readings.append(moment.temperature[nearest])
        waiting = _show(seen, waiting, moment, marcher=marcher, cells=cells)
        if seen.each:
            seen.each(moment)
        if steps > MOST_STEPS:
            raise UnsoundResultError("The metal does not freeze.", why=f"After {moment.time:.3g} s some is still liquid.")
    if moment is None:
        raise BadRequestError("There is no time to freeze in.", try_this="Give an end after the pour.")
    return Frozen(
        cells=cells,
        begin=marks.begin,
        end=marks.end,
        levels=levels,
        passed=passed,
        rate=marks.rate,
        gradient=marks.gradient,
        probe_times=np.array(times),
        probe_temperatures=np.array(readings),
        temperature=moment.temperature.copy(),
        time=moment.time,
        ledger=moment.ledger,
        steps=steps,
        newton=moment.newton,
        products=moment.products,
        liquid_left=float(mesh.volume[cells][np.isnan(marks.end)].sum()),
    )


MOST_STEPS = 5000
"""With steps of 9 % of the time gone by these reach far beyond any freezing."""


def _unmarked(count: int) -> Marks:
    """The marks of cells of which nothing is known yet."""
    begin, end, rate, gradient = (np.full(count, np.nan) for _ in range(4))
    return Marks(begin, end, rate, gradient, fall=np.zeros(count))


def _refuse(mesh: Mesh, setting: Setting, start: Floats) -> None:
    """Say what makes no sense before the run."""
    metal = setting.substances[METAL]
    if not mesh.metal.size:
        raise BadRequestError("There is no metal in the mould.", try_this="Look whether the pieces lie in the flask.")
    if not math.isfinite(metal.liquidus):
        raise BadRequestError(
            "The metal does not melt.", why="Its curve is solid throughout.", try_this="Give it a freezing curve."
        )
    if start.shape != mesh.volume.shape or not np.all(np.isfinite(start)) or start.min() <= 0:
        raise BadRequestError("The start needs a temperature above zero kelvin for every cell.")
    coldest, hottest = float(start[mesh.kind == METAL].min()), float(start[mesh.kind != METAL].max(initial=0.0))
    if coldest < metal.liquidus:
        raise BadRequestError(
            "The metal is poured below its liquidus.",
            why=f"{coldest:.0f} K against {metal.liquidus:.0f} K.",
            try_this="Pour hotter, or choose the right alloy.",
        )
    if hottest >= metal.solidus:
        raise BadRequestError(
            "The flask is hotter than the metal's solidus.",
            why=f"{hottest:.0f} K against {metal.solidus:.0f} K: the metal would not freeze in it.",
            try_this="Let the flask cool before the pour.",
        )


def _show(watch: Watch, waiting: list[float], moment: Moment, *, marcher: Marcher, cells: NDArray[np.int32]) -> list[float]:
    """Give the watcher the solid fractions at the times that this step has passed; returns those still to come."""
    begin = moment.time - moment.step
    while waiting and waiting[0] <= moment.time and watch.see:
        share = (waiting[0] - begin) / moment.step
        two = np.empty((2, cells.size))
        for row, heat in zip(two, (moment.heat_before, moment.heat), strict=True):
            solid_fractions(marcher.balance.tables, cells, heat, kind=marcher.kind, out=row)
        watch.see(waiting[0], two[0] + share * (two[1] - two[0]))
        waiting = waiting[1:]
    return waiting
