"""The days ahead as they are worked out for the desk: the week and the figures that the command line has of the same words."""

from contextlib import ExitStack
from datetime import UTC, datetime, time

import pytest

from pourwell.app.days import DayWishes, day_data, week_of_words
from pourwell.app.desk import NEW_RUN
from pourwell.app.desk_days_form import InHand, read_form
from pourwell.app.desk_days_work import days_page, place_days, week_of_form
from pourwell.app.desk_work import asked_of_run
from pourwell.app.shapes import build_shape, mesh_bytes
from pourwell.app.shop import open_shop
from pourwell.errors import BadDataError, UnknownNameError
from pourwell.materials.studio import Kiln
from pourwell.store.model import KeptRun
from tests.unit.app.days_checker import faults, jobs_of
from tests.unit.day.weeks import ZONE, entry, library, placed, planned, studio

MONDAY = datetime(2027, 3, 1, 8, 0, tzinfo=UTC)
WEEK = """
title = "Before the fair"
work_to = 18:00:00
days_off = ["Sunday"]
bag_damp = true
fire_apart = true
wait_max_min = 90
[[runs]]
title = "Bands"
number = 3
run_number = 3
alloy = "sterling-925"
flask = "76x100"
weight_g = 14.3
pour_by = "2027-03-05 17:00"
[[runs]]
name = "Studs"
number = 4
alloy = "sterling-925"
pattern = "resin"
flask = "64x64"
flasks_count = 2
pieces_count = 8
ready_at = "2027-03-02 14:00"
"""
TYPED = {
    "title": "Before the fair", "work_to": "18", "days_off": "Sunday", "bag": "1", "apart": "1", "wait": "90",
    "r9.pour": "by", "r9.day": "2027-03-05", "r9.hour": "17:00", "trees": "1", "t1.name": "Studs", "t1.alloy": "sterling-925",
    "t1.pattern": "resin", "t1.flask": "64x64", "t1.flasks": "2", "t1.pieces": "8",
    "t1.ready_day": "2027-03-02", "t1.ready_hour": "14:00",
}  # fmt: skip


@pytest.fixture
def shop(tmp_path):
    (tmp_path / "studio.toml").write_text('time_zone = "Europe/Lisbon"\n', encoding="utf-8")
    return open_shop(tmp_path)


def asked(typed, **form):
    """A form with one run in hand, of a tree on the scale."""
    form = {**NEW_RUN, "title": "Bands", "weight": "14.3", "flask": "76x100", **form}
    run = KeptRun(id=9, number=3, form=form, pieces=(), made_at=MONDAY, changed_at=MONDAY)
    read = read_form(typed, [InHand(run=run, begun_at=None)], now=MONDAY, zone=ZONE, liquidus_c={}, free=4)
    assert (read.faults, read.unreadable) == ({}, {})
    entries = [entry | ({"pieces": []} if "run_id" in entry else {}) for entry in read.entries]
    return {"entries": entries, "week": read.week}


def request(asked, shop):
    with ExitStack() as lying:
        return week_of_form(asked, shop=shop, lying=lying)


def test_the_form_makes_the_very_week_that_a_file_of_the_same_words_makes(shop, tmp_path):
    file = tmp_path / "week.toml"
    file.write_text(WEEK, encoding="utf-8")
    told = week_of_words([str(file)], DayWishes(), shop=shop, now=MONDAY)
    assert request(asked(TYPED), shop) == told


def test_a_run_goes_in_as_its_own_page_would_plan_it_with_its_pieces(shop, tmp_path):
    content = tmp_path / "content"
    content.write_bytes(mesh_bytes(build_shape("plain-band", ("size=ISO 54",)), ".stl"))
    from pourwell.app.desk_words import GivenPattern

    piece = GivenPattern(path=content, file="band.stl", name="Band", units="mm", count=4, sprue_at_mm=(1.0, 2.0, 3.0))
    form = asked({}, stones=True, returns="40", metal_c="980")
    form["entries"][0]["pieces"] = [piece]
    form["entries"][0]["request"].pop("weight_g")
    with ExitStack() as lying:
        (entry,) = week_of_form(form, shop=shop, lying=lying).runs
        (asked_piece,) = entry.request.pieces
        assert asked_piece.file.read_bytes() == content.read_bytes()
        own = asked_of_run(form["entries"][0]["request"], [piece], paths=[asked_piece.file], shop=shop, number=3)
    assert entry.request == own
    assert (asked_piece.count, asked_piece.sprue_at_mm, own.returns_fraction, own.stones) == (4, (1.0, 2.0, 3.0), 0.4, True)
    assert not asked_piece.file.exists(), "it lay there while it was read"


