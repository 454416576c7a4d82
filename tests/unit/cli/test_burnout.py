"""`pourwell burnout`: hours, segments or settings, limits; one's own programme; sentences for what cannot be."""

import re
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from tests.journeys.call import Caller

WAX = ("--investment", "gypsum-standard", "--pattern", "wax-injection")
READY = ("--ready", "2030-05-17 15:00")


def told(pourwell: Caller, *words: str) -> dict:
    answer = pourwell("burnout", *words, "--json")
    assert not re.search(r"\{[a-z]:", answer.out), "what a program reads has its quantities written out"
    return answer.data


def refused(pourwell: Caller, *words: str, code: int = 2) -> str:
    """What it says as it ends with this code."""
    answer = pourwell("burnout", *words)
    assert answer.code == code
    return " ".join((answer.out + answer.err).split())


def studio(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    (tmp_path / "bench").mkdir()
    (tmp_path / "bench" / "studio.toml").write_text(text, encoding="utf-8")
    monkeypatch.setenv("POURWELL_STUDIO", str(tmp_path / "bench"))


def test_it_says_when_to_switch_on_and_when_it_is_ready(pourwell: Caller) -> None:
    out = pourwell("burnout", "50x55", "--flask-c", "540", *WAX, *READY).out
    assert "kiln on" in out
    assert "Fri 17 May 15:00" in out
    assert "kiln off Fri 17 May 15:00" in " ".join(out.split())
    assert "computed, not measured" in out
    assert "no advice" in out


def test_the_data_holds_programme_hours_and_verdicts(pourwell: Caller) -> None:
    data = told(pourwell, "50x55:500", *WAX, *READY)
    on, ready = (datetime.fromisoformat(data[key]) for key in ("kiln_on_at", "ready_at"))
    assert (ready - on).total_seconds() == data["programme"]["total_min"] * 60
    assert ready.hour == 15
    assert {v["key"] for v in data["programme"]["verdicts"]} >= {"steam", "cristobalite", "quartz", "carbon"}
    assert data["segments"][-1]["target_c"] == 500


def test_from_start_to_ready_the_time_goes_into_drying_and_carbon(pourwell: Caller) -> None:
    short = told(pourwell, "50x55:500", *WAX, *READY)
    long = told(pourwell, "50x55:500", *WAX, *READY, "--start", "2030-05-16 23:00")
    assert long["kiln_on_at"].startswith("2030-05-16T23:00")
    assert long["ready_at"].startswith("2030-05-17T15:00")
    ruled = [s["ruled_by"] for s in long["programme"]["segments"]]
    assert ruled.count("your hours") == 2
    assert long["programme"]["published_min"] == short["programme"]["published_min"]


def test_a_day_of_the_week_is_a_moment_as_it_is_for_the_day(pourwell: Caller) -> None:
    wanted = datetime.now().astimezone() + timedelta(days=3)
    ready = datetime.fromisoformat(told(pourwell, "50x55:500", *WAX, "--ready", f"{wanted:%A} 15:00")["ready_at"])
    assert (ready.date(), ready.hour) == (wanted.date(), 15)
    assert "no day" in refused(pourwell, "50x55:500", *WAX, "--ready", "Someday 15:00").lower()


def test_too_short_a_night_is_a_sentence(pourwell: Caller) -> None:
    assert "too short" in refused(pourwell, "50x55:500", *WAX, *READY, "--start", "2030-05-17 09:00")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("50x55",), "has no temperature to end at"),
        (("50x55:hot",), '"hot" is no flask temperature'),
        (("50x55:1300",), "The kiln reaches 1100 °C"),
        (("50x55:-5",), "cannot be"),
        (("cup:500",), '"cup" is no flask'),
        (("50x55:500", "--shorter"), "needs a log of your own flask"),
        (("50x55:500", "--own", "nowhere.toml"), "nowhere.toml cannot be read"),
        (("50x55:500", "--ready", "soon"), '"soon" is not a date and time'),
    ],
)
def test_what_cannot_be_is_a_sentence(pourwell: Caller, words: tuple[str, ...], sentence: str) -> None:
    assert sentence in refused(pourwell, *words)


