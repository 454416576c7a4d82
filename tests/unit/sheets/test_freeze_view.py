"""The words of the freezing page, and what stands on it."""

import re

import numpy as np
import pytest

from pourwell.sheets.display import Display
from pourwell.sheets.freeze_section import PX_MM, SHADES
from pourwell.sheets.freeze_view import MOST_POOLS, MOST_ROWS, Poured, freeze_view, stiff_s
from tests.unit.freeze.made import change, clock, freezing, pool, spell
from tests.unit.sheets.frozen import SOLID, block

WAIT = ("quench", "after 9 to 15 min")
METRIC, IMPERIAL = Display("metric"), Display("imperial")


def view(*clocks, show=METRIC, vacuum=True, **given):
    got = freeze_view(freezing(*clocks, **given), block(), poured=Poured(solid=SOLID, vacuum=vacuum, wait=WAIT), show=show)
    return got


def plain(text):
    return text.replace("\u00a0", " ")


def test_the_verdict_stands_as_a_sentence_and_each_sprue_as_a_row():
    got = view(clock(1), clock(2, "B", "cut off", sprue=14.2, section=23.6, void=(1.0, 3.4)))
    assert got["verdict"] == "Piece 2 is cut off from the button before it is solid."
    fed, lost = got["rows"]
    assert (fed["number"], fed["piece"], fed["sprue"], fed["section"]) == ("1", "A", "9 s", "8 s")
    assert (fed["verdict"], fed["missed"]) == ("fed", "")
    assert (lost["verdict"], lost["missed"]) == ("CUT OFF", "pits up to a ball of 1.9 mm")
    assert lost["sprue_band"] == "10 to 21 s"


def test_a_pool_is_told_with_its_place_its_neck_its_times_and_its_size():
    """137 mm3 fill a ball of 6.4 mm, 3.4 mm3 one of 1.9 mm."""
    (lost,) = view(clock(2, "B", "cut off"), pools=(pool(1, 2),))["pools"]
    assert plain(lost["lead"]) == "Pits likely in piece 2, 19 mm from its sprue."
    assert plain(lost["says"]) == (
        "The neck of 2.8 mm that feeds it (in the piece, 9 mm from its sprue) is shut after 7 s; the metal still liquid behind it, "
        "as much as a ball of 6.4 mm, needs feed until 10 s; what it misses becomes pits, together at most a ball of 1.9 mm."
    )


def test_a_pool_that_may_be_fed_says_so():
    (lost,) = view(clock(2, "B", "uncertain"), pools=(pool(1, 2, "uncertain"),))["pools"]
    assert lost["lead"].startswith("Pits possible in piece 2")


def test_liquid_to_which_no_metal_leads_has_no_neck():
    got = view(clock(2, "B", "cut off"), pools=(pool(1, 2, neck_mm=0.0),))
    assert got["pools"][0]["says"].startswith("No metal leads there: the liquid, as much as a ball of 6.4 mm,")
    assert got["pictures"][0]["necks"] == []


def test_a_pool_is_told_in_inches_where_these_are_read():
    (lost,) = view(clock(2, "B", "cut off"), pools=(pool(1, 2),), show=IMPERIAL)["pools"]
    assert "0.75 in from its sprue" in plain(lost["lead"])
    assert " mm" not in plain(lost["says"])


def test_pools_alike_are_told_once_by_the_worst_of_them():
    clocks = [clock(n, "B", "cut off") for n in (1, 2, 3)]
    pools = (pool(1, 2), pool(2, 1, void_high_mm3=2.0), pool(3, 3), pool(4, 3, where="piece 3, {l:5} from its sprue"))
    both = view(*clocks, pools=pools)["pools"]
    assert [plain(lost["lead"]) for lost in both] == [
        "Pits likely in pieces 1 to 3, each 19 mm from its sprue.",
        "Pits likely in piece 3, 5 mm from its sprue.",
    ]
    assert "at most a ball of 1.9 mm" in both[0]["says"]


