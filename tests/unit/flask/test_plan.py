"""The flask: reading a size, base, room, mix, working clock."""

from itertools import pairwise

import pytest

from pourwell.errors import BadRequestError
from pourwell.materials.model import FlaskRow
from pourwell.materials.studio import Base, Studio
from pourwell.steps.flask.plan import as_room, base_for, flasks, mix, parse_flask, room
from tests.unit.burnout.case import altered, flask_of, library, run

EMPTY = Studio()
HIGH_UP = Studio(altitude_m=1500)


def mixed(diameter_mm=76.0, height_mm=100.0, *, section="medium", investment="gypsum-standard", studio=EMPTY, **flask):
    row = library().investment(investment) if isinstance(investment, str) else investment
    made = flask_of(diameter_mm, height_mm, studio=studio, **flask)
    return mix(made, investment=row, section=section, studio=studio, library=library())


@pytest.mark.parametrize("text", ["76x100", " 76X100 ", "76 x 100", "76 mm x 100 mm", "76.2x99.8", "7.6x10cm", "76\u00d7100"])
def test_a_size_finds_its_flask_however_it_is_written(text):
    assert parse_flask(text, EMPTY, library()).id == "76x100"


def test_an_id_finds_its_flask():
    assert parse_flask("76x100-perforated", EMPTY, library()).perforated


def test_a_size_in_inches_finds_the_flask_of_that_size():
    row = parse_flask("3x4in", EMPTY, library())
    assert (row.diameter_mm, row.height_mm) == pytest.approx((76.2, 101.6), abs=0.5)
    assert parse_flask('3"x4"', EMPTY, library()).id == row.id


def test_a_size_in_no_list_becomes_a_solid_flask_with_an_assumed_wall():
    row = parse_flask("71.5x93", EMPTY, library())
    assert (row.id, row.diameter_mm, row.height_mm, row.perforated) == ("71.5x93", 71.5, 93.0, False)
    assert row.wall_mm == library().rule("flask_wall_mm")
    assert row.grade == "estimate"


@pytest.mark.parametrize("text", ["", "big", "76", "76x", "x100", "76x100x20", "-76x100", "nanx50", "76x100 furlongs"])
def test_what_is_no_size_is_refused_with_an_example(text):
    with pytest.raises(BadRequestError, match="is no flask") as caught:
        parse_flask(text, EMPTY, library())
    assert "76x100" in caught.value.try_this


@pytest.mark.parametrize("text", ["0x0", "5x100", "76x5000", "76x100in", "9" * 400 + "x100"])
def test_a_size_that_no_flask_has_is_refused(text):
    with pytest.raises(BadRequestError, match="no flask"):
        parse_flask(text, EMPTY, library())


def test_the_studio_s_own_flasks_come_before_the_library_s():
    own = Studio(
        flasks=(
            FlaskRow(id="big", diameter_mm=102, height_mm=152, wall_mm=3),
            FlaskRow(id="small", diameter_mm=76, height_mm=100, wall_mm=1.2, mark="4"),
        )
    )
    assert [row.id for row in flasks(own, library())] == ["small", "big"]
    assert parse_flask("76x100.2", own, library()).mark == "4"


def test_the_library_s_flasks_come_smallest_first():
    rows = flasks(EMPTY, library())
    volumes = [row.diameter_mm**2 * row.height_mm for row in rows]
    assert len(rows) == len(library().flasks)
    assert volumes == sorted(volumes)


def test_a_base_made_for_the_flask_is_taken_before_one_for_any():
    fitting, other, any_ = Base(fits_mm=76, depth_mm=9), Base(fits_mm=102, depth_mm=11), Base(depth_mm=7)
    row = library().flask("76x100")
    assert base_for(row, Studio(bases=(other, any_, fitting)), library()) == (fitting, False)
    assert base_for(row, Studio(bases=(other, any_)), library()) == (any_, False)


def test_without_a_base_that_fits_a_common_one_is_assumed_and_is_smaller_in_a_small_flask():
    for studio in (EMPTY, Studio(bases=(Base(fits_mm=102),))):
        usual, assumed = base_for(library().flask("76x100"), studio, library())
        small, _ = base_for(library().flask("30x55"), studio, library())
        assert assumed
        assert (usual.depth_mm, usual.dome_diameter_mm, usual.dome_height_mm, usual.socket_mm) == (6, 28, 10, 8)
        assert small.dome_diameter_mm < 28 / 2
        assert small.socket_mm < small.dome_diameter_mm


def test_usable_height_is_the_flask_less_base_cover_and_headspace():
    made = flask_of(76, 100)
    assert (made.base_depth_mm, made.cover_mm, made.headspace_mm) == (6, 13, 3)
    assert made.usable_mm == 100 - 6 - 13 - 3
    assert made.base_assumed


def test_a_large_flask_gets_a_thicker_cover_and_a_perforated_one_no_headspace():
    assert flask_of(102, 152).cover_mm == 19
    assert flask_of(99, 152).cover_mm == 13
    assert flask_of(76, 100, perforated=True).headspace_mm == 0


def test_a_flask_that_stays_off_the_pump_needs_no_headspace():
    off = Studio(investing_vacuum={"bowl": False, "flask": False})
    assert flask_of(76, 100, studio=off).headspace_mm == 0


