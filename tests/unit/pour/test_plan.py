"""The pour and the quench."""

import pytest

from pourwell.materials.studio import Studio
from pourwell.steps.pour.plan import heat_to_solid, vacuum_kpa
from tests.unit.burnout.case import altered, library, run

GRAVITY = Studio(casting={"way": "gravity"})
SPUN = Studio(casting={"way": "centrifuge"})
GERMANIUM = "silver-935-germanium"


def test_a_plain_pour_has_its_numbers():
    made = run().pour
    assert made.transfer_s == 20
    assert made.vacuum_kpa == 88
    assert made.button_solid_low_s < made.button_solid_s < made.button_solid_high_s


def test_the_button_freezes_sooner_in_a_cooler_flask_and_later_with_hotter_metal():
    usual = run().pour
    assert run(flask_c=450).pour.button_solid_s < usual.button_solid_s
    assert run(metal_c=1050).pour.button_solid_s > usual.button_solid_s


def test_a_smaller_flask_has_a_smaller_button_that_freezes_sooner():
    assert run(size=(40, 50)).pour.button_solid_s < run().pour.button_solid_s


def test_a_flask_hotter_than_the_solidus_still_gives_a_plan():
    hopeless = run(flask_c=900)
    assert hopeless.pour.button_solid_s > run().pour.button_solid_s
    assert "flask-over-peak" in hopeless.codes


def test_only_a_vacuum_caster_is_told_a_vacuum():
    assert run(studio=GRAVITY).pour.vacuum_kpa is None
    assert run(studio=SPUN).pour.vacuum_kpa is None


def test_what_drives_the_metal_depends_on_the_way_of_casting():
    drives = {way: run(studio=Studio(casting={"way": way})).pour.head_kpa for way in ("gravity", "centrifuge", "vacuum")}
    assert drives["gravity"] < 6 < drives["centrifuge"] < drives["vacuum"]


def test_without_a_shape_nothing_is_said_of_entry():
    made = run(thinnest_mm=None, head_mm=None).pour
    assert (made.entry_kpa, made.head_kpa) == (None, None)


def test_a_thinner_section_needs_more_pressure():
    assert run(thinnest_mm=0.4).pour.entry_kpa == pytest.approx(2 * run(thinnest_mm=0.8).pour.entry_kpa, abs=0.02)


def test_up_the_mountain_an_assumed_vacuum_shrinks_with_the_air():
    assert vacuum_kpa(Studio(altitude_m=2000)) == pytest.approx(88 * 79.5 / 101.3, abs=0.2)
    assert vacuum_kpa(Studio(altitude_m=-300)) == 88


def test_a_vacuum_read_from_the_gauge_is_taken_but_never_more_than_the_air():
    read = {"casting": {"vacuum_kpa": 70.0}, "given": frozenset({"casting", "casting.vacuum_kpa"})}
    assert vacuum_kpa(Studio(**read, altitude_m=2000)) == 70
    assert vacuum_kpa(Studio(**read, altitude_m=5000)) < 55


def test_heat_to_solid_counts_superheat_latent_heat_and_the_range():
    sterling = library().alloy("sterling-925")
    at_liquidus = heat_to_solid(sterling, sterling.liquidus_c.value)
    assert at_liquidus == pytest.approx(112500 + 313 * 94, rel=0.02)
    assert heat_to_solid(sterling, 996) - at_liquidus == pytest.approx(325 * 100, rel=0.02)


def test_the_quench_waits_longer_for_a_larger_flask():
    waits = [run(size=(d, 100)).quench for d in (50, 64, 76, 102)]
    assert [q.wait_min for q in waits] == sorted(q.wait_min for q in waits)
    assert (waits[1].low_min, waits[1].wait_min, waits[1].high_min) == (8, 9, 15)


def test_every_quench_has_its_bench_sign_and_the_alloy_s_own_words():
    for name in library().alloys:
        mould = "gypsum-standard" if library().alloy(name).mould == "gypsum" else "phosphate"
        made = run(alloy=name, investment=mould).quench
        assert "no red" in made.sign
        assert "shade" in made.sign
        said = library().alloy(name).quench
        kept_out = mould == "phosphate" and said.way == "water"
        assert made.about == (library().investment(mould).cool_in_air if kept_out else said.about).text
        assert made.low_min <= made.wait_min < made.high_min
        assert made.cool_low_min <= made.cool_min <= made.cool_high_min


def test_what_cools_in_air_is_opened_long_after_it_may_be_moved():
    for name in ("gold-750-white-nickel", "platinum-950-ruthenium", "fine-gold-999"):
        mould = "gypsum-standard" if library().alloy(name).mould == "gypsum" else "phosphate"
        made = run(alloy=name, investment=mould, size=(51, 64)).quench
        assert made.way == "air"
        assert made.cool_low_min > made.low_min
        assert made.cool_min > 1.5 * made.wait_min


def test_what_goes_into_water_is_opened_when_it_goes_in():
    made = run().quench
    assert (made.cool_min, made.cool_low_min, made.cool_high_min) == (made.wait_min, made.low_min, made.high_min)


def test_a_larger_flask_a_hotter_one_and_a_heavier_tree_cool_longer():
    nickel = {"alloy": "gold-750-white-nickel", "metal_g": 60.0, "size": (64, 80), "flask_c": 550}
    usual = run(**nickel).quench.cool_min
    assert run(**nickel | {"size": (89, 80)}).quench.cool_min > usual
    assert run(**nickel | {"flask_c": 650}).quench.cool_min > usual
    assert run(**nickel | {"metal_g": 300.0}).quench.cool_min > usual


def test_a_phosphate_mould_keeps_every_alloy_out_of_the_water_unless_its_row_does_not_say_so():
    made = run(alloy="gold-750-white-palladium", investment="phosphate")
    assert made.quench.way == "air"
    assert "phosphate" in made.quench.about
    assert "never-quench" in made.codes
    maker = altered(library().investment("phosphate"), cool_in_air=None)
    assert run(alloy="gold-750-white-palladium", investment=maker).quench.way == "water"


def test_stones_in_a_large_flask_cool_longer_than_published_and_never_shorter():
    waits = [run(investment="gypsum-stone", stones=True, size=(d, 150)).quench for d in (40, 64, 102, 127)]
    assert all(q.cool_min >= 105 and q.cool_low_min >= 90 and q.cool_high_min >= 120 for q in waits)
    assert waits[-1].cool_min > 105


def test_a_small_flask_s_band_reaches_the_published_minutes_but_not_where_waiting_makes_brittle():
    assert run(size=(51, 64)).quench.high_min == 15
    rose = run(alloy="gold-750-rose", size=(51, 64)).quench
    assert rose.high_min < 10


def test_no_quench_before_the_button_is_solid():
    slow = altered(library().alloy("sterling-925"), liquid_density_g_per_cm3=30, latent_kj_per_kg=400)
    made = run(alloy=slow)
    assert made.quench.low_min * 60 >= 1.3 * made.pour.button_solid_high_s


def test_what_must_never_be_quenched_cools_in_air():
    assert run(alloy="gold-585-white-nickel").quench.way == "air"
    assert run().quench.way == "water"


def test_stones_are_never_quenched():
    made = run(investment="gypsum-stone", stones=True).quench
    assert made.way == "air"
    assert (made.low_min, made.high_min) == (90, 120)
    assert "Stones" in made.about


def test_germanium_silver_waits_longer_than_sterling():
    assert run(alloy=GERMANIUM).quench.wait_min > run().quench.wait_min
