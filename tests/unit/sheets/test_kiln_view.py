"""The kiln page: the line, the segments as typed, the set-points, the hour of dryness."""

import math
from dataclasses import replace
from itertools import pairwise

import pytest

from pourwell.plan import Plan
from pourwell.sheets.display import MINUS, Display
from pourwell.sheets.kiln_view import KEEP_ABOVE_C, kiln_view, levels
from tests.golden.sheets.plans import plan
from tests.golden.sheets.variants import clock_change, hand_kiln

SHOW, IMPERIAL = Display(), Display("imperial")


def with_dryness(early: float, middle: float, late: float) -> Plan:
    made = plan()
    burn = replace(made.programme, core_dry_early_min=early, core_dry_min=middle, core_dry_late_min=late)
    return replace(made, programme=burn)


def test_the_line_starts_at_room_temperature_and_ends_at_the_flask_temperature():
    view = kiln_view(plan(), SHOW)
    assert view["line"][0] == [0.0, 20.0]
    assert view["line"][-1] == [pytest.approx(view["hours"], abs=1e-3), 500.0]


def test_a_segment_without_a_hold_adds_one_point_and_one_with_a_hold_two():
    made = plan()
    holds = sum(1 for s in made.segments if s.hold_min)
    assert len(kiln_view(made, SHOW)["line"]) == 1 + len(made.segments) + holds


def test_segments_are_written_as_typed():
    rows = kiln_view(plan(), SHOW)["typed"]
    first, cooling = rows[0], rows[5]
    assert (first["ramp"], first["target"], first["hold"], first["hold_min"], first["ends"]) == (
        "120",
        "150",
        "2:00",
        "120 min",
        "20:28",
    )
    assert cooling["ramp"] == f"{MINUS}120"


def test_ramps_and_targets_of_an_imperial_sheet_are_fahrenheit():
    first = kiln_view(plan(), IMPERIAL)["typed"][0]
    assert (first["ramp"], first["target"]) == ("216", "302")


def test_a_kiln_without_a_controller_gets_set_points_by_the_clock_only():
    view = kiln_view(hand_kiln(0), SHOW)
    made = hand_kiln(0)
    first = replace(made.segments[0], ruled_by="no setting in the night")
    ruled = kiln_view(replace(made, segments=(first, *made.segments[1:])), SHOW)["ruled"]
    assert ruled == f"Holds ruled by, at °C: {first.target_c:.0f}: no setting in the night."
    assert view["ruled"] == kiln_view(plan(), SHOW)["ruled"] == "", "what is typed says it in its own row"
    assert view["typed"] == []
    assert [(p["clock"], p["set"]) for p in view["by_hand"]][:2] == [("17:23", "85"), ("17:55", "150")]
    assert len(view["by_hand"]) == len(hand_kiln(0).programme.by_hand)


def test_a_small_controller_takes_its_segments_and_the_rest_is_set_by_hand():
    view = kiln_view(hand_kiln(4), SHOW)
    assert [s["no"] for s in view["typed"]] == ["1", "2", "3", "4"]
    assert [p["clock"] for p in view["by_hand"]] == ["03:00", "06:25", "07:30"]


def test_set_points_show_the_new_clock_after_a_change():
    made = clock_change()
    by_hand = hand_kiln(0).programme.by_hand
    view = kiln_view(replace(made, programme=replace(made.programme, by_hand=by_hand)), SHOW)
    clocks = [p["clock"] for p in view["by_hand"]]
    assert clocks[:2] == ["16:23", "16:55"]
    assert clocks[-3:] == ["03:00", "06:25", "07:30"], "an hour was skipped at one o'clock"


@pytest.mark.parametrize(
    ("dryness", "words"),
    [
        ((247, 275, 309), "core dry about 21:58, 21:30 to 22:32"),
        ((247, 275, math.inf), "core dry about 21:58, 21:30 at the earliest, not surely before the end"),
        ((247, math.inf, math.inf), "core hardly dry before the end, 21:30 at the earliest"),
        ((math.inf, math.inf, math.inf), "core not dry before the end"),
    ],
)
def test_dryness_is_told_with_its_band_also_when_it_runs_past_the_end(dryness, words):
    view = kiln_view(with_dryness(*dryness), SHOW)
    assert "".join(view["dry"]["words"]) == words
    assert view["dry"]["to"] <= view["hours"]


