"""The studio: how it casts and melts, its flasks, rubber bases, pumps, kiln, altitude and hours (studio.toml).

What is not given is assumed; `Studio.assumed` names it, and a note asks for it.
"""

from collections.abc import Iterable, Iterator, Mapping
from datetime import time, tzinfo
from pathlib import Path
from typing import Any, Final, Literal, Self
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from pourwell.errors import BadDataError, BadRequestError, UnknownNameError, in_one_line
from pourwell.materials.calibration import calibrated, load_calibrations
from pourwell.materials.library import load_library, own_rows
from pourwell.materials.model import FlaskRow
from pourwell.materials.reading import first_fault as first_fault
from pourwell.materials.reading import parse
from pourwell.materials.weekdays import day_off


class Part(BaseModel):
    """What all models of this file share: frozen, no unknown keys, every text in one line."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    @field_validator("*")
    @classmethod
    def _in_one_line(cls, value: Any) -> Any:
        in_one_line(value)
        return value


class Casting(Part):
    """How the metal is driven into the mould."""

    way: Literal["vacuum", "centrifuge", "gravity"] = "vacuum"
    vacuum_kpa: float = Field(default=88.0, gt=0, lt=102)
    """Gauge vacuum under the flask at the pour."""


class Melting(Part):
    """How the metal is melted."""

    way: Literal["torch", "electric", "induction"] = "torch"
    crucible_cm3: float | None = Field(default=None, gt=0)
    """What the crucible holds when full; None: not known, and the charge cannot be checked against it."""
    thermometer: bool = False


class InvestingVacuum(Part):
    """Whether bowl and flask can be put under vacuum while investing."""

    bowl: bool = True
    flask: bool = True


class Kiln(Part):
    """The burnout kiln."""

    name: str = ""
    """What it is called, where there are several."""
    flasks_count: int | None = Field(default=None, ge=1, le=100)
    """How many flasks it takes at once; None: not said."""
    width_mm: float | None = Field(default=None, gt=0)
    depth_mm: float | None = Field(default=None, gt=0)
    height_mm: float | None = Field(default=None, gt=0)
    """The room in it; None: not known, and not checked."""
    delayed_start: bool = False
    """Can it be told to begin by itself when nobody is there."""
    segments_count: int = Field(default=8, ge=0)
    """How many ramp-and-hold segments its controller takes; 0: set by hand."""
    fall_c_per_h: float = Field(default=120.0, gt=0)
    """How fast it falls with the door shut, near the flask temperature."""
    error_k: float = Field(default=5.5, ge=0)
    """How far the thermocouple may be wrong."""
    hot_spot_k: float = Field(default=0.0, ge=0)
    """By how much the hottest place of a flask in it lies over what the thermocouple feels."""
    overshoot_k: float = Field(default=0.0, ge=0)
    """By how much it goes over a level before it holds it."""
    hottest_c: float = Field(default=1100.0, gt=0)
    """What it reaches."""
    rise_c_per_h: float = Field(default=400.0, gt=0)
    """How fast it climbs at full power with flasks in it, where no controller holds it back."""
    holding_kw: float = Field(default=0.8, gt=0)
    """Mean draw when holding at 730 degC."""

    @property
    def unseen_k(self) -> float:
        """How much hotter than its reading a flask in it may be."""
        return self.error_k + self.hot_spot_k

    @property
    def wrong_k(self) -> float:
        """How much hotter than its set-point a flask in it may be."""
        return self.unseen_k + self.overshoot_k


class Printer(Part):
    """The resin printer, as the studio runs it. The print hangs upside down from its plate; light comes through a film below."""

    layer_mm: float = Field(default=0.05, gt=0, le=0.5)
    light_s: float = Field(default=2.5, gt=0)
    """Light on a layer."""
    lift_s: float = Field(default=7.0, ge=0)
    """All else that a layer takes: off the film, back, and waiting."""
    bottom_layers_count: int = Field(default=5, ge=0)
    bottom_light_s: float = Field(default=30.0, gt=0)
    """Light on each of the first layers, which hold to the plate."""
    stand_mm: float = Field(default=5.0, ge=0)
    """How high a piece stands on its supports; 0: it lies on the plate."""
    width_mm: float | None = Field(default=None, gt=0)
    depth_mm: float | None = Field(default=None, gt=0)
    height_mm: float | None = Field(default=None, gt=0)
    """What it can build; None: not known, and not checked."""
    currency: str = ""
    """In which resin is priced."""


class Base(Part):
    """The rubber base: how deep it sits in the flask, its dome (the button) and the socket of the stem."""

    fits_mm: float | None = Field(default=None, gt=0)
    """Inside diameter of the flask it fits; None: any."""
    depth_mm: float = Field(default=6.0, ge=0)
    dome_diameter_mm: float = Field(default=28.0, gt=0)
    dome_height_mm: float = Field(default=10.0, gt=0)
    socket_mm: float = Field(default=8.0, gt=0)
    weight_g: float | None = Field(default=None, gt=0)


class Shown(Part):
    """In what pages and sheets show figures, each where `display` is not to decide. Files keep workshop units."""

    length: Literal["mm", "inch"] | None = None
    temperature: Literal["C", "F"] | None = None
    weight: Literal["g", "dwt", "ozt"] | None = None
    """Of metal and patterns. Powder and water stand in ounces beside pennyweights, else in grams."""
    decimal: Literal["point", "comma"] = "point"


class Studio(Part):
    """One user's equipment and hours. Its folder also holds own alloys, investments, patterns, flasks and programmes."""

    name: str = "Studio"
    time_zone: str = ""
    """An IANA name; empty: the machine's own."""
    altitude_m: float = Field(default=0.0, ge=-450, le=6000)
    work_from: time = time(8, 0)
    work_to: time = time(19, 0)
    sleep_from: time = time(22, 30)
    sleep_to: time = time(6, 30)
    """Nobody sets a kiln by hand between the two."""
    paper: Literal["a4", "us-letter"] = "a4"
    display: Literal["metric", "imperial"] = "metric"
    shown: Shown = Shown()
    casting: Casting = Casting()
    melting: Melting = Melting()
    investing_vacuum: InvestingVacuum = InvestingVacuum()
    kiln: Kiln = Kiln()
    kilns: tuple[Kiln, ...] = ()
    """Where there are several: the first is `kiln`, in which a plan is fired that names none."""
    printer: Printer = Printer()
    easy_from: time | None = None
    easy_to: time | None = None
    """The comfortable ones of the hours at the bench; None: all of them."""
    days_off: tuple[str, ...] = ()
    """Days on which nobody works: names of weekdays, or dates."""
    overnight_firing: bool = True
    """May a kiln be on while everybody sleeps."""
    bases: tuple[Base, ...] = ()
    flasks: tuple[FlaskRow, ...] = ()
    given: frozenset[str] = frozenset()
    """Dotted names of what the studio's file really says; filled by the loader, not by hand."""
    measured: frozenset[str] = frozenset()
    """Dotted names of what its calibrations say and its file does not; likewise."""

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, name: str) -> str:
        if name:
            try:
                ZoneInfo(name)
            except (ZoneInfoNotFoundError, ValueError) as err:
                raise ValueError(f'"{name}" is not a time zone; write one such as "Europe/Lisbon", or leave it out') from err
        return name

    @field_validator("days_off")
    @classmethod
    def _known_days(cls, names: tuple[str, ...]) -> tuple[str, ...]:
        for name in names:
            day_off(name)
        return names

    @model_validator(mode="before")
    @classmethod
    def _first_kiln(cls, table: Any) -> Any:
        """Of several kilns the first is the one that a single plan is fired in."""
        if isinstance(table, dict) and table.get("kilns"):
            if "kiln" in table:
                raise ValueError("kiln and kilns: write one kiln as [kiln], or all of them as [[kilns]]")
            if isinstance(table["kilns"], list | tuple):
                return {**table, "kiln": table["kilns"][0]}
        return table

    @model_validator(mode="after")
    def _day_in_order(self) -> Self:
        if not self.work_from < self.work_to:
            raise ValueError(f"work_from {self.work_from:%H:%M} is not before work_to {self.work_to:%H:%M}")
        easy_from, easy_to = self.easy
        if not self.work_from <= easy_from < easy_to <= self.work_to:
            raise ValueError(
                f"easy_from {easy_from:%H:%M} and easy_to {easy_to:%H:%M} do not lie in this order inside work_from and work_to"
            )
        names = [kiln.name for kiln in self.kilns]
        for name in names:
            if not name and len(names) > 1:
                raise ValueError("kilns: give each a name, so that a sheet can say which is meant")
            if names.count(name) > 1:
                raise ValueError(f'kilns: the name "{name}" stands twice')
        ids = [flask.id for flask in self.flasks]
        twice = sorted({name for name in ids if ids.count(name) > 1})
        if twice:
            raise ValueError(f'flasks: the id "{twice[0]}" stands twice')
        return self

    @property
    def easy(self) -> tuple[time, time]:
        """The comfortable hours."""
        return self.easy_from or self.work_from, self.easy_to or self.work_to

    @property
    def awake(self) -> tuple[time, time]:
        """From rising to bedtime, which may lie after midnight."""
        return self.sleep_to, self.sleep_from

    @property
    def all_kilns(self) -> tuple[Kiln, ...]:
        """Every kiln; one at least."""
        return self.kilns or (self.kiln,)

    def in_kiln(self, name: str | None) -> Self:
        """The studio with the kiln of this name as the one that a plan is fired in; None: as it is.

        Calibrations are of the first kiln, so another one is what its own table says. Raises BadRequestError if none has the name.
        """
        if name is None or name == self.kiln.name:
            return self
        kiln = next((one for one in self.kilns if one.name == name), None)
        if kiln is None:
            raise no_kiln(name, self.all_kilns)
        given = {key for key in self.given if not key.startswith(KILN)} | {KILN + key for key in kiln.model_fields_set}
        return self.model_copy(update={"kiln": kiln, "given": frozenset(given), "measured": frozenset()})

    @property
    def zone(self) -> tzinfo | None:
        """The studio's time zone; None means the machine's own, as `datetime.astimezone` takes it."""
        return ZoneInfo(self.time_zone) if self.time_zone else None

    def is_given(self, name: str) -> bool:
        """Does the studio's own file say this (dotted name, as `kiln.fall_c_per_h`)."""
        return name in self.given

    @property
    def assumed(self) -> tuple[str, ...]:
        """Dotted names of what the studio does not say and a plan leans on, in the order of docs/studio.md."""
        known = self.given | self.measured | HARMLESS | OF_A_WEEK
        return tuple(n for n in _leaves(type(self)) if n not in known and not n.startswith(PRINTER))

    @property
    def printer_assumed(self) -> tuple[str, ...]:
        """Names of the printer's figures that the studio does not say and printing leans on."""
        names = (n for n in Printer.model_fields if Printer.model_fields[n].default not in (None, ""))
        return tuple(n for n in names if PRINTER + n not in self.given)


