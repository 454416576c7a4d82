"""Completing a row of the studio's own folder: from the row it changes, from the row it is like, or from its recipe by mixing."""

from collections.abc import Mapping
from typing import Any

from pourwell.errors import UnknownNameError
from pourwell.materials import mixture
from pourwell.materials.assessed import Melts
from pourwell.materials.model import OWN_ESTIMATE, Element, Grade
from pourwell.units import unit_of

Table = dict[str, Any]

NESTED = ("quench",)
"""Tables inside a row that are merged key by key; all others are replaced whole."""
ADDED = ("cautions",)
"""Lists to which a studio's row adds: a caution of ours is never lost."""
SUPERHEATED = ("metal_thin_c", "metal_medium_c", "metal_heavy_c")
MELTING = ("solidus_c", "liquidus_c")
MIXED = (
    "density_g_per_cm3",
    "latent_kj_per_kg",
    "cp_solid_j_per_kg_k",
    "cp_liquid_j_per_kg_k",
    "liquid_density_g_per_cm3",
    "surface_tension_n_per_m",
)
"""What follows from a recipe by mixing when it is not given."""
WATER = ("water_heavy_g_per_100_g", "water_fine_g_per_100_g")
"""What goes when a bag's single figure is given: it stands for all sections."""
NAMING = ("id", "name", "colour", "fineness_permille", "composition_percent")


def complete(
    shelf: str, table: Table, *, shipped: Mapping[str, Table], elements: Mapping[str, Element], melts: Melts | None = None
) -> Table:
    """A studio's table made whole.

    With the id of a shipped row it need hold only what differs; with `like = "id"` it takes the rest from that row. For an alloy,
    figures that belong to the recipe are not taken over when the recipe is new: those that mixing gives are computed, the metal
    temperatures keep their superheat over the new liquidus, and solidus and liquidus are computed by `melts`, or must be given.
    Raises UnknownNameError when `like` names no shipped row.
    """
    table = dict(table)
    model_id = table.pop("like", table["id"])
    if model_id != table["id"] and model_id not in shipped:
        raise UnknownNameError("row", str(model_id), shipped)
    pattern = shipped.get(model_id, {})
    base = dict(pattern)
    if shelf == "alloys":
        if model_id != table["id"]:
            base = {key: value for key, value in base.items() if key not in NAMING}
        table = {**_computed(table, melts), **table}
        if "composition_percent" in table:
            base = {key: value for key, value in base.items() if key not in (*MELTING, *MIXED, *SUPERHEATED)}
        if "liquidus_c" in table:
            base |= _superheated(pattern, _number(table["liquidus_c"]))
    if "water_g_per_100_g" in table:
        base = {key: value for key, value in base.items() if key not in WATER}
    whole = {**base, **table}
    for key in NESTED:
        if isinstance(base.get(key), dict) and isinstance(table.get(key), dict):
            whole[key] = {**base[key], **table[key]}
    for key in ADDED:
        if isinstance(base.get(key), list) and isinstance(table.get(key), list):
            whole[key] = base[key] + table[key]
    return _mixed(whole, elements) if shelf == "alloys" else whole


def _computed(table: Table, melts: Melts | None) -> Table:
    """Solidus and liquidus of a table's own recipe where it gives neither and they can be computed."""
    recipe = _recipe(table)
    if melts is None or recipe is None or any(key in table for key in MELTING):
        return {}
    if (found := melts(recipe)) is None:
        return {}
    first, *others = reversed(found.sources)
    about = {
        "unit": "degC",
        "source": f"{first}:computed, with {', '.join(others)}" if others else f"{first}:computed",
        "grade": Grade.ESTIMATE,
    }
    note = f"computed for this recipe, within {found.band_k:g} K"
    notes = {"solidus_c": f"{note}; a casting holds liquid down to {found.last_liquid_c:.0f} degC", "liquidus_c": note}
    return {
        key: {
            "value": round(value),
            "low": round(value) - found.band_k,
            "high": round(value) + found.band_k,
            **about,
            "note": notes[key],
        }
        for key, value in (("solidus_c", found.solidus_c), ("liquidus_c", found.liquidus_c))
    }


def _recipe(table: Table) -> dict[str, float] | None:
    """The recipe of a table if it is one, as far as can be told before the row is read."""
    recipe = table.get("composition_percent")
    if not isinstance(recipe, dict) or not recipe or any(isinstance(p, dict) or _number(p) is None for p in recipe.values()):
        return None
    return {str(symbol): float(part) for symbol, part in recipe.items()}


def _number(given: Any) -> float | None:
    """The number of a quantity in a table, given bare or as a table itself."""
    number = given.get("value") if isinstance(given, dict) else given
    return float(number) if isinstance(number, int | float) and not isinstance(number, bool) else None


def _superheated(pattern: Table, liquidus_c: float | None) -> Table:
    """The metal temperatures of a row, moved so that they lie as far above another liquidus."""
    before = _number(pattern.get("liquidus_c"))
    if before is None or liquidus_c is None:
        return {}
    note = f"superheat of {pattern['id']} over the liquidus given"
    return {
        key: {**pattern[key], **_moved(pattern[key], liquidus_c - before), "grade": Grade.ESTIMATE, "note": note}
        for key in SUPERHEATED
        if isinstance(pattern.get(key), dict)
    }


def _moved(quantity: Table, by: float) -> Table:
    return {end: quantity[end] + by for end in ("value", "low", "high") if end in quantity}


def _mixed(row: Table, elements: Mapping[str, Element]) -> Table:
    """The row with what its recipe gives by mixing, where it is not given and every element is known."""
    recipe, liquidus_c = _recipe(row), _number(row.get("liquidus_c"))
    if recipe is None or any(symbol not in elements for symbol in recipe) or sum(recipe.values()) <= 0:
        return row
    figures = {key: getattr(mixture, key)(recipe, elements) for key in MIXED if key != "liquid_density_g_per_cm3"}
    if liquidus_c is not None:
        figures["liquid_density_g_per_cm3"] = mixture.liquid_density_g_per_cm3(recipe, elements, at_c=liquidus_c)
    derived = {
        key: {"value": round(value, 3), "unit": unit_of(key), "source": OWN_ESTIMATE, "grade": Grade.ESTIMATE, "note": "by mixing"}
        for key, value in figures.items()
    }
    return {**derived, **row}
