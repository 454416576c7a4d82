"""The sheet of a week: pictures, pours, kilns and the work by the clock, on both papers and in both displays."""

from dataclasses import replace
from datetime import time

import pytest

from pourwell.materials.studio import Kiln
from pourwell.sheets.display import Display
from pourwell.sheets.week_sheet import STRIPS_A_PAGE, goals, week_page, week_sheet
from pourwell.sheets.week_view import days_of
from pourwell.steps.day.week_model import Goal
from tests.golden.sheets.reading import joined, letters, opened
from tests.unit.day.weeks import ZONE, entry, placed, planned, studio

METRIC, IMPERIAL = Display("metric"), Display("imperial")


def page(plan, show: Display = METRIC) -> dict:
    return week_page(plan, zone=ZONE, paper="a4", show=show)


def test_every_pour_is_in_the_table_in_the_order_of_time():
    told = page(planned("rings", "signets"))
    assert [(r["number"], r["pour"], r["flask_t"]) for r in told["runs"]] == [
        ("2", "Tue 2 Mar 08:40", "565 °C"),
        ("1", "Tue 2 Mar 10:00", "540 °C"),
    ]


def test_every_kiln_tells_what_is_typed():
    (kiln,) = page(planned("rings", "signets"))["loads"]
    assert kiln["overnight"]
    assert [s["no"] for s in kiln["segments"]] == ["1", "2", "3", "4", "5"]
    assert kiln["segments"][-1]["target"] == "540"
    assert kiln["segments"][-1]["ramp"] == "\u2212120"
    assert (kiln["number"], kiln["typed"]) == ("1", "Type into the controller")
    assert all(s["ruled_by"] for s in kiln["segments"][:-1])
    assert "published" not in kiln["segments"][0]["ruled_by"], "the cycle for resin was put together from memory"


def test_the_work_is_listed_by_days_with_its_run():
    told = page(planned("rings"))
    monday, tuesday = told["days"]
    assert (monday["day"], tuesday["day"]) == ("Mon 1 Mar", "Tue 2 Mar")
    assert [j["clock"] for j in tuesday["jobs"]][:3] == ["08:00", "08:25", "08:40"]
    assert all("run 1, rings" in j["where"] or "kiln" in j["where"] for j in monday["jobs"])


def test_the_mains_and_what_is_set_after_stand_at_each_pour_and_beside_the_kilns():
    told = page(planned("rings", "signets"))
    jobs = [j["says"] for d in told["days"] for j in d["jobs"]]
    assert sum("kiln off at the mains before the tongs go in" in says.lower() for says in jobs) == 2
    assert sum("by hand to 540\N{NO-BREAK SPACE}°C and hold" in says for says in jobs) == 1
    assert "lose their programme" in told["mains"]
    assert "mains" in joined(week_sheet(planned("rings"), zone=ZONE))


def test_a_reader_of_fahrenheit_gets_them():
    told = page(planned("rings"), IMPERIAL)
    assert told["runs"][0]["flask_t"] == "1004 °F"
    assert told["runs"][0]["pour"] == "Tue 2 Mar 8:40 am"
    assert told["unit"] == "°F"


def test_the_goals_say_what_came_out_and_how_sure_it_is():
    plan = planned("rings")
    assert list(goals(plan, METRIC)) == ["Last pour Tue 2 Mar, 08:40 (proven: none sooner fits)."]
    doubtful = (
        Goal(key="last_pour", value=2000, bound=1955),
        Goal(key="odd", value=130, bound=130),
        Goal(key="bagged", value=2, bound=1),
    )
    assert list(goals(replace(plan, goals=doubtful), METRIC)) == [
        "Last pour Tue 2 Mar, 08:40 (up to 45 min sooner may fit).",
        "Work outside the comfortable hours 2:10 (proven: no less can be had).",
        "Flasks bagged damp: 2 (not proven: 1 may be had).",
    ]


def test_settings_by_hand_are_a_list_with_what_the_kiln_should_show():
    plan = placed(entry("stones"), of=studio(kiln=Kiln(segments_count=0), sleep_from=time(0), sleep_to=time(1)))
    (load,) = page(plan)["loads"]
    assert len(load["settings"]) == len(plan.loads[0].settings) > 3
    assert load["typed"] == "What the settings below come to; nothing is typed"
    shows = [int(s["shows"]) for s in load["settings"]]
    sets = [int(s["set"]) for s in load["settings"]]
    assert shows[0] < sets[0]
    assert all(abs(seen - before) <= 60 for seen, before in zip(shows[1:], sets, strict=False)), (
        "it nearly reaches each in its step"
    )


def test_the_schedule_on_the_bag_wins():
    assert page(planned("rings"))["bag"].startswith("A schedule on the bag")


def test_many_days_go_on_further_pages():
    plan = placed(entry("studs", flasks_count=4), of=studio(kiln=Kiln(flasks_count=1)))
    days = len(days_of(plan, ZONE))
    assert days > STRIPS_A_PAGE
    pictures = page(plan)["pictures"]
    assert len(pictures) == -(-days // STRIPS_A_PAGE)
    dates = [day for one in pictures for day in ("Mon 1 Mar", "Tue 2 Mar", "Wed 3 Mar", "Thu 4 Mar") if day in one]
    assert dates == ["Mon 1 Mar", "Tue 2 Mar", "Wed 3 Mar", "Thu 4 Mar"], "each day once, in order"


@pytest.mark.parametrize(("paper", "size"), [("a4", (842, 595)), ("us-letter", (792, 612))])
def test_the_pdf_is_a_sheet_across_with_every_word(paper, size):
    pdf = week_sheet(planned("rings", "signets"), zone=ZONE, paper=paper)
    with opened(pdf) as document:
        assert [tuple(round(side) for side in document[n].get_size()) for n in range(len(document))] == [size] * 3
    text = joined(pdf)
    for words in ("Before the fair", "Pours", "Kilns", "What to do, by the clock", "pour 2", "Base off, scrape, into the kiln"):
        assert words in text
    assert "smoke alarm" in text, "the caution of a night's firing is on the sheet"


def test_every_letter_is_large_enough_to_read_at_the_bench():
    """8 pt is the least of the run sheet; the picture's words come out between 7 and 8 pt."""
    pdf = week_sheet(planned("rings", "signets"), zone=ZONE)
    tall = [one.bottom_mm - one.top_mm for one in letters(pdf, 1) if one.char.isupper()]
    assert len(tall) > 10
    assert min(tall) > 1.6, f"capitals of {min(tall):.2f} mm"


def test_the_same_week_gives_the_same_bytes():
    plan = planned("signets")
    assert week_sheet(plan, zone=ZONE) == week_sheet(plan, zone=ZONE)
