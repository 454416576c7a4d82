"""Days of the week and days off, as a studio writes them."""

from datetime import date

import pytest

from pourwell.errors import BadDataError
from pourwell.materials.studio import Kiln, Studio, load_studio
from pourwell.materials.weekdays import NAMES, day_off, weekday


@pytest.mark.parametrize("number", range(7))
def test_a_day_is_known_by_its_name_and_by_three_letters(number):
    assert weekday(NAMES[number].capitalize()) == weekday(f" {NAMES[number][:3]} ") == number


@pytest.mark.parametrize("text", ["fr", "someday", ""])
def test_another_word_is_no_day(text):
    with pytest.raises(ValueError, match="no day of the week"):
        weekday(text)


def test_a_slip_gets_the_nearest_day():
    with pytest.raises(ValueError, match="the nearest is Thursday"):
        weekday("Thrusday")


def test_a_day_off_is_a_day_of_every_week_or_one_date():
    assert day_off("Sunday") == 6
    assert day_off("2027-03-05") == date(2027, 3, 5)
    with pytest.raises(ValueError, match="is no date"):
        day_off("2027-13-05")


@pytest.fixture
def studio(tmp_path):
    """A studio from the text of its file."""

    def load(text: str) -> Studio:
        (tmp_path / "studio.toml").write_text(text, encoding="utf-8")
        return load_studio(tmp_path)

    return load


def test_a_single_kiln_is_all_kilns(studio):
    assert studio("").all_kilns == (Kiln(),)
    own = studio("[kiln]\nfall_c_per_h = 90\n")
    assert own.all_kilns == (own.kiln,)
    assert own.kiln.fall_c_per_h == 90


def test_of_several_kilns_the_first_is_that_of_a_single_plan(studio):
    own = studio('[[kilns]]\nname = "large"\nfall_c_per_h = 80\nflasks_count = 6\n[[kilns]]\nname = "small"\nflasks_count = 1\n')
    assert [kiln.name for kiln in own.all_kilns] == ["large", "small"]
    assert own.kiln == own.kilns[0]
    assert own.is_given("kiln.fall_c_per_h")
    assert not own.is_given("kiln.error_k")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('days_off = ["Sundey"]', "the nearest is Sunday"),
        ('easy_from = "07:00"', "do not lie in this order inside work_from and work_to"),
        ("[kiln]\n[[kilns]]\n", "write one kiln as [kiln], or all of them as [[kilns]]"),
        ("[[kilns]]\n[[kilns]]\n", "give each a name"),
        ('[[kilns]]\nname = "a"\n[[kilns]]\nname = "a"\n', 'the name "a" stands twice'),
        ("[[kilns]]\nflasks_count = 0\n", "greater than or equal to 1"),
        ("kilns = 3", "kilns"),
    ],
)
def test_a_studio_that_cannot_be_is_refused_in_a_sentence(studio, text, says):
    with pytest.raises(BadDataError) as told:
        studio(text)
    assert says in str(told.value)


def test_comfortable_hours_are_all_hours_unless_said(studio):
    own = studio('work_from = "07:30"\nwork_to = "20:00"\n')
    assert own.easy == (own.work_from, own.work_to)
    assert studio('easy_to = "17:00"\n').easy[1].hour == 17


def test_what_only_a_week_leans_on_is_no_part_of_what_a_plan_assumes(studio):
    assumed = studio("").assumed
    assert "kiln.fall_c_per_h" in assumed
    assert not {"days_off", "sleep_from", "overnight_firing", "kiln.flasks_count", "kilns"} & set(assumed)
