"""Mending, fitting and making on the pages: what is asked, what is shown beside the original, what is kept and taken back."""

import asyncio

import pytest

from pourwell.app.crew import Job
from pourwell.app.desk_form import why_no_size
from pourwell.app.desk_runs import asked_of, sprues_of
from pourwell.app.desk_words import MINUS
from pourwell.errors import BadRequestError
from pourwell.web.desk.draft import printed
from pourwell.web.desk.pattern import PatternPage, pattern_page
from pourwell.web.desk.pattern_change import is_size, told
from pourwell.web.desk.shape import ShapePage, only_words, shape_page
from pourwell.web.desk.viewer import Viewer
from pourwell.web.kept import link
from tests.unit.app.fake_crew import FakeCrew
from tests.unit.web.built import Built, note_addresses
from tests.unit.web.samples import NOW, checked, finding, planned

HEAD = {"shown_count": 1, "triangle_count": 1, "parts": [], "fields": [], "normals_offset": 36, "bytes": 48}
SHAPES = [
    {
        "name": "plain-band", "about": "A flat band",
        "parameters": [
            {"name": "size", "default": "", "unit": "", "about": "ring size"},
            {"name": "bore", "default": 17.2, "unit": "mm", "about": "inside diameter"},
            {"name": "edge", "default": 0.2, "unit": "mm", "about": "radius of the edges"},
        ],
    },
    {"name": "stud", "about": "An ear stud", "parameters": [{"name": "wire", "default": 0.9, "unit": "mm", "about": "thickness"}]},
]  # fmt: skip


def draft(**more):
    data = {"needed": True, "rows": [["bore", "16.99 -> 17.40 mm", "US 6 -> 7"], ["done", "", "covers 1 hole"]], "asks": ""}
    data |= {"places": [], "heads": [HEAD, HEAD], "units": "mm", **more}
    return {"data": data, "files": {"made.stl": b"solid new", "before.bin": b"", "after.bin": b""}}


@pytest.fixture
def desk(still_desk):
    return still_desk


@pytest.fixture
def torn(desk, band):
    """The band with a fault that mending mends."""
    data = checked(findings=[finding("stop", "It is open", mends=True), finding("note", "Good to know")])
    data["rows"].append(["finished bore", "17.08 mm", ""])
    data["piece"]["bore"]["finished_sizes"] = {"iso": "53.7", "us": "6\u00bd", "uk": "M"}
    desk.store.add_result(pattern_id=band.id, asked={}, data=data, files={"picture.png": b"PNG", "view.bin": b""}, now=NOW)
    return band


def open_page(desk, pattern, monkeypatch):
    """The page with its state at hand: its timer does not run here."""
    states = []
    original = PatternPage.build
    monkeypatch.setattr(PatternPage, "build", lambda self: (states.append(self), original(self))[1])
    page = Built(lambda: pattern_page(desk, pattern.id))
    return page, states[0]


def looked(page, state):
    with page.client:
        state.look()


def test_mending_is_offered_once_where_it_helps_and_nowhere_else(desk, torn):
    page = Built(lambda: pattern_page(desk, torn.id))
    assert [page.words(b) for b in page.all("button")].count("See it mended") == 1
    desk.store.add_result(pattern_id=torn.id, asked={}, data=checked(), files={"picture.png": b"", "view.bin": b""}, now=NOW)
    assert "See it mended" not in Built(lambda: pattern_page(desk, torn.id)).text


