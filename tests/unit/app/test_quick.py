"""Quick answers at the scale, against arithmetic that stands here step by step."""

import math

import pytest

from pourwell.app.mixing import mix_for
from pourwell.app.quick import CHARGE_CODES, ChargeAnswer, charge_for
from pourwell.errors import BadDataError, BadRequestError, UnknownNameError

STERLING, RESIN, SPRUE_WAX = 10.36, 1.09, 0.95
"""Densities that the library has for them [g/cm3]."""
MELT_LOSS = 0.005
BASE = """
[[bases]]
fits_mm = 76
depth_mm = 8
dome_diameter_mm = 24
dome_height_mm = 12
"""


def charged(weight_g: float, **more: object) -> ChargeAnswer:
    """The answer of `pourwell weigh` with its usual words."""
    said = {"base_g": 0.0, "wax_g": 0.0, "alloy": "sterling-925", "pattern": "resin", "flask": "76x100", **more}
    return charge_for(weight_g, **{"returns_fraction": 0.0, "own_alloying": False, **said})  # type: ignore[arg-type]


def cap_cm3(diameter_mm: float, height_mm: float) -> float:
    """A spherical cap, pi h (3 a^2 + h^2) / 6."""
    return math.pi * height_mm * (3 * (diameter_mm / 2) ** 2 + height_mm**2) / 6000


def test_the_charge_of_a_resin_tree_by_hand() -> None:
    """41.2 g with a base of 26.9 are 14.3 g of resin, 13.119 cm3; the dome of 28 x 10 mm holds 3.602 cm3; 16.721 cm3 of sterling
    weigh 173.24 g, which at half a percent of loss takes 174.11 g, so 174.2 g are weighed.
    """
    answer = charged(41.2, base_g=26.9)
    assert answer.weighed.pattern_g == pytest.approx(14.3)
    assert answer.weighed.body_g == pytest.approx(13.1193 * STERLING, abs=0.001)
    assert answer.weighed.button_g == pytest.approx(3.6024 * STERLING, abs=0.001)
    assert answer.weighed.metal_g == pytest.approx(173.24, abs=0.01)
    assert answer.charge.total_g == 174.2
    assert answer.charge.fresh_g == 174.2
    assert answer.charge.melt_loss_g == pytest.approx(174.2 - 173.24, abs=0.01)


def test_sprue_wax_and_resin_add_by_volume() -> None:
    """10 g of which 4 g are wax: 6 / 1.09 + 4 / 0.95 = 9.715 cm3, not 10 / 1.09."""
    answer = charged(10.0, wax_g=4.0)
    assert answer.weighed.body_g == pytest.approx((6 / RESIN + 4 / SPRUE_WAX) * STERLING)
    assert answer.weighed.body_g > charged(10.0).weighed.body_g


def test_the_ends_of_a_charge_are_the_ends_of_its_densities_and_of_its_loss() -> None:
    """Low: no wax, resin of 1.20, silver of 10.30, 0.2 % lost. High: 80 % wax of 0.92, resin of 1.09, silver of 10.40, 1 % lost."""
    answer = charged(14.3, wax_g=None)
    low = (14.3 / 1.20 + cap_cm3(28, 10)) * 10.30 / 0.998
    high = (14.3 * 0.8 / 0.92 + 14.3 * 0.2 / 1.09 + cap_cm3(28, 10)) * 10.40 / 0.99
    assert low <= answer.charge.low_g < low + 0.1 + 1e-9
    assert high <= answer.charge.high_g < high + 0.1 + 1e-9


def test_returns_are_rounded_down_and_fresh_metal_takes_the_rest() -> None:
    """A third of 174.2 g is 58.07 g: 58.0 g of returns and 116.2 g fresh."""
    charge = charged(14.3, returns_fraction=1 / 3).charge
    assert (charge.returns_g, charge.fresh_g) == (58.0, 116.2)


def test_own_alloying_splits_fresh_metal_and_never_falls_short_of_the_fineness() -> None:
    """92.5 % of 174.2 g are 161.135 g: 161.14 g of silver, and copper for the rest."""
    charge = charged(14.3, own_alloying=True).charge
    assert dict(charge.parts_g) == {"Ag": 161.14, "Cu": 13.06}
    assert (charge.fine, charge.fine_g, charge.master_g) == ("Ag", 161.14, 13.06)