def test_a_change_that_changes_next_to_nothing_says_so():
    (tried,) = view(changes=(change(helps=False, after=2.05),))["tried"]
    assert tried["gave"] == "Computed so: it makes hardly any difference."


def test_more_pools_than_have_room_are_counted():
    many = tuple(pool(n, n) for n in range(1, MOST_POOLS + 4))
    got = view(*(clock(n, f"kind {n}", "cut off") for n in range(1, MOST_POOLS + 4)), pools=many)
    assert len(got["pools"]) == MOST_POOLS
    assert got["more_pools"] == 3
    assert view()["more_pools"] == 0


def test_what_was_tried_is_told_with_what_it_gave_in_the_readers_units():
    tried = (change(helps=False, after=1.8), change(does="Pour into a flask at {t:450}."))
    first, second = view(changes=tried)["tried"]
    assert (first["lead"], second["lead"]) == ("Tried:", "Change:")
    assert first["gave"] == "Computed so: it still misses a ball of 1.5 mm, not 1.6 mm."
    assert second["gave"] == "Computed so: it stays fed, in a slow and a fast mould too."
    assert plain(second["does"]) == "Pour into a flask at 450 °C."
    assert plain(view(changes=tried, show=IMPERIAL)["tried"][1]["does"]) == "Pour into a flask at 842 °F."


@pytest.mark.parametrize(
    ("after", "said"),
    [(2.2, "it makes hardly any difference."), (2.05, "it makes hardly any difference."), (4.4, "it makes it worse")],
)
def test_a_change_that_does_little_or_harm_is_told_so(after, said):
    """A ball of 1.6 mm is 2.1 mm3: what reads the same is no difference, and more is worse."""
    (tried,) = view(changes=(change(helps=False, after=after),))["tried"]
    assert said in tried["gave"]


def test_the_time_with_red_is_told_and_the_quench_stands_beside_its_sign():
    facts = view()["facts"]
    assert facts[1][:2] == ["red inside until", "7 to 11 min"]
    assert facts[2] == [
        "quench",
        "after 9 to 15 min",
        "after the pour",
        "No red on the button in the shade, never minutes alone.",
    ]


def test_the_vacuum_is_held_until_the_button_is_solid_and_without_one_nothing_is_held():
    label, value, _, does = view()["facts"][0]
    assert (label, value) == ("button solid", "53 s to 2 min")
    assert does == "Hold the vacuum 2 min at least, until the button is dull and still."
    assert "vacuum" not in view(vacuum=False)["facts"][0][3]


def test_the_outside_is_told_in_the_readers_degrees():
    assert view()["facts"][3][1] == "418 to 436 °C"
    assert view(show=IMPERIAL)["facts"][3][1].endswith("°F")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (
            {},
            "Freezing curve: computed for this recipe, as it freezes in a casting (Scheil), "
            "779 to 896 °C; either end within 10\u00a0°C.",
        ),
        (
            {"curve": "straight", "curve_source": "studio"},
            "Freezing range: your own figures, 779 to 896 °C; taken as straight between its ends.",
        ),
        (
            {"curve": "straight", "curve_source": "davis-2001:t3"},
            "Freezing range: tabulated (davis-2001:t3), 779 to 896 °C; taken as straight between its ends.",
        ),
    ],
)
def test_where_the_freezing_curve_comes_from_is_told(given, said):
    assert view(**given)["source"] == said


def test_the_band_of_a_computed_curve_is_a_difference_in_fahrenheit():
    assert view(show=IMPERIAL)["source"].endswith("1434 to 1645 °F; either end within 18\u00a0°F.")


def test_the_grid_and_what_is_not_computed_are_told():
    assert view()["grid"] == "Draft: cells of 1.00 mm. Not computed: filling; gas."
    assert view(fine=True)["grid"].startswith("Fine: ")


def test_the_picture_tells_when_metal_grows_stiff_and_not_when_it_is_solid():
    """The same clock as the table's: straight between the levels 0.6 and 0.8, at 0.7."""
    fields = block()
    assert stiff_s(freezing(), fields) == pytest.approx(0.5 * fields.end_s, rel=1e-5)
    assert view()["bands"][-1]["says"] == "over 12 s", "the block is solid from 15 to 26 s"
    assert view()["stiff"] == "70 %"