def test_the_page_has_the_figures_of_the_week_that_was_placed():
    plan = planned("studs", "stones")
    data, page = day_data(plan), days_page(plan, library=library(), zone=studio().zone)
    for mine, theirs in ((page["runs"], data["runs"]), (page["loads"], data["loads"])):
        assert [one["number"] for one in mine] == [one["number"] for one in theirs]
    for run, told in zip(page["runs"], data["runs"], strict=True):
        assert all(run[key] == told[key] for key in run)
    for load, told in zip(page["loads"], data["loads"], strict=True):
        assert all(load[key] == told[key] for key in ("runs", "on_at", "off_at", "free_at", "curve"))
        assert load["segments"] == told["programme"]["segments"]
    hands = sorted((e["starts_at"], e["hands_on_min"]) for run in data["runs"] for e in run["timeline"] if e["hands_on_min"])
    jobs = [job for day in page["days"] for job in day["jobs"]]
    assert sorted((job["at"], job["minutes"]) for job in jobs if job["minutes"]) == hands
    assert [job["at"] for job in jobs] == sorted(job["at"] for job in jobs)
    assert {f["code"] for f in page["findings"]} == {f["code"] for f in data["findings"]}


@pytest.mark.parametrize("how", [{}, {"fire_apart": True, "work_to": time(21, 0), "days_off": ("Tuesday",)}])
def test_what_the_page_shows_keeps_the_rules_of_the_day_and_its_parts_agree(how):
    plan = placed("studs", "stones", **how)
    assert faults(days_page(plan, library=library(), zone=studio().zone)) == []


def test_a_kiln_set_by_hand_has_its_settings_on_the_page_and_nothing_to_type():
    """Settings stand in the list of the day too, each at its minute; the last look before bed sets nothing."""
    by_hand = studio(kiln=Kiln(segments_count=0))
    plan = placed(entry("studs", pour_at=datetime(2027, 3, 3, 10, 0, tzinfo=UTC)), of=by_hand)
    page = days_page(plan, library=library(), zone=by_hand.zone)
    (load,) = page["loads"]
    assert load["segments"] == []
    jobs = {(job["at"], job["key"]) for job in jobs_of(page)}
    first, *later = load["settings"]
    assert (first["at"], "on") in jobs, "the first one switches it on"
    assert all((one["at"], "look" if one["looks"] else "set") in jobs for one in later)
    assert first["at"] == load["on_at"]
    assert max(one["set_c"] for one in load["settings"]) == max(point["set_c"] for point in load["curve"])
    assert any(one["looks"] for one in load["settings"]), "it is on for a night"
    assert faults(page) == []


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda page: page["days"][0]["jobs"][0].update(minutes=600), "hands at once"),
        (lambda page: page.update(work_hours=["12:00:00", "12:30:00"]), "lies outside the hours"),
        (lambda page: page.update(closed_days=[page["days"][0]["starts_at"][:10]]), "lies on a day off"),
        (lambda page: page["loads"][1].update(on_at=page["loads"][0]["on_at"]), "before it has cooled"),
        (lambda page: page["loads"][0]["segments"][0].update(hold_min=0), "what is typed for firing 1 takes"),
        (lambda page: page["runs"][0].update(pour_at=page["loads"][0]["on_at"]), "is poured when its kiln is off"),
        (lambda page: page["days"][0].update(blocks=[]), "min are worked and 0 drawn"),
    ],
)
def test_the_one_who_reads_it_again_sees_what_is_wrong(change, says):
    page = days_page(planned("studs", "stones"), library=library(), zone=studio().zone)
    change(page)
    assert any(says in fault for fault in faults(page))


def test_where_nothing_fits_it_is_told_what_to_give_up_and_what_the_field_would_say(shop):
    told = place_days(shop.folder, asked({"overnight": "no"}, flask="64x64"), MONDAY, tell=lambda _: None)
    assert told["files"] == {}
    nothing = told["data"]["nothing"]
    offers = {offer["key"]: offer for offer in nothing["offers"]}
    assert nothing["what"] == "Nothing fits."
    assert offers["overnight"]["says"] == "allow firing overnight"
    assert offers["overnight"]["buys"].startswith("pour Tuesday 02 March")
    assert datetime.fromisoformat(offers["overnight"]["pour_at"]).date().day == 2


@pytest.mark.parametrize(
    ("typed", "error"),
    [({"trees": "1", "t1.alloy": "sterling-952"}, UnknownNameError), ({"title": "a\nb"}, BadDataError)],
)
def test_what_no_week_can_be_is_told_in_a_sentence(shop, typed, error):
    with pytest.raises(error):
        place_days(shop.folder, asked(typed), MONDAY, tell=lambda _: None)
