"""Rows of the library and the studio's own: told value by value, copied whole, changed in place, removed and brought back."""

from datetime import date

import pytest

from pourwell.app.own_rows import GRADES, OWN, TITLES, OwnRows, limit_source, told_source, weak_count
from pourwell.app.row_fields import GROUPS, LABELS, groups
from pourwell.app.typed import NotYetError
from pourwell.errors import BadRequestError, PourwellError
from pourwell.files.own_toml import ChangedOutsideError, bring_back, table_of
from pourwell.materials.library import load_library
from pourwell.materials.model import Grade

DAY = date(2026, 11, 26)
STEM = {"alloys": "sterling-925", "investments": "gypsum-standard", "patterns": "resin", "flasks": "76x100"}


def copied(folder, shelf="alloys"):
    rows = OwnRows(folder)
    name = rows.copy(rows.entry(shelf, STEM[shelf]), DAY)
    rows = OwnRows(folder)
    return rows, rows.entry(shelf, name)


def line(rows, entry, key):
    return next(one for _, lines in rows.lines(entry) for one in lines if ".".join(map(str, one.asked.key)) == key)


def test_every_value_of_every_shipped_row_is_told_with_grade_and_source(tmp_path):
    rows = OwnRows(tmp_path)
    for shelf in ("alloys", "investments", "patterns"):
        for entry in rows.entries(shelf):
            assert not entry.own
            for _, lines in rows.lines(entry):
                for one in lines:
                    if one.asked.kind == "figure" and one.text:
                        assert one.grade in GRADES.values(), (entry.id, one.asked.label)
                        assert one.source or one.grade in (GRADES[Grade.ESTIMATE], GRADES[Grade.CHOICE]), (entry.id, one)


@pytest.mark.parametrize("model", GROUPS, ids=lambda model: model.__name__)
def test_no_figure_of_a_row_is_left_out_of_its_page(model):
    asked = {one.key for _, fields in groups(model) for one in fields}
    figures = {name for name, part in model.model_fields.items() if "Quantity" in str(part.annotation)}
    assert {key[0] for key in asked} >= figures
    assert all(one.label == LABELS[".".join(map(str, one.key))] for _, fields in groups(model) for one in fields)


def test_a_key_of_the_sources_is_told_with_author_title_and_place(tmp_path):
    library = OwnRows(tmp_path).library
    told = told_source("dinsdale-1991:elements, by mass", library)
    assert told.startswith("Dinsdale")
    assert told.endswith("1991, elements, by mass")
    assert told_source("studio", library) == "your own figure"
    assert told_source("common practice, no source", library) == "no source"
    assert told_source("own estimate", library) == ""
    assert told_source("a leaflet", library) == "a leaflet"
    assert limit_source("own estimate", library) == "own estimate", "a limit says so, for no grade stands beside it"
    assert limit_source("common practice, no source", library) == "common practice, no source"
    assert limit_source("dinsdale-1991", library).startswith("Dinsdale")


@pytest.mark.parametrize("shelf", STEM)
def test_a_copy_is_a_whole_row_of_its_own_and_the_shipped_one_stays(tmp_path, shelf):
    rows, entry = copied(tmp_path, shelf)
    assert entry.own
    assert entry.id == f"{STEM[shelf]}-own"
    assert rows.entries(shelf)[0].id == entry.id
    shipped = getattr(load_library(), shelf)[STEM[shelf]]
    assert getattr(rows.library, shelf)[STEM[shelf]] == shipped
    told = {"id", "name", "source", "grade"}
    assert entry.row.model_dump(exclude=told) == shipped.model_dump(exclude=told)
    text = entry.path.read_text(encoding="utf-8")
    assert text.startswith(f"# Copied from {STEM[shelf]} on 2026-11-26.")
    again = rows.copy(rows.entry(shelf, STEM[shelf]), DAY)
    assert again == f"{STEM[shelf]}-own-2"


def test_a_copied_flask_is_the_studios_own_and_then_plans_choose_among_own_ones(tmp_path):
    from pourwell.app.choices import choices

    _, entry = copied(tmp_path, "flasks")
    assert entry.row.source == "studio"
    assert [key for key, _ in choices(tmp_path).flasks] == [entry.id]


