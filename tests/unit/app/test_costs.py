"""What a run costs: fresh metal and powder at the studio's own prices; the truth is a multiplication by hand."""

from types import SimpleNamespace

import pytest

from pourwell.app.costs import costs
from pourwell.materials.library import load_library, row_of

SHIPPED = load_library()
ALLOY = row_of("alloys", {"id": "sterling-925", "price_per_g": 1.1}, "here")
POWDER = row_of("investments", {"id": "gypsum-standard", "price_per_kg": 4.0}, "here")


def told(alloy=ALLOY, investment=POWDER, *, fresh_g=45.1, fine_g=0.0):
    charge, mix = SimpleNamespace(fresh_g=fresh_g, fine_g=fine_g), SimpleNamespace(powder_g=597.0)
    return {one["what"]: one["money"] for one in costs(alloy, investment, charge=charge, mix=mix, currency="EUR")}


def test_fresh_metal_and_powder_are_priced():
    assert told() == {"Fresh metal": pytest.approx(49.61), "Investment": pytest.approx(2.39)}


def test_what_has_no_price_is_not_told():
    assert told(alloy=SHIPPED.alloy("sterling-925")) == {"Investment": pytest.approx(2.39)}
    assert told(SHIPPED.alloy("sterling-925"), SHIPPED.investment("gypsum-standard")) == {}


def test_metal_that_is_alloyed_here_has_no_price_of_the_alloy():
    assert "Fresh metal" not in told(fine_g=41.7)


def test_a_charge_of_returns_alone_costs_nothing():
    assert told(fresh_g=0.0)["Fresh metal"] == 0
