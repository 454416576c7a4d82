"""What the user asks for: pieces or a weight, an alloy, and wishes. The same from the command line and from a job.toml."""

from datetime import datetime, time
from pathlib import Path
from typing import Annotated, Any, Final, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from pourwell.errors import in_one_line

Unit = Literal["mm", "cm", "m", "um", "inch", "foot"]
MOST_G = 50_000.0
"""No studio lifts a heavier tree; more is a slip of the finger. Own choice."""
HOTTEST_C = 3000.0
"""Over every liquidus that the library holds. Own choice."""
MOST_PIECES, MOST_RUNS = 500, 12
"""Of a week: more are no week's work of one pair of hands. Own choice."""
PositiveG = Annotated[float, Field(gt=0, le=MOST_G, allow_inf_nan=False)]
OwnC = Annotated[float, Field(gt=0, le=HOTTEST_C, allow_inf_nan=False)]


class Asked(BaseModel):
    """What all models of this file share: frozen, no unknown keys, every text in one line."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    @field_validator("*")
    @classmethod
    def _in_one_line(cls, value: Any) -> Any:
        in_one_line(value)
        return value


class PieceRequest(Asked):
    """One kind of piece: a pattern file and how many of it."""

    file: Path
    count: int = Field(default=1, ge=1, le=500)
    name: str = ""
    units: Unit | None = None
    """Unit of the file's numbers; None: what the file says, else millimetres if the size makes sense."""
    sprue_at_mm: tuple[float, float, float] | None = None
    size: str | None = None
    """The finished ring size wanted, as "ISO 54", "US 7", "UK N", "JP 14" or "CH 14"."""
    leave_out: tuple[str, ...] = ()
    """Names of bodies in the file that are not cast, besides those named as stone or support."""

    @field_validator("leave_out", mode="before")
    @classmethod
    def _one_is_a_list(cls, value: Any) -> Any:
        return (value,) if isinstance(value, str) else value


class Request(Asked):
    """One job. Either `pieces` or `weight_g` is given."""

    title: str = ""
    run_number: int = Field(default=1, ge=1)
    pieces: tuple[PieceRequest, ...] = ()
    weight_g: PositiveG | None = None
    """The tree on the scale, with its base if `base_g` is given."""
    base_g: float = Field(default=0.0, ge=0, allow_inf_nan=False)
    wax_g: float | None = Field(default=None, ge=0, allow_inf_nan=False)
    """How much of the tree is sprue wax, when the pieces are of another material. None: not said."""
    pattern: str = "resin"
    alloy: str
    investment: str | None = None
    flask: str | None = None
    """An id, or inside diameter x height as "76x100"."""
    pour_at: datetime | None = None
    """Aware. None: the earliest from now."""
    metal_c: OwnC | None = None
    flask_c: OwnC | None = None
    """The user's own figures, which win over ours and are checked."""
    returns_fraction: float = Field(default=0.0, ge=0, le=1)
    own_alloying: bool = False
    """Split the fresh metal into fine metal and master alloy."""
    stones: bool = False
    freeze: Literal["none", "draft", "fine"] | None = None
    """Whether the tree's freezing is computed, and on how fine a grid. None: not said, and not computed."""
    programme: str | None = None
    """Id of an own burnout programme, such as the maker's schedule."""
    kiln: str | None = None
    """The kiln that it is fired in, by name. None: the studio's first."""

    @model_validator(mode="after")
    def _something_to_cast(self) -> Self:
        if bool(self.pieces) == (self.weight_g is not None):
            raise ValueError("give either pattern files or the weight of a tree, not both and not neither")
        wax_g = self.wax_g or 0.0
        if self.weight_g is not None and self.base_g + wax_g >= self.weight_g:
            raise ValueError(
                f"the base ({self.base_g:g} g) and the wax ({wax_g:g} g) weigh as much as the whole ({self.weight_g:g} g)"
            )
        return self


class RunOfWeek(Asked):
    """One entry of a week: what is cast, and when it may or must be poured."""

    name: str = ""
    number: int | None = Field(default=None, ge=1)
    """What its first flask is called; further ones, and entries without a number, take the next that are free."""
    request: Request
    pieces_count: int = Field(default=0, ge=0, le=MOST_PIECES)
    kinds_count: int = Field(default=0, ge=0, le=MOST_PIECES)
    """Of a run without pattern files: what is still to be looked over and sprued; 0: the tree stands ready."""
    flasks_count: int = Field(default=1, ge=1, le=MOST_RUNS)
    """So many flasks of the same."""
    kiln: str | None = None
    """The kiln that it must go into, by name."""
    pour_at: datetime | None = None
    pour_by: datetime | None = None
    ready_at: datetime | None = None
    """When its patterns are there. All aware."""
    usual_weight: bool = False
    """No weight was said: that of a usual tree is taken."""


LONGEST_WAIT_MIN: Final = 2 * 24 * 60
"""Nobody holds a flask at temperature for longer than two days. Own choice."""


class WeekRequest(Asked):
    """Several runs over several days."""

    title: str = ""
    start_at: datetime | None = None
    """Aware; None: now."""
    pour_at: datetime | None = None
    """The first of all pours."""
    runs: tuple[RunOfWeek, ...] = Field(min_length=1)
    work_from: time | None = None
    work_to: time | None = None
    days_off: tuple[str, ...] | None = None
    overnight_firing: bool | None = None
    """None: as the studio says."""
    bag_damp: bool = False
    """May flasks stand longer than their investment allows, bagged damp."""
    wait_max_min: int | None = Field(default=None, ge=0, le=LONGEST_WAIT_MIN)
    """How long a flask may be held at temperature beyond its programme; None: the rule."""
    fire_apart: bool = False
    """Has each run a firing to itself, its own flasks apart."""

    @model_validator(mode="after")
    def _numbered_once(self) -> Self:
        numbers = [run.number for run in self.runs if run.number is not None]
        if len(set(numbers)) < len(numbers):
            twice = next(number for number in numbers if numbers.count(number) > 1)
            raise ValueError(f"two runs have the number {twice}: give each its own, or leave them out")
        return self