def test_every_band_of_the_key_has_its_grey_and_its_name():
    greys = [band["grey"] for band in view()["bands"]]
    assert greys == sorted(greys, reverse=True)
    assert greys[0] == 100
    assert 1 < len(greys) <= len(SHADES)


def test_the_picture_has_its_size_its_outlines_and_its_pieces():
    (picture,) = view()["pictures"]
    assert (picture["width"], picture["height"]) == pytest.approx((7.0, 14.0), abs=PX_MM)
    (loop,) = picture["loops"]
    assert {round(x, 1) for x, _ in loop} == {1.0, 3.5, 6.0}, "its sides, and where the halves meet"
    assert {n["says"] for n in picture["numbers"]} == {"1", "2"}
    assert picture["pool"] is False
    assert re.match(r"<svg ", picture["svg"])


def test_necks_and_last_places_are_marked_where_the_section_goes_through():
    given = pool(1, 2, at_mm=(-2.0, 0.0, 12.0), neck_at_mm=(-1.0, 0.0, 14.0))
    (picture,) = view(clock(1), clock(2, "B", "cut off"), pools=(given,))["pictures"]
    (neck,) = picture["necks"]
    assert (neck["x"], neck["y"]) == pytest.approx((3.5 + 1.0, 22.5 - 14.0), abs=0.2), "the worst pool is on the right"


def test_a_neck_beside_the_section_gives_its_piece_a_picture_of_its_own():
    def body(p):
        return np.select([p[:, 0] > 0.6, p[:, 1] < -0.6], [0, 1], 4).astype(np.int32)

    given = pool(1, 1, at_mm=(2.0, 0.0, 20.0), neck_at_mm=(2.0, 3.0, 12.0))
    froze = freezing(clock(1, verdict="cut off"), pools=(given,))
    got = freeze_view(froze, block(body=body), poured=Poured(solid=SOLID, vacuum=True, wait=WAIT), show=METRIC)
    along, own = got["pictures"]
    assert (along["title"], own["title"]) == ("", "Piece 1 along its sprue, neck and pits")
    assert along["necks"] == []
    assert len(own["necks"]) == 1


def test_the_last_of_the_tree_is_marked_only_where_it_is_not_the_button():
    def marks(**given):
        return view(**given)["pictures"][0]["last"]

    inside = freezing().pieces[0].last_at_mm
    assert inside[2] > 22, "above the block, so that the piece's own is not seen"
    assert marks() == []
    (late,) = marks(last=spell(80.0), last_at_mm=(0.0, 0.0, 20.0))
    assert late["x"] == pytest.approx(3.5, abs=0.1)


def test_the_bar_of_the_scale_is_a_round_length_for_the_reader():
    assert view()["scale"] == {"mm": 20.0, "says": "20 mm"}
    assert view(show=IMPERIAL)["scale"] == {"mm": 12.7, "says": "0.50 in"}


def test_of_many_sprues_each_kind_has_one_row_led_by_its_worst():
    clocks = [clock(n, "A", sprue=9.0 + n) for n in range(1, MOST_ROWS + 1)]
    clocks += [clock(20, "B", "cut off", void=(0.5, 1.0)), clock(21, "B", "cut off", sprue=30.0, void=(0.5, 2.0)), clock(22, "B")]
    rows = view(*clocks)["rows"]
    assert [(r["number"], r["piece"], r["verdict"]) for r in rows] == [
        (f"1 to {MOST_ROWS}", "A", "fed"),
        ("20, 21", "B", "CUT OFF"),
        ("22", "B", "fed"),
    ]
    assert rows[1]["sprue"] == "30 s", "the worst of them"
    few = view(*clocks[:3], clock(9, "A", sprue=10.0))["rows"]
    assert [r["number"] for r in few] == ["1, 9", "2", "3"], "those of a kind with the same times"
