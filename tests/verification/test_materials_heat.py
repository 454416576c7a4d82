"""Melting points, heats and melting ranges of the rows, against independent libraries and computations."""

import chemicals
import periodictable
import pytest

from pourwell.materials import mixture
from pourwell.materials.library import load_library
from pourwell.units import c_from_k, k_from_c

LIBRARY = load_library()
ELEMENTS = LIBRARY.elements
CAS = {"Ag": "7440-22-4", "Au": "7440-57-5", "Cu": "7440-50-8", "Pt": "7440-06-4", "Pd": "7440-05-3", "Zn": "7440-66-6"}
GAS_CONSTANT_J_PER_MOL_K = 8.314462618
COMPUTED = {
    "sterling-925": (802.8, 896.3),
    "silver-950": (862.1, 916.7),
    "gold-375-red": (907.4, 961.9),
    "gold-585-yellow": (824.7, 837.3),
    "gold-585-rose": (850.1, 892.8),
    "gold-750-yellow-2n": (894.6, 929.4),
    "gold-750-yellow-3n": (881.8, 896.3),
    "gold-750-pink-4n": (877.6, 882.9),
    "gold-750-rose": (886.0, 892.7),
    "gold-916-yellow": (985.9, 1017.4),
}
"""Solidus and liquidus [degC] computed with pycalphad 0.11.2 from the assessments of hayes-1986 (as in nist-agcu), hassam-1988 and
sundman-1998 (assessment I) over dinsdale-1991, without a ternary term and with nothing fitted. Honest to about 10 K."""


@pytest.mark.parametrize("symbol", ["Ag", "Au", "Cu"])
def test_the_melting_points_follow_from_the_unary_functions(symbol):
    """Ours are the breaks of the functions of dinsdale-1991; the library chemicals has the handbook's: within 0.05 K."""
    assert ELEMENTS[symbol].melting_c.value == pytest.approx(c_from_k(chemicals.Tm(CAS[symbol])), abs=0.05)


@pytest.mark.parametrize("symbol", ["Ag", "Au", "Cu"])
def test_the_latent_heats_follow_from_the_unary_functions(symbol):
    """Ours are differences of the functions of dinsdale-1991; the library chemicals has the handbook's: within 0.3 kJ/kg."""
    theirs = chemicals.Hfus(CAS[symbol]) / chemicals.MW(CAS[symbol])
    assert mixture.latent_kj_per_kg({symbol: 100.0}, ELEMENTS) == pytest.approx(theirs, abs=0.3)


@pytest.mark.parametrize("alloy", COMPUTED)
def test_the_latent_heat_of_a_row_is_that_of_its_elements_by_mass(alloy):
    """Neumann and Kopp over the handbook figures of the library chemicals: within 1 % of the row, which is from dinsdale-1991."""
    row = LIBRARY.alloy(alloy)
    theirs = sum(part / 100 * chemicals.Hfus(CAS[s]) / chemicals.MW(CAS[s]) for s, part in row.composition_percent.items())
    assert row.latent_kj_per_kg.value == pytest.approx(theirs, rel=0.01)
    assert mixture.latent_kj_per_kg(row.composition_percent, ELEMENTS) == pytest.approx(theirs, rel=0.01)


@pytest.mark.parametrize(
    ("recipe", "computed"),
    [
        pytest.param(STERLING := {"Ag": 92.5, "Cu": 7.5}, 320, id="sterling"),
        pytest.param({"Au": 75.0, "Ag": 12.5, "Cu": 12.5}, 215, id="18 ct, 3N"),
        pytest.param({"Ag": 100.0}, 310, id="silver"),
        pytest.param({"Au": 100.0}, 165, id="gold"),
        pytest.param({"Cu": 100.0}, 494, id="copper"),
    ],
)
def test_the_specific_heat_of_the_melt_meets_the_assessed_functions(recipe, computed):
    """dinsdale-1991 with the assessments above, evaluated at the liquidus: within 7 %."""
    assert mixture.cp_liquid_j_per_kg_k(recipe, ELEMENTS) == pytest.approx(computed, rel=0.07)


@pytest.mark.parametrize("alloy", LIBRARY.alloys.values(), ids=lambda row: row.id)
def test_a_mole_of_atoms_near_melting_holds_more_than_dulong_and_petit(alloy):
    """Dulong and Petit 1819: 3 R a mole of atoms; metals near melting lie 20 to 65 % above. Masses from periodictable."""
    moles = sum(part / getattr(periodictable, symbol).mass for symbol, part in alloy.composition_percent.items())
    mean_kg_per_mol = 1e-3 * sum(alloy.composition_percent.values()) / moles
    for cp in (alloy.cp_solid_j_per_kg_k.value, alloy.cp_liquid_j_per_kg_k.value):
        assert 1.2 <= cp * mean_kg_per_mol / (3 * GAS_CONSTANT_J_PER_MOL_K) <= 1.65


@pytest.mark.parametrize("alloy", LIBRARY.alloys.values(), ids=lambda row: row.id)
def test_the_entropy_of_fusion_is_that_of_metals(alloy):
    """Richards 1897: the entropy of fusion of metals is about R a mole of atoms, 0.9 to 1.7 R. Atomic masses from periodictable."""
    moles = sum(part / getattr(periodictable, symbol).mass for symbol, part in alloy.composition_percent.items())
    mean_kg_per_mol = 1e-3 * sum(alloy.composition_percent.values()) / moles
    entropy = 1e3 * alloy.latent_kj_per_kg.value * mean_kg_per_mol / k_from_c(alloy.liquidus_c.value)
    assert 0.9 <= entropy / GAS_CONSTANT_J_PER_MOL_K <= 1.7, f"{entropy / GAS_CONSTANT_J_PER_MOL_K:.2f} R"


@pytest.mark.parametrize("alloy", COMPUTED)
def test_the_melting_range_of_a_row_meets_the_computed_one(alloy):
    """COMPUTED, from the published binary assessments: within 10 K, most within 5."""
    row = LIBRARY.alloy(alloy)
    solidus, liquidus = COMPUTED[alloy]
    assert row.solidus_c.value == pytest.approx(solidus, abs=10)
    assert row.liquidus_c.value == pytest.approx(liquidus, abs=10)


@pytest.mark.parametrize("alloy", ["gold-375-red", "gold-585-rose", "gold-585-yellow"])
def test_no_metal_temperature_lies_near_the_computed_liquidus(alloy):
    """The coolest metal of a row is 30 K or more over the liquidus that COMPUTED has for its recipe, not only over its own."""
    row = LIBRARY.alloy(alloy)
    coolest = min(q.ends[0] for q in (row.metal_thin_c, row.metal_medium_c, row.metal_heavy_c))
    assert coolest - COMPUTED[alloy][1] >= 30


@pytest.mark.parametrize("alloy", ["sterling-925", "silver-950", "silver-935-germanium", "silver-960-germanium"])
def test_silvers_lie_between_the_ends_of_the_silver_copper_diagram(alloy):
    """nist-agcu: eutectic 779.1 degC, (Ag) with 8.27 % copper there; the solidus is near the line to pure silver, within 12 K."""
    row = LIBRARY.alloy(alloy)
    silver_c, eutectic_c, soluble = c_from_k(chemicals.Tm(CAS["Ag"])), 779.1, 8.27
    assert eutectic_c < row.solidus_c.value < row.liquidus_c.value < silver_c
    if "Ge" not in row.composition_percent:
        line = silver_c - row.composition_percent["Cu"] / soluble * (silver_c - eutectic_c)
        assert row.solidus_c.value == pytest.approx(line, abs=12)
