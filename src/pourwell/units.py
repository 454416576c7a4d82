"""The only place that converts units, and the list of suffixes that a name may end in (conventions C1 to C3)."""

from typing import Final

ZERO_CELSIUS_K: Final = 273.15
MM_PER_INCH: Final = 25.4
G_PER_TROY_OUNCE: Final = 31.1034768
G_PER_PENNYWEIGHT: Final = 1.55517384
G_PER_OUNCE: Final = 28.349523125
G_PER_POUND: Final = 453.59237
PA_PER_INHG: Final = 3386.389
STANDARD_GRAVITY: Final = 9.80665
J_PER_KWH: Final = 3.6e6

SUFFIXES: Final[dict[str, str]] = {
    "mm": "mm",
    "mm2": "mm2",
    "mm3": "mm3",
    "m2": "m2",
    "cm3": "cm3",
    "ml": "ml",
    "g": "g",
    "c": "degC",
    "k": "K",
    "s": "s",
    "min": "min",
    "h": "h",
    "deg": "deg",
    "kpa": "kPa",
    "m": "m",
    "kwh": "kWh",
    "kw": "kW",
    "percent": "percent",
    "permille": "permille",
    "fraction": "1",
    "ratio": "1",
    "count": "1",
    "g_per_cm3": "g/cm3",
    "g_per_100_g": "g per 100 g",
    "g_per_mol": "g/mol",
    "c_per_h": "K/h",
    "per_k": "1/K",
    "kj_per_kg": "kJ/kg",
    "j_per_kg_k": "J/(kg K)",
    "w_per_m_k": "W/(m K)",
    "w_per_m2_k": "W/(m2 K)",
    "kw_per_m2": "kW/m2",
    "n_per_m": "N/m",
    "mpa_s": "mPa s",
    "kg_per_m3": "kg/m3",
    "mm_per_px": "mm/px",
    "money": "money",
    "per_g": "money/g",
    "per_kg": "money/kg",
    "per_l": "money/l",
}
"""Suffix of a name, without its leading underscore, to the unit written in the data files."""


def unit_of(name: str) -> str | None:
    """The unit that a name's suffix stands for, or None.

    The longest suffix wins: `density_g_per_cm3` is g/cm3, not cm3.
    """
    fits = [s for s in SUFFIXES if name == s or name.endswith("_" + s)]
    return SUFFIXES[max(fits, key=len)] if fits else None


def m_from_mm(mm: float) -> float:
    """Metres from millimetres."""
    return mm * 1e-3


def mm_from_m(m: float) -> float:
    """Millimetres from metres."""
    return m * 1e3


def mm_from_inch(inch: float) -> float:
    """Millimetres from inches."""
    return inch * MM_PER_INCH


def inch_from_mm(mm: float) -> float:
    """Inches from millimetres."""
    return mm / MM_PER_INCH


def m2_from_mm2(mm2: float) -> float:
    """Square metres from square millimetres."""
    return mm2 * 1e-6


def mm2_from_m2(m2: float) -> float:
    """Square millimetres from square metres."""
    return m2 * 1e6


def mm3_from_m3(m3: float) -> float:
    """Cubic millimetres from cubic metres."""
    return m3 * 1e9


def m3_from_mm3(mm3: float) -> float:
    """Cubic metres from cubic millimetres."""
    return mm3 * 1e-9


def m3_from_cm3(cm3: float) -> float:
    """Cubic metres from cubic centimetres."""
    return cm3 * 1e-6


def cm3_from_mm3(mm3: float) -> float:
    """Cubic centimetres from cubic millimetres."""
    return mm3 * 1e-3


def mm3_from_cm3(cm3: float) -> float:
    """Cubic millimetres from cubic centimetres."""
    return cm3 * 1e3


def k_from_c(c: float) -> float:
    """Kelvin from degrees Celsius."""
    return c + ZERO_CELSIUS_K


def c_from_k(k: float) -> float:
    """Degrees Celsius from kelvin."""
    return k - ZERO_CELSIUS_K


def c_from_f(f: float) -> float:
    """Degrees Celsius from degrees Fahrenheit."""
    return (f - 32.0) / 1.8


def f_from_c(c: float) -> float:
    """Degrees Fahrenheit from degrees Celsius."""
    return c * 1.8 + 32.0


def kg_from_g(g: float) -> float:
    """Grams to kilograms."""
    return g / 1000.0


def kg_per_m3_from_g_per_cm3(g_per_cm3: float) -> float:
    """kg/m3 from g/cm3."""
    return g_per_cm3 * 1e3


def kg_per_mol_from_g_per_mol(g_per_mol: float) -> float:
    """kg/mol from g/mol."""
    return g_per_mol * 1e-3


def j_per_kg_from_kj_per_kg(kj_per_kg: float) -> float:
    """J/kg from kJ/kg."""
    return kj_per_kg * 1e3


def s_from_min(minutes: float) -> float:
    """Seconds from minutes."""
    return minutes * 60.0


def min_from_s(seconds: float) -> float:
    """Minutes from seconds."""
    return seconds / 60.0


def s_from_h(hours: float) -> float:
    """Seconds from hours."""
    return hours * 3600.0


def h_from_s(seconds: float) -> float:
    """Hours from seconds."""
    return seconds / 3600.0


def min_from_h(hours: float) -> float:
    """Minutes from hours."""
    return hours * 60.0


def h_from_min(minutes: float) -> float:
    """Hours from minutes."""
    return minutes / 60.0


def kpa_from_pa(pa: float) -> float:
    """Kilopascals from pascals."""
    return pa * 1e-3


def pa_from_kpa(kpa: float) -> float:
    """Pascals from kilopascals."""
    return kpa * 1e3


def inhg_from_pa(pa: float) -> float:
    """Inches of mercury (at 0 degC) from pascals."""
    return pa / PA_PER_INHG


def pa_from_inhg(inhg: float) -> float:
    """Pascals from inches of mercury (at 0 degC)."""
    return inhg * PA_PER_INHG


def kwh_from_j(joule: float) -> float:
    """Kilowatt hours from joules."""
    return joule / J_PER_KWH
