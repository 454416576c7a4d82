"""The fields of a row of the library: how each is called on a page, in which unit, and in which group it stands."""

from collections.abc import Mapping
from typing import Any, Final, Literal, get_args, get_origin

from pydantic import BaseModel

from pourwell.app.asked import Asked, Kind, choice_of
from pourwell.app.typed import Span
from pourwell.materials.model import Alloy, FlaskRow, Investment, PatternMaterial, Programme, Quantity, QuenchRule, Row, Words
from pourwell.units import unit_of

SIGNS: Final = {
    "degC": "°C", "g/cm3": "g/cm³", "J/(kg K)": "J/(kg K)", "g per 100 g": "g per 100 g", "1": "", "money": "",
    "money/g": "a gram", "money/kg": "a kilogram", "money/l": "a litre",
}  # fmt: skip
"""Units of the files as a page writes them, where that is otherwise."""

LABELS: Final[Mapping[str, str]] = {
    "name": "Name", "metal": "Metal", "colour": "Colour", "fineness_permille": "Fineness", "composition_percent": "Recipe",
    "advisory": "Advice with it", "mould": "Mould", "flux": "Flux", "density_g_per_cm3": "Density", "solidus_c": "Solidus",
    "liquidus_c": "Liquidus", "latent_kj_per_kg": "Heat of melting", "cp_solid_j_per_kg_k": "Specific heat, solid",
    "cp_liquid_j_per_kg_k": "Specific heat, liquid", "conductivity_solid_w_per_m_k": "Conductivity, solid",
    "conductivity_liquid_w_per_m_k": "Conductivity, liquid", "liquid_density_g_per_cm3": "Density, liquid",
    "surface_tension_n_per_m": "Surface tension", "metal_thin_c": "Metal, thin sections",
    "metal_medium_c": "Metal, medium sections", "metal_heavy_c": "Metal, heavy sections", "flask_thin_c": "Flask, thin sections",
    "flask_medium_c": "Flask, medium sections", "flask_heavy_c": "Flask, heavy sections", "min_wall_mm": "Least wall",
    "min_wire_mm": "Least wire", "melt_loss_fraction": "Melt loss", "returns_limit_fraction": "Returns, at most",
    "torch_signs": "What to look for", "price_per_g": "Price", "price_per_kg": "Price", "price_per_l": "Price",
    "quench.way": "Cooling", "quench.wait_64_mm_min": "Wait, 64 mm flask", "quench.latest_c": "Not below",
    "quench.about": "How to tell", "binder": "Binder", "stones": "Stones in place", "for_patterns": "For patterns of",
    "water_g_per_100_g": "Water", "water_heavy_g_per_100_g": "Water, heavy pieces",
    "water_fine_g_per_100_g": "Water, fine pieces", "powder_density_g_per_cm3": "Density of the powder",
    "hemihydrate_fraction": "Plaster in it", "water_c": "Temperature of the water", "gloss_off_min": "Gloss-off",
    "still_min": "Not to be moved for", "set_small_h": "Sets, flasks up to 65 mm", "set_large_h": "Sets, flasks from 100 mm",
    "stand_max_h": "Stands at most", "peak_c": "Peak", "metal_max_c": "Metal, at most",
    "conductivity_dry_w_per_m_k": "Conductivity, dry", "cp_dry_j_per_kg_k": "Specific heat, dry",
    "programme_wax": "Programme for wax", "programme_resin": "Programme for resin", "cool_in_air": "Why it cools in air",
    "family": "Family", "net_shrinkage_fraction": "Net shrinkage", "min_detail_mm": "Least detail",
    "diameter_mm": "Inside diameter", "height_mm": "Height", "wall_mm": "Wall", "perforated": "Holes in the wall",
    "flange": "Rim", "mark": "Stamped on it",
}  # fmt: skip
"""Key of a row to how it is called."""

GROUPS: Final[Mapping[type[Row], tuple[tuple[str, tuple[str, ...]], ...]]] = {
    Alloy: (
        ("What it is", ("name", "metal", "colour", "fineness_permille", "composition_percent", "price_per_g", "mould", "flux")),
        (
            "Melting and pouring",
            (
                *("solidus_c", "liquidus_c", "metal_thin_c", "metal_medium_c", "metal_heavy_c"),
                *("flask_thin_c", "flask_medium_c", "flask_heavy_c", "torch_signs"),
            ),
        ),
        ("Limits and losses", ("min_wall_mm", "min_wire_mm", "melt_loss_fraction", "returns_limit_fraction")),
        ("After the pour", ("quench.way", "quench.wait_64_mm_min", "quench.latest_c", "quench.about")),
        (
            "Weight and heat",
            (
                *("density_g_per_cm3", "liquid_density_g_per_cm3", "latent_kj_per_kg", "cp_solid_j_per_kg_k"),
                *("cp_liquid_j_per_kg_k", "conductivity_solid_w_per_m_k", "conductivity_liquid_w_per_m_k"),
                "surface_tension_n_per_m",
            ),
        ),
    ),
    Investment: (
        ("What it is", ("name", "binder", "stones", "price_per_kg", "programme_wax", "programme_resin")),
        (
            "Mixing and setting",
            (
                *("water_g_per_100_g", "water_heavy_g_per_100_g", "water_fine_g_per_100_g", "water_c"),
                *("gloss_off_min", "still_min", "set_small_h", "set_large_h", "stand_max_h"),
            ),
        ),
        ("Heat it bears", ("peak_c", "metal_max_c", "cool_in_air")),
        (
            "Weight and heat",
            ("powder_density_g_per_cm3", "hemihydrate_fraction", "conductivity_dry_w_per_m_k", "cp_dry_j_per_kg_k"),
        ),
    ),
    PatternMaterial: (
        ("What it is", ("name", "family", "price_per_kg", "price_per_l")),
        ("What it does", ("density_g_per_cm3", "net_shrinkage_fraction", "min_detail_mm")),
    ),
    Programme: (("What it is", ("name", "advisory")),),
    FlaskRow: (("What it is", ("diameter_mm", "height_mm", "wall_mm", "perforated", "flange", "mark")),),
}
"""What stands on the page of a row, in this order."""

