"""A plan: everything computed for one run before it starts. `files.plan_json` writes it, `docs/plan-format.md` documents it."""

from dataclasses import dataclass
from datetime import datetime

from pourwell.findings import Finding, Severity
from pourwell.geometry.mesh import Mesh
from pourwell.materials.model import Alloy, Investment, PatternMaterial
from pourwell.materials.studio import Studio
from pourwell.request import Request
from pourwell.steps.burnout.model import Programme, TimedSegment
from pourwell.steps.day.model import CheckStep, Entry, KilnLoad
from pourwell.steps.day.night import fires_overnight
from pourwell.steps.flask.model import Flask, Mix
from pourwell.steps.freeze.model import Fields, Freezing
from pourwell.steps.melt.model import Charge, Temperatures
from pourwell.steps.pattern.model import Pattern, doubt_about
from pourwell.steps.pour.model import Pour, Quench
from pourwell.steps.tree.model import Tree, WeighedTree


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaned:
    """A value of weak grade that the plan leaned on."""

    what: str
    value: float
    unit: str
    grade: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """One run. `patterns` and `tree` are empty and None when only a weight is known; `weighed` is None when shapes are known."""

    request: Request
    number: int
    title: str
    made_at: datetime
    library_digest: str
    package_version: str
    studio: Studio
    alloy: Alloy
    investment: Investment
    pattern_material: PatternMaterial
    patterns: tuple[Pattern, ...]
    tree: Tree | None
    weighed: WeighedTree | None
    tree_bodies: tuple[tuple[str, Mesh], ...]
    """Placed pieces, sprues, stem and button by name, for GLB."""
    tree_cast: Mesh | None
    """All of them as one closed solid, for STL and for freezing."""
    flask: Flask
    mix: Mix
    charge: Charge
    temperatures: Temperatures
    programme: Programme
    segments: tuple[TimedSegment, ...]
    kiln_load: KilnLoad
    pour: Pour
    quench: Quench
    timeline: tuple[Entry, ...]
    checklist: tuple[CheckStep, ...]
    findings: tuple[Finding, ...]
    leaned: tuple[Leaned, ...]
    unknown: tuple[str, ...]
    """What cannot be known without a shape."""
    freezing: Freezing | None = None
    fields: Fields | None = None
    """What is known of every cell that froze; kept beside the plan."""

    @property
    def stopped(self) -> bool:
        """Does a finding stop this run."""
        return any(f.severity is Severity.STOP for f in self.findings)

    @property
    def doubt(self) -> str:
        """Why no metal, powder or water is weighed by this plan; empty if nothing is against it."""
        return doubt_about(p.piece for p in self.patterns)

    @property
    def kiln_on_at(self) -> datetime:
        """When the burnout starts."""
        return self.segments[0].starts_at

    @property
    def fires_overnight(self) -> bool:
        """Is the kiln on while nobody is awake."""
        return fires_overnight(self.kiln_on_at, self.pour_at, awake=self.studio.awake, zone=self.studio.zone)

    @property
    def pour_at(self) -> datetime:
        """When the metal is poured."""
        return next(e.starts_at for e in self.timeline if e.key == "pour")
