"""What the studio measured of its own kiln, flasks and investments: one TOML file a measurement, in its folder `calibrations`.

Older files are kept; of each value the newest is used: a pool of firings would hide that a kiln or a powder has changed.
"""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from pourwell.errors import BadDataError
from pourwell.materials.model import Investment
from pourwell.materials.reading import first_fault, parse, texts

FOLDER: Final = "calibrations"
COVERS: Final = 2.0
"""So many standard uncertainties each way are the ends of a measured value: 95 of 100 cases (JCGM 100:2008, 6.2)."""

Kind = Literal["kiln", "flask", "investment"]

KEYS: Final[dict[Kind, tuple[str, ...]]] = {
    "kiln": ("film_ratio", "fall_c_per_h", "rise_c_per_h", "overshoot_k", "swing_k"),
    "flask": ("water_ratio",),
    "investment": ("conductivity_ratio",),
}
"""What is measured of which."""
UNITS: Final = {"ratio": "1", "c_per_h": "K/h", "k": "K"}
"""Endings of the keys, and the unit in the file."""


class Measure(BaseModel):
    """A measured value with its standard uncertainty; None: not worked out."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    value: float = Field(ge=0, allow_inf_nan=False)
    uncertainty: float | None = Field(default=None, ge=0, allow_inf_nan=False)
    unit: str


class Calibration(BaseModel):
    """One measurement of one thing, as it stands in its file."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    kind: Kind
    of: str = ""
    """Id of the flask or investment; empty for the studio's one kiln."""
    measured_at: datetime
    way: Literal["log", "weighing"]
    file: str = ""
    """The log's name."""
    digest: str = ""
    """SHA-256 of the log."""
    fitted_from: str
    """What was logged or weighed, in words."""
    package_version: str = ""
    stands_on_w_per_m_k: float | None = Field(default=None, gt=0, allow_inf_nan=False)
    """The investment's dry conductivity that `conductivity_ratio` is over."""
    conductivity_ratio: Measure | None = None
    film_ratio: Measure | None = None
    water_ratio: Measure | None = None
    fall_c_per_h: Measure | None = None
    rise_c_per_h: Measure | None = None
    overshoot_k: Measure | None = None
    swing_k: Measure | None = None

    @property
    def measures(self) -> dict[str, Measure]:
        """What was measured, by key."""
        found = {key: getattr(self, key) for keys in KEYS.values() for key in keys}
        return {key: measure for key, measure in found.items() if measure is not None}

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.kind != "kiln" and not self.of:
            raise ValueError(f"of is missing: it is a measurement of which {self.kind}?")
        if not self.measures:
            raise ValueError("it measures nothing")
        for key, measure in self.measures.items():
            if key not in KEYS[self.kind]:
                raise ValueError(f"{key} is no matter of a {self.kind}")
            unit = UNITS[next(end for end in UNITS if key.endswith("_" + end))]
            if measure.unit != unit:
                raise ValueError(f'{key}: its unit is "{unit}", not "{measure.unit}"')
            if measure.uncertainty is None and key not in ("rise_c_per_h", "overshoot_k", "swing_k"):
                raise ValueError(f"{key}.uncertainty is missing")
            if not measure.value and key not in ("overshoot_k", "swing_k", "water_ratio"):
                raise ValueError(f"{key}: value must be above zero")
        if self.measured_at.tzinfo is None:
            raise ValueError("measured_at has no offset from UTC")
        return self

    @property
    def name(self) -> str:
        """What its file is called, without number and ending."""
        day = f"{self.measured_at:%Y-%m-%d}"
        return "-".join(part for part in (self.kind, _plain(self.of), day) if part)


def _plain(name: str) -> str:
    return "".join(c if c.isalnum() or c in "-_." else "-" for c in name.lower()).strip("-.")


def to_toml(calibration: Calibration) -> bytes:
    """The file of a calibration."""
    lines = ["# Written by `pourwell calibrate`. Of one thing the newest file is used; delete a file to do without it.", ""]
    tables = []
    for key, value in calibration.model_dump(mode="json", exclude_none=True).items():
        if isinstance(value, dict):
            tables += ["", f"[{key}]", *(f"{inner} = {_toml(part)}" for inner, part in value.items())]
        elif value != "":
            lines.append(f"{key} = {_toml(value)}")
    return ("\n".join([*lines, *tables]) + "\n").encode()


def _toml(value: Any) -> str:
    """A string or number as TOML writes it."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return repr(float(f"{value:.6g}"))


def load_calibrations(folder: Path | None) -> tuple[Calibration, ...]:
    """The calibrations of a studio's folder, oldest first. Raises BadDataError with the file, the key and the reason."""
    return tuple(one for _, one in read_calibrations(folder)) if folder else ()


def read_calibrations(folder: Path) -> list[tuple[Path, Calibration]]:
    """The calibrations of a studio's folder with their files, oldest first. Raises as `load_calibrations`."""
    where = folder / FOLDER
    found = []
    for name, text in texts(where).items():
        path = str(where / name)
        try:
            found.append((where / name, Calibration.model_validate(parse(text, path))))
        except ValidationError as err:
            raise BadDataError(
                f"{path}: {first_fault(err, Calibration)}.", try_this="See docs/calibration.md, or delete the file."
            ) from err
    return sorted(found, key=lambda pair: (pair[1].measured_at, pair[0].name))


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A value that the studio measured, in the unit of its name, and where it comes from."""

    value: float
    uncertainty: float
    unit: str
    source: str

    @property
    def low(self) -> float:
        """Its lower end: two standard uncertainties, not under zero."""
        return max(0.0, self.value - COVERS * self.uncertainty)

    @property
    def high(self) -> float:
        """Its upper end."""
        return self.value + COVERS * self.uncertainty


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibrated:
    """All that is measured and holds for one flask of one investment in one kiln; None: not measured."""

    conductivity_ratio: Known | None = None
    """Of the mould, over that of the investment's row."""
    film_ratio: Known | None = None
    """Between kiln and flask, over the rules' convection and emissivity alike."""
    water_ratio: Known | None = None
    """Free water that goes into the kiln, over that of the mould as mixed."""
    fall_c_per_h: Known | None = None
    rise_c_per_h: Known | None = None
    overshoot_k: Known | None = None


def calibrated(
    found: Iterable[Calibration], *, flask: str = "", investment: Investment | None = None, kiln: str = ""
) -> Calibrated:
    """What holds for a flask id, an investment and a kiln: of each value the newest."""
    newest: dict[str, Known] = {}
    ids = {"kiln": kiln, "flask": flask, "investment": investment.id if investment else ""}
    for one in found:
        if one.of == ids[one.kind]:
            newest |= dict(_known(one, investment))
    return Calibrated(**{key: newest.get(key) for key in Calibrated.__dataclass_fields__})


def _known(one: Calibration, investment: Investment | None) -> Iterator[tuple[str, Known]]:
    """The values of a calibration; a conductivity over that of the row as it is now."""
    for key, measure in one.measures.items():
        over = 1.0
        if key == "conductivity_ratio" and investment is not None and one.stands_on_w_per_m_k:
            over = one.stands_on_w_per_m_k / investment.conductivity_dry_w_per_m_k.value
        source = f"{one.way} of {one.measured_at:%Y-%m-%d}" + (f" ({one.file})" if one.file else "")
        off = (measure.uncertainty or 0.0) * over
        yield key, Known(value=measure.value * over, uncertainty=off, unit=measure.unit, source=source)