def no_kiln(name: str, kilns: Iterable[Kiln]) -> BadRequestError:
    """What is said of a kiln that the studio does not have."""
    known = ", ".join(f'"{kiln.name}"' for kiln in kilns if kiln.name) or "none has a name"
    return BadRequestError(f'No kiln is called "{name}".', why=f"The studio's kilns: {known}.")


STUDIO_FILE: Final = "studio.toml"

HARMLESS: Final = frozenset(
    {"name", "time_zone", "paper", "display", "given", "measured"} | {f"shown.{key}" for key in Shown.model_fields}
)
"""What may be left out without a note: it changes no figure of a plan."""

OF_A_WEEK: Final = frozenset(
    {"easy_from", "easy_to", "sleep_from", "sleep_to", "days_off", "overnight_firing", "kilns"}
    | {f"kiln.{key}" for key in ("name", "flasks_count", "width_mm", "depth_mm", "height_mm", "delayed_start")}
)
"""What only `pourwell day` and the room in a kiln lean on, which say themselves what they assumed."""

PRINTER: Final = "printer."
"""A plan of a casting leans on no figure of the printer."""


def _leaves(model: type[BaseModel], prefix: str = "") -> Iterator[str]:
    """Dotted names of a model's fields, those of single inner models in their place."""
    for key, part in model.model_fields.items():
        if isinstance(part.annotation, type) and issubclass(part.annotation, BaseModel):
            yield from _leaves(part.annotation, f"{prefix}{key}.")
        else:
            yield prefix + key


