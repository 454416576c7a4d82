"""What was measured, in words: a figure with what 95 of 100 cases lie within, against the band before; by closed forms."""

import math
from types import SimpleNamespace

import pytest

from pourwell.app.calibrating_case import even, water_band
from pourwell.app.calibrating_keep import becomes, files_of
from pourwell.app.calibrating_words import Value, kiln_values, mould_values
from pourwell.app.measuring import GivenLog, HeldLog, ToldLog
from pourwell.materials.calibration import Calibration
from pourwell.materials.library import load_library
from pourwell.materials.studio import Studio
from pourwell.physics.burnout.curve import Fall, Hold, KilnTold, Rise
from pourwell.physics.burnout.fit import Factors
from tests.unit.app.test_measuring import FLASK, KILN


def value(**more):
    usual = {"key": "film_ratio", "kind": "kiln", "what": "film", "value": 1.158, "uncertainty": 0.026, "low": 0.67, "high": 1.35}
    return Value(**(usual | {"unit": "1", "measured": True, "remark": ""} | more))


@pytest.mark.parametrize(
    ("more", "figure", "shown"),
    [
        ({}, ("1.16 ± 0.05", ""), "1.16 ± 0.05"),
        ({"measured": False}, ("not told", ""), "not told"),
        ({"unit": "K/h", "value": 106.84, "uncertainty": 1.5}, ("107 ± 3", "K/h"), "107 ± 3 K/h"),
        ({"unit": "K/h", "value": 106.84, "uncertainty": 0.0}, ("107", "K/h"), "107 K/h"),
        ({"key": "overshoot_k", "unit": "K", "value": 2.04, "uncertainty": 0.6}, ("2.0 ± 1.2", "K"), "2.0 ± 1.2 K"),
        ({"key": "swing_k", "unit": "K", "value": 0.96, "uncertainty": 0.0}, ("1.0", "K"), "1.0 K"),
    ],
)
def test_a_value_is_told_with_two_standard_uncertainties(more, figure, shown):
    """Two of them cover 95 of 100 cases of a normal scatter (JCGM 100:2008, 6.2)."""
    assert (value(**more).figure, value(**more).shown) == (figure, shown)


def test_for_a_program_what_is_not_told_is_absent_and_what_is_has_one_standard_uncertainty():
    assert value().data["uncertainty"] == 0.026
    assert {"value", "uncertainty"} & set(value(measured=False).data) == set()
    assert "uncertainty" not in value(uncertainty=0.0).data


@pytest.mark.parametrize(("low", "high"), [(0.0, 1.0), (0.67, 1.33), (5.0, 5.0)])
def test_an_even_chance_between_two_ends_scatters_as_a_rectangle_does(low, high):
    """The variance of a rectangle is a twelfth of its width squared (JCGM 100:2008, 4.3.7): here by the integral itself."""
    mean = (low + high) / 2
    parts = [(low + (high - low) * (k + 0.5) / 1000 - mean) ** 2 for k in range(1000)]
    assert even(low, high) == pytest.approx(math.sqrt(sum(parts) / 1000), rel=1e-5)


def mould(conductivity, off, *, told=("conductivity", "film", "water")):
    fitted = SimpleNamespace(
        factors=Factors(conductivity=conductivity), uncertainty=Factors(conductivity=off, film=0.02, water=0.02), told=told
    )
    library = load_library()
    default = SimpleNamespace(film_band_ratio=(0.67, 1.35), water_band_ratio=water_band(library))
    return list(mould_values(fitted, default, library.investment("gypsum-resin")))


@pytest.mark.parametrize(
    ("conductivity", "off", "says"),
    [
        (0.85, 0.0333, "within the default band of 0.67 to 1.33, 5 times narrower"),
        (0.85, 0.2, "within the default band of 0.67 to 1.33"),
        (0.50, 0.2, "under the default band of 0.67 to 1.33"),
        (1.50, 0.2, "over the default band of 0.67 to 1.33"),
    ],
)
def test_a_factor_is_told_where_it_lies_to_its_band_and_how_much_narrower_it_is(conductivity, off, says):
    """The band of 0.30 to 0.60 W/(m K) over 0.45 is 0.67 to 1.33 wide; four standard uncertainties of 0.0333 are a fifth of it."""
    first = mould(conductivity, off)[0]
    assert first.remark == f"times 0.45: {0.45 * conductivity:.2f} W/(m K) dry; {says}"


