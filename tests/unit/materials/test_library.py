"""The library: shipped rows, a studio's rows over them, and what is said when a row is wrong."""

import copy
import pickle

import pytest

from pourwell.errors import BadDataError, UnknownNameError
from pourwell.materials.library import LISTS, SHELVES, load_library, own_rows, weak_values
from pourwell.materials.model import Alloy, Grade, Investment


def own(folder, shelf, text, name="mine"):
    """A studio's folder with one row in it."""
    (folder / shelf).mkdir(exist_ok=True)
    (folder / shelf / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder


def test_the_shipped_library_holds_what_the_manual_promises():
    library = load_library()
    assert len(library.alloys) >= 22
    assert {"gypsum-standard", "gypsum-resin", "gypsum-stone", "gypsum-low-water", "phosphate"} <= set(library.investments)
    assert {"resin", "resin-waxed", "wax-injection", "wax-carving", "wax-sprue"} <= set(library.patterns)
    assert {"64x64", "76x100", "89x102", "102x152", "76x100-perforated"} <= set(library.flasks)


@pytest.mark.parametrize("shelf", [*SHELVES, *LISTS])
def test_a_shelf_lists_what_it_holds_and_holds_what_it_lists(shelf):
    rows = getattr(load_library(), shelf)
    names = list(rows)
    assert len(names) == len(rows) == len(set(names)) > 0
    assert all(name in rows for name in names)
    assert "no-such-row" not in rows
    assert rows.get("no-such-row") is None
    assert rows[names[0]] is rows[names[0]], "a row is read once, and shared"


@pytest.mark.parametrize("shelf", SHELVES)
def test_every_row_stands_under_its_own_id(shelf):
    rows = getattr(load_library(), shelf)
    assert [key for key, row in rows.items() if row.id != key] == []


@pytest.mark.parametrize(
    ("look_up", "kind"),
    [
        ("alloy", "alloy"),
        ("investment", "investment"),
        ("pattern", "pattern material"),
        ("flask", "flask"),
        ("programme", "burnout programme"),
    ],
)
def test_what_is_not_there_is_said_with_its_kind(look_up, kind):
    with pytest.raises(UnknownNameError, match=f'No {kind} is called "nothing-like-it"'):
        getattr(load_library(), look_up)("nothing-like-it")


def test_a_slip_of_the_pen_gets_the_nearest_name():
    with pytest.raises(UnknownNameError, match=r'Did you mean "sterling-925"'):
        load_library().alloy("sterling-952")


def test_two_loads_give_the_same_library_and_digest():
    first, second = load_library(), load_library()
    assert first == second
    assert len(first.digest) == 8


def test_a_library_travels_to_a_worker_process():
    library = load_library()
    assert pickle.loads(pickle.dumps(library)) == library
    assert copy.deepcopy(library) == library


def test_a_studio_folder_without_rows_changes_nothing(tmp_path):
    assert load_library(tmp_path) == load_library()


def test_a_figure_from_the_bag_wins_and_the_rest_stays(tmp_path):
    studio = own(tmp_path, "investments", 'id = "gypsum-standard"\nwater_g_per_100_g = 40.5\n')
    ours, shipped = load_library(studio).investment("gypsum-standard"), load_library().investment("gypsum-standard")
    assert (ours.water_g_per_100_g.value, ours.water_g_per_100_g.source) == (40.5, "studio")
    assert ours.gloss_off_min == shipped.gloss_off_min
    assert ours.cautions == shipped.cautions


def test_a_changed_row_changes_the_digest(tmp_path):
    before = load_library().digest
    first = load_library(own(tmp_path, "investments", 'id = "gypsum-standard"\nwater_g_per_100_g = 40\n')).digest
    second = load_library(own(tmp_path, "investments", 'id = "gypsum-standard"\nwater_g_per_100_g = 41\n')).digest
    assert len({before, first, second}) == 3


def test_how_a_row_is_written_does_not_change_the_digest(tmp_path):
    first = load_library(own(tmp_path, "investments", 'id = "gypsum-standard"\nwater_g_per_100_g = 40\n')).digest
    second = load_library(own(tmp_path, "investments", '# the bag\nwater_g_per_100_g = 40.0\nid = "gypsum-standard"\n')).digest
    assert first == second


def test_an_own_row_never_loses_a_caution_of_ours(tmp_path):
    studio = own(tmp_path, "investments", 'id = "gypsum-standard"\ncautions = ["The bag says: stir slowly."]\n')
    shipped = load_library().investment("gypsum-standard").cautions
    cautions = load_library(studio).investment("gypsum-standard").cautions
    assert cautions[: len(shipped)] == shipped
    assert cautions[-1].text == "The bag says: stir slowly."


def test_a_flask_of_the_studio_needs_no_id(tmp_path):
    studio = own(tmp_path, "flasks", "diameter_mm = 70\nheight_mm = 90\nwall_mm = 2\n")
    assert load_library(studio).flask("70x90").wall_mm == 2


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('name = "x"\n', "id is missing"),
        ("id = 3\n", "id is missing"),
        ('id = "sterling-952"\nname = "x"\n', 'is a new id, so its row must be whole. Write like = "sterling-925"'),
        ('id = "sterling-952"\nname = "x"\n', "metal, composition_percent, mould, .* and others missing"),
        ('id = "house"\nlike = "sterlng-925"\n', 'like: No row is called "sterlng-925". Did you mean "sterling-925"'),
        ('id = "sterling-925"\nliquidus = 900\n', r"liquidus: unknown key \(nearest: liquidus_c"),
        ('id = "sterling-925"\nliquidus_c = "hot"\n', "liquidus_c: is not a number; write one in degC"),
        ('id = "sterling-925"\nliquidus_c = { value = 900, unit = "degF" }\n', 'liquidus_c: is given in "degF"'),
        ('id = "sterling-925"\n[quench]\nway = "oil"\n', "quench.way: Input should be 'water' or 'air'"),
        ("id = sterling\n", "is not a TOML file"),
    ],
)
def test_a_wrong_row_is_refused_with_file_key_and_reason(tmp_path, text, said):
    with pytest.raises(BadDataError, match=said) as err:
        load_library(own(tmp_path, "alloys", text))
    assert str(tmp_path / "alloys" / "mine.toml") in str(err.value)


