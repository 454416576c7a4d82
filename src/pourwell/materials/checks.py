"""What a row must hold to be believed: the rule tests run it over every shipped row, a plan over the rows that it uses."""

from collections.abc import Iterator
from itertools import pairwise

from pourwell.errors import UnknownNameError
from pourwell.materials import mixture
from pourwell.materials.library import Library, load_library
from pourwell.materials.model import WHOLE_PERCENT, Alloy, Investment, Quantity

PERMILLE_PER_PERCENT = 10.0
FINE_METALS = {"silver": "Ag", "gold": "Au", "white gold": "Au", "platinum": "Pt", "palladium": "Pd"}
"""The element that an alloy's fineness counts."""
SECTIONS = ("thin", "medium", "heavy")
MIXING_HOLDS = frozenset({"Ag", "Au", "Cu", "Zn"})
"""Elements whose alloys have the density of ideal mixing; not so with silicon, or where zinc is more than a few percent."""


def poisons(alloy: Alloy, library: Library | None = None) -> tuple[str, ...]:
    """Sentences that name lead or cadmium in the alloy above the limit for jewellery; empty: none."""
    rules = (library or load_library()).rules
    limits = {"Pb": ("lead", rules["lead_limit_percent"]), "Cd": ("cadmium", rules["cadmium_limit_percent"])}
    return tuple(
        f"{alloy.id} holds {alloy.composition_percent[symbol]:g} percent {name}; jewellery may hold {limit.value:g} percent at most"
        for symbol, (name, limit) in limits.items()
        if alloy.composition_percent.get(symbol, 0.0) > limit.value
    )


def row_faults(row: Alloy | Investment, library: Library) -> tuple[str, ...]:
    """What is wrong with a row, as sentences that begin with the key; empty: nothing.

    An advisory alloy is held to the same rules, in its own mould.
    """
    faults = _alloy_faults(row, library) if isinstance(row, Alloy) else _investment_faults(row, library)
    return tuple(faults)


def _alloy_faults(alloy: Alloy, library: Library) -> Iterator[str]:
    yield from _recipe_faults(alloy, library)
    yield from _density_faults(alloy, library)
    solidus, liquidus = alloy.solidus_c.value, alloy.liquidus_c.value
    if solidus > liquidus:
        yield f"solidus_c: {solidus:.4g} °C lies above the liquidus, {liquidus:.4g} °C"
    yield from _metal_faults(alloy, library)
    yield from _flask_faults(alloy, library)
    for key in ("melt_loss_fraction", "returns_limit_fraction"):
        low, high = getattr(alloy, key).ends
        if not 0 <= low <= high <= 1:
            yield f"{key}: {low:g} to {high:g} is not between 0 and 1"


def _recipe_faults(alloy: Alloy, library: Library) -> Iterator[str]:
    whole = sum(alloy.composition_percent.values())
    slack = library.rule("composition_slack_percent")
    if abs(whole - WHOLE_PERCENT) > slack:
        yield f"composition_percent: adds to {whole:g}, not to {WHOLE_PERCENT:g} within {slack:g}"
    fine = FINE_METALS.get(alloy.metal)
    if fine and alloy.fineness_permille is not None:
        held = alloy.composition_percent.get(fine, 0.0) * PERMILLE_PER_PERCENT
        if alloy.fineness_permille > held + 1e-6:
            yield f"fineness_permille: {alloy.fineness_permille} is claimed but the recipe holds {held:g} permille {fine}"


def _density_faults(alloy: Alloy, library: Library) -> Iterator[str]:
    stated = alloy.density_g_per_cm3.value
    recipe = alloy.composition_percent
    if set(recipe) <= MIXING_HOLDS and recipe.get("Zn", 0.0) <= library.rule("mixing_zinc_limit_percent"):
        try:
            mixed = mixture.density_g_per_cm3(recipe, library.elements)
        except UnknownNameError:
            return
        tolerance = library.rule("density_mixing_tolerance_fraction")
        if abs(stated / mixed - 1.0) > tolerance:
            yield f"density_g_per_cm3: {stated:g} is more than {tolerance:.1%} from the {mixed:.2f} of its recipe"