def test_a_mended_pattern_stands_beside_the_original_and_is_kept_only_when_asked(desk, torn, monkeypatch):
    page, state = open_page(desk, torn, monkeypatch)
    page.press("See it mended")
    assert desk.crew.jobs[-1].about == ("draft", torn.id)
    page.press("See it mended")
    assert len(desk.crew.jobs) == 1, "a second press changes nothing"
    places = [{"at_mm": [1, 2, 3], "says": "a hole", "what": "Fault", "on": 0}]
    desk.crew.do(draft(places=places))
    looked(page, state)
    viewer = next(e for e in page.elements if isinstance(e, Viewer))
    assert [(s["title"], s["src"].split("/")[-1]) for s in viewer.props["solids"]] == [
        ("As it is", "before.bin"),
        ("As it would be", "after.bin"),
    ]
    assert [(f["letter"], f["what"], f["on"]) for f in viewer.props["flags"]] == [("A", "Fault", 0)]
    assert "16.99 \u2192 17.40 mm" in page.text
    assert "Plan a run with it" not in page.text, "one filled button a page"
    assert len(desk.store.patterns()) == 1
    page.press("Keep it beside the original")
    assert [p.name for p in desk.store.patterns()] == ["<i>Heddle</i> band, mended", "<i>Heddle</i> band"]
    assert "Kept beside it:" in page.text
    assert "Saved 08:30:00" in page.text
    page.press("Undo")
    assert [p.name for p in desk.store.patterns()] == ["<i>Heddle</i> band"]
    assert "Kept beside it:" not in page.text


def test_a_run_in_hand_takes_the_mended_pattern_instead_and_back(desk, torn, monkeypatch):
    run, other = desk.new_run(pieces=[(torn.id, 3)]), desk.new_run()
    page, state = open_page(desk, torn, monkeypatch)
    page.press("See it mended")
    desk.crew.do(draft())
    looked(page, state)
    page.press("Keep it beside the original")
    new = desk.store.patterns()[0]
    assert f"Take it in run {other.number} instead" not in page.text
    page.press(f"Take it in run {run.number} instead")
    assert desk.store.run(run.id).pieces == ((new.id, 3),)
    assert f"Run {run.number} takes <i>Heddle</i> band, mended now:" in page.text
    page.press("Undo")
    assert desk.store.run(run.id).pieces == ((torn.id, 3),)


@pytest.mark.parametrize("since", ["taken out", "laid away"])
def test_undo_leaves_a_run_alone_that_was_changed_otherwise_since(desk, torn, monkeypatch, since):
    run = desk.new_run(pieces=[(torn.id, 3)])
    page, state = open_page(desk, torn, monkeypatch)
    page.press("See it mended")
    desk.crew.do(draft())
    looked(page, state)
    page.press("Keep it beside the original")
    page.press(f"Take it in run {run.number} instead")
    new = desk.store.patterns()[0]
    if since == "taken out":
        desk.change_run(run.id, pieces={new.id: 0})
    else:
        desk.remove_run(run.id)
    pieces = desk.store.run(run.id).pieces
    page.press("Undo")
    assert desk.store.run(run.id).pieces == pieces
    assert page.state == f"Not saved: run 1 {'does not take it any more' if since == 'taken out' else 'was laid away since'}."


@pytest.mark.parametrize(
    ("off_mm", "says"), [(0.0, ""), (0.4, "Set its sprue anew: the pattern taken instead has no surface there")]
)
def test_a_sprue_of_ones_own_goes_with_the_mended_pattern_or_it_is_said_that_it_fell_away(desk, torn, monkeypatch, off_mm, says):
    run = desk.set_sprue(desk.new_run(pieces=[(torn.id, 3)]).id, torn.id, (1.0, 2.0, 3.0))
    page, state = open_page(desk, torn, monkeypatch)
    page.press("See it mended")
    desk.crew.do(draft())
    looked(page, state)
    page.press("Keep it beside the original")
    answered = Job("", "", (), then=lambda answer: answer)
    answered.end("done", outcome=off_mm)
    monkeypatch.setattr(desk, "sprue_off", lambda *_: answered)
    page.press(f"Take it in run {run.number} instead")
    assert bool(sprues_of(desk.store.run(run.id))) is not bool(says)
    assert says in page.text
    assert ("Set its sprue anew" in page.text) is bool(says)
    page.press("Undo")
    assert sprues_of(desk.store.run(run.id)) == {torn.id: (1.0, 2.0, 3.0)}
    assert "Set its sprue anew" not in page.text


def test_what_mending_may_not_do_unasked_is_a_warning_before_the_button(desk, torn, monkeypatch):
    page, state = open_page(desk, torn, monkeypatch)
    page.press("See it mended")
    desk.crew.do(draft(asks="It makes a new surface that stands up to 1.00 mm from the old."))
    looked(page, state)
    assert "It changes more than mending may unasked" in page.text
    assert page.button("Keep it all the same")
    page.press("Leave it")
    assert "See it mended" in page.text
    assert len(desk.store.patterns()) == 1