def test_two_own_rows_of_one_id_are_refused(tmp_path):
    own(tmp_path, "alloys", 'id = "sterling-925"\nliquidus_c = 900\n', "a")
    own(tmp_path, "alloys", 'id = "sterling-925"\nliquidus_c = 901\n', "b")
    with pytest.raises(BadDataError, match=r'b\.toml: the id "sterling-925" stands in .*a\.toml too'):
        load_library(tmp_path)


def test_own_rows_come_by_id(tmp_path):
    own(tmp_path, "alloys", 'id = "sterling-925"\nliquidus_c = 900\n')
    assert list(own_rows("alloys", tmp_path)) == ["sterling-925"]
    assert own_rows("alloys", None) == {}


def test_weak_values_name_estimates_and_what_is_from_memory():
    weak = dict(weak_values(load_library().alloy("gold-375-yellow")))
    assert {"solidus_c", "liquidus_c"} <= set(weak)
    assert "density_g_per_cm3" not in weak
    assert {value.grade for value in weak.values()} <= {Grade.ESTIMATE, Grade.MEMORY}


def test_weak_values_look_into_the_tables_of_a_row(tmp_path):
    text = 'id = "sterling-925"\n[quench]\nwait_64_mm_min = { value = 9, grade = "estimate" }\n'
    row = load_library(own(tmp_path, "alloys", text)).alloy("sterling-925")
    assert "quench.wait_64_mm_min" in dict(weak_values(row))


@pytest.mark.parametrize("alloy", load_library().alloys.values(), ids=lambda row: row.id)
def test_a_row_can_be_shown_and_read_again(alloy):
    """What `pourwell materials --json` writes is a whole row."""
    assert Alloy.model_validate_json(alloy.model_dump_json()) == alloy


@pytest.mark.parametrize("row", load_library().investments.values(), ids=lambda row: row.id)
def test_an_investment_can_be_shown_and_read_again(row):
    assert Investment.model_validate_json(row.model_dump_json()) == row


def test_an_own_caution_may_say_at_which_step_it_stands(tmp_path):
    studio = own(tmp_path, "investments", 'id = "gypsum-standard"\ncautions = [{ text = "Vent to the north.", when = "kiln" }]\n')
    last = load_library(studio).investment("gypsum-standard").cautions[-1]
    assert (last.text, last.when, last.source) == ("Vent to the north.", "kiln", "studio")
    wrong = own(tmp_path, "investments", 'id = "gypsum-standard"\ncautions = [{ text = "x", when = "lunch" }]\n')
    with pytest.raises(BadDataError):
        load_library(wrong)
