"""The studio's own equipment and settings: studio.toml told key by key, changed, and held to the model that reads it."""

import pytest

from pourwell.app.gear import (
    ASSUMED,
    BASE,
    CALIBRATED,
    CASTING,
    HOURS,
    KILN,
    MELTING,
    NIGHT,
    NOT_SAID,
    PLACE,
    PRINTER,
    SHOWN,
    VACUUM,
    Gear,
)
from pourwell.app.own_rows import OWN
from pourwell.app.row_fields import groups
from pourwell.app.typed import NotYetError
from pourwell.files.own_toml import ChangedOutsideError
from pourwell.materials.model import FlaskRow
from pourwell.materials.studio import Base, Casting, InvestingVacuum, Kiln, Melting, Printer, Studio, load_studio
from tests.unit.materials.test_calibration import kiln, written

STUDIO = """\
# ours
name = "Quillmere"
flasks = ["64x64", { diameter_mm = 89.5, height_mm = 102, wall_mm = 2.2, mark = "C" }]
days_off = ["Sunday", "2026-12-24"]

[kiln]
# timed in May
error_k = 4   # new thermocouple
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "studio.toml").write_text(STUDIO, encoding="utf-8")
    return tmp_path


def line(folder, fields, key, at=()):
    return next(one for one in Gear(folder).lines(fields, at) if one.asked.key[-1] == key)


@pytest.mark.parametrize(
    ("model", "fields"),
    [(Kiln, KILN), (Base, BASE), (Casting, CASTING), (Melting, MELTING), (InvestingVacuum, VACUUM), (Printer, PRINTER)],
)
def test_no_key_of_the_equipment_is_left_out_of_its_page(model, fields):
    assert {one.key[0] for one in fields} == set(model.model_fields)


def test_no_key_of_the_studio_is_left_out_of_both_pages():
    parts = {"casting", "melting", "investing_vacuum", "kiln", "kilns", "printer", "bases", "flasks", "shown"}
    elsewhere = parts | {"given", "measured", "days_off", "paper"}
    asked = {one.key[0] for one in (*HOURS, *NIGHT, *PLACE, *SHOWN)} | elsewhere
    assert asked == set(Studio.model_fields)


def test_each_value_says_whose_it_is(folder):
    assert line(folder, KILN, "error_k", ("kiln",)).grade == OWN
    assumed = line(folder, KILN, "fall_c_per_h", ("kiln",))
    assert (assumed.grade, assumed.text) == (ASSUMED, "120")
    assert line(folder, KILN, "width_mm", ("kiln",)).grade == NOT_SAID
    written(folder, kiln())
    assert line(folder, KILN, "fall_c_per_h", ("kiln",)).grade == CALIBRATED


def test_a_value_is_changed_in_its_line_and_emptied_to_what_is_assumed(folder):
    Gear(folder).set(line(folder, KILN, "error_k", ("kiln",)), "9 °F")
    assert (folder / "studio.toml").read_text(encoding="utf-8") == STUDIO.replace("error_k = 4 ", "error_k = 5 ")
    Gear(folder).set(line(folder, KILN, "error_k", ("kiln",)), "")
    assert load_studio(folder).kiln.error_k == 5.5
    Gear(folder).set(line(folder, MELTING, "thermometer", ("melting",)), "yes")
    assert load_studio(folder).melting.thermometer


@pytest.mark.parametrize(
    ("fields", "at", "key", "text", "why"),
    [
        (KILN, ("kiln",), "error_k", "-4", "-4 is below what can be. Enter 0 to 60 K."),
        (KILN, ("kiln",), "flasks_count", "2.5", "no whole number"),
        (HOURS, (), "work_from", "20:00", "20:00 is not before its end, 19:00"),
        (HOURS, (), "easy_from", "6:00", "Comfortable hours lie inside the hours at work"),
        (HOURS, (), "sleep_from", "late", "no time of day"),
        (PLACE, (), "time_zone", "Mars", '"Mars" is not a time zone'),
        (PLACE, (), "altitude_m", "9000", "Enter -450 to 6,000 m."),
        (groups(FlaskRow)[0][1], ("flasks", 1), "wall_mm", "0", "Enter 0.2 to 20 mm."),
    ],
)
def test_a_wrong_value_is_refused_in_words_and_not_written(folder, fields, at, key, text, why):
    with pytest.raises(NotYetError) as refused:
        Gear(folder).set(line(folder, fields, key, at), text)
    assert why in str(refused.value)
    assert (folder / "studio.toml").read_text(encoding="utf-8") == STUDIO


def test_a_second_kiln_takes_the_first_with_all_that_stood_in_it_and_can_be_taken_out_again(folder):
    Gear(folder).add_kiln()
    Gear(folder).add_kiln()
    gear = Gear(folder)
    assert gear.kilns() == [("kilns", 0), ("kilns", 1), ("kilns", 2)]
    assert [kiln.name for kiln in gear.studio.kilns] == ["kiln 1", "kiln 2", "kiln 3"]
    assert gear.studio.kiln.error_k == 4
    text = (folder / "studio.toml").read_text(encoding="utf-8")
    assert "# timed in May\nerror_k = 4   # new thermocouple" in text
    assert line(folder, KILN, "error_k", ("kilns", 0)).grade == OWN
    with pytest.raises(NotYetError, match='The name "kiln 1" stands twice'):
        gear.set(line(folder, KILN, "name", ("kilns", 1)), "kiln 1")
    back = gear.remove(("kilns", 1))
    assert [kiln.name for kiln in Gear(folder).studio.kilns] == ["kiln 1", "kiln 3"]
    back()
    assert [kiln.name for kiln in Gear(folder).studio.kilns] == ["kiln 1", "kiln 2", "kiln 3"]


def test_the_first_kiln_of_a_studio_that_says_nothing_can_get_a_second(tmp_path):
    Gear(tmp_path).add_kiln()
    assert [kiln.name for kiln in load_studio(tmp_path).kilns] == ["kiln 1", "kiln 2"]


def test_bases_and_listed_flasks_come_and_go(folder):
    Gear(folder).add_base()
    assert Gear(folder).bases() == [("bases", 0)]
    Gear(folder).set(line(folder, BASE, "weight_g", ("bases", 0)), "21.4")
    assert load_studio(folder).bases[0].weight_g == 21.4
    assert Gear(folder).listed_flasks() == [(("flasks", 0), "64x64"), (("flasks", 1), "89.5 \u00d7 102 mm, stamped C")]
    back = Gear(folder).remove(("flasks", 1))
    assert [flask.id for flask in load_studio(folder).flasks] == ["64x64"]
    back()
    assert load_studio(folder).flasks[1].mark == "C"
    Gear(folder).set(line(folder, groups(FlaskRow)[0][1], "wall_mm", ("flasks", 1)), "2.5")
    assert load_studio(folder).flasks[1].wall_mm == 2.5


def test_what_another_hand_changed_is_not_taken_out(folder):
    gear = Gear(folder)
    (folder / "studio.toml").write_text(STUDIO.replace('"64x64"', '"76x100"'), encoding="utf-8")
    with pytest.raises(ChangedOutsideError, match='the file says "76x100" now'):
        gear.remove(("flasks", 0))


def test_days_off_are_ticked_by_the_week_and_typed_by_the_date(folder):
    gear = Gear(folder)
    assert gear.weekdays_off() == (False,) * 6 + (True,)
    assert gear.dates_off() == "2026-12-24"
    gear.set_weekday_off(0, off=True)
    Gear(folder).set_weekday_off(6, off=False)
    Gear(folder).set_dates_off("2026-12-31, 2027-01-01")
    assert load_studio(folder).days_off == ("Monday", "2026-12-31", "2027-01-01")
    with pytest.raises(NotYetError, match="tick it off above"):
        Gear(folder).set_dates_off("Tuesday")
    Gear(folder).set_weekday_off(0, off=False)
    Gear(folder).set_dates_off("")
    assert "days_off" not in Gear(folder).table


def test_units_are_said_one_by_one_over_the_whole(folder):
    Gear(folder).set(line(folder, SHOWN, "temperature"), "F")
    Gear(folder).set(line(folder, SHOWN, "display"), "imperial")
    studio = load_studio(folder)
    assert (studio.display, studio.shown.temperature, studio.shown.weight) == ("imperial", "F", None)
    Gear(folder).set(line(folder, SHOWN, "temperature"), "")
    assert load_studio(folder).shown.temperature is None
