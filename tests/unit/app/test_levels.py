"""Levels of an own burnout programme: told, typed, added, taken out; comments stay, and what another hand changed is not lost."""

from datetime import date

import pytest

from pourwell.app.levels import Levels
from pourwell.app.own_rows import OwnRows
from pourwell.app.shown import Shown
from pourwell.app.typed import NotYetError
from pourwell.errors import BadRequestError
from pourwell.files.own_toml import ChangedOutsideError, table_of
from pourwell.materials.library import load_library
from pourwell.sheets.display import Display

BAG = """# as the bag says
id = "bag"
name = "resin, as the bag says"
steps = [
    { target_c = 150, ramp_c_per_h = 90, hold_min = 120 },   # slow
    { target_c = 732, ramp_c_per_h = 150, hold_min = 240 },
    { target_c = "flask", ramp_c_per_h = 120, hold_min = 60 },
]
"""
INCHES = Shown(Display(length_in="inch", temperature_in="F"))
COMMA = Shown(Display(comma=True))


@pytest.fixture
def bag(tmp_path):
    path = tmp_path / "programmes" / "bag.toml"
    path.parent.mkdir()
    path.write_text(BAG, encoding="utf-8")
    return path


def levels(path, shown=None, name="bag"):
    rows = OwnRows(path.parent.parent)
    return Levels(rows, rows.entry("programmes", name), shown or Shown())


def put(path, place, which, text, shown=None):
    made = levels(path, shown)
    line = next(one for one in made.lines()[place] if one.asked.key[-1] == which)
    made.set(line, text)
    return load_library(path.parent.parent).programmes["bag"].steps[place]


def texts(path, place, shown=None):
    return [one.text for one in levels(path, shown).lines()[place]]


def test_levels_are_told_in_the_units_of_the_reader(bag):
    assert texts(bag, 0) == ["150", "90", "120", ""]
    assert texts(bag, 2) == ["flask temperature", "120", "60", ""]
    assert texts(bag, 0, INCHES)[1] == "162", "90 K an hour are 162 degF an hour"


def test_one_level_is_changed_and_all_else_of_the_file_stays(bag):
    put(bag, 0, "hold_min", "150")
    assert bag.read_text(encoding="utf-8") == BAG.replace("hold_min = 120 }", "hold_min = 150 }")


@pytest.mark.parametrize(
    ("which", "typed", "shown", "kept"),
    [
        ("target_c", "700", None, 700.0),
        ("target_c", "1350 °F", None, 732.222222),
        ("target_c", "1350", INCHES, None),
        ("target_c", "flask", None, "flask"),
        ("target_c", "Flask temperature", None, "flask"),
        ("ramp_c_per_h", "180", INCHES, ((0.0, 100.0),)),
        ("hold_min", "180 at 102 mm; 120 at 50 mm", None, ((50.0, 120.0), (102.0, 180.0))),
        ("hold_min", "120 at 2 in; 180 at 4 in", INCHES, ((50.8, 120.0), (101.6, 180.0))),
        ("hold_min", "120,5 at 50,8 mm; 180 at 102 mm", COMMA, ((50.8, 120.5), (102.0, 180.0))),
        ("why", "it chars", None, "it chars"),
    ],
)
def test_what_is_typed_is_kept_in_workshop_units(bag, which, typed, shown, kept):
    """An inch is 25.4 mm and 180 degF an hour are 100 K an hour, by definition."""
    if which == "target_c" and shown is INCHES:  # the field itself puts the unit behind it
        typed, kept = shown.kept(typed, "°C"), 732.222222
    value = getattr(put(bag, 1, which, typed, shown), which)
    assert (value.table if hasattr(value, "table") else value) == kept


@pytest.mark.parametrize(
    ("which", "typed", "why"),
    [
        ("target_c", "", "must be said"),
        ("target_c", "2000", "above what can be"),
        ("target_c", "hot", "is no number"),
        ("ramp_c_per_h", "0", "below what can be"),
        ("hold_min", "120 at 50 mm; 180", "does not say for which flask"),
        ("hold_min", "120 at 50 mm; 180 at 50 mm", "stands twice"),
        ("hold_min", "120 at 5 mm; 180 at 50 mm", "below what can be"),
    ],
)
def test_what_cannot_be_is_refused_and_the_file_stays(bag, which, typed, why):
    with pytest.raises(NotYetError, match=why):
        put(bag, 1, which, typed)
    assert bag.read_text(encoding="utf-8") == BAG


