"""One run of the number steps with everything at hand, for the tests of flask, melt, burnout and pour."""

from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from typing import Any

from pourwell.findings import Finding
from pourwell.materials.library import Library, load_library
from pourwell.materials.model import Alloy, FlaskRow, Investment, PatternMaterial
from pourwell.materials.model import Programme as ProgrammeRow
from pourwell.materials.studio import Studio
from pourwell.steps.burnout import checks as burnout_checks
from pourwell.steps.burnout.legs import Case
from pourwell.steps.burnout.model import Programme, Reading
from pourwell.steps.burnout.plan import case_of, programme
from pourwell.steps.flask import checks as flask_checks
from pourwell.steps.flask.model import Flask, Mix
from pourwell.steps.flask.plan import base_for, mix, room
from pourwell.steps.melt import checks as melt_checks
from pourwell.steps.melt.model import Charge, Temperatures
from pourwell.steps.melt.plan import charge, temperatures
from pourwell.steps.pour import checks as pour_checks
from pourwell.steps.pour.model import Pour, Quench
from pourwell.steps.pour.plan import pour, quench

SHOWS = Reading(never_over_c=734, off_c=754)
"""What a kiln with a thermocouple 5.5 K wrong may show: gypsum is warned of over 740 and lost over 760 degC."""


@cache
def library() -> Library:
    return load_library()


def altered(row: Any, **changes: Any) -> Any:
    """A row with some values changed; a bare number is the studio's own figure, as in its file."""
    return type(row).model_validate({**row.model_dump(), **changes}, context={"own": True})


def with_row(shelf: str, row: Any) -> Library:
    """The library with one more row."""
    return replace(library(), **{shelf: {**getattr(library(), shelf), row.id: row}})


def level(value: float) -> dict[str, Any]:
    """A curve that is level over the flask's size."""
    return {"table": [(40, value)], "x_unit": "mm", "unit": "", "source": "studio", "grade": "supplier"}


def own_programme(*steps: tuple[float | str, float, float], key: str = "maker", stones: bool = False) -> ProgrammeRow:
    """A programme as a user enters it: target, ramp, hold."""
    return ProgrammeRow.model_validate(
        {
            "id": key,
            "name": "the maker's schedule",
            "stones": stones,
            "steps": [
                {"target_c": t, "ramp_c_per_h": level(r), "hold_min": level(h), "why": "as the maker says"} for t, r, h in steps
            ],
            "source": "studio",
            "grade": "supplier",
        }
    )


def flask_of(diameter_mm: float, height_mm: float, *, studio: Studio | None = None, **more: Any) -> Flask:
    studio = studio or Studio()
    row = FlaskRow(id=f"{diameter_mm:g}x{height_mm:g}", diameter_mm=diameter_mm, height_mm=height_mm, wall_mm=2.0, **more)
    base, _ = base_for(row, studio, library())
    return room(row, base, studio=studio, library=library())


@dataclass(frozen=True, kw_only=True)
class Run:
    """What came out of the number steps."""

    alloy: Alloy
    investment: Investment
    pattern_material: PatternMaterial
    flask: Flask
    mix: Mix
    temperatures: Temperatures
    charge: Charge
    burnout: Case
    named: str | None
    pour: Pour
    quench: Quench
    studio: Studio
    stones: bool
    thinnest_mm: float | None
    mixed: bool
    shelf: Library

    @cached_property
    def programme(self) -> Programme:
        """Worked out when it is asked for: pour and melt do without."""
        return programme(self.burnout, own=self.named)

    @property
    def own(self) -> bool:
        return self.named is not None

    @property
    def findings(self) -> tuple[Finding, ...]:
        facts = {name: getattr(self, name) for name in ("mix", "flask", "investment", "pattern_material", "stones", "studio")}
        return (
            *flask_checks.findings(flask_checks.Facts(**facts, library=self.shelf)),
            *melt_checks.findings(
                melt_checks.Facts(
                    alloy=self.alloy,
                    investment=self.investment,
                    temperatures=self.temperatures,
                    charge=self.charge,
                    library=self.shelf,
                    mixed=self.mixed,
                )
            ),
            *burnout_checks.findings(
                burnout_checks.Facts(
                    programme=self.programme,
                    investment=self.investment,
                    pattern_material=self.pattern_material,
                    flask=self.flask,
                    flask_c=self.temperatures.flask_c,
                    kiln=self.studio.kiln,
                    stones=self.stones,
                    own=self.own,
                    library=self.shelf,
                )
            ),
            *pour_checks.findings(
                pour_checks.Facts(
                    alloy=self.alloy,
                    pour=self.pour,
                    quench=self.quench,
                    thinnest_mm=self.thinnest_mm,
                    studio=self.studio,
                    library=self.shelf,
                )
            ),
        )

    @property
    def codes(self) -> list[str]:
        return [f.code for f in self.findings]

    def finding(self, code: str) -> Finding:
        (only,) = (f for f in self.findings if f.code == code)
        return only

    def severity(self, code: str) -> str:
        return str(self.finding(code).severity)