def dotted(table: Mapping[str, Any], prefix: str = "") -> frozenset[str]:
    """All dotted names in a nested table, inner tables and their leaves alike."""
    names: set[str] = set()
    for key, value in table.items():
        names.add(prefix + key)
        if isinstance(value, Mapping):
            names |= dotted(value, f"{prefix}{key}.")
    return frozenset(names)


def load_studio(folder: Path | None) -> Studio:
    """The studio of a folder; without a folder, or without a studio.toml in it, all defaults.

    How its kiln falls and overshoots is taken from its calibrations where its file does not say it. Its flasks are those that
    studio.toml lists, by a table or by the id of a shipped one, and those of its `flasks` folder.
    Raises BadDataError with the file, the key and the reason.
    """
    path = folder / STUDIO_FILE if folder else None
    table: dict[str, Any] = {}
    try:
        if path is not None and path.is_file():
            table = parse(path.read_bytes(), str(path))
    except OSError as err:
        raise BadDataError(f"{path} cannot be read.", why=f"{err.strerror}.") from err
    return studio_of(table, folder)


def studio_of(table: dict[str, Any], folder: Path | None) -> Studio:
    """The studio that the table of a studio.toml in a folder makes. Raises BadDataError as `load_studio`."""
    path = folder / STUDIO_FILE if folder else None
    for key in ("given", "measured"):
        if key in table:
            raise BadDataError(f"{path}: {key}: unknown key.", try_this=_SEE)
    flasks = _flasks(table.get("flasks", []), folder, str(path))
    kilns = table.get("kilns")
    first = {"kiln": kilns[0]} if isinstance(kilns, list) and kilns and isinstance(kilns[0], dict) else {}
    given = dotted(table | first) | ({"flasks"} if flasks else set())
    try:
        return _with_measured(Studio(**{**table, "flasks": flasks}, given=given), folder)
    except ValidationError as err:
        raise BadDataError(f"{path}: {first_fault(err, Studio)}.", try_this=_SEE) from err


