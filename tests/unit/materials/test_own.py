"""A studio's own alloy: what it takes over, what follows from its recipe, what it must say itself."""

import pytest

from pourwell.errors import BadDataError
from pourwell.materials import mixture
from pourwell.materials.checks import row_faults
from pourwell.materials.library import load_library
from pourwell.materials.model import Grade

HOUSE = """
id = "house-585"
name = "House 14 ct"
like = "gold-585-yellow"
fineness_permille = 585
composition_percent = { Au = 58.5, Ag = 25.0, Cu = 16.5 }
solidus_c = 831
liquidus_c = 851
"""


def alloy(folder, text):
    (folder / "alloys").mkdir()
    (folder / "alloys" / "mine.toml").write_text(text, encoding="utf-8")
    library = load_library(folder)
    return library, next(row for key, row in library.alloys.items() if row != load_library().alloys.get(key))


def test_a_recipe_like_another_is_a_whole_row_that_passes_its_checks(tmp_path):
    library, house = alloy(tmp_path, HOUSE)
    assert (house.id, house.name, house.metal, house.colour) == ("house-585", "House 14 ct", "gold", "")
    assert row_faults(house, library) == ()
    assert "gold-585-yellow" in library.alloys


def test_what_belongs_to_the_recipe_is_mixed_not_taken_over(tmp_path):
    library, house = alloy(tmp_path, HOUSE)
    mixed = mixture.density_g_per_cm3(house.composition_percent, library.elements)
    assert house.density_g_per_cm3.value == pytest.approx(mixed, abs=0.001)
    assert house.density_g_per_cm3.value != library.alloy("gold-585-yellow").density_g_per_cm3.value
    for key in (
        "density_g_per_cm3",
        "latent_kj_per_kg",
        "cp_solid_j_per_kg_k",
        "liquid_density_g_per_cm3",
        "surface_tension_n_per_m",
    ):
        assert getattr(house, key).grade is Grade.ESTIMATE


def test_the_metal_temperature_keeps_its_superheat_over_the_new_liquidus(tmp_path):
    library, house = alloy(tmp_path, HOUSE)
    model = library.alloy("gold-585-yellow")
    for key in ("metal_thin_c", "metal_medium_c", "metal_heavy_c"):
        ours, theirs = getattr(house, key), getattr(model, key)
        for mine, its in zip((ours.value, *ours.ends), (theirs.value, *theirs.ends), strict=True):
            assert mine - house.liquidus_c.value == pytest.approx(its - model.liquidus_c.value)
        assert ours.grade is Grade.ESTIMATE


def test_what_belongs_to_the_family_is_taken_over(tmp_path):
    library, house = alloy(tmp_path, HOUSE)
    model = library.alloy("gold-585-yellow")
    assert (house.flask_thin_c, house.quench, house.melt_loss_fraction) == (
        model.flask_thin_c,
        model.quench,
        model.melt_loss_fraction,
    )


def test_a_given_figure_is_never_replaced(tmp_path):
    _, house = alloy(tmp_path, HOUSE + "density_g_per_cm3 = 13.7\nmetal_thin_c = 950\nmetal_medium_c = 940\nmetal_heavy_c = 930\n")
    assert (house.density_g_per_cm3.value, house.metal_heavy_c.value) == (13.7, 930)


@pytest.mark.parametrize("key", ["solidus_c", "liquidus_c", "composition_percent", "name"])
def test_a_new_recipe_must_say_itself_what_cannot_be_derived(tmp_path, key):
    text = "\n".join(line for line in HOUSE.splitlines() if not line.startswith(key))
    if key in ("solidus_c", "liquidus_c"):
        with pytest.raises(BadDataError, match=key):
            alloy(tmp_path, text)
    elif key == "name":
        with pytest.raises(BadDataError, match="name missing"):
            alloy(tmp_path, text)
    else:
        with pytest.raises(BadDataError, match="composition_percent"):
            alloy(tmp_path, text)


def test_a_changed_recipe_of_a_shipped_row_asks_for_its_melting_range(tmp_path):
    """Another recipe under a known id may not keep the old melting range in silence."""
    with pytest.raises(BadDataError, match="solidus_c is missing"):
        alloy(tmp_path, 'id = "sterling-925"\ncomposition_percent = { Ag = 92.5, Cu = 5.5, Zn = 2.0 }\n')


def test_a_changed_liquidus_of_a_shipped_row_moves_its_metal_temperature(tmp_path):
    _, ours = alloy(tmp_path, 'id = "sterling-925"\nliquidus_c = 905\n')
    shipped = load_library().alloy("sterling-925")
    assert ours.metal_heavy_c.value == shipped.metal_heavy_c.value + 905 - shipped.liquidus_c.value
    assert ours.density_g_per_cm3 == shipped.density_g_per_cm3


def test_one_number_of_the_quench_may_be_changed_alone(tmp_path):
    _, ours = alloy(tmp_path, 'id = "sterling-925"\n[quench]\nwait_64_mm_min = 12\n')
    assert (ours.quench.way, ours.quench.wait_64_mm_min.value) == ("water", 12)


def test_an_element_without_a_row_leaves_its_figures_to_the_user(tmp_path):
    with pytest.raises(BadDataError, match="density_g_per_cm3"):
        alloy(tmp_path, HOUSE.replace("Cu = 16.5", "Cu = 15.5, Bi = 1.0"))


@pytest.mark.parametrize("recipe", ["{ Au = 'much' }", "{}", "5", "{ Au = 0 }"])
def test_a_recipe_that_is_none_is_refused_not_mixed(tmp_path, recipe):
    with pytest.raises(BadDataError):
        alloy(tmp_path, HOUSE.replace("{ Au = 58.5, Ag = 25.0, Cu = 16.5 }", recipe))


def test_an_investment_may_be_like_another(tmp_path):
    (tmp_path / "investments").mkdir()
    (tmp_path / "investments" / "blue.toml").write_text(
        'id = "blue-bag"\nname = "the blue bag"\nlike = "gypsum-resin"\nwater_g_per_100_g = 39\n', encoding="utf-8"
    )
    library = load_library(tmp_path)
    assert row_faults(library.investment("blue-bag"), library) == ()
    assert library.investment("blue-bag").peak_c == library.investment("gypsum-resin").peak_c
