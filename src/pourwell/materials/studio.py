"""The studio: how it casts and melts, its flasks, rubber bases, pumps, kiln, altitude and hours (studio.toml).

What is not given is assumed; `Studio.assumed` names it, and a note asks for it.
"""

import tomllib
from collections.abc import Mapping
from datetime import time, tzinfo
from pathlib import Path
from typing import Any, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from pourwell.errors import BadDataError
from pourwell.materials.model import FlaskRow


class Part(BaseModel):
    """What all models of this file share: frozen, no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


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

    segments_count: int = Field(default=8, ge=0)
    """How many ramp-and-hold segments its controller takes; 0: set by hand."""
    fall_c_per_h: float = Field(default=120.0, gt=0)
    """How fast it falls with the door shut, near the flask temperature."""
    error_k: float = Field(default=5.5, ge=0)
    """How far the thermocouple may be wrong."""
    holding_kw: float = Field(default=0.8, gt=0)
    """Mean draw when holding at 730 degC."""


class Base(Part):
    """The rubber base: how deep it sits in the flask, its dome (the button) and the socket of the stem."""

    fits_mm: float | None = Field(default=None, gt=0)
    """Inside diameter of the flask it fits; None: any."""
    depth_mm: float = Field(default=8.0, ge=0)
    dome_diameter_mm: float = Field(default=30.0, gt=0)
    dome_height_mm: float = Field(default=12.0, gt=0)
    socket_mm: float = Field(default=8.0, gt=0)
    weight_g: float | None = Field(default=None, gt=0)


class Studio(Part):
    """One user's equipment and hours. Its folder also holds own alloys, investments, patterns, flasks and programmes."""

    name: str = "Studio"
    time_zone: str = ""
    """An IANA name; empty: the machine's own."""
    altitude_m: float = Field(default=0.0, ge=-450, le=6000)
    work_from: time = time(8, 0)
    work_to: time = time(19, 0)
    paper: Literal["a4", "us-letter"] = "a4"
    display: Literal["metric", "imperial"] = "metric"
    casting: Casting = Casting()
    melting: Melting = Melting()
    investing_vacuum: InvestingVacuum = InvestingVacuum()
    kiln: Kiln = Kiln()
    bases: tuple[Base, ...] = ()
    flasks: tuple[FlaskRow, ...] = ()
    given: frozenset[str] = frozenset()
    """Dotted names of what the studio's file really says; filled by the loader, not by hand."""

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, name: str) -> str:
        if name:
            try:
                ZoneInfo(name)
            except (ZoneInfoNotFoundError, ValueError) as err:
                raise ValueError(f'"{name}" is not a time zone; write one such as "Europe/Lisbon", or leave it out') from err
        return name

    @property
    def zone(self) -> tzinfo | None:
        """The studio's time zone; None means the machine's own, as `datetime.astimezone` takes it."""
        return ZoneInfo(self.time_zone) if self.time_zone else None

    def is_given(self, name: str) -> bool:
        """Does the studio's own file say this (dotted name, as `kiln.fall_c_per_h`)."""
        return name in self.given


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

    Raises BadDataError with the file, the key and the reason.
    """
    path = folder / "studio.toml" if folder else None
    if path is None or not path.is_file():
        return Studio()
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        if "given" in table:
            raise BadDataError(f"{path}: unknown key given.")
        return Studio(**table, given=dotted(table))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as err:
        raise BadDataError(f"{path} is not a TOML file.", why=f"{err}.", try_this="See docs/studio.md for an example.") from err
    except ValidationError as err:
        raise BadDataError(f"{path}: {first_fault(err)}.", try_this="See docs/studio.md for what may stand there.") from err


def first_fault(err: ValidationError) -> str:
    """The first fault of a pydantic error as `key: reason`."""
    fault = err.errors(include_url=False)[0]
    where = ".".join(str(part) for part in fault["loc"]) or "file"
    return f"{where}: {fault['msg'].removeprefix('Value error, ')}"