@dataclass(frozen=True, kw_only=True)
class Ask:
    """What is asked for; the defaults are a plain sterling band in wax, a studio that says nothing."""

    alloy: str | Alloy = "sterling-925"
    investment: str | Investment = "gypsum-standard"
    pattern: str = "wax-injection"
    size: tuple[float, float] = (76, 100)
    perforated: bool = False
    section_mm: float | None = 1.8
    metal_c: float | None = None
    flask_c: float | None = None
    studio: Studio = field(default_factory=Studio)
    stones: bool = False
    metal_g: float = 60.0
    returns_fraction: float = 0.0
    own_alloying: bool = False
    own: str | None = None
    thinnest_mm: float | None = 0.8
    mixed: bool = False
    head_mm: float | None = 50.0
    shelf: Library | None = None


def run(**asked: Any) -> Run:
    """All number steps of one flask, in their order, for an `Ask`."""
    ask = Ask(**asked)
    shelf = ask.shelf or library()
    alloy = shelf.alloy(ask.alloy) if isinstance(ask.alloy, str) else ask.alloy
    investment = shelf.investment(ask.investment) if isinstance(ask.investment, str) else ask.investment
    material, flask = shelf.pattern(ask.pattern), flask_of(*ask.size, studio=ask.studio, perforated=ask.perforated)
    heat = temperatures(
        alloy,
        investment=investment,
        section_mm=ask.section_mm,
        metal_c=ask.metal_c,
        flask_c=ask.flask_c,
        library=shelf,
        way=ask.studio.casting.way,
        stones=ask.stones,
    )
    common: dict[str, Any] = {"alloy": alloy, "investment": investment, "temperatures": heat, "library": shelf}
    poured = pour(**common, flask=flask, thinnest_mm=ask.thinnest_mm, head_mm=ask.head_mm, studio=ask.studio)
    return Run(
        alloy=alloy,
        investment=investment,
        pattern_material=material,
        flask=flask,
        mix=mix(flask, investment=investment, section=heat.section, studio=ask.studio, library=shelf),
        temperatures=heat,
        charge=weigh(ask, alloy, shelf),
        burnout=case_of(
            investment,
            pattern_material=material,
            flask=flask,
            flask_c=heat.flask_c,
            kiln=ask.studio.kiln,
            stones=ask.stones,
            library=shelf,
        ),
        named=ask.own,
        pour=poured,
        quench=quench(**common, flask=flask, metal_g=ask.metal_g, pour=poured, stones=ask.stones),
        studio=ask.studio,
        stones=ask.stones,
        thinnest_mm=ask.thinnest_mm,
        mixed=ask.mixed,
        shelf=shelf,
    )


def weigh(ask: Ask, alloy: Alloy, shelf: Library) -> Charge:
    return charge(
        ask.metal_g,
        low_g=ask.metal_g,
        high_g=ask.metal_g,
        alloy=alloy,
        melting=ask.studio.melting,
        returns_fraction=ask.returns_fraction,
        own_alloying=ask.own_alloying,
        library=shelf,
    )
