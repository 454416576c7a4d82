"""Findings of the freezing: what is cut off from its feed, what cannot be said, what was not computed."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from pourwell.errors import PourwellError
from pourwell.findings import Code, Finding, Severity
from pourwell.materials.library import Library
from pourwell.steps.freeze.model import Change, Freezing, Pool, SprueClock
from pourwell.steps.freeze.words import bench_time, listed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facts:
    """What the checks of the freezing look at."""

    freezing: Freezing
    library: Library


def stays_fed(facts: Facts) -> Iterator[Finding]:
    """Pieces that lose their feed, each kind once, with the places that do."""
    frozen = facts.freezing
    limit = facts.library.rules["feeding_solid_low_fraction"]
    for said, severity, code in (
        ("cut off", Severity.WARN, "freeze-cut-off"),
        ("uncertain", Severity.NOTE, "freeze-uncertain"),
    ):
        kinds: dict[str, list[SprueClock]] = {}
        for clock in frozen.clocks:
            if clock.verdict == said:
                kinds.setdefault(clock.piece, []).append(clock)
        for piece, clocks in kinds.items():
            worst = max(clocks, key=lambda clock: clock.void_high_mm3)
            pool = next((p for p in frozen.pools if p.place == worst.place), None)
            yield Finding(
                code=code,
                severity=severity,
                where=f"piece {piece}",
                says=_says(clocks, pool, firm=said == "cut off"),
                do=_do([c for c in frozen.changes if c.piece == piece]),
                measure=f"{worst.void_low_mm3:.1f} to {worst.void_high_mm3:.1f} mm³ not fed",
                limit=f"followed to a solid fraction of {limit.value:g}",
                source=limit.source,
            )


def _says(clocks: list[SprueClock], pool: Pool | None, *, firm: bool) -> str:
    """What happens, in a sentence or two."""
    places = listed([clock.place for clock in clocks])
    which = f"number {places} on the tree" if len(clocks) == 1 else f"numbers {places} on the tree"
    lead = "loses its feed before it is solid" if firm else "may lose its feed before it is solid: a slow and a fast mould disagree"
    if pool is None:
        return f"It {lead} ({which})."
    shut, solid = (bench_time(t.value_s) for t in (pool.lost, pool.solid))
    if shut == solid:
        shut, solid = (f"{t.value_s:.1f} s" for t in (pool.lost, pool.solid))
    return (
        f"It {lead} ({which}): {pool.where}, metal is still liquid after {shut}, when the way to it has shut, until {solid}. "
        f"There it {'shrinks' if firm else 'would shrink'} into pits."
    )


def _do(tried: list[Change]) -> str:
    """What was computed to heal it; else what is left to do."""
    for change in tried:
        if change.helps:
            return change.does
    if tried:
        return "Nothing that was tried heals it: move its sprue to the heaviest section, or make the neck between thicker."
    return "Feed its heaviest section: set the sprue there, or a second one, or make the neck between thicker."


def walls_resolved(facts: Facts) -> Iterator[Finding]:
    """Walls of fewer cells than carry their heat."""
    frozen = facts.freezing
    if frozen.thinnest_cells_count < THINNEST_CELLS:
        yield Finding(
            code="freeze-thin",
            severity=Severity.NOTE,
            where="tree",
            says="A wall is thinner than two cells of the grid: how it freezes is rough there.",
            do="Compute it on a finer grid: add --fine, or give --edge-mm.",
            measure=f"{frozen.thinnest_cells_count:.1f} cells across",
            limit=f"{THINNEST_CELLS:g} cells",
            source="own choice",
        )


THINNEST_CELLS = 1.5
"""Below so many cells across, times of a wall are off by more than a tenth. Own choice after a plate between two grids."""


def not_computed(err: PourwellError) -> Finding:
    """Why the freezing of a plan was not computed."""
    return Finding(
        code="freeze-not-computed",
        severity=Severity.NOTE,
        where="tree",
        says=f"How the tree freezes was not computed. {err.what} {err.why}".strip(),
        do=err.try_this or "Plan again once the cause is mended.",
        source="own choice",
    )


CODES = (
    Code(code="freeze-cut-off", severities=(Severity.WARN,), about="A piece loses its feed before it is solid, by computation."),
    Code(code="freeze-uncertain", severities=(Severity.NOTE,), about="Whether a piece stays fed cannot be said for certain."),
    Code(code="freeze-thin", severities=(Severity.NOTE,), about="A wall is too thin for the grid of the freezing."),
    Code(code="freeze-not-computed", severities=(Severity.NOTE,), about="How the tree freezes could not be computed, and why."),
)
CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (stays_fed, walls_resolved)


def findings(facts: Facts) -> tuple[Finding, ...]:
    """All findings of the freezing."""
    return tuple(finding for check in CHECKS for finding in check(facts))
