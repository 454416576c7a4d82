"""What a row of the library is: every value with unit, source and grade (conventions C12).

A shipped row gives each value as a table `{value, unit, source, grade}`. A row in the studio's own folder may give a bare number or
a bare sentence: it is then the user's own (the bag, the refiner's sheet), in the unit that the key's suffix names.
"""

import re
from enum import StrEnum
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo, field_validator, model_validator

from pourwell.units import unit_of

STUDIO_SOURCE = "studio"
PRACTICE_SOURCE = "common practice, no source"
OWN_ESTIMATE = "own estimate"
OWN_CHOICE = "own choice"
WHOLE_PERCENT = 100.0


class Grade(StrEnum):
    """How far a value can be trusted."""

    MEASURED = "measured"
    HANDBOOK = "handbook"
    SUPPLIER = "supplier"
    PRACTICE = "practice"  # common practice of the trade, no source
    MEMORY = "memory"  # recalled, not read again
    ESTIMATE = "estimate"
    CHOICE = "choice"  # how this tool works; claims nothing about the world


WEAK_GRADES = (Grade.ESTIMATE, Grade.MEMORY)
"""Grades that the plan and the sheet name, because the result leans on them."""


class Row(BaseModel):
    """What all models of this file share: frozen, no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


class Quantity(Row):
    """A value with its unit, the ends of its range, where it comes from and how far to trust it."""

    value: float = Field(allow_inf_nan=False)
    low: float | None = Field(default=None, allow_inf_nan=False)
    high: float | None = Field(default=None, allow_inf_nan=False)
    unit: str
    source: str
    grade: Grade
    note: str = ""

    @property
    def ends(self) -> tuple[float, float]:
        """The low and high end of the range; both the value where no range is given."""
        return (
            self.value if self.low is None else self.low,
            self.value if self.high is None else self.high,
        )

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        low, high = self.ends
        if not low <= self.value <= high:
            raise ValueError(f"range is out of order: low {low:g}, value {self.value:g}, high {high:g}")
        return self


def _is_own(info: ValidationInfo) -> bool:
    """Does this row stand in the studio's own folder."""
    return bool(info.context and info.context.get("own"))


def _is_number(given: Any) -> bool:
    return isinstance(given, int | float) and not isinstance(given, bool)


def _shorthand(given: Any, info: ValidationInfo) -> Any:
    """A bare number in a studio's file is the user's own figure, in the unit of the key's suffix."""
    unit = unit_of(info.field_name or "")
    if _is_own(info):
        if _is_number(given):
            return {"value": given, "unit": unit, "source": STUDIO_SOURCE, "grade": Grade.SUPPLIER}
        if isinstance(given, str | bool | list):
            raise ValueError(f"is not a number; write one in {unit}, or a table with value, low and high")
        if isinstance(given, dict):
            given = {"unit": unit, "source": STUDIO_SOURCE, "grade": Grade.SUPPLIER, **given}
    if isinstance(given, dict) and given.get("unit") not in (None, unit):
        raise ValueError(f'is given in "{given["unit"]}" but the key ends in the suffix for "{unit}"')
    return given


Figure = Annotated[Quantity, BeforeValidator(_shorthand)]
"""A Quantity in a field whose suffix names its unit."""


class Curve(Row):
    """A table of (x, y), x ascending, read by straight lines between its points and level beyond its ends."""

    table: tuple[tuple[float, float], ...]
    x_unit: str
    unit: str
    source: str
    grade: Grade
    note: str = ""

    def at(self, x: float) -> float:
        """The value at x."""
        points = self.table
        if x <= points[0][0]:
            return points[0][1]
        for (x0, y0), (x1, y1) in pairwise(points):
            if x <= x1:
                return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
        return points[-1][1]

    @model_validator(mode="after")
    def _ascending(self) -> Self:
        xs = [x for x, _ in self.table]
        if not xs or any(b <= a for a, b in pairwise(xs)):
            raise ValueError("table is empty or its first column does not ascend")
        return self


class Words(Row):
    """A sentence of the trade with its source."""

    text: str
    source: str
    grade: Grade


def _bare_words(given: Any, info: ValidationInfo) -> Any:
    """A bare sentence in a studio's file is the user's own."""
    if _is_own(info) and isinstance(given, str):
        return {"text": given, "source": STUDIO_SOURCE, "grade": Grade.SUPPLIER}
    return given


Sentence = Annotated[Words, BeforeValidator(_bare_words)]
"""Words that a studio's file may give as a bare sentence."""

