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
