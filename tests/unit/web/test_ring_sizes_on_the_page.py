"""Ring sizes by hand on the first page: answered as one types, kept in the address, told in place where they cannot be."""

from urllib.parse import unquote_plus

import pytest

from pourwell.web.desk.studio import studio_page
from tests.unit.web.built import Built, note_addresses


@pytest.fixture
def desk(still_desk):
    return still_desk


@pytest.fixture
def went(monkeypatch):
    """Where the address of the page went."""
    addresses = []
    note_addresses(monkeypatch, lambda url: addresses.append(unquote_plus(url)))
    return addresses


def sizes_of(page):
    return page.words(page.all("section", "sizes")[0])


def test_a_size_is_answered_as_it_is_typed_in_every_system(desk, went):
    """US 7 is 17.32 mm across (0.458 in + 0.032 in a size, encyclopaedia-ring-size), 54.4 mm around."""
    page = Built(lambda: studio_page(desk))
    assert "Enter a size" in sizes_of(page)
    page.type("Size, or diameter", "US 7")
    said = sizes_of(page)
    for words in ("Inside diameter 17.32 mm", "Inside circumference 54.4 mm", "ISO 8653 54.4", "US, Canada 7", "Japan 14"):
        assert words in said
    assert "A band of" not in said
    assert went[-1] == "/?size=US 7"


def test_a_wide_band_wants_more_and_less_after_a_wide_gauge(desk, went):
    page = Built(lambda: studio_page(desk, {"size": "US 7", "width": "8"}))
    assert "A band of 8 mm wants ISO 55.9, US 7½, UK O½." in sizes_of(page)
    assert "That is +1.5 mm around (0.6 to 2.6 mm) against a narrow gauge" in sizes_of(page)
    page.type("Gauge, width", "8")
    assert "A band of 8 mm wants ISO 54.4, US 7" in sizes_of(page)
    assert "against a gauge of 8 mm" in sizes_of(page)
    assert went[-1] == "/?size=US 7&gauge=8&width=8"


def test_a_comfort_curve_is_ticked_and_stays(desk, went):
    page = Built(lambda: studio_page(desk, {"size": "US 7", "width": "8"}))
    tick = next(e for e in page.elements if type(e).__name__ == "Tick")
    page.happen(tick, "ticked", True)
    assert "wants ISO 55, US 7¼" in sizes_of(page)
    assert went[-1].endswith("comfort=yes")


def test_what_is_no_size_or_no_width_is_told_in_place(desk, went):
    page = Built(lambda: studio_page(desk))
    page.type("Size, or diameter", "7 US")
    assert 'The system comes first: "US 7"' in page.help_of("Size, or diameter")
    assert "Inside diameter" not in sizes_of(page)
    page.type("Size, or diameter", "ISO 54")
    page.type("Band, width", "90")
    assert "90 is above what can be. Enter 0.5 to 40 mm." in page.help_of("Band, width")
    assert "A band of" not in sizes_of(page)
    assert "Inside diameter 17.19 mm" in sizes_of(page)


def test_in_inches_all_of_it_is_in_inches_and_no_diameter_is_offered_in_mm(desk, went):
    (desk.folder / "studio.toml").write_text('display = "imperial"\n', encoding="utf-8")
    page = Built(lambda: studio_page(desk, {"size": "US 7", "width": "8"}))
    assert page.help_of("Size, or diameter").endswith('or "UK N"'), "a diameter is read in mm alone"
    assert "+0.059 in around (0.024 to 0.102 in)" in sizes_of(page), "1.5, 0.6 and 2.6 mm over 25.4"


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"size": "ISO 200"}, "no size of a finger"),
        ({"size": "ISO 54", "gauge": "wide"}, '"wide" is no number'),
        ({"size": "ISO 54", "width": "-3"}, "-3 is below what can be"),
    ],
)
def test_an_address_that_says_what_cannot_be_is_told_in_place(desk, went, given, says):
    page = Built(lambda: studio_page(desk, given))
    assert says in " ".join(page.help_of(label) for label in ("Size, or diameter", "Gauge, width", "Band, width"))
    assert "A band of" not in sizes_of(page)


def test_what_is_typed_for_a_size_stays_while_the_rest_of_the_page_is_drawn_anew(desk, went):
    page = Built(lambda: studio_page(desk))
    page.type("Size, or diameter", "JP 14")
    desk.new_run()
    page.go_round()
    assert page.field("Size, or diameter").value == "JP 14"
    assert "Inside diameter 17.33 mm" in sizes_of(page), "(14 + 38) / 3 (JIS S 4700)"
