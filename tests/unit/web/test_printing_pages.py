"""A pattern in the printer, and ring sizes by hand: what is asked, what is shown, what a press does; nothing is computed here."""

import time
from urllib.parse import unquote_plus

import pytest
from nicegui import ui

from pourwell.app.desk_words import PRINTS
from pourwell.errors import BadRequestError
from pourwell.web.desk import printing as printing_module
from pourwell.web.desk.pattern import pattern_page
from pourwell.web.desk.printing import PrintingPage, printing_page, way_figures
from pourwell.web.desk.studio import studio_page
from pourwell.web.desk.viewer import Viewer
from tests.unit.web.built import Built
from tests.unit.web.samples import NOW, checked, finding

HEAD = {
    "shown_count": 1,
    "triangle_count": 1,
    "parts": [],
    "fields": [],
    "normals_offset": 36,
    "bytes": 48,
    "plate": {"radius_mm": 9},
}


def way(words, **more):
    told = {
        "words": words, "time": "34 min", "asked": "0.000,1.000,0.000", "height_mm": 5.0, "islands_count": 0, "cups_count": 0,
        "held_mm3": 0.0, "hidden_mm2": 0.0, "proud_mm": 0.009, "under_fraction": 0.1, "turn_x_deg": 90.0, "turn_y_deg": -12.34,
    }  # fmt: skip
    return told | more


def answer(*, findings=(), best=True, cost=None, assumed=("layer 0.05 mm",)):
    resin = {"used_g": 0.76, "piece_low_g": 0.63, "piece_high_g": 0.7, "waste_low_fraction": 0.1, "waste_high_fraction": 0.5}
    resin |= {"cost_money": cost, "cost_low_money": 0.1, "cost_high_money": 0.2, "currency": "EUR"} if cost is not None else {}
    standing = way(
        "standing, the bore level", asked="0.000,0.000,1.000", islands_count=2, cups_count=1, held_mm3=7.6, hidden_mm2=3.2
    )
    data = {
        "file": "band.stl", "material": "resin", "why": "Nothing begins in mid-air.", "best": best, "compared_count": 46,
        "time": {"layers_count": 1200, "layer_mm": 0.05}, "resin": resin, "ways": [way("lying flat, the bore upright"), standing],
        "rows": [["needs supports", "82 mm²", "most at A"]], "findings": list(findings), "assumed": list(assumed),
        "places": [{"letter": "A", "at_mm": [1, 2, 3], "in_file": "x 1, y -2, z 3", "says": "Largest ceiling"}],
        "cautions": ["No flame.", "<b>Gloves</b>."], "head": HEAD | {"plate": {"radius_mm": 9}},
    }  # fmt: skip
    return {"data": data, "files": {"after.bin": b"", "way-0.png": b"", "way-1.png": b""}}


@pytest.fixture
def desk(still_desk):
    return still_desk


scrolled = []
"""What was asked of the browser: to bring the tray into sight."""


@pytest.fixture
def went(monkeypatch):
    """Where the address of the page went; and nobody waits until what is typed has settled."""
    addresses = []
    monkeypatch.setattr(ui.navigate.history, "replace", lambda url: addresses.append(unquote_plus(url)))
    monkeypatch.setattr(ui, "run_javascript", scrolled.append)
    scrolled.clear()
    monkeypatch.setattr(printing_module, "SETTLED_S", 0.0)
    return addresses


def opened(desk, pattern, monkeypatch, **given):
    """The page with its state at hand."""
    states = []
    original = PrintingPage.build
    monkeypatch.setattr(PrintingPage, "build", lambda self: (states.append(self), original(self))[1])
    page = Built(lambda: printing_page(desk, pattern.id, given))
    return page, states[0]


def looked(page, state):
    with page.client:
        state.look()


def came(desk, page, state, **more):
    """The work is done."""
    desk.crew.do(answer(**more))
    looked(page, state)


