"""What follows from a recipe by mixing: densities, heats, surface tension, and the weight in metal of a pattern.

A recipe is `{symbol: percent by mass}`; elements are the rows of the library. Volumes of solid and liquid add (for liquid Ag-Cu and
Ag-Au measured by Brillo et al. 2006), heats add by mass (Neumann and Kopp), surface tension is taken by volume, which is rough.
"""

from collections.abc import Mapping

from pourwell.errors import UnknownNameError
from pourwell.materials.model import Element

Recipe = Mapping[str, float]
Elements = Mapping[str, Element]

HOTTER_K = 100.0
"""What `liquid_density_100_k_hotter_g_per_cm3` is hotter than melting."""


def _shares(recipe: Recipe, elements: Elements) -> list[tuple[Element, float]]:
    """Elements with their share of the mass, which adds to one. Raises UnknownNameError for an element without a row."""
    whole = sum(recipe.values())
    for symbol in recipe:
        if symbol not in elements:
            raise UnknownNameError("element", symbol, elements)
    return [(elements[symbol], part / whole) for symbol, part in recipe.items()]


def density_g_per_cm3(recipe: Recipe, elements: Elements) -> float:
    """Density at 20 degC [g/cm3] when volumes add: 1/rho = sum(w/rho).

    True within 0.7 % for Ag-Au-Cu; wrong by -3 to -4 % for alloys with silicon or much zinc.
    Source: definition; checked against the tables of two casting houses.
    """
    return 1.0 / sum(share / e.density_g_per_cm3.value for e, share in _shares(recipe, elements))


def latent_kj_per_kg(recipe: Recipe, elements: Elements) -> float:
    """Latent heat [kJ/kg] by mass; about +-8 %."""
    return sum(share * e.latent_kj_per_kg.value for e, share in _shares(recipe, elements))


def cp_solid_j_per_kg_k(recipe: Recipe, elements: Elements) -> float:
    """Specific heat of the solid near melting [J/(kg K)] by mass (Neumann and Kopp)."""
    return sum(share * e.cp_solid_j_per_kg_k.value for e, share in _shares(recipe, elements))


def cp_liquid_j_per_kg_k(recipe: Recipe, elements: Elements) -> float:
    """Specific heat of the liquid [J/(kg K)] by mass (Neumann and Kopp)."""
    return sum(share * e.cp_liquid_j_per_kg_k.value for e, share in _shares(recipe, elements))


def liquid_density_g_per_cm3(recipe: Recipe, elements: Elements, *, at_c: float) -> float:
    """Density of the melt [g/cm3] at a temperature [degC] when volumes add, each element's line drawn on from its melting point.

    Source: Brillo, Egry and Ho 2006 for Ag-Cu and Ag-Au; an assumption for others.
    """
    volume = 0.0
    for element, share in _shares(recipe, elements):
        melting = element.liquid_density_g_per_cm3.value
        slope = (element.liquid_density_100_k_hotter_g_per_cm3.value - melting) / HOTTER_K
        volume += share / (melting + slope * (at_c - element.melting_c.value))
    return 1.0 / volume


def surface_tension_n_per_m(recipe: Recipe, elements: Elements) -> float:
    """Surface tension of the melt [N/m], by volume; rough (+-15 %), and lower where the melt took up oxygen."""
    shares = [(e, share / e.density_g_per_cm3.value) for e, share in _shares(recipe, elements)]
    whole = sum(volume for _, volume in shares)
    return sum(e.surface_tension_n_per_m.value * volume / whole for e, volume in shares)


def metal_per_pattern_ratio(metal_g_per_cm3: float, pattern_g_per_cm3: float) -> float:
    """Grams of metal for a gram of pattern: the same volume in both."""
    return metal_g_per_cm3 / pattern_g_per_cm3