def _with_measured(studio: Studio, folder: Path | None) -> Studio:
    """The studio with what its calibrations say of the kiln, where its own file says nothing: what he wrote himself wins."""
    known = calibrated(load_calibrations(folder))
    found = {FALL: known.fall_c_per_h, OVERSHOOT: known.overshoot_k}
    taken = {name: one.value for name, one in found.items() if one is not None and not studio.is_given(name)}
    kiln = studio.kiln.model_copy(update={name.removeprefix(KILN): value for name, value in taken.items()})
    kilns = (kiln, *studio.kilns[1:]) if studio.kilns else ()
    return studio.model_copy(update={"kiln": kiln, "kilns": kilns, "measured": frozenset(taken)}) if taken else studio


KILN: Final = "kiln."
FALL: Final = "kiln.fall_c_per_h"
OVERSHOOT: Final = "kiln.overshoot_k"
_SEE: Final = "See docs/studio.md for what may stand there."


def _flasks(listed: Any, folder: Path | None, where: str) -> Any:
    """The flasks that studio.toml lists, ids looked up, then the rows of the `flasks` folder that it does not list."""
    own = own_rows("flasks", folder)
    if not isinstance(listed, list):
        return listed
    rows = [_listed_flask(entry, folder, where) if isinstance(entry, str) else entry for entry in listed]
    ids = {entry.id for entry in rows if isinstance(entry, FlaskRow)}
    return rows + [row for row in own.values() if row.id not in ids]


def _listed_flask(name: str, folder: Path | None, where: str) -> FlaskRow:
    try:
        return load_library(folder).flask(name)
    except UnknownNameError as err:
        raise BadDataError(f"{where}: flasks: {err.what}", why=err.why, try_this=err.try_this) from err