def test_points_that_were_not_touched_stay_exactly_as_they_were(bag):
    """50 mm read as 1.97 in, which would be 50.038 mm."""
    put(bag, 1, "hold_min", "120 at 50 mm; 180 at 102 mm")
    told = texts(bag, 1, INCHES)[2]
    assert told == "120 at 1.97 in; 180 at 4.02 in"
    assert put(bag, 1, "hold_min", told.replace("180", "200"), INCHES).hold_min.table == ((50.0, 120.0), (102.0, 200.0))


def test_levels_come_and_go_and_come_back(bag):
    levels(bag).add(1)
    assert [step.target_c for step in load_library(bag.parent.parent).programmes["bag"].steps] == [150, 732, 732, "flask"]
    back = levels(bag).remove(0)
    assert [step.target_c for step in load_library(bag.parent.parent).programmes["bag"].steps] == [732, 732, "flask"]
    back()
    assert [step.target_c for step in load_library(bag.parent.parent).programmes["bag"].steps] == [150, 732, 732, "flask"]
    assert bag.read_text(encoding="utf-8").startswith("# as the bag says\n")


def test_the_only_level_stays(bag):
    for _ in range(2):
        levels(bag).remove(0)
    with pytest.raises(BadRequestError, match="needs one level"):
        levels(bag).remove(0)


def test_what_another_hand_changed_meanwhile_is_not_lost(bag):
    made = levels(bag)
    line = made.lines()[1][2]
    bag.write_text(BAG.replace("hold_min = 240", "hold_min = 270"), encoding="utf-8")
    with pytest.raises(ChangedOutsideError, match="says 270 now"):
        made.set(line, "300")
    bag.write_text(BAG.replace("    { target_c = 732, ramp_c_per_h = 150, hold_min = 240 },\n", ""), encoding="utf-8")
    with pytest.raises((NotYetError, ChangedOutsideError)):
        made.set(made.lines()[2][1], "100")
    for deed in (lambda: made.add(0), lambda: made.remove(0)):
        with pytest.raises(NotYetError, match="came or went elsewhere meanwhile"):
            deed()
    assert len(table_of(bag)["steps"]) == 2


def test_a_copy_of_a_published_programme_is_ones_own_as_soon_as_a_level_is_changed(tmp_path):
    rows = OwnRows(tmp_path)
    rows.copy(rows.entry("programmes", "gypsum-resin"), date(2026, 11, 26))
    path = tmp_path / "programmes" / "gypsum-resin-own.toml"
    before = load_library(tmp_path).programmes["gypsum-resin-own"]
    made = levels(path, name="gypsum-resin-own")
    made.set(made.lines()[0][2], "150")
    row = load_library(tmp_path).programmes["gypsum-resin-own"]
    assert (before.source, row.source) == ("castable-resin-guides", "studio")
    assert row.steps[0].hold_min.table == ((0.0, 150.0),)
    assert row.steps[1:] == before.steps[1:], "their sources stay with them"


@pytest.mark.parametrize("text", ['id = "mine"\nlike = "gypsum-wax"\nname = "mine"\n', 'id = "gypsum-wax"\nadvisory = "hot"\n'])
def test_a_file_that_takes_its_levels_from_another_row_gets_them_all_before_one_is_changed(tmp_path, text):
    path = tmp_path / "programmes" / "mine.toml"
    path.parent.mkdir()
    path.write_text(text, encoding="utf-8")
    name = table_of(path)["id"]
    before = load_library(tmp_path).programmes[name].steps
    made = levels(path, name=name)
    made.set(made.lines()[0][1], "77")
    after = load_library(tmp_path).programmes[name].steps
    assert after[0].ramp_c_per_h.table == ((0.0, 77.0),)
    assert [s.target_c for s in after] == [s.target_c for s in before]
    assert after[1:] == before[1:]
    assert path.read_text(encoding="utf-8").startswith(text.split("\n")[0])


def test_a_programme_of_the_library_is_not_changed(tmp_path):
    rows = OwnRows(tmp_path)
    made = Levels(rows, rows.entry("programmes", "gypsum-wax"), Shown())
    for deed in (lambda: made.set(made.lines()[0][1], "90"), lambda: made.add(0), lambda: made.remove(0)):
        with pytest.raises(BadRequestError, match="belongs to the library"):
            deed()