def _metal_faults(alloy: Alloy, library: Library) -> Iterator[str]:
    given = {s: q for s in SECTIONS if isinstance(q := getattr(alloy, f"metal_{s}_c"), Quantity)}
    if not given:
        if not alloy.advisory:
            yield "metal_medium_c: missing; only an advisory row may leave the metal temperature to the refiner's sheet"
        return
    if len(given) < len(SECTIONS):
        yield f"metal_c: only {', '.join(given)} given; give all three or none"
    least = library.rule("superheat_least_k")
    ceiling = mould_limit_c(alloy, library)
    for section, metal in given.items():
        low, high = metal.ends
        if low < alloy.liquidus_c.value + least:
            yield f"metal_{section}_c: {low:g} is less than {least:g} K over the liquidus, {alloy.liquidus_c.value:g}"
        if high > ceiling:
            yield f"metal_{section}_c: {high:g} is above what a {alloy.mould} mould stands, {ceiling:g}"
    yield from _not_falling("metal", [q.value for q in given.values()])


def _flask_faults(alloy: Alloy, library: Library) -> Iterator[str]:
    below = library.rule("flask_below_solidus_k")
    peak = max((row.peak_c.value for row in library.investments.values() if row.binder == alloy.mould), default=float("inf"))
    flasks: list[Quantity] = [getattr(alloy, f"flask_{section}_c") for section in SECTIONS]
    for section, flask in zip(SECTIONS, flasks, strict=True):
        high = flask.ends[1]
        if high > alloy.solidus_c.value - below:
            yield f"flask_{section}_c: {high:g} is less than {below:g} K under the solidus, {alloy.solidus_c.value:g}"
        if high > peak:
            yield f"flask_{section}_c: {high:g} is above the burnout peak, {peak:g}"
    yield from _not_falling("flask", [q.value for q in flasks])


def _not_falling(what: str, values: list[float]) -> Iterator[str]:
    if any(later > earlier for earlier, later in pairwise(values)):
        yield f"{what}_c: thin, medium and heavy sections need falling temperatures, not {', '.join(f'{v:g}' for v in values)}"


def mould_limit_c(alloy: Alloy, library: Library) -> float:
    """The hottest metal [degC] that any investment of the alloy's mould stands."""
    return max((row.metal_max_c.value for row in library.investments.values() if row.binder == alloy.mould), default=float("inf"))


def _investment_faults(row: Investment, library: Library) -> Iterator[str]:
    nominal = row.water_g_per_100_g.value
    heavy = nominal if row.water_heavy_g_per_100_g is None else row.water_heavy_g_per_100_g.value
    fine = nominal if row.water_fine_g_per_100_g is None else row.water_fine_g_per_100_g.value
    if not heavy <= nominal <= fine:
        yield f"water_g_per_100_g: heavy {heavy:g}, usual {nominal:g} and fine {fine:g} do not rise"
    if not 0 <= row.hemihydrate_fraction.value <= 1:
        yield f"hemihydrate_fraction: {row.hemihydrate_fraction.value:g} is not between 0 and 1"
    longest_h = row.stand_max_h.value if row.stand_max_h else row.set_large_h.value
    if not row.set_small_h.value <= row.set_large_h.value <= longest_h:
        yield "set_large_h: standing times of small and large flasks and the longest do not rise"
    if row.peak_c.value > row.metal_max_c.value:
        yield f"peak_c: {row.peak_c.value:g} is above what its metal may be, {row.metal_max_c.value:g}"
    for name in (row.programme_wax, row.programme_resin):
        programme = library.programmes.get(name)
        if name and programme is None:
            yield f'programme: no burnout programme is called "{name}"'
        elif programme is not None:
            top = max((step.target_c for step in programme.steps if not isinstance(step.target_c, str)), default=0.0)
            if top > row.peak_c.ends[1]:
                yield f"peak_c: the programme {name} goes up to {top:g}, above {row.peak_c.ends[1]:g}"
    if row.stones and row.programme_resin:
        yield "programme_resin: none is published for resin with stones in place"
