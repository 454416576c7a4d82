"""A plan put together: what all runs of a job share, one flask with its tree, its numbers, and all of it as a Plan."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from types import MappingProxyType, ModuleType
from typing import Final

from pourwell.findings import Finding, in_order
from pourwell.geometry.mesh import Mesh
from pourwell.leaning import leaned_on
from pourwell.materials.library import Library
from pourwell.materials.model import Alloy, Investment, PatternMaterial
from pourwell.materials.studio import Studio
from pourwell.plan import Plan
from pourwell.request import Request
from pourwell.steps.burnout import checks as burnout_checks
from pourwell.steps.burnout import hour_checks, inside_checks, room
from pourwell.steps.burnout.model import Programme
from pourwell.steps.burnout.plan import timed
from pourwell.steps.day import checks as day_checks
from pourwell.steps.day import week_checks
from pourwell.steps.day.checklist import Bench, checklist
from pourwell.steps.day.clock import after
from pourwell.steps.day.model import Entry, KilnLoad
from pourwell.steps.flask import checks as flask_checks
from pourwell.steps.flask.model import Flask, Mix
from pourwell.steps.freeze import checks as freeze_checks
from pourwell.steps.freeze.plan import Froze
from pourwell.steps.melt import checks as melt_checks
from pourwell.steps.melt.model import Charge, Temperatures
from pourwell.steps.pattern import checks as pattern_checks
from pourwell.steps.pattern import feature_checks, print_checks, print_notice
from pourwell.steps.pattern.model import Pattern
from pourwell.steps.pour import checks as pour_checks
from pourwell.steps.pour.model import Pour, Quench
from pourwell.steps.tree import checks as tree_checks
from pourwell.steps.tree.model import Tree, WeighedTree

CHECKS: Final[Mapping[str, ModuleType]] = MappingProxyType(
    {
        "pattern": pattern_checks,
        "features": feature_checks,
        "print": print_checks,
        "print beforehand": print_notice,
        "tree": tree_checks,
        "flask": flask_checks,
        "melt": melt_checks,
        "burnout": burnout_checks,
        "inside": inside_checks,
        "hours": hour_checks,
        "kiln room": room,
        "freeze": freeze_checks,
        "pour": pour_checks,
        "day": day_checks,
        "week": week_checks,
    }
)
"""The checks of every step, in the order of the job."""

Measured = tuple[Pattern, tuple[Finding, ...]]
UNKNOWN: Final = (
    "volume, walls and finger bore: whether a wall is too thin, what size the ring will be",
    "sprue places, gauges and lengths: whether each section is fed",
    "clearances: try them with a rod before the flask is closed",
    "the section that flask and metal temperature are chosen for: taken as medium",
    "the weight of each piece after casting and finishing",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What all runs of a job share."""

    request: Request
    alloy: Alloy
    investment: Investment
    material: PatternMaterial
    studio: Studio
    library: Library
    heat: Temperatures
    now: datetime
    tell: Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Load:
    """One flask with what stands in it."""

    flask: Flask
    measured: tuple[Measured, ...]
    tree: Tree | None
    weighed: WeighedTree | None
    bodies: tuple[tuple[str, Mesh], ...]
    cast: Mesh | None
    tree_facts: tree_checks.Facts | None

    @property
    def patterns(self) -> tuple[Pattern, ...]:
        """The kinds of pieces in this flask, each with its count there."""
        return tuple(p for p, _ in self.measured)

    @property
    def thinnest_mm(self) -> float | None:
        """The thinnest wall of any piece in the flask; None when no shape is known."""
        return min((p.piece.wall.thinnest_mm for p in self.patterns), default=None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Figures:
    """The numbers of one flask, before it has clock times."""

    load: Load
    mix: Mix
    charge: Charge
    pour: Pour
    quench: Quench
    froze: Froze | None = None
    unfrozen: Finding | None = None
    """Why the freezing that was asked for could not be computed."""


def assemble(
    setting: Setting,
    figures: Figures,
    programme: Programme,
    *,
    entries: tuple[Entry, ...],
    found: tuple[Finding, ...],
    number: int,
    kiln_load: KilnLoad,
) -> Plan:
    """One plan: segments with their hours, check list, all findings in order, what it leans on."""
    request, studio, load = setting.request, setting.studio, figures.load
    kiln_on_at = next(e.starts_at for e in entries if e.key == "kiln")
    bench = bench_of(setting, figures, programme, entries=entries, stay=kiln_load.runs[kiln_load.runs.index(number) + 1 :])
    return Plan(
        request=request,
        number=number,
        title=request.title or usual_title(load),
        made_at=setting.now,
        library_digest=setting.library.digest,
        package_version=version("pourwell"),
        studio=studio,
        alloy=setting.alloy,
        investment=setting.investment,
        pattern_material=setting.material,
        patterns=load.patterns,
        tree=load.tree,
        weighed=load.weighed,
        tree_bodies=load.bodies,
        tree_cast=load.cast,
        flask=load.flask,
        mix=figures.mix,
        charge=figures.charge,
        temperatures=setting.heat,
        programme=programme,
        segments=timed(programme, after(kiln_on_at, programme.total_min, zone=studio.zone), zone=studio.zone),
        kiln_load=kiln_load,
        pour=figures.pour,
        quench=figures.quench,
        timeline=entries,
        checklist=checklist(bench),
        findings=tuple(in_order((*findings_of(setting, figures, programme), *found))),
        leaned=leaned_on(setting.library, (setting.alloy, setting.investment, setting.material), programme=programme.id),
        unknown=UNKNOWN if load.weighed else (),
        freezing=figures.froze.freezing if figures.froze else None,
        fields=figures.froze.fields if figures.froze else None,
    )


def bench_of(
    setting: Setting, figures: Figures, programme: Programme, *, entries: tuple[Entry, ...], stay: tuple[int, ...]
) -> Bench:
    """What the check list of one flask speaks of."""
    load = figures.load
    return Bench(
        pieces=tuple(p.piece for p in load.patterns),
        tree=load.tree,
        weighed=load.weighed,
        alloy=setting.alloy,
        investment=setting.investment,
        pattern_material=setting.material,
        flask=load.flask,
        mix=figures.mix,
        charge=figures.charge,
        temperatures=setting.heat,
        programme=programme,
        soak_min=programme.soak_min,
        pour=figures.pour,
        quench=figures.quench,
        entries=entries,
        studio=setting.studio,
        stay=stay,
    )


def findings_of(setting: Setting, figures: Figures, programme: Programme) -> Iterator[Finding]:
    """The findings of one flask, step by step; those of the day come with its clock times."""
    request, studio, library, load = setting.request, setting.studio, setting.library, figures.load
    alloy, investment, material = setting.alloy, setting.investment, setting.material
    for _, found in load.measured:
        yield from found
    if load.tree_facts:
        yield from tree_checks.findings(load.tree_facts)
    yield from flask_checks.findings(
        flask_checks.Facts(
            flask=load.flask,
            mix=figures.mix,
            investment=investment,
            pattern_material=material,
            stones=request.stones,
            studio=studio,
            library=library,
            guessed=load.weighed is not None and request.flask is None,
            tree_cm3=load.weighed.body_g / alloy.density_g_per_cm3.value if load.weighed else None,
        )
    )
    yield from melt_checks.findings(
        melt_checks.Facts(
            alloy=alloy,
            investment=investment,
            temperatures=setting.heat,
            charge=figures.charge,
            library=library,
            mixed=load.weighed is not None and load.weighed.mixed,
        )
    )
    yield from burnout_checks.findings(
        burnout_checks.Facts(
            programme=programme,
            investment=investment,
            pattern_material=material,
            flask=load.flask,
            flask_c=setting.heat.flask_c,
            kiln=studio.kiln,
            stones=request.stones,
            own=request.programme is not None,
            library=library,
        )
    )
    if figures.froze:
        yield from figures.froze.findings
    if figures.unfrozen:
        yield figures.unfrozen
    yield from pour_checks.findings(
        pour_checks.Facts(
            alloy=alloy, pour=figures.pour, quench=figures.quench, thinnest_mm=load.thinnest_mm, studio=studio, library=library
        )
    )


def usual_title(load: Load) -> str:
    """What stands in the flask, in words."""
    if load.weighed:
        return f"Tree of {load.weighed.pattern_g:g} g"
    return ", ".join(f"{p.piece.count} {p.piece.name}" for p in load.patterns)
