"""Readings of a log made sure: unit, open and dead thermocouples, spikes."""

import numpy as np
import pytest

from pourwell.errors import BadFileError
from pourwell.files.log_cleaning import cleaned, in_celsius, refuse_contradiction, refuse_dead, units_of

LINES = np.arange(2, 402)


def ramp(begin=20.0, end=730.0, count=400):
    return np.linspace(begin, end, count)


def unit(values, header="Kiln", asked=None):
    remarks = []
    return units_of({2: np.asarray(values, dtype=float)}, {2: header}, file="log.csv", asked=asked, remarks=remarks)[2], remarks


def clean(values):
    remarks = []
    return cleaned(np.asarray(values, dtype=float), "Kiln", file="log.csv", lines=LINES, remarks=remarks), remarks


@pytest.mark.parametrize(
    ("header", "expected"),
    [
        ("Kiln °F", "F"),
        ("Kiln (F)", "F"),
        ("Kiln [degF]", "F"),
        ("Kiln deg F", "F"),
        ("Fahrenheit", "F"),
        ("kiln_F", "F"),
        ("Kiln °C", "C"),
        ("Kiln (C)", "C"),
        ("core celsius", "C"),
        ("Kiln Kelvin", "K"),
    ],
)
def test_a_header_says_the_unit(header, expected):
    assert unit(ramp(), header)[0] == expected


@pytest.mark.parametrize("header", ["Furnace", "Off", "Ofen", "TC type K", "TC 1", "Half"])
def test_a_header_without_a_unit_is_not_taken_for_one(header):
    assert unit(ramp(), header)[0] == "C"


def test_a_kiln_that_goes_up_to_1350_is_in_fahrenheit_and_said():
    found, remarks = unit(ramp(68, 1350))
    assert found == "F"
    assert remarks[0].says == "From 71 up to 1347: that is Fahrenheit, and is read so."


def test_a_room_of_68_is_fahrenheit_too_where_the_end_bears_it_out():
    assert unit(ramp(68, 900))[0] == "F"


def test_a_room_of_68_and_a_low_end_may_be_either_and_is_asked_for():
    with pytest.raises(BadFileError, match="may be °C or °F") as caught:
        unit(ramp(68, 730))
    assert "--unit F" in caught.value.try_this


@pytest.mark.parametrize("begins", [-4, 5, 20, 35, 42, 130, 480])
def test_a_usual_room_or_a_kiln_that_is_still_warm_is_celsius(begins):
    assert unit(ramp(begins, 730)) == ("C", [])


def test_a_header_that_says_celsius_over_values_of_fahrenheit_is_refused():
    with pytest.raises(BadFileError, match="says °C but goes up to 1347") as caught:
        unit(ramp(68, 1350), "Kiln °C")
    assert "--unit F" in caught.value.try_this


def test_what_is_asked_for_wins():
    assert unit(ramp(68, 1350), "Kiln °C", asked="C") == ("C", [])


def test_a_single_spike_makes_no_kiln_of_1350_degrees():
    values = ramp()
    values[100] = 1290.0
    assert unit(values)[0] == "C"


def test_the_mark_of_an_open_thermocouple_makes_no_fahrenheit():
    values = ramp()
    values[300:340] = 1372.0
    assert unit(values)[0] == "C"


def test_columns_without_a_unit_follow_the_one_that_shows_it():
    raw = {2: ramp(68, 1350), 3: ramp(68, 700)}
    assert units_of(raw, {2: "Kiln", 3: "Core"}, file="x", asked=None, remarks=[]) == {2: "F", 3: "F"}


def test_readings_are_turned_into_celsius():
    assert in_celsius(np.array([68.0, 1350.0]), "F") == pytest.approx([20.0, 732.222], abs=1e-3)
    assert in_celsius(np.array([293.15]), "K") == pytest.approx([20.0])
    assert np.isnan(in_celsius(np.array([np.nan]), "F"))[0]


def test_open_readings_are_left_out_and_counted():
    values = ramp()
    values[50:53] = (np.inf, 1372.0, -200.0)
    kept, remarks = clean(values)
    assert np.isnan(kept[50:53]).all()
    assert np.isfinite(kept).sum() == 397
    assert [(r.line, r.says) for r in remarks] == [(52, "Kiln: 3 open readings are left out.")]


