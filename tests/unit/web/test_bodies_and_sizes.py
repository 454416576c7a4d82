"""What is said of single pieces on the pages: which of a file's bodies are cast, and the size that a run wants of a ring."""

import pytest

from pourwell.app.desk_runs import sizes_of
from pourwell.web.desk.pattern import pattern_page
from pourwell.web.desk.pattern_change import gathered
from pourwell.web.desk.run import run_page
from tests.unit.web.built import Built
from tests.unit.web.deep import deep, worked_out
from tests.unit.web.samples import NOW, checked, finding

RING = ["finished bore", "17.08 mm", "ISO 53.7, US 6 3/4, UK N"]


@pytest.fixture
def desk(still_desk):
    return still_desk


def body(name, mm3, *, kept=True):
    return {"name": name, "volume_mm3": mm3, "kept": kept}


def with_bodies(desk, band, *bodies, **asked):
    """A band whose last check found these bodies."""
    data = checked()
    data["piece"]["bodies"] = list(bodies)
    desk.store.add_result(pattern_id=band.id, asked=asked, data=data, files={"picture.png": b"", "view.bin": b""}, now=NOW)
    return Built(lambda: pattern_page(desk, band.id))


def boxes(page):
    """The bodies with their box: name, ticked, can it be changed."""
    rows = page.all("ul", "bodies")[0].default_slot.children
    found = []
    for row in (row for row in rows if row.default_slot.children):
        box, name = row.default_slot.children[0].default_slot.children
        found.append((name.text, box.props["value"], not box.props.get("disabled", False)))
    return found


def untick(page, place, value=False):
    box = page.all("ul", "bodies")[0].default_slot.children[place].default_slot.children[0].default_slot.children[0]
    page.happen(box, "ticked", value)


def test_a_file_of_one_body_has_nothing_to_choose(desk, band):
    assert not with_bodies(desk, band, body("ring", 400)).all("ul", "bodies")


def test_a_body_is_unticked_kept_and_the_pattern_checked_anew(desk, band):
    page = with_bodies(desk, band, body("<b>ring</b>", 400), body("ruby", 8, kept=False), body("pin", 3))
    assert boxes(page) == [("<b>ring</b>", True, True), ("ruby", False, False), ("pin", True, True)]
    assert "8.0 mm³, not cast by its name" in page.text
    untick(page, 2)
    assert desk.store.pattern(band.id).leave_out == ("pin",)
    assert desk.crew.jobs[-1].given[1].leave_out == ("pin",)
    assert page.state.startswith("Saved")
    untick(page, 2, value=True)
    assert desk.store.pattern(band.id).leave_out == ()


def test_what_was_left_out_is_told_from_what_its_name_leaves_out(desk, band):
    desk.store.change_pattern(band.id, leave_out=["pin"])
    bodies = [body("ring", 400), body("ruby", 8, kept=False), body("pin", 3, kept=False)]
    page = with_bodies(desk, band, *bodies, leave_out=["pin"])
    assert boxes(page) == [("ring", True, True), ("ruby", False, False), ("pin", False, True)]


def test_the_last_body_stays_and_says_why(desk, band):
    page = with_bodies(desk, band, body("ring", 400), body("pin", 3, kept=False), leave_out=["pin"])
    desk.store.change_pattern(band.id, leave_out=["pin"])
    untick(page, 0)
    assert "Every body of the file would be left out" in page.text
    assert boxes(page)[0] == ("ring", True, True), "it shows what is kept"
    assert desk.store.pattern(band.id).leave_out == ("pin",)


def test_many_bodies_of_one_volume_are_unticked_together(desk, band):
    stones = [body(f"set ({k})", 1.77) for k in range(2, 14)]
    page = with_bodies(desk, band, body("set (1)", 400), *stones)
    assert [name for name, _, _ in boxes(page)] == ["set (1)", "12 alike: set (2) to set (13)"]
    assert "1.8 mm³ each" in page.text
    untick(page, 1)
    assert desk.store.pattern(band.id).leave_out == tuple(one["name"] for one in stones)


def test_few_bodies_stand_one_by_one_and_those_left_out_apart_from_the_rest():
    alike = [body(str(k), 1.0) for k in range(8)]
    assert len(gathered(alike)) == 8
    assert [len(group) for group in gathered([*alike, body("stone", 1.0, kept=False)])] == [8, 1]


def test_of_very_many_bodies_the_largest_are_listed_and_the_rest_is_counted(desk, band):
    page = with_bodies(desk, band, *(body(f"chip ({k})", 0.1 * k) for k in range(1, 71)), body("void", -9.99))
    names = [name for name, _, _ in boxes(page)[:2]]
    assert names == ["chip (70)", "chip (69)"]
    assert page.words(page.all("ul", "bodies")[0].default_slot.children[-1]) == "and 10 smaller ones, as they are"
    assert "void" not in page.text, "a hollow goes with the body that it lies in"