def test_what_needs_no_mending_is_said(desk, torn, monkeypatch):
    page, state = open_page(desk, torn, monkeypatch)
    page.press("See it mended")
    desk.crew.do(draft(needed=False))
    looked(page, state)
    assert "Nothing on it needs mending" in page.text
    page.press("Back to the pattern")
    assert "See it mended" in page.text


def test_a_size_is_told_in_other_systems_or_refused_in_place(desk, torn, monkeypatch):
    page, state = open_page(desk, torn, monkeypatch)
    page.type("Finished size wanted", "US 7")
    assert page.help_of("Finished size wanted") == "17.32 mm across: ISO 54.4, US 7, UK N\u00bd"
    page.type("Finished size wanted", "54")
    assert "A size needs its system." in page.help_of("Finished size wanted")
    page.press("See it at that size")
    assert desk.crew.jobs == []
    page.type("Finished size wanted", "ISO 56")
    page.type("How", "offset")
    page.press("See it at that size")
    assert desk.crew.jobs[-1].given[2]["size"] == "ISO 56"
    assert desk.crew.jobs[-1].given[2]["offset"] is True
    found = [finding("warn", "Its wall is thin")]
    desk.crew.do(draft(findings=found))
    looked(page, state)
    assert "Its wall is thin" in page.text


def test_a_piece_without_a_finger_bore_is_offered_no_size(desk, band):
    assert "Finished size wanted" not in Built(lambda: pattern_page(desk, band.id)).text


def test_sizes_are_read_as_they_are_written():
    assert is_size("UK N 1/2")
    assert not is_size("")
    assert why_no_size("  ") == ""
    assert "finger" in why_no_size("ISO 120")
    assert told("ISO 54").startswith("17.19 mm across")


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("20.8 x 4.0 x 20.8 mm", "20.8 \u00d7 4.0 \u00d7 20.8 mm"),
        ("near x -9.9, y 3", f"near x {MINUS}9.9, y 3"),
        ("16.9 -> 17.4 mm", "16.9 \u2192 17.4 mm"),
        ("-0.12 mm", f"{MINUS}0.12 mm"),
        ("cut-off 2-3", "cut-off 2-3"),
    ],
)
def test_figures_are_printed_with_the_signs_of_print(said, shown):
    assert printed(said) == shown


def test_how_a_piece_freezes_in_its_last_run_stands_beside_it(desk, band):
    def solids():
        page = Built(lambda: pattern_page(desk, band.id))
        return [(s["title"], s["src"]) for s in next(e for e in page.elements if isinstance(e, Viewer)).props["solids"]]

    other, _ = desk.store.add_pattern(b"other", file="b.stl", name="B", now=NOW)
    run = desk.new_run(pieces=[(other.id, 1), (band.id, 3)])
    plan_data = planned(desk, run).data
    assert len(solids()) == 1, "its freezing was not computed"
    files = {"frozen-B.bin": b"1", "frozen-B.json": b"{}"}
    plan = desk.store.add_result(run_id=run.id, asked=asked_of(run), data=plan_data, files=files, now=NOW)
    assert solids()[1:] == [("Freezing in run 1", link(plan, "frozen-B.bin"))]
    desk.store.add_result(pattern_id=band.id, asked={}, data=checked(), files={"picture.png": b"", "view.bin": b""}, now=NOW)
    assert len(solids()) == 1, "it was read anew since"


# ---- a piece from a shape


class Answers(FakeCrew):
    """A quick lane that makes what it is asked for, or refuses it."""

    def answer(self, call, *given):
        job = super().answer(call, *given)
        if call.endswith(":shapes"):
            job.end("done", outcome=SHAPES)
        elif "edge=9" in given[1]["dimensions"]:
            said = (
                "This piece cannot be made: edge_mm is 9, but a width of 4 mm leaves room for less than 2; give a smaller edge_mm."
            )
            job.end("failed", fault=BadRequestError(said))
        else:
            data = {"volume_mm3": 400.0, "metal_g": 4.1, "alloy_name": "sterling silver", "envelope_mm": [20.8, 4, 20.8]}
            made = str(given[1]["dimensions"]).encode()
            job.end(
                "done", outcome={"data": data | {"heads": [HEAD], "units": "mm"}, "files": {"made.stl": made, "after.bin": b""}}
            )
        return job


