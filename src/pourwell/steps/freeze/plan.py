"""How a tree freezes: three runs, as the rows say and at both ends of what is uncertain, told in the words of the bench."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.errors import PourwellError
from pourwell.findings import Finding
from pourwell.materials.library import Library
from pourwell.physics.niyama import Mush, dimensionless
from pourwell.physics.properties import Substance
from pourwell.physics.thin import THINNEST
from pourwell.steps.freeze import checks
from pourwell.steps.freeze.cast import Cast, Fed, Shape, as_stored, computes, metal_substance
from pourwell.steps.freeze.change import changes
from pourwell.steps.freeze.feed import LIMITS, Feeding, feeding
from pourwell.steps.freeze.model import Change, Fields, Floats, Freezing, PieceFreezing, Spell
from pourwell.steps.freeze.refuse import why_not
from pourwell.steps.freeze.run import RUNS, Meshed, Run, Tell, TooCoarseError, meshed, run
from pourwell.steps.pattern.model import Point
from pourwell.units import c_from_k, mm_from_m

DRAFT_MM: Final = 1.0
FINE_MM: Final = 0.5
"""Edges of the cells at the metal. Own choice: a draft in seconds, a fine run in half a minute on two cores."""
ARM_SPACING: Final = 10e-6
"""Spacing of the arms of dendrites after a second of freezing [m]; it grows with the third root of time. Own estimate."""
MUSH_PRESSURE: Final = 1e5
"""What drives liquid into the mush [Pa]: about the air above the button. Own estimate."""
MUSH_VISCOSITY: Final = 4e-3
"""Of liquid silver alloys [Pa s], from memory."""
RIM: Final = "mould at the wall"
"""Name of the curve that is read where the mould meets the flask."""
MOST_HALVINGS: Final = 2
"""So often the cells are halved for a tree that falls apart on them: from the draft's 1 mm to 0.25 mm."""
KNIFE_EDGES: Final = 0.01
"""So many places to each metal cell may be thin without being a wall: edges where two faces meet at an acute angle. Own choice."""
NARROW_K: Final = 1.0
"""With a narrower freezing range there is no mush to speak of."""
NOT_MODELLED: Final = (
    "filling: the mould is taken as full at once, all metal at its temperature",
    "the way from kiln to table: the flask starts at one temperature",
    "metal that flows while it freezes, and skins that sink in",
    "gas: oxygen, steam and burnt carbon make holes of their own",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Froze:
    """How a tree froze, what is known of every cell, and what should be said of it."""

    freezing: Freezing
    fields: Fields
    findings: tuple[Finding, ...]


def freeze(cast: Cast, *, fine: bool, library: Library, tell: Tell, edge_mm: float | None = None) -> Froze:
    """Freeze a tree.

    `edge_mm` is the edge of the cells at the metal, in place of the draft's or the fine one, which is halved where the tree falls
    apart on it. `tell` hears what is done; what it raises ends the work.

    Raises
    ------
    BadRequestError
        For what makes no sense: see `refuse` and `run.meshed`.
    BadDataError
        For bodies that are not closed.
    UnsoundResultError
        If the solver does not converge or loses heat.
    """
    cast = as_stored(cast)
    metal = metal_substance(cast.alloy, library)
    wrong = why_not(cast, metal)
    if wrong:
        raise wrong
    tell("Meshing the tree")
    shape = Shape(cast)
    edge, made = _whole(cast, shape, edge_mm=edge_mm, fine=fine)
    runs = []
    for number, ends in enumerate(RUNS, start=1):

        def told(text: str, number: int = number) -> None:
            tell(f"{text}, run {number} of {len(RUNS)}")

        runs.append(run(cast, made, metal=metal, library=library, ends=ends, tell=told, probes=made.probes, glow=True))
    tell("Following the liquid")
    found = feeding(cast, shape, made, runs=runs, library=library)
    alone = feeding(cast, shape, made, runs=runs[:1], library=library).clocks
    tried = changes(cast, found.clocks, alone=alone, edge_mm=edge, metal=metal, library=library, tell=tell)
    freezing = _freezing(cast, shape, made=made, runs=runs, found=found, tried=tried, fine=fine, metal=metal, library=library)
    fields = _fields(shape, made, runs, found=found, metal=metal, library=library)
    return Froze(freezing=freezing, fields=fields, findings=checks.findings(checks.Facts(freezing=freezing, library=library)))


def _whole(cast: Cast, shape: Shape, *, edge_mm: float | None, fine: bool) -> tuple[float, Meshed]:
    """Edge of the cells [mm] and the mesh; where nobody has set the edge, it is halved until the tree hangs together."""
    edge = edge_mm if edge_mm is not None else FINE_MM if fine else DRAFT_MM
    for _ in range(MOST_HALVINGS if edge_mm is None else 0):
        try:
            return edge, meshed(cast, shape, edge_mm=edge)
        except TooCoarseError:
            edge /= 2
    return edge, meshed(cast, shape, edge_mm=edge)


def freeze_or_why(cast: Cast, *, fine: bool, library: Library, tell: Tell) -> Froze | Finding:
    """The same, or a finding that says why it could not be computed: a plan stands without it."""
    try:
        return freeze(cast, fine=fine, library=library, tell=tell)
    except PourwellError as err:
        return checks.not_computed(err)


def thinnest(thin: Floats, metal_cells: int) -> float:
    """Cells across the thinnest wall, but for as many places as lie along the sharp edges of every solid.

    thin (k,): cells across at places of less than two.
    """
    passed_over = int(KNIFE_EDGES * metal_cells)
    return float(np.sort(thin)[passed_over]) if thin.size > passed_over else THINNEST


def spell(values: list[float]) -> Spell:
    """A time of the three runs."""
    return Spell(value_s=values[0], low_s=min(values), high_s=max(values))


def point(place: Floats) -> Point:
    """A place as three numbers."""
    x, y, z = np.asarray(place).tolist()
    return x, y, z


def _freezing(
    cast: Cast,
    shape: Shape,
    *,
    made: Meshed,
    runs: list[Run],
    found: Feeding,
    tried: tuple[Change, ...],
    fine: bool,
    metal: Substance,
    library: Library,
) -> Freezing:
    first = runs[0]
    cells = first.frozen.cells
    button = np.flatnonzero(made.mesh.body[cells] == shape.names.index("button"))
    where = int(cells[_last(first, np.arange(cells.size))])
    computed = computes(cast.alloy, library)
    return Freezing(
        alloy=cast.alloy.id,
        investment=cast.investment.id,
        flask=cast.flask.id,
        metal_c=cast.metal_c,
        flask_c=cast.flask_c,
        edge_mm=mm_from_m(made.grid.spacing),
        fine=fine,
        curve="computed" if computed else "straight",
        curve_source="ag-au-cu" if computed else cast.alloy.solidus_c.source,
        liquidus_c=c_from_k(metal.liquidus),
        solidus_c=c_from_k(metal.solidus),
        curve_band_k=library.rule("computed_melting_band_k") if computed else 0.0,
        feeds_to_fraction=library.rule(LIMITS[0]),
        pieces=tuple(_piece(fed, shape, made=made, runs=runs) for fed in cast.fed),
        clocks=found.clocks,
        pools=found.pools,
        changes=tried,
        button=_solid(runs, button),
        last=_solid(runs, np.arange(cells.size)),
        last_at_mm=point(shape.frame.to_tree(made.mesh.centre[[where]])[0]),
        dark=spell([r.dark_s for r in runs]),
        outside_c=first.outside_c,
        outside_high_c=max(r.outside_c for r in runs),
        cells_count=int(made.mesh.volume.size),
        metal_cells_count=int(cells.size),
        steps_count=first.frozen.steps,
        ledger_fraction=max(r.frozen.ledger.share for r in runs),
        thinnest_cells_count=thinnest(made.grid.thin.cells, int(cells.size)),
        not_modelled=NOT_MODELLED,
    )


def _last(run: Run, some: NDArray[np.intp]) -> int:
    """Which of some metal cells is solid last, place among all of them."""
    return int(some[int(np.argmax(run.frozen.end[some]))])


def _solid(runs: list[Run], some: NDArray[np.intp]) -> Spell:
    """When some metal cells are solid, with its band."""
    return spell([float(run.frozen.end[_last(run, some)]) for run in runs])


def _piece(fed: Fed, shape: Shape, *, made: Meshed, runs: list[Run]) -> PieceFreezing:
    """When and where one piece is solid."""
    cells = runs[0].frozen.cells
    mine = np.flatnonzero(made.mesh.body[cells] == shape.piece(fed.number))
    last = cells[[_last(runs[0], mine)]]
    return PieceFreezing(
        place=fed.number,
        piece=fed.piece,
        first_s=float(runs[0].frozen.end[mine].min()),
        last=_solid(runs, mine),
        last_at_mm=point(shape.frame.to_tree(made.mesh.centre[last])[0]),
        local_s=float(np.median(runs[0].frozen.local_time[mine])),
    )


def _fields(shape: Shape, made: Meshed, runs: list[Run], *, found: Feeding, metal: Substance, library: Library) -> Fields:
    """What the first run knows of every cell, and the curves of all."""
    first, mesh = runs[0], made.mesh
    frozen = first.frozen
    cells = frozen.cells
    curves = np.stack([_on_times(r, first.curve_times) for r in runs])
    return Fields(
        centre_mm=shape.frame.to_tree(mesh.centre[cells]),
        size_mm=_singles(mm_from_m(1.0) * made.grid.cells.size[cells]),
        body=mesh.body[cells].astype(np.int32),
        begin_s=_singles(frozen.begin),
        end_s=_singles(frozen.end),
        rate_k_per_s=_singles(frozen.rate),
        gradient_k_per_mm=_singles(frozen.gradient / mm_from_m(1.0)),
        niyama=_singles(_niyama(first, metal, library)),
        pool=found.pool,
        solid_fraction=_singles(frozen.levels),
        passed_s=_singles(frozen.passed),
        curve_s=_singles(first.curve_times),
        curve_c=_singles(curves[0]),
        curve_low_c=_singles(curves.min(axis=0)),
        curve_high_c=_singles(curves.max(axis=0)),
        curve_names=(*shape.names, RIM),
        bodies=shape.names,
    )


def _on_times(run: Run, times: Floats) -> Floats:
    """The cooling curves of a run at other times (s,): (s, p) [degC], NaN beyond its end."""
    columns = [np.interp(times, run.curve_times, column, right=np.nan) for column in run.curve_temperatures.T]
    out: Floats = c_from_k(0.0) + np.stack(columns, axis=1)
    return out


def _niyama(first: Run, metal: Substance, library: Library) -> Floats:
    """Dimensionless Niyama number (q,), NaN for a metal without a mush."""
    frozen, wide = first.frozen, metal.liquidus - metal.solidus
    if wide < NARROW_K:
        return np.full(frozen.cells.size, np.nan)
    contraction = library.rule("freezing_contraction_fraction")
    unit = Mush(arm_spacing=1.0, pressure=MUSH_PRESSURE, viscosity=MUSH_VISCOSITY, contraction=contraction, freezing_range=wide)
    spacing: Floats = ARM_SPACING * np.cbrt(np.maximum(frozen.local_time, 0.0))
    return spacing * dimensionless(frozen.gradient, frozen.rate, unit)


def _singles(values: Floats) -> NDArray[np.float32]:
    return np.asarray(values, dtype=np.float32)