When = Literal["mix", "kiln", "weigh", "melt", "pour", "quench", "pickle", "finish", "elsewhere"]
"""The step of the check list at which a caution stands; elsewhere: check list or findings say it in words of their own."""


class Caution(Words):
    """A caution, and where in the check list it stands."""

    when: When | None = None
    """None: at preparing a pattern, mixing an investment, melting an alloy."""


def _caution_table(given: Any, info: ValidationInfo) -> Any:
    """A bare sentence in a studio's file, or a table without source, is the user's own."""
    if _is_own(info) and isinstance(given, dict):
        return {"source": STUDIO_SOURCE, "grade": Grade.SUPPLIER, **given}
    return _bare_words(given, info)


Warned = Annotated[Caution, BeforeValidator(_caution_table)]
"""A Caution that a studio's file may give as a bare sentence."""


def _level_curve(given: Any, info: ValidationInfo) -> Any:
    """A bare number in a studio's programme holds for a flask of any size."""
    if _is_own(info) and _is_number(given):
        unit = unit_of(info.field_name or "")
        return {"table": [[0.0, given]], "x_unit": "mm", "unit": unit, "source": STUDIO_SOURCE, "grade": Grade.SUPPLIER}
    return given


FlaskCurve = Annotated[Curve, BeforeValidator(_level_curve)]
"""A Curve over the flask's inside diameter [mm]."""


class Element(Row):
    """A pure metal that alloys are made of, for what follows from a recipe by mixing."""

    name: str
    density_g_per_cm3: Figure
    """At 20 degC."""
    melting_c: Figure
    latent_kj_per_kg: Figure
    cp_solid_j_per_kg_k: Figure
    """Just below melting."""
    cp_liquid_j_per_kg_k: Figure
    """At melting."""
    liquid_density_g_per_cm3: Figure
    """At melting."""
    liquid_density_100_k_hotter_g_per_cm3: Figure
    surface_tension_n_per_m: Figure
    """At melting, clean."""


class QuenchRule(Row):
    """When, and whether, this alloy goes into water."""

    way: Literal["water", "air"]
    """water: quench after the wait; air: let it cool by itself."""
    wait_64_mm_min: Figure
    """Minutes from the pour for a flask of 64 mm; other sizes by (D/64)**1.5."""
    latest_c: Figure | None = None
    """Below this the alloy orders and turns brittle: do not wait longer."""
    about: Sentence


class Alloy(Row):
    """One recipe."""

    id: str
    name: str
    metal: Literal["silver", "gold", "white gold", "bronze", "brass", "platinum", "palladium"]
    colour: str = ""
    fineness_permille: int | None = None
    composition_percent: dict[str, float]
    advisory: str = ""
    """Why this row is only advice, or empty. An advisory alloy is planned, with a warning."""
    mould: Literal["gypsum", "phosphate"]
    flux: Literal["borax", "none"] = "borax"
    """none: melted clean, without borax and without a stirring rod."""
    density_g_per_cm3: Figure
    solidus_c: Figure
    liquidus_c: Figure
    latent_kj_per_kg: Figure
    cp_solid_j_per_kg_k: Figure
    cp_liquid_j_per_kg_k: Figure
    conductivity_solid_w_per_m_k: Figure | None = None
    """Near the solidus."""
    conductivity_liquid_w_per_m_k: Figure | None = None
    """Near the liquidus."""
    liquid_density_g_per_cm3: Figure
    surface_tension_n_per_m: Figure
    metal_thin_c: Figure | None = None
    metal_medium_c: Figure | None = None
    metal_heavy_c: Figure | None = None
    flask_thin_c: Figure
    flask_medium_c: Figure
    flask_heavy_c: Figure
    min_wall_mm: Figure
    min_wire_mm: Figure
    melt_loss_fraction: Figure
    returns_limit_fraction: Figure
    price_per_g: Figure | None = None  # what the studio pays, in its currency
    quench: QuenchRule
    torch_signs: Sentence
    cautions: tuple[Warned, ...] = ()

    @field_validator("composition_percent")
    @classmethod
    def _is_recipe(cls, parts: dict[str, float]) -> dict[str, float]:
        for symbol, percent in parts.items():
            if not re.fullmatch("[A-Z][a-z]?", symbol):
                raise ValueError(f'"{symbol}" is not the symbol of an element; write "Ag", "Cu" and so on')
            if not 0 < percent <= WHOLE_PERCENT:
                raise ValueError(f"{symbol} is {percent:g} percent; it must lie above 0 and not above {WHOLE_PERCENT:g}")
        if not parts:
            raise ValueError("names no element")
        return parts


