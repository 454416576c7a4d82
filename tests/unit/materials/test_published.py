"""Which programmes are published ones: by their course, not by their name or by what a studio's file says of them."""

import pytest

from pourwell.materials.library import load_library, shipped_rows
from pourwell.materials.published import is_published, published_for
from tests.unit.burnout.case import altered, own_programme, with_row

SHIPPED = load_library()
OWN = own_programme((149, 300, 10), (732, 900, 30), ("flask", 300, 10))


def test_every_shipped_programme_is_published_and_a_copy_of_its_course_too():
    for row in shipped_rows("programmes").values():
        assert is_published(row)
        assert is_published(altered(row, id="mine", name="mine", source="studio"))


def test_an_own_course_is_not_even_under_a_shipped_name_and_source():
    """What an editor wrote into a file of that id keeps the source of the row it changes."""
    assert not is_published(OWN)
    assert not is_published(altered(SHIPPED.programme("gypsum-wax"), steps=OWN.model_dump()["steps"]))


@pytest.mark.parametrize(
    ("like", "changes", "wax", "resin"),
    [
        ("gypsum-resin", {}, "gypsum-wax", "gypsum-resin"),
        ("gypsum-resin", {"programme_resin": "maker"}, "gypsum-wax", "gypsum-resin"),
        ("gypsum-standard", {"id": "mine", "programme_wax": "maker"}, "gypsum-wax", "gypsum-resin"),
        ("gypsum-stone", {"id": "mine", "programme_wax": "maker"}, "stone-wax", None),
        ("gypsum-stone", {"programme_wax": "maker", "programme_resin": "maker"}, "stone-wax", None),
        ("phosphate", {"id": "mine", "programme_wax": "maker", "programme_resin": "maker"}, "phosphate", "phosphate-resin"),
    ],
)
def test_for_an_own_programme_stands_that_of_the_nearest_shipped_row(like, changes, wax, resin):
    found = published_for(altered(SHIPPED.investment(like), **changes), with_row("programmes", OWN))
    assert (found.wax.id, found.resin and found.resin.id) == (wax, resin)


HARSH = """
steps = [
    { target_c = 149, ramp_c_per_h = 300, hold_min = 10 },
    { target_c = 732, ramp_c_per_h = 900, hold_min = 30 },
    { target_c = "flask", ramp_c_per_h = 300, hold_min = 10 },
]
"""


@pytest.fixture
def folder(tmp_path):
    """A studio that changed a shipped table by an editor, has one of its own, and an investment that names that."""
    for name in ("programmes", "investments"):
        (tmp_path / name).mkdir()
    (tmp_path / "programmes" / "changed.toml").write_text('id = "gypsum-wax"\n' + HARSH, encoding="utf-8")
    (tmp_path / "programmes" / "bag.toml").write_text('id = "bag"\nname = "as the bag says"\n' + HARSH, encoding="utf-8")
    mine = 'id = "mine"\nlike = "gypsum-standard"\nname = "my investment"\nprogramme_wax = "bag"\n'
    (tmp_path / "investments" / "mine.toml").write_text(mine, encoding="utf-8")
    return tmp_path


def test_files_of_a_studio_change_what_is_burnt_and_not_what_it_is_held_against(folder):
    library = load_library(folder)
    assert library.programme("gypsum-wax").source == SHIPPED.programme("gypsum-wax").source, "the source of the shipped row stays"
    assert not is_published(library.programme("gypsum-wax"))
    for name in ("mine", "gypsum-standard", "gypsum-resin"):
        found = published_for(library.investment(name), library)
        assert found.wax == SHIPPED.programme("gypsum-wax")
        assert found.resin == SHIPPED.programme("gypsum-resin")


def test_a_file_that_only_calls_a_shipped_table_otherwise_leaves_it_published(tmp_path):
    (tmp_path / "programmes").mkdir()
    (tmp_path / "programmes" / "named.toml").write_text('id = "gypsum-wax"\nname = "our usual"\n', encoding="utf-8")
    library = load_library(tmp_path)
    assert is_published(library.programme("gypsum-wax"))
    assert published_for(library.investment("gypsum-standard"), library).wax.name == "our usual"


@pytest.mark.parametrize(
    ("resin", "stones", "wanted"), [(False, False, "gypsum-wax"), (True, False, "gypsum-resin"), (False, True, "stone-wax")]
)
def test_the_row_is_that_of_the_pattern_or_the_low_one_for_stones(resin, stones, wanted):
    found = published_for(SHIPPED.investment("gypsum-standard"), SHIPPED)
    assert found.row(resin=resin, stones=stones, stone_programme="stone-wax").id == wanted


def test_a_row_for_stones_serves_itself_with_stones_in_place():
    found = published_for(SHIPPED.investment("gypsum-stone"), SHIPPED)
    assert found.row(resin=False, stones=True, stone_programme="stone-wax") is found.wax