def test_a_base_of_the_studio_shapes_the_button_and_is_not_called_assumed(studio) -> None:
    assumed = charged(14.3)
    studio({"studio.toml": BASE})
    own = charged(14.3)
    assert own.weighed.button_g == pytest.approx(cap_cm3(24, 12) * STERLING)
    assert own.button_words == "dome 24 x 12 mm of the base for 76 mm flasks"
    assert assumed.button_words.endswith("assumed: give yours in studio.toml")


def test_without_a_flask_the_usual_one_is_taken_or_the_middle_one_of_the_studio(studio) -> None:
    assert charged(14.3, flask="") == charged(14.3, flask="76x100")
    studio({"studio.toml": 'flasks = ["51x64", "89x102", "102x127"]\n'})
    assert charged(14.3, flask="") == charged(14.3, flask="89x102")


def test_a_crucible_is_held_against_the_charge_once_the_studio_says_how_large_it_is(studio) -> None:
    """174.2 g of liquid silver take about 18.9 cm3: nothing to say of 30 cm3, near the brim of 19.5, over that of 15."""

    def said(crucible_cm3: float) -> list[tuple[str, str]]:
        studio({"studio.toml": f"[melting]\ncrucible_cm3 = {crucible_cm3}\n"})
        return [(f.code, f.severity.value) for f in charged(14.3, wax_g=1).findings]

    assert charged(14.3, wax_g=1).findings == (), "a crucible of unknown size is asked for by the plan, not at the scale"
    assert said(30) == []
    assert said(19.5) == [("crucible-small", "warn")]
    assert said(15) == [("crucible-small", "stop")]


def test_a_resin_tree_whose_wax_was_not_said_is_told_what_it_may_cost() -> None:
    """30 % is taken for wax, and the ends of the charge are named; there is no need once the wax is said, or all is wax."""
    answer = charged(14.3, wax_g=None)
    assert answer.weighed.body_g == pytest.approx(14.3 * (0.7 / RESIN + 0.3 / SPRUE_WAX) * STERLING)
    found = answer.findings
    assert [(f.code, f.severity.value) for f in found] == [("weight-mixed", "note")]
    assert f"{answer.charge.high_g:.1f}" in found[0].measure
    assert charged(14.3, wax_g=0).findings == ()
    assert charged(14.3, wax_g=1).findings == ()
    assert charged(14.3, pattern="wax-injection").findings == ()


def test_only_findings_about_the_charge_are_shown_at_the_scale() -> None:
    platinum = charged(14.3, alloy="platinum-950-ruthenium", returns_fraction=0.9)
    codes = {f.code for f in platinum.findings}
    assert {"alloy-advisory", "returns-share"} <= codes <= set(CHARGE_CODES)


def test_a_density_of_ones_own_that_its_recipe_cannot_have_is_told_at_the_scale(studio) -> None:
    """93 silver and 7 copper mix to 10.38 g/cm3; 13.8, two digits changed about, would have a third too much weighed out."""
    text = 'id = "house"\nname = "house"\nlike = "sterling-925"\ncomposition_percent = { Ag = 93.0, Cu = 7.0 }\n'
    rest = "solidus_c = 800\nliquidus_c = 890\ndensity_g_per_cm3 = "
    studio({"alloys/house.toml": text + rest + "10.38\n"})
    assert charged(14.3, wax_g=1, alloy="house").findings == ()
    studio({"alloys/house.toml": text + rest + "13.8\n"})
    (found,) = charged(14.3, wax_g=1, alloy="house").findings
    assert (found.code, found.where, found.severity.value) == ("own-row-doubtful", "house", "warn")
    assert "10.38" in found.says


def test_a_doubtful_investment_of_ones_own_has_no_say_about_the_charge(studio) -> None:
    studio({"investments/gypsum-standard.toml": 'id = "gypsum-standard"\nwater_g_per_100_g = 400\n'})
    assert charged(14.3, wax_g=1).findings == ()


@pytest.mark.parametrize(
    ("words", "fault", "says"),
    [
        ({"weight_g": 0.0}, BadDataError, "weight_g"),
        ({"weight_g": -3.0}, BadDataError, "weight_g"),
        ({"weight_g": float("nan")}, BadDataError, "weight_g"),
        ({"weight_g": 20.0, "base_g": 20.0}, BadDataError, "weigh as much as the whole"),
        ({"weight_g": 20.0, "wax_g": 21.0}, BadDataError, "weigh as much as the whole"),
        ({"weight_g": 20.0, "returns_fraction": 1.2}, BadDataError, "returns_fraction"),
        ({"weight_g": 20.0, "alloy": "sterling-952"}, UnknownNameError, "sterling-925"),
        ({"weight_g": 20.0, "pattern": "raisin"}, UnknownNameError, "resin"),
        ({"weight_g": 20.0, "flask": "a bucket"}, BadRequestError, "a bucket"),
    ],
)
def test_what_cannot_be_weighed_is_refused_in_a_sentence(words: dict, fault: type[Exception], says: str) -> None:
    with pytest.raises(fault) as caught:
        charged(words.pop("weight_g"), **words)
    assert says in str(caught.value)