def test_passing_400_degrees_is_marked_only_when_it_happens():
    made = plan()
    assert kiln_view(made, SHOW)["passes"]["says"] == "passes 400 °C at 01:38"
    never = replace(made, programme=replace(made.programme, passes_400_min=math.inf))
    assert kiln_view(never, SHOW)["passes"] is None


def test_the_ceiling_is_said_with_the_error_of_the_kiln():
    ceiling = kiln_view(plan(), SHOW)["ceiling"]
    assert ceiling["says"] == "reading never above 734 °C"
    assert ceiling["why"] == "740 °C less thermocouple error, 6 °C; at 754 °C switch off: the run is lost"


def test_the_hot_spot_counts_against_the_reading_and_an_overshoot_does_not_for_it_is_seen():
    made = plan()

    def ceiling(**told) -> dict:
        kiln = made.studio.kiln.model_copy(update=told)
        return kiln_view(replace(made, studio=made.studio.model_copy(update={"kiln": kiln})), SHOW)["ceiling"]

    assert ceiling(error_k=15.0, hot_spot_k=10.0)["says"] == "reading never above 715 °C"
    assert "at 735 °C switch off" in ceiling(error_k=15.0, hot_spot_k=10.0)["why"]
    assert ceiling(error_k=5.5, overshoot_k=8.0)["says"] == "reading never above 734 °C"


def test_a_peak_lowered_for_the_kiln_says_so_and_a_table_that_nobody_published_is_not_called_so():
    made = plan()
    lowered = replace(made.programme, peak_c=715.0, lowered_to_c=715.0, published_grade="memory")
    segments = tuple(
        replace(s, target_c=715.0 if s.target_c == 732.0 else s.target_c, ruled_by="the published programme") for s in made.segments
    )
    kiln = made.studio.kiln.model_copy(update={"error_k": 15.0, "hot_spot_k": 10.0})
    studio = made.studio.model_copy(update={"kiln": kiln})
    view = kiln_view(replace(made, programme=lowered, segments=segments, studio=studio), SHOW)
    rows = view["typed"]
    assert view["programme"].endswith("its peak is lowered by what your kiln may be wrong")
    assert "lowered" not in kiln_view(made, SHOW)["programme"]
    by_kiln = "the programme put together from memory; its level by what your kiln may be wrong"
    assert [r["ruled_by"] for r in rows if r["target"] == "715"] == [by_kiln]
    assert {r["ruled_by"] for r in rows if r["target"] != "715"} == {"the programme put together from memory"}
    as_it_is = [replace(s, ruled_by="the published programme") for s in made.segments]
    rows = kiln_view(replace(made, segments=tuple(as_it_is)), SHOW)["typed"]
    assert {r["ruled_by"] for r in rows} == {"the published programme"}


@pytest.mark.parametrize("grade", ["supplier", "handbook", "memory", "estimate", "practice"])
def test_the_schedule_on_the_bag_wins_over_every_table(grade):
    made = plan()
    view = kiln_view(replace(made, programme=replace(made.programme, grade=grade)), SHOW)
    assert view["bag"].startswith("A schedule on the bag")
    assert ("(" in view["programme"]) == (grade in ("memory", "estimate", "practice"))


def test_every_setting_says_what_the_kiln_should_show():
    made = hand_kiln(0)
    seen = tuple(replace(p, seen_c=20.0 + i) for i, p in enumerate(made.programme.by_hand))
    rows = kiln_view(replace(made, programme=replace(made.programme, by_hand=seen)), SHOW)["by_hand"]
    assert [r["shows"] for r in rows] == [f"{20 + i}" for i in range(len(seen))]
    assert {r["shows"] for r in kiln_view(made, SHOW)["by_hand"]} == {""}