def test_a_factor_that_the_log_does_not_tell_keeps_its_default_and_says_so():
    conductivity, film, water = mould(1.0, 0.2, told=("film",))
    assert [one.measured for one in (conductivity, film, water)] == [False, True, False]
    assert water.remark == "the log does not tell it; the default band 0.80 to 1.00 stays"
    assert water.shown == "not told"


HOUR = 3600


def fall(*, straight=False):
    return Fall(rate=107 / HOUR, uncertainty=2 / HOUR, begins=6.5 * HOUR, ends=8 * HOUR, middle=805.15, straight=straight)


def kiln(studio=None, **told):
    usual = {"fall": None, "rise": None, "holds": (), "doors_count": 0} | told
    return {one.what: one for one in kiln_values(KilnTold(**usual), studio or Studio(), 500.0)}


def test_the_fall_of_a_kiln_is_told_by_the_hour_with_where_it_was_read():
    """805.15 K are 532 °C: by definition of the scale."""
    told = kiln(fall=fall())["falls at 500 °C, door shut"]
    assert (told.key, told.shown) == ("fall_c_per_h", "107 ± 4 K/h")
    assert told.remark == "read about 532 °C, 6.5 h from the start; default 120 K/h"
    held = kiln(fall=fall(straight=True))["falls at 500 °C, door shut"]
    assert held.key == "", "what a controller held back is not kept"
    own = Studio(given=frozenset({"kiln.fall_c_per_h"}))
    assert kiln(own, fall=fall())["falls at 500 °C, door shut"].remark.endswith("your studio.toml says 120 K/h, and wins")


def test_a_kiln_that_tells_nothing_has_no_rows_and_of_several_holds_the_worst_is_told():
    assert kiln() == {}
    holds = tuple(
        Hold(begins=0.0, ends=HOUR, level=level, overshoot=over, swing=swing)
        for level, over, swing in ((643.15, 1.0, 3.29), (973.15, 4.0, 1.0))
    )
    told = kiln(holds=holds)
    over = told["overshoots a level by"]
    assert over.remark == "worst of 2 holds, at 700 °C"
    assert over.shown == f"4.0 ± {2 * 1.0 / 1.645:.1f} K", "nine tenths of a normal scatter lie within 1.645 of it"
    assert told["holds a level within"].remark.endswith("worst at 370 °C")


def test_the_fastest_rise_is_told_with_between_what():
    told = kiln(rise=Rise(rate=300 / HOUR, uncertainty=0.0, begins=0.0, low=473.15, high=623.15))["fastest half hour of rise"]
    assert told.shown == "300 K/h"
    assert told.remark.startswith("from 200 to 350 °C")


# ---- kept


def test_what_becomes_measured_is_said_thing_by_thing_and_what_is_for_the_record_alone_is_said_to_be_so():
    kiln_one, flask = Calibration.model_validate(KILN), Calibration.model_validate(FLASK)
    assert becomes([kiln_one, flask]) == "the kiln's fall (kiln); the water that goes into the kiln (flask 50x60)."
    record = {key: part for key, part in KILN.items() if key != "fall_c_per_h"}
    swing = Calibration.model_validate(record | {"swing_k": {"value": 1.0, "unit": "K"}})
    assert becomes([swing]) == "nothing that a plan leans on; rise and swing are for the record."


@pytest.mark.parametrize(
    ("of", "name"), [("50x60", "flask-50x60"), ("../../evil", "flask-evil"), ("A b/C", "flask-a-b-c"), ("Öse", "flask-öse")]
)
def test_no_name_of_a_flask_leads_out_of_the_folder(of, name):
    (file,) = files_of([Calibration.model_validate(FLASK | {"of": of})])
    assert file == f"{name}-2026-11-26.toml"


def test_a_log_is_kept_as_long_as_all_its_files_are_there(tmp_path):
    log = HeldLog(GivenLog(file="firing.csv", content=b"x"), number=1, key="k")
    assert log.kept_now() == ()
    log.told = ToldLog(number=5, wish={}, data={}, files={})
    paths = [tmp_path / "a.toml", tmp_path / "b.toml"]
    for path in paths:
        path.write_text("", encoding="utf-8")
    log.kept[4] = paths
    assert log.kept_now() == (), "that was kept of an earlier answer"
    log.kept[5] = paths
    assert log.kept_now() == paths
    paths[1].unlink()
    assert log.kept_now() == ()