SPANS: Final[Mapping[str, tuple[float, float]]] = {
    "flask_thin_c": (20, 1100), "flask_medium_c": (20, 1100), "flask_heavy_c": (20, 1100), "water_c": (1, 60),
    "peak_c": (200, 1200), "quench.latest_c": (20, 1100), "diameter_mm": (10, 400), "height_mm": (10, 600), "wall_mm": (0.2, 20),
    "net_shrinkage_fraction": (0, 20), "surface_tension_n_per_m": (0.1, 4), "water_g_per_100_g": (15, 100),
    "still_min": (1, 600), "gloss_off_min": (1, 120),
}  # fmt: skip
"""What these can be at all, in the field's unit; no such value is common, beyond them none is possible."""
BY_UNIT: Final[Mapping[str, tuple[float, float]]] = {
    "degC": (200, 2500), "mm": (0.05, 50), "g/cm3": (0.5, 25), "g per 100 g": (15, 100), "kJ/kg": (5, 1000),
    "J/(kg K)": (50, 5000), "W/(m K)": (0.02, 600), "1": (0, 100), "min": (0, 600), "h": (0, 72), "permille": (1, 1000),
    "money/g": (0.0001, 100_000), "money/kg": (0.01, 10_000_000), "money/l": (0.01, 100_000),
}  # fmt: skip
WORDS: Final = {
    "gypsum": "gypsum-bonded", "phosphate": "phosphate-bonded", "none": "none, melted clean", "water": "water", "air": "air",
    "wax": "wax",
}  # fmt: skip
HELP: Final = {
    "composition_percent": "percent by mass, as Ag 92.5, Cu 7.5", "fineness_permille": "",
    "quench.wait_64_mm_min": "other sizes by the diameter to the power of 1.5", "water_g_per_100_g": "what the bag says",
}  # fmt: skip
YES_NO: Final = (("no", "no"), ("yes", "yes"))
SIGN_OF_PERMILLE: Final = "\u2030"


def groups(model: type[Row], programmes: tuple[tuple[str, str], ...] = ()) -> tuple[tuple[str, tuple[Asked, ...]], ...]:
    """The fields of a row's page by group. `programmes` are those to choose from, by id and name."""
    found = GROUPS.get(model, ())
    return tuple((title, tuple(asked_of(model, name, programmes) for name in names)) for title, names in found)


def asked_of(model: type[BaseModel], name: str, programmes: tuple[tuple[str, str], ...] = ()) -> Asked:
    """The field of one key, `quench.way` for a key of a table inside."""
    key: tuple[str, ...] = tuple(name.split("."))
    owner: type[BaseModel] = QuenchRule if len(key) > 1 else model
    part = owner.model_fields[key[-1]]
    kind, unit = _kind(part.annotation), unit_of(key[-1])
    options: tuple[tuple[str, str], ...] = ()
    if kind == "choice":
        options = choice_of([str(one) for one in get_args(part.annotation)], WORDS)
    elif kind == "yes":
        options = YES_NO
    elif name in ("programme_wax", "programme_resin"):
        kind, options = "choice", (("", "none"), *programmes)
    span = None
    if kind in ("number", "figure", "count") and unit is not None:
        low, high = SPANS.get(name) or BY_UNIT[unit]
        sign = "%" if unit == "1" else SIGN_OF_PERMILLE if unit == "permille" else SIGNS.get(unit, unit)
        span = Span(low=low, high=high, unit=sign)
    return Asked(
        key=key,
        label=LABELS[name],
        kind=kind,
        span=span,
        share=unit == "1",
        options=options,
        help=HELP.get(name, ""),
        needed=name in ("name", "diameter_mm", "height_mm", "wall_mm"),
    )


KINDS: Final[tuple[tuple[type, Kind], ...]] = (
    (Quantity, "figure"),
    (Words, "sentence"),
    (bool, "yes"),
    (float, "number"),
    (int, "count"),
    (str, "words"),
)


def _kind(annotation: Any) -> Kind:
    """What sort of field a type of the models asks for."""
    if get_origin(annotation) is dict:
        return "recipe"
    held = _types(annotation)
    return next((kind for one, kind in KINDS if one in held), "choice")


def _types(annotation: Any) -> set[Any]:
    """The plain types in an annotation such as `Figure | None`."""
    if isinstance(annotation, type) or get_origin(annotation) is Literal:
        return {annotation}
    return set().union(*(_types(part) for part in get_args(annotation)))
