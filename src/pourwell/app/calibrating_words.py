"""What was measured, in words and figures: each value with its uncertainty against the band that stood before."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from pourwell.app.calibrating_case import Default
from pourwell.materials.calibration import COVERS, Kind
from pourwell.materials.model import Investment
from pourwell.materials.studio import FALL, Studio
from pourwell.physics.burnout.curve import KilnTold
from pourwell.physics.burnout.fit import Fitted
from pourwell.units import c_from_k, h_from_s, s_from_h

FALL_BAND_C_PER_H: Final = (60.0, 250.0)
"""Small kilns with the door shut, near the flask temperature; own estimate."""
IN_NINE_TENTHS: Final = 1.645
"""Standard deviations to either side that hold nine tenths of a normal scatter; by definition."""
ROUNDED: Final = 3
"""Digits that a value shows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A value against what stood before."""

    key: str
    """As in its file; empty for what is not kept."""
    kind: Kind
    what: str
    value: float
    uncertainty: float
    """One standard uncertainty; 0: not worked out."""
    low: float
    high: float
    """The band that stood before."""
    unit: str
    measured: bool
    """False: the log does not tell it, and the default stays."""
    remark: str

    @property
    def figure(self) -> tuple[str, str]:
        """The value with what 95 of 100 would lie within, and its unit, empty where it has none."""
        off, unit = COVERS * self.uncertainty, "" if self.unit == "1" else self.unit
        if not self.measured:
            return "not told", ""
        if self.key in ("overshoot_k", "swing_k"):
            return f"{self.value:.1f}{f' ± {off:.1f}' if off else ''}", unit
        if not self.uncertainty:
            return f"{self.value:.{ROUNDED}g}", unit
        if not unit:
            return f"{self.value:.2f} ± {off:.2f}", unit
        return f"{self.value:.{ROUNDED}g} ± {off:.2g}", unit

    @property
    def shown(self) -> str:
        """Both in one."""
        return " ".join(part for part in self.figure if part)

    @property
    def data(self) -> dict[str, Any]:
        """The same for a program; a value that is not told is absent."""
        known = {"value": self.value} | ({"uncertainty": self.uncertainty} if self.uncertainty else {}) if self.measured else {}
        return {
            "key": self.key,
            "of": self.kind,
            "what": self.what,
            **known,
            "unit": self.unit,
            "default_low": self.low,
            "default_high": self.high,
            "measured": self.measured,
            "says": self.remark,
        }


def mould_values(fitted: Fitted, default: Default, investment: Investment) -> Iterator[Value]:
    """Conductivity, film and water."""
    mean = investment.conductivity_dry_w_per_m_k
    dry = fitted.factors.conductivity * mean.value
    kinds: tuple[tuple[Kind, str, str, tuple[float, float], str], ...] = (
        (
            "investment",
            "conductivity",
            "conductivity of the mould",
            (mean.ends[0] / mean.value, mean.ends[1] / mean.value),
            f"times {mean.value:g}: {dry:.2f} W/(m K) dry",
        ),
        ("kiln", "film", "heat from kiln to flask", default.film_band_ratio, "times air and radiation of the rules"),
        ("flask", "water", "water that went into the kiln", default.water_band_ratio, "of the free water as mixed"),
    )
    for kind, name, what, (low, high), says in kinds:
        value, off, told = getattr(fitted.factors, name), getattr(fitted.uncertainty, name), name in fitted.told
        yield Value(
            key=f"{name}_ratio",
            kind=kind,
            what=what,
            value=value,
            uncertainty=off,
            low=low,
            high=high,
            unit="1",
            measured=told,
            remark=_against(told, value, off, low=low, high=high, says=says),
        )


def _against(told: bool, value: float, off: float, *, low: float, high: float, says: str) -> str:
    """A value against its default band in plain words."""
    band = f"{low:.2f} to {high:.2f}"
    if not told:
        return f"the log does not tell it; the default band {band} stays"
    if value < low:
        where = f"under the default band of {band}"
    elif value > high:
        where = f"over the default band of {band}"
    else:
        where = f"within the default band of {band}"
    narrower = (high - low) / (2 * COVERS * off) if off else 0.0
    return f"{says}; {where}" + (f", {narrower:.0f} times narrower" if narrower >= 2 else "")


def kiln_values(told: KilnTold, studio: Studio, flask_c: float) -> Iterator[Value]:
    """How the kiln falls, rises and holds."""
    hour = s_from_h(1)
    if told.fall:
        rate, off = told.fall.rate * hour, told.fall.uncertainty * hour
        stands = f"your studio.toml says {studio.kiln.fall_c_per_h:g} K/h, and wins" if studio.is_given(FALL) else "default 120 K/h"
        if told.fall.straight:
            stands = "straight: a controller held it, so it is not kept; the kiln itself falls as fast or faster"
        yield Value(
            key="" if told.fall.straight else "fall_c_per_h",
            kind="kiln",
            what=f"falls at {flask_c:.0f} °C, door shut",
            value=rate,
            uncertainty=off,
            low=FALL_BAND_C_PER_H[0],
            high=FALL_BAND_C_PER_H[1],
            unit="K/h",
            measured=True,
            remark=f"read about {c_from_k(told.fall.middle):.0f} °C, {h_from_s(told.fall.begins):.1f} h from the start; {stands}",
        )
    if told.rise:
        yield Value(
            key="rise_c_per_h",
            kind="kiln",
            what="fastest half hour of rise",
            value=told.rise.rate * hour,
            uncertainty=told.rise.uncertainty * hour,
            low=0.0,
            high=told.rise.rate * hour,
            unit="K/h",
            measured=True,
            remark=f"from {c_from_k(told.rise.low):.0f} to {c_from_k(told.rise.high):.0f} °C; full power only if no ramp held it",
        )
    if told.holds:
        over, swing = max(told.holds, key=lambda h: h.overshoot), max(told.holds, key=lambda h: h.swing)
        worst = f"worst of {len(told.holds)} holds, at {c_from_k(over.level):.0f} °C"
        scatter = over.swing / IN_NINE_TENTHS
        yield _of_holds("overshoot_k", "overshoots a level by", over.overshoot, off=scatter, remark=worst)
        steady = f"nine tenths of the readings, worst at {c_from_k(swing.level):.0f} °C"
        yield _of_holds("swing_k", "holds a level within", swing.swing, remark=steady)


def _of_holds(key: str, what: str, value: float, *, remark: str, off: float = 0.0) -> Value:
    return Value(
        key=key, kind="kiln", what=what, value=value, uncertainty=off, low=0.0, high=value, unit="K", measured=True, remark=remark
    )