def test_it_is_asked_for_in_the_usual_resin_and_layer_and_the_best_way(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    (job,) = desk.crew.jobs
    assert (job.call, job.about) == (f"{PRINTS}:print_pattern", ("printer", band.id))
    assert job.given[2] == {"material": "resin", "layer_mm": None, "direction": None}
    looked(page, state)
    assert len(desk.crew.jobs) == 1, "it is asked once"
    assert "Ways to stand are being compared." in page.text


def test_figures_come_first_with_their_ranges_and_the_turns_to_type(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state, cost=0.15)
    said = page.words(page.all("div", "figures")[0])
    for words in (
        "Time 34 min",
        "Resin 0.76 g piece 0.63 to 0.70 g, 10 to 50 % more",
        "Cost 0.15 EUR 0.10 to 0.20",
        "Layers 1,200",
    ):
        assert words in said
    assert "Turn about x 90° in the print program" in said
    assert "Then about y \u221212.3° in the print program" in said
    assert "gloves, glasses, air, no flame" in said
    assert "Lying flat, the bore upright: nothing begins in mid-air. 46 ways compared." in page.text
    assert page.by("Layer") == "default"
    assert page.field("Layer").props["placeholder"] == "0.05"
    assert "<b>Gloves</b>." in page.text, "what stands in a file is text"
    assert "Assumed of your printer: layer 0.05 mm." in page.text


def test_without_a_price_the_cost_is_not_made_up(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state)
    assert "Cost \u2014 no price is known" in page.words(page.all("div", "figures")[0])


def test_a_way_of_the_table_is_picked_looked_at_and_kept_in_the_address(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state)
    rows = [page.words(row) for row in page.all("tr")]
    assert rows[2].endswith("Standing, the bore level See it 34 min 5.0 mm 2 1: 8 mm³ 0.009 mm 10 %, 3 mm² inside")
    page.press("See it standing, the bore level")
    assert went[-1] == f"/patterns/{band.id}/printing?direction=0.000,0.000,1.000"
    assert page.field("Away from the plate").value == "0.000,0.000,1.000"
    assert len(scrolled) == 1, "the tray stands above the table"
    assert desk.crew.jobs[-1].given[2]["direction"] == "0.0,0.0,1.0"
    came(desk, page, state, best=False)
    viewers = [e for e in page.elements if isinstance(e, Viewer)]
    assert len(viewers) == 1, "the same tray, seen as before"
    page.press("Take the best way")
    assert went[-1] == f"/patterns/{band.id}/printing"
    assert desk.crew.jobs[-1].given[2]["direction"] is None


def test_what_the_address_says_stands_in_the_fields_and_is_asked(desk, band, went, monkeypatch):
    page, _ = opened(desk, band, monkeypatch, layer="0,025", direction="0,5; 0; 1", material="resin-waxed")
    assert desk.crew.jobs[-1].given[2] == {"material": "resin-waxed", "layer_mm": 0.025, "direction": "0.5,0.0,1.0"}
    assert page.field("Layer").value == "0,025"


@pytest.mark.parametrize(
    ("label", "text", "fault"),
    [
        ("Layer", "3", "3 is above what can be. Enter 0.001 to 0.5 mm."),
        ("Layer", "thin", '"thin" is no number.'),
        ("Away from the plate", "up", '"up" is no direction.'),
        ("Away from the plate", "0,0,0", "This points nowhere"),
        ("Away from the plate", "nan,0,1", "This points nowhere"),
    ],
)
def test_what_cannot_be_is_refused_in_place_and_not_asked(desk, band, went, monkeypatch, label, text, fault):
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state)
    page.type(label, text)
    looked(page, state)
    assert page.help_of(label).startswith(fault)
    assert len(desk.crew.jobs) == 1
    assert text in went[-1], "it is there again after a reload"