# ---- the size that is wanted


@pytest.fixture
def ring(desk, band):
    data = checked()
    data["rows"].append(RING)
    data["piece"]["bore"]["finished_sizes"] |= {"us": "6¾", "uk": "N"}
    desk.store.add_result(pattern_id=band.id, asked={}, data=data, files={"picture.png": b"", "view.bin": b""}, now=NOW)
    return band


def test_a_ring_of_a_run_is_asked_for_its_size_and_what_is_none_is_refused_in_place(desk, ring):
    run = desk.new_run(pieces=[(ring.id, 2)])
    page = Built(lambda: run_page(desk, run.id))
    assert page.field("Size wanted").props["placeholder"] == "ISO 53.7"
    page.type("Size wanted", "57")
    assert '"57"' in page.help_of("Size wanted")
    page.press("Work it out")
    assert [job.about[0] for job in desk.crew.jobs] == []
    page.type("Size wanted", "US 8")
    assert page.help_of("Size wanted") == ""
    page.press("Work it out")
    assert desk.crew.jobs[-1].given[2][0].size == "US 8"
    assert Built(lambda: run_page(desk, run.id)).field("Size wanted").value == "US 8"


def test_no_size_is_asked_of_a_piece_without_a_finger_s_bore(desk, band):
    run = desk.new_run(pieces=[(band.id, 1)])
    assert "Size wanted" not in Built(lambda: run_page(desk, run.id)).text


def test_another_size_marks_its_field_and_the_run(desk, ring):
    run = desk.new_run(pieces=[(ring.id, 2)], fields={f"size_{ring.id}": "US 8"})
    worked_out(desk, run, deep())
    page = Built(lambda: run_page(desk, run.id))
    assert not page.all("div", "field since")
    page.type("Size wanted", "US 9")
    assert "Since then changed: ring sizes." in page.text
    assert [page.words(field).split()[0] for field in page.all("div", "field since")] == ["Size"]
    desk.change_run(run.id, fields={f"size_{ring.id}": "ISO 50"})
    page.go_round()
    assert page.field("Size wanted").value == "ISO 50", "another window's is shown"
    desk.change_run(run.id, pieces={ring.id: 0})
    page.go_round()
    assert "Size wanted" not in page.text
    assert sizes_of(desk.store.run(run.id)) == {}


@pytest.mark.parametrize(
    ("code", "where", "says", "way"),
    [
        ("bore-off-size", "piece A", "Make it that size", "?size=US%208#ring-size"),
        ("pattern-apart", "piece A, near x 1, y 2, z 3", "Choose its bodies", "#bodies"),
    ],
)
def test_what_is_cured_on_the_page_of_the_pattern_has_a_way_there(desk, ring, code, where, says, way):
    run = desk.new_run(pieces=[(ring.id, 2)], fields={f"size_{ring.id}": "US 8"})
    plan = deep()
    plan["findings"] = [finding("note", "Wanted is another.", code=code, where=where)]
    plan["pieces"] = [{"id": "A", "name": "Heddle band", "count": 2, "units": "mm"}]
    worked_out(desk, run, plan)
    page = Built(lambda: run_page(desk, run.id))
    link = next(e for e in page.all("a") if e.text == says)
    assert link.props["href"] == f"/patterns/{ring.id}{way}"
    assert f"Heddle band, {where}" in page.text, "it is called by its name, too"


def test_the_size_that_a_run_wants_stands_in_the_field_of_its_pattern(desk, ring):
    page = Built(lambda: pattern_page(desk, ring.id, size="US 8"))
    assert page.field("Finished size wanted").value == "US 8"
    page.press("See it at that size")
    assert desk.crew.jobs[-1].given[2]["size"] == "US 8"


def test_a_size_that_is_kept_is_shown_though_no_finger_goes_through_now_and_can_be_taken_away(desk, band):
    run = desk.new_run(pieces=[(band.id, 1)], fields={f"size_{band.id}": "57"})
    page = Built(lambda: run_page(desk, run.id))
    page.press("Work it out")
    assert '"57"' in page.help_of("Size wanted"), "a button that does nothing says why"
    page.type("Size wanted", "")
    page.go_round()
    assert "Size wanted" not in page.text
    page.press("Work it out")
    assert desk.crew.jobs


def test_a_piece_that_becomes_a_ring_is_asked_for_its_size_in_an_open_window(desk, band):
    run = desk.new_run(pieces=[(band.id, 1)])
    page = Built(lambda: run_page(desk, run.id))
    data = checked()
    data["rows"].append(RING)
    desk.store.add_result(pattern_id=band.id, asked={}, data=data, files={"picture.png": b"", "view.bin": b""}, now=NOW)
    desk.turn += 1
    page.go_round()
    assert page.field("Size wanted").props["placeholder"] == "ISO 53.7"