def own_file(tmp_path: Path, ramp: float = 150, *, proven: bool = False) -> str:
    path = tmp_path / "mine.toml"
    steps = [(149, ramp, 120), (371, ramp, 150), (732, ramp, 150)]
    text = 'id = "mine"\nname = "my night"\n' + ('proven = { to_mm = 76, pattern = "wax" }\n' if proven else "")
    text += "".join(f"[[steps]]\ntarget_c = {t}\nramp_c_per_h = {r}\nhold_min = {h}\n" for t, r, h in steps)
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_one_s_own_programme_is_judged_as_it_stands(pourwell: Caller, tmp_path: Path) -> None:
    data = told(pourwell, "64x64:540", *WAX, "--own", own_file(tmp_path), *READY)
    assert data["programme"]["name"] == "my night"
    assert [s["hold_min"] for s in data["programme"]["segments"]][:3] == [120, 150, 150]
    assert all(v["at_end"] for v in data["programme"]["verdicts"])


def test_a_ramp_of_zero_is_a_sentence(pourwell: Caller, tmp_path: Path) -> None:
    assert "step 1 has no ramp" in refused(pourwell, "64x64:540", *WAX, "--own", own_file(tmp_path, ramp=0), *READY)


def test_a_kiln_that_does_not_reach_the_peak_is_a_stop(pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    studio(tmp_path, monkeypatch, "[kiln]\nhottest_c = 700\n")
    assert "the kiln to 700 °C" in refused(pourwell, "50x55:500", *WAX, *READY, code=3)


@pytest.mark.parametrize("flask_c", ["733", "745"])
def test_what_stops_a_burnout_is_said_before_its_programme(pourwell: Caller, flask_c: str) -> None:
    """The peak of gypsum is 732 degC: a flask over it stops a burnout as it stops a plan."""
    said = refused(pourwell, f"50x55:{flask_c}", *WAX, *READY, code=3)
    assert said.index("DO NOT FIRE") < said.index("hotter than the peak of its own burnout") < said.index("kiln on")
    assert said.count("hotter than the peak of its own burnout") == 1
    assert "DO NOT FIRE" not in pourwell("burnout", "50x55:540", *WAX, *READY).out


def test_a_kiln_without_a_controller_gets_settings_by_day_and_what_it_should_show(
    pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    studio(tmp_path, monkeypatch, 'sleep_from = "22:00"\nsleep_to = "07:00"\n[kiln]\nsegments_count = 0\n')
    data = told(pourwell, "50x55:500", *WAX, *READY)
    hours = [datetime.fromisoformat(p["at"]) for p in data["by_hand"]]
    assert len(hours) > 8
    assert all(7 <= h.hour + h.minute / 60 <= 22 for h in hours)
    assert data["ready_at"].startswith("2030-05-17T15:00")
    assert all(p["seen_c"] is not None for p in data["by_hand"])
    out = pourwell("burnout", "50x55:500", *WAX, *READY).out
    assert "shows 20" in out


HAND = "[kiln]\nsegments_count = 0\n"


def test_a_kiln_set_by_hand_is_never_set_in_the_night_from_a_start_to_a_pour(
    pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some starts leave no course: these are refused with hours that do. Others fill the time by day."""
    studio(tmp_path, monkeypatch, HAND)
    words = ("76x100:540", *WAX, "--ready", "2030-05-17 12:00", "--start")
    said = refused(pourwell, *words, "2030-05-16 16:00")
    assert "would be set while you sleep" in said
    assert "Begin on" in said
    data = told(pourwell, *words, "2030-05-16 10:00")
    hours = [datetime.fromisoformat(p["at"]) for p in data["by_hand"]]
    assert all(6.5 <= h.hour + h.minute / 60 <= 22.5 for h in hours)
    assert (data["kiln_on_at"][:16], data["ready_at"][:16]) == ("2030-05-16T10:00", "2030-05-17T12:00")


def test_started_in_the_evening_it_is_ready_as_soon_as_the_night_lets_it(
    pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    studio(tmp_path, monkeypatch, HAND)
    data = told(pourwell, "50x55:540", *WAX, "--start", "2030-05-16 20:00")
    hours = [datetime.fromisoformat(p["at"]) for p in data["by_hand"]]
    assert all(6.5 <= h.hour + h.minute / 60 <= 22.5 for h in hours)
    assert data["ready_at"] < "2030-05-18"


def test_one_s_own_programme_that_must_be_set_in_the_night_is_a_stop_with_the_hours(
    pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    studio(tmp_path, monkeypatch, HAND)
    own = own_file(tmp_path)
    said = refused(pourwell, "50x55:540", *WAX, "--own", own, "--ready", "2030-05-17 10:00", code=3)
    assert "is to be set while you sleep, at " in said
    data = told(pourwell, "50x55:540", *WAX, "--own", own, "--ready", "2030-05-17 21:45")
    assert "set-while-asleep" not in {f["code"] for f in data["findings"]}


def test_a_kiln_on_in_the_past_is_refused_with_the_earliest_pour(pourwell: Caller) -> None:
    said = refused(pourwell, "50x55:500", *WAX, "--ready", "2020-05-17 20:00")
    assert "would have had to go on at" in said
    assert "With the kiln on now the first flask is ready at" in said


def test_a_night_s_firing_carries_its_cautions_and_can_be_forbidden(
    pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ("50x55:500", *WAX, "--ready", "2030-05-17 08:30")
    assert "carbon monoxide alarm" in " ".join(pourwell("burnout", *words).out.split())
    studio(tmp_path, monkeypatch, "overnight_firing = false\n")
    (found,) = (f for f in told(pourwell, *words)["findings"] if f["code"] == "burnout-overnight")
    assert found["severity"] == "warn"


def test_what_a_small_controller_takes_is_typed_and_the_rest_set_by_hand(
    pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    studio(tmp_path, monkeypatch, "[kiln]\nsegments_count = 2\n")
    lines = pourwell("burnout", "50x55:500", *WAX, "--ready", "2030-05-17 18:00").out.splitlines()
    typed = [line for line in lines if "°C/h to" in line]
    assert [line.split()[0] for line in typed] == ["1", "2"]
    assert all("17 May" in line for line in typed)
    assert lines.index("  then by hand") > lines.index(typed[-1])
    assert any("set 500 °C" in line for line in lines)


def test_a_start_is_kept_with_flasks_of_two_temperatures_and_with_one_s_own(pourwell: Caller, tmp_path: Path) -> None:
    for words in (("50x55:480", "50x55:600"), ("50x55:500", "--own", own_file(tmp_path))):
        data = told(pourwell, *words, *WAX, *READY, "--start", "2030-05-16 23:00")
        assert data["kiln_on_at"].startswith("2030-05-16T23:00")
        assert data["out"][0]["at"].startswith("2030-05-17T15:00")


def test_two_temperatures_come_out_one_after_the_other(pourwell: Caller) -> None:
    data = told(pourwell, "50x55:480", "50x55:600", *WAX, *READY)
    assert [o["flask_c"] for o in data["out"]] == [600, 480]
    assert data["out"][0]["at"].startswith("2030-05-17T15:00")
    assert "out 50x55" in pourwell("burnout", "50x55:480", "50x55:600", *WAX, *READY).out


def test_a_start_a_week_before_the_pour_is_refused_with_how_much_later_to_start(pourwell):
    answer = pourwell("burnout", "50x60", "--flask-c", 540, "--start", "2030-05-10 08:00", "--ready", "2030-05-17 08:00")
    assert answer.code == 2
    assert "too long" in answer.err
    assert "later, or leave --start out" in answer.err


def test_a_kiln_without_delayed_start_goes_on_in_the_evening_and_not_in_the_night(
    pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ready at ten it would go on at half past eleven: the last hour awake is half past ten, and drying and peak take the rest."""
    words = ("50x55:540", *WAX, "--ready", "2030-05-17 10:00")
    evening = told(pourwell, *words)
    assert evening["kiln_on_at"].startswith("2030-05-16T22:00")
    assert {s["ruled_by"].partition(";")[0] for s in evening["segments"]} >= {"your hours"}
    studio(tmp_path, monkeypatch, "[kiln]\ndelayed_start = true\n")
    assert told(pourwell, *words)["kiln_on_at"].startswith("2030-05-16T23:")


def test_where_the_holds_cannot_take_the_night_the_hour_to_pour_at_is_named(
    pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One's own programme is only held six hours longer: on at ten past four it would have to begin more than six before."""
    own = own_file(tmp_path)
    data = told(pourwell, "64x64:540", *WAX, "--own", own, "--ready", "2030-05-17 18:30")
    (found,) = (f for f in data["findings"] if f["code"] == "kiln-on-asleep")
    assert "while you sleep" in found["says"]
    assert found["do"].startswith("Pour on Fri at ")
    at = found["do"].removeprefix("Pour on Fri at ")[:5]
    again = told(pourwell, "64x64:540", *WAX, "--own", own, "--ready", f"2030-05-17 {at}")
    assert again["kiln_on_at"].startswith("2030-05-17T06:30")
    assert "kiln-on-asleep" not in {f["code"] for f in again["findings"]}


def test_the_table_the_margin_and_what_rules_each_segment_are_read_off(pourwell: Caller) -> None:
    out = " ".join(pourwell("burnout", "100x125:540", *WAX, "--ready", "2030-05-17 15:00").out.split())
    assert "A schedule on the bag" in out
    assert "The table as it stands (published): 150 K an hour to 149 °C" in out
    assert "its level by rim and core at 200 to 300 °C" in out
    assert "longer" in out
    assert "shortest found" in out
    assert "drying at least" in out
    assert "at least 60 (workshop-5h-cycle); the table's own course" in out
    assert "at other ends" not in out, "nothing is widened"
    assert "NOT KEPT" not in out


def test_a_cycle_for_stones_says_that_it_never_burns_carbon_off(pourwell: Caller) -> None:
    asked = ("76x100:440", "--stones", "--pattern", "wax-injection", "--investment", "gypsum-stone")
    out = " ".join(pourwell("burnout", *asked, "--ready", "2030-05-17 15:00").out.split())
    assert "carbon, over 650 °C 0.0 min not judged: the table's cycle never gets there" in out


def test_a_table_that_nobody_published_is_not_called_published(pourwell: Caller) -> None:
    out = " ".join(pourwell("burnout", "50x55:540", "--ready", "2030-05-17 15:00").out.split())
    assert "ruled by: the programme put together from memory" in out
    assert "the published programme" not in out
    assert ": the same; " in out.partition("the table's own course")[2]


def test_begun_in_the_morning_a_kiln_set_by_hand_waits_for_the_next_one(
    pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Resin takes 17 h: what would be set at midnight is set as he has risen, and no hold is longer than its rule."""
    studio(tmp_path, monkeypatch, HAND)
    data = told(pourwell, "50x55:540", "--start", "2030-05-16 09:25")
    assert "set-while-asleep" not in {f["code"] for f in data["findings"]}
    assert max(s["hold_min"] for s in data["segments"]) <= 510
    assert data["ready_at"] < "2030-05-17T12"
    assert all(datetime.fromisoformat(p["at"]).minute % 5 == 0 for p in data["by_hand"])


def test_a_pour_that_no_hold_brings_about_is_stopped_with_one_that_works(
    pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    studio(tmp_path, monkeypatch, HAND)
    data = told(pourwell, "50x55:540", *WAX, "--ready", "2030-05-17 08:00")
    (found,) = (f for f in data["findings"] if f["code"] == "set-while-asleep")
    assert (found["severity"], found["do"][:15]) == ("stop", "Pour on Fri at ")
    hour = found["do"][15:20]
    again = told(pourwell, "50x55:540", *WAX, "--ready", f"2030-05-17 {hour}")
    assert "set-while-asleep" not in {f["code"] for f in again["findings"]}
    assert "08:00" < hour < "19:01"


@pytest.mark.parametrize("ready", ["2030-05-17 09:00", "2030-05-17 10:00", "2030-05-16 23:00"])
def test_a_pour_that_does_not_lie_after_its_start_is_refused_as_such(pourwell: Caller, ready: str) -> None:
    answer = pourwell("burnout", "50x55:500", *WAX, "--start", "2030-05-17 10:00", "--ready", ready)
    assert answer.code == 2
    assert "does not lie after the start, at 10:00 on Friday 17 May" in answer.err
    assert f'as "2030-05-18 {ready[-5:]}"' in answer.err
    assert "too short" not in answer.err


@pytest.mark.parametrize(
    ("text", "told", "cure"),
    [
        ('name = "Mine"\n', "id is missing", 'id = "my-programme"'),
        (None, "cannot be read", "is named by its id"),
        ("steps = ", "is not a TOML file", "key = value"),
    ],
)
def test_an_own_programme_that_cannot_be_read_says_what_to_try(
    pourwell: Caller, tmp_path: Path, text: str | None, told: str, cure: str
) -> None:
    path = tmp_path / "own.toml"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    answer = pourwell("burnout", "50x55:500", *WAX, "--own", path)
    assert answer.code == 2
    assert told in answer.err
    assert cure in answer.err