@pytest.mark.parametrize("at", [0, 1, 200, 398, 399])
@pytest.mark.parametrize("jump", [60.0, -60.0, 400.0])
def test_a_spike_is_left_out_and_counted_wherever_it_stands(at, jump):
    values = ramp(100, 700)
    values[at] += jump
    kept, remarks = clean(values)
    assert np.flatnonzero(np.isnan(kept)).tolist() == [at]
    assert remarks[0].line == LINES[at]
    assert "one spike is left out" in remarks[0].says


def test_a_steep_climb_and_an_opened_door_are_no_spikes():
    values = np.concatenate(
        [np.full(100, 99.0), 99 + 30 * np.arange(12), np.full(100, 440.0), [380.0, 360, 350, 380, 410], np.full(183, 440.0)]
    )
    kept, remarks = clean(values)
    assert np.isfinite(kept).all()
    assert remarks == []


def test_scatter_of_a_cheap_logger_is_no_spike():
    rng = np.random.default_rng(5)
    kept, remarks = clean(np.round(ramp() + rng.normal(0, 3, 400)))
    assert np.isfinite(kept).all()
    assert remarks == []


def test_a_loose_contact_is_refused():
    values = ramp()
    values[::10] += 80
    with pytest.raises(BadFileError, match=r"line 2: Kiln jumps, \d+ times in 400 rows"):
        clean(values)


def test_an_open_thermocouple_is_refused_with_the_line_where_it_opens():
    values = ramp()
    values[150:] = 1372.0
    with pytest.raises(BadFileError, match="line 152: Kiln has no reading in 250 of 400 rows") as caught:
        clean(values)
    assert "open or dead" in caught.value.why


def test_a_column_of_empty_cells_is_refused_as_such():
    values = ramp()
    values[::2] = np.nan
    with pytest.raises(BadFileError, match="no reading in 200") as caught:
        clean(values)
    assert "empty" in caught.value.why


def test_a_thermocouple_that_stands_still_while_another_moves_is_dead():
    with pytest.raises(BadFileError, match="Core stands still at 24 °C") as caught:
        refuse_dead({"Kiln": ramp(), "Core": np.full(400, 24.0)}, file="log.csv", lines=LINES)
    assert "dead" in caught.value.why


def test_a_lone_column_that_stands_still_is_dead():
    with pytest.raises(BadFileError, match="stands still"):
        refuse_dead({"Kiln": np.full(400, 500.0)}, file="log.csv", lines=LINES)


def test_a_logger_that_repeats_its_last_reading_is_found_out():
    core = ramp()
    core[250:] = core[250]
    with pytest.raises(BadFileError, match="line 252: Core is stuck at 464"):
        refuse_dead({"Kiln": ramp(), "Core": core}, file="log.csv", lines=LINES)


def test_a_core_that_boils_for_hours_is_alive():
    core = np.concatenate([np.linspace(20, 100, 50), np.full(200, 100.0), np.linspace(100, 730, 150)])
    refuse_dead({"Kiln": ramp(), "Core": core}, file="log.csv", lines=LINES)


def test_both_standing_in_a_hold_are_alive():
    hold = np.concatenate([ramp(20, 500, 200), np.full(200, 500.0)])
    refuse_dead({"Kiln": hold, "Core": hold - 1}, file="log.csv", lines=LINES)


def lagging(kiln, tau_rows):
    """A core that follows its kiln as one lump does: dT/dt = (kiln - T) / tau, in closed form over each row."""
    core, share = [kiln[0]], 1 - np.exp(-1 / tau_rows)
    for level in kiln[1:]:
        core.append(core[-1] + share * (level - core[-1]))
    return np.array(core)


HELD = np.concatenate([ramp(20, 400, 60), np.full(120, 400.0), ramp(400, 730, 50), np.full(170, 730.0)])
"""A kiln that holds its levels to the whole degree."""
FALLEN = np.concatenate([ramp(20, 730, 100), np.full(130, 730.0), ramp(730, 480, 20), np.full(150, 480.0)])


@pytest.mark.parametrize("kiln", [HELD, FALLEN])
@pytest.mark.parametrize("tau_rows", [20.0, 45.0, 90.0])
def test_a_kiln_that_holds_its_level_to_the_degree_while_the_core_comes_to_it_is_alive(kiln, tau_rows):
    core = np.round(lagging(kiln, tau_rows))
    assert max(np.ptp(core[60:180]), np.ptp(core[250:])) > 50, "else this says little"
    refuse_dead({"Kiln": kiln, "Core": core}, file="log.csv", lines=LINES)


