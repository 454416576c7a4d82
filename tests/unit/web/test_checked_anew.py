"""A pattern that is checked anew while its page is used: what is typed, ticked and focused there lives on."""

import pytest

from pourwell.web.desk.pattern import PatternPage, pattern_page
from pourwell.web.desk.pattern_change import gathered
from pourwell.web.desk.tag import Tick
from pourwell.web.desk.viewer import Viewer
from tests.unit.web.built import Built
from tests.unit.web.samples import NOW, checked, finding

NAME, SIZE, UNIT = "Name", "Finished size wanted", "Unit of the file's numbers"
PAIR = (("ring", 400.0), ("pin", 3.0))


@pytest.fixture
def desk(still_desk):
    return still_desk


class Opened(Built):
    """The page of a pattern, whose checks come when they are told."""

    def __init__(self, desk, pattern, monkeypatch):
        self.desk, self.pattern, states = desk, pattern, []
        original = PatternPage.build
        monkeypatch.setattr(PatternPage, "build", lambda page: (states.append(page), original(page))[1])
        self.check(*PAIR, look=False)
        super().__init__(lambda: pattern_page(desk, pattern.id))
        self.state_of = states[0]

    def check(self, *bodies, ring=True, says="As it was", look=True):
        """Another result."""
        data, out = checked(findings=[finding("note", says)]), self.desk.store.pattern(self.pattern.id).leave_out
        data["piece"] |= {"volume_mm3": 400.0, "bodies": [{"name": n, "volume_mm3": v, "kept": n not in out} for n, v in bodies]}
        data["piece"]["bore"]["finished_sizes"] = {"iso": "53.7", "us": "6\u00be", "uk": "N"}
        if ring:
            data["rows"].append(["finished bore", "17.08 mm", ""])
        asked, files = {"leave_out": list(out)}, {"picture.png": b"", "view.bin": b""}
        self.desk.store.add_result(pattern_id=self.pattern.id, asked=asked, data=data, files=files, now=NOW)
        self.desk.turn += 1
        if look:
            with self.client:
                self.state_of.look()

    @property
    def boxes(self):
        return [e for e in self.elements if isinstance(e, Tick)]

    @property
    def viewer(self):
        return next(e for e in self.elements if isinstance(e, Viewer))

    @property
    def sections(self):
        return [e.text for e in self.all("h2")]


@pytest.fixture
def page(desk, band, monkeypatch):
    return Opened(desk, band, monkeypatch)


def test_a_check_that_ends_leaves_boxes_and_fields_where_they_are_and_tells_what_it_found(page):
    lasting = [*page.boxes, page.field(NAME), page.field(UNIT), page.field(SIZE)]
    viewer, before = page.viewer, page.sections
    page.type(SIZE, "US 7")
    page.type(NAME, "Heddle ba")
    page.happen(page.boxes[1], "ticked", False)
    page.check(*PAIR, says="The pin is not cast")
    assert [*page.boxes, page.field(NAME), page.field(UNIT), page.field(SIZE)] == lasting
    assert (page.field(NAME).value, page.field(SIZE).value) == ("Heddle ba", "US 7")
    assert page.help_of(SIZE).startswith("17.32 mm across")
    assert [box.props["value"] for box in page.boxes] == [True, False]
    assert page.viewer is not viewer
    assert "The pin is not cast" in page.text
    assert "As it was" not in page.text
    assert page.sections == before == ["Findings", "Bodies", "Measures", "Ring size", "Name and unit"]


def test_other_bodies_are_listed_anew_and_one_body_is_not_listed(page):
    boxes, name = page.boxes, page.field(NAME)
    page.check(("ring", 400 * 25.4**3), ("pin", 3 * 25.4**3))
    assert not set(boxes) & set(page.boxes), "another unit"
    assert f"{3 * 25.4**3:.1f} mm\u00b3" in page.text
    page.check(("ring", 400.0))
    assert page.boxes == []
    assert "Bodies" not in page.sections
    page.check(*PAIR)
    assert len(page.boxes) == 2
    assert page.field(NAME) is name


def test_a_piece_that_is_no_ring_any_more_is_asked_for_no_size_and_again_when_it_is_one(page):
    page.type(SIZE, "ISO 56")
    page.check(*PAIR, ring=False)
    assert "Ring size" not in page.sections
    page.check(*PAIR)
    assert page.field(SIZE).value == "ISO 56"
    page.press("See it at that size")
    assert page.desk.crew.jobs[-1].given[2]["size"] == "ISO 56"


def test_what_another_window_calls_it_is_shown_and_what_stands_here_unfinished_is_not_changed(page):
    page.type(NAME, "  ")
    page.check(*PAIR)
    assert page.field(NAME).value == "  "
    assert page.help_of(NAME) == "A pattern needs a name."
    page.desk.rename_pattern(page.pattern.id, "Larch")
    page.desk.set_units(page.pattern.id, "inch")
    page.desk.store.change_pattern(page.pattern.id, leave_out=["pin"])
    page.check(*PAIR)
    assert (page.field(NAME).value, page.field(UNIT).value) == ("Larch", "inch")
    assert page.help_of(NAME) == ""
    assert [box.props["value"] for box in page.boxes] == [True, False]


def test_a_draft_takes_the_whole_body_and_back(page):
    name = page.field(NAME)
    page.state_of.draft = type("Nothing", (), {"number": 7, "data": {"needed": False}})()
    with page.client:
        page.state_of.look()
    assert page.sections == ["Nothing on it needs mending"]
    page.state_of.draft = None
    with page.client:
        page.state_of.look()
    assert page.sections == ["Findings", "Bodies", "Measures", "Ring size", "Name and unit"]
    assert page.field(NAME) is not name


def test_a_box_that_is_refused_is_shown_again_as_it_is_kept(page):
    """The browser has turned it over itself: that its value is the old one again is no news there, but a new count is."""
    page.happen(page.boxes[1], "ticked", False)
    page.check(*PAIR)
    box = page.boxes[0]
    page.happen(box, "ticked", False)
    assert "Every body of the file would be left out" in page.state
    assert (page.boxes[0], box.props["value"], box.props["again"]) == (box, True, 1)


def test_a_body_that_its_name_leaves_out_is_not_gathered_with_those_that_a_user_leaves_out():
    names = [f"set ({k})" for k in range(1, 13)]
    alike = [{"name": name, "volume_mm3": 1.77, "kept": False} for name in ("ruby", *names)]
    assert [[one["name"] for one in group] for group in gathered(alike, by_name={"ruby"})] == [["ruby"], names]