def test_price_and_melting_temperature_of_a_copy_are_changed_with_comments_kept(tmp_path):
    rows, entry = copied(tmp_path)
    noted = entry.path.read_text(encoding="utf-8").replace("\nsolidus_c", "\n# by the refiner's sheet of May\nsolidus_c")
    entry.path.write_text(noted, encoding="utf-8")
    rows.set(entry, line(rows, entry, "price_per_g"), "1,15")
    rows.set(entry, line(rows, entry, "liquidus_c"), "1640 °F")
    rows.set(entry, line(rows, entry, "quench.wait_64_mm_min"), "11")
    rows.set(entry, line(rows, entry, "melt_loss_fraction"), "0.8")
    rows = OwnRows(tmp_path)
    row = rows.entry("alloys", entry.id).row
    assert (row.price_per_g.value, row.liquidus_c.value, row.quench.wait_64_mm_min.value) == (1.15, 893.333333, 11)
    assert row.melt_loss_fraction.value == 0.008
    assert row.quench.about.text  # what stands beside it in the table stays
    text = entry.path.read_text(encoding="utf-8")
    assert "# by the refiner's sheet of May\nsolidus_c = { value = 802" in text
    told = line(rows, rows.entry("alloys", entry.id), "liquidus_c")
    assert (told.grade, told.source, told.low) == (OWN, "your own figure", "")


def test_a_range_of_ones_own_is_kept_while_the_value_lies_in_it(tmp_path):
    rows, entry = copied(tmp_path)
    rows.set(entry, line(rows, entry, "liquidus_c"), "895")
    rows.set_range(entry, line(rows, entry, "liquidus_c"), "890 to 900")
    rows = OwnRows(tmp_path)
    rows.set(entry, line(rows, entry, "liquidus_c"), "898")
    assert table_of(entry.path)["liquidus_c"] == {"value": 898, "low": 890, "high": 900}
    rows = OwnRows(tmp_path)
    rows.set(entry, line(rows, entry, "liquidus_c"), "905")
    assert table_of(entry.path)["liquidus_c"] == 905
    rows = OwnRows(tmp_path)
    entry = rows.entry("alloys", entry.id)
    rows.set_range(entry, line(rows, entry, "liquidus_c"), "")
    assert table_of(entry.path)["liquidus_c"] == 905
    for text, why in (("900", "two ends"), ("910 to 920", "905 °C does not lie in it"), ("hot to 920", "is no number")):
        with pytest.raises(NotYetError, match=why):
            rows.set_range(entry, line(rows, entry, "liquidus_c"), text)


@pytest.mark.parametrize(
    ("key", "text", "why"),
    [
        ("liquidus_c", "8960", "8960 is above what can be. Enter 200 to 2,500 °C."),
        ("solidus_c", "950", "950 °C lies above the liquidus, 896 °C."),
        ("density_g_per_cm3", "-3", "Enter 0.5 to 25 g/cm³."),
        ("name", " ", "Name must be said."),
        ("returns_limit_fraction", "120", "Enter 0 to 100 %."),
        ("composition_percent", "Silver 92.5, Cu 7.5", '"Silver" is not the symbol of an element'),
        ("fineness_permille", "92.5", "92.5 is no whole number"),
        ("liquidus_c", "", "liquidus_c"),
    ],
)
def test_a_wrong_value_is_refused_in_words_and_not_written(tmp_path, key, text, why):
    rows, entry = copied(tmp_path)
    before = entry.path.read_bytes()
    with pytest.raises(PourwellError) as refused:
        rows.set(entry, line(rows, entry, key), text)
    assert why in str(refused.value)
    assert entry.path.read_bytes() == before


def test_what_is_only_unlikely_is_kept_and_told_as_a_doubt(tmp_path):
    rows, entry = copied(tmp_path)
    assert rows.doubts(entry) == ()
    rows.set(entry, line(rows, entry, "density_g_per_cm3"), "11")
    rows = OwnRows(tmp_path)
    assert rows.doubts(rows.entry("alloys", entry.id)) == ("11 is more than 1.0% from the 10.37 of its recipe.",)
    assert rows.doubts(rows.entry("patterns", "resin")) == ()