def test_the_mix_of_a_flask_by_hand() -> None:
    """76 x 100 mm hold 453.65 cm3, with 4 % to spare 471.79. Three times that is a half ball of 87.75 mm, whose inside keeps a
    film of 0.13 mm, 6.29 cm3. At 39 of water to 100 of a powder of 2.55 g/cm3 a cubic centimetre holds 1.2785 g of powder:
    611.2 g, so 615 g are weighed, and 0.39 of them is 239.85 g of water: 240 g.
    """
    mix, found = mix_for("76x100", investment="gypsum-standard", section="medium")
    volume = math.pi / 4 * 7.6**2 * 10
    radius_mm = (3 * 3 * 1.04 * volume * 1000 / (2 * math.pi)) ** (1 / 3)
    wanted = (1.04 * volume + 2 * math.pi * radius_mm**2 * 0.13 / 1000) / (1 / 2.55 + 0.39)
    assert wanted == pytest.approx(611.2, abs=0.1)
    assert (mix.powder_g, mix.water_g, mix.ratio_g_per_100_g) == (615, 240, 39)
    assert mix.slurry_cm3 == pytest.approx(615 * (1 / 2.55 + 0.39), abs=0.05)
    assert mix.bowl_cm3 == 1500
    assert not [f for f in found if f.severity.value == "stop"]


@pytest.mark.parametrize(("section", "ratio"), [("thin", 40), ("medium", 39), ("heavy", 38)])
def test_thin_pieces_take_more_water(section: str, ratio: float) -> None:
    assert mix_for("76x100", investment="gypsum-standard", section=section)[0].ratio_g_per_100_g == ratio


def test_what_stands_on_the_bag_wins_over_ours(studio) -> None:
    studio({"investments/gypsum-standard.toml": 'id = "gypsum-standard"\nwater_g_per_100_g = 42\ngloss_off_min = 8\n'})
    mix, _ = mix_for("76x100", investment="gypsum-standard", section="thin")
    assert (mix.ratio_g_per_100_g, mix.ratio_from) == (42, "bag")
    assert mix.clock[-1].at_s == 8 * 60


def test_a_studio_without_pumps_gets_the_other_way_of_working(studio) -> None:
    studio({"studio.toml": "[investing_vacuum]\nbowl = false\nflask = false\n"})
    mix, found = mix_for("76x100", investment="gypsum-standard", section="medium")
    assert [step.key for step in mix.clock] == ["wet", "mix", "bowl", "brush", "pour", "flask", "finish", "gloss"]
    assert "investing-no-vacuum" in {f.code for f in found}
    assert not mix.vacuum


def test_high_up_water_boils_under_less_vacuum(studio) -> None:
    low, _ = mix_for("76x100", investment="gypsum-standard", section="medium")
    studio({"studio.toml": "altitude_m = 2200\n"})
    high, _ = mix_for("76x100", investment="gypsum-standard", section="medium")
    assert low.boil_kpa - high.boil_kpa == pytest.approx(101.3 - 77.5, abs=0.3)  # the standard atmosphere at 2,200 m
    assert (low.powder_g, low.water_g) == (high.powder_g, high.water_g)


@pytest.mark.parametrize(
    ("flask", "investment", "fault", "says"),
    [
        ("0x0", "gypsum-standard", BadRequestError, "flasks lie between"),
        ("tall", "gypsum-standard", BadRequestError, "76x100"),
        ("76x100", "gypsum-standart", UnknownNameError, "gypsum-standard"),
    ],
)
def test_no_mix_for_what_does_not_exist(flask: str, investment: str, fault: type[Exception], says: str) -> None:
    with pytest.raises(fault) as caught:
        mix_for(flask, investment=investment, section="medium")
    assert says in str(caught.value)


def test_an_investment_for_a_pattern_that_nobody_has_is_refused(studio) -> None:
    text = 'id = "clay-bag"\nname = "the clay bag"\nlike = "gypsum-standard"\nfor_patterns = ["clay"]\n'
    studio({"investments/clay-bag.toml": text})
    with pytest.raises((BadRequestError, BadDataError)) as caught:
        mix_for("76x100", investment="clay-bag", section="medium")
    assert "clay" in str(caught.value)