def test_the_room_of_a_tree_lies_between_dome_and_cover():
    offered = as_room(flask_of(76, 100))
    assert offered.radius_mm == 38
    assert (offered.base_depth_mm, offered.floor_mm) == (6, 6 + 10)
    assert offered.ceiling_mm == 100 - 13 - 3
    assert offered.height_mm == 100


def test_a_base_of_the_studio_s_own_is_not_assumed():
    studio = Studio(bases=(Base(fits_mm=76, depth_mm=10),))
    row = library().flask("76x100")
    base, _ = base_for(row, studio, library())
    assert not room(row, base, studio=studio, library=library()).base_assumed


def test_heavy_pieces_get_less_water_and_fine_ones_more():
    ratios = [mixed(section=s).ratio_g_per_100_g for s in ("heavy", "medium", "thin")]
    assert ratios == [38, 39, 40]


def test_the_figure_on_the_bag_wins_over_the_section():
    bag = altered(library().investment("gypsum-standard"), water_g_per_100_g=41.5)
    made = mixed(investment=bag, section="heavy")
    assert (made.ratio_g_per_100_g, made.ratio_from) == (41.5, "bag")
    assert made.water_g == round(made.powder_g * 0.415)
    assert mixed().ratio_from == "library"


def test_powder_fills_the_empty_flask_with_some_to_spare_and_what_stays_in_the_bowl():
    made, flask = mixed(), flask_of(76, 100)
    assert made.slurry_cm3 > 1.04 * flask.volume_cm3
    assert 0.005 < made.bowl_left_g / made.powder_g < 0.04
    assert made.powder_g % 5 == 0


def test_a_small_flask_is_weighed_finer():
    small = mixed(30, 55)
    assert small.powder_g < 100
    assert small.powder_g % 1 == 0
    assert (small.water_g * 2) % 1 == 0


def test_the_bowl_holds_three_times_the_slurry():
    made = mixed()
    assert 3 * made.slurry_cm3 <= made.bowl_cm3 < 3 * made.slurry_cm3 + 100


def test_water_takes_a_little_more_room_than_its_grams():
    made = mixed(102, 203)
    assert made.water_g < made.water_ml < 1.005 * made.water_g


def test_the_collar_is_there_for_the_rise_or_to_seal_the_wrap():
    off = Studio(investing_vacuum={"bowl": False, "flask": False})
    assert mixed().collar_mm == 30
    assert mixed(50, 55).collar_mm == 20
    assert mixed(studio=off).collar_mm == 0
    assert mixed(studio=off, perforated=True).collar_mm == 10


def test_a_larger_flask_stands_longer_before_the_kiln():
    hours = [mixed(d, 100).set_h for d in (50, 65, 82, 100, 127)]
    assert hours[0] == hours[1] == 1
    assert hours[3] == hours[4] == 2
    assert hours == sorted(hours)


def test_the_pump_must_pull_less_far_up_the_mountain():
    assert mixed(studio=HIGH_UP).boil_kpa < mixed().boil_kpa - 15


def test_the_clock_runs_without_a_gap_and_ends_before_the_gloss_goes():
    clock = mixed().clock
    keys = [step.key for step in clock]
    assert keys == ["wet", "mix", "bowl", "pour", "flask", "finish", "gloss"]
    for before, after in pairwise(clock[:6]):
        assert before.until_s == after.at_s
    assert clock[5].at_s == round(mixed().finish_min * 60) == 510
    assert clock[6].at_s == 600


def test_the_clock_is_stretched_to_the_bag():
    slow = altered(library().investment("gypsum-standard"), gloss_off_min=13)
    made = mixed(investment=slow)
    assert made.finish_min == 11.5
    assert made.clock[5].at_s == 690
    assert made.clock[1].until_s - made.clock[1].at_s > mixed().clock[1].until_s - mixed().clock[1].at_s


def test_without_vacuum_the_work_goes_another_way():
    off = Studio(investing_vacuum={"bowl": False, "flask": False})
    made = mixed(studio=off)
    assert not made.vacuum
    assert [s.key for s in made.clock] == ["wet", "mix", "bowl", "brush", "pour", "flask", "finish", "gloss"]
    said = " ".join(s.says for s in made.clock)
    for word in ("Brush", "Tilt", "vibrate", "wetting agent"):
        assert word in said
    assert made.clock[-2].at_s == 510


def test_with_one_of_two_pumps_each_stage_says_what_is_done():
    bowl_only = mixed(studio=Studio(investing_vacuum={"bowl": True, "flask": False}))
    flask_only = mixed(studio=Studio(investing_vacuum={"bowl": False, "flask": True}))
    assert bowl_only.vacuum
    assert flask_only.vacuum
    assert "vibrate" in next(s.says for s in bowl_only.clock if s.key == "flask")
    assert "Tap the bowl" in next(s.says for s in flask_only.clock if s.key == "bowl")


def test_a_whole_run_carries_the_mix():
    assert run().mix.powder_g == mixed().powder_g


def test_the_tree_is_wetted_and_dried_wherever_a_pump_is_missing():
    assert mixed().wetting_min == 0
    for bowl, flask in ((True, False), (False, True), (False, False)):
        made = mixed(studio=Studio(investing_vacuum={"bowl": bowl, "flask": flask}))
        assert made.wetting_min == library().rule("wetting_min")