def test_a_change_from_outside_is_kept_and_one_at_the_same_key_refused(tmp_path):
    rows, entry = copied(tmp_path)
    price, liquidus = line(rows, entry, "price_per_g"), line(rows, entry, "liquidus_c")
    entry.path.write_text(entry.path.read_text(encoding="utf-8").replace("value = 896", "value = 897"), encoding="utf-8")
    rows.set(entry, price, "1.2")
    assert table_of(entry.path)["liquidus_c"]["value"] == 897
    with pytest.raises(ChangedOutsideError, match="the file says 897 now"):
        rows.set(entry, liquidus, "890")
    assert table_of(entry.path)["price_per_g"] == 1.2


def test_a_shipped_row_cannot_be_changed_nor_removed(tmp_path):
    rows = OwnRows(tmp_path)
    entry = rows.entry("alloys", "sterling-925")
    for deed in (
        lambda: rows.set(entry, line(rows, entry, "liquidus_c"), "890"),
        lambda: rows.set_range(entry, line(rows, entry, "liquidus_c"), "890 to 900"),
        lambda: rows.remove(entry),
    ):
        with pytest.raises(BadRequestError, match="belongs to the library"):
            deed()
    assert not (tmp_path / "alloys").exists()


def test_a_removed_row_comes_back_as_it_was(tmp_path):
    rows, entry = copied(tmp_path)
    before = entry.path.read_bytes()
    there, place = rows.remove(entry)
    assert all(not one.own for one in OwnRows(tmp_path).entries("alloys"))
    bring_back(there, place)
    assert place.read_bytes() == before


def test_figures_over_those_of_a_shipped_row_are_the_users_and_an_emptied_one_falls_back(tmp_path):
    path = tmp_path / "investments" / "bag.toml"
    path.parent.mkdir()
    path.write_text('id = "gypsum-standard"\nwater_g_per_100_g = 40\n', encoding="utf-8")
    rows = OwnRows(tmp_path)
    entry = rows.entry("investments", "gypsum-standard")
    assert entry.over_shipped
    assert line(rows, entry, "water_g_per_100_g").grade == OWN
    assert line(rows, entry, "peak_c").grade == GRADES[Grade.SUPPLIER]
    rows.set(entry, line(rows, entry, "water_g_per_100_g"), "")
    rows = OwnRows(tmp_path)
    assert line(rows, rows.entry("investments", "gypsum-standard"), "water_g_per_100_g").text == "39"
    with pytest.raises(BadRequestError, match="Change it there"):
        rows.copy(rows.entry("investments", "gypsum-standard"), DAY)


def test_an_own_recipe_that_leaves_its_melting_to_be_computed_is_shown(tmp_path):
    path = tmp_path / "alloys" / "house.toml"
    path.parent.mkdir()
    path.write_text(
        'id = "house"\nname = "<img src=x onerror=alert(1)>"\nlike = "sterling-925"\n'
        "composition_percent = { Ag = 90.0, Cu = 10.0 }\nfineness_permille = 900\n",
        encoding="utf-8",
    )
    rows = OwnRows(tmp_path)
    entry = rows.entry("alloys", "house")
    told = line(rows, entry, "liquidus_c")
    assert told.grade == GRADES[Grade.ESTIMATE]
    assert weak_count(entry) > 5
    copy = rows.copy(entry, DAY)
    assert OwnRows(tmp_path).entry("alloys", copy).row.liquidus_c == entry.row.liquidus_c


def test_what_is_not_here_is_said(tmp_path):
    rows = OwnRows(tmp_path)
    for shelf, name in (("alloys", "gold"), ("cupboards", "x")):
        with pytest.raises(BadRequestError, match="Nothing is called"):
            rows.entry(shelf, name)
    assert set(TITLES) == {"alloys", "investments", "patterns", "flasks", "programmes"}