@pytest.mark.parametrize("at", [30, 200])
def test_a_kiln_that_is_stuck_while_the_core_passes_it_is_found_out(at):
    core, kiln = lagging(HELD, 20.0), HELD.copy()
    kiln[at:] = kiln[at]
    with pytest.raises(BadFileError, match=f"line {at + 2}: Kiln is stuck at {kiln[at]:g}"):
        refuse_dead({"Kiln": kiln, "Core": core}, file="log.csv", lines=LINES)


def test_a_column_that_leaves_its_level_in_a_jump_was_stuck():
    """The core comes near it all the while, but no kiln climbs by 290 degrees in one row and stays there."""
    kiln = np.concatenate([ramp(20, 440, 60), np.full(60, 440.0), np.full(280, 730.0)])
    core = np.concatenate([ramp(20, 200, 60), ramp(200, 420, 60), ramp(420, 730, 280)])
    with pytest.raises(BadFileError, match="Kiln is stuck at 440"):
        refuse_dead({"Kiln": kiln, "Core": core}, file="log.csv", lines=LINES)


MINUTES = np.arange(400) * 60.0


def contradicts(kiln, core, times=MINUTES):
    refuse_contradiction(times, ("Kiln", kiln), {"Core": core}, file="log.csv")


@pytest.mark.parametrize("kiln", [HELD, FALLEN])
@pytest.mark.parametrize("tau_rows", [20.0, 90.0, 240.0])
def test_a_core_that_follows_its_kiln_however_slowly_contradicts_nothing(kiln, tau_rows):
    scatter = np.random.default_rng(3).normal(0, 1, 400)
    contradicts(kiln, lagging(kiln, tau_rows) + scatter)


def test_a_core_that_boils_for_hours_contradicts_nothing():
    contradicts(HELD, np.concatenate([ramp(20, 99, 60), np.full(120, 99.0), ramp(99, 700, 220)]))


def test_gaps_in_a_column_contradict_nothing():
    core = lagging(HELD, 20.0)
    core[60:180] = np.nan
    contradicts(HELD, core)


@pytest.mark.parametrize("turn", [lambda c: 1.8 * c + 32, lambda c: (c - 32) / 1.8])
def test_a_core_in_another_unit_than_its_kiln_is_refused(turn):
    """Both ways: what stands still in one kiln has one temperature."""
    with pytest.raises(BadFileError, match="Core") as caught:
        contradicts(HELD, turn(lagging(HELD, 20.0)))
    assert '"Kiln °F" and "Core °C"' in caught.value.try_this
    assert "another unit" in caught.value.why


def test_a_core_that_goes_away_from_a_kiln_that_stands_is_refused():
    with pytest.raises(BadFileError, match=r"Kiln stands at 730 °C for an hour, and Core goes from 5"):
        contradicts(HELD, np.concatenate([ramp(20, 560, 230), ramp(560, 480, 170)]))


def test_a_core_that_gets_hotter_than_its_kiln_ever_was_is_refused_with_both():
    with pytest.raises(BadFileError, match="Core goes up to 898 °C, Kiln only to 730 °C"):
        contradicts(HELD, ramp(20, 900))


def test_the_hour_from_which_two_stand_apart_is_told():
    with pytest.raises(BadFileError, match=r"from 4\.0 h on Kiln stands at 730 °C for an hour, and Core goes from 385 to 385"):
        contradicts(HELD, np.concatenate([ramp(20, 385, 230), np.full(170, 385.0)]))


def mixed(kiln, core):
    return units_of({2: np.asarray(kiln), 3: np.asarray(core)}, {2: "Kiln", 3: "Core"}, file="x", asked=None, remarks=[])


def test_columns_that_begin_in_one_room_in_two_units_are_refused():
    for kiln, core in ((ramp(68, 1350), ramp(20, 720)), (ramp(20, 732), ramp(68, 1330))):
        with pytest.raises(BadFileError, match=r"one column begins at 2., another at 7.") as caught:
            mixed(kiln, core)
        assert "--unit F" in caught.value.try_this


def test_columns_that_begin_in_one_room_in_one_unit_are_of_that_unit():
    assert mixed(ramp(68, 1350), ramp(60, 1300)) == {2: "F", 3: "F"}
    assert mixed(ramp(38, 1350), ramp(36, 1300)) == {2: "F", 3: "F"}
