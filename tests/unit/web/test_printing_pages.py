"""A pattern in the printer, and ring sizes by hand: what is asked, what is shown, what a press does; nothing is computed here."""

import time
from urllib.parse import unquote_plus

import pytest
from nicegui import ui

from pourwell.app.desk_words import PRINTS
from pourwell.errors import BadRequestError
from pourwell.web.desk import printing as printing_module
from pourwell.web.desk.pattern import pattern_page
from pourwell.web.desk.printing import PrintingPage, printing_page
from pourwell.web.desk.printing_told import way_figures
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


def answer(*, findings=(), best=True, cost=None, assumed=("layer 0.05 mm",), under_mm2=82.4):
    resin = {"used_g": 0.76, "piece_low_g": 0.63, "piece_high_g": 0.7, "waste_low_fraction": 0.1, "waste_high_fraction": 0.5}
    resin |= {"cost_money": cost, "cost_low_money": 0.1, "cost_high_money": 0.2, "currency": "EUR"} if cost is not None else {}
    standing = way(
        "standing, the bore level", asked="0.000,0.000,1.000", islands_count=2, cups_count=1, held_mm3=7.6, hidden_mm2=3.2
    )
    data = {
        "file": "band.stl", "material": "resin", "why": "Nothing begins in mid-air.", "best": best, "compared_count": 46,
        "supports": {"under_mm2": under_mm2, "under_deg": 30.0},
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


@pytest.mark.parametrize(
    ("under_mm2", "figure", "says"),
    [
        (82.4, "82 mm²", "No fault was found; see what needs supports."),
        (0.9, "none", "No fault was found."),
    ],
)
def test_what_needs_supports_stands_among_the_figures_and_no_finding_hides_it(
    desk, band, went, monkeypatch, under_mm2, figure, says
):
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state, under_mm2=under_mm2)
    said = page.words(page.all("div", "figures")[0])
    assert f"Needs supports {figure} undersides flatter than 30° to the level" in said
    assert says in [p.text for p in page.all("p", "quiet")]


def test_on_a_phone_each_figure_of_a_way_to_stand_has_its_name(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state)
    (table,) = page.all("table", "stands stacked")
    rows = [row for row in page.all("tr") if row in table.descendants()][1:]
    cells = [[e.props["data-label"] for e in row.default_slot.children] for row in rows]
    assert cells == [["Way to stand", "Time", "Height", "In mid-air", "Holds resin", "Steps, mean", "On supports"]] * 2


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
        ("Layer", "3", "3 is above what can be. Enter 0.005 to 0.5 mm."),
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


def test_in_other_units_all_figures_of_a_sentence_are_in_them(desk, band, went, monkeypatch):
    (desk.folder / "studio.toml").write_text('display = "imperial"\n', encoding="utf-8")
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state)
    said = page.words(page.all("div", "figures")[0])
    assert "Resin 0.49 dwt piece 0.41 to 0.45 dwt, 10 to 50 % more" in said
    assert "of 0.0020 in, supports included" in said
    assert page.field("Layer").props["placeholder"] == "0.0020"


def test_work_that_is_stopped_says_so_and_may_be_asked_again(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    (job,) = desk.crew.jobs
    job.state = "working"
    looked(page, state)
    page.press("Stop <i>Heddle</i> band, in the printer")
    assert not job.wanted
    job.end("stopped")
    looked(page, state)
    assert "It was stopped." in page.text
    assert len(desk.crew.jobs) == 1, "nobody asks for it by itself"
    page.press("Take the best way")
    looked(page, state)
    assert len(desk.crew.jobs) == 1, "the best way is what was stopped"
    page.type("Layer", "0.1")
    looked(page, state)
    assert len(desk.crew.jobs) == 2


def test_two_windows_on_one_pattern_each_show_what_they_asked(desk, band, went, monkeypatch):
    one, first = opened(desk, band, monkeypatch)
    other, second = opened(desk, band, monkeypatch, direction="1,0,0")
    assert [job.given[2]["direction"] for job in desk.crew.jobs] == [None, "1.0,0.0,0.0"]
    came(desk, one, first)
    looked(other, second)
    assert "Ways to stand are being compared." in other.text
    assert "Lying flat" in one.text
    came(desk, other, second, best=False)
    assert "46 ways compared" not in other.text


def test_what_is_shown_is_held_once_however_often_it_was_asked(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    for layer in ("0.02", "0.03", "0.04"):
        page.type("Layer", layer)
        came(desk, page, state)
    came(desk, page, state)
    assert len(desk.drafts.held) == 1


def test_of_each_way_there_is_a_picture_and_the_piece_has_one_for_where_none_is_drawn(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state)
    number = state.draft.number
    sources = [e.props["src"] for e in page.all("img")]
    assert sources == [f"/draft/{number}/way-0.png", f"/draft/{number}/way-1.png"]
    (solid,) = next(e for e in page.elements if isinstance(e, Viewer)).props["solids"]
    viewer = next(e for e in page.elements if isinstance(e, Viewer))
    assert (solid["src"], viewer.props["still"]) == (f"/draft/{number}/after.bin", f"/draft/{number}/after.png")
    assert solid["head"]["plate"] == {"radius_mm": 9}


def test_the_layer_says_who_set_it(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state, assumed=("light on a layer 2.5 s",))
    assert page.by("Layer") == "equipment"
    page.type("Layer", "0.1")
    looked(page, state)
    came(desk, page, state, assumed=())
    assert page.by("Layer") == "yours"
    assert page.field("Layer").props["placeholder"] == ""
    assert "Assumed of your printer" not in page.text


def test_a_resin_that_is_gone_is_asked_as_the_usual_one(desk, band, went, monkeypatch):
    page, _ = opened(desk, band, monkeypatch, material="wax-injection")
    assert page.field("Resin").value == "resin"
    assert desk.crew.jobs[-1].given[2]["material"] == "resin"
    assert "wax-injection" not in [key for key, _ in page.field("Resin").props["options"]]


def test_another_resin_is_asked_for_and_stands_in_the_address(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state)
    page.type("Resin", "resin-waxed")
    looked(page, state)
    assert went[-1] == f"/patterns/{band.id}/printing?material=resin-waxed"
    assert desk.crew.jobs[-1].given[2]["material"] == "resin-waxed"


def test_what_can_hurt_is_led_to_from_the_figures(desk, band, went, monkeypatch):
    page, state = opened(desk, band, monkeypatch)
    came(desk, page, state)
    (way_there,) = (e.props["href"] for e in page.all("a") if e.text == "What else can hurt you")
    (there,) = (e for e in page.all("ul") if e.props.get("id") == way_there.removeprefix("#"))
    assert page.words(there) == "No flame. <b>Gloves</b>."


def test_there_is_no_page_of_a_pattern_that_is_not_there(desk):
    with pytest.raises(BadRequestError):
        Built(lambda: printing_page(desk, 99, {}))