def test_what_is_typed_is_asked_when_nobody_types_any_more_and_after_what_goes_on(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    page.type("Layer", "0.02")
    looked(page, state)
    assert len(desk.crew.jobs) == 1, "the first goes on"
    monkeypatch.setattr(printing_module, "SETTLED_S", 60.0)
    came(desk, page, state)
    assert len(desk.crew.jobs) == 1, "somebody types"
    monkeypatch.setattr(printing_module, "SETTLED_S", 0.0)
    state.typed_s = time.monotonic() - 1
    looked(page, state)
    assert desk.crew.jobs[-1].given[2]["layer_mm"] == 0.02
    came(desk, page, state)
    assert page.by("Layer") == "yours"


def test_a_stop_stands_red_at_the_head_and_cannot_be_put_aside(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    marked = {"says": "Its side is {l:508}", "do": "Say the unit."}
    stop = finding("stop", "Its side is 508 mm", letter="", marked=marked)
    came(desk, page, state, findings=[stop, finding("warn", "It begins in mid-air", letter="A", where="its place", marked={})])
    (red,) = page.all("section", "ahead held-up")
    assert "Do not print it yet Its side is 508 mm Do: say the unit." in page.words(red).replace("\xa0", " ")
    assert not [e for e in page.all("button") if "Dismiss" in page.words(e)]
    assert f"/patterns/{band.id}" in [e.props.get("href") for e in page.all("a") if e.text == "To the pattern"]
    rows = [page.words(row) for row in page.all("li", "find")]
    assert [row.split()[0] for row in rows] == ["Stop", "Warn"]
    assert "A Show its place" in rows[1]


def test_a_letter_marks_all_that_stands_at_its_place(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state, findings=[finding("warn", "It begins in mid-air", letter="A", where="its place", marked={})])
    viewer = next(e for e in page.elements if isinstance(e, Viewer))
    assert [(flag["letter"], flag["at"]) for flag in viewer.props["flags"]] == [("A", [1, 2, 3])]
    page.happen(viewer, "picked", "A")
    assert len(page.all("li", "here")) == 2, "the finding and the place"
    assert "x 1, y \u22122, z 3" in page.text


def test_another_unit_or_another_printer_is_asked_for_anew(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state)
    desk.set_units(band.id, "inch")
    looked(page, state)
    assert [job.about[0] for job in desk.crew.jobs] == ["printer", "pattern", "printer"]
    assert desk.crew.jobs[-1].given[1].units == "inch"
    desk.crew.do({"data": checked(), "files": {}})
    came(desk, page, state)
    state.again()
    looked(page, state)
    assert desk.crew.jobs[-1].about[0] == "printer"
    assert not desk.crew.jobs[-1].over.is_set()


def test_what_failed_says_why_and_the_next_try_shows_it_no_more(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    desk.crew.jobs[0].end(
        "failed",
        fault=BadRequestError(
            "It would be 400,000 layers.", try_this="Check the unit of the file (--units), or take thicker layers."
        ),
    )
    looked(page, state)
    assert "It would be 400,000 layers. Set its unit right on its own page, or take thicker layers." in page.text.replace("\n", " ")
    assert "It is not known how it prints." in page.text
    page.type("Layer", "0.1")
    looked(page, state)
    assert "400,000" not in page.text
    assert len(desk.crew.jobs) == 1


def test_a_way_without_fault_says_none():
    assert [text for text, _ in way_figures(way("lying"))] == ["34 min", "5.0", "none", "none", "0.009", "10 %"]


def test_the_page_of_a_pattern_leads_there(desk, band):
    page = Built(lambda: pattern_page(desk, band.id))
    assert f"/patterns/{band.id}/printing" in [e.props.get("href") for e in page.all("a")]
    found = [finding("note", "Hollows hold resin") | {"code": "pattern-holds-resin"}]
    desk.store.add_result(
        pattern_id=band.id, asked={}, data=checked(findings=found), files={"picture.png": b"", "view.bin": b""}, now=NOW
    )
    page = Built(lambda: pattern_page(desk, band.id))
    assert [e.props.get("href") for e in page.all("a")].count(f"/patterns/{band.id}/printing") == 2


# ---- ring sizes


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


def test_in_other_units_all_figures_of_a_sentence_are_in_them_and_none_is_offered_in_mm(desk, band, went, monkeypatch):
    (desk.folder / "studio.toml").write_text('display = "imperial"\n', encoding="utf-8")
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state)
    said = page.words(page.all("div", "figures")[0])
    assert "Resin 0.49 dwt piece 0.41 to 0.45 dwt, 10 to 50 % more" in said
    assert "of 0.0020 in, supports included" in said
    assert page.field("Layer").props["placeholder"] == "0.0020"
    page = Built(lambda: studio_page(desk, {"size": "US 7", "width": "8"}))
    assert page.help_of("Size, or diameter").endswith('or "UK N"'), "a diameter is read in mm alone"
    assert "+0.059 in around (0.024 to 0.102 in)" in sizes_of(page), "1.5, 0.6 and 2.6 mm over 25.4"