@pytest.fixture
def shape(desk, monkeypatch):
    """The page of shapes, its shapes known; what it writes into its address."""
    desk.crew = Answers()
    addresses, states = [], []
    note_addresses(monkeypatch, addresses.append)
    original = ShapePage.build
    monkeypatch.setattr(ShapePage, "build", lambda self: (states.append(self), original(self))[1])

    def opened(given=None):
        page = Built(lambda: shape_page(desk, given or {}))
        with page.client:
            asyncio.run(states[-1].begin())
        return page

    opened.addresses = addresses
    return opened


def asked(desk):
    return [given[1]["dimensions"] for call, given in desk.crew.asked if call.endswith(":make_shape")]


def test_the_piece_stands_there_at_once_and_again_after_each_key(desk, shape):
    page = shape()
    assert asked(desk) == [()], "nothing is typed: the shape's own dimensions"
    viewer = next(e for e in page.elements if isinstance(e, Viewer))
    first = viewer.props["solids"][0]["src"]
    page.type("Bore", "18,4")
    assert asked(desk)[-1] == ("bore=18.4",)
    assert viewer.props["solids"][0]["src"] != first
    assert "4.10" in page.text
    assert shape.addresses == ["/patterns/new?bore=18%2C4"]


def test_what_is_no_number_or_no_size_is_refused_in_its_field_and_cannot_be_kept(desk, shape):
    page = shape()
    page.type("Bore", "wide")
    assert page.help_of("Bore").startswith('"wide" is no number. Enter 0 to 300 mm.')
    assert "Keep it in the library" not in page.text
    page.type("Bore", "17")
    page.type("Ring size, of the bore", "54")
    assert "A size needs its system." in page.help_of("Ring size, of the bore")
    page.type("Ring size, of the bore", "ISO 54")
    assert page.help_of("Bore") == "as the ring size says"
    assert asked(desk)[-1] == ("size=ISO 54",)
    assert "Keep it in the library" in page.text


def test_what_makes_no_piece_is_told_at_the_dimension_that_is_named(desk, shape):
    page = shape()
    page.type("Edge", "9")
    assert page.help_of("Edge").startswith("This piece cannot be made: edge is 9")
    assert "Keep it in the library" not in page.text
    page.type("Edge", "0.3")
    assert page.help_of("Edge") == "radius of the edges"


def test_a_page_that_is_loaded_anew_has_what_stood_in_it(desk, shape):
    page = shape({"shape": "stud", "wire": "1.1", "name": "Dot"})
    assert page.field("Wire").props["value"] == "1.1"
    assert page.field("Name").props["value"] == "Dot"
    assert asked(desk) == [("wire=1.1",)]
    assert only_words([("a", "x" * 500)] * 100) == {"a": "x" * 100}


def test_another_shape_keeps_the_size_of_the_finger(desk, shape):
    page = shape({"size": "ISO 60", "edge": "0.4"})
    page.type("Made as", "stud")
    page.type("Made as", "plain-band")
    assert page.field("Ring size, of the bore").props["value"] == "ISO 60"
    assert page.field("Edge").props["value"] == "0.2"


def test_kept_it_is_a_pattern_and_can_be_taken_back(desk, shape):
    page = shape({"size": "ISO 60"})
    page.press("Keep it in the library")
    (kept,) = desk.store.patterns()
    assert (kept.name, kept.file, kept.units) == ("Plain band ISO 60", "plain-band-iso-60.stl", "mm")
    assert "It is in the library and being checked:" in page.text
    page.press("Keep it in the library")
    assert "The library has it already:" in page.text
    page.type("Name", "Larch")
    page.type("Edge", "0.4")
    page.press("Keep it in the library")
    assert [p.name for p in desk.store.patterns()] == ["Larch", "Plain band ISO 60"]
    page.press("Undo")
    assert [p.name for p in desk.store.patterns()] == ["Plain band ISO 60"]
