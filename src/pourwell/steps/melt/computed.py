"""The melting range of a silver-gold-copper recipe from published Gibbs energies: here the rows of the library meet the physics."""

from collections.abc import Mapping

import numpy as np

from pourwell.errors import BadRequestError
from pourwell.materials.assessed import GibbsTable, MeltingRange, Melts, gibbs_table
from pourwell.materials.library import Library
from pourwell.materials.model import WHOLE_PERCENT
from pourwell.physics.alloy.freeze import Way
from pourwell.physics.alloy.gibbs import Assessment, Solution, joined
from pourwell.physics.alloy.heat import Melting, melting, mole_fractions
from pourwell.units import c_from_k

METALS = ("Ag", "Au", "Cu")
"""The metals whose pairs are all assessed in the library, in the order of its pairs' names."""
NEARLY_SOLID_FRACTION = 0.99
"""Own choice: where the last liquid of a casting is told; the last hundredth runs on down for a long way in ever less metal."""


def why_not(recipe: Mapping[str, float], library: Library) -> str:
    """Why the melting range of a recipe in percent by mass cannot be computed, as a sentence; empty: it can."""
    if not all(np.isfinite(part) and part >= 0 for part in recipe.values()) or not any(recipe.get(metal) for metal in METALS):
        return "The recipe holds none of silver, gold and copper, or parts that are no numbers of nought or more."
    whole = sum(recipe.values())
    slack, limit = library.rule("composition_slack_percent"), library.rule("computed_foreign_limit_percent")
    if abs(whole - WHOLE_PERCENT) > slack:
        return f"The recipe adds to {whole:g} percent, not to {WHOLE_PERCENT:g} within {slack:g}."
    others = {symbol: part for symbol, part in recipe.items() if symbol not in METALS and part > 0}
    if sum(others.values()) > limit:
        named = ", ".join(f"{part:g} percent {symbol}" for symbol, part in others.items())
        return f"Only silver, gold and copper are computed, and the recipe holds {named}."
    return ""


def table(library: Library) -> GibbsTable:
    """The library's Gibbs energies of silver, gold and copper."""
    return gibbs_table(library.gibbs_elements, library.gibbs_pairs, METALS)


def assessment(library: Library) -> Assessment:
    """The same as the physics takes them, in the order of METALS."""
    rows = table(library)
    phases = [
        Solution(pure=tuple(joined(pieces) for pieces in pure), pairs=rows.pairs, terms=terms)
        for pure, terms in ((rows.liquid, rows.liquid_terms), (rows.fcc, rows.fcc_terms))
    ]
    return Assessment(liquid=phases[0], fcc=phases[1], molar_masses=rows.molar_masses)


def freezing(recipe: Mapping[str, float], library: Library, way: Way) -> Melting:
    """How a recipe in percent by mass freezes, with its heat: SI, for a solver.

    Raises BadRequestError for a recipe that cannot be computed.
    """
    if why := why_not(recipe, library):
        raise BadRequestError(
            "This recipe cannot be computed.", why=why, try_this="Give solidus and liquidus of the refiner's sheet."
        )
    energies = assessment(library)
    masses = np.array([recipe.get(metal, 0.0) for metal in METALS])
    return melting(energies, mole_fractions(masses, energies.molar_masses), way)


def melting_range(recipe: Mapping[str, float], library: Library) -> MeltingRange:
    """Solidus, liquidus and last liquid of a recipe in percent by mass, with their band and sources.

    Raises BadRequestError for a recipe that cannot be computed.
    """
    even, cast = freezing(recipe, library, "lever"), freezing(recipe, library, "scheil")
    used = [metal for metal in METALS if recipe.get(metal)]
    return MeltingRange(
        solidus_c=c_from_k(even.last_liquid),
        liquidus_c=c_from_k(even.liquidus),
        last_liquid_c=c_from_k(cast.temperature_at_solid(NEARLY_SOLID_FRACTION)),
        band_k=library.rule("computed_melting_band_k"),
        sources=gibbs_table(library.gibbs_elements, library.gibbs_pairs, used).sources,
    )


def melts(library: Library) -> Melts:
    """What computes the melting range of an own recipe while a studio's rows are read: None where it cannot be computed."""

    def known(recipe: Mapping[str, float]) -> MeltingRange | None:
        return None if why_not(recipe, library) else melting_range(recipe, library)

    return known