class Investment(Row):
    """One grade of investment powder."""

    id: str
    name: str
    binder: Literal["gypsum", "phosphate"]
    advisory: str = ""
    stones: bool = False
    """May stones be cast in place in it."""
    for_patterns: tuple[Literal["wax", "resin"], ...]
    """Pattern families that its maker's grade is meant for."""
    water_g_per_100_g: Figure
    water_heavy_g_per_100_g: Figure | None = None
    water_fine_g_per_100_g: Figure | None = None
    powder_density_g_per_cm3: Figure
    hemihydrate_fraction: Figure
    water_c: Figure
    gloss_off_min: Figure
    still_min: Figure
    """Not to be moved after the pour of the slurry."""
    set_small_h: Figure
    """Standing time before the kiln, flasks up to 65 mm."""
    set_large_h: Figure
    """Standing time before the kiln, flasks of 100 mm and more."""
    stand_max_h: Figure | None = None
    """After this, damp it or bag it; absent: the rule of the same name."""
    peak_c: Figure
    """What the programme goes up to; warn and stop stand in the rules."""
    metal_max_c: Figure
    conductivity_dry_w_per_m_k: Figure
    cp_dry_j_per_kg_k: Figure
    price_per_kg: Figure | None = None  # of the powder, in the studio's currency
    programme_wax: str
    """Id of the burnout programme for wax patterns."""
    programme_resin: str = ""
    """Id of the burnout programme for resin patterns; empty: none is published for this grade."""
    cool_in_air: Sentence | None = None
    """Why a flask of it never goes into water, whatever the alloy; absent: the alloy decides."""
    cautions: tuple[Warned, ...] = ()


class PatternMaterial(Row):
    """What a pattern is made of."""

    id: str
    name: str
    family: Literal["wax", "resin"]
    density_g_per_cm3: Figure
    net_shrinkage_fraction: Figure | None = None
    """Pattern to casting where it differs from the general rule."""
    price_per_kg: Figure | None = None  # what the studio pays, in its currency; one of the two is enough
    price_per_l: Figure | None = None
    min_detail_mm: Figure | None = None
    """Narrowest groove or raised line that comes out."""
    preparation: tuple[Sentence, ...] = ()
    """What to do before sprueing: wash, cure, dry."""
    cautions: tuple[Warned, ...] = ()


class FlaskRow(Row):
    """A steel flask: inside diameter, height, wall. A studio's row without an id is called by its size, such as 76x100."""

    id: str
    diameter_mm: float = Field(gt=0)
    height_mm: float = Field(gt=0)
    wall_mm: float = Field(gt=0)
    perforated: bool = False
    flange: bool = False
    mark: str = ""
    source: str = STUDIO_SOURCE
    grade: Grade = Grade.SUPPLIER

    @model_validator(mode="before")
    @classmethod
    def _called_by_size(cls, given: Any) -> Any:
        if isinstance(given, dict) and "id" not in given:
            sides = given.get("diameter_mm"), given.get("height_mm")
            if all(_is_number(side) for side in sides):
                given = {**given, "id": f"{sides[0]:.0f}x{sides[1]:.0f}" + ("-perforated" if given.get("perforated") else "")}
        return given


class ProgrammeStep(Row):
    """One ramp and hold; holds and ramps are tables over the flask's inside diameter [mm]."""

    target_c: float | Literal["flask"]
    """The level, or "flask" for the flask temperature at the pour."""
    ramp_c_per_h: FlaskCurve
    hold_min: FlaskCurve
    why: str = ""


class Proof(Row):
    """In what a programme of the user's own has proven itself: castings came out of such flasks sound, time and again."""

    to_mm: float = Field(gt=0)
    """Inside diameter of the largest of these flasks."""
    pattern: Literal["wax", "resin"]


class Programme(Row):
    """A published burnout programme: levels, and how their holds grow with the flask."""

    id: str
    name: str
    advisory: str = ""
    stones: bool = False
    """Is this the maker's schedule for stones in place with this pattern family."""
    proven: Proof | None = None
    """Of the user's own: what it does in flasks and with patterns in which it has proven itself is a limit of his."""
    steps: tuple[ProgrammeStep, ...] = Field(min_length=1)
    source: str = STUDIO_SOURCE
    grade: Grade = Grade.SUPPLIER


class Rule(Row):
    """A rule of thumb of the trade: a number with what it is about (conventions C5)."""

    about: str
    value: float
    low: float | None = None
    high: float | None = None
    unit: str
    source: str
    grade: Grade
    note: str = ""


class Source(Row):
    """Where values come from."""

    author: str
    title: str
    year: str
    place: str = ""
    licence: str