def test_the_chart_of_a_kiln_set_by_hand_draws_what_it_follows():
    """It climbs as fast as it can to each setting and waits there: never over the ramp that the settings are steps of."""
    made = hand_kiln(0)
    line = kiln_view(made, SHOW)["line"]
    assert len(line) > 2 * len(made.programme.by_hand) - 2
    flat = [a for a, b in pairwise(line) if a[1] == b[1]]
    assert {c for _, c in flat} >= {p.set_c for p in made.programme.by_hand[:1]}
    assert max(c for _, c in line) == made.programme.peak_c
    assert all(a[0] <= b[0] for a, b in pairwise(line))


def test_a_kiln_of_one_run_held_no_longer_says_nothing_of_sharing():
    assert kiln_view(plan(), SHOW)["load"] == []


def test_runs_that_share_the_kiln_read_who_else_is_in_it_and_when_this_one_comes_out():
    made = plan()
    shared = replace(made.kiln_load, runs=(46, 47, 48), longer_for_turns_min=100)
    (words,) = kiln_view(replace(made, kiln_load=shared), SHOW)["load"]
    assert "runs 46, 47, 48" in words
    assert "run 47, comes out at 10:00; those after it stay in" in words
    assert "1:40" in words
    last = replace(made, kiln_load=replace(shared, runs=(46, 47)))
    assert "comes out at 10:00, the last" in kiln_view(last, SHOW)["load"][0]


def test_a_hold_made_longer_for_the_hours_says_why():
    made = plan()
    longer = replace(made, kiln_load=replace(made.kiln_load, longer_for_hours_min=150))
    (words,) = kiln_view(longer, SHOW)["load"]
    assert words == "The holds are longer by 2:30 in all so that the work at hand falls in your hours."


def test_the_chart_reaches_over_the_ceiling_and_its_rules_are_full_hundreds():
    assert kiln_view(plan(), SHOW)["top"] == 800
    assert [level["label"] for level in levels(800, SHOW)] == [str(c) for c in range(0, 801, 100)]
    fahrenheit = levels(800, IMPERIAL)
    assert [level["label"] for level in fahrenheit] == ["200", "400", "600", "800", "1000", "1200", "1400"]
    assert fahrenheit[0]["y"] == pytest.approx(93.33, abs=0.01)


def test_what_to_do_when_the_kiln_stops_parts_the_four_cases():
    hot, fallen, cold, doubtful = kiln_view(plan(), SHOW)["stops"]
    assert "by hand if the programme began again" in hot
    assert "by hand" not in kiln_view(hand_kiln(0), SHOW)["stops"][0]
    assert cold.startswith("Never yet above 180 °C"), "the rim passes the inversion of cristobalite from there on"
    assert doubtful.startswith("Highest between 180 °C and 300 °C")
    assert doubtful.endswith("Do not pour.")
    assert hot.startswith(f"Still above {KEEP_ABOVE_C:.0f} °C")
    assert "never heat it again" in fallen
    assert "segment 1" in cold


def test_energy_has_its_band():
    facts = {label: (value, note) for label, value, _, note in kiln_view(plan(), SHOW)["facts"]}
    assert facts["Energy"] == ("14", "12 to 17")
    assert facts["Kiln on"] == ("17:23", "Thu 3 Dec")


def test_a_reading_is_in_whole_degrees_celsius_never_rounded_up_and_the_same_in_fahrenheit():
    """740 less 5.5 is 734.5 °C: 734, which is 1353.2 °F, as the look before bed has it."""
    assert kiln_view(plan(), SHOW)["ceiling"]["says"] == "reading never above 734 °C"
    assert kiln_view(plan(), IMPERIAL)["ceiling"]["says"] == "reading never above 1353 °F"


def test_set_points_on_the_way_are_full_steps_of_fahrenheit_and_levels_stay_as_they_are():
    made = hand_kiln(0)
    levels_f = {IMPERIAL.temperature(s.target_c) for s in made.segments}
    shown = [p["set"] for p in kiln_view(made, IMPERIAL)["by_hand"]]
    assert all(f in levels_f or int(f) % 5 == 0 for f in shown)
    assert shown[:2] == ["185", "302"]


def test_a_kiln_set_by_hand_begins_again_with_a_set_point_for_it_has_no_segments():
    assert kiln_view(hand_kiln(0), SHOW)["stops"][2].endswith("begin again with the first set-point.")
    assert kiln_view(hand_kiln(4), SHOW)["stops"][2].endswith("begin again with segment 1.")
